package sampling

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/internal/numeric"
)

var shares = []float64{0.025, 0.25, 0.5, 0.75, 0.975}

// sameQuantiles compares a density with exact quantiles.
func sameQuantiles(t *testing.T, what string, d Density, exact func(p float64) float64, rel float64) {
	t.Helper()
	for _, p := range shares {
		close(t, what, d.Quantile(p), exact(p), rel)
	}
}

// gammaOf is the quantile function of a gamma law of the given shape and rate.
func gammaOf(shape, rate float64) func(float64) float64 {
	return func(p float64) float64 {
		if p > 0.5 {
			return numeric.GammaQuantile(shape, 1-p, numeric.Upper) / rate
		}
		return numeric.GammaQuantile(shape, p, numeric.Lower) / rate
	}
}

// With nothing uncertain but the infestation a count of y mites on n bees
// turns a gamma law with shape a and rate b into one with a + y and b + n
// (Gelman et al. 2013, Bayesian Data Analysis, section 2.6). The prior is made
// by an earlier count: a mites on b bees, nothing known before.
func TestGammaPrior(t *testing.T) {
	a := DefaultAssumptions()
	a.FrameCV = 0
	for _, c := range []struct{ a, y int }{{2, 0}, {2, 3}, {6, 1}, {6, 40}, {43, 12}, {300, 0}} {
		const b, n = 250, 310
		prior := mustPosterior(t, a, Flat(), Count{Method: Wash, Mites: c.a, Amount: Amount{b, Bees}})
		sameQuantiles(t, "prior", prior, gammaOf(float64(c.a), b), 2e-4)
		got := mustPosterior(t, a, prior, Count{Method: Wash, Mites: c.y, Amount: Amount{n, Bees}})
		sameQuantiles(t, "posterior", got, gammaOf(float64(c.a+c.y), b+n), 2e-4)
		close(t, "mean", got.Mean(), float64(c.a+c.y)/(b+n), 1e-8)
	}
}

// With frame-to-frame differences and nothing known before, m/(m+s) has a beta
// law with parameters y and s for m = nθ and s the size of the negative
// binomial: the substitution makes θ^(y-1)·(1+m/s)^-(y+s) its density.
func TestFramesClosedForm(t *testing.T) {
	a := DefaultAssumptions()
	for _, y := range []int{2, 6, 43, 300} {
		for _, frames := range []int{1, 3} {
			d := mustPosterior(t, a, Flat(), Count{Method: Wash, Mites: y, Amount: Amount{300, Bees}, Frames: frames})
			s := float64(frames) / (0.25 * 0.25)
			law := Beta{float64(y), s}
			sameQuantiles(t, "frames", d, func(p float64) float64 {
				q := law.Quantile(p)
				return s / 300 * q / (1 - q)
			}, 1e-5)
		}
	}
}

// Two counts of one day that share a recovery, with the same bees from each
// frame, are one count of both: their negative binomials multiply to that of
// the sum. The counts need not come off one frame each.
func TestTwoCountsAreOne(t *testing.T) {
	for _, cv := range []float64{0, 0.25, 0.5} {
		a := DefaultAssumptions()
		a.FrameCV = cv
		for _, c := range []struct{ first, second, both string }{
			{"wash:3/150", "wash:6/150", "wash:9/300/2f"},
			{"roll:3/150", "roll:6/150", "roll:9/300/2f"},
			{"roll:0/100/1f", "roll:6/200/2f", "roll:6/300/3f"},
			{"co2:1/300/3f", "co2:12/100/1f", "co2:13/400/4f"},
		} {
			d := a.Prior.Density()
			two := mustPosterior(t, a, d, count(t, c.first), count(t, c.second))
			one := mustPosterior(t, a, d, count(t, c.both))
			sameQuantiles(t, c.both, two, one.Quantile, 1e-9)
		}
	}
}

// A likelihood is the chance of the count at each level: without blurs that of
// the negative binomial, summing to one over all counts.
func TestChance(t *testing.T) {
	a := DefaultAssumptions()
	for _, text := range []string{"wash:6/300", "roll:6/0.5cup/3f"} {
		c := count(t, text)
		sum := 0.0
		for c.Mites = 0; c.Mites < 3000; c.Mites++ {
			l, err := a.Likelihood(c)
			if err != nil {
				t.Fatal(err)
			}
			chance := a.Prior.Density().Chance(l)
			sum += chance
			if c.Mites > 100 && chance < 1e-7 {
				break
			}
		}
		if !(math.Abs(sum-1) <= 1e-4) {
			t.Errorf("the chances of all counts like %s sum to %v", text, sum)
		}
	}
}

// Between the nodes a likelihood is read by interpolation.
func TestLikelihoodAt(t *testing.T) {
	l, err := DefaultAssumptions().Likelihood(count(t, "wash:6/300/2f"))
	if err != nil {
		t.Fatal(err)
	}
	law := nbLaw(6, 2/(0.25*0.25))
	for _, theta := range []float64{1e-3, 0.0173, 0.02, 0.0511, 0.2} {
		// A steep tail loses digits beside its own height, not beside the top's.
		if got, want := l.At(theta), law(300*theta); !(math.Abs(got-want) <= 1e-6*law(6)) {
			t.Errorf("at %v: %v, want %v", theta, got, want)
		}
	}
}

func TestPrior(t *testing.T) {
	d := Prior{2, 0.7}.Density()
	for p, z := range map[float64]float64{0.025: -1.959963984540054, 0.5: 0, 0.9: 1.2815515655446004} { // qnorm of R
		close(t, "prior", d.Quantile(p), 0.02*math.Exp(0.7*z), 1e-6)
	}
	close(t, "mean", d.Mean(), 0.02*math.Exp(0.7*0.7/2), 1e-12)
	m, sd := d.LogMoments()
	close(t, "log mean", m, math.Log(0.02), 1e-12)
	close(t, "log SD", sd, 0.7, 1e-12)

	for _, p := range []Prior{{0, 1}, {200, 1}, {math.NaN(), 1}, {1, 0}, {1, 3}, {1, math.NaN()}, {-1, 1}} {
		var value *ValueError
		if err := p.Check(); !errors.As(err, &value) {
			t.Errorf("%v passes: %v", p, err)
		}
	}
	if err := (Prior{1, 1.3}).Check(); err != nil {
		t.Error(err)
	}
	if q := Normal(500, 0.1).Quantile(0.5); !(q > 10) {
		t.Errorf("a normal far off the grid has its median at %v", q)
	}
}

// known is some density a record can lead to.
func known(t *testing.T) Density {
	return mustPosterior(t, DefaultAssumptions(), DefaultAssumptions().Prior.Density(), count(t, "roll:7/0.5cup/2f"))
}

func TestMovedByAFactor(t *testing.T) {
	d := known(t)
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.Float64Range(-2, 2).Draw(t, "ln factor")
		moved := d.Moved(NormalKernel(f, 0))
		back := moved.Moved(NormalKernel(-f, 0))
		for _, p := range shares {
			if got, want := moved.Quantile(p), d.Quantile(p)*math.Exp(f); !(math.Abs(got/want-1) <= 1e-6) {
				t.Errorf("quantile %v = %v, want %v", p, got, want)
			}
			if got, want := back.Quantile(p), d.Quantile(p); !(math.Abs(got/want-1) <= 1e-6) {
				t.Errorf("there and back, quantile %v = %v, want %v", p, got, want)
			}
		}
	})
}

// A factor that leaves nothing on the grid is no news of this world.
func TestMovedOffTheGrid(t *testing.T) {
	d := Normal(-4, 0.3)
	if got := d.Moved(NormalKernel(math.Log(1e-30), 0)); !(got.Quantile(0.5) > 0) || math.IsNaN(got.Mean()) {
		t.Errorf("median %v, mean %v", got.Quantile(0.5), got.Mean())
	}
}

// The mean of a product of independent factors is the product of their means,
// and the normal laws of logarithms add.
func TestMovedByAnUncertainFactor(t *testing.T) {
	d := known(t)
	for _, b := range []Beta{{9, 2}, {6, 4}, {36, 4}, {200, 1}, {3, 3}} {
		close(t, "mean after a beta factor", d.Moved(betaKernel(b)).Mean(), d.Mean()*b.Mean(), 1e-9)
	}
	// A flat law reaches down to factors that leave the grid.
	close(t, "mean after a flat factor", d.Moved(betaKernel(Beta{1, 1})).Mean(), d.Mean()/2, 1e-5)
	for _, cv := range []float64{0.1, 0.25, 0.5} {
		close(t, "mean after a gamma factor", d.Moved(newKernel(gammaPoints(gammaSize(cv)))).Mean(), d.Mean(), 1e-9)
		close(t, "mean after a scoop", d.Moved(meanOneKernel(cv)).Mean(), d.Mean(), 1e-9)
	}
	got := Normal(-4, 0.6).Moved(NormalKernel(0.3, 0.8))
	m, sd := got.LogMoments()
	close(t, "log mean", m, -3.7, 1e-12)
	close(t, "log SD", sd, 1, 1e-9)
}

func TestMovesCompose(t *testing.T) {
	d := known(t)
	kernels := []Kernel{NormalKernel(0.2, 0.3), betaKernel(Beta{9, 2}), NormalKernel(-1.1, 0), exactly, newKernel(gammaPoints(16))}
	for i, k := range kernels {
		for j, l := range kernels {
			oneByOne, atOnce := d.Moved(k).Moved(l), d.Moved(k.then(l))
			for _, p := range shares {
				if a, b := oneByOne.Quantile(p), atOnce.Quantile(p); !(math.Abs(a/b-1) <= 1e-9) {
					t.Errorf("kernels %d and %d: quantile %v is %v and %v", i, j, p, a, b)
				}
			}
		}
	}
}

// Mites that come in leave every colony where it stood among the others, each
// with that many more. Where a piles nearly all colonies up just above itself,
// they stand within a few nodes and the grid keeps less of their order: ten
// mites per hundred at once are 0.05 % off.
func TestPlus(t *testing.T) {
	d := known(t)
	for _, c := range []struct{ a, rel float64 }{{1e-5, 2e-6}, {1e-3, 2e-6}, {1e-2, 2e-5}, {0.1, 1e-3}} {
		got := d.Plus(c.a)
		sameQuantiles(t, "quantile", got, func(p float64) float64 { return d.Quantile(p) + c.a }, c.rel)
		close(t, "mean", got.Mean(), d.Mean()+c.a, 3e-5)
		mass := 0.0
		for i, v := range got.p {
			if v < 0 {
				t.Errorf("the density at node %d is %v", i, v)
			}
			mass += v * gridStep
		}
		close(t, "mass", mass, 1, 1e-12)
		if below := 1 - got.Over(c.a*0.9); below > 1e-12 {
			t.Errorf("%v of the mass lies below what came in", below)
		}
	}
	for _, a := range []float64{0, -1, math.NaN()} {
		if got := d.Plus(a); got.Quantile(0.3) != d.Quantile(0.3) {
			t.Errorf("plus %v changes something", a)
		}
	}
	twice, once := d.Plus(0.002).Plus(0.003), d.Plus(0.005)
	sameQuantiles(t, "in two parts", twice, once.Quantile, 1e-5)
}

func TestBlend(t *testing.T) {
	low, high := Normal(-5, 0.4), Normal(-3, 0.8)
	d, err := Blend([]Density{low, high}, []float64{6, 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, level := range []float64{0.005, 0.02, 0.05} {
		close(t, "over", d.Over(level), 0.75*low.Over(level)+0.25*high.Over(level), 1e-9)
	}
	close(t, "mean", d.Mean(), 0.75*low.Mean()+0.25*high.Mean(), 1e-12)
	if _, err := Blend([]Density{low}, []float64{0}); !errors.Is(err, ErrNoOverlap) {
		t.Errorf("nothing blends to %v", err)
	}
}

func TestQuantileAndOver(t *testing.T) {
	d := known(t)
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(1e-6, 1-1e-6).Draw(t, "p")
		if got := 1 - d.Over(d.Quantile(p)); !(math.Abs(got-p) <= 1e-12) {
			t.Errorf("%v lies below quantile %v", got, p)
		}
		q := rapid.Float64Range(p, 1-1e-6).Draw(t, "q")
		if d.Quantile(q) < d.Quantile(p) {
			t.Errorf("quantile %v is %v, quantile %v is %v", p, d.Quantile(p), q, d.Quantile(q))
		}
	})
	for level, want := range map[float64]float64{0: 1, -1: 1, 1e-9: 1, 1e3: 0} {
		if got := d.Over(level); got != want {
			t.Errorf("over %v: %v, want %v", level, got, want)
		}
	}
}

func TestSummary(t *testing.T) {
	d := Normal(math.Log(0.02), 0.5)
	s := d.Summary(0.9)
	close(t, "median", s.Median, 2, 1e-8)
	close(t, "mean", s.Mean, 2*math.Exp(0.125), 1e-9)
	close(t, "low", s.Low, 2*math.Exp(-0.5*1.6448536269514722), 1e-6) // qnorm(0.95) of R
	close(t, "high", s.High, 2*math.Exp(0.5*1.6448536269514722), 1e-6)
	if s.Level != 0.9 {
		t.Errorf("level %v", s.Level)
	}
	levels, curve := d.Curve()
	if len(levels) != len(curve) || !(math.Abs(levels[1]/levels[0]-math.Exp(gridStep)) <= 1e-12) {
		t.Errorf("%d levels, %d heights", len(levels), len(curve))
	}
	curve[len(curve)/2] = 99 // the caller's own copy
	if got := d.Summary(0.9); got != s {
		t.Errorf("writing to the curve changed the density: %+v", got)
	}
}

// Counts no colony can give together are an error, not a figure.
func TestNoOverlap(t *testing.T) {
	a := DefaultAssumptions()
	a.FrameCV = 0
	l, err := a.Likelihood(count(t, "wash:0/100000"), count(t, "wash:2000/100"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Prior.Density().Times(l); !errors.Is(err, ErrNoOverlap) {
		t.Errorf("error %v", err)
	}
}

// A cloud of mites on very many bees is sharper than the grid: the median
// stays right, and the limits err to the safe side.
func TestVerySharpCount(t *testing.T) {
	a := DefaultAssumptions()
	a.FrameCV = 0
	for _, y := range []int{2000, 2001, 20_000} {
		d := mustPosterior(t, a, Flat(), Count{Method: Wash, Mites: y, Amount: Amount{1e5, Bees}})
		exact := gammaOf(float64(y), 1e5)
		close(t, "median", d.Quantile(0.5), exact(0.5), 1e-3)
		if slack := 1e-3; d.Quantile(0.025) > exact(0.025)*(1+slack) || d.Quantile(0.975) < exact(0.975)*(1-slack) {
			t.Errorf("%d mites: %v to %v, exactly %v to %v", y, d.Quantile(0.025), d.Quantile(0.975), exact(0.025), exact(0.975))
		}
	}
}

// What the naive reading gets wrong. In each case the two readings of the same
// notes differ in what a beekeeper would do or believe.

func TestARollIsNotAWash(t *testing.T) {
	a := DefaultAssumptions()
	d := a.Prior.Density()
	asWash := mustPosterior(t, a, d, count(t, "wash:6/300")).Over(0.02)
	asRoll := mustPosterior(t, a, d, count(t, "roll:6/300")).Over(0.02)
	// A roll finds four mites of five: a colony with six in it is more likely
	// than not over two per hundred, one with six in a wash is not.
	if !(asWash < 0.45 && asRoll > 0.5) {
		t.Errorf("chance over 2 per hundred: %v as a wash, %v as a roll", asWash, asRoll)
	}
}

func TestOneFrameIsNotThree(t *testing.T) {
	a := DefaultAssumptions()
	d := a.Prior.Density()
	one := mustPosterior(t, a, d, count(t, "wash:30/300/1f")).Summary(0.95)
	three := mustPosterior(t, a, d, count(t, "wash:30/300/3f")).Summary(0.95)
	if unsaid := mustPosterior(t, a, d, count(t, "wash:30/300")).Summary(0.95); unsaid != one {
		t.Errorf("frames not said are not one frame: %+v and %+v", unsaid, one)
	}
	if !(one.High/one.Low > 1.25*three.High/three.Low) {
		t.Errorf("one frame %v to %v, three %v to %v", one.Low, one.High, three.Low, three.High)
	}
	// More bees off one frame stop helping; off more frames they help on.
	spread := func(text string) float64 {
		_, sd := mustPosterior(t, a, Flat(), count(t, text)).LogMoments()
		return sd
	}
	if many := spread("wash:3000/30000/1f"); many < 0.95*a.FrameCV {
		t.Errorf("thirty thousand bees off one frame leave a log-SD of only %v", many)
	}
	if many := spread("wash:3000/30000/4f"); many > 0.55*a.FrameCV {
		t.Errorf("off four frames they leave %v", many)
	}
}

func TestAScoopIsNotACount(t *testing.T) {
	a := DefaultAssumptions()
	_, counted := mustPosterior(t, a, Flat(), count(t, "wash:60/300/3f")).LogMoments()
	_, scooped := mustPosterior(t, a, Flat(), count(t, "wash:60/0.5cup/3f")).LogMoments()
	// The scoop's own spread adds to the variance of ln θ: sqrt(ln(1+0.15²)).
	close(t, "log SD", scooped, math.Sqrt(counted*counted+math.Log1p(0.15*0.15)), 1e-6)
	if !(scooped > 1.1*counted) {
		t.Errorf("log-SD %v counted, %v scooped", counted, scooped)
	}
}

func TestTwoRollsOfADayShareTheirRecovery(t *testing.T) {
	a := DefaultAssumptions()
	a.FrameCV = 0
	d := a.Prior.Density()
	first, second := count(t, "roll:60/300"), count(t, "roll:60/300")
	shared := mustPosterior(t, a, d, first, second)
	// The naive product takes the second roll to have a recovery of its own.
	naive := mustPosterior(t, a, mustPosterior(t, a, d, first), second)
	_, sd := shared.LogMoments()
	_, naiveSD := naive.LogMoments()
	// The variance of ln of a Beta(9, 2) recovery is trigamma(9) - trigamma(11),
	// 1/9² + 1/10²: no number of rolls of that day takes it away.
	floor := math.Sqrt(1.0/81 + 1.0/100)
	if !(naiveSD < 0.9*floor && sd > 0.9*floor) {
		t.Errorf("log-SD %v, taken as fresh %v, recovery alone %v", sd, naiveSD, floor)
	}
	// Two days have two recoveries: read as shared they would say too little.
	first.Date, second.Date = Day(2026, 8, 6), Day(2026, 8, 7)
	apart := mustPosterior(t, a, d, first, second)
	sameQuantiles(t, "two days", apart, naive.Quantile, 1e-6)
}

// Zero in a sample is not zero in the hive.
func TestNoMitesAreNotNone(t *testing.T) {
	a := DefaultAssumptions()
	d := mustPosterior(t, a, a.Prior.Density(), count(t, "wash:0/100"))
	if s := d.Summary(0.95); !(s.Low > 0 && s.High > 1) {
		t.Errorf("0 of 100 bees leave %v to %v per hundred", s.Low, s.High)
	}
}
