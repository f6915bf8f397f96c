// Package ask turns what was typed, the settings and the record into a question
// for package decide.
package ask

import (
	"errors"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// QuestionFlags are the flags of every command that answers about one colony.
func QuestionFlags() []cli.Flag {
	flags := []cli.Flag{
		&cli.StringFlag{Name: "colony", Usage: "take the colony `NAME` from the record, as it is today"},
		&cli.StringFlag{Name: "yard", Usage: "its yard, `NAME`, when two yards have a colony of that name"},
		&cli.StringFlag{Name: "next-treatment", Usage: "the next planned treatment, `DATE`", DefaultText: "the next one in the record"},
	}
	flags = append(flags, RulesFlags()...)
	return append(flags, CountFlags()...)
}

// Question is one colony with its answer, and all that this rests on: the
// counts on the line, the record of its yard, the settings.
type Question struct {
	decide.Standing
	Basis

	Apiary decide.Apiary
	Place  int              // of the colony in it
	Typed  []sampling.Count // the counts on the line
	Unread []string         // what was left out, a sentence each

	Southern bool // the colony is in the southern half of the earth
}

const moreMitesThanBees = "More mites than bees are hardly ever found, so no answer is given. If both numbers are right, the colony is far over the line of %s: halfcup fits."

// Slip is the first of the counts on the line whose two numbers look swapped, as
// a question, and what to say in place of an answer when it has more mites than
// bees: that is hardly ever found.
func (q *Question) Slip() (doubt, unsound string) {
	for _, c := range q.Typed {
		c.Date = 0 // as it was typed
		for _, w := range c.Questions() {
			if w.Kind != sampling.SwappedNumbers {
				continue
			}
			if bees, _, err := q.BeesOf(c); err == nil && float64(c.Mites) > bees {
				return w.Text, fmt.Sprintf(moreMitesThanBees, say.Line(q.Line.Act))
			}
			if doubt == "" {
				doubt = w.Text
			}
		}
	}
	return doubt, ""
}

// ReadQuestion reads the flags of QuestionFlags, the counts on the line and,
// when a colony is named, the record of its yard. Counts on the line are of
// today when they have no date, and are added to those of the record. The
// answer is of today.
func ReadQuestion(sh *line.Shell, c *cli.Context) (*Question, error) {
	q, err := ReadColony(sh, c)
	if err != nil {
		return nil, err
	}
	return q, q.Answer(sh.Today)
}

// ReadColony is ReadQuestion without the answer.
func ReadColony(sh *line.Shell, c *cli.Context) (*Question, error) {
	return readColony(sh, c, ReadCounts)
}

// ReadColonyToTreat is ReadColony for a command whose --brood and --adult-bees
// tell of the colony, whichever counts there are.
func ReadColonyToTreat(sh *line.Shell, c *cli.Context) (*Question, error) {
	return readColony(sh, c, readBareCounts)
}

// ReadUncounted is ReadColony of a line that holds no counts.
func ReadUncounted(sh *line.Shell, c *cli.Context) (*Question, error) {
	return readColony(sh, c, func(*cli.Context) ([]sampling.Count, error) { return nil, nil })
}

func readColony(sh *line.Shell, c *cli.Context, counts func(*cli.Context) ([]sampling.Count, error)) (*Question, error) {
	r, err := ReadRules(sh, c)
	if err != nil {
		return nil, err
	}
	q := &Question{Basis: r.Basis, Apiary: decide.Apiary{Rules: r.Rules, Colonies: []decide.Colony{r.Base}}, Unread: r.LeftOut}
	if q.Typed, err = counts(c); err != nil {
		return nil, err
	}
	if c.IsSet("colony") {
		if err := q.fromRecord(sh, c, r); err != nil {
			return nil, err
		}
	}
	k := &q.Apiary.Colonies[q.Place]
	for i := range q.Typed {
		if err := q.add(k, &q.Typed[i], sh.Today, c.IsSet("brood")); err != nil {
			return nil, err
		}
	}
	switch n := len(q.Typed); {
	case n > 0 && q.Typed[n-1].Method.Kind() == sampling.Fall:
		k.Hive = q.Typed[n-1].Hive
	case k.Hive == (sampling.Hive{}):
		k.Hive = k.HiveOn(sh.Today)
	}
	if c.IsSet("next-treatment") {
		if k.NextTreatment, err = line.Date(c, "next-treatment"); err != nil {
			return nil, err
		}
		if k.NextTreatment < sh.Today {
			return nil, line.BadValue("next-treatment", c.String("next-treatment"), "this day is past", "give a day from "+sh.Today.String()+" on")
		}
	}
	r.said(k, sh.Today)
	hemisphere, err := ReadHemisphere(sh, c)
	q.Southern = hemisphere == decide.South
	return q, err
}

// Answer puts the question for a day.
func (q *Question) Answer(day sampling.Date) error {
	k := q.Apiary.Colonies[q.Place]
	if !k.Gone.IsZero() && k.Gone <= day {
		return &show.Problem{What: fmt.Sprintf("%s died or was united on %s", k.Name, k.Gone), Remedy: "ask of an earlier day with --today; the hive of a dead colony is shut, so that nobody robs it of its mites"}
	}
	var err error
	q.Standing, err = q.Apiary.Of(q.Place, day)
	return err
}

// fromRecord takes the yard of --colony from the record.
func (q *Question) fromRecord(sh *line.Shell, c *cli.Context, r Rules) error {
	rec, err := NeedRecord(sh, "a colony")
	if err != nil {
		return err
	}
	events, err := rec.History(c.String("yard"), c.String("colony"))
	if err != nil {
		return err
	}
	id := fieldlog.Of(events[0])
	Doubt(sh, rec, id)
	colonies, err := history.Yard(rec, events[0].Yard, r.Base, sh.Today)
	if err != nil {
		return err
	}
	q.Apiary.Colonies = nil
	for i, k := range colonies {
		if fieldlog.SameName(k.Name) == id.Name {
			q.Place = i
			q.Unread = append(q.Unread, k.Unread...)
		}
		q.Apiary.Colonies = append(q.Apiary.Colonies, k.Colony)
	}
	return nil
}

// add puts a count of the line into what is known of its colony.
func (q *Question) add(k *decide.Colony, c *sampling.Count, today sampling.Date, broodSaid bool) error {
	if c.Method.Kind() == sampling.BeeSample {
		_, _, err := q.BeesOf(*c) // before it is given a date it was not typed with
		var unsaid *sampling.ValueError
		if errors.As(err, &unsaid) && c.Amount.Unit == sampling.Grams && c.GramsPer100 == 0 {
			unsaid.Remedy = "weigh 100 bees of the same sample and give --grams-per-100, or count the bees"
		}
		if err != nil {
			return err
		}
	}
	if c.Date.IsZero() {
		c.Date = today
	}
	if c.Date > today {
		return &show.Problem{What: fmt.Sprintf("%s lies in the days to come: nobody has counted it yet", c), Remedy: "check its date, or the clock; --today asks of another day"}
	}
	if c.Method == sampling.Knockdown {
		treated(k, *c)
	}
	*c = k.Over(*c, broodSaid)
	k.Counts = append(slices.Clone(k.Counts), *c)
	return nil
}

// treated adds the treatment that a knockdown of the line counts, unless the
// record has it, so that what is known of today knows of the kill.
func treated(s *decide.Colony, knockdown sampling.Count) {
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
		// No eggs were laid for as long as brood takes.
		const brood = 34
		s.Happenings = append(s.Happenings, decide.Happening{On: on - brood, Kind: decide.Queenless, To: knockdown.Date})
	}
}

// Name is a count as it was typed: with its date, unless that is the day the
// answer is for.
func (s *Question) Name(c sampling.Count) string {
	if c.Date == s.Day {
		c.Date = 0
	}
	return c.String()
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
