package decide

import (
	"math"
	"testing"
)

// Days are compared by the date and not by the year.
func TestDaysApart(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"2026-06-20", "2025-06-20", 0}, {"2026-06-20", "2025-06-10", 10}, {"2026-06-20", "2025-07-01", 11},
		{"2026-01-03", "2024-12-30", 4}, {"2026-12-30", "2026-01-03", 4},
	} {
		if got := daysApart(mustDate(c.a), mustDate(c.b)); got != c.want {
			t.Errorf("%s and %s: %d days, want %d", c.a, c.b, got, c.want)
		}
	}
}

// A year is set beside another by the counts of the same weeks, a colony each,
// with the limits of Student's t. The yard is the same in both years. Naive, all
// counts of a year are put beside all of the other: the colonies were counted in
// April of the one and in August of the other as well, and seem to have far more
// mites.
func TestYearsBeside(t *testing.T) {
	a := apiaryOf(t,
		colonyOf(t, "wash:1/300@2025-04-20", "wash:5/300@2025-06-20", "wash:6/300@2026-06-24", "wash:20/300@2026-08-20"),
		colonyOf(t, "wash:0/300@2025-04-20", "wash:6/300@2025-06-20", "wash:5/300@2026-06-24", "wash:16/300@2026-08-20"),
		colonyOf(t, "wash:1/300@2025-04-20", "wash:4/300@2025-06-20", "wash:4/300@2026-06-24", "wash:18/300@2026-08-20"),
		colonyOf(t, "wash:1/300@2025-04-20", "wash:18/300@2026-08-20"),
	)
	for i, name := range []string{"ash", "elm", "oak", "fir"} {
		a.Colonies[i].Name = name
	}
	got, err := a.Beside([2]int{2025, 2026}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Pairs) != 3 || got.Colonies != 3 || got.Counted != [2]int{4, 4} || len(got.LeftOut) != 1 || got.LeftOut[0] != "fir" || got.Ratio == nil {
		t.Fatalf("%+v", got)
	}
	const t95 = 2.919986 // Student's t at 0.95 with two degrees of freedom: qt(0.95, 2) of R
	var mean, squares float64
	for _, p := range got.Pairs {
		mean += math.Log(p.Levels[1]/p.Levels[0]) / 3
	}
	for _, p := range got.Pairs {
		d := math.Log(p.Levels[1]/p.Levels[0]) - mean
		squares += d * d
	}
	reach := t95 * math.Sqrt(squares/2/3)
	for what, x := range map[string][2]float64{"middle": {got.Ratio.Middle, mean}, "low": {got.Ratio.Low, mean - reach}, "high": {got.Ratio.High, mean + reach}} {
		if !(math.Abs(math.Log(x[0])-x[1]) < 1e-5) {
			t.Errorf("%s: %v, want %v", what, x[0], math.Exp(x[1]))
		}
	}
	if !(got.Ratio.Low < 1 && got.Ratio.High > 1) {
		t.Errorf("the same yard has %+v times as many", *got.Ratio)
	}
	naive := 0.0
	for _, k := range a.Colonies[:3] {
		for i, c := range k.Counts {
			s, err := k.On(c.Date)
			if err != nil {
				t.Fatal(err)
			}
			naive += math.Log(s.Known.Quantile(0.5)) * []float64{-1, -1, 1, 1}[i] / 6
		}
	}
	if !(math.Exp(naive) > 2*got.Ratio.High) {
		t.Errorf("naive %v, by weeks %+v", math.Exp(naive), *got.Ratio)
	}
	if two, err := (Apiary{Rules: a.Rules, Colonies: a.Colonies[:2]}).Beside([2]int{2025, 2026}, 0.9); err != nil || two.Ratio != nil || two.Colonies != 2 {
		t.Errorf("two colonies tell %+v, %v", two.Ratio, err)
	}
}
