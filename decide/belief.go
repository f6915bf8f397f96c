package decide

import "halfcup/sampling"

// belief is what is known of a colony with the parts of a course of treatment
// kept apart, each with its weight, so that every count can tell how well the
// course worked. With no course in progress it is one part.
type belief struct {
	course  int // whose parts they are; noCourse for one part
	weights []float64
	parts   []sampling.Density
}

func certain(d sampling.Density) belief {
	return belief{noCourse, []float64{1}, []sampling.Density{d}}
}

// split is one density as the parts of a course before it began.
func split(d sampling.Density, parts []Part) belief {
	b := belief{course: noCourse}
	for _, p := range parts {
		b.weights, b.parts = append(b.weights, p.Weight), append(b.parts, d)
	}
	return b
}

// density is all parts together.
func (b belief) density() sampling.Density {
	if len(b.parts) == 1 {
		return b.parts[0]
	}
	return blend(b.parts, b.weights)
}

// in is the belief by the parts of a course on a day on which it is active:
// those of another are forgotten.
func (p *Path) in(b belief, course int) belief {
	if b.course == course {
		return b
	}
	d := b.density()
	if course == noCourse {
		return certain(d)
	}
	out := belief{course: course, weights: p.courses[course].weights()}
	for range out.weights {
		out.parts = append(out.parts, d)
	}
	return out
}

// moved shifts and blurs each part by its own.
func (b belief) moved(parts []Part) belief {
	return b.each(func(k int, d sampling.Density) sampling.Density { return blur(d, parts[k].Shift, parts[k].Variance) })
}

func (b belief) each(f func(k int, d sampling.Density) sampling.Density) belief {
	parts := make([]sampling.Density, len(b.parts))
	for k, d := range b.parts {
		parts[k] = f(k, d)
	}
	b.parts = parts
	return b
}

// with is the blend of two beliefs with the same parts and weights, the second
// with the weight q.
func (b belief) with(other belief, q float64) belief {
	return b.each(func(k int, d sampling.Density) sampling.Density {
		return blend([]sampling.Density{d, other.parts[k]}, []float64{1 - q, q})
	})
}

// chance is the chance of counts whose likelihood is l in each part.
func (b belief) chance(l []sampling.Likelihood) float64 {
	var sum, total float64
	for k, d := range b.parts {
		sum += b.weights[k] * d.Chance(l[min(k, len(l)-1)])
		total += b.weights[k]
	}
	return sum / total
}

// times is the belief after counts whose likelihood is l: one for all parts, or
// one for each. The error is sampling.ErrNoOverlap.
func (b belief) times(l ...sampling.Likelihood) (belief, error) {
	out := belief{course: b.course, weights: make([]float64, len(b.parts)), parts: make([]sampling.Density, len(b.parts))}
	total := 0.0
	for k, d := range b.parts {
		of := l[min(k, len(l)-1)]
		after, err := d.Times(of)
		if err != nil {
			out.parts[k] = d // it weighs nothing from here on
			continue
		}
		out.parts[k], out.weights[k] = after, b.weights[k]*d.Chance(of)
		total += out.weights[k]
	}
	if !(total > 0) {
		if len(b.parts) > 1 {
			// So unlikely that the chances are lost to rounding: tell the parts
			// apart no more.
			return certain(b.density()).times(l[0])
		}
		after, err := b.parts[0].Times(l[0])
		return belief{b.course, []float64{1}, []sampling.Density{after}}, err
	}
	for k := range out.weights {
		out.weights[k] /= total
	}
	return out, nil
}
