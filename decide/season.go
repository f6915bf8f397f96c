package decide

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"time"

	"halfcup/internal/meant"
	"halfcup/internal/table"
	"halfcup/sampling"
)

// Season is a part of the year by which the lines go.
type Season string

// The seasons, in the order of the year.
const (
	Spring     Season = "spring"
	Summer     Season = "summer"
	LateSummer Season = "late-summer" // winter bees are raised
	Autumn     Season = "autumn"      // brood is ending
	Winter     Season = "winter"      // no sealed brood
)

// Seasons lists the seasons in the order of the year.
func Seasons() []Season { return []Season{Spring, Summer, LateSummer, Autumn, Winter} }

// Never, as the start of a season, says that the colonies do not have it.
const Never = "never"

// renamed are the names that seasons had before, and the ones they have now.
var renamed = map[Season]Season{
	"broodless": Winter, "dormant": Winter, "buildup": Spring, "peak": Summer, "decline": LateSummer,
}

// Renamed is the present name of a season that had the name old before.
func Renamed(old string) (Season, bool) {
	now, was := renamed[Season(old)]
	return now, was
}

// seasonRow is when a season of a set of years begins: a row of seasons.csv.
type seasonRow struct {
	Set          string
	Season       Season
	From         string // month and day in the north, such as "03-01"
	Source, Kind string
}

//go:embed seasons.csv
var seasonsCSV string

var seasonTable = func() []seasonRow {
	var out []seasonRow
	for _, r := range table.Read(seasonsCSV) {
		out = append(out, seasonRow{r["set"], Season(r["season"]), r["from"], r["source"], r["kind"]})
	}
	return out
}()

// leastSeason is the shortest season in days: the line takes so long to move.
const leastSeason = 30

// seasonStart is when a season of somebody's year begins.
type seasonStart struct {
	Season
	month time.Month
	day   int
}

// on is the first day of the season in the given year.
func (s seasonStart) on(year int) sampling.Date { return sampling.Day(year, s.month, s.day) }

func (s seasonStart) String() string { return fmt.Sprintf("%02d-%02d", s.month, s.day) }

// seasonStarts puts the beekeeper's own dates over those of the set, which are
// moved by so many days.
func seasonStarts(s YearSettings, moved int) ([]seasonStart, error) {
	for _, season := range sortedKeys(s.Starts) {
		if err := season.Check(); err != nil {
			return nil, err
		}
	}
	var out []seasonStart
	for _, season := range Seasons() {
		at := seasonStart{Season: season}
		i := slices.IndexFunc(seasonTable, func(r seasonRow) bool { return r.Set == s.Set && r.Season == season })
		switch own, isOwn := s.Starts[season]; {
		case own == Never && season != Winter:
			return nil, seasonError(season, "no colony goes without it", "give the month and day it begins, such as 03-01; only winter may never come")
		case own == Never, !isOwn && i < 0:
			continue
		case isOwn:
			var err error
			if at.month, at.day, err = monthDay("season "+string(season), own); err != nil {
				return nil, err
			}
		default:
			day := tableDay(seasonTable[i].From)
			if s.Hemisphere == South {
				day = halfAYearOn(day)
			}
			_, at.month, at.day = time.Date(commonYear, time.January, 1+day+moved, 0, 0, 0, 0, time.UTC).Date()
		}
		out = append(out, at)
	}
	return out, checkOrder(out)
}

// checkOrder makes sure that the starts go once round the year, far enough from
// each other for the line to move between them.
func checkOrder(starts []seasonStart) error {
	around := 0
	for i, s := range starts {
		next := starts[(i+1)%len(starts)]
		days := int(next.on(commonYear) - s.on(commonYear))
		if days < 0 {
			days += daysOfYear
		}
		if days < leastSeason {
			return seasonError(next.Season, fmt.Sprintf("it begins (%s) %d days after %s does (%s)", next, days, s.Season, s), fmt.Sprintf("give every season %d days or more", leastSeason))
		}
		if around += days; around > daysOfYear {
			return seasonError(next.Season, fmt.Sprintf("it would begin (%s) before %s does (%s)", next, s.Season, s), "the order of the year is "+seasonNames())
		}
	}
	return nil
}

func seasonNames() string {
	var names []string
	for _, s := range Seasons() {
		names = append(names, string(s))
	}
	return strings.Join(names, ", ")
}

// began is which of the seasons a day is in, and the first day of that season.
func (y Year) began(d sampling.Date) (which int, on sampling.Date) {
	year := d.Time().Year()
	for i, s := range *y.filled().seasons {
		start := s.on(year)
		if start > d {
			start = s.on(year - 1)
		}
		if start > on || on.IsZero() {
			which, on = i, start
		}
	}
	return which, on
}

// Season is the season a day is in.
func (y Year) Season(d sampling.Date) Season {
	i, _ := y.began(d)
	return (*y.filled().seasons)[i].Season
}

// Next is the first day after d on which the season begins, the zero Date when
// the year has no such season.
func (y Year) Next(season Season, d sampling.Date) sampling.Date {
	for _, s := range *y.filled().seasons {
		if s.Season != season {
			continue
		}
		year := d.Time().Year()
		if start := s.on(year); start > d {
			return start
		}
		return s.on(year + 1)
	}
	return 0
}

func seasonError(s Season, problem, remedy string) *sampling.ValueError {
	return &sampling.ValueError{Name: "season " + string(s), Problem: problem, Remedy: remedy}
}

// Check reports a name that no season has, as a *sampling.ValueError that asks
// for the nearest.
func (s Season) Check() error {
	if slices.Contains(Seasons(), s) {
		return nil
	}
	problem, remedy := unknownSeason(s)
	return seasonError(s, problem, remedy)
}

// unknownSeason says what is wrong with a name that no season has.
func unknownSeason(s Season) (problem, remedy string) {
	if now, was := Renamed(string(s)); was {
		return fmt.Sprintf("%s is now called %s", s, now), fmt.Sprintf("write %s; the seasons are %s", now, seasonNames())
	}
	names := strings.Split(seasonNames(), ", ")
	return "there is no such season", meant.Remedy(string(s), names, "The seasons are "+seasonNames(), "write one of "+seasonNames())
}

// monthDay reads a day of every year, such as 03-01.
func monthDay(name, s string) (time.Month, int, error) {
	fail := func(problem string) (time.Month, int, error) {
		return 0, 0, &sampling.ValueError{Name: name, Problem: problem, Remedy: "write the month and the day, such as 03-01"}
	}
	t, err := time.Parse("01-02", s)
	switch {
	case s == "02-29":
		return fail("02-29 is not in every year")
	case err != nil && len(s) == 5 && s[2] == '-':
		return fail("there is no such day as " + s)
	case err != nil:
		return fail(fmt.Sprintf("%q is not a month and a day", s))
	}
	return t.Month(), t.Day(), nil
}

// sortedKeys makes an error about two wrong names always name the same one.
func sortedKeys[V any](m map[Season]V) []Season {
	keys := make([]Season, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
