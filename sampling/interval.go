package sampling

import (
	"fmt"
	"math"
	"sort"

	"halfcup/internal/meant"
	"halfcup/internal/numeric"
)

// IntervalKind is a way of putting limits round a bare count.
type IntervalKind string

// The kinds. Garwood treats mites as events; the others treat every bee as
// infested or not, so they cannot be used when mites exceed bees.
const (
	// Garwood is the exact Poisson interval (Garwood 1936, Biometrika 28:437-442),
	// the default: a bee can carry more than one mite. It never covers less
	// than its level; its weakness is that it covers more, and so is wide.
	Garwood IntervalKind = "garwood"

	// ClopperPearson is the exact binomial interval (Clopper & Pearson 1934,
	// Biometrika 26:404-413). It never covers less than its level and is the
	// widest of the binomial kinds.
	ClopperPearson IntervalKind = "clopper-pearson"

	// Wilson is the score interval (Wilson 1927, J Am Stat Assoc 22:209-212).
	// Short and good on average, but for very low rates it can cover less than
	// its level: at 95 % down to 0.837 for 0.1 to 20 mites per hundred in 50,
	// 100 or 300 bees.
	Wilson IntervalKind = "wilson"

	// Jeffreys is the equal-tailed beta(1/2, 1/2) interval, with the limits
	// set to 0 and 1 where every or no bee is infested (Brown, Cai & DasGupta
	// 2001, Stat Sci 16:101-133). Its coverage swings about its level: at 95 %
	// down to 0.877 over the same rates and sizes.
	Jeffreys IntervalKind = "jeffreys"

	// MidP counts only half the chance of what was seen (Lancaster 1961, J Am
	// Stat Assoc 56:223-234). Shorter than the exact kinds; at 95 % it covers
	// down to 0.917 over the same rates and sizes.
	MidP IntervalKind = "mid-p"
)

// IntervalKinds lists the kinds, the default first.
func IntervalKinds() []IntervalKind {
	return []IntervalKind{Garwood, ClopperPearson, Wilson, Jeffreys, MidP}
}

// ParseIntervalKind finds a kind by name. An unknown name is a *SyntaxError
// that suggests the nearest one.
func ParseIntervalKind(s string) (IntervalKind, error) {
	var names []string
	for _, k := range IntervalKinds() {
		if string(k) == s {
			return k, nil
		}
		names = append(names, string(k))
	}
	list := joinWords(names)
	remedy := meant.Remedy(s, names, "The kinds are "+list, "use one of "+list)
	return "", &SyntaxError{Input: s, Length: max(len(s), 1), Problem: fmt.Sprintf("%q is not a kind of interval", s), Remedy: remedy}
}

// Interval is what a bare count says by itself: no recovery, no frames.
type Interval struct {
	Kind     IntervalKind
	Level    float64 // asked for, between 0 and 1
	Achieved float64 // exact coverage at the observed rate (at half a mite for none)
	Low      float64 // mites per bee
	High     float64 // mites per bee
}

// NewInterval puts limits round mites counted on bees. A sample of unknown
// number is given its expected number; the binomial kinds round it to whole
// bees. The error is a *ValueError: a level outside (0, 1), no bees or
// more than a million, or a binomial kind with more mites than bees.
func NewInterval(kind IntervalKind, mites int, bees, level float64) (Interval, error) {
	low, high, err := kind.limits(mites, bees, level)
	if err != nil {
		return Interval{}, err
	}
	achieved, err := kind.coverage(achievedAt(mites, bees), bees, level)
	if err != nil {
		return Interval{}, err
	}
	return Interval{kind, level, achieved, low, high}, nil
}

// Limits are the limits of NewInterval alone, in mites per bee, for those who
// have no use for what they achieve.
func (k IntervalKind) Limits(mites int, bees, level float64) (low, high float64, err error) {
	return k.limits(mites, bees, level)
}

// achievedAt is the rate at which the achieved coverage is told: the observed
// one, and half a mite in the sample when none was seen.
func achievedAt(mites int, bees float64) float64 {
	if mites == 0 {
		return 0.5 / bees
	}
	return float64(mites) / bees
}

func (k IntervalKind) binomial() bool { return k != Garwood }

// mostCounted is how many bees an interval can be of. Up to there the binomial
// tails agree with those of R 4.2.2 to 1e-9; of ten million they are off by 1e-3,
// of a billion they are no chances.
const mostCounted = 1_000_000

// limits are the two limits in mites per bee.
func (k IntervalKind) limits(mites int, bees, level float64) (low, high float64, err error) {
	switch {
	case !(level > 0 && level < 1):
		return 0, 0, badValue("level", fmt.Sprintf("%v is not between 0 and 1", level), "use a level such as 0.95")
	case bees > mostCounted:
		return 0, 0, badValue("count", fmt.Sprintf("%v bees are more than anybody counts, and no interval is worked out for so many", bees), fmt.Sprintf("check the number of bees; up to %d can be used", mostCounted))
	case mites < 0 || !(bees > 0) || (k.binomial() && bees < 0.5):
		return 0, 0, badValue("count", "a sample needs 0 or more mites and a number of bees above 0", "check both numbers")
	}
	tail := (1 - level) / 2
	if k == Garwood {
		low, high = garwood(mites, tail)
		return low / bees, high / bees, nil
	}
	n := int(math.Round(bees))
	if mites > n {
		return 0, 0, badValue(string(k)+" interval", fmt.Sprintf("%d mites exceed %s, and this kind takes each bee as infested or not", mites, beesWords(float64(n))), "use garwood, which lets a bee carry several mites")
	}
	switch k {
	case ClopperPearson:
		low, high = clopperPearson(mites, n, tail)
	case Wilson:
		low, high = wilson(mites, n, tail)
	case Jeffreys:
		low, high = jeffreys(mites, n, tail)
	case MidP:
		low, high = midP(mites, n, tail)
	default:
		return 0, 0, badValue("interval", fmt.Sprintf("%q is not a kind of interval", string(k)), "use garwood")
	}
	return low, high, nil
}

func garwood(y int, tail float64) (low, high float64) {
	if y > 0 {
		low = numeric.GammaQuantile(float64(y), tail, numeric.Lower)
	}
	return low, numeric.GammaQuantile(float64(y)+1, tail, numeric.Upper)
}

func clopperPearson(y, n int, tail float64) (low, high float64) {
	high = 1
	if y > 0 {
		low = numeric.BetaQuantile(float64(y), float64(n-y)+1, tail, numeric.Lower)
	}
	if y < n {
		high = numeric.BetaQuantile(float64(y)+1, float64(n-y), tail, numeric.Upper)
	}
	return low, high
}

func wilson(y, n int, tail float64) (low, high float64) {
	z := -numeric.NormalQuantile(tail)
	z2, N := z*z, float64(n)
	p := float64(y) / N
	half := z * math.Sqrt(z2+4*N*p*(1-p))
	high = (2*N*p + z2 + half) / (2 * (N + z2))
	// The lower limit as a quotient: subtracting two near-equal numbers would
	// lose its digits at few mites.
	low = 2 * N * p * p / (2*N*p + z2 + half)
	if y == n {
		high = 1
	}
	return low, high
}

func jeffreys(y, n int, tail float64) (low, high float64) {
	high = 1
	a, b := float64(y)+0.5, float64(n-y)+0.5
	if y > 0 {
		low = numeric.BetaQuantile(a, b, tail, numeric.Lower)
	}
	if y < n {
		high = numeric.BetaQuantile(a, b, tail, numeric.Upper)
	}
	return low, high
}

// midP solves chance(more) + half chance(same) = tail for the lower limit and
// its mirror image for the upper.
func midP(y, n int, tail float64) (low, high float64) {
	high = 1
	if y > 0 {
		low = midPLower(y, n, tail)
	}
	if y < n {
		high = 1 - midPLower(n-y, n, tail)
	}
	return low, high
}

func midPLower(y, n int, tail float64) float64 {
	miss := func(p float64) float64 {
		return (numeric.Binomial(y, n, p, numeric.Upper)+numeric.Binomial(y+1, n, p, numeric.Upper))/2 - tail
	}
	// At y of n the chance is half of p^n at most, which stays below a tail
	// of one half only for p under 1: the bracket always holds.
	return numeric.Root(miss, 0, 1)
}

// coverage is the exact chance that the interval of a sample of so many bees
// holds the true rate, in mites per bee, under the law of the kind: Poisson for
// garwood, binomial for the rest.
func (k IntervalKind) coverage(rate, bees, level float64) (float64, error) {
	if !k.binomial() {
		mean := rate * bees
		first, last, err := k.covering(rate, bees, level, int(mean+20*math.Sqrt(mean)+100))
		if err != nil || first > last {
			return 0, err
		}
		return between(numeric.Poisson(first-1, mean, numeric.Lower), numeric.Poisson(last+1, mean, numeric.Upper)), nil
	}
	n := int(math.Round(bees))
	first, last, err := k.covering(rate, float64(n), level, n)
	if err != nil || first > last {
		return 0, err
	}
	return between(numeric.Binomial(first-1, n, rate, numeric.Lower), numeric.Binomial(last+1, n, rate, numeric.Upper)), nil
}

func between(below, above float64) float64 { return math.Max(0, 1-below-above) }

// covering finds the first and the last count whose interval holds the rate.
// Limits rise with the count, so each end is a search by halving.
func (k IntervalKind) covering(rate, bees, level float64, most int) (first, last int, err error) {
	search := func(holds func(low, high float64) bool) int {
		return sort.Search(most+1, func(mites int) bool {
			low, high, e := k.limits(mites, bees, level)
			if e != nil {
				err = e
			}
			return e == nil && holds(low, high)
		})
	}
	first = search(func(_, high float64) bool { return high >= rate })
	last = search(func(low, _ float64) bool { return low > rate }) - 1
	return first, min(last, most), err
}

func joinWords(words []string) string {
	s := ""
	for i, w := range words {
		switch {
		case i == 0:
		case i == len(words)-1:
			s += " or "
		default:
			s += ", "
		}
		s += w
	}
	return s
}
