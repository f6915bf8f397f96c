package decide

import (
	"cmp"
	"math"
	"slices"
	"testing"
)

// A colony at 14 in 300 is put to one at 1 in 300: of every bee so many were
// here and so many came, worked out beside it by all pairs of 400 quantiles of
// both.
//
// Naive, the colony that came is as infested as this one: 0.6 per hundred, and
// fine, while the mites of the other are in it.
func TestUnionBringsItsMites(t *testing.T) {
	day := mustDate("2026-08-20")
	stays, came := colonyOf(t, "wash:1/300@2026-08-20"), colonyOf(t, "wash:14/300@2026-08-20")
	a := apiaryOf(t, stays, came) // their assumptions and their year
	stays, came = a.Colonies[0], a.Colonies[1]
	united := stays.History
	united.Happenings = []Happening{{On: day, Kind: United, Came: &came.History}}

	alone, err := stays.History.On(day)
	if err != nil {
		t.Fatal(err)
	}
	other, err := came.History.On(day)
	if err != nil {
		t.Fatal(err)
	}
	got, err := united.On(day)
	if err != nil {
		t.Fatal(err)
	}
	const n = 400
	at := make([]float64, n)
	for i := range at {
		at[i] = (float64(i) + 0.5) / n
	}
	here, there := alone.Known.Quantiles(at...), other.Known.Quantiles(at...)
	bees := got.path.AdultBees(day)
	share := swarmBees / (swarmBees + bees)
	both := make([]float64, 0, n*n)
	for _, x := range here {
		for _, y := range there {
			both = append(both, (1-share)*x+share*y)
		}
	}
	slices.SortFunc(both, cmp.Compare[float64])
	// Twenty-five levels in place of all: 1 % at the middle, 3 % at the limits.
	for p, within := range map[float64]float64{0.05: 0.03, 0.5: 0.01, 0.95: 0.03} {
		want := both[int(p*n*n)]
		if q := got.Known.Quantile(p); !(math.Abs(q/want-1) < within) {
			t.Errorf("quantile %v: %.3f per hundred, want %.3f", p, 100*q, 100*want)
		}
	}
	if m := got.Known.Quantile(0.5); !(m > 2.5*alone.Known.Quantile(0.5)) {
		t.Errorf("%.2f per hundred, without the other's mites %.2f", 100*m, 100*alone.Known.Quantile(0.5))
	}
}

// What was counted on the day of a union was counted before it, and what is
// counted later has its mites in it.
func TestUnionAndCounts(t *testing.T) {
	a := apiaryOf(t, colonyOf(t, "wash:1/300@2026-08-20", "wash:8/300@2026-08-27"), colonyOf(t, "wash:14/300@2026-08-20"))
	h := a.Colonies[0].History
	alone, err := h.On(mustDate("2026-08-27"))
	if err != nil {
		t.Fatal(err)
	}
	h.Happenings = []Happening{{On: mustDate("2026-08-20"), Kind: United, Came: &a.Colonies[1].History}}
	h.Splits = append(h.Splits, mustDate("2026-08-20"))
	united, err := h.On(mustDate("2026-08-27"))
	if err != nil {
		t.Fatal(err)
	}
	if !(alone.UnrecordedEvent > 2*united.UnrecordedEvent) {
		t.Errorf("something nobody wrote down: %.3f with the union, %.3f without", united.UnrecordedEvent, alone.UnrecordedEvent)
	}
	// Asked on the days between, it goes evenly.
	last := 0.0
	for d := mustDate("2026-08-20"); d < mustDate("2026-08-27"); d++ {
		s, err := h.On(d)
		if err != nil {
			t.Fatal(err)
		}
		f, err := s.Forecast(d + 1)
		if err != nil {
			t.Fatal(err)
		}
		m := f.Quantile(0.5)
		if last > 0 && !(math.Abs(s.Known.Quantile(0.5)/last-1) < 0.01) {
			t.Errorf("%s: %.4f, foretold the day before %.4f", d, s.Known.Quantile(0.5), last)
		}
		last = m
	}
}
