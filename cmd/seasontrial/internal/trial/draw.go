package trial

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"
)

// source is a run of random numbers of its own for one purpose. Two with other
// labels have nothing to do with each other, and it does not matter when, or
// whether, any of them is drawn from.
type source struct{ *rand.Rand }

func newSource(seed uint64, labels ...uint64) source {
	high, low := mix(seed), mix(^seed)
	for _, l := range labels {
		high, low = mix(high^l), mix(low+l)
	}
	return source{rand.New(rand.NewPCG(high, low))}
}

// mix is the finaliser of SplitMix64 (Steele, Lea & Flood 2014, OOPSLA), which
// scatters neighbouring labels.
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// factor is log-normal with mean 1 and the given coefficient of variation.
func (s source) factor(cv float64) float64 {
	sd := math.Sqrt(math.Log1p(cv * cv))
	return s.spread(sd) * math.Exp(-sd*sd/2)
}

// spread is log-normal with median 1.
func (s source) spread(logSD float64) float64 { return math.Exp(logSD * s.NormFloat64()) }

// share is a beta variable by its mean and SD.
func (s source) share(mean, sd float64) float64 {
	if sd == 0 {
		return mean
	}
	n := mean*(1-mean)/(sd*sd) - 1
	return distuv.Beta{Alpha: mean * n, Beta: (1 - mean) * n, Src: s}.Rand()
}

// gamma is a gamma variable of mean 1 and the given coefficient of variation.
func (s source) gamma(cv float64) float64 {
	if cv == 0 {
		return 1
	}
	k := 1 / (cv * cv)
	return distuv.Gamma{Alpha: k, Beta: k, Src: s}.Rand()
}

// events is a Poisson variable.
func (s source) events(mean float64) int {
	if !(mean > 0) {
		return 0
	}
	return int(distuv.Poisson{Lambda: mean, Src: s}.Rand())
}

// thinned is how many of n are left when each is kept with a chance p.
func (s source) thinned(n int, p float64) int {
	kept := 0
	for range n {
		if s.Float64() < p {
			kept++
		}
	}
	return kept
}
