package treat

import (
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// latestBefore is how old a count can be and still stand for the colony before
// a treatment, in days. Later than this many days after it, the mites are of
// another season.
const latestBefore, latestAfter = 45, 90

// recordForm is pairs or falls that the record holds, with what was left out.
type recordForm struct {
	workedForm
	leftOut []string
	unread  []string // counts of the record that say nothing as they stand
}

func (f recordForm) warnings(a *worked) []string {
	out := append(slices.Clone(f.unread), f.workedForm.warnings(a)...)
	if f.leftOut != nil {
		out = append(out, "Left out for want of a count before or after: "+show.List(f.leftOut)+".")
	}
	return out
}

// treatedColony is a colony of the record with the course that is judged.
type treatedColony struct {
	name string
	history.Colony
	courses []decide.Course // up to the one that is judged
}

func (t treatedColony) course() decide.Course { return t.courses[len(t.courses)-1] }

func workedRecord(sh *line.Shell, c *cli.Context, a *worked) (workedForm, error) {
	rec, err := ask.OpenRecord(sh)
	if err != nil {
		return nil, err
	}
	if rec == nil {
		return nil, &show.Problem{What: "there is no record " + sh.LogFile + " to find a treatment in", Remedy: "begin one with halfcup log add, or name it with --log"}
	}
	ask.Doubt(sh, rec)
	treated, err := treatedColonies(sh, c, a, rec)
	if err != nil {
		return nil, err
	}
	for _, t := range treated {
		if mode, n := decide.Repeated(t.courses); n > a.repeated.times {
			a.repeated = repeated{mode, n}
		}
	}
	a.setTarget()

	pairs := &pairsForm{}
	var leftOut, unread []string
	for _, t := range treated {
		unread = append(unread, t.Unread...)
		p, found := t.pair()
		if !found {
			leftOut = append(leftOut, t.name)
			continue
		}
		if c.IsSet("brood") {
			if p.CappedBrood, err = a.capped(c, 0); err != nil {
				return nil, err
			}
		}
		pairs.Treated, pairs.colonies = append(pairs.Treated, p), append(pairs.colonies, t.name)
	}
	if pairs.Treated != nil {
		return recordForm{pairs, leftOut, unread}, a.compare(pairs)
	}
	if len(treated) == 1 {
		t := treated[0]
		falls := &fallsForm{Falls: decide.Falls{Counts: t.falls(), Happenings: t.Happenings}}
		if len(falls.Counts) > 1 {
			first := falls.Counts[0]
			falls.FallBefore, falls.AdultBees = first.FallBefore, first.Hive.AdultBees
			return recordForm{falls, nil, unread}, a.judgeFalls(falls)
		}
	}
	return nil, &show.Problem{
		What:   fmt.Sprintf("the record has no counts before and after the %s of %s in %s", treated[0].course().Treatment.TreatmentName, show.Day(treated[0].course().First), show.List(leftOut)),
		Remedy: fmt.Sprintf("count from %s on, or ask about an earlier treatment by its day with --treated", show.Day(treated[0].course().SettledOn())),
	}
}

// treatedColonies finds the colonies that were given the treatment that is
// asked about: the named one, else the last of the colony or yard.
func treatedColonies(sh *line.Shell, c *cli.Context, a *worked, rec *fieldlog.Record) ([]treatedColony, error) {
	base := decide.History{Assumptions: a.basis.Assumptions, Year: a.season, Rates: decide.DefaultRates()}
	var days []sampling.Date
	for _, text := range c.StringSlice("treated") {
		d, err := sampling.ParseDate(text)
		if err != nil {
			return nil, line.InFlag("treated", err)
		}
		days = append(days, d)
	}
	asked := func(course decide.Course) bool {
		outside := func(d sampling.Date) bool { return d < course.First || d > course.Last }
		return (a.treatment == nil || course.Treatment.Slug == a.treatment.Slug) && !slices.ContainsFunc(days, outside)
	}
	var all []treatedColony
	read := func(yard, name string) error {
		h, err := history.Of(rec, yard, name, base, sh.Today)
		if err != nil {
			return err
		}
		t := treatedColony{name: name, Colony: h}
		for _, course := range decide.Courses(h.Treatments) {
			if course.First <= sh.Today {
				t.courses = append(t.courses, course)
			}
		}
		for len(t.courses) > 0 && !asked(t.course()) {
			t.courses = t.courses[:len(t.courses)-1]
		}
		if len(t.courses) > 0 {
			all = append(all, t)
		}
		return nil
	}
	where := c.String("colony")
	if c.IsSet("colony") {
		if err := read(c.String("yard"), c.String("colony")); err != nil {
			return nil, err
		}
	} else {
		where = c.String("yard")
		for _, colony := range rec.Colonies() {
			if fieldlog.SameName(colony.Yard) != fieldlog.SameName(where) {
				continue
			}
			if err := read(colony.Yard, colony.Name); err != nil {
				return nil, err
			}
		}
	}
	if len(all) == 0 {
		return nil, &show.Problem{What: fmt.Sprintf("the record tells of no such treatment of %s up to %s", where, sh.Today), Remedy: "check the name, the day and the file, or add the treatment with halfcup log add"}
	}
	// The colonies of a yard that were given the same in the same weeks.
	last := all[0].course()
	for _, t := range all {
		if t.course().First > last.First {
			last = t.course()
		}
	}
	a.treatment = &last.Treatment
	var out []treatedColony
	for _, t := range all {
		if t.course().Treatment.Slug == last.Treatment.Slug && t.course().Last+decide.SettleDays >= last.First {
			out = append(out, t)
		}
	}
	return out, nil
}

// pair finds the counts on both sides of the course: the last before it and
// the first when it can be judged, or failing that the last one before then.
func (t treatedColony) pair() (decide.Pair, bool) {
	course := t.course()
	p := decide.Pair{SettledOn: course.SettledOn(), CappedBrood: t.CappedBrood(course.First), Happenings: t.Happenings}
	for _, c := range t.Counts {
		if c.Method == sampling.Knockdown {
			continue
		}
		switch {
		case c.Date <= course.First && c.Date >= course.First-latestBefore:
			if p.Before.Date != c.Date || p.Before.Method.Kind() == sampling.Fall {
				p.Before = c
			}
		case c.Date > course.Last && c.Date <= course.SettledOn()+latestAfter && p.After.Date < p.SettledOn:
			p.After = c
		}
	}
	return p, p.Before != (sampling.Count{}) && p.After != (sampling.Count{})
}

// falls are the boards under the rounds of the course.
func (t treatedColony) falls() []sampling.Count {
	var out []sampling.Count
	for _, c := range t.Counts {
		if c.Method == sampling.Knockdown && c.Date > t.course().First && c.Date <= t.course().SettledOn() {
			out = append(out, c)
		}
	}
	return out
}
