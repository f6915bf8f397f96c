package sampling

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// soundDensity holds a density to what any reader of it takes for granted.
func soundDensity(t interface{ Fatalf(string, ...any) }, what string, d Density) {
	const digit = 0x1p-52 // of a chance near 1: what rounding alone can do
	last, cum := 1.0, d.cumulative()
	for i := range 800 {
		level := gridLow + float64(i)*0.0253
		over := 1 - d.cdf(cum, level)
		if !(over >= 0 && over <= 1) {
			t.Fatalf("%s: the chance of more than %v is %v", what, math.Exp(level), over)
		}
		if !(over <= last+digit) {
			t.Fatalf("%s: the chance of more than %v is %v, of less it was %v", what, math.Exp(level), over, last)
		}
		last = over
	}
	q := d.Quantiles(0.001, 0.025, 0.5, 0.975, 0.999)
	if !slices.IsSorted(q) || !(q[0] > 0) || math.IsInf(q[4], 1) {
		t.Fatalf("%s: quantiles %v", what, q)
	}
}

// A cubic through a cumulative curve can overshoot: of a density a node or two
// wide the plain one gives chances such as 1.0007.
func TestChancesLieBetweenNoneAndOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Normal(rapid.Float64Range(-14, 2).Draw(t, "mean"), rapid.Float64Range(0.001, 0.2).Draw(t, "sd"))
		if rapid.Bool().Draw(t, "two") {
			e := Normal(rapid.Float64Range(-14, 2).Draw(t, "mean"), rapid.Float64Range(0.001, 2).Draw(t, "sd"))
			d, _ = Blend([]Density{d, e}, []float64{1, rapid.Float64Range(0, 5).Draw(t, "weight")})
		}
		if rapid.Bool().Draw(t, "moved") {
			d = d.Moved(NormalKernel(rapid.Float64Range(-3, 3).Draw(t, "shift"), rapid.Float64Range(0, 0.05).Draw(t, "blur")))
		}
		soundDensity(t, "density", d)
	})
}

func TestChancesOfSingleCounts(t *testing.T) {
	a := DefaultAssumptions()
	before := a.Prior.Density()
	rapid.Check(t, func(t *rapid.T) {
		bees := rapid.IntRange(50, 5000).Draw(t, "bees")
		c := Count{
			Method: rapid.SampledFrom([]Method{Wash, Roll, CO2}).Draw(t, "method"),
			Mites:  rapid.IntRange(0, 5*bees).Draw(t, "mites"),
			Amount: Amount{float64(bees), Bees}, Frames: rapid.IntRange(0, 20).Draw(t, "frames"),
		}
		d, _, err := a.Weigh(before, []Count{c})
		if err != nil {
			t.Skip(err)
		}
		soundDensity(t, c.String(), d)
		p, err := a.Foresee(before, []Count{c}, c)
		if err != nil {
			t.Skip(err)
		}
		if chance := p.Chance(c.Mites, true); !(chance >= 0 && chance <= 1) {
			t.Fatalf("%s again: %v", c, chance)
		}
	})
}

// Whatever law the settings hold, what is refused is refused in words, and
// what is not can be worked with.
func FuzzBeta(f *testing.F) {
	for _, v := range []float64{0, 0.001, 0.01, 0.5, 1, 2, 9, 1e3, 1e6, math.Inf(1), math.NaN()} {
		f.Add(v, 0.01, 0.3)
		f.Add(9.0, v, 1e-9)
	}
	f.Fuzz(func(t *testing.T, alpha, beta, p float64) {
		b := Beta{alpha, beta}
		b.Mode()
		q := b.Quantile(p)
		if b.Check("share") != nil {
			return
		}
		if p >= 0 && p <= 1 != (q >= 0 && q <= 1) {
			t.Fatalf("quantile %v of %v is %v", p, b, q)
		}
		k := betaKernel(b)
		if sum := sumOf(k.w); !(math.Abs(sum-1) < 1e-9) || len(k.w) > 2*gridNodes {
			t.Fatalf("the kernel of %v has %d nodes that sum to %v", b, len(k.w), sum)
		}
		a := DefaultAssumptions()
		a.Recovery[Roll] = b
		if d, _, err := a.Weigh(a.Prior.Density(), []Count{{Method: Roll, Mites: 7, Amount: Amount{300, Bees}}}); err == nil {
			soundDensity(t, "a roll", d)
		}
	})
}

func sumOf(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum
}

func FuzzSettingsFigures(f *testing.F) {
	a := DefaultAssumptions()
	f.Add(a.FrameCV, a.ScoopCV, a.BoardDayCV, a.BoardBrood.MedianPerDayPerHundred, a.BoardBrood.LogSD, a.BoardBrood.Bees, a.BeesUnknownLogSD, 7, 0.0)
	f.Add(1e-9, 2.0, 1e-300, 1000.0, 2.0, 100.0, 2.0, 0, 200000.0)
	f.Add(0.0, 0.0, 0.0, 0.001, 0.0, 200000.0, 0.0, 100000, 100.0)
	f.Add(math.NaN(), math.Inf(1), -1.0, 0.0, 3.0, 1e-300, math.NaN(), -1, math.NaN())
	f.Fuzz(func(t *testing.T, frame, scoop, day, median, logSD, bees, unknown float64, mites int, adult float64) {
		a := DefaultAssumptions()
		a.FrameCV, a.ScoopCV, a.WeighedCV, a.BoardDayCV, a.BoardCellsCV = frame, scoop, scoop, day, day
		a.BoardBrood = BoardFall{median, logSD, bees}
		a.BeesUnknownLogSD = unknown
		hive := Hive{AdultBees: adult, AdultBeesCV: min(scoop, 1)}
		before := a.Prior.Density()
		for _, c := range []Count{
			{Method: Wash, Mites: mites, Amount: Amount{0.5, Cups}, Frames: 2},
			{Method: Board, Mites: mites, Amount: Amount{3, Days}, Hive: hive, Cells: Cells{3, 7}},
			{Method: Knockdown, Mites: mites, Amount: Amount{5, Days}, Hive: hive, Treatment: TreatmentName{"oxalic acid", "vapour"}},
		} {
			d, evidence, err := a.Weigh(before, []Count{c, c})
			if err != nil {
				continue
			}
			soundDensity(t, c.String(), d)
			a.Warnings(before, d, evidence, 0.95)
		}
		fall := median
		if l, err := Events(mites, median, frame, scoop); err == nil {
			if d, err := before.Times(l); err == nil {
				soundDensity(t, "events", d)
			}
		}
		soundDensity(t, "normal", Normal(fall, logSD))
		soundDensity(t, "moved", before.Moved(NormalKernel(fall, logSD)).Plus(unknown))
	})
}

func FuzzInterval(f *testing.F) {
	f.Add(0, 300.0, 0.95)
	f.Add(300, 300.0, 1-1e-16)
	f.Add(1<<30, 1e9, 1e-300)
	f.Fuzz(func(t *testing.T, mites int, bees, level float64) {
		for _, k := range append(IntervalKinds(), "no such") {
			i, err := NewInterval(k, mites, bees, level)
			if err == nil && !(i.Low >= 0 && i.Low <= i.High*(1+1e-9) && i.Achieved >= 0 && i.Achieved <= 1) {
				t.Errorf("%s of %d in %v at %v: %+v", k, mites, bees, level, i)
			}
		}
	})
}
