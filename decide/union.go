package decide

import (
	"math"
	"slices"

	"halfcup/sampling"
)

// union is a colony that was joined to this one at the end of a day, after what
// was counted on it, and whose mites came along.
type union struct {
	on     sampling.Date
	share  float64   // of the bees after it that came
	levels []float64 // mites per adult bee of those that came, equally likely
}

// unions are the colonies that were joined to this one from the start of a replay
// up to a day and of which something is known.
func (h History) unions(p *Path, from, day sampling.Date) ([]union, error) {
	var out []union
	for _, e := range h.Happenings {
		if e.Kind != United || e.Came == nil || e.On < from || e.On > day {
			continue
		}
		came, err := e.Came.On(e.On)
		if err != nil {
			return nil, err
		}
		const nodes = 25
		u := union{on: e.On, share: orElse(e.Bees, swarmBees)}
		u.share /= u.share + p.AdultBees(e.On)
		at := make([]float64, nodes)
		for i := range at {
			at[i] = (float64(i) + 0.5) / nodes
		}
		u.levels = came.Known.Quantiles(at...)
		out = append(out, u)
	}
	return out, nil
}

// unionsFrom are the unions of a day and of later ones.
func unionsFrom(unions []union, day sampling.Date) []union {
	return slices.DeleteFunc(slices.Clone(unions), func(u union) bool { return u.on < day })
}

// join is what is known of the colony with the other one in it, on a later day;
// growth is that of the mites since, on the log scale. The level is the mean of
// what was here and what came, by their bees.
func (u union) join(d sampling.Density, growth float64) sampling.Density {
	came := make([]float64, len(u.levels))
	for i, level := range u.levels {
		came[i] = u.share * level * math.Exp(growth)
	}
	return blur(d, math.Log1p(-u.share), 0).PlusOneOf(came...)
}
