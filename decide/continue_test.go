package decide_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/sampling"
)

// Continuing from a state of any earlier day comes to the very same as
// replaying the whole record, whatever was added since.
func TestContinueIsOn(t *testing.T) {
	vapour, err := sampling.FindTreatment("oxalic-vapour")
	if err != nil {
		t.Fatal(err)
	}
	formic, err := sampling.FindTreatment("formic-evaporation")
	if err != nil {
		t.Fatal(err)
	}
	first := day(t, "2026-04-01")
	rapid.Check(t, func(r *rapid.T) {
		h := decide.History{
			Assumptions: sampling.DefaultAssumptions(), Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates(),
			Arrivals: float64(rapid.IntRange(0, 2).Draw(r, "arrivals")),
		}
		var earlier decide.State
		now := first
		for range rapid.IntRange(2, 6).Draw(r, "steps") {
			now += sampling.Date(rapid.IntRange(0, 40).Draw(r, "days"))
			h.Counts, h.Treatments = slices.Clip(h.Counts), slices.Clip(h.Treatments)
			switch rapid.IntRange(0, 4).Draw(r, "what") {
			case 0:
				h.Treatments = append(h.Treatments, decide.TreatmentDay{On: now, Treatment: vapour})
			case 1:
				h.Treatments = append(h.Treatments, decide.TreatmentDay{On: now, Treatment: formic})
			case 2:
				c := sampling.Count{Method: sampling.Board, Mites: rapid.IntRange(0, 60).Draw(r, "fallen"), Amount: sampling.Amount{Value: 3, Unit: sampling.Days}, Date: now}
				h.Counts = append(h.Counts, c)
			default:
				c := decide.Scooped(sampling.Roll, 300, 2, now)
				c.Mites = rapid.IntRange(0, 12).Draw(r, "mites")
				h.Counts = append(h.Counts, c)
			}
			got, err := h.Continue(earlier, now)
			if err != nil {
				r.Fatal(err)
			}
			want, err := h.On(now)
			if err != nil {
				r.Fatal(err)
			}
			if got.Counted != want.Counted || len(got.Evidence) != len(want.Evidence) || len(got.Counts) != len(want.Counts) {
				r.Fatalf("counted %v with %d pieces of evidence, not %v with %d", got.Counted, len(got.Evidence), want.Counted, len(want.Evidence))
			}
			for _, ahead := range []sampling.Date{0, 30, 99} {
				a, err := got.Forecast(now + ahead)
				if err != nil {
					r.Fatal(err)
				}
				b, _ := want.Forecast(now + ahead)
				_, p := a.Curve()
				_, q := b.Curve()
				if !slices.Equal(p, q) {
					r.Fatalf("%d days ahead: the densities differ (%v and %v)", ahead, a.Mean(), b.Mean())
				}
			}
			_, p := got.Before.Curve()
			_, q := want.Before.Curve()
			if !slices.Equal(p, q) {
				r.Fatal("what was known before the counts of the day differs")
			}
			if rapid.Bool().Draw(r, "keep") {
				earlier = got
			}
		}
	})
}
