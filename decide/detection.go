package decide

import (
	"math"
	"sort"
)

// Search looks for at least one infested among many, picked without looking:
// for a bee that carries a mite, or for a colony over the line. The textbook
// treatment of bees is Pirk et al. 2013, J Apic Res 52(4).
type Search struct {
	Prevalence  float64 // share of all that are infested, above 0 and at most 1
	Sensitivity float64 // chance that an infested one that is picked shows it
	Population  int     // how many there are in all; 0 for so many that those taken are not missed
}

// infested is how many of a limited population are infested, rounded up: one
// infested among a hundred is what a prevalence of 0.1 % means.
func (s Search) infested() int {
	return int(math.Ceil(s.Prevalence*float64(s.Population) - 1e-9))
}

// Chance is the chance that a sample of n shows at least one: binomial in a
// large population, hypergeometric in a limited one, of which at most all are
// taken.
func (s Search) Chance(n int) float64 {
	if s.Population == 0 {
		return -math.Expm1(float64(n) * math.Log1p(-s.Prevalence*s.Sensitivity))
	}
	all, infested := s.Population, s.infested()
	n = min(max(n, 0), all)
	// The logarithm of the chance of the fewest infested the sample can hold,
	// then from each number to the next by the ratio of their chances.
	k, logChance := 0, 0.0
	if n <= all-infested {
		for i := range n {
			logChance += math.Log1p(-float64(infested) / float64(all-i))
		}
	} else {
		k = n + infested - all
		for i := range all - n {
			logChance += math.Log(float64(infested-i) / float64(all-i))
		}
	}
	hidden := math.Log1p(-s.Sensitivity)
	none := 0.0
	for ; ; k++ {
		missed := logChance
		if k > 0 {
			missed += float64(k) * hidden
		}
		none += math.Exp(missed)
		if k == min(n, infested) {
			return 1 - none
		}
		logChance += math.Log(float64(infested-k) * float64(n-k) / (float64(k+1) * float64(all-infested-n+k+1)))
	}
}

// Size is the smallest sample that shows at least one with the wanted chance;
// ok is false when there is none.
func (s Search) Size(wanted float64) (n int, ok bool) {
	high := 1
	for s.Chance(high) < wanted {
		if s.Population > 0 && high >= s.Population || high > math.MaxInt32 {
			return 0, false
		}
		high *= 2
	}
	return 1 + sort.Search(high-1, func(n int) bool { return !(s.Chance(n+1) < wanted) }), true
}
