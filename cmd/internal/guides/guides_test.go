package sampling

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
		uk     GuideLevel
		german GuideLevel // "" where there is none
	}{
		{[]time.Month{1, 2, 3}, 1.9, GuideNone, ""},
		{[]time.Month{1, 2, 3}, 2, GuideWatch, ""},
		{[]time.Month{1, 2, 3}, 7, GuideWatch, ""},
		{[]time.Month{1, 2, 3}, 7.1, GuideTreat, ""},
		{[]time.Month{4, 5, 6}, 0.9, GuideNone, ""},
		{[]time.Month{4, 5, 6}, 1, GuideWatch, ""},
		{[]time.Month{4, 5, 6}, 7.1, GuideTreat, ""},
		{[]time.Month{7}, 1.9, GuideNone, GuideNone},
		{[]time.Month{7}, 5, GuideWatch, GuideWatch},
		{[]time.Month{7}, 8.1, GuideTreat, GuideWatch},
		{[]time.Month{7}, 10, GuideTreat, GuideWatch},
		{[]time.Month{7}, 10.1, GuideTreat, GuideTreat},
		{[]time.Month{8}, 8, GuideWatch, ""},
		{[]time.Month{9, 10, 12}, 5.9, GuideNone, ""},
		{[]time.Month{9, 10, 12}, 8, GuideWatch, ""},
		{[]time.Month{11}, 1, GuideNone, GuideNone},
		{[]time.Month{11}, 1.1, GuideNone, GuideTreat},
		{[]time.Month{11}, 8.1, GuideTreat, GuideTreat},
	} {
		for _, m := range tc.months {
			got := map[string]GuideReading{}
			for _, r := range ReadGuides(m, tc.fall, 0.3) {
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
		for _, g := range Guides() {
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
		if got := ReadGuides(time.August, tc.fall, tc.over)[0].Disagrees; got != tc.want {
			t.Errorf("%v a day, chance %v: %v", tc.fall, tc.over, got)
		}
	}
}

// A guide that is told the fall of a third of the cells reads a third of the
// mites; the estimate and the guides are given the whole board.
func TestFallPerDay(t *testing.T) {
	c := count(t, "board:24/36h")
	if got := c.FallPerDay(); got != 16 {
		t.Errorf("got %v", got)
	}
	c.Cells = Cells{33, 99}
	if got := c.FallPerDay(); got != 48 {
		t.Errorf("got %v", got)
	}
}
