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
