package decide

import (
	"math"
	"testing"
)

// epiR 2.0.57, rsu.sep.rs and rsu.sssep.rs, and the hypergeometric sum in base
// R: testdata/reference/detection.R, 324 cases.
func TestSearchAgainstEpiR(t *testing.T) {
	// What epiR does in a limited population: it sees the infested as drawn one
	// by one. It finds a little less than there is to find.
	approximate := func(s Search, n int) float64 {
		return 1 - math.Pow(1-s.Sensitivity*float64(n)/float64(s.Population), float64(s.infested()))
	}
	tasks := TestdataTable(t, "reference", "detection.csv")
	sizes, limited := 0, 0
	for i, r := range figures(t, "detection.csv") {
		s := Search{Prevalence: r["prevalence"], Sensitivity: r["sensitivity"]}
		if limit := r["population"]; !math.IsNaN(limit) {
			s.Population = int(limit)
		}
		n := int(r["n"])
		if s.Population == 0 {
			if got := s.Chance(n); !(math.Abs(got-r["chance"]) <= 1e-13) {
				t.Errorf("%+v: %v at %d, epiR %v", s, got, n, r["chance"])
			}
		} else {
			limited++
			if s.infested() != int(r["infested"]) {
				t.Errorf("%+v: %d infested, epiR %v", s, s.infested(), r["infested"])
			}
			if got := s.Chance(n); !(math.Abs(got-r["exact"]) <= 1e-12) {
				t.Errorf("%+v: %v at %d, R %v", s, got, n, r["exact"])
			}
			if got := approximate(s, n); !(math.Abs(got-r["chance"]) <= 1e-12) {
				t.Errorf("%+v: approximately %v at %d, epiR %v", s, got, n, r["chance"])
			}
		}
		if tasks[i]["task"] != "size" {
			continue
		}
		sizes++
		wanted := r["wanted"]
		got, ok := s.Size(wanted)
		switch {
		case !ok:
			t.Errorf("%+v: no sample is large enough", s)
		case s.Population == 0 && got != n:
			t.Errorf("%+v: %d for %v, epiR %d", s, got, wanted, n)
		case s.Population > 0 && (got > n || approximate(s, got-1) >= wanted):
			t.Errorf("%+v: %d for %v, epiR's approximation %d", s, got, wanted, n)
		case s.Chance(got) < wanted || s.Chance(got-1) >= wanted:
			t.Errorf("%+v: %d is not the smallest for %v", s, got, wanted)
		}
	}
	if sizes != 144 || limited < 90 {
		t.Errorf("%d sizes, %d in a limited population", sizes, limited)
	}
}

// Pirk et al. 2013, J Apic Res 52(4): 59 bees for 5 % with 95 %, 459 for 1 %
// with 99 %, and 78 % with 30 bees at 5 %. They print 65 % with 20 bees, which
// is 64.2 %. The other sizes are ln(1-D)/ln(1-P) worked out by hand, rounded up.
func TestSearchAsPrinted(t *testing.T) {
	for _, c := range []struct {
		prevalence, wanted float64
		bees               int
	}{
		{0.05, 0.95, 59}, {0.01, 0.99, 459},
		{0.01, 0.95, 299}, {0.02, 0.95, 149}, {0.02, 0.99, 228}, {0.03, 0.95, 99}, {0.03, 0.99, 152}, {0.05, 0.99, 90}, {0.1, 0.95, 29}, {0.1, 0.99, 44},
	} {
		if n, ok := (Search{Prevalence: c.prevalence, Sensitivity: 1}).Size(c.wanted); !ok || n != c.bees {
			t.Errorf("%v with %v: %d bees, want %d", c.prevalence, c.wanted, n, c.bees)
		}
	}
	for n, want := range map[int]float64{20: 0.642, 30: 0.785} {
		if got := (Search{Prevalence: 0.05, Sensitivity: 1}).Chance(n); !(math.Abs(got-want) <= 5e-4) {
			t.Errorf("%d bees at 5 %%: %.4f, want %v", n, got, want)
		}
	}
}

// Every case small enough to write out: the chance over all samples one by one.
func TestSearchByCountingSamples(t *testing.T) {
	for population := 1; population <= 8; population++ {
		for infested := 1; infested <= population; infested++ {
			for _, sensitivity := range []float64{0, 0.3, 1} {
				shown, samples := make([]float64, population+1), make([]float64, population+1)
				for set := range 1 << population {
					taken, sick := 0, 0
					for i := range population {
						if set>>i&1 == 1 {
							taken++
							if i < infested {
								sick++
							}
						}
					}
					samples[taken]++
					shown[taken] += 1 - math.Pow(1-sensitivity, float64(sick))
				}
				s := Search{Prevalence: float64(infested) / float64(population), Sensitivity: sensitivity, Population: population}
				for n := range population + 1 {
					if got, want := s.Chance(n), shown[n]/samples[n]; !(math.Abs(got-want) < 1e-14) {
						t.Errorf("%d of %d, sensitivity %v: %v with %d, want %v", infested, population, sensitivity, got, n, want)
					}
				}
			}
		}
	}
}

// A search that cannot succeed says so.
func TestSearchInVain(t *testing.T) {
	for _, s := range []Search{{Prevalence: 0.5, Sensitivity: 0}, {Prevalence: 0.1, Sensitivity: 0.8, Population: 10}} {
		if n, ok := s.Size(0.95); ok {
			t.Errorf("%+v: %d", s, n)
		}
	}
	if n, ok := (Search{Prevalence: 0.1, Sensitivity: 1, Population: 10}).Size(1); !ok || n != 10 {
		t.Errorf("all ten: %d, %v", n, ok)
	}
}
