package decide_test

import (
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
	h := decide.History{Assumptions: sampling.DefaultAssumptions(), Prior: prior, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates(), Arrivals: arrivals}
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

// The chance of being over the line by hand: two normal tails, of what is known
// moved on, with a variance of 0.40² a month, and of the belief brought to that
// day, which has the chance 1-0.92^months.
func TestForecastByHand(t *testing.T) {
	first := day(t, "2026-06-10")
	days := outlook(t, sampling.Prior{MedianPerHundred: 1.5, LogSD: 0.3}, first, 45, 0, 3)
	usual := year(t, decide.YearSettings{})
	p := path(t, decide.PathPlan{First: first, Last: first + 45, Year: usual, Rates: decide.DefaultRates()})
	tail := func(median, sd float64) float64 { return 0.5 * math.Erfc(math.Log(3/median)/sd/math.Sqrt2) }
	half := sampling.Date(0)
	for i, d := range days {
		months := float64(i) / 30
		q := 1 - math.Pow(0.92, months)
		want := (1-q)*tail(1.5*math.Exp(move(t, p, first, i).Shift), math.Sqrt(0.09+0.16*months)) +
			q*tail(1.5*usual.Unseen(d.Date).MedianPerHundred/usual.Unseen(first).MedianPerHundred, 0.3)
		near(t, "chance of being over", d.OverAct(), want, 1e-4)
		if half.IsZero() && want >= 0.5 {
			half = d.Date
		}
	}
	if got := decide.OverHalf(days); got != half || half < first+20 {
		t.Errorf("over half on %s, by hand %s", got, half)
	}
	if got := decide.OverHalf(outlook(t, sampling.Prior{MedianPerHundred: 1.5, LogSD: 0.3}, first, 45, 0, 50)); !got.IsZero() {
		t.Errorf("over half of a line far away on %s", got)
	}
}

// Mites from outside bring the day nearer, never put it off.
func TestArrivalsBringTheDayNearer(t *testing.T) {
	first := day(t, "2026-08-10")
	last := sampling.Date(1000000)
	for _, arrivals := range []float64{0, 2, 8, 75} {
		over := decide.OverHalf(outlook(t, sampling.Prior{MedianPerHundred: 0.8, LogSD: 0.5}, first, 60, arrivals, 2))
		if over.IsZero() || over >= last {
			t.Errorf("%v a day: over half on %s, with fewer arrivals on %s", arrivals, over, last)
		}
		last = over
	}
}
