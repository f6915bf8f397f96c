package decide

import (
	"math"
	"testing"

	"halfcup/internal/table"
	"halfcup/sampling"
)

// southernSpring is the year of colonies by the Gulf of Mexico, split in March:
// 38 days ahead of the usual one.
func southernSpring(t *testing.T) Year {
	t.Helper()
	y, err := NewYear(YearSettings{MostBrood: "04-12"})
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// The next wash of a colony foretold from its earlier ones and its treatment,
// in open data (Aurell et al. 2025, J Econ Entomol, doi 10.1093/jee/toaf126, see
// testdata/open): 90 % intervals hold nine in ten. The day of the treatment is
// taken to be that of the first wash. The groups are left out whose treatment
// the program does not know (a liquid) or whose rounds have no dates.
func TestForetellingOpenWashes(t *testing.T) {
	slugs := map[string]string{"none": "", "amitraz strip": "amitraz-strip", "hop beta acids": "hop-acids", "oxalic acid dribble": "oxalic-trickle", "oxalic acid vapour": "oxalic-vapour"}
	byColony := map[string][]table.Row{}
	for _, r := range TestdataTable(t, "open", "washes-2022.csv") {
		byColony[r["colony"]] = append(byColony[r["colony"]], r)
	}
	blank := counted(t, 3).History
	blank.Year = southernSpring(t)
	var held, score, n float64
	for _, rows := range byColony {
		slug, known := slugs[rows[0]["treatment"]]
		if !known || rows[0]["visit"] != "before" {
			continue
		}
		h := blank
		for i, r := range rows {
			c := mustCount(t, "wash:"+r["mites"]+"/"+r["bees"]+"@"+r["date"])
			if i == 0 {
				h.Splits = []sampling.Date{c.Date - 2}
				if slug != "" {
					h.Treatments = []TreatmentDay{{On: c.Date, Treatment: treatment(t, slug)}}
				}
			} else {
				s, err := h.On(c.Date)
				if err != nil {
					t.Fatal(err)
				}
				p, err := h.Assumptions.Foresee(s.Known, nil, c)
				if err != nil {
					t.Fatal(err)
				}
				upTo := p.Chance(c.Mites, false)
				chance := upTo
				if c.Mites > 0 {
					chance -= p.Chance(c.Mites-1, false)
				}
				// A count of whole mites lies partly in the interval.
				in := math.Max(0, math.Min(upTo, 0.95)-math.Max(upTo-chance, 0.05)) / chance
				held, score, n = held+in, score+math.Log(chance), n+1
			}
			h.Counts = append(h.Counts, c)
		}
	}
	t.Logf("%.0f washes foretold: the 90 %% intervals hold %.1f %%, log score %.3f a wash", n, 100*held/n, score/n)
	if !(n > 150 && held/n >= 0.85 && held/n <= 0.95) {
		t.Errorf("of %.0f washes the 90 %% intervals hold %.1f %%", n, 100*held/n)
	}
	// Before growth was unsure and records incomplete, the intervals held 68.9 %.
	const before = -3.723
	if !(score/n > before+0.3) {
		t.Errorf("log score %.3f a wash, it was %.3f", score/n, before)
	}
}
