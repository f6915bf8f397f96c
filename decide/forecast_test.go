package decide_test

import (
	"errors"
	"math"
	"testing"

	"halfcup/decide"
	"halfcup/sampling"
)

func flatLine(act float64) func(sampling.Date) float64 {
	return func(sampling.Date) float64 { return act }
}

// outlook is what is ahead of a colony nobody has counted, known as well as the
// prior says.
func outlook(t *testing.T, prior sampling.Prior, from sampling.Date, days int, arrivals, act float64) []decide.Outlook {
	t.Helper()
	a := sampling.DefaultAssumptions()
	a.Prior = prior
	h := decide.History{Assumptions: a, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates(), Arrivals: arrivals}
	s, err := h.On(from)
	if err != nil {
		t.Fatal(err)
	}
	out, err := s.Ahead(days, flatLine(act))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// One normal density by hand: in peak the middle grows by 0.0211 a day and the
// log-variance by 0.004²t² + 0.02²t, so the chance of being over the line is a
// normal tail.
func TestForecastByHand(t *testing.T) {
	first := day(t, "2026-06-10")
	days := outlook(t, sampling.Prior{MedianPerHundred: 1.5, LogSD: 0.3}, first, 45, 0, 3)
	growth := decide.DefaultRates().Stable(decide.FullBrood).PerDay
	half := sampling.Date(0)
	for i, d := range days {
		s := float64(i)
		mean, sd := math.Log(0.015)+growth*s, math.Sqrt(0.09+0.004*0.004*s*s+0.02*0.02*s)
		want := 0.5 * math.Erfc((math.Log(0.03)-mean)/sd/math.Sqrt2)
		near(t, "chance of being over", d.OverAct(), want, 1e-4)
		if half.IsZero() && want >= 0.5 {
			half = d.Date
		}
	}
	if got := decide.OverHalf(days); got != half || half != first+33 {
		t.Errorf("over half on %s, by hand %s", got, half)
	}
	if got := decide.OverHalf(outlook(t, sampling.Prior{MedianPerHundred: 1.5, LogSD: 0.3}, first, 45, 0, 50)); !got.IsZero() {
		t.Errorf("over half of a line far away on %s", got)
	}
}

// A missed treatment is worth three needless ones, so the lesser regret turns
// before the chance passes one half, and the sooner the more it is worth.
func TestRegretDay(t *testing.T) {
	first := day(t, "2026-06-10")
	days := outlook(t, sampling.Prior{MedianPerHundred: 1.5, LogSD: 0.5}, first, 45, 0, 3)
	last := decide.OverHalf(days) + 1
	for _, missCost := range []float64{1, decide.DefaultMissCost, 10} {
		got, err := decide.RegretDay(days, missCost)
		if err != nil {
			t.Fatal(err)
		}
		if got.IsZero() || got >= last {
			t.Errorf("a miss worth %v: %s, before it was %s", missCost, got, last)
		}
		last = got
	}
	if got, err := decide.RegretDay(days[:5], 0.1); !got.IsZero() || err != nil {
		t.Errorf("a miss worth a tenth: %s, %v", got, err)
	}
	var value *sampling.ValueError
	if _, err := decide.RegretDay(days, math.NaN()); !errors.As(err, &value) {
		t.Errorf("a cost that is no number: %v", err)
	}
}

// Mites from outside bring the day nearer, never put it off.
func TestArrivalsBringTheDayNearer(t *testing.T) {
	first := day(t, "2026-08-10")
	last := sampling.Date(1000000)
	for _, arrivals := range []float64{0, 2, 8, 75} {
		over := decide.OverHalf(outlook(t, sampling.Prior{MedianPerHundred: 0.5, LogSD: 0.5}, first, 60, arrivals, 2))
		if over.IsZero() || over >= last {
			t.Errorf("%v a day: over half on %s, with fewer arrivals on %s", arrivals, over, last)
		}
		last = over
	}
}
