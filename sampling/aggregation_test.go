package sampling

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// leaves are the mites on 150 apple leaves of Bliss & Fisher 1953, Biometrics
// 9:176-200, the counts from memory: leaves with 0, 1, 2, … mites.
var leaves = []int{70, 38, 17, 10, 9, 3, 2, 1}

func leafCounts() (counts []int) {
	for mites, n := range leaves {
		for range n {
			counts = append(counts, mites)
		}
	}
	return counts
}

func TestKOfLeaves(t *testing.T) {
	a, err := EstimateK(leafCounts(), nil)
	if err != nil {
		t.Fatal(err)
	}
	// The paper's own figure, 1.025, is from memory too.
	if math.Abs(a.K-1.025) > 0.0005 || math.Abs(a.Rate-172.0/150) > 1e-12 {
		t.Errorf("k is %.4f at a mean of %.4f, want 1.025 at 1.1467", a.K, a.Rate)
	}
	// The naive answer: the moments, k = mean²/(variance - mean).
	sum := 0.0
	for _, y := range leafCounts() {
		sum += (float64(y) - a.Rate) * (float64(y) - a.Rate)
	}
	if moments := a.Rate * a.Rate / (sum/149 - a.Rate); math.Abs(moments-a.K) < 0.1 {
		t.Errorf("moments give %.3f, too near to tell apart", moments)
	}
}

// nb.csv holds what R's MASS makes of the leaves and, yard by yard and visit by
// visit, of the open washes with their bees as exposure.
func TestKAgainstR(t *testing.T) {
	counts, exposures := map[string][]int{"leaves": leafCounts()}, map[string][]float64{}
	for _, r := range readTable(t, filepath.Join("..", "testdata", "open", "washes-2022.csv")) {
		at := r.text("yard") + " " + r.text("visit")
		counts[at] = append(counts[at], r.whole("mites"))
		exposures[at] = append(exposures[at], r.number("bees"))
	}
	seen := 0
	for _, r := range reference(t, "nb.csv") {
		at := r.text("data")
		switch at {
		case "common": // one k for yards with rates of their own; not fitted here
			continue
		case "washes":
			at = r.text("yard") + " " + r.text("visit")
		}
		a, err := EstimateK(counts[at], exposures[at])
		if err != nil {
			t.Fatal(at, err)
		}
		for _, c := range []struct {
			what      string
			got, want float64
			by        float64
		}{
			{"k", a.K, r.number("k"), 1e-9},
			{"SE", a.SE, r.number("se_k"), 1e-6},
			{"rate", a.Rate, r.number("mean"), 1e-7},
			{"log-likelihood", a.LogLikelihood, r.number("log_lik"), 1e-9},
		} {
			if math.Abs(c.got/c.want-1) > c.by {
				t.Errorf("%s: %s is %v, R says %v", at, c.what, c.got, c.want)
			}
		}
		seen++
	}
	if seen != 13 {
		t.Errorf("%d fits compared, want 13", seen)
	}
}

func TestKEdges(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	even := []int{3, 3, 3, 3, 3, 3}
	if a, err := EstimateK(even, nil); err != nil || !math.IsInf(a.K, 1) || !math.IsNaN(a.SE) || a.Rate != 3 {
		t.Errorf("even counts: %+v, %v", a, err)
	}
	var counts []int
	for range 4000 {
		mean := distuv.Gamma{Alpha: 5, Beta: 1, Src: r}.Rand()
		counts = append(counts, int(distuv.Poisson{Lambda: mean, Src: r}.Rand()))
	}
	if a, err := EstimateK(counts, nil); err != nil || math.Abs(a.K-5) > 4*a.SE || a.SE > 0.6 {
		t.Errorf("4000 counts with k 5: %+v, %v", a, err)
	}
	for name, c := range map[string]struct {
		counts    []int
		exposures []float64
	}{
		"none":          {nil, nil},
		"one":           {[]int{3}, nil},
		"all zero":      {[]int{0, 0}, nil},
		"below zero":    {[]int{1, -1}, nil},
		"no exposure":   {[]int{1, 2}, []float64{1, 0}},
		"not a number":  {[]int{1, 2}, []float64{1, math.NaN()}},
		"other lengths": {[]int{1, 2}, []float64{1}},
	} {
		if _, err := EstimateK(c.counts, c.exposures); err == nil {
			t.Errorf("%s: no error", name)
		} else if _, ok := err.(*ValueError); !ok {
			t.Errorf("%s: %v", name, err)
		}
	}
}
