package decide

import (
	"math"
	"sync"
	"testing"

	"pgregory.net/rapid"

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
	year, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	h := History{Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: DefaultRates()}
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
		History: h, State: state, alone: state, Threshold: Threshold{Watch: act / 2, Act: act},
		MissCost: DefaultMissCost, MinWorth: DefaultMinWorth, Costs: DefaultCosts(),
	}
}

// template is a situation with nothing known. Its path through the year is the
// slow part and the same for all that start from it.
var template = sync.OnceValue(func() Situation {
	year, err := NewYear(YearSettings{})
	if err != nil {
		panic(err)
	}
	h := History{Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: DefaultRates()}
	state, err := h.On(today)
	if err != nil {
		panic(err)
	}
	return Situation{History: h, State: state, MissCost: DefaultMissCost, MinWorth: DefaultMinWorth, Costs: DefaultCosts()}
})

// believing is a situation in which something was known before some counts made
// today.
func believing(t testing.TB, act float64, before sampling.Density, counts ...sampling.Count) Situation {
	t.Helper()
	s := template()
	s.Threshold = Threshold{Watch: act / 2, Act: act}
	s.History.Counts, s.State.Before, s.State.Counts = counts, before, counts
	var err error
	var known sampling.Density
	if known, s.State.Evidence, err = s.History.Assumptions.Weigh(before, counts); err != nil {
		t.Fatal(err)
	}
	s.State = s.State.knowing(known)
	if len(counts) > 0 {
		s.State.Counted = today
	}
	s.alone = s.State
	return s
}

// anySituation is a colony with a belief and some counts of today.
func anySituation(r *rapid.T, t testing.TB) Situation {
	var counts []sampling.Count
	for i := range rapid.IntRange(1, 2).Draw(r, "counts") {
		m := rapid.SampledFrom([]sampling.Method{sampling.Roll, sampling.Wash}).Draw(r, "method")
		c := Scooped(m, rapid.SampledFrom([]int{100, 200, 300}).Draw(r, "bees"), rapid.IntRange(1, 3).Draw(r, "frames"), today)
		c.Mites = rapid.IntRange(0, 12+i).Draw(r, "mites")
		counts = append(counts, c)
	}
	before := sampling.Normal(math.Log(rapid.Float64Range(0.003, 0.08).Draw(r, "median")), rapid.Float64Range(0.3, 1.5).Draw(r, "log-SD"))
	s := believing(t, rapid.Float64Range(0.5, 5).Draw(r, "act"), before, counts...)
	s.MissCost = rapid.Float64Range(0.3, 10).Draw(r, "miss cost")
	s.MinWorth = rapid.SampledFrom([]float64{0.01, DefaultMinWorth, 0.2}).Draw(r, "least worth")
	s.SupersOn = rapid.Bool().Draw(r, "supers")
	for _, m := range []sampling.Method{sampling.Wash, sampling.Roll} {
		if rapid.Bool().Draw(r, "without "+string(m)) {
			s.Without = append(s.Without, m)
		}
	}
	s.CO2, s.AnySize, s.MostFrames = rapid.Bool().Draw(r, "co2"), rapid.Bool().Draw(r, "any size"), rapid.IntRange(1, 3).Draw(r, "frames")
	if days := rapid.IntRange(0, 60).Draw(r, "days to treatment"); days > 0 {
		s.NextTreatment = today + sampling.Date(days)
	}
	return s
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

// What a treatment did is a guess until somebody has counted. By the model
// alone a heavily infested colony would be treated again unseen; a look comes
// first, though not before the treatment has settled.
func TestALookIsDueAfterATreatment(t *testing.T) {
	vapour, err := sampling.FindTreatment("oxalic-vapour")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name    string
		treated string
		counts  []string
		due     bool
	}{
		{"no treatment", "", []string{"wash:60/300/3f@2026-06-30"}, false},
		{"not counted since", "2026-06-10", []string{"wash:60/300/3f@2026-06-09"}, true},
		{"counted on the day, before it was given", "2026-06-10", []string{"wash:60/300/3f@2026-06-10"}, true},
		{"counted since", "2026-06-10", []string{"wash:60/300/3f@2026-06-09", "wash:60/300/3f@2026-06-26"}, false},
		{"too soon to tell", "2026-06-25", []string{"wash:60/300/3f@2026-06-09"}, false},
	} {
		s := counted(t, 2, c.counts...)
		if c.treated != "" {
			s.History.Treatments = []TreatmentDay{{On: mustDate(c.treated), Treatment: vapour}}
			if s.State, err = s.History.On(today); err != nil {
				t.Fatal(err)
			}
		}
		if !s.Stakes().Regret(s.State.Known).Treats() {
			t.Fatalf("%s: by the model alone it would not be treated, so this tests nothing", c.name)
		}
		if got := s.countDue(); got != c.due {
			t.Errorf("%s: a count is due: %v", c.name, got)
		}
	}
}
