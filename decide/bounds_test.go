package decide

import (
	"slices"
	"testing"

	"halfcup/sampling"
)

// Days that are judgements hold to the day: each is tried on its last day inside
// and its first day outside.
func TestDaysHoldToTheDay(t *testing.T) {
	y := yearOf(t, YearSettings{})
	june := mustDate("2026-06-10")
	find := func(name string) sampling.Treatment {
		f, err := sampling.FindTreatment(name)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	vapour, strips := find("oxalic-vapour"), find("amitraz-strip")
	round := Course{Treatment: vapour, First: june, Last: june, Given: june, Rounds: []sampling.Date{june}}
	until := func(days int) Course {
		on := june + sampling.Date(days)
		return Course{Treatment: strips, First: june, Last: june, Given: june, Rounds: []sampling.Date{june}, Until: on}
	}
	winter, spring, decline := y.Next(Winter, june), y.Next(Spring, mustDate("2026-01-10")), y.Next(LateSummer, june)
	late := func(what string, day sampling.Date) bool {
		return slices.ContainsFunc(Circumstances{Day: day, Year: y}.without(true), func(o Option) bool {
			return slices.Contains(o.Called, what) && o.Reason == ReasonLate
		})
	}
	yard := func(age int) []Standing {
		out := make([]Standing, 0, 3)
		a := countedOn(t, y, june, 12)
		for range 2 {
			a.Colonies = append(a.Colonies, a.Colonies[0])
			a.Colonies[len(a.Colonies)-1].Name += "x"
		}
		v, err := a.Yard(june + sampling.Date(age))
		if err != nil {
			t.Fatal(err)
		}
		return append(out, v.Standings[:v.Counted]...)
	}
	for _, tt := range []struct {
		what   string
		inside int // the last day on which it holds
		holds  func(days int) bool
	}{
		{"a further round is of the same course", 21, func(d int) bool {
			return round.goesOn(TreatmentDay{Treatment: vapour, On: june + sampling.Date(d)})
		}},
		{"a course is too short for a check", 28, func(d int) bool { from, _ := until(d).Check(); return from.IsZero() }},
		{"a treatment that is out by its label is asked for", 40 + 179, func(d int) bool {
			return until(40).State(june+sampling.Date(d), nil) == CourseTakeOut
		}},
		{"a time without brood is worth waiting for", 28, func(d int) bool {
			return Circumstances{Day: june, Broodless: Window{From: june + sampling.Date(d)}}.broodlessSoon()
		}},
		{"a trickle meets the bees of this winter", 134, func(d int) bool { return cluster(y, winter+sampling.Date(d)) == winter }},
		{"a trickle is before the bees of this winter", -31, func(d int) bool { return cluster(y, winter+sampling.Date(d)) != winter }},
		{"drones and swarms are still to come", 30, func(d int) bool {
			return Circumstances{Day: spring + sampling.Date(d), Year: y}.partOfYear().early
		}},
		{"a queen may be caged", -17, func(d int) bool { return !late("queen caged", decline+sampling.Date(d)) }},
		{"drone brood may be cut", -31, func(d int) bool { return !late("drone brood cut", decline+sampling.Date(d)) }},
		{"sealed brood may be taken", 30, func(d int) bool { return !late("sealed brood out", decline+sampling.Date(d)) }},
		{"a course counts among those of the year", 364, func(d int) bool {
			return slices.ContainsFunc(Objections(y, []Course{round, round, round}, nil, Course{Treatment: vapour, First: june + sampling.Date(d), Last: june + sampling.Date(d)}), func(o Objection) bool { return o.Kind == ObjectManyCourses })
		}},
		{"a count is of this alarm", 20, func(d int) bool { return len(yard(d)) == 3 }},
		{"a count carries a treatment by itself", 7, func(d int) bool {
			s, err := countedOn(t, y, june, 10).On(june + sampling.Date(d))
			if err != nil {
				t.Fatal(err)
			}
			if !s[0].Regret.Treats() || s[0].ChanceOverAct > sureEnoughToTreat {
				t.Fatalf("treating is not the lesser regret of a count that is too old: %v, %.2f", s[0].Regret, s[0].ChanceOverAct)
			}
			return s[0].Call.Treats()
		}},
		{"a count in the season tells something", 44, func(d int) bool {
			s, err := countedOn(t, y, june, 1).On(june + sampling.Date(d))
			if err != nil {
				t.Fatal(err)
			}
			return s[0].Because != Stale
		}},
	} {
		if !tt.holds(tt.inside) {
			t.Errorf("%s: not on day %d", tt.what, tt.inside)
		}
		if tt.holds(tt.inside + 1) {
			t.Errorf("%s: still on day %d", tt.what, tt.inside+1)
		}
	}
	if from, to := until(60).Check(); from != june+21 || to != june+28 {
		t.Errorf("a long course is checked from %s to %s", from, to)
	}
}

// countedOn is one colony with a roll of so many mites in 300 bees on a day.
func countedOn(t *testing.T, y Year, on sampling.Date, mites int) Apiary {
	t.Helper()
	lines, err := ThresholdSet(DefaultThresholds)
	if err != nil {
		t.Fatal(err)
	}
	c := sampling.Count{Method: sampling.Roll, Mites: mites, Amount: sampling.Amount{Value: 300, Unit: sampling.Bees}, Date: on}
	return Apiary{
		Rules:    Rules{Lines: lines, MissCost: DefaultMissCost, MinWorth: DefaultMinWorth, Costs: DefaultCosts()},
		Colonies: []Colony{{Name: "alder", History: History{Assumptions: sampling.DefaultAssumptions(), Year: y, Rates: DefaultRates(), Counts: []sampling.Count{c}}}},
	}
}

// Chances and numbers that are judgements hold at the figure and not beyond it.
func TestFiguresHoldToTheFigure(t *testing.T) {
	june := mustDate("2026-06-10")
	strips, err := sampling.FindTreatment("amitraz-strip")
	if err != nil {
		t.Fatal(err)
	}
	c := Course{Treatment: strips, First: june, Last: june, Given: june, Until: june + 60}
	if c.MayNotWork(june+30, 0.9) || !c.MayNotWork(june+30, 0.901) {
		t.Error("it may not be working from a chance of 0.9 on, and not at it")
	}
	small := func(bees float64) bool {
		warmest := 20.0
		f, err := Fits(Circumstances{Day: june, Year: yearOf(t, YearSettings{}), Warmest: &warmest, AdultBees: bees})
		if err != nil {
			t.Fatal(err)
		}
		return slices.ContainsFunc(slices.Concat(f.Fits, f.Maybe, f.Not), func(o Option) bool { return o.Reason == ReasonSmallColony })
	}
	if !small(9_999) || small(10_000) {
		t.Error("a colony is small under 10 000 bees, and not at them")
	}
}
