package show

import (
	"fmt"
	"math"
	"strconv"
)

// Significant writes a figure that was worked out, in three digits.
func Significant(x float64) string { return strconv.FormatFloat(x, 'g', 3, 64) }

// Plain is x in the fewest digits that read back as x, without an exponent.
func Plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Rounded is a number of mites in two digits and whole: 4, 38, 1200.
func Rounded(x float64) string {
	unit := 1.0
	for x/unit >= 100 {
		unit *= 10
	}
	return Plain(unit * float64(int(x/unit+0.5)))
}

// Level is mites per hundred bees in two digits: 0.34, 2.1, 13. Below 0.1 it
// keeps two decimals, since nobody acts on less. NaN is written as a dash.
func Level(x float64) string {
	return fixed(x, decimalsOf(x))
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
		out[i] = fixed(x, d)
	}
	return out
}

func fixed(x float64, decimals int) string {
	switch {
	case math.IsNaN(x):
		return "–"
	case math.IsInf(x, 1):
		return "no limit"
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if f, err := strconv.ParseFloat(s, 64); err == nil && f == 0 {
		return strconv.FormatFloat(0, 'f', decimals, 64) // never -0.00
	}
	return s
}

// Percent is a chance in whole percent. It claims certainty never: what rounds
// to 0 or 100 is written as under 1% and over 99%.
func Percent(p float64) string {
	switch n := math.Round(100 * p); {
	case math.IsNaN(p):
		return "–"
	case n < 1:
		return "under 1%"
	case n > 99:
		return "over 99%"
	default:
		return fmt.Sprintf("%.0f%%", n)
	}
}
