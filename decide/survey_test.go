package decide

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/internal/long"
	"halfcup/sampling"
)

// A survey calls every count as the record of a colony does that has this count
// alone, whatever the day, the lines and the costs; one survey after the other
// with the same outlooks, as a table has them.
func TestSurveyIsTheRecordOfOneCount(t *testing.T) {
	year, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	lines, err := ThresholdSet(DefaultThresholds)
	if err != nil {
		t.Fatal(err)
	}
	reasons := map[Reason]int{}
	outlooks := Outlooks{}
	try := func(r *rapid.T) {
		a := Apiary{Rules: Rules{Lines: lines, MissCost: rapid.SampledFrom([]float64{1, 3, 10}).Draw(r, "miss cost"), MinWorth: rapid.SampledFrom([]float64{0, 0.05, 0.2}).Draw(r, "least worth"), Costs: DefaultCosts()}}
		a.CO2, a.AnySize, a.MostFrames = rapid.Bool().Draw(r, "co2"), rapid.Bool().Draw(r, "any size"), rapid.IntRange(0, 2).Draw(r, "frames of looks")
		k := Colony{History: History{Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: DefaultRates(), Ahead: leastAhead}}
		day := sampling.Day(2026, 7, 1) + sampling.Date(rapid.IntRange(-181, 183).Draw(r, "days from July"))
		a.Colonies = []Colony{k}
		blank, err := a.Of(0, day)
		if err != nil {
			r.Fatal(err)
		}
		survey := blank.Survey(0.9, outlooks)
		for range long.Of(12, 4) {
			c := sampling.Count{Method: rapid.SampledFrom([]sampling.Method{sampling.Wash, sampling.Roll, sampling.CO2, sampling.Board}).Draw(r, "method"), Date: day}
			c.Mites, c.Frames = rapid.IntRange(0, 25).Draw(r, "mites"), rapid.IntRange(0, 3).Draw(r, "frames")
			c.Amount = sampling.Amount{Value: float64(rapid.IntRange(50, 600).Draw(r, "bees")), Unit: sampling.Bees}
			switch {
			case c.Method == sampling.Board:
				c.Mites, c.Frames = 4*c.Mites, 0
				c.Amount = sampling.Amount{Value: float64(rapid.IntRange(1, 9).Draw(r, "days")), Unit: sampling.Days}
			case rapid.Bool().Draw(r, "scooped"):
				c.Amount = sampling.Amount{Value: 0.5, Unit: sampling.Cups}
			}
			sum, _, overAct, err := survey.Read(c)
			if err != nil {
				r.Fatal(err)
			}
			call, err := survey.Call(c)
			if err != nil {
				r.Fatal(err)
			}
			k.Counts = []sampling.Count{c}
			a.Colonies = []Colony{k}
			want, err := a.Of(0, day)
			if err != nil {
				r.Fatal(err)
			}
			if call != want.Call || !(math.Abs(overAct-want.ChanceOverAct) <= 1e-10) || !(math.Abs(sum.Median-100*want.Known.Quantile(0.5)) <= 1e-8) {
				r.Fatalf("%v: %q, %v over, median %v; the record says %q because %q, %v over", c, call, overAct, sum.Median, want.Call, want.Because, want.ChanceOverAct)
			}
			reasons[want.Because]++
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		for range long.Of(4, 1) {
			try(r)
		}
	})
	for _, r := range []Reason{Risky, OverLine, UnderLine, InGeneral, SmallSample} {
		if reasons[r] == 0 {
			t.Errorf("no colony was called so because %q: %v", r, reasons)
		}
	}
}
