package sampling

import (
	"math"
	"testing"
)

// An outlook shows what a prospect does of a colony whose day has no count by
// the same method, and goes wrong where it has: a second roll of the day shares
// the recovery of the first.
func TestOutlookIsAProspect(t *testing.T) {
	a, day := DefaultAssumptions(), Day(2026, 6, 20)
	count := func(s string) Count {
		c, err := ParseCount(s)
		if err != nil {
			t.Fatal(err)
		}
		c.Date = day
		return c
	}
	ones, theta := make([]float64, gridNodes), Nodes()
	for i := range ones {
		ones[i] = 1
	}
	look := count("roll:0/0.5cup")
	outlook := a.Outlook(look)
	furthest := func(made Count, of []Count) float64 {
		before := Prior{1, 1.3}.Density()
		l, err := a.Likelihood(made)
		if err != nil {
			t.Fatal(err)
		}
		known, err := before.Times(l)
		if err != nil {
			t.Fatal(err)
		}
		if of == nil {
			before = known
		}
		p, err := a.Foresee(before, of, look)
		if err != nil {
			t.Fatal(err)
		}
		var want [][2]float64
		p.Outcomes([][]float64{p.Carry(func(theta float64) float64 { return theta })}, func(mites int, chance float64, parts []float64) bool {
			want = append(want, [2]float64{chance, parts[0]})
			return mites < 40
		})
		off := 0.0
		if err := outlook.Outcomes(known, ones, theta, func(mites int, chance, one, mean float64) bool {
			if chance != one {
				t.Errorf("%d mites: the chance is %v and that of everything %v", mites, chance, one)
			}
			off = max(off, math.Abs(chance-want[mites][0]), math.Abs(mean-want[mites][1]))
			return mites < len(want)-1
		}); err != nil {
			t.Fatal(err)
		}
		return off
	}
	for _, made := range []string{"wash:3/300", "wash:0/120/2f", "board:24/3d"} {
		if off := furthest(count(made), nil); !(off < 1e-13) {
			t.Errorf("after %s the chances differ by %v", made, off)
		}
	}
	roll := count("roll:7/300")
	if off := furthest(roll, []Count{roll}); !(off > 1e-3) {
		t.Errorf("a second roll of the day differs by %v only", off)
	}
}
