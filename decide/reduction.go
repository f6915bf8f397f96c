package decide

import (
	"fmt"
	"math"

	"halfcup/sampling"
)

// Answer is what counts before and after say of a treatment.
type Answer string

const (
	Worked     Answer = "worked"
	DidNot     Answer = "did not"
	CannotTell Answer = "cannot tell"
)

// Reduction is the share by which mites went down, with limits: 0.9 when one
// in ten is left, below zero when there are more than before, and minus
// infinity when nothing bounds how many more.
type Reduction struct{ Middle, Low, High float64 }

// Answer holds a reduction against the share that was asked for: worked when
// even the lower limit reaches it, did not when even the upper one stays
// below. Two limits and three answers follow Kaplan et al. 2023, Vet
// Parasitol 318:109936.
func (r Reduction) Answer(target float64) Answer {
	switch {
	case r.Low >= target:
		return Worked
	case r.High < target:
		return DidNot
	}
	return CannotTell
}

// reductionOf is the reduction where a share left lies about middle, between
// low and high.
func reductionOf(middle, low, high float64) Reduction {
	return Reduction{1 - middle, 1 - high, 1 - low}
}

// Abbott is the share killed by a treatment when some would have died anyway,
// from the shares alive with and without treatment: 1 - treated/untreated
// (Abbott 1925, J Econ Entomol 18:265-267). It takes equal starts.
func Abbott(treated, untreated float64) float64 { return 1 - treated/untreated }

// HendersonTilton is the share killed by a treatment from levels before and
// after in treated and untreated colonies (Henderson & Tilton 1955, J Econ
// Entomol 48:157-161).
func HendersonTilton(treatedBefore, treatedAfter, untreatedBefore, untreatedAfter float64) float64 {
	return 1 - treatedAfter/treatedBefore*untreatedBefore/untreatedAfter
}

// PoissonRatio is the ratio of two rates x/n and y/m with its exact interval:
// given x+y, x is binomial (Lehmann 1986, Testing Statistical Hypotheses; Fay
// 2010, R Journal 2(1):53-58). With no event at all the ratio is NaN and lies
// between 0 and infinity. Errors are *sampling.ValueError.
func PoissonRatio(x int, n float64, y int, m, level float64) (ratio, low, high float64, err error) {
	if x < 0 || y < 0 || !(n > 0) || !(m > 0) || math.IsInf(n, 1) || math.IsInf(m, 1) {
		return 0, 0, 0, &sampling.ValueError{Name: "two counts", Problem: fmt.Sprintf("%d on %v and %d on %v cannot be compared", x, n, y, m), Remedy: "give 0 or more mites on more than 0 bees or days"}
	}
	if x+y == 0 {
		return math.NaN(), 0, math.Inf(1), nil
	}
	i, err := sampling.NewInterval(sampling.ClopperPearson, x, float64(x+y), level)
	if err != nil {
		return 0, 0, 0, err
	}
	scale := m / n
	odds := func(p float64) float64 { return p / (1 - p) * scale }
	return float64(x) / float64(y) * scale, odds(i.Low), odds(i.High), nil
}

// Share is k of n with its exact binomial limits: mites killed of those
// exposed in a jar, or of all mites that a treatment and its follow-up
// brought down. Errors are *sampling.ValueError.
func Share(k, n int, level float64) (Reduction, error) {
	if k < 0 || n < 1 || k > n {
		return Reduction{}, &sampling.ValueError{Name: "killed mites", Problem: fmt.Sprintf("%d of %d cannot be", k, n), Remedy: "give the mites killed and all mites there were, at least one"}
	}
	i, err := sampling.NewInterval(sampling.ClopperPearson, k, float64(n), level)
	return Reduction{float64(k) / float64(n), i.Low, i.High}, err
}

// bareReduction is what one pair of counts says by itself, without frames,
// recovery and growth. It is NaN for a bee sample against a board, which are
// not on one scale.
func bareReduction(a sampling.Assumptions, p Pair, level float64) (Reduction, error) {
	if p.Before.Method.Kind() != p.After.Method.Kind() {
		return Reduction{math.NaN(), math.NaN(), math.NaN()}, nil
	}
	before, err := amountOf(a, p.Before)
	if err != nil {
		return Reduction{}, err
	}
	after, err := amountOf(a, p.After)
	if err != nil {
		return Reduction{}, err
	}
	left, low, high, err := PoissonRatio(p.After.Mites, after, p.Before.Mites, before, level)
	return reductionOf(left, low, high), err
}

// amountOf is the bees or days of a count.
func amountOf(a sampling.Assumptions, c sampling.Count) (float64, error) {
	if c.Method.Kind() == sampling.BeeSample {
		bees, _, err := a.BeesOf(c)
		return bees, err
	}
	share := 1.0
	if c.Cells.Of > 0 {
		share = float64(c.Cells.Counted) / float64(c.Cells.Of)
	}
	return share * c.DaysOnBoard(), nil
}
