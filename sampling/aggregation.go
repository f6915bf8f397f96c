package sampling

import (
	"math"

	"halfcup/sampling/internal/numeric"
)

// Aggregation is how clumped counts are: negative binomial with mean
// Rate·exposure and size K. The smaller K, the more clumped; +Inf when the
// counts vary no more than Poisson counts do.
type Aggregation struct {
	K             float64
	SE            float64 // of K, from the curvature at the maximum; NaN when K is infinite
	Rate          float64
	LogLikelihood float64
}

// EstimateK fits a negative binomial to counts by maximum likelihood (Bliss &
// Fisher 1953, Biometrics 9:176-200), starting from the moments. exposures is
// how much was looked at for each count, such as its bees; nil when all are
// alike, and Rate is then the mean count. Errors are *ValueError.
func EstimateK(counts []int, exposures []float64) (Aggregation, error) {
	if exposures == nil {
		exposures = make([]float64, len(counts))
		for i := range exposures {
			exposures[i] = 1
		}
	}
	f := nbFit{counts, exposures}
	if err := f.check(); err != nil {
		return Aggregation{}, err
	}
	low := f.momentK()
	high := low
	for f.score(low) < 0 && low > smallestK {
		low /= 2
	}
	for f.score(high) > 0 && high < largestK {
		high *= 2
	}
	k := math.Exp(numeric.Root(func(logK float64) float64 { return f.score(math.Exp(logK)) }, math.Log(low), math.Log(high)))
	switch {
	case high >= largestK:
		k = math.Inf(1)
	case low <= smallestK:
		return Aggregation{}, &ValueError{"counts", "they are too clumped for a negative binomial", "look for a count that was mistyped"}
	case low == high:
		k = low
	}
	rate := f.rate(k)
	return Aggregation{K: k, SE: 1 / math.Sqrt(f.information(k, rate)), Rate: rate, LogLikelihood: f.logLikelihood(k, rate)}, nil
}

// Beyond these a fit is no fit: at the upper end counts are Poisson.
const (
	smallestK = 1e-6
	largestK  = 1e6
)

type nbFit struct {
	counts    []int
	exposures []float64
}

func (f nbFit) check() error {
	if len(f.counts) != len(f.exposures) || len(f.counts) < 2 {
		return &ValueError{"counts", "there must be two or more, each with its exposure", "give as many exposures as counts"}
	}
	total := 0
	for i, y := range f.counts {
		if e := f.exposures[i]; y < 0 || !(e > 0) || math.IsInf(e, 1) {
			return &ValueError{"counts", "a count below 0 or an exposure that is not above 0", "give whole numbers, and how much each was looked at"}
		}
		total += y
	}
	if total == 0 {
		return &ValueError{"counts", "all are 0, so nothing tells how clumped they are", "use counts of which some are above 0"}
	}
	return nil
}

// momentK is the K that gives the counts their variance about the mean rate.
func (f nbFit) momentK() float64 {
	total, exposure := 0.0, 0.0
	for i, y := range f.counts {
		total, exposure = total+float64(y), exposure+f.exposures[i]
	}
	excess, square := 0.0, 0.0
	for i, y := range f.counts {
		m := total / exposure * f.exposures[i]
		excess += (float64(y)-m)*(float64(y)-m) - m
		square += m * m
	}
	if excess <= 0 {
		return 1000
	}
	return math.Min(math.Max(square/excess, 1e-3), 1000)
}

// rate is the likeliest rate for a given K: the zero of a falling function.
func (f nbFit) rate(k float64) float64 {
	low, high := math.Inf(1), 0.0
	for i, y := range f.counts {
		r := float64(y) / f.exposures[i]
		low, high = math.Min(low, r), math.Max(high, r)
	}
	if low == high {
		return low
	}
	return numeric.Root(func(rate float64) float64 {
		sum := 0.0
		for i, y := range f.counts {
			m := rate * f.exposures[i]
			sum += (float64(y) - m) / (1 + m/k)
		}
		return sum
	}, low, high)
}

// score is the slope of the log-likelihood in K at the best rate for it. The
// digamma functions differ by a plain sum, since the counts are whole.
func (f nbFit) score(k float64) float64 {
	rate, sum := f.rate(k), 0.0
	for i, y := range f.counts {
		m := rate * f.exposures[i]
		for j := range y {
			sum += 1 / (k + float64(j))
		}
		sum += (m-float64(y))/(k+m) - math.Log1p(m/k)
	}
	return sum
}

// information is minus the curvature of the log-likelihood in K, the rate held.
func (f nbFit) information(k, rate float64) float64 {
	if math.IsInf(k, 1) {
		return math.NaN()
	}
	sum := 0.0
	for i, y := range f.counts {
		m := rate * f.exposures[i]
		for j := range y {
			sum += 1 / ((k + float64(j)) * (k + float64(j)))
		}
		sum += -1/k + 2/(k+m) - (float64(y)+k)/((k+m)*(k+m))
	}
	return sum
}

func (f nbFit) logLikelihood(k, rate float64) float64 {
	sum := 0.0
	for i, y := range f.counts {
		m := rate * f.exposures[i]
		sum -= numeric.LogGamma(float64(y) + 1)
		if m > 0 {
			sum += float64(y) * math.Log(m)
		}
		if math.IsInf(k, 1) {
			sum -= m
			continue
		}
		for j := range y {
			sum += math.Log1p(float64(j) / k)
		}
		sum -= (float64(y) + k) * math.Log1p(m/k)
	}
	return sum
}
