package guides

import (
	"testing"
	"time"
)

// The limits, case by case, at and on either side of each: natural fall by the
// handout of the National Bee Unit of England and Wales, and the leaflet of
// north-west German beekeepers' associations.
func TestGuides(t *testing.T) {
	for _, tc := range []struct {
		months []time.Month
		fall   float64
		uk     Level
		german Level // "" where there is none
	}{
		{[]time.Month{1, 2, 3}, 1.9, None, ""},
		{[]time.Month{1, 2, 3}, 2, Watch, ""},
		{[]time.Month{1, 2, 3}, 7, Watch, ""},
		{[]time.Month{1, 2, 3}, 7.1, Treat, ""},
		{[]time.Month{4, 5, 6}, 0.9, None, ""},
		{[]time.Month{4, 5, 6}, 1, Watch, ""},
		{[]time.Month{4, 5, 6}, 7.1, Treat, ""},
		{[]time.Month{7}, 1.9, None, None},
		{[]time.Month{7}, 5, Watch, Watch},
		{[]time.Month{7}, 8.1, Treat, Watch},
		{[]time.Month{7}, 10, Treat, Watch},
		{[]time.Month{7}, 10.1, Treat, Treat},
		{[]time.Month{8}, 8, Watch, ""},
		{[]time.Month{9, 10, 12}, 5.9, None, ""},
		{[]time.Month{9, 10, 12}, 8, Watch, ""},
		{[]time.Month{11}, 1, None, None},
		{[]time.Month{11}, 1.1, None, Treat},
		{[]time.Month{11}, 8.1, Treat, Treat},
	} {
		for _, m := range tc.months {
			got := map[string]Reading{}
			for _, r := range Read(m, tc.fall, 0.3) {
				got[r.Name] = r
				if r.Says == "" || r.Source == "" || r.Kind == "" {
					t.Errorf("%v: %+v", m, r)
				}
			}
			if got["UK bee unit"].Level != tc.uk || got["German associations"].Level != tc.german {
				t.Errorf("%v, %v a day: %v, want %s and %s", m, tc.fall, got, tc.uk, tc.german)
			}
		}
	}
}

func TestGuidesCoverTheYearOnce(t *testing.T) {
	for m := time.January; m <= time.December; m++ {
		n := 0
		for _, g := range All() {
			if g.Name == "UK bee unit" && g.Applies(m) {
				n++
			}
		}
		if n != 1 {
			t.Errorf("%v is in %d rows", m, n)
		}
	}
}

func TestGuidesDisagree(t *testing.T) {
	for _, tc := range []struct {
		fall, over float64
		want       bool
	}{
		{9, 0.09, true}, {9, 0.1, false}, {9, 0.9, false}, // treat
		{4, 0.01, false}, {4, 0.99, false}, // light control: never
		{1, 0.5, false}, {1, 0.51, true}, {1, 0.01, false}, // nothing to be done
	} {
		if got := Read(time.August, tc.fall, tc.over)[0].Disagrees; got != tc.want {
			t.Errorf("%v a day, chance %v: %v", tc.fall, tc.over, got)
		}
	}
}
