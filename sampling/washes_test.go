package sampling

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"
)

// All 437 open washes (Aurell et al. 2025, J Econ Entomol, doi
// 10.1093/jee/toaf126; see testdata/open/README.md), typed as a beekeeper
// would: rates and exact limits row by row against R, totals by yard and visit
// against R (washes.R).
func TestOpenWashes(t *testing.T) {
	type total struct {
		colonies           map[string]bool
		washes, zeros      int
		mites, bees, rates float64
	}
	totals := map[string]*total{}
	a := DefaultAssumptions()
	prior := a.Prior.Density()
	inR := reference(t, "washes-rows.csv")
	washes := readTable(t, filepath.Join("..", "testdata", "open", "washes-2022.csv"))
	if len(washes) != 437 || len(inR) != len(washes) {
		t.Fatalf("%d washes, %d in R", len(washes), len(inR))
	}
	for i, w := range washes {
		text := fmt.Sprintf("wash:%s/%s@%s", w.text("mites"), w.text("bees"), w.text("date"))
		c := count(t, text)
		if c.String() != text {
			t.Errorf("%s prints as %s", text, c)
		}
		bees := c.Amount.Value
		rate := 100 * float64(c.Mites) / bees
		limits, err := NewInterval(Garwood, c.Mites, bees, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		r := inR[i]
		if r.text("colony") != w.text("colony") || r.text("visit") != w.text("visit") {
			t.Fatalf("row %d: %s at %s, in R %s at %s", i, w.text("colony"), w.text("visit"), r.text("colony"), r.text("visit"))
		}
		close(t, text+" rate", rate, r.number("per_hundred"), 1e-12)
		close(t, text+" low", 100*limits.Low, r.number("low"), 1e-9)
		close(t, text+" high", 100*limits.High, r.number("high"), 1e-9)

		s := mustPosterior(t, a, prior, c).Summary(0.95)
		if !(0 < s.Low && s.Low < s.Median && s.Median < s.High) || s.Median < min(rate, 1)*0.9 || s.Median > max(rate, 1)*1.1 {
			t.Errorf("%s: %+v", text, s)
		}

		for _, yard := range []string{w.text("yard"), "all"} {
			for _, visit := range []string{w.text("visit"), "all"} {
				sum := totals[yard+" "+visit]
				if sum == nil {
					sum = &total{colonies: map[string]bool{}}
					totals[yard+" "+visit] = sum
				}
				sum.colonies[w.text("colony")] = true
				sum.washes++
				sum.mites += float64(c.Mites)
				sum.bees += bees
				sum.rates += rate
				if c.Mites == 0 {
					sum.zeros++
				}
			}
		}
	}
	table := reference(t, "washes.csv")
	for _, r := range table {
		key := r.text("yard") + " " + r.text("visit")
		sum := totals[key]
		if sum == nil {
			t.Errorf("no washes of %s", key)
			continue
		}
		for name, got := range map[string]float64{
			"colonies": float64(len(sum.colonies)), "washes": float64(sum.washes), "zeros": float64(sum.zeros),
			"mites": sum.mites, "bees": sum.bees,
			"per_hundred": 100 * sum.mites / sum.bees, "mean_per_hundred": sum.rates / float64(sum.washes),
		} {
			if want := r.number(name); !(math.Abs(got-want) <= 1e-12*want) {
				t.Errorf("%s, %s: %v, want %v", key, name, got, want)
			}
		}
	}
	if len(table) < 16 {
		t.Errorf("only %d groups in R's table", len(table))
	}
}
