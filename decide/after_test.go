package decide

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/internal/long"
	"halfcup/sampling"
)

// What a count of today would lead to is what the record says once the count is
// in it, with a yard around the colony, a treatment behind it and counts of the
// same day already made: the rolls of neighbours made that day tell how to read
// one more.
func TestAfterIsTheRecordWithTheCount(t *testing.T) {
	year, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	vapour, err := sampling.FindTreatment("oxalic-vapour")
	if err != nil {
		t.Fatal(err)
	}
	lines, err := ThresholdSet(DefaultThresholds)
	if err != nil {
		t.Fatal(err)
	}
	calls := map[Call]int{}
	try := func(r *rapid.T) {
		day := sampling.Day(2026, 1, 1) + sampling.Date(rapid.IntRange(60, 330).Draw(r, "day"))
		colony := func(name string) Colony {
			k := Colony{Name: name, History: History{Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: DefaultRates(), Ahead: leastAhead}}
			for range rapid.IntRange(0, 2).Draw(r, name+" counts") {
				c := sampling.Count{Method: rapid.SampledFrom([]sampling.Method{sampling.Roll, sampling.Wash}).Draw(r, "method"), Mites: rapid.OneOf(rapid.IntRange(0, 3), rapid.IntRange(0, 14), rapid.IntRange(15, 40)).Draw(r, "mites"),
					Amount: sampling.Amount{Value: 300, Unit: sampling.Bees}, Date: day - sampling.Date(rapid.OneOf(rapid.Just(0), rapid.IntRange(0, 50)).Draw(r, "age"))}
				k.Counts = append(k.Counts, c)
			}
			if rapid.IntRange(0, 4).Draw(r, name+" treated") == 0 {
				k.Treatments = []TreatmentDay{{On: day - sampling.Date(rapid.IntRange(1, 60).Draw(r, "since")), Treatment: vapour}}
			}
			return k
		}
		a := Apiary{Rules: Rules{Lines: lines, MissCost: DefaultMissCost, MinWorth: DefaultMinWorth, Costs: DefaultCosts()}, Colonies: []Colony{colony("oak")}}
		for i := range rapid.IntRange(0, 2).Draw(r, "neighbours") {
			a.Colonies = append(a.Colonies, colony([]string{"ash", "elm"}[i]))
		}
		now, err := a.Of(0, day)
		if err != nil {
			return // what cannot be
		}
		var made []sampling.Count
		for range rapid.IntRange(1, 3).Draw(r, "made") {
			made = append(made, sampling.Count{Method: sampling.Roll, Mites: rapid.IntRange(0, 8).Draw(r, "found"), Amount: sampling.Amount{Value: 100, Unit: sampling.Bees}})
		}
		call, reason, err := now.Situation().After(made...)
		if err != nil {
			r.Fatal(err)
		}
		calls[call]++
		for i := range made {
			made[i].Date = day
		}
		next, err := now.Situation().after(made...)
		if err != nil {
			r.Fatal(err)
		}
		a.Colonies[0].Counts = append(a.Colonies[0].Counts, made...)
		then, err := a.Of(0, day)
		if err != nil {
			r.Fatal(err)
		}
		if over := next.State.Known.Over(then.Line.Act / 100); !(math.Abs(over-then.ChanceOverAct) < 1e-9) {
			r.Fatalf("%v to be over the line, the record says %v", over, then.ChanceOverAct)
		}
		if call != then.Call || reason != then.Because {
			r.Fatalf("%q because %q, the record says %q because %q", call, reason, then.Call, then.Because)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		for range long.Of(8, 2) { // a few draws do not meet every call
			try(r)
		}
	})
	if calls[CountAgain] == 0 || calls[Leave] == 0 || calls[Treat] == 0 {
		t.Errorf("too few kinds of calls tried: %v", calls)
	}
}
