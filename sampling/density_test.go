package sampling

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"halfcup/internal/long"
)

func close(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.9g, want %.9g", what, got, want)
	}
}

func mustPosterior(t *testing.T, a Assumptions, d Density, counts ...Count) Density {
	t.Helper()
	l, err := a.Likelihood(counts...)
	if err != nil {
		t.Fatal(err)
	}
	out, err := d.Times(l)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func count(t *testing.T, s string) Count {
	t.Helper()
	c, err := ParseCount(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// brute is plain nested sums over θ, recovery and the bees in each scoop, with
// the negative binomial for the frames, sharing no code, axis or spacing with
// the package. Every inner sum is the midpoint rule on an axis where the law is
// a smooth bell; the nodes are at most half an SD apart, where that rule errs
// by less than 1e-8.
type brute struct {
	x, cum []float64 // upper edges of the cells on ln θ, and the chance below
}

// newBrute sums over ln θ from 5e-6 to 4 mites per bee. It looks coarsely
// first, and then closely, at cells of about the given step, where there is
// anything.
func newBrute(a Assumptions, step float64, likelihood func(theta float64) float64) brute {
	posterior := func(x float64) float64 {
		z := (x - math.Log(a.Prior.MedianPerHundred/100)) / a.Prior.LogSD
		return math.Exp(-z*z/2) * likelihood(math.Exp(x))
	}
	const coarse = 0.2
	var at, height []float64
	for x := math.Log(5e-6); x < math.Log(4); x += coarse {
		at, height = append(at, x), append(height, posterior(x))
	}
	top := slices.Max(height)
	lo, hi := math.Log(0.008), math.Log(0.04) // round the levels that compare asks about
	for i, h := range height {
		if h > 1e-9*top {
			lo, hi = math.Min(lo, at[i]-coarse), math.Max(hi, at[i]+coarse)
		}
	}
	n := int((hi-lo)/step) + 1
	step = (hi - lo) / float64(n)
	var b brute
	sum, before := 0.0, 0.0
	for i := range n {
		x := lo + (float64(i)+0.5)*step
		f := posterior(x)
		if i > 0 { // the midpoint rule up to an inner edge, with its end correction
			b.x = append(b.x, x-step/2)
			b.cum = append(b.cum, sum+(f-before)/24)
		}
		sum, before = sum+f, f
	}
	for i := range b.cum {
		b.cum[i] /= sum
	}
	return b
}

// below is the chance of less than theta, by the cubic through the four
// nearest cell edges.
func (b brute) below(theta float64) float64 {
	s := (math.Log(theta) - b.x[0]) / (b.x[1] - b.x[0])
	i := int(s)
	r := s - float64(i)
	c := b.cum[i-1 : i+3]
	return -r*(r-1)*(r-2)/6*c[0] + (r+1)*(r-1)*(r-2)/2*c[1] - (r+1)*r*(r-2)/2*c[2] + (r+1)*r*(r-1)/6*c[3]
}

// quantile halves the bracket of below.
func (b brute) quantile(p float64) float64 {
	lo, hi := math.Exp(b.x[2]), math.Exp(b.x[len(b.x)-4])
	for range 60 {
		mid := math.Sqrt(lo * hi)
		if b.below(mid) < p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// compare checks median, limits and chances against the package.
func (b brute) compare(t *testing.T, got Density) {
	t.Helper()
	for _, p := range []float64{0.025, 0.5, 0.975} {
		close(t, "quantile "+strconv.FormatFloat(p, 'g', -1, 64), got.Quantile(p), b.quantile(p), 1e-3)
	}
	for _, level := range []float64{0.01, 0.02, 0.03} {
		if g, w := got.Over(level), 1-b.below(level); !(math.Abs(g-w) <= 1e-4) {
			t.Errorf("over %v = %v, want %v", level, g, w)
		}
	}
}

// nbLaw is the chance of y events of a negative binomial as a function of the
// mean, the constants taken out of the loop.
func nbLaw(y int, size float64) func(mean float64) float64 {
	law := nbLogLaw(y, size)
	return func(m float64) float64 { return law(m, math.Log(m)) }
}

// nbLogLaw is nbLaw for a loop that has the logarithm of the mean at hand.
func nbLogLaw(y int, size float64) func(mean, logMean float64) float64 {
	Y := float64(y)
	a, _ := math.Lgamma(Y + 1)
	if math.IsInf(size, 1) {
		return func(m, logM float64) float64 { return math.Exp(Y*logM - m - a) }
	}
	b, _ := math.Lgamma(Y + size)
	c, _ := math.Lgamma(size)
	constant := b - c - a - Y*math.Log(size)
	return func(m, logM float64) float64 {
		return math.Exp(constant + Y*logM - (Y+size)*math.Log(1+m/size))
	}
}

type node struct{ v, w float64 }

// overBell are midpoint nodes of a density given by its logarithm between lo
// and hi, each at value(z). Nodes that weigh next to nothing are left out.
func overBell(lo, hi float64, n int, logDensity, value func(float64) float64) []node {
	var out []node
	total := 0.0
	for i := range n {
		z := lo + (hi-lo)*(float64(i)+0.5)/float64(n)
		w := math.Exp(logDensity(z))
		out = append(out, node{value(z), w})
		total += w
	}
	for i := range out {
		out[i].w /= total
	}
	return slices.DeleteFunc(out, func(n node) bool { return n.w < 1e-14 })
}

func bruteBeta(b Beta) []node {
	return overBell(-7, 11, 50, func(z float64) float64 {
		r := 1 / (1 + math.Exp(-z))
		return b.Alpha*math.Log(r) + b.Beta*math.Log(1-r)
	}, func(z float64) float64 { return 1 / (1 + math.Exp(-z)) })
}

func bruteNormal(mean, sd float64) []node {
	return overBell(-5.5, 5.5, 23, func(z float64) float64 { return -z * z / 2 },
		func(z float64) float64 { return math.Exp(mean + sd*z) })
}

func bruteBees(a Assumptions, counts []Count) brute {
	type factor struct {
		law     func(mean, logMean float64) float64
		bees    []node
		logBees []float64
	}
	type group struct {
		recovery    []node
		logRecovery []float64
		factors     []factor
	}
	logs := func(nodes []node) []float64 {
		var out []float64
		for _, n := range nodes {
			out = append(out, math.Log(n.v))
		}
		return out
	}
	byMethod := map[Method]*group{}
	for _, c := range counts {
		bees, cv, _ := a.BeesOf(c)
		f := factor{law: nbLogLaw(c.Mites, float64(max(c.Frames, 1))/(a.FrameCV*a.FrameCV)), bees: []node{{bees, 1}}}
		if cv > 0 {
			s := math.Sqrt(math.Log(1 + cv*cv))
			f.bees = bruteNormal(math.Log(bees)-s*s/2, s)
		}
		f.logBees = logs(f.bees)
		g := byMethod[c.Method]
		if g == nil {
			g = &group{recovery: []node{{1, 1}}}
			if p, ok := a.Recovery[c.Method]; ok {
				g.recovery = bruteBeta(p)
			}
			g.logRecovery = logs(g.recovery)
			byMethod[c.Method] = g
		}
		g.factors = append(g.factors, f)
	}
	return newBrute(a, 0.041, func(theta float64) float64 {
		out, logTheta := 1.0, math.Log(theta)
		for _, g := range byMethod {
			sum := 0.0
			for i, rho := range g.recovery {
				product := rho.w
				for _, f := range g.factors {
					inner := 0.0
					for j, n := range f.bees {
						inner += n.w * f.law(n.v*rho.v*theta, f.logBees[j]+g.logRecovery[i]+logTheta)
					}
					product *= inner
				}
				sum += product
			}
			out *= sum
		}
		return out
	})
}

func TestDensityAgainstNestedSums(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	for range long.Of(40, 200) {
		a := DefaultAssumptions()
		a.FrameCV = []float64{0.25, 0.25, 0.1, 0.5}[r.IntN(4)]
		var counts []Count
		for range 1 + r.IntN(3) {
			c := Count{Method: []Method{Wash, Roll, CO2}[r.IntN(3)], Frames: r.IntN(4)}
			c.Amount = []Amount{{float64(50 + r.IntN(400)), Bees}, {0.5, Cups}, {100, Millilitres}}[r.IntN(3)]
			bees, _, _ := a.BeesOf(c)
			c.Mites = int(bees * math.Exp(-4.6+1.2*r.NormFloat64()))
			counts = append(counts, c)
		}
		if len(counts) > 1 && r.IntN(2) == 0 {
			counts[1].Method = counts[0].Method
		}
		t.Run(fmt.Sprintf("%v frame CV %v", counts, a.FrameCV), func(t *testing.T) {
			t.Parallel()
			bruteBees(a, counts).compare(t, mustPosterior(t, a, a.Prior.Density(), counts...))
		})
	}
}

// Posteriors by quadrature with scipy, see density.py beside the file.
func TestDensityAgainstScipy(t *testing.T) {
	a := DefaultAssumptions()
	for _, r := range reference(t, "density.csv") {
		c := Count{Method: Method(r.text("method")), Mites: r.whole("mites"), Amount: Amount{r.number("bees"), Bees}, Frames: r.whole("frames")}
		if r.text("scooped") == "true" {
			c.Amount = Amount{r.number("bees") / 2.5, Millilitres}
		}
		got := mustPosterior(t, a, a.Prior.Density(), c)
		q := got.Quantiles(0.025, 0.5, 0.975)
		for _, check := range []struct {
			what      string
			got, want float64
		}{
			{"low", q[0], r.number("low")}, {"median", q[1], r.number("median")}, {"high", q[2], r.number("high")},
			{"mean", got.Mean(), r.number("mean")},
		} {
			close(t, c.String()+" "+check.what, check.got, check.want, 1e-4)
		}
		for _, check := range []struct{ got, want float64 }{{got.Over(0.02), r.number("over_2")}, {got.Over(0.03), r.number("over_3")}} {
			if !(math.Abs(check.got-check.want) <= 1e-5) {
				t.Errorf("%v: over %v, want %v", c, check.got, check.want)
			}
		}
	}
}
