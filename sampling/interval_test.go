package sampling

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// limitIs reports whether a limit agrees: to 1e-9 of its value, or to 1e-12
// near 0 and 1, where only the difference from the end has digits.
func limitIs(got, want float64) bool {
	d := math.Abs(got - want)
	return d <= 1e-9*math.Abs(want) || (d <= 1e-12 && (want < 1e-3 || math.Abs(1-want) < 1e-3))
}

// Limits of R (base R, checked there against epiR) and of scipy and
// statsmodels: intervals.R and intervals.py beside the tables.
func TestIntervalsAgainstRAndScipy(t *testing.T) {
	for _, file := range []string{"intervals-r.csv", "intervals-py.csv"} {
		cases := map[IntervalKind]int{}
		for _, r := range reference(t, file) {
			kind := IntervalKind(r.text("kind"))
			low, high, err := kind.limits(r.whole("mites"), r.number("bees"), r.number("level"))
			if err != nil {
				t.Fatalf("%s: %v: %v", file, r.cell, err)
			}
			if !limitIs(low, r.number("low")) || !limitIs(high, r.number("high")) {
				t.Errorf("%s: %v: limits %.17g to %.17g", file, r.cell, low, high)
			}
			cases[kind]++
		}
		for _, kind := range IntervalKinds() {
			if cases[kind] < 400 {
				t.Errorf("%s: only %d cases of %s", file, cases[kind], kind)
			}
		}
	}
}

// Worked examples as printed, each compared to its own rounding. The digits of
// Newcombe and of Garwood are quoted from memory; the rows computed in R are
// exact limits worked out with base R.
func TestPublishedIntervals(t *testing.T) {
	for _, c := range []struct {
		source string
		kind   IntervalKind
		mites  int
		bees   float64
		low    float64
		high   float64
		digits int // after the point
	}{
		{"Newcombe 1998, Stat Med 17:857-872, 81/263", Wilson, 81, 263, 0.2553, 0.3662, 4},
		{"Newcombe 1998, 81/263", ClopperPearson, 81, 263, 0.2527, 0.3676, 4},
		{"Newcombe 1998, 81/263", MidP, 81, 263, 0.2544, 0.3658, 4},
		{"Newcombe 1998, 15/148", Wilson, 15, 148, 0.0624, 0.1605, 4},
		{"Newcombe 1998, 15/148", ClopperPearson, 15, 148, 0.0578, 0.1617, 4},
		{"Newcombe 1998, 15/148", MidP, 15, 148, 0.0601, 0.1581, 4},
		{"Newcombe 1998, 0/20", Wilson, 0, 20, 0, 0.1611, 4},
		{"Newcombe 1998, 0/20", ClopperPearson, 0, 20, 0, 0.1684, 4},
		{"Newcombe 1998, 0/20", MidP, 0, 20, 0, 0.1391, 4},
		{"Newcombe 1998, 1/29", Wilson, 1, 29, 0.0061, 0.1718, 4},
		{"Newcombe 1998, 1/29", ClopperPearson, 1, 29, 0.0009, 0.1776, 4},
		{"Newcombe 1998, 1/29", MidP, 1, 29, 0.0017, 0.1585, 4},
		// Garwood's limits are of a mean: one "bee" here.
		{"Garwood 1936, Biometrika 28:437-442", Garwood, 0, 1, 0, 3.69, 2},
		{"Garwood 1936", Garwood, 1, 1, 0.03, 5.57, 2},
		{"Garwood 1936", Garwood, 2, 1, 0.24, 7.22, 2},
		{"Garwood 1936", Garwood, 3, 1, 0.62, 8.77, 2},
		{"Garwood 1936", Garwood, 5, 1, 1.62, 11.67, 2},
		{"Garwood 1936", Garwood, 10, 1, 4.80, 18.39, 2},
		{"Garwood 1936", Garwood, 20, 1, 12.22, 30.89, 2},
		{"Garwood 1936", Garwood, 50, 1, 37.11, 65.92, 2},
		// The counts of Dietemann et al. 2013, which gives no limits.
		{"computed in R, 43/310", Garwood, 43, 310, 0.10038, 0.18684, 5},
		{"computed in R, 43/310", Wilson, 43, 310, 0.10464, 0.18163, 5},
		{"computed in R, 0/300", Garwood, 0, 300, 0, 0.01230, 5},
		{"computed in R, 0/300", Wilson, 0, 300, 0, 0.01264, 5},
		{"computed in R, 1/300", Garwood, 1, 300, 0.00008, 0.01857, 5},
		{"computed in R, 1/300", Wilson, 1, 300, 0.00059, 0.01864, 5},
		{"computed in R, 3/300", Garwood, 3, 300, 0.00206, 0.02922, 5},
		{"computed in R, 3/300", Wilson, 3, 300, 0.00341, 0.02898, 5},
		{"computed in R, 6/300", Garwood, 6, 300, 0.00734, 0.04353, 5},
		{"computed in R, 6/300", Wilson, 6, 300, 0.00920, 0.04294, 5},
		{"computed in R, 9/300", Garwood, 9, 300, 0.01372, 0.05695, 5},
		{"computed in R, 9/300", Wilson, 9, 300, 0.01586, 0.05602, 5},
		{"computed in R, 15/300", Garwood, 15, 300, 0.02798, 0.08247, 5},
		{"computed in R, 15/300", Wilson, 15, 300, 0.03053, 0.08085, 5},
		{"computed in R, 30/300", Garwood, 30, 300, 0.06747, 0.14276, 5},
		{"computed in R, 30/300", Wilson, 30, 300, 0.07095, 0.13917, 5},
	} {
		got, err := NewInterval(c.kind, c.mites, c.bees, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		half := 0.5000001 * math.Pow(10, -float64(c.digits))
		if !(math.Abs(got.Low-c.low) <= half) || !(math.Abs(got.High-c.high) <= half) {
			t.Errorf("%s, %s: %.*f to %.*f, want %v to %v", c.source, c.kind, c.digits+1, got.Low, c.digits+1, got.High, c.low, c.high)
		}
	}
}

// The method standard (Dietemann et al. 2013, J Apic Res 52(1)) works an
// example of 43 mites in 310 bees and prints 14.3 mites per hundred. The
// division gives 13.87, and so does the package where nothing but the count
// speaks: no preference for any level, no frame-to-frame differences.
func TestMethodStandardSlip(t *testing.T) {
	a := DefaultAssumptions()
	a.FrameCV = 0
	d := mustPosterior(t, a, Flat(), count(t, "wash:43/310"))
	if got := fmt.Sprintf("%.2f", 100*d.Mean()); got != "13.87" {
		t.Errorf("43 mites in 310 bees are %s per hundred, want 13.87", got)
	}
}

// The bees in which none infested still leave 5 % (1 %) of infested bees
// possible: 59 and 459 in Pirk et al. 2013, J Apic Res 52(4); 299 by the same
// formula, ln(1-D)/ln(1-P). The limit of a sample without a mite says the same
// from the other end.
func TestDetectionSizes(t *testing.T) {
	for _, c := range []struct {
		infested, confidence float64
		bees                 int
	}{{0.05, 0.95, 59}, {0.01, 0.99, 459}, {0.01, 0.95, 299}} {
		level := 2*c.confidence - 1 // one-sided
		for n := c.bees - 1; n <= c.bees; n++ {
			_, high, err := ClopperPearson.limits(0, float64(n), level)
			if err != nil {
				t.Fatal(err)
			}
			if (high <= c.infested) != (n == c.bees) {
				t.Errorf("0 of %d bees: upper limit %v at %v", n, high, c.confidence)
			}
		}
	}
}

func TestIntervalEdges(t *testing.T) {
	for _, kind := range IntervalKinds() {
		for _, c := range []struct {
			mites int
			bees  float64
			low   float64 // exactly; NaN for not at an end
			high  float64
		}{
			{0, 1, 0, math.NaN()}, {0, 300, 0, math.NaN()}, {0, 1e6, 0, math.NaN()},
			{1, 1, math.NaN(), 1}, {300, 300, math.NaN(), 1}, {1e6, 1e6, math.NaN(), 1},
		} {
			if kind == Garwood {
				c.high = math.NaN() // a bee can carry more than one mite
			}
			got, err := NewInterval(kind, c.mites, c.bees, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			at := func(v, end, inside float64) bool { return v == end || (math.IsNaN(end) && v > 0 && v < inside) }
			inside := 1.0
			if kind == Garwood {
				inside = math.Inf(1)
			}
			if !at(got.Low, c.low, inside) || !at(got.High, c.high, inside) || !(got.Low < got.High) {
				t.Errorf("%s, %d/%v: %v to %v", kind, c.mites, c.bees, got.Low, got.High)
			}
			if !(got.Achieved > 0.8 && got.Achieved <= 1) {
				t.Errorf("%s, %d/%v: achieved %v", kind, c.mites, c.bees, got.Achieved)
			}
		}
	}
}

func TestIntervalRefusals(t *testing.T) {
	for _, kind := range IntervalKinds() {
		for _, level := range []float64{0, 1, -0.5, 95, math.NaN(), math.Inf(1)} {
			refused(t, kind, 5, 300, level, "is not between 0 and 1")
		}
		for _, bees := range []float64{0, -3, math.NaN()} {
			refused(t, kind, 5, bees, 0.95, "a sample needs")
		}
		// Naive, any number is worked with: of two billion bees the mid-p interval
		// achieved a coverage of 1.13.
		for _, bees := range []float64{1_000_001, 2e9, 1e300, math.Inf(1)} {
			refused(t, kind, 5, bees, 0.95, "more than anybody counts")
		}
		if i, err := NewInterval(kind, 20_000, 1_000_000, 0.95); err != nil || !(math.Abs(i.Achieved-0.95) <= 0.002) {
			t.Errorf("%s of a million bees: %+v, %v", kind, i, err)
		}
		refused(t, kind, -1, 300, 0.95, "a sample needs")
		if kind != Garwood {
			refused(t, kind, 301, 300, 0.95, "301 mites exceed 300 bees")
			refused(t, kind, 0, 0.4, 0.95, "a sample needs")
		}
	}
	refused(t, "agresti", 5, 300, 0.95, `"agresti" is not a kind of interval`)
	if i, err := NewInterval(Garwood, 600, 300, 0.95); err != nil || !(i.Low < 2 && i.High > 2) {
		t.Errorf("garwood, 600 mites on 300 bees: %v, %v", i, err)
	}
}

func refused(t *testing.T, kind IntervalKind, mites int, bees, level float64, want string) {
	t.Helper()
	_, err := NewInterval(kind, mites, bees, level)
	var value *ValueError
	if !errors.As(err, &value) || !strings.Contains(err.Error(), want) {
		t.Errorf("%s %d/%v at %v: error %v, want %q", kind, mites, bees, level, err, want)
	}
}

func TestParseIntervalKind(t *testing.T) {
	for _, kind := range IntervalKinds() {
		if got, err := ParseIntervalKind(string(kind)); got != kind || err != nil {
			t.Errorf("%s: %v, %v", kind, got, err)
		}
	}
	for in, want := range map[string]string{
		"willson": "did you mean wilson?",
		"midp":    "did you mean mid-p?",
		"exact":   "use one of garwood, clopper-pearson, wilson, jeffreys or mid-p",
		"":        `"" is not a kind of interval`,
	} {
		_, err := ParseIntervalKind(in)
		var syntax *SyntaxError
		if !errors.As(err, &syntax) || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", in, err, want)
		}
	}
}

func TestIntervalProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom(IntervalKinds()).Draw(t, "kind")
		n := rapid.IntRange(1, 1000).Draw(t, "bees")
		y := rapid.IntRange(0, n).Draw(t, "mites")
		level := rapid.Float64Range(0.5, 0.9999).Draw(t, "level")
		limits := func(y int, level float64) (low, high float64) {
			low, high, err := kind.limits(y, float64(n), level)
			if err != nil {
				t.Fatal(err)
			}
			return low, high
		}
		const eps = 1e-9 // of the value, for equal limits that differ in the last digits
		low, high := limits(y, level)
		if rate := float64(y) / float64(n); !(low <= rate && rate <= high) {
			t.Errorf("%v to %v leaves out the observed %v", low, high, rate)
		}
		if wideLow, wideHigh := limits(y, level+(1-level)/2); wideLow > low || wideHigh < high {
			t.Errorf("a higher level is not wider: %v to %v and %v to %v", low, high, wideLow, wideHigh)
		}
		if y < n {
			if nextLow, nextHigh := limits(y+1, level); !(nextLow > low) || !(nextHigh >= high*(1-eps)) || (nextHigh <= high && nextHigh < 1) {
				t.Errorf("one mite more does not raise the limits: %v to %v and %v to %v", low, high, nextLow, nextHigh)
			}
		}
		if kind.binomial() {
			mirrorLow, mirrorHigh := limits(n-y, level)
			if !limitIs(1-mirrorHigh, low) || !limitIs(1-mirrorLow, high) {
				t.Errorf("infested and not infested are not mirror images: %v to %v and %v to %v", low, high, mirrorLow, mirrorHigh)
			}
		}
	})
}

// naiveCoverage sums the chances of all counts whose limits hold the rate.
func naiveCoverage(kind IntervalKind, rate, bees float64, limits [][2]float64) float64 {
	sum := 0.0
	for y, l := range limits {
		if !(l[0] <= rate && rate <= l[1]) {
			continue
		}
		Y := float64(y)
		a, _ := math.Lgamma(Y + 1)
		if kind == Garwood {
			sum += math.Exp(Y*math.Log(rate*bees) - rate*bees - a)
			continue
		}
		if rate == 1 { // every bee is infested
			if Y == bees {
				sum++
			}
			continue
		}
		b, _ := math.Lgamma(bees + 1)
		c, _ := math.Lgamma(bees - Y + 1)
		sum += math.Exp(b - a - c + Y*math.Log(rate) + (bees-Y)*math.Log1p(-rate))
	}
	return sum
}

func allLimits(t interface{ Fatal(...any) }, kind IntervalKind, bees, level float64, most int) [][2]float64 {
	var out [][2]float64
	for y := range most + 1 {
		low, high, err := kind.limits(y, bees, level)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, [2]float64{low, high})
	}
	return out
}

// Exact coverage at 95 % under each kind's own law, for true rates from 0.1 to
// 20 mites per hundred in 50, 100 and 300 bees: at 400 rates, and on both sides
// of every limit, where coverage jumps. Between two jumps it has one peak and
// no dip, so the lowest found is the lowest there is. The doc comment of every
// kind that can fall below its level must name that figure, rounded down.
func TestCoverage(t *testing.T) {
	docs := kindDocs(t)
	for _, kind := range IntervalKinds() {
		lowest, at := 1.0, ""
		for _, bees := range []float64{50, 100, 300} {
			most := int(bees)
			if kind == Garwood {
				most = 200 // 60 expected at most
			}
			limits := allLimits(t, kind, bees, 0.95, most)
			var rates []float64
			for i := range 400 {
				rates = append(rates, 0.001*math.Pow(200, float64(i)/399))
			}
			for _, l := range limits {
				for _, jump := range l {
					rates = append(rates, jump*(1-1e-12), jump*(1+1e-12))
				}
			}
			for i, rate := range rates {
				if !(rate >= 0.001 && rate <= 0.2) {
					continue
				}
				naive := naiveCoverage(kind, rate, bees, limits)
				if naive < lowest {
					lowest, at = naive, fmt.Sprintf("%.4f per hundred in %v bees", 100*rate, bees)
				}
				if i%40 == 0 {
					if got, err := kind.coverage(rate, bees, 0.95); err != nil || !(math.Abs(got-naive) <= 1e-9) {
						t.Errorf("%s at %v in %v: %v %v, want %v", kind, rate, bees, got, err, naive)
					}
				}
			}
		}
		t.Logf("%s: %.4f at %s", kind, lowest, at)
		exact := kind == Garwood || kind == ClopperPearson
		if exact && lowest < 0.95-1e-12 {
			t.Errorf("%s covers only %v at %s", kind, lowest, at)
		}
		if told := fmt.Sprintf("down to %.3f", math.Floor(1000*lowest)/1000); !exact && !strings.Contains(docs[kind], told) {
			t.Errorf("the doc comment of %s does not say %q: %s", kind, told, docs[kind])
		}
	}
}

// kindDocs reads the doc comments of the kinds from the source.
func kindDocs(t *testing.T) map[IntervalKind]string {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "interval.go", nil, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	docs := map[IntervalKind]string{}
	ast.Inspect(file, func(n ast.Node) bool {
		if v, ok := n.(*ast.ValueSpec); ok && len(v.Values) == 1 {
			if value, ok := v.Values[0].(*ast.BasicLit); ok {
				docs[IntervalKind(strings.Trim(value.Value, `"`))] = strings.Join(strings.Fields(v.Doc.Text()), " ")
			}
		}
		return true
	})
	return docs
}

func TestAchieved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom(IntervalKinds()).Draw(t, "kind")
		bees := float64(rapid.IntRange(1, 200).Draw(t, "bees"))
		most := int(bees)
		if kind == Garwood {
			bees += rapid.Float64Range(0, 1).Draw(t, "part of a bee")
			most = int(2*bees) + 150
		}
		mites := rapid.IntRange(0, int(bees)).Draw(t, "mites")
		level := rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		i, err := NewInterval(kind, mites, bees, level)
		if err != nil {
			t.Fatal(err)
		}
		rate := float64(mites) / bees
		if mites == 0 {
			rate = 0.5 / bees
		}
		if want := naiveCoverage(kind, rate, bees, allLimits(t, kind, bees, level, most)); !(math.Abs(i.Achieved-want) <= 1e-9) {
			t.Errorf("achieved %v, want %v", i.Achieved, want)
		}
		if (kind == Garwood || kind == ClopperPearson) && i.Achieved < level-1e-12 {
			t.Errorf("achieved %v is below %v", i.Achieved, level)
		}
	})
}
