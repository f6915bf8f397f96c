package main

import (
	"slices"

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
		&cli.StringFlag{Name: "next-treatment", Usage: "the next planned treatment, `DATE`", DefaultText: "the next one in the record"},
		&cli.StringFlag{Name: "supers", Usage: "whether honey supers are on `on|off`", DefaultText: "as the record says, else off"},
	}
	flags = append(flags, rulesFlags()...)
	return append(flags, countFlags()...)
}

// situation is everything a judgement rests on: the counts on the line or the
// record of a colony, the line of the season, the schedule and the costs.
type situation struct {
	decide.Situation
	basis
	died   sampling.Date // zero when the colony lives
	unread []string      // counts of the record that were left out, a sentence each

	southern bool // the colony is in the southern half of the earth
}

// situation reads the flags of situationFlags, the counts on the line and, when
// a colony is named, the record.
func (sh *shell) situation(c *cli.Context) (*situation, error) {
	r, err := sh.rules(c)
	if err != nil {
		return nil, err
	}
	typed, err := countsOfAnyDay(c)
	if err != nil {
		return nil, err
	}
	h := seasonOf{History: r.blank}
	day := sh.today
	if c.IsSet("colony") {
		if h, err = sh.recordedColony(c, r, day); err != nil {
			return nil, err
		}
	} else if latest := latestDay(typed); !latest.IsZero() {
		day = latest
	}
	for _, count := range typed {
		if count.Method.Kind() == sampling.BeeSample {
			if _, _, err := r.BeesOf(count); err != nil {
				return nil, err // before it is given a date it was not typed with
			}
		}
		if count.Date.IsZero() {
			count.Date = day
		}
		h.Counts = append(h.Counts, count)
		if count.Method == sampling.Knockdown {
			h.treated(count)
		}
	}
	s, err := r.situationOf(h, day)
	if err != nil {
		return nil, err
	}
	hemisphere, err := sh.hemisphere(c)
	if err != nil {
		return nil, err
	}
	s.southern = hemisphere == decide.South
	if len(typed) > 0 && s.Hive.AdultBees == 0 {
		s.Hive = typed[len(typed)-1].Hive
	}
	return s, sh.schedule(c, s)
}

// treated adds the treatment that a knockdown of the line counts, unless the
// record has it, so that what is known of today knows of the kill.
func (s *seasonOf) treated(knockdown sampling.Count) {
	t, err := knockdown.Treatment.Find()
	if err != nil {
		return // said when the count is read
	}
	on := s.TreatedBefore(knockdown)
	if slices.ContainsFunc(s.Treatments, func(d decide.TreatmentDay) bool { return d.On == on && d.Treatment.Active == t.Active }) {
		return
	}
	s.Treatments = append(s.Treatments, decide.TreatmentDay{On: on, Treatment: t})
	if knockdown.Hive.Broodless && s.CappedBrood(on) {
		// Nothing was capped for as long as a cell stays so.
		const capped = 25
		s.Breaks = append(s.Breaks, decide.BroodBreak{From: on - capped, To: knockdown.Date})
	}
}

// recordedColony reads --colony and --yard.
func (sh *shell) recordedColony(c *cli.Context, r rules, day sampling.Date) (seasonOf, error) {
	rec, err := sh.record()
	if err != nil {
		return seasonOf{}, err
	}
	if rec == nil {
		return seasonOf{}, &show.Problem{What: "there is no record " + sh.logFile + " to find a colony in", Remedy: "begin one with halfcup log add, or name it with --log"}
	}
	return historyOf(rec, c.String("yard"), c.String("colony"), r.blank, day)
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

// schedule reads --next-treatment and --supers, which beat the record.
func (sh *shell) schedule(c *cli.Context, s *situation) error {
	var err error
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
