package decide

import (
	"math"
	"slices"

	"halfcup/internal/numeric"
	"halfcup/sampling"
)

// PairAdvice is a pair that is worth making on a day on which a yard was rolled:
// one more roll of a colony, and a wash of the very bees that were rolled. It
// tells what share the rolls of that day found, and so something of every colony
// that was rolled. Worth and Net are in needless treatments.
type PairAdvice struct {
	Colony string
	Effort
	Worth, Net float64
}

// pair is the pair that is worth its cost, nil when none is: it is made in the
// colony with most mites, where it tells most. What the wash itself tells of
// that colony is not counted, so that it is worth no less.
func (v *visit) pair() *PairAdvice {
	o := v.now
	if o.yard == nil || len(o.colonies) < 2 || v.rollDay(o) != o.day || slices.Contains(v.Without, sampling.Wash) {
		return nil
	}
	most, top := -1, 0.0
	var regrets [][]Regret // of each colony about which something is to be decided, by recovery
	for k, i := range o.colonies {
		s := v.situation(i, o)
		if _, _, ok := s.courseCall(); ok {
			continue
		}
		stakes := s.Stakes()
		var by []Regret
		for r := range rollRecoveries {
			by = append(by, stakes.Regret(o.yard.At(r)[k]))
		}
		regrets = append(regrets, by)
		if level := o.together[k].Known.Quantile(0.5); slices.ContainsFunc(s.State.Counts, s.History.unsureRoll) && level > top {
			most, top = k, level
		}
	}
	if most < 0 {
		return nil
	}
	c := v.Colonies[o.colonies[most]]
	roll, wash := Scooped(sampling.Roll, usualBees, 1, o.day), Scooped(sampling.Wash, usualBees, 1, o.day)
	n := slices.IndexFunc(o.together[most].Counts, c.unsureRoll)
	roll.Weather = o.together[most].Counts[n].Weather
	law, _ := c.Assumptions.RecoveryOf(roll)
	var found []float64
	for _, q := range rollRecoveries {
		found = append(found, law.Quantile(q))
	}
	a := PairAdvice{Colony: c.Name, Effort: v.Costs.Effort(wash), Worth: worthOfPair(regrets, o.yard.Recovery(), found, int(math.Round(usualBees*top)))}
	a.Minutes += v.Costs.Effort(roll).Minutes
	if a.Net = a.Worth - v.Costs.Of(a.Effort); a.Net < v.MinWorth {
		return nil
	}
	return &a
}

// worthOfPair is how much less is regretted of all colonies when it is known how
// many of so many mites in a jar the roll brought down: every colony is decided
// upon what the recovery is then likely to be. Recoveries have the chances given
// and find the shares given.
func worthOfPair(regrets [][]Regret, chances, found []float64, mites int) float64 {
	least := func(weights []float64) float64 {
		sum := 0.0
		for _, by := range regrets {
			var r Regret
			for s, w := range weights {
				r.Treat += w * by[s].Treat
				r.Leave += w * by[s].Leave
			}
			sum += r.Least()
		}
		return sum
	}
	after := 0.0
	weights := make([]float64, len(chances))
	for k := range mites + 1 {
		for s, w := range chances {
			weights[s] = w * (numeric.Binomial(k, mites, found[s], numeric.Lower) - numeric.Binomial(k-1, mites, found[s], numeric.Lower))
		}
		after += least(weights)
	}
	return math.Max(0, least(chances)-after)
}
