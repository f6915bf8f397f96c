// Package numeric holds the tails and quantiles of gonum's distributions that
// need care, and a root finder. It closes known holes: quantiles that lose all
// digits far out in the upper tail or panic, survival functions computed as one
// minus the rest, and NaN at the edges. Every function here takes each tail by
// itself, so that a small chance keeps its digits. Where gonum is sound as it
// stands, it is called directly.
package numeric

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mathext"
)

// Tail says from which end a chance is measured.
type Tail int

// The two ends.
const (
	Lower Tail = iota
	Upper
)

// Poisson is the chance of at most k events (Lower) or at least k events
// (Upper) when mean are expected.
func Poisson(k int, mean float64, tail Tail) float64 {
	return NegativeBinomial(k, mean, math.Inf(1), tail)
}

// NegativeBinomial is the chance of at most k events (Lower) or at least k
// (Upper) when mean are expected and the rate itself varies as a gamma of the
// given shape (size). An infinite size is the Poisson law.
func NegativeBinomial(k int, mean, size float64, tail Tail) float64 {
	poisson := math.IsInf(size, 1)
	switch {
	case tail == Lower && k < 0:
		return 0
	case tail == Lower && mean == 0:
		return 1
	case tail == Lower && poisson:
		return mathext.GammaIncRegComp(float64(k)+1, mean)
	case tail == Lower:
		return mathext.RegIncBeta(size, float64(k)+1, size/(size+mean))
	case k <= 0:
		return 1
	case mean == 0:
		return 0
	case poisson:
		return mathext.GammaIncReg(float64(k), mean)
	}
	return mathext.RegIncBeta(float64(k), size, mean/(size+mean))
}

// Binomial is the chance of at most k (Lower) or at least k (Upper) successes
// in n tries of chance p each.
func Binomial(k, n int, p float64, tail Tail) float64 {
	switch {
	case tail == Lower && k < 0:
		return 0
	case tail == Lower && (k >= n || p <= 0):
		return 1
	case tail == Lower && p >= 1:
		return 0
	case tail == Lower:
		return mathext.RegIncBeta(float64(n-k), float64(k)+1, 1-p)
	case k <= 0:
		return 1
	case k > n || p <= 0:
		return 0
	case p >= 1:
		return 1
	}
	return mathext.RegIncBeta(float64(k), float64(n-k)+1, p)
}

// GammaQuantile is the x below which (Lower) or above which (Upper) a gamma of
// the given shape and unit rate has the chance p. It is NaN unless the shape is
// positive and finite and p lies inside (0, 1).
func GammaQuantile(shape, p float64, tail Tail) float64 {
	if !(shape > 0 && p > 0 && p < 1) || math.IsInf(shape, 1) {
		return math.NaN()
	}
	lg := LogGamma(shape)
	density := func(x float64) float64 { return math.Exp((shape-1)*math.Log(x) - x - lg) }
	if tail == Lower {
		return polish(mathext.GammaIncRegInv(shape, p), func(x float64) float64 {
			return (mathext.GammaIncReg(shape, x) - p) / density(x)
		})
	}
	return polish(mathext.GammaIncRegCompInv(shape, p), func(x float64) float64 {
		return (p - mathext.GammaIncRegComp(shape, x)) / density(x)
	})
}

// BetaQuantile is the x below which (Lower) or above which (Upper) a beta law
// has the chance p. It is NaN unless both parameters are positive and finite
// and p lies from 0 to 1.
func BetaQuantile(a, b, p float64, tail Tail) float64 {
	switch {
	case !(a > 0 && b > 0 && p >= 0 && p <= 1) || math.IsInf(a+b, 1):
		return math.NaN()
	case tail == Upper:
		return 1 - BetaQuantile(b, a, p, Lower)
	case p > 0.5:
		return 1 - BetaQuantile(b, a, 1-p, Lower)
	case p == 0:
		return 0
	}
	return betaQuantile(a, b, p)
}

// betaQuantile is the lower quantile for 0 < p <= 1/2. gonum's inverse
// goes wrong where the law is narrow and far from its middle, so this is
// Newton's rule for the logarithm of the chance against t = ln x. Far below
// the law's mass that is a straight line of slope a, from which it starts; for
// b >= 1 the curve bends down from it all the way, so that every step ends
// short of the root. Where it bends the other way, and a step does not halve
// the miss, the interval that is known to hold the root is halved.
func betaQuantile(a, b, p float64) float64 {
	lb := LogBeta(a, b)
	logP := math.Log(p)
	low, high := math.Log(math.SmallestNonzeroFloat64), 0.0
	t := math.Min((logP+math.Log(a)+lb)/a, 0)
	if t <= low {
		return 0 // below the smallest number there is
	}
	last := math.Inf(1)
	for range 200 {
		x := math.Exp(t)
		chance := mathext.RegIncBeta(a, b, x)
		miss := math.Log(chance) - logP
		if miss < 0 {
			low = t
		} else {
			high = t
		}
		slope := math.Exp(a*t+(b-1)*math.Log1p(-x)-lb) / chance
		next := t - miss/slope
		newton := next > low && next < high && math.Abs(miss) < last/2
		if !newton {
			next = low + (high-low)/2
		}
		last = math.Abs(miss)
		// After so small a step the next one would be its square.
		done := newton && last < 1e-6 && math.Abs(next-t) < 1e-9 || high-low < 1e-18
		if t = next; done {
			break
		}
	}
	x := polish(math.Exp(t), func(x float64) float64 {
		if !(x < 1) {
			return 0
		}
		density := math.Exp((a-1)*math.Log(x) + (b-1)*math.Log1p(-x) - lb)
		return (mathext.RegIncBeta(a, b, x) - p) / density
	})
	return min(x, 1)
}

// polish takes a nearly right positive root to its last digits by Newton's
// rule; step is the miss over the slope. It stops where a step is no longer
// small, which means that the start was not nearly right or the slope is lost.
func polish(x float64, step func(float64) float64) float64 {
	for range 4 {
		d := step(x)
		if !(math.Abs(d) < 0.1*x) {
			return x
		}
		x -= d
		if math.Abs(d) <= 1e-15*x {
			return x
		}
	}
	return x
}

// NormalQuantile is the x below which a standard normal has the chance p.
func NormalQuantile(p float64) float64 { return mathext.NormalQuantile(p) }

// LogBeta is the logarithm of the beta function.
func LogBeta(a, b float64) float64 { return mathext.Lbeta(a, b) }

// LogGamma is the logarithm of the gamma function of a positive number.
func LogGamma(x float64) float64 {
	v, _ := math.Lgamma(x)
	return v
}

// Root finds the zero of f between low and high, where f has opposite signs,
// to the last digits. It returns NaN when the signs agree.
//
// It is the Illinois form of false position, which halves the weight of an end
// that stays too long, with a plain halving every third step as a guarantee.
func Root(f func(float64) float64, low, high float64) float64 {
	a, b := low, high
	fa, fb := f(a), f(b)
	switch {
	case fa == 0:
		return a
	case fb == 0:
		return b
	case (fa > 0) == (fb > 0) || math.IsNaN(fa) || math.IsNaN(fb):
		return math.NaN()
	}
	for i := 0; i < 3000 && math.Abs(b-a) > 4e-16*math.Max(math.Abs(a), math.Abs(b)); i++ {
		m := b - fb*(b-a)/(fb-fa)
		if i%3 == 2 || !(m > math.Min(a, b) && m < math.Max(a, b)) {
			m = a + (b-a)/2
		}
		fm := f(m)
		if fm == 0 || m == a || m == b {
			return m
		}
		if (fm > 0) == (fb > 0) {
			fa /= 2
		} else {
			a, fa = b, fb
		}
		b, fb = m, fm
	}
	return b
}

// First is the least whole number above n for which a property holds that holds
// for all above it too. It asks in steps that double, so that numbers far off
// are tried only when the near ones do not do, and gives up with false at the
// first that does not do and is far enough.
func First(n int, holds, far func(int) bool) (int, bool) {
	step := 1
	for ; !holds(n + step); step *= 2 {
		if n += step; far(n) {
			return 0, false
		}
	}
	return n + 1 + sort.Search(step-1, func(i int) bool { return holds(n + 1 + i) }), true
}
