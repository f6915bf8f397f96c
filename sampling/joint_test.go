package sampling

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func washOf(t testing.TB, mites int, bees float64) Likelihood {
	t.Helper()
	l, err := DefaultAssumptions().Likelihood(Count{Method: Wash, Mites: mites, Amount: Amount{bees, Bees}})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestLikelihoodOfAFlatStart(t *testing.T) {
	l := washOf(t, 5, 300)
	flat, err := Flat().Times(l)
	if err != nil {
		t.Fatal(err)
	}
	prior := Normal(math.Log(0.01), 1.3)
	once, _ := prior.Times(l)
	through, err := prior.Times(flat.Likelihood())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []float64{0.05, 0.5, 0.95} {
		if a, b := once.Quantile(p), through.Quantile(p); !(math.Abs(a/b-1) <= 1e-12) {
			t.Errorf("the %v point is %v through a flat start, %v directly", p, b, a)
		}
	}
	// Naive: a record that began with a prior counts that prior twice.
	twice, _ := prior.Times(once.Likelihood())
	if a, b := once.Quantile(0.5), twice.Quantile(0.5); a/b < 1.03 {
		t.Errorf("median %v with the prior once, %v with it twice: the test shows nothing", a, b)
	}
}

func TestAnd(t *testing.T) {
	a, b := washOf(t, 5, 300), washOf(t, 2, 100)
	d := Normal(-4, 1)
	both, _ := d.Times(a.And(b))
	one, _ := d.Times(a)
	then, _ := one.Times(b)
	if x, y := both.Mean(), then.Mean(); !(math.Abs(x/y-1) <= 1e-12) {
		t.Errorf("mean %v together, %v one after the other", x, y)
	}
}

// Above, used as a likelihood, gives the chance that Over reads off the curve.
func TestAboveAgreesWithOver(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		d := Normal(rapid.Float64Range(-7, -2).Draw(r, "mean"), rapid.Float64Range(0.1, 1.2).Draw(r, "sd"))
		line := math.Exp(rapid.Float64Range(-12, 2).Draw(r, "ln line"))
		if got, want := d.Chance(Above(line)), d.Over(line); !(math.Abs(got-want) <= 1e-6) {
			r.Fatalf("chance %v, over %v", got, want)
		}
	})
	for line, want := range map[float64]float64{-1: 1, 0: 1, 1e-9: 1, 1e6: 0, math.Inf(1): 0} {
		if got := Normal(-4, 1).Chance(Above(line)); !(math.Abs(got-want) <= 1e-12) {
			t.Errorf("chance %v above %v", got, line)
		}
	}
}

func TestLifted(t *testing.T) {
	const a = 0.005
	before, _ := Flat().Times(washOf(t, 3, 300))
	after := before.Lifted(a)

	// The likelihood at a level is that of the level a lower, up to a scale.
	levels, curve := after.Curve()
	var scale float64
	for i, level := range levels {
		theta := level / 100
		if theta < 1.05*a || theta > 0.5 {
			continue
		}
		ratio := curve[i] / before.at(math.Log(theta-a))
		if scale == 0 {
			scale = ratio
		}
		if !(math.Abs(ratio/scale-1) <= 1e-6) {
			t.Fatalf("at %v the ratio is %v, elsewhere %v", theta, ratio, scale)
		}
	}
	if below := after.Over(a * 0.98); !(math.Abs(below-1) <= 1e-6) {
		t.Errorf("%v lies below what came in", 1-below)
	}

	// A colony nobody counted: every level above a is as good as any other.
	// Plus, the naive way, takes the flat start for knowledge.
	levels, lifted := Flat().Lifted(a).Curve()
	_, added := Flat().Plus(a).Curve()
	at := func(curve []float64, theta float64) float64 {
		for i := range levels {
			if levels[i]/100 >= theta {
				return curve[i]
			}
		}
		return math.NaN()
	}
	if got := at(lifted, 0.006) / at(lifted, 0.5); !(math.Abs(got-1) <= 1e-9) {
		t.Errorf("lifted: %v times as likely near the arrivals as far above", got)
	}
	if got := at(added, 0.0051) / at(added, 0.5); got < 5 {
		t.Errorf("added: %v times; the test shows nothing", got)
	}

	// Nothing comes in, or more than the grid holds: nothing changes.
	for _, a := range []float64{0, -1, math.NaN(), 1e9} {
		if got := before.Lifted(a).Mean(); got != before.Mean() {
			t.Errorf("lifted by %v the mean is %v", a, got)
		}
	}
}

// Lifted and then a prior of the day after, against explicit sums over θ in
// steps a tenth of the grid's.
func TestLiftedUnderAPrior(t *testing.T) {
	for _, c := range []struct {
		mites       int
		a, mean, sd float64
	}{{0, 0.0002, -4.6, 1.3}, {0, 0.01, -4.6, 1.3}, {3, 0.005, -4, 0.6}, {12, 0.03, -3, 0.3}, {30, 0.02, -2, 1}} {
		flat, err := Flat().Times(washOf(t, c.mites, 300))
		if err != nil {
			t.Fatal(err)
		}
		after := Normal(c.mean, c.sd)
		got, err := after.Times(flat.Lifted(c.a).Likelihood())
		if err != nil {
			t.Fatal(err)
		}
		var mass, sum float64
		for x := gridLow; x < 3; x += gridStep / 10 {
			if theta := math.Exp(x); theta > c.a {
				w := after.at(x) * flat.at(math.Log(theta-c.a))
				mass += w
				sum += w * theta
			}
		}
		if want := sum / mass; !(math.Abs(got.Mean()/want-1) <= 1e-3) {
			t.Errorf("%+v: mean %v, by sums %v", c, got.Mean(), want)
		}
	}
}
