// Package ask makes a question for package decide of what was typed, the
// settings and the record.
package ask

import (
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// SpareFlags say which looks may be advised.
func SpareFlags() []cli.Flag {
	return []cli.Flag{
		&cli.BoolFlag{Name: "no-kill", Usage: "advise no look that kills bees"},
		&cli.BoolFlag{Name: "no-roll", Usage: "advise no sugar roll: damp bees, honey flow"},
	}
}

// SituationFlags are the flags of every command that judges a colony.
func SituationFlags() []cli.Flag {
	flags := []cli.Flag{
		&cli.StringFlag{Name: "colony", Usage: "take the colony `NAME` from the record, as it is today"},
		&cli.StringFlag{Name: "yard", Usage: "its yard, `NAME`, when two yards have a colony of that name"},
		&cli.StringFlag{Name: "next-treatment", Usage: "the next planned treatment, `DATE`", DefaultText: "the next one in the record"},
		&cli.StringFlag{Name: "supers", Usage: "whether honey supers are on `on|off`", DefaultText: "as the record says, else off"},
	}
	flags = append(flags, RulesFlags()...)
	return append(flags, CountFlags()...)
}

// Question is everything a judgement rests on: the counts on the line or the
// record of a colony, the line of the season, the schedule and the costs.
type Question struct {
	decide.Situation
	Basis
	Died   sampling.Date // zero when the colony lives
	Unread []string      // counts of the record that were left out, a sentence each

	Southern bool // the colony is in the southern half of the earth
}

// ReadQuestion reads the flags of SituationFlags, the counts on the line and, when
// a colony is named, the record.
func ReadQuestion(sh *line.Shell, c *cli.Context) (*Question, error) {
	r, err := ReadRules(sh, c)
	if err != nil {
		return nil, err
	}
	typed, err := ReadCounts(c)
	if err != nil {
		return nil, err
	}
	h := history.Colony{History: r.Blank}
	day := sh.Today
	if c.IsSet("colony") {
		if h, err = RecordedColony(sh, c, r, day); err != nil {
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
			treated(&h, count)
		}
	}
	s, err := r.Question(h, day)
	if err != nil {
		return nil, err
	}
	hemisphere, err := ReadHemisphere(sh, c)
	if err != nil {
		return nil, err
	}
	s.Southern = hemisphere == decide.South
	if len(typed) > 0 && s.Hive.AdultBees == 0 {
		s.Hive = typed[len(typed)-1].Hive
	}
	return s, readSchedule(sh, c, s)
}

// treated adds the treatment that a knockdown of the line counts, unless the
// record has it, so that what is known of today knows of the kill.
func treated(s *history.Colony, knockdown sampling.Count) {
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

// RecordedColony reads --colony and --yard.
func RecordedColony(sh *line.Shell, c *cli.Context, r Rules, day sampling.Date) (history.Colony, error) {
	rec, err := OpenRecord(sh)
	if err != nil {
		return history.Colony{}, err
	}
	if rec == nil {
		return history.Colony{}, &show.Problem{What: "there is no record " + sh.LogFile + " to find a colony in", Remedy: "begin one with halfcup log add, or name it with --log"}
	}
	return history.Of(rec, c.String("yard"), c.String("colony"), r.Blank, day)
}

// latestDay is the day of the last dated count, zero when none has a date.
func latestDay(counts []sampling.Count) sampling.Date {
	var day sampling.Date
	for _, c := range counts {
		day = max(day, c.Date)
	}
	return day
}

// Name is a count as it was typed: with its date, unless that is the day the
// answer is for.
func (s *Question) Name(c sampling.Count) string {
	if c.Date == s.State.Day {
		c.Date = 0
	}
	return c.String()
}

// readSchedule reads --next-treatment and --supers, which beat the record.
func readSchedule(sh *line.Shell, c *cli.Context, s *Question) error {
	var err error
	if c.IsSet("next-treatment") {
		if s.NextTreatment, err = line.Date(c, "next-treatment"); err != nil {
			return err
		}
		if s.NextTreatment < s.State.Day {
			return line.BadValue("next-treatment", c.String("next-treatment"), "this day is past", "give a day from "+s.State.Day.String()+" on")
		}
	}
	if c.IsSet("supers") {
		on, err := line.Choice(c, "supers", "on", "off")
		if err != nil {
			return err
		}
		s.SupersOn = on == "on"
	}
	return nil
}

// Costs puts the beekeeper's own costs over the defaults.
func Costs(s line.Settings) decide.Costs {
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
