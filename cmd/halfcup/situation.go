package main

import (
	"fmt"
	"math"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// situationFlags are the flags of every command that judges a colony.
func situationFlags() []cli.Flag {
	flags := []cli.Flag{
		&cli.StringFlag{Name: "colony", Usage: "take the colony `NAME` from the record, as it is today"},
		&cli.StringFlag{Name: "yard", Usage: "its yard, `NAME`, when two yards have a colony of that name"},
		&cli.StringFlag{Name: "thresholds", Usage: "set of lines, `NAME|FILE`: composite, flat-2, flat-3 or a CSV file", DefaultText: decide.DefaultThresholds},
		&cli.StringFlag{Name: "watch", Usage: "own line to look closer, `MITES` per hundred bees"},
		&cli.StringFlag{Name: "act", Usage: "own line to act, `MITES` per hundred bees"},
		&cli.StringFlag{Name: "miss-cost", Value: show.Plain(decide.DefaultMissCost), Usage: "how many needless treatments one missed one is worth, `N`"},
		&cli.StringFlag{Name: "min-worth", Value: show.Plain(decide.DefaultMinWorth), Usage: "least worth of a further look, in needless treatments, `N`"},
		&cli.StringFlag{Name: "next-treatment", Usage: "the next planned treatment, `DATE`", DefaultText: "the next one in the record"},
		&cli.StringFlag{Name: "supers", Usage: "whether honey supers are on `on|off`", DefaultText: "as the record says, else off"},
		&cli.StringFlag{Name: "arrivals", Value: "none", Usage: "mites that come in from other colonies `none|few|many|N` a day"},
	}
	flags = append(flags, seasonFlags()...)
	flags = append(flags, assumptionFlags()...)
	return append(flags, countFlags()...)
}

// situation is everything a judgement rests on: the counts on the line or the
// record of a colony, the line of the season, the schedule and the costs.
type situation struct {
	decide.Situation
	basis
	died sampling.Date // zero when the colony lives
}

// situation reads the flags of situationFlags, the counts on the line and, when
// a colony is named, the record.
func (sh *shell) situation(c *cli.Context) (*situation, error) {
	a, err := sh.assumptions(c)
	if err != nil {
		return nil, err
	}
	season, err := sh.season(c)
	if err != nil {
		return nil, err
	}
	typed, err := sh.counts(c)
	if err != nil {
		return nil, err
	}
	base := seasonOf{History: decide.History{Assumptions: a.Assumptions, Season: season, Rates: decide.DefaultRates()}}
	if base.Arrivals, err = arrivals(c); err != nil {
		return nil, err
	}
	day := sh.today
	if c.IsSet("colony") {
		rec, err := sh.record()
		if err != nil {
			return nil, err
		}
		if rec == nil {
			return nil, &show.Problem{What: "there is no record " + sh.logFile + " to find a colony in", Remedy: "begin one with halfcup log add, or name it with --log"}
		}
		if base, err = historyOf(rec, c.String("yard"), c.String("colony"), base.History, day); err != nil {
			return nil, err
		}
	} else if latest := latestDay(typed); !latest.IsZero() {
		day = latest
	}
	for _, count := range typed {
		if count.Method.Kind() == sampling.BeeSample {
			if _, _, err := a.BeesOf(count); err != nil {
				return nil, err // before it is given a date it was not typed with
			}
		}
		if count.Date.IsZero() {
			count.Date = day
		}
		base.Counts = append(base.Counts, count)
	}
	s := &situation{basis: a, died: base.Died, Situation: decide.Situation{
		History: base.History, Costs: sh.settings.costs(), NextTreatment: base.Planned, SupersOn: base.SupersOn,
	}}
	if s.State, err = base.On(day); err != nil {
		return nil, err
	}
	if len(typed) > 0 {
		s.Hive = typed[len(typed)-1].Hive
	}
	if base.AdultBees > 0 {
		s.Hive.AdultBees = base.AdultBees
	}
	return s, sh.line(c, s)
}

// latestDay is the day of the last dated count, zero when none has a date.
func latestDay(counts []sampling.Count) sampling.Date {
	var day sampling.Date
	for _, c := range counts {
		day = max(day, c.Date)
	}
	return day
}

// name is a count as it was typed: with its date, unless that is the day the
// answer is for.
func (s *situation) name(c sampling.Count) string {
	if c.Date == s.State.Day {
		c.Date = 0
	}
	return c.String()
}

// line reads what the colony is held against, and the schedule.
func (sh *shell) line(c *cli.Context, s *situation) error {
	set, err := sh.thresholds(c)
	if err != nil {
		return err
	}
	phase := s.History.Season.Phase(s.State.Day)
	threshold, ok := decide.In(set, phase)
	if !ok {
		return badValue("thresholds", c.String("thresholds"), "this set has no line for the phase "+string(phase), "give one row for each phase")
	}
	if err := sh.ownLines(c, &threshold); err != nil {
		return err
	}
	s.Threshold = threshold
	if s.MissCost, err = number(c, "miss-cost", sh.settings.MissCost, 0.1, 100); err != nil {
		return err
	}
	if s.MinWorth, err = number(c, "min-worth", sh.settings.MinWorth, 0, 3); err != nil {
		return err
	}
	if c.IsSet("next-treatment") {
		if s.NextTreatment, err = date(c, "next-treatment"); err != nil {
			return err
		}
		if s.NextTreatment < s.State.Day {
			return badValue("next-treatment", c.String("next-treatment"), "this day is past", "give a day from "+s.State.Day.String()+" on")
		}
	}
	if c.IsSet("supers") {
		on, err := choice(c, "supers", "on", "off")
		if err != nil {
			return err
		}
		s.SupersOn = on == "on"
	}
	return nil
}

// thresholds reads --thresholds: the name of a set, or of a file.
func (sh *shell) thresholds(c *cli.Context) ([]decide.Threshold, error) {
	name := decide.DefaultThresholds
	if v := sh.settings.Thresholds; v != nil {
		name = *v
	}
	if c.IsSet("thresholds") {
		name = c.String("thresholds")
	}
	if !strings.ContainsAny(name, `./\`) {
		set, err := decide.ThresholdSet(name)
		return set, inFlag("thresholds", err)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	set, err := decide.ReadThresholds(f)
	if e, ok := err.(*decide.TableError); ok {
		return nil, &show.Problem{File: name, Line: e.Line, Column: e.Column, What: e.Problem, Remedy: e.Remedy}
	}
	return set, err
}

// ownLines puts --watch and --act over the set.
func (sh *shell) ownLines(c *cli.Context, t *decide.Threshold) error {
	act, watch := sh.settings.Act, sh.settings.Watch
	for name, own := range map[string]**float64{"act": &act, "watch": &watch} {
		if c.IsSet(name) {
			v, err := number(c, name, nil, 0.01, 100)
			if err != nil {
				return err
			}
			*own = &v
		}
	}
	if act == nil && watch == nil {
		return nil
	}
	if watch != nil {
		t.Watch = *watch
	}
	if act != nil {
		t.Act = *act
	}
	if t.Watch > t.Act {
		if watch != nil && act != nil {
			return &show.Problem{What: fmt.Sprintf("the line to look closer, %s, is above the line to act, %s", show.Plain(t.Watch), show.Plain(t.Act)), Remedy: "give --watch a level at or below --act"}
		}
		// Only one of the two was moved past the other.
		t.Watch, t.Act = math.Min(t.Watch, t.Act), math.Max(t.Watch, t.Act)
		if act != nil {
			t.Watch, t.Act = *act, *act
		}
	}
	t.Set, t.Source, t.Kind = "own", "your own line", "your own"
	return nil
}

// Mites that come in from other colonies in a day. Judgements from Greatti,
// Milani & Nazzi 1992, Exp Appl Acarol 16:279-286, and Frey & Rosenkranz 2014, J
// Econ Entomol 107:508-515, who saw 1 to 11 a day in late summer, and up to 76
// in a dense area in autumn.
var arrivalWords = map[string]float64{"none": 0, "few": 2, "many": 8}

func arrivals(c *cli.Context) (float64, error) {
	v := c.String("arrivals")
	if n, ok := arrivalWords[v]; ok {
		return n, nil
	}
	n, err := parseNumber(v, 0, 1000)
	if err != nil {
		return 0, badValue("arrivals", v, fmt.Sprintf("%q is not a number of mites a day", v), "write none, few, many or a number from 0 to 1000")
	}
	return n, nil
}

// costs puts the beekeeper's own costs over the defaults.
func (s settings) costs() decide.Costs {
	c := decide.DefaultCosts()
	for _, own := range []struct {
		from *float64
		to   *float64
	}{
		{s.Costs.Per300Killed, &c.Per300Killed}, {s.Costs.Per10Minutes, &c.Per10Minutes}, {s.Costs.ExtraVisit, &c.ExtraVisit},
		{s.Costs.MinutesPerSample, &c.MinutesPerSample}, {s.Costs.MinutesPerFrame, &c.MinutesPerFrame},
		{s.Costs.MinutesPer100, &c.MinutesPer100}, {s.Costs.MinutesPerBoard, &c.MinutesPerBoard},
	} {
		if own.from != nil {
			*own.to = *own.from
		}
	}
	return c
}
