package sampling

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
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

// The brute force: plain nested sums over θ, recovery and the bees in each
// scoop, with the negative binomial for the frames, on grids that share no
// code or spacing with the package. Recovery is summed on its own axis by the
// midpoint rule after the substitution that removes the spike, scoops on the
// log axis.
type brute struct {
	theta, weight []float64
}

func (b *brute) summary() (q025, q50, q975 float64, over func(float64) float64) {
	cum := make([]float64, len(b.weight)+1)
	for i, w := range b.weight {
		cum[i+1] = cum[i] + w
	}
	total := cum[len(cum)-1]
	step := math.Log(b.theta[1] / b.theta[0])
	at := func(p float64) float64 {
		for i := range b.weight {
			if cum[i+1] >= p*total {
				f := (p*total - cum[i]) / b.weight[i]
				return math.Exp(math.Log(b.theta[i]) + (f-0.5)*step)
			}
		}
		return math.NaN()
	}
	return at(0.025), at(0.5), at(0.975), func(level float64) float64 {
		s := 0.0
		for i, w := range b.weight {
			switch d := (math.Log(b.theta[i]/level))/step + 0.5; {
			case d >= 1:
				s += w
			case d > 0:
				s += w * d
			}
		}
		return s / total
	}
}

func nbProb(y int, mean, size float64) float64 {
	Y := float64(y)
	a, _ := math.Lgamma(Y + 1)
	if math.IsInf(size, 1) {
		return math.Exp(Y*math.Log(mean) - mean - a)
	}
	b, _ := math.Lgamma(Y + size)
	c, _ := math.Lgamma(size)
	return math.Exp(b - c - a + size*math.Log(size/(size+mean)) + Y*math.Log(mean/(size+mean)))
}

func bruteBees(a Assumptions, counts []Count) *brute {
	const nTheta, nRho, nBees = 3000, 160, 61
	b := &brute{}
	lo, hi := math.Log(1e-6), math.Log(5.0)
	type node struct{ v, w float64 }
	beta := func(p Beta) []node {
		// ρ = 1-(1-s)^2 style midpoint on the logit axis, 160 nodes.
		var out []node
		for i := range nRho {
			z := -12 + 24*(float64(i)+0.5)/nRho
			r := 1 / (1 + math.Exp(-z))
			out = append(out, node{r, math.Exp(p.Alpha*math.Log(r) + p.Beta*math.Log(1-r))})
		}
		return out
	}
	byMethod := map[Method][]Count{}
	for _, c := range counts {
		byMethod[c.Method] = append(byMethod[c.Method], c)
	}
	for i := range nTheta {
		x := lo + (hi-lo)*(float64(i)+0.5)/nTheta
		theta := math.Exp(x)
		z := (x - math.Log(a.Prior.MedianPerHundred/100)) / a.Prior.LogSD
		w := math.Exp(-z * z / 2)
		for m, cs := range byMethod {
			rhos := []node{{1, 1}}
			if p, ok := a.Recovery[m]; ok {
				rhos = beta(p)
			}
			sum := 0.0
			for _, rho := range rhos {
				prod := rho.w
				for _, c := range cs {
					bees, cv, _ := a.BeesOf(c)
					size := math.Inf(1)
					if a.FrameCV > 0 {
						size = float64(max(c.Frames, 1)) / (a.FrameCV * a.FrameCV)
					}
					if cv == 0 {
						prod *= nbProb(c.Mites, bees*rho.v*theta, size)
						continue
					}
					s := math.Sqrt(math.Log(1 + cv*cv))
					inner, norm := 0.0, 0.0
					for k := range nBees {
						q := -6 + 12*(float64(k)+0.5)/nBees
						wq := math.Exp(-q * q / 2)
						inner += wq * nbProb(c.Mites, bees*math.Exp(s*q-s*s/2)*rho.v*theta, size)
						norm += wq
					}
					prod *= inner / norm
				}
				sum += prod
			}
			w *= sum
		}
		b.theta = append(b.theta, theta)
		b.weight = append(b.weight, w)
	}
	return b
}

func TestDensityAgainstNestedSums(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	cases := 200
	if testing.Short() {
		cases = 20
	}
	for i := range cases {
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
		got := mustPosterior(t, a, a.Prior.Density(), counts...)
		lo, mid, hi, over := bruteBees(a, counts).summary()
		q := got.Quantiles(0.025, 0.5, 0.975)
		close(t, "low", q[0], lo, 1e-3)
		close(t, "median", q[1], mid, 1e-3)
		close(t, "high", q[2], hi, 1e-3)
		for _, level := range []float64{0.01, 0.02, 0.03} {
			if g, w := got.Over(level), over(level); math.Abs(g-w) > 1e-4 {
				t.Errorf("over %v = %v, want %v", level, g, w)
			}
		}
		if t.Failed() {
			t.Fatalf("case %d: %v frame CV %v", i, counts, a.FrameCV)
		}
	}
}

// Posteriors by scipy quadrature, see testdata/reference/density.py.
func TestDensityAgainstScipy(t *testing.T) {
	f, err := os.Open("../testdata/reference/density.csv")
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
	t.Log(rows[0], len(rows))
}

var _ = strconv.Itoa
