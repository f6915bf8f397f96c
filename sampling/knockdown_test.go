package sampling

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// fallAfter is a knockdown of oxalic acid vapour in a colony of known size.
func fallAfter(t *testing.T, s string, broodless bool) Count {
	t.Helper()
	c := count(t, s)
	c.Treatment = TreatmentName{"oxalic acid", "vapour"}
	c.Hive = Hive{AdultBees: 25000, Broodless: broodless}
	return c
}

// Taking all that fell for killed mites is another answer: with brood in the
// hive a part of it would have fallen anyway.
func TestKnockdownNaturalFallIsNotKilled(t *testing.T) {
	a := DefaultAssumptions()
	c := fallAfter(t, "knockdown:310/5d", false)
	got := mustPosterior(t, a, a.Prior.Density(), c).Summary(0.95)
	none := 0.0
	c.FallBefore = &none
	naive := mustPosterior(t, a, a.Prior.Density(), c).Summary(0.95)
	t.Logf("310 in 5 days over 25 000 bees with brood: %.2f per hundred (%.2f to %.2f); were none of it natural: %.2f", got.Median, got.Low, got.High, naive.Median)
	if !(naive.Median > 1.25*got.Median) {
		t.Errorf("%.3f without natural fall, %.3f with it", naive.Median, got.Median)
	}
	// By hand: 310 / (25 000 · 0.75 · 0.9) = 1.84 per hundred, pulled a little
	// by the belief that one per hundred is the middle.
	if naive.Median < 1.6 || naive.Median > 2.0 {
		t.Errorf("%.2f without natural fall, by hand 1.84", naive.Median)
	}
}

// A fall before that was seen beats the board's reading, and the more of it
// the fewer were killed.
func TestKnockdownFallBefore(t *testing.T) {
	a := DefaultAssumptions()
	last := math.Inf(1)
	for _, before := range []float64{0, 5, 20, 40, 60} {
		c := fallAfter(t, "knockdown:310/5d", false)
		c.FallBefore = &before
		s := mustPosterior(t, a, a.Prior.Density(), c).Summary(0.95)
		if !(s.Median < last) {
			t.Errorf("%v a day before: %.2f, with less before %.2f", before, s.Median, last)
		}
		last = s.Median
	}
}

// With next to nothing unknown the answer is the plain division.
func TestKnockdownLimit(t *testing.T) {
	a := DefaultAssumptions()
	a.Reach, a.Prior.LogSD = Beta{1e5, 1e5 / 9}, 2 // 0.9, certain
	c := fallAfter(t, "knockdown:4050/5d", true)
	none := 0.0
	c.FallBefore = &none
	s := mustPosterior(t, a, a.Prior.Density(), c).Summary(0.95)
	// The log-SD of Beta(36, 4) is √(ψ′(36)−ψ′(40)) = 0.0534, that of the count
	// 1/√4050; a belief of log-SD 2 pulls by under 0.3 %.
	close(t, "median", s.Median, 100*4050/(25000*0.9*Beta{36, 4}.Quantile(0.5)), 3e-3)
	close(t, "spread", math.Log(s.High/s.Low)/(2*1.96), math.Hypot(0.0534, 1/math.Sqrt(4050)), 0.01)
}

// What a vapour killed: the share of the mites on bees that it is taken to
// kill, whatever part of them reached the board.
func TestKilled(t *testing.T) {
	a := DefaultAssumptions()
	c := fallAfter(t, "knockdown:310/5d", true)
	k, err := a.KnockdownReading(c)
	if err != nil {
		t.Fatal(err)
	}
	d := mustPosterior(t, a, a.Prior.Density(), c)
	median, low, high := k.Killed(d, 0.95)
	if !(low < median && median < high) {
		t.Errorf("%v (%v to %v)", median, low, high)
	}
	close(t, "killed", median, 25000*0.9*d.Quantile(0.5), 0.02)
}

func TestKnockdownReading(t *testing.T) {
	a := DefaultAssumptions()
	for _, tc := range []struct {
		broodless bool
		kill      Beta
	}{{true, Beta{36, 4}}, {false, Beta{9, 3}}} {
		k, err := a.KnockdownReading(fallAfter(t, "knockdown:310/5d", tc.broodless))
		if err != nil || k.Kill != tc.kill || k.Reach != (Beta{18, 2}) || k.AdultBees != 25000 || k.AdultBeesCV != 0 {
			t.Errorf("broodless %v: %+v %v", tc.broodless, k, err)
		}
	}
	var value *ValueError
	for _, tc := range []struct {
		active, application, want string
	}{
		{"formic acid", "evaporation", "out of the brood too"},
		{"thymol", "evaporation", "over weeks"},
	} {
		c := fallAfter(t, "knockdown:310/5d", false)
		c.Treatment = TreatmentName{tc.active, tc.application}
		if _, err := a.Likelihood(c); !errors.As(err, &value) || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v", tc.active, err)
		}
	}
	c := fallAfter(t, "knockdown:310/5d", false)
	bad := -1.0
	c.FallBefore = &bad
	if _, err := a.Likelihood(c); !errors.As(err, &value) {
		t.Errorf("a fall below zero: %v", err)
	}
	c = fallAfter(t, "knockdown:310/5d", false)
	c.Treatment = TreatmentName{}
	if _, err := a.Likelihood(c); err == nil {
		t.Error("no treatment was named, and it was read")
	}
}

// Nothing on the board after a vapour lowers what is thought of the colony, and
// a wash that then finds mites is told to disagree.
func TestKnockdownOfNone(t *testing.T) {
	a := DefaultAssumptions()
	before := a.Prior.Density()
	none := fallAfter(t, "knockdown:0/5d", true)
	d, evidence, err := a.Weigh(before, []Count{none, count(t, "wash:9/300/3f")})
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[WarningKind]bool{}
	for _, w := range a.Warnings(before, d, evidence, 0.95) {
		kinds[w.Kind] = true
	}
	if !kinds[ZeroKnockdown] || !kinds[Disagreement] {
		t.Errorf("%v", kinds)
	}
}
