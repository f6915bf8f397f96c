// Package numeric is the only caller of gonum's distributions and special
// functions. It closes their known holes: quantiles that lose all digits far
// out in the upper tail, survival functions computed as one minus the rest,
// and NaN or panics at the edges. Every function here takes each tail by
// itself, so that a small chance keeps its digits.
package numeric

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
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

// Hypergeometric is the chance of exactly k marked items in a draw of n from
// total items of which marked are marked.
func Hypergeometric(k, n, marked, total int) float64 {
	if k < 0 || k > n || k > marked || n-k > total-marked {
		return 0
	}
	return math.Exp(logChoose(marked, k) + logChoose(total-marked, n-k) - logChoose(total, n))
}

func logChoose(n, k int) float64 {
	return LogGamma(float64(n)+1) - LogGamma(float64(k)+1) - LogGamma(float64(n-k)+1)
}

// GammaQuantile is the x below which (Lower) or above which (Upper) a gamma of
// the given shape and unit rate has the chance p. Shape must be positive and p
// inside (0, 1).
func GammaQuantile(shape, p float64, tail Tail) float64 {
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
// has the chance p. Both parameters must be positive and p inside (0, 1).
func BetaQuantile(a, b, p float64, tail Tail) float64 {
	// gonum's inverse is sound only for a small chance measured from zero, so
	// the upper tail is the lower tail of the mirrored law.
	switch {
	case tail == Upper:
		return 1 - BetaQuantile(b, a, p, Lower)
	case p > 0.5:
		return 1 - BetaQuantile(b, a, 1-p, Lower)
	}
	lb := LogBeta(a, b)
	return polish(mathext.InvRegIncBeta(a, b, p), func(x float64) float64 {
		density := math.Exp((a-1)*math.Log(x) + (b-1)*math.Log1p(-x) - lb)
		return (mathext.RegIncBeta(a, b, x) - p) / density
	})
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

// NormalCDF is the chance of a standard normal at most x.
func NormalCDF(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// StudentQuantile is the x below which Student's t with the given degrees of
// freedom has the chance p.
func StudentQuantile(df, p float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(p)
}

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
