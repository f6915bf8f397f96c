package decide_test

import (
	"errors"
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

func season(t testing.TB, s decide.SeasonSettings) decide.Season {
	t.Helper()
	got, err := decide.NewSeason(s)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestPhase(t *testing.T) {
	north := season(t, decide.SeasonSettings{})
	south := season(t, decide.SeasonSettings{Hemisphere: decide.South})
	mild := season(t, decide.SeasonSettings{Starts: map[decide.Phase]string{decide.Broodless: decide.Never, decide.Dormant: "12-20"}})
	// Own dates are the beekeeper's: they do not move with the hemisphere.
	own := season(t, decide.SeasonSettings{Hemisphere: decide.South, Starts: map[decide.Phase]string{decide.Peak: "11-20"}})
	for _, c := range []struct {
		name   string
		season decide.Season
		day    string
		want   decide.Phase
	}{
		{"before the year's first start", north, "2026-01-01", decide.Broodless},
		{"last day of the year", north, "2026-12-31", decide.Broodless},
		{"day before", north, "2026-02-28", decide.Dormant},
		{"leap day", north, "2028-02-29", decide.Dormant},
		{"first day", north, "2026-03-01", decide.Buildup},
		{"midsummer", north, "2026-06-21", decide.Peak},
		{"autumn", north, "2026-11-14", decide.Decline},
		{"midsummer in the south", south, "2026-12-21", decide.Peak},
		{"southern autumn", south, "2026-02-01", decide.Decline},
		{"southern winter", south, "2026-06-21", decide.Broodless},
		{"southern spring", south, "2026-09-01", decide.Buildup},
		{"never broodless", mild, "2026-12-01", decide.Decline},
		{"never broodless, new year", mild, "2026-01-01", decide.Dormant},
		{"own date in the south", own, "2026-11-20", decide.Peak},
		{"day before own date", own, "2026-11-19", decide.Buildup},
	} {
		if got := c.season.Phase(day(t, c.day)); got != c.want {
			t.Errorf("%s: %s is %s, want %s", c.name, c.day, got, c.want)
		}
	}
	if got := mild.Next(decide.Broodless, day(t, "2026-01-01")); !got.IsZero() {
		t.Errorf("a phase that never comes begins on %s", got)
	}
}

// The southern year is the northern one six months later.
func TestSouthIsHalfAYearLater(t *testing.T) {
	north := season(t, decide.SeasonSettings{})
	south := season(t, decide.SeasonSettings{Hemisphere: decide.South})
	for _, p := range decide.Phases() {
		n, s := north.Next(p.Phase, day(t, "2026-06-30")).Time(), south.Next(p.Phase, day(t, "2026-12-31")).Time()
		if got := n.AddDate(0, 6, 0); got != s {
			t.Errorf("%s begins on %s in the north and %s in the south", p.Phase, n, s)
		}
	}
}

func TestNextStartsThePhase(t *testing.T) {
	s := season(t, decide.SeasonSettings{})
	rapid.Check(t, func(r *rapid.T) {
		d := sampling.Date(rapid.IntRange(int(sampling.Day(1990, 1, 1)), int(sampling.Day(2100, 1, 1))).Draw(r, "day"))
		p := rapid.SampledFrom(decide.Phases()).Draw(r, "phase").Phase
		next := s.Next(p, d)
		if next <= d || next > d+366 || s.Phase(next) != p || s.Phase(next-1) == p {
			r.Fatalf("%s after %s begins on %s", p, d, next)
		}
	})
}

// Broodless means without capped brood: the last cell is capped one capped
// time before.
func TestCappingEndsBeforeTheBroodlessPhase(t *testing.T) {
	s := season(t, decide.SeasonSettings{})
	for d, want := range map[string]decide.Brood{
		"2026-10-31": decide.FullBrood,
		"2026-11-01": decide.NoBrood,
		"2027-01-14": decide.NoBrood,
		"2027-01-15": decide.LittleBrood,
		"2027-03-01": decide.FullBrood,
	} {
		if got := s.Capping(day(t, d)); got != want {
			t.Errorf("%s: %v, want %v", d, got, want)
		}
	}
}

func TestSeasonErrors(t *testing.T) {
	starts := func(p decide.Phase, s string) decide.SeasonSettings {
		return decide.SeasonSettings{Starts: map[decide.Phase]string{p: s}}
	}
	for _, c := range []struct {
		settings decide.SeasonSettings
		want     string
	}{
		{decide.SeasonSettings{Hemisphere: "east"}, `hemisphere: "east" is not a hemisphere: write north or south`},
		{starts("summer", "06-01"), "season summer: there is no such phase"},
		{starts("build-up", "03-01"), "did you mean buildup?"},
		{starts(decide.Buildup, "02-30"), "season buildup: there is no such day as 02-30"},
		{starts(decide.Buildup, "02-29"), "02-29 is not in every year"},
		{starts(decide.Buildup, "March"), `"March" is not a month and a day`},
		{starts(decide.Buildup, ""), `"" is not a month and a day`},
		{starts(decide.Buildup, "07-01"), "season peak: it would begin (06-01) before buildup does (07-01)"},
		{starts(decide.Peak, "03-01"), "season peak: it begins on the same day as buildup (03-01)"},
		{starts(decide.Peak, decide.Never), "season peak: no colony goes without it"},
		{decide.SeasonSettings{BeeGrowth: map[decide.Phase]float64{decide.Peak: 0.5}}, "season peak: adult bees cannot change by 0.5 a day"},
		{decide.SeasonSettings{BeeGrowth: map[decide.Phase]float64{"spring": 0}}, "season spring: there is no such phase"},
	} {
		_, err := decide.NewSeason(c.settings)
		var value *sampling.ValueError
		if !errors.As(err, &value) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.settings, err, c.want)
		}
	}
}
