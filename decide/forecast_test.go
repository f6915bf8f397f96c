package decide_test

import (
	"errors"
	"math"
	"testing"

	"halfcup/decide"
	"halfcup/sampling"
)

func count(t testing.TB, s string) sampling.Count {
	t.Helper()
	c, err := sampling.ParseCount(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func replay(t testing.TB, p *decide.Path, counts ...sampling.Count) (sampling.Density, sampling.Date) {
	t.Helper()
	a := sampling.DefaultAssumptions()
	d, at, err := p.Replay(a.Prior.Density(), a, counts)
	if err != nil {
		t.Fatal(err)
	}
	return d, at
}

func sameDensity(t testing.TB, what string, a, b sampling.Density, tolerance float64) {
	t.Helper()
	for _, q := range []float64{0.05, 0.5, 0.95} {
		if x, y := a.Quantile(q), b.Quantile(q); math.Abs(x-y) > tolerance*y {
			t.Errorf("%s: quantile %v is %v and %v", what, q, x, y)
		}
	}
}

// Naive: counts of different days pooled as if of one. Three mites in May and
// twelve in July are a colony whose mites grow, not one of fifteen in two
// samples.
func TestCountsOfTwoDaysAreNotPooled(t *testing.T) {
	first := day(t, "2026-05-20")
	p := path(t, decide.PathPlan{First: first, Last: first + 90, Season: season(t, decide.SeasonSettings{}), Rates: decide.DefaultRates()})
	d, at := replay(t, p, count(t, "wash:12/300@2026-07-20"), count(t, "wash:3/300@2026-05-20"))
	if at != day(t, "2026-07-20") {
		t.Errorf("known as of %s", at)
	}
	a := sampling.DefaultAssumptions()
	l, err := a.Likelihood(count(t, "wash:12/300"), count(t, "wash:3/300"))
	if err != nil {
		t.Fatal(err)
	}
	pooled, err := a.Prior.Density().Times(l)
	if err != nil {
		t.Fatal(err)
	}
	if ratio := d.Quantile(0.5) / pooled.Quantile(0.5); ratio < 1.3 {
		t.Errorf("replayed %v times the pooled", ratio)
	}
}

// Two counts of one day share what they share: the order and the other days
// do not matter, and a day between without a count changes nothing.
func TestReplayInAnyOrder(t *testing.T) {
	first := day(t, "2026-05-20")
	plan := decide.PathPlan{First: first, Last: first + 90, Season: season(t, decide.SeasonSettings{}), Rates: decide.DefaultRates()}
	p := path(t, plan)
	a, b, c := count(t, "roll:3/300@2026-05-20"), count(t, "roll:9/300@2026-06-20"), count(t, "roll:6/300@2026-06-20")
	one, _ := replay(t, p, a, b, c)
	other, _ := replay(t, p, c, b, a)
	sameDensity(t, "order of the counts", one, other, 1e-12)
	// A path from the winter on is not yet quite steady in May: a thousandth.
	plan.First -= 100
	plan.Last += 100
	other, _ = replay(t, path(t, plan), a, b, c)
	sameDensity(t, "a longer path", one, other, 1e-3)
}

// A knockdown dated after its treatment is of the mites before it: replayed, it
// gives what it gives alone, carried through the treatment.
func TestKnockdownMovesTheDensityBeforeTheTreatment(t *testing.T) {
	first := day(t, "2026-08-06")
	vapour := treatment(t, "oxalic-vapour")
	plan := decide.PathPlan{First: first, Last: first + 30, Season: season(t, decide.SeasonSettings{}), Rates: decide.DefaultRates(), Treatments: []decide.TreatmentDay{{On: first, Treatment: vapour}}}
	p := path(t, plan)
	fall := count(t, "knockdown:310/5d@2026-08-11")
	fall.Treatment = vapour.TreatmentName
	d, at := replay(t, p, fall)
	if at != first {
		t.Fatalf("the knockdown counts as of %s", at)
	}
	a := sampling.DefaultAssumptions()
	l, err := a.Likelihood(fall)
	if err != nil {
		t.Fatal(err)
	}
	alone, err := a.Prior.Density().Times(l)
	if err != nil {
		t.Fatal(err)
	}
	sameDensity(t, "before the treatment", d, alone, 1e-12)
	days, err := p.Ahead(d, at, first+1, first+1)
	if err != nil {
		t.Fatal(err)
	}
	if ratio := days[0].Quantile(0.5) / d.Quantile(0.5); ratio > 0.5 {
		t.Errorf("the day after it is at %v of before", ratio)
	}

	fall.Treatment = treatment(t, "oxalic-trickle").TreatmentName
	var value *sampling.ValueError
	if _, _, err := p.Replay(d, a, []sampling.Count{fall}); !errors.As(err, &value) {
		t.Errorf("a knockdown without its treatment: %v", err)
	}
	if _, _, err := p.Replay(d, a, []sampling.Count{count(t, "wash:3/300")}); !errors.As(err, &value) {
		t.Errorf("a count without a date: %v", err)
	}
}

// A board over a colony without brood is read as such, by the path's own
// brood break.
func TestBoardInABroodBreak(t *testing.T) {
	plan, first := peak(t)
	with := path(t, plan)
	plan.Breaks = []decide.BroodBreak{{From: first, To: first + 40}}
	without := path(t, plan)
	board := count(t, "board:30/3d@2026-07-01")
	a, _ := replay(t, with, board)
	b, _ := replay(t, without, board)
	if a.Quantile(0.5) > b.Quantile(0.5)/3 {
		t.Errorf("with brood %v, without %v: few mites fall when none emerge", a.Quantile(0.5), b.Quantile(0.5))
	}
}

// One normal density by hand: in peak the median grows by 0.0211 a day and the
// log-variance by 0.004²t² + 0.02²t, so the chance of being over the line is a
// normal tail.
func TestForecastByHand(t *testing.T) {
	plan, first := peak(t)
	p := path(t, plan)
	days, err := p.Ahead(sampling.Normal(math.Log(0.015), 0.3), first, first, first+45)
	if err != nil {
		t.Fatal(err)
	}
	growth := plan.Rates.Stable(decide.FullBrood).PerDay
	half := sampling.Date(0)
	for i, d := range days {
		s := float64(i)
		mean, sd := math.Log(0.015)+growth*s, math.Sqrt(0.09+0.004*0.004*s*s+0.02*0.02*s)
		want := 0.5 * math.Erfc((math.Log(0.03)-mean)/sd/math.Sqrt2)
		near(t, "chance of being over", d.Over(0.03), want, 1e-4)
		if half.IsZero() && want >= 0.5 {
			half = d.Date
		}
	}
	if got := decide.OverHalf(days, func(sampling.Date) float64 { return 3 }); got != half || half != first+33 {
		t.Errorf("over half on %s, by hand %s", got, half)
	}
	if got := decide.OverHalf(days, func(sampling.Date) float64 { return 50 }); !got.IsZero() {
		t.Errorf("over half of a line far away on %s", got)
	}
	var value *sampling.ValueError
	for _, span := range [][2]sampling.Date{{first - 1, first}, {first + 3, first + 2}, {first, first + 99}} {
		if _, err := p.Ahead(sampling.Flat(), first, span[0], span[1]); !errors.As(err, &value) {
			t.Errorf("%v: %v", span, err)
		}
	}
}

// Mites from outside bring the day nearer, never put it off.
func TestArrivalsBringTheDayNearer(t *testing.T) {
	first := day(t, "2026-08-10")
	last := 100
	for _, arrivals := range []float64{0, 2, 8, 75} {
		p := path(t, decide.PathPlan{First: first, Last: first + 60, Season: season(t, decide.SeasonSettings{}), Rates: decide.DefaultRates(), Arrivals: arrivals})
		days, err := p.Ahead(sampling.Normal(math.Log(0.005), 0.5), first, first, first+60)
		if err != nil {
			t.Fatal(err)
		}
		over := int(decide.OverHalf(days, func(sampling.Date) float64 { return 2 }) - first)
		if over >= last || over < 1 {
			t.Errorf("%v a day: over half after %d days, with fewer arrivals after %d", arrivals, over, last)
		}
		last = over
	}
}
