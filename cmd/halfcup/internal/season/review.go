package season

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func reviewCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "review",
		Category:  line.GroupSeason,
		Usage:     "a year looked back on, and what it teaches for the next",
		UsageText: "halfcup review --year 2026 --html review.html",
		Description: "Tells of every colony how high its mites rose, what each treatment left, and how fast they grew beside those of the colonies treated alike; what each ingredient did; what the yard taught of its own rolls and boards; " +
			"how colonies came through the winter by their mites in autumn; and three things to do otherwise. All of it is the record's own replay, as halfcup estimate has it. " +
			"Of a record with several yards it gives a line a yard; name one with --yard.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "the yard `NAME`, when the record has more than one"},
			&cli.StringFlag{Name: "year", Usage: "the `YEAR`", DefaultText: "that of the last count"},
			&cli.StringFlag{Name: "html", Usage: "write a page with a picture of every colony into `FILE`"},
			&cli.StringFlag{Name: "level", Value: "0.9", Usage: "level of the limits, `LEVEL`"},
		}, ask.RulesFlags()),
		Action: func(c *cli.Context) error { return reviewAnswer(sh, c) },
	}
}

// review is a yard looked back on.
type review struct {
	decide.YearBack
	ask.Rules

	yard   string // "" when the record does not name it
	level  float64
	day    sampling.Date
	apiary decide.Apiary
	unread []string
	taught []taught
}

// taught is what the pairs of the record taught of one way of counting, and
// what a few more would.
type taught struct {
	sampling.Teaching
	sampling.Calibration
	known  bool // there are pairs
	counts int  // made that way in the year
}

// worth is how much of the doubt of a year's counts a few more pairs would take.
func (t taught) worth() float64 { return float64(t.counts) * (t.Now*t.Now - t.Then*t.Then) }

func reviewAnswer(sh *line.Shell, c *cli.Context) error {
	if c.NArg() > 0 {
		return &show.Problem{What: fmt.Sprintf("review takes no %q", c.Args().First()), Remedy: "counts come from the record; log add writes them there"}
	}
	rules, err := ask.ReadRules(sh, c)
	if err != nil {
		return err
	}
	level, err := line.Number(c, "level", sh.Settings.Level)
	if err != nil {
		return err
	}
	rec, err := ask.NeedRecord(sh, "a year")
	if err != nil {
		return err
	}
	names, err := askedYards(rec, c)
	if err != nil {
		return err
	}
	year, err := askedYear(sh, c, rec, rules.Base.Year)
	if err != nil {
		return err
	}
	page, paged, err := line.File(c, "html", "")
	if err != nil {
		return err
	}
	if paged && len(names) > 1 {
		return &show.Problem{What: "the record has more than one yard: " + show.List(called(names)), Remedy: "say of which, with --yard"}
	}
	if len(names) > 1 {
		ask.Doubt(sh, rec)
	} else {
		ask.Doubt(sh, rec, coloniesOf(rec, names[0])...)
	}
	var all []*review
	for _, name := range names {
		r, err := readReview(rules, rec, name, year, sh.Today, level)
		if err != nil {
			return err
		}
		all = append(all, r)
	}
	if len(all) > 1 {
		return writeReviews(sh, all)
	}
	r := all[0]
	if len(r.Colonies) == 0 {
		return &show.Problem{What: fmt.Sprintf("the record tells of no colony of this yard in %d", year), Remedy: "ask of another year with --year"}
	}
	if paged {
		if err := r.writePage(sh, page); err != nil {
			return err
		}
	}
	return sh.Write(line.Answer{
		Schema: "halfcup.review/1", JSON: r.json(), CSV: r.csv(),
		Text:     func(w io.Writer) { r.print(w, sh.Page) },
		Warnings: say.Warn(say.LeftOut, r.unread...),
		Explain:  r.explain(),
	})
}

// askedYear is the year that is meant: that of the last count when none was
// named.
func askedYear(sh *line.Shell, c *cli.Context, rec *fieldlog.Record, season decide.Year) (int, error) {
	this := yearOf(season, sh.Today)
	if !c.IsSet("year") {
		last := sampling.Date(0)
		for _, k := range rec.Colonies() {
			events, err := rec.History(k.Yard, k.Name)
			if err != nil {
				return 0, err
			}
			for _, e := range events {
				if e.Kind == fieldlog.Count && e.Date <= sh.Today {
					last = max(last, e.Date)
				}
			}
		}
		if last.IsZero() {
			return this, nil
		}
		return yearOf(season, last), nil
	}
	year, err := line.Whole(c, "year")
	if err != nil {
		return 0, err
	}
	if year > this {
		return 0, line.BadValue("year", c.String("year"), "that year is still to come", "give an earlier year, or ask from a later day with --today")
	}
	return year, nil
}

// yearOf is the beekeeper's year that a day belongs to.
func yearOf(season decide.Year, d sampling.Date) int {
	year := d.Time().Year()
	if first, _ := season.Span(year); d < first {
		year--
	}
	return year
}

func readReview(rules ask.Rules, rec *fieldlog.Record, name string, year int, day sampling.Date, level float64) (*review, error) {
	r := &review{Rules: rules, yard: name, level: level, day: day}
	var err error
	if r.apiary, r.unread, err = rules.Apiary(rec, name, day); err != nil {
		return nil, err
	}
	r.unread = slices.Compact(r.unread)
	if r.YearBack, err = r.apiary.LookBack(year, day, level); err != nil {
		return nil, err
	}
	return r, r.teach()
}

// teach finds how the counts of the year were read, and what pairs would teach.
func (r *review) teach() error {
	for _, k := range r.Colonies {
		for _, c := range r.apiary.Colonies[k.Place].Counts {
			if c.Date < r.From || c.Date > r.To {
				continue
			}
			t, ok, err := r.Assumptions.Teaching(c)
			if err != nil {
				return err
			}
			if !ok {
				continue
			}
			i := slices.IndexFunc(r.taught, func(o taught) bool { return o.Teaching == t })
			if i < 0 {
				i, r.taught = len(r.taught), append(r.taught, taught{Teaching: t})
			}
			r.taught[i].counts++
		}
	}
	for i := range r.taught {
		t := &r.taught[i]
		for _, c := range r.Learnt {
			if c.Method == t.Teaching.Method && c.Weather == t.Teaching.Weather && c.Broodless == t.Teaching.Broodless {
				t.Calibration, t.known = c, true
			}
		}
	}
	slices.SortStableFunc(r.taught, func(a, b taught) int { return cmp.Compare(b.worth(), a.worth()) })
	return nil
}
