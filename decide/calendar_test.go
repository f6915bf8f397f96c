package decide_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/sampling"
)

// kept is a colony with a roll of 300 bees on a day, or with no count at all.
func kept(t testing.TB, name string, today sampling.Date, counts ...string) decide.Kept {
	t.Helper()
	set, err := decide.ThresholdSet(decide.DefaultThresholds)
	if err != nil {
		t.Fatal(err)
	}
	h := decide.History{Assumptions: sampling.DefaultAssumptions(), Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates()}
	for _, c := range counts {
		h.Counts = append(h.Counts, counted(t, c))
	}
	k := decide.Kept{Yard: "mill", Name: name, Situation: decide.Situation{
		History: h, Lines: set, MissCost: decide.DefaultMissCost, MinWorth: decide.DefaultMinWorth, Costs: decide.DefaultCosts(),
	}}
	return on(t, k, today)
}

// on brings a colony to a day.
func on(t testing.TB, k decide.Kept, today sampling.Date) decide.Kept {
	t.Helper()
	var err error
	if k.State, err = k.History.On(today); err != nil {
		t.Fatal(err)
	}
	k.Threshold, _ = k.History.Year.Line(k.Lines, today, false)
	return k
}

func calendar(t testing.TB, today sampling.Date, colonies ...decide.Kept) decide.Calendar {
	y := today.Time().Year()
	c := decide.Calendar{
		From: today, Days: 365, Year: year(t, decide.YearSettings{}), Colonies: colonies,
		Summer: treatment(t, "oxalic-vapour"), Winter: treatment(t, "oxalic-vapour"),
	}
	for _, y := range []int{y - 1, y, y + 1} {
		c.Supers = append(c.Supers,
			decide.Supers{On: sampling.Day(y, 4, 20), Off: sampling.Day(y, 5, 25)},
			decide.Supers{On: sampling.Day(y, 6, 10), Off: sampling.Day(y, 7, 21)})
	}
	return c
}

func events(t testing.TB, c decide.Calendar) []decide.Event {
	t.Helper()
	out, err := c.Events()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// of is the events of some kinds that are about a colony.
func of(all []decide.Event, colony string, kinds ...decide.EventKind) []decide.Event {
	return slices.DeleteFunc(slices.Clone(all), func(e decide.Event) bool {
		return !slices.Contains(kinds, e.Kind) || colony != "" && !slices.Contains(e.Colonies, colony)
	})
}

func TestYearOfAYard(t *testing.T) {
	today := day(t, "2026-03-10")
	all := events(t, calendar(t, today, kept(t, "alder", today), kept(t, "birch", today, "roll:1/300/3f@2026-03-05")))
	for _, want := range []struct {
		kind        decide.EventKind
		date, until string
	}{
		{decide.EventSupersOn, "2026-04-20", "2026-05-24"},
		{decide.EventSupersOff, "2026-05-25", ""},
		{decide.EventSupersOff, "2026-07-21", ""},
		{decide.EventWindow, "2026-07-22", "2026-08-31"},
		{decide.EventSeason, "2026-08-01", ""},
		{decide.EventSeason, "2026-11-15", ""},
		{decide.EventWindow, "2026-11-15", "2027-01-14"},
		{decide.EventSeason, "2027-03-01", ""},
	} {
		if !slices.ContainsFunc(all, func(e decide.Event) bool {
			return e.Kind == want.kind && e.Date.String() == want.date && e.Until.String() == want.until
		}) {
			t.Errorf("no %s from %s until %q", want.kind, want.date, want.until)
		}
	}
	// Four rounds every five days from the opening of the window, and 14 days
	// after the last the count that tells whether they worked.
	followUps := of(all, "birch", decide.EventFollowUp)
	if !slices.ContainsFunc(followUps, func(e decide.Event) bool { return e.Date == day(t, "2026-07-22")+15+14 }) {
		t.Errorf("follow-ups %v", followUps)
	}
	if high := of(all, "birch", decide.EventSummerHigh); len(high) != 1 || high[0].Date > day(t, "2026-08-01") || high[0].Until != day(t, "2026-11-01") {
		t.Errorf("late-summer high %v", high)
	}
}

// A yard with many mites is seen earlier, and its late-summer high comes
// earlier: the dates are forecasts, not fixed offsets.
func TestHighYardsAreSeenEarlier(t *testing.T) {
	today := day(t, "2026-05-20")
	low := events(t, calendar(t, today, kept(t, "alder", today, "roll:0/300/3f@2026-05-19", "wash:1/600/6f@2026-05-20")))
	high := events(t, calendar(t, today, kept(t, "alder", today, "roll:5/300/3f@2026-05-19", "wash:9/600/6f@2026-05-20")))
	if l, h := of(low, "alder", decide.EventLook)[0], of(high, "alder", decide.EventLook)[0]; h.Date+7 > l.Date {
		t.Errorf("low yard on %s, high yard on %s", l.Date, h.Date)
	}
	if l, h := of(low, "alder", decide.EventSummerHigh)[0], of(high, "alder", decide.EventSummerHigh)[0]; h.Date >= l.Date {
		t.Errorf("late-summer high of the low yard from %s, of the high yard from %s", l.Date, h.Date)
	}
}

// A look that was made moves the next one, and the event keeps its name.
func TestALookMovesTheNext(t *testing.T) {
	today := day(t, "2026-05-20")
	colony := kept(t, "alder", today, "wash:6/600/6f@2026-05-20")
	before := of(events(t, calendar(t, today, colony)), "alder", decide.EventLook)
	later := today + 7
	colony.History.Counts = append(colony.History.Counts, counted(t, "wash:1/600/6f@"+later.String()))
	after := of(events(t, calendar(t, later, on(t, colony, later))), "alder", decide.EventLook)
	if after[0].Date <= before[0].Date {
		t.Errorf("next look on %s, after a low count on %s", before[0].Date, after[0].Date)
	}
	if before[0].Key != "look-2026-2-mill" || after[0].Key != "look-2026-3-mill" {
		t.Errorf("names %s and %s", before[0].Key, after[0].Key)
	}
	// Nothing was counted: a week later the same look has the same name.
	colony.History.Counts = colony.History.Counts[:1]
	if same := of(events(t, calendar(t, later, on(t, colony, later))), "alder", decide.EventLook); same[0].Key != before[0].Key {
		t.Errorf("name %s, a week before %s", same[0].Key, before[0].Key)
	}
}

func TestPlansOfTheRecordCloseTheirWindow(t *testing.T) {
	today := day(t, "2026-06-01")
	alder, birch := kept(t, "alder", today, "roll:3/300/3f@2026-05-28"), kept(t, "birch", today, "roll:3/300/3f@2026-05-28")
	alder.History.Treatments = []decide.TreatmentDay{{On: day(t, "2026-07-25"), Treatment: treatment(t, "thymol")}}
	all := events(t, calendar(t, today, on(t, alder, today), birch))
	for _, e := range of(all, "", decide.EventWindow) {
		if e.Date == day(t, "2026-07-22") && !slices.Equal(e.Colonies, []string{"birch"}) {
			t.Errorf("the window after the harvest is for %v", e.Colonies)
		}
	}
	if given := of(all, "alder", decide.EventTreatment); len(given) != 1 || given[0].Until != day(t, "2026-07-25")+28 {
		t.Errorf("treatments %v", given)
	}
	for _, e := range of(all, "alder", decide.EventLook, decide.EventFollowUp) {
		if e.Date >= day(t, "2026-07-25") && e.Date < day(t, "2026-07-25")+28 {
			t.Errorf("a count on %s, while thymol is in the hive", e.Date)
		}
	}
}

// Whatever the counts and the day: windows with rounds are clear of supers,
// follow-ups come no sooner than 14 days after a treatment that came before
// them, no name comes twice, and no month of the warm season is without a look.
func TestCalendarProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		today := day(t, "2026-01-01") + sampling.Date(rapid.IntRange(0, 364).Draw(r, "day"))
		var colonies []decide.Kept
		for i := range rapid.IntRange(1, 2).Draw(r, "colonies") {
			var counts []string
			if rapid.Bool().Draw(r, "counted") {
				counts = append(counts, "roll:"+string('0'+rune(rapid.IntRange(0, 9).Draw(r, "mites")))+"/300/3f@"+(today-sampling.Date(rapid.IntRange(0, 40).Draw(r, "age"))).String())
			}
			colonies = append(colonies, kept(t, []string{"alder", "birch"}[i], today, counts...))
		}
		c := calendar(t, today, colonies...)
		c.Days = rapid.IntRange(1, 250).Draw(r, "days")
		all, err := c.Events()
		if err != nil {
			r.Fatal(err)
		}
		keys := map[string]bool{}
		for i, e := range all {
			if keys[e.Key] {
				r.Errorf("%s comes twice", e.Key)
			}
			keys[e.Key] = true
			if i > 0 && e.Date < all[i-1].Date {
				r.Errorf("%s is out of order", e.Key)
			}
			if e.Because == "" || strings.HasSuffix(e.Because, ".") {
				r.Errorf("%s because %q", e.Key, e.Because)
			}
			if strings.HasPrefix(e.Key, "window-summer") {
				for _, s := range c.Supers {
					if e.Date < s.Off && e.Until >= s.On {
						r.Errorf("window %s to %s with supers on from %s", e.Date, e.Until, s.On)
					}
				}
				if e.Until-e.Date < 15 {
					r.Errorf("window %s to %s is too short for the capped brood", e.Date, e.Until)
				}
			}
		}
		for _, k := range colonies {
			last := today
			for _, e := range of(all, k.Name, decide.EventLook, decide.EventFollowUp) {
				cold := c.Season(e.Date) == decide.Winter || c.Season(last) == decide.Winter
				if gap := e.Date - last; gap > 50 && !cold {
					r.Errorf("%s: no look from %s to %s", k.Name, last, e.Date)
				}
				last = e.Date
			}
		}
	})
}

func TestCalendarErrors(t *testing.T) {
	today := day(t, "2026-03-10")
	var e *sampling.ValueError
	for name, change := range map[string]func(*decide.Calendar){
		"days":     func(c *decide.Calendar) { c.Days = 0 },
		"too long": func(c *decide.Calendar) { c.Days = 1000 },
		"no day":   func(c *decide.Calendar) { c.From = 0 },
		"season":   func(c *decide.Calendar) { c.Year = decide.Year{} },
		"supers":   func(c *decide.Calendar) { c.Supers[0].Off = c.Supers[0].On },
		"summer":   func(c *decide.Calendar) { c.Summer = sampling.Treatment{} },
	} {
		c := calendar(t, today, kept(t, "alder", today))
		change(&c)
		if _, err := c.Events(); !errors.As(err, &e) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
