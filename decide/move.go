package decide

import (
	"fmt"
	"math"

	"halfcup/sampling"
)

// Move is what happens to mites per adult bee between two days: the density
// of ln θ is shifted by Shift and blurred by a normal density of that
// Variance; after that Arrivals, in mites per adult bee, are added to θ.
type Move struct{ Shift, Variance, Arrivals float64 }

// Apply moves a density of mites per adult bee.
func (m Move) Apply(d sampling.Density) sampling.Density { return m.blur(d).Plus(m.Arrivals) }

// Carry moves a curve that began flat, and so is a likelihood.
func (m Move) Carry(d sampling.Density) sampling.Density { return m.blur(d).Lifted(m.Arrivals) }

func (m Move) blur(d sampling.Density) sampling.Density {
	return d.Moved(sampling.NormalKernel(m.Shift, math.Sqrt(max(m.Variance, 0))))
}

// Move is what happens between the start of the day from and the start of the
// day to to mites per adult bee, when the last count before was on the day
// counted: all three on the same day for the first move after a count.
//
// Growth is less sure the longer ago that count is: from age s to age t it
// adds 0.004²(t²-s²) + 0.02²(t-s), so that a move cut in two is as wide as the
// whole. Shifts add up too. The blur of a treatment does not: what a colony
// lost to a strong kill comes back from its brood, and mites per bee are surer
// two weeks after a treatment than on the day after. A blur once done cannot
// be taken back, so move in one step from count to count. Rounds of one
// treatment share their kill, because what makes it weak in a hive stays the
// same; different treatments are independent, and their variances add.
//
// Some treatments fail outright, as no law of a single kill allows for. That
// widens the blur by the variance of an effect that is there or not.
func (p *Path) Move(counted, from, to sampling.Date) (Move, error) {
	if from < p.plan.First || to > p.plan.Last || counted > from || from > to {
		return Move{}, &sampling.ValueError{
			Name:    "move",
			Problem: fmt.Sprintf("from %s to %s with a count on %s is not within the path from %s to %s", from, to, counted, p.plan.First, p.plan.Last),
			Remedy:  "give the days in order and build the path over all of them",
		}
	}
	a, b := int(from-p.start), int(to-p.start)
	m := Move{
		Shift:    p.mites[b] - p.mites[a] - (p.colony.logBees[b] - p.colony.logBees[a]),
		Variance: growthVariance(float64(from-counted), float64(to-counted)) + p.killVariance(a, b),
		Arrivals: p.arrived(a, b) / p.AdultBees(to),
	}
	return m, nil
}

// Treated is what the treatments between the start of two days did to mites per
// bee at the second, by themselves: how a colony differs then from one that
// went the same way untreated. Both days must lie within the path.
func (p *Path) Treated(from, to sampling.Date) Move {
	a, b := int(from-p.start), int(to-p.start)
	none := p.run(p.killsWith(func(sampling.Treatment, sampling.Beta) float64 { return 0 }))
	return Move{Shift: p.mites[b] - p.mites[a] - (none[b] - none[a]), Variance: p.killVariance(a, b)}
}

// killVariance is the variance that unsure kills add to ln θ between two days.
func (p *Path) killVariance(a, b int) float64 {
	failure := parameter("treatment_failure")
	variance := 0.0
	for _, runs := range p.blurred {
		var ratios [killQuantiles]float64
		mean := 0.0
		for q, mites := range runs.quantiles {
			ratios[q] = mites[b] - mites[a]
			mean += ratios[q] / killQuantiles
		}
		for _, r := range ratios {
			variance += (r - mean) * (r - mean) / killQuantiles
		}
		effect := mean - (runs.without[b] - runs.without[a])
		variance += failure * (1 - failure) * effect * effect
	}
	return variance
}

// growthVariance is the variance that growth adds to ln θ from age s to age t,
// in days since the last count: a part that lasts and a part new every day.
func growthVariance(s, t float64) float64 {
	lasting, daily := parameter("growth_sd_lasting"), parameter("growth_sd_daily")
	return lasting*lasting*(t*t-s*s) + daily*daily*(t-s)
}
