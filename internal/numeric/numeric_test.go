package numeric

import (
	"encoding/csv"
	"math"
	"math/bits"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// TestAgainstR compares every tail and quantile with base R, far tails
// included: testdata/reference/numeric.R made the table.
func TestAgainstR(t *testing.T) {
	f, err := os.Open("../../testdata/reference/numeric.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	worst := map[string]float64{}
	checked := map[string]int{}
	for _, row := range rows[1:] {
		law := row[0]
		tail := Lower
		if row[1] == "upper" {
			tail = Upper
		}
		var v [5]float64 // a, b, c, d and the value; an empty cell stays 0
		for i, cell := range row[2:] {
			if cell != "" {
				if v[i], err = strconv.ParseFloat(cell, 64); err != nil {
					t.Fatal(err)
				}
			}
		}
		a, b, c, want := v[0], v[1], v[2], v[4]
		var got float64
		switch law {
		case "poisson":
			got = Poisson(int(a), b, tail)
		case "binomial":
			got = Binomial(int(a), int(b), c, tail)
		case "nb":
			got = NegativeBinomial(int(a), b, c, tail)
		case "gamma":
			got = GammaQuantile(a, b, tail)
		case "beta":
			got = BetaQuantile(a, b, c, tail)
		case "normal":
			got = NormalQuantile(a)
		default:
			t.Fatalf("unknown law %q", law)
		}
		checked[law]++
		miss := 0.0
		if got != want {
			miss = math.Abs(got-want) / math.Max(math.Abs(want), 1e-280)
		}
		worst[law] = math.Max(worst[law], miss)
		if !(miss <= 1e-11) {
			t.Errorf("%v = %.17g", row, got)
		}
	}
	t.Logf("rows %v, greatest relative difference %v", checked, worst)
}

// Where a law has a plain answer that needs no table.
func TestEdges(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"Poisson, none or fewer", Poisson(-1, 3, Lower), 0},
		{"Poisson, none or more", Poisson(0, 3, Upper), 1},
		{"Poisson of none expected, none", Poisson(0, 0, Lower), 1},
		{"Poisson of none expected, one or more", Poisson(1, 0, Upper), 0},
		{"Poisson, none", Poisson(0, 3, Lower), math.Exp(-3)},
		{"Poisson, one or more of a rare event", Poisson(1, 1e-20, Upper), 1e-20},
		{"negative binomial of none expected", NegativeBinomial(2, 0, 4, Upper), 0},
		{"negative binomial of infinite size", NegativeBinomial(2, 3, inf, Lower), 8.5 * math.Exp(-3)},
		{"negative binomial, none", NegativeBinomial(0, 4, 16, Lower), math.Pow(0.8, 16)},
		{"binomial, fewer than none", Binomial(-1, 10, 0.3, Lower), 0},
		{"binomial, all or fewer", Binomial(10, 10, 0.3, Lower), 1},
		{"binomial, more than all", Binomial(11, 10, 0.3, Upper), 0},
		{"binomial, none or more", Binomial(0, 10, 0.3, Upper), 1},
		{"binomial, all", Binomial(10, 10, 0.3, Upper), math.Pow(0.3, 10)},
		{"binomial, none", Binomial(0, 10, 0.3, Lower), math.Pow(0.7, 10)},
		{"binomial of chance 0, none", Binomial(0, 10, 0, Lower), 1},
		{"binomial of chance 0, one or more", Binomial(1, 10, 0, Upper), 0},
		{"binomial of chance 1, all", Binomial(10, 10, 1, Upper), 1},
		{"binomial of chance 1, more than all", Binomial(11, 10, 1, Upper), 0},
		{"binomial of chance 1, not all", Binomial(9, 10, 1, Lower), 0},
		{"gamma of shape 1, upper", GammaQuantile(1, 0.025, Upper), -math.Log(0.025)},
		{"gamma of shape 1, lower", GammaQuantile(1, 1e-9, Lower), -math.Log1p(-1e-9)},
		{"beta of one bee in n, upper", BetaQuantile(1, 300, 1e-7, Upper), 1 - math.Pow(1e-7, 1.0/300)},
		{"beta of one bee in n, far up from below", BetaQuantile(1, 300, 1-0x1p-30, Lower), 1 - math.Pow(0x1p-30, 1.0/300)},
		{"beta, all of n, lower", BetaQuantile(300, 1, 1e-7, Lower), math.Pow(1e-7, 1.0/300)},
		{"normal, middle", NormalQuantile(0.5), 0},
	} {
		if !(math.Abs(c.got-c.want) <= 1e-13*c.want) {
			t.Errorf("%s = %v, want %v", c.what, c.got, c.want)
		}
	}
}

func TestTailsAreComplements(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 500).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		p := rapid.Float64Range(0, 1).Draw(t, "p")
		mean := rapid.Float64Range(0, 400).Draw(t, "mean")
		size := rapid.Float64Range(0.2, 200).Draw(t, "size")
		for law, sum := range map[string]float64{
			"binomial":          Binomial(k, n, p, Lower) + Binomial(k+1, n, p, Upper),
			"poisson":           Poisson(k, mean, Lower) + Poisson(k+1, mean, Upper),
			"negative binomial": NegativeBinomial(k, mean, size, Lower) + NegativeBinomial(k+1, mean, size, Upper),
		} {
			if !(math.Abs(sum-1) <= 1e-11) {
				t.Errorf("%s: the tails sum to %v", law, sum)
			}
		}
	})
}

func FuzzQuantiles(f *testing.F) {
	for _, a := range []float64{0, 1e-3, 0.01, 0.3, 1, 9, 1e4, 1e6, math.Inf(1), math.NaN()} {
		f.Add(a, 0.01, 0.3)
		f.Add(9.0, a, 1e-12)
		f.Add(a, a, 1-1e-12)
	}
	f.Fuzz(func(t *testing.T, a, b, p float64) {
		for _, tail := range []Tail{Lower, Upper} {
			x := BetaQuantile(a, b, p, tail)
			g := GammaQuantile(a, p, tail)
			if !(a >= 1e-3 && a <= 1e6 && b >= 1e-3 && b <= 1e6 && p > 1e-12 && p < 1-1e-12) {
				continue
			}
			if !(x >= 0 && x <= 1) || !(g >= 0) {
				t.Fatalf("tail %v of %v, %v at %v: beta %v, gamma %v", tail, a, b, p, x, g)
			}
		}
	})
}

// Parameters under one, with mass in a spike at an end, such as a person can
// type. Each answer goes back through the distribution function.
func TestBetaQuantileOfSmallParameters(t *testing.T) {
	given := []float64{0.01, 0.05, 0.1, 0.3, 0.5, 0.9, 1, 2, 9, 30, 300, 3e4}
	for _, a := range given {
		for _, b := range given {
			for _, p := range []float64{1e-6, 0.01, 0.1, 0.5} {
				x := BetaQuantile(a, b, p, Lower)
				switch {
				case x == 0:
					// Under the smallest number: x^a/(a·B) is already above p there.
					if logLeast := a*math.Log(math.SmallestNonzeroFloat64) - math.Log(a) - LogBeta(a, b); !(logLeast > math.Log(p)-1e-9) {
						t.Errorf("Beta(%v, %v): the quantile of %v is 0", a, b, p)
					}
				case x > 1-1e-12: // a number beside 1 cannot carry the chance
				default:
					// The spacing of numbers alone moves the chance by that
					// much times the density.
					density := math.Exp((a-1)*math.Log(x) + (b-1)*math.Log1p(-x) - LogBeta(a, b))
					if back := mathext.RegIncBeta(a, b, x); !(math.Abs(back-p) < 1e-11*math.Max(1, math.Max(a, b))*p+2e-16*density) {
						t.Errorf("Beta(%v, %v): the quantile of %v is %v, which has %v below", a, b, p, x, back)
					}
				}
			}
		}
	}
}

// What this package is for: gonum's own answers where it loses its
// digits, beside the exact ones.
func TestWhyNotPlainGonum(t *testing.T) {
	lost := func(what string, plain, exact float64) {
		t.Helper()
		if math.Abs(plain/exact-1) < 1e-6 {
			t.Errorf("%s: gonum gives %v now, which is right: call it directly", what, plain)
		}
	}
	// One or more of a rare event: 1-exp(-1e-20).
	lost("Poisson survival", distuv.Poisson{Lambda: 1e-20}.Survival(0), 1e-20)
	// All of 30 bees infested at one in a thousand: 1e-90.
	lost("binomial survival", distuv.Binomial{N: 30, P: 1e-3}.Survival(29), 1e-90)
	// The quantile next to one: x with (1-x)^300 = 1e-17.
	lost("upper gamma quantile", distuv.Gamma{Alpha: 1, Beta: 1}.Quantile(1-1e-17), -math.Log(1e-17))
	// The lower quantile of a narrow law, by its own distribution function.
	x := BetaQuantile(3e4, 9, 1e-6, Lower)
	if back := mathext.RegIncBeta(3e4, 9, x); !(math.Abs(back/1e-6-1) < 1e-9) {
		t.Errorf("%v has %v below it", x, back)
	}
	lost("narrow beta quantile", distuv.Beta{Alpha: 3e4, Beta: 9}.Quantile(1e-6), x)
}

func TestRoot(t *testing.T) {
	for _, c := range []struct {
		name      string
		f         func(float64) float64
		low, high float64
		want      float64
	}{
		{"square root of two", func(x float64) float64 { return x*x - 2 }, 0, 2, math.Sqrt2},
		{"falling", func(x float64) float64 { return 2 - x*x }, 0, 2, math.Sqrt2},
		{"at the lower end", func(x float64) float64 { return x }, 0, 1, 0},
		{"at the upper end", func(x float64) float64 { return x - 1 }, 0, 1, 1},
		{"ends given the wrong way round", func(x float64) float64 { return x - 0.25 }, 1, 0, 0.25},
		{"flat for most of the way", func(x float64) float64 { return math.Pow(x, 200) - 1e-10 }, 0, 1, math.Pow(1e-10, 1.0/200)},
		{"a step", func(x float64) float64 { return math.Copysign(1, x-0.3) }, 0, 1, 0.3},
		{"a tiny root", func(x float64) float64 { return math.Expm1(x) - 1e-12 }, 0, 1, 1e-12},
		{"lopsided", func(x float64) float64 { return math.Exp(50*x) - 2 }, -1, 1, math.Ln2 / 50},
	} {
		calls := 0
		got := Root(func(x float64) float64 { calls++; return c.f(x) }, c.low, c.high)
		if !(math.Abs(got-c.want) <= 1e-12*math.Abs(c.want)) {
			t.Errorf("%s: %.17g, want %.17g", c.name, got, c.want)
		}
		if calls > 250 {
			t.Errorf("%s: %d calls", c.name, calls)
		}
	}
	nan := math.NaN()
	for name, got := range map[string]float64{
		"same sign":      Root(func(x float64) float64 { return 1 + x*x }, -1, 1),
		"not a number":   Root(func(float64) float64 { return nan }, 0, 1),
		"one end is NaN": Root(func(x float64) float64 { return math.Log(x - 0.5) }, 0, 2),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: %v, want NaN", name, got)
		}
	}
}

// First agrees with trying one after the other, asks few times, and stops where
// it is told to.
func TestFirst(t *testing.T) {
	for from := range 5 {
		for want := from + 1; want < 300; want++ {
			calls := 0
			got, found := First(from, func(n int) bool { calls++; return n >= want }, func(int) bool { return false })
			if got != want || !found || calls > 2*bits.Len(uint(want-from)) {
				t.Fatalf("above %d: %d, %v in %d calls, want %d", from, got, found, calls, want)
			}
		}
	}
	most := 0
	if got, found := First(3, func(n int) bool { most = max(most, n); return false }, func(n int) bool { return n >= 100 }); found || got != 0 || most < 100 || most > 203 {
		t.Errorf("%d, %v after asking for %d", got, found, most)
	}
}
