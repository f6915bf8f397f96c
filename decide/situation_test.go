package decide

import (
	"testing"

	"halfcup/sampling"
)

var today = mustDate("2026-07-01")

func mustDate(s string) sampling.Date {
	d, err := sampling.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

// counted is a situation with the defaults after some counts made today, at a
// line of act mites per hundred.
func counted(t testing.TB, act float64, counts ...string) Situation {
	t.Helper()
	season, err := NewSeason(SeasonSettings{})
	if err != nil {
		t.Fatal(err)
	}
	h := History{Assumptions: sampling.DefaultAssumptions(), Season: season, Rates: DefaultRates()}
	for _, text := range counts {
		c, err := sampling.ParseCount(text)
		if err != nil {
			t.Fatal(err)
		}
		if c.Date.IsZero() {
			c.Date = today
		}
		h.Counts = append(h.Counts, c)
	}
	state, err := h.On(today)
	if err != nil {
		t.Fatal(err)
	}
	return Situation{
		History: h, State: state, Threshold: Threshold{Watch: act / 2, Act: act},
		MissCost: DefaultMissCost, MinWorth: DefaultMinWorth, Costs: DefaultCosts(),
	}
}

// The trade's rule: treat from 6 mites in a half-cup wash at a line of 2 per
// hundred, from 9 at a line of 3 (common practice).
func TestSwitchPointsAreTheTradesRule(t *testing.T) {
	for _, r := range []struct {
		act  float64
		from int
	}{{2, 6}, {3, 9}} {
		s := counted(t, r.act)
		c, err := s.appraise(sampling.Count{Method: sampling.Wash, Amount: sampling.Amount{Value: 300, Unit: sampling.Bees}, Frames: 1, Date: today})
		if err != nil {
			t.Fatal(err)
		}
		if c.Switch != r.from {
			t.Errorf("act %v: switch at %d mites, want %d", r.act, c.Switch, r.from)
		}
	}
}

func BenchmarkCandidates(b *testing.B) {
	s := counted(b, 3, "roll:7/300")
	for b.Loop() {
		if _, err := s.Candidates(); err != nil {
			b.Fatal(err)
		}
	}
}
