package decide

import (
	"testing"

	"halfcup/sampling"
)

// A cage of which nobody wrote that it was opened leaves an answer on every day
// of the years behind it, of the colony and of its whole yard. Naive, the run
// comes down to two bees within a year, and no board can be advised to those:
// the answer was an error for every colony of the yard.
func TestNobodyWroteThatSheWasLetOut(t *testing.T) {
	year, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	caged := sampling.Day(2025, 6, 19)
	for _, kind := range []HappeningKind{QueenCaged, Queenless} {
		h := History{Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: DefaultRates(), Happenings: []Happening{{On: caged, Kind: kind}}}
		for _, bees := range []float64{0, 2500} {
			if bees > 0 {
				h.AdultBees, h.BeesOn = bees, caged
			}
			for _, after := range []sampling.Date{30, 100, 200, 400, 800} {
				hive := h.HiveOn(caged + after)
				if hive.AdultBees < 100*(1-1e-9) {
					t.Errorf("%s, %d days after: %v bees", kind, after, hive.AdultBees)
				}
				board := sampling.Count{Method: sampling.Board, Amount: sampling.Amount{Value: 3, Unit: sampling.Days}, Hive: hive}
				if _, err := h.Assumptions.Likelihood(board); err != nil {
					t.Errorf("%s, %d days after: %v", kind, after, err)
				}
			}
		}
	}
}

// A part of a divided colony is no neighbour before the day it is made. Naive, it
// has lived as long as the whole whose history it carries: the same count of the
// whole then told of two colonies that bore each other out, and a hive that was
// not there yet was to be counted.
func TestAPartIsNotThereBeforeItWasMade(t *testing.T) {
	whole := colonyOf(t, "roll:6/300@2026-05-15")
	part := whole
	part.Name, part.Since = "part", mustDate("2026-06-02")
	alone, both := apiaryOf(t, whole), apiaryOf(t, whole, part)
	for _, day := range []string{"2026-05-15", "2026-06-01"} {
		want, err := alone.On(mustDate(day))
		if err != nil {
			t.Fatal(err)
		}
		got, err := both.On(mustDate(day))
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != 1 || got[0].ChanceOverAct != want[0].ChanceOverAct || got[0].Call != want[0].Call {
			t.Errorf("%s: %d colonies, the first over the line with %v; alone with %v", day, len(got), got[0].ChanceOverAct, want[0].ChanceOverAct)
		}
	}
	if got, err := both.On(part.Since); err != nil || len(got) != 2 {
		t.Errorf("on the day it is made there are %d colonies, %v", len(got), err)
	}
}
