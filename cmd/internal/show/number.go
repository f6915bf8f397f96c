package show

import (
	"math"
	"strconv"
	"strings"
)

// Five rules turn a figure into text: Plain for what was given, Fixed for a
// column, Digits for what was worked out, Level and Levels for mites per
// hundred bees, Percent for a chance. None of them writes -0 or an exponent.

// Plain is x in the fewest digits that read back as x, but for -0, which is 0.
func Plain(x float64) string { return strconv.FormatFloat(x+0, 'f', -1, 64) }

// Fixed is x with so many decimals. NaN is written as a dash.
func Fixed(x float64, decimals int) string {
	switch {
	case math.IsNaN(x):
		return "–"
	case math.IsInf(x, 0):
		return "no limit"
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// Digits is x in n digits and no more than so many decimals, without zeros at
// its end: in two digits and whole, mites are 4, 38 and 1200.
func Digits(x float64, n, decimals int) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return Fixed(x, 0)
	}
	decimals = min(decimals, n-1-int(math.Floor(math.Log10(math.Abs(x)))))
	if decimals <= 0 {
		unit := math.Pow10(-decimals)
		return Plain(math.Round(x/unit) * unit)
	}
	s := strings.TrimRight(Fixed(x, decimals), "0")
	return strings.TrimSuffix(s, ".")
}

// Level is mites per hundred bees in two digits: 0.34, 2.1, 13. Below 0.1 it
// keeps two decimals, since nobody acts on less. NaN is written as a dash.
func Level(x float64) string {
	return Fixed(x, decimalsOf(x))
}

// decimalsOf is how many decimals leave two digits of x once it is rounded:
// 9.96 is 10, not 10.0.
func decimalsOf(x float64) int {
	switch x = math.Abs(x); {
	case x >= 9.95:
		return 0
	case x >= 0.995:
		return 1
	}
	return 2
}

// Levels writes figures that stand together, in mites per hundred bees, with
// the decimals that the spread from low to high can bear: the last digit is
// never finer than a hundredth of the spread, nor coarser than a tenth. A
// figure above 0 gets one more rather than be written as 0, as far as
// hundredths.
func Levels(low, high float64, xs ...float64) []string {
	d := 2
	if spread := math.Abs(high - low); spread > 0 && !math.IsInf(spread, 0) {
		d = min(max(int(math.Ceil(-math.Log10(spread/10)-1e-9)), 0), 3)
	}
	for _, x := range xs {
		for d < 2 && x > 0 && x < 0.5*math.Pow(10, -float64(d)) {
			d++
		}
	}
	out := make([]string, len(xs))
	for i, x := range xs {
		out[i] = Fixed(x, d)
	}
	return out
}

// Percent is a chance, or a share, in whole percent. It claims certainty never:
// what rounds to 0 or 100 is written as under 1% and over 99%. A share can be
// more than all, and less than none.
func Percent(p float64) string {
	switch n := math.Round(100 * p); {
	case math.IsNaN(n) || math.IsInf(n, 0):
		return Fixed(n, 0)
	case n == 0:
		return "under 1%"
	case n == 100:
		return "over 99%"
	default:
		return Fixed(n, 0) + "%"
	}
}
