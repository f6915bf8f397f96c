package decide_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/sampling"
)

func day(t testing.TB, s string) sampling.Date {
	t.Helper()
	d, err := sampling.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func year(t testing.TB, s decide.YearSettings) decide.Year {
	t.Helper()
	got, err := decide.NewYear(s)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestSeason(t *testing.T) {
	north := year(t, decide.YearSettings{})
	south := year(t, decide.YearSettings{Hemisphere: decide.South})
	late := year(t, decide.YearSettings{MostBrood: "06-19"}) // 30 days later
	warm := year(t, decide.YearSettings{Set: "warm"})
	// Own dates are the beekeeper's: they do not move with the hemisphere.
	own := year(t, decide.YearSettings{Hemisphere: decide.South, Starts: map[decide.Season]string{decide.Summer: "11-20"}})
	for _, c := range []struct {
		name string
		year decide.Year
		day  string
		want decide.Season
	}{
		{"before the year's first start", north, "2026-01-01", decide.Winter},
		{"last day of the year", north, "2026-12-31", decide.Winter},
		{"leap day", north, "2028-02-29", decide.Winter},
		{"first day", north, "2026-03-01", decide.Spring},
		{"midsummer", north, "2026-06-21", decide.Summer},
		{"winter bees", north, "2026-08-01", decide.LateSummer},
		{"autumn", north, "2026-11-14", decide.Autumn},
		{"midsummer in the south", south, "2026-12-21", decide.Summer},
		{"southern late summer", south, "2026-02-01", decide.LateSummer},
		{"southern winter", south, "2026-06-21", decide.Winter},
		{"southern spring", south, "2026-09-01", decide.Spring},
		{"a month later", late, "2026-03-30", decide.Winter},
		{"a month later, spring", late, "2026-03-31", decide.Spring},
		{"never without brood", warm, "2026-12-31", decide.Autumn},
		{"never without brood, spring", warm, "2026-02-01", decide.Spring},
		{"own date in the south", own, "2026-11-20", decide.Summer},
		{"day before own date", own, "2026-11-19", decide.Spring},
	} {
		if got := c.year.Season(day(t, c.day)); got != c.want {
			t.Errorf("%s: %s is %s, want %s", c.name, c.day, got, c.want)
		}
	}
	if got := warm.Next(decide.Winter, day(t, "2026-01-01")); !got.IsZero() {
		t.Errorf("a season that never comes begins on %s", got)
	}
}

// The southern year is the northern one six months later.
func TestSouthIsHalfAYearLater(t *testing.T) {
	for _, set := range decide.YearSets() {
		north := year(t, decide.YearSettings{Set: set})
		south := year(t, decide.YearSettings{Set: set, Hemisphere: decide.South})
		for _, s := range decide.Seasons() {
			n, d := north.Next(s, day(t, "2026-06-30")), south.Next(s, day(t, "2026-12-31"))
			if n.IsZero() && d.IsZero() {
				continue
			}
			if got := n.Time().AddDate(0, 6, 0); got != d.Time() {
				t.Errorf("%s begins on %s in the north and %s in the south", s, n, d)
			}
		}
	}
}

func drawYear(r *rapid.T, t testing.TB) decide.Year {
	return year(t, decide.YearSettings{
		Set:        rapid.SampledFrom(decide.YearSets()).Draw(r, "set"),
		Hemisphere: rapid.SampledFrom([]decide.Hemisphere{decide.North, decide.South}).Draw(r, "hemisphere"),
		MostBrood:  rapid.SampledFrom([]string{"", "", "01-01", "04-05", "05-20", "07-04", "10-08", "12-31"}).Draw(r, "most brood"),
	})
}

func drawDay(r *rapid.T) sampling.Date {
	return sampling.Date(rapid.IntRange(int(sampling.Day(1990, 1, 1)), int(sampling.Day(2100, 1, 1))).Draw(r, "day"))
}

func TestNextStartsTheSeason(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		y, d := drawYear(r, t), drawDay(r)
		s := rapid.SampledFrom(decide.Seasons()).Draw(r, "season")
		next := y.Next(s, d)
		if next.IsZero() {
			return
		}
		if next <= d || next > d+366 || y.Season(next) != s || y.Season(next-1) == s {
			r.Fatalf("%s after %s begins on %s", s, d, next)
		}
	})
}

// A line that falls has arrived on the first day of the new season, and one that
// rises starts on it; either takes 30 days. Naive: a step, with which one count
// is fine on one day and over the line on the next.
func TestLineMoves(t *testing.T) {
	y := year(t, decide.YearSettings{})
	set, err := decide.ThresholdSet("composite")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		day        string
		watch, act float64
	}{
		{"2026-05-31", 1, 2},
		{"2026-06-01", 1, 2}, // rises from here
		{"2026-06-16", 1.5, 2.5},
		{"2026-07-01", 2, 3},
		{"2026-07-02", 2, 3}, // falls from here
		{"2026-07-17", 1.5, 2.5},
		{"2026-08-01", 1, 2},
		{"2026-09-30", 1, 2},
		{"2026-10-16", 1.25, 2.5}, // still rising; the fall to winter begins
		{"2026-10-31", 1, 2},      // autumn's line is reached, and half of the fall
		{"2026-11-15", 0.5, 1},
		{"2027-02-28", 0.5, 1},
		{"2027-03-16", 0.75, 1.5},
		{"2027-03-31", 1, 2},
	} {
		got, ok := y.Line(set, day(t, c.day), false)
		if !ok || !(math.Abs(got.Watch-c.watch) < 1e-9) || !(math.Abs(got.Act-c.act) < 1e-9) {
			t.Errorf("%s: watch %v and act %v, want %v and %v", c.day, got.Watch, got.Act, c.watch, c.act)
		}
	}
	if got, _ := y.Line(set, day(t, "2026-06-20"), true); got.Season != decide.Winter || got.Act != 1 {
		t.Errorf("a colony without brood in June: %+v", got)
	}
	if _, ok := y.Line(set[:2], day(t, "2026-06-20"), false); ok {
		t.Error("a set that lacks seasons gives a line")
	}
	if _, ok := (decide.Year{}).Line(set, day(t, "2026-06-20"), false); ok {
		t.Error("no year gives a line")
	}
}

// From one day to the next the line moves by at most 0.1 per hundred.
func TestLineHasNoSteps(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		y, d := drawYear(r, t), drawDay(r)
		set, err := decide.ThresholdSet(rapid.SampledFrom([]string{"composite", "flat-2", "flat-3"}).Draw(r, "lines"))
		if err != nil {
			r.Fatal(err)
		}
		a, okA := y.Line(set, d, false)
		b, okB := y.Line(set, d+1, false)
		if !okA || !okB || !(math.Abs(a.Act-b.Act) <= 0.1) || !(math.Abs(a.Watch-b.Watch) <= 0.1) || !(a.Watch <= a.Act) {
			r.Fatalf("%+v on %s, %+v the day after", a, d, b)
		}
	})
}

func TestYearErrors(t *testing.T) {
	starts := func(s decide.Season, from string) decide.YearSettings {
		return decide.YearSettings{Starts: map[decide.Season]string{s: from}}
	}
	for _, c := range []struct {
		settings decide.YearSettings
		want     string
	}{
		{decide.YearSettings{Hemisphere: "east"}, `hemisphere: "east" is not a hemisphere: write north or south`},
		{decide.YearSettings{Set: "temprate"}, "did you mean temperate?"},
		{decide.YearSettings{MostBrood: "20 May"}, `day of most brood: "20 May" is not a month and a day`},
		{starts("peak", "06-01"), "season peak: peak is now called summer: write summer"},
		{starts("decline", "06-01"), "decline is now called late-summer"},
		{starts("buildup", "06-01"), "buildup is now called spring"},
		{starts("broodless", "06-01"), "broodless is now called winter"},
		{starts("dormant", "06-01"), "dormant is now called winter"},
		{starts("sumer", "03-01"), "did you mean summer?"},
		{starts(decide.Spring, "02-30"), "season spring: there is no such day as 02-30"},
		{starts(decide.Spring, "02-29"), "02-29 is not in every year"},
		{starts(decide.Spring, "March"), `"March" is not a month and a day`},
		{starts(decide.Spring, ""), `"" is not a month and a day`},
		{starts(decide.Spring, "07-01"), "season late-summer: it would begin (08-01) before summer does (06-01)"},
		{starts(decide.Spring, "05-10"), "season summer: it begins (06-01) 22 days after spring does (05-10)"},
		{starts(decide.Summer, "03-01"), "season summer: it begins (03-01) 0 days after spring does (03-01)"},
		{starts(decide.Summer, decide.Never), "season summer: no colony goes without it"},
	} {
		_, err := decide.NewYear(c.settings)
		var value *sampling.ValueError
		if !errors.As(err, &value) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.settings, err, c.want)
		}
	}
	if _, err := decide.NewYear(starts(decide.Winter, decide.Never)); err != nil {
		t.Errorf("a year without winter: %v", err)
	}
}
