package sampling

import "math"

// Likelihood is the curve read as a likelihood: what all that happened to a
// colony says about it, when the density began Flat. Whoever knows more of the
// colony from elsewhere, such as from the others of its yard, multiplies that
// by it and so counts it once.
func (d Density) Likelihood() Likelihood { return Likelihood{append([]float64(nil), d.filled().p...)} }

// And is the likelihood of two independent sets of counts together.
func (l Likelihood) And(m Likelihood) Likelihood {
	l, m = l.filled(), m.filled()
	v := make([]float64, gridNodes)
	for i := range v {
		v[i] = l.l[i] * m.l[i]
	}
	return Likelihood{v}
}

// Above is the likelihood that knows only that θ is above level, in mites per
// bee: a step. Beside the step its values are those that make Chance the
// integral of a smooth curve from there on, right to the fourth power of the
// grid's step, as Over is.
func Above(level float64) Likelihood {
	v := make([]float64, gridNodes)
	x := math.Inf(-1)
	if level > 0 {
		x = (math.Log(level) - gridLow) / gridStep
	}
	at := int(math.Floor(math.Max(-1, math.Min(x, gridNodes))))
	for i := range v {
		if i > at {
			v[i] = 1
		}
	}
	if at < 2 || at > gridNodes-4 {
		return Likelihood{v}
	}
	// The running sum up to a node, less the whole steps before it, by the
	// trapezoid rule with its end correction; between nodes the cubic that has
	// the density as its slope.
	s := x - float64(at)
	t := 1 - s
	upTo, upToNext := t*t*(1+2*s), s*s*(1+2*t)
	below := [...]float64{
		upTo*25/24 + upToNext,
		upTo/2 + upToNext*25/24 + s*t*t,
		-upTo/24 + upToNext/2 - s*s*t,
		-upToNext / 24,
	}
	for j, b := range below {
		v[at-1+j] = 1 - b
	}
	return Likelihood{v}
}

// Lifted is Plus for a curve that began Flat and so is a likelihood: a level
// explains the counts as well after a mites per bee came in as the level a
// lower did before. Plus would take the flat start for knowledge: all the
// levels near none that it allows would pile up at the level a.
func (d Density) Lifted(a float64) Density {
	d = d.filled()
	if !(a > 0) {
		return d
	}
	v := make([]float64, gridNodes)
	for i := range v {
		low, high := math.Exp(nodeAt(i)-gridStep/2), math.Exp(nodeAt(i)+gridStep/2)
		switch {
		case low >= a:
			v[i] = d.at(math.Log(expAt(i) - a))
		case high > a: // only a part of the cell
			v[i] = (high - a) / (high - low) * d.at(math.Log((high-a)/2))
		}
	}
	out, err := normalised(v)
	if err != nil { // more mites than the grid holds
		return d
	}
	return out
}

// at reads the curve between nodes; past an end it goes on at its last value.
func (d Density) at(x float64) float64 {
	d = d.filled()
	s := (x - gridLow) / gridStep
	i := math.Floor(s)
	sum := 0.0
	for j, w := range lagrange6(s - i) {
		sum += w * d.p[min(max(int(math.Max(i, -10))-2+j, 0), gridNodes-1)]
	}
	return math.Max(0, sum)
}
