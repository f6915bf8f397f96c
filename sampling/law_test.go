package sampling

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestLearntGivesBackTheCounts(t *testing.T) {
	a := DefaultAssumptions()
	rapid.Check(t, func(t *rapid.T) {
		before := Normal(math.Log(0.01)+rapid.Float64Range(-2, 2).Draw(t, "shift"), rapid.Float64Range(0.3, 2).Draw(t, "sd"))
		c := Count{Method: Roll, Mites: rapid.IntRange(0, 60).Draw(t, "mites"), Amount: Amount{300, Bees}, Frames: 1}
		l, err := a.Likelihood(c)
		if err != nil {
			t.Fatal(err)
		}
		known, err := before.Times(l)
		if err != nil {
			t.Fatal(err)
		}
		learnt, err := Learnt(known, before)
		if err != nil {
			t.Fatal(err)
		}
		again, err := before.Times(learnt)
		if err != nil {
			t.Fatal(err)
		}
		// What lies where the counts and what was known before rule each other
		// out cannot come back.
		ruledOut, top := 0.0, slices.Max(before.p)
		for i, p := range before.p {
			if p <= leastSure*top {
				ruledOut += known.p[i] * gridStep
			}
		}
		if miss := farthest(again, known); !(miss <= ruledOut+1e-9) {
			t.Fatalf("the counts put back are %g off, %g was ruled out", miss, ruledOut)
		}
	})
}

// farthest is the largest difference of two cumulative curves.
func farthest(d, e Density) float64 {
	a, b, most := d.cumulative(), e.cumulative(), 0.0
	for i := range a {
		most = math.Max(most, math.Abs(a[i]-b[i]))
	}
	return most
}

// A ratio taken where the carried density is nothing but rounding would be
// anything at all; it must stay what the last sure level says.
func TestLearntFarOut(t *testing.T) {
	carried, known := Normal(-4, 0.2), Normal(-3.9, 0.2)
	l, err := Learnt(known, carried)
	if err != nil {
		t.Fatal(err)
	}
	far, last := l.At(10), l.At(math.Exp(-4+0.2*7.95))
	if !(far > 0 && far <= 1 && math.Abs(far-last) < 0.2*last) {
		t.Errorf("far out the likelihood is %g, near the edge %g", far, last)
	}
	if _, err := Learnt(Normal(2, 0.05), Normal(-10, 0.05)); !errors.Is(err, ErrNoOverlap) {
		t.Errorf("nothing in common: got %v", err)
	}
}

func TestTails(t *testing.T) {
	d := Normal(-4, 0.5)
	under, over := d.Tails()
	sum := 0.0
	for i, theta := range Nodes() {
		z := (math.Log(theta) + 4) / 0.5
		for _, c := range []struct{ got, want float64 }{{under[i], math.Erfc(-z/math.Sqrt2) / 2}, {over[i], math.Erfc(z/math.Sqrt2) / 2}} {
			// One minus the other side has no digit left beyond z 8.3.
			if math.Abs(z) < 9 && !(math.Abs(c.got/c.want-1) < 2e-3) {
				t.Errorf("at z %.2f: %g, want %g", z, c.got, c.want)
			}
		}
		sum += d.Mass()[i]
		if !(math.Abs(d.Under(theta)-under[i]) < 1e-12) {
			t.Errorf("Under(%g) is %g, Tails say %g", theta, d.Under(theta), under[i])
		}
	}
	if !(math.Abs(sum-1) < 1e-12) {
		t.Errorf("the mass sums to %v", sum)
	}
}

func TestLikelihoodOf(t *testing.T) {
	l := LikelihoodOf(func(theta float64) float64 { return math.Log(theta / 0.01) })
	if got := l.At(0.001); got != 0 {
		t.Errorf("a negative value became %v", got)
	}
	if got := l.At(0.1); !(math.Abs(got-math.Log(10)) < 1e-9) {
		t.Errorf("got %v, want ln 10", got)
	}
}

func TestBlendRefusesWeights(t *testing.T) {
	d := Flat()
	for _, w := range [][]float64{{1}, {1, -1}, {1, math.NaN()}, {1, math.Inf(1)}} {
		var e *ValueError
		if _, err := Blend([]Density{d, d}, w); !errors.As(err, &e) {
			t.Errorf("weights %v: got %v", w, err)
		}
	}
}
