package treat

import (
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// recordForm is pairs or falls that the record holds, with what was left out.
type recordForm struct {
	workedForm
	unread []string // counts of the record that say nothing as they stand
}

func (f recordForm) warnings(a *worked) []say.Warning {
	return append(say.Warn(say.LeftOut, f.unread...), f.workedForm.warnings(a)...)
}

// treatedColony is a colony of the record with a course that is judged.
type treatedColony struct {
	history.Colony
	course decide.Course
}

// yardRecord is all colonies of a yard.
type yardRecord struct {
	name     string
	today    sampling.Date
	colonies []history.Colony
	rules    decide.Rules
}

func readYard(sh *line.Shell, a *worked, rec *fieldlog.Record, yard string) (yardRecord, error) {
	colonies, err := history.Yard(rec, yard, a.rules.Base, sh.Today)
	return yardRecord{yard, sh.Today, colonies, a.rules.Rules}, err
}

func (y yardRecord) apiary() decide.Apiary {
	out := decide.Apiary{Rules: y.rules}
	for _, k := range y.colonies {
		out.Colonies = append(out.Colonies, k.Colony)
	}
	return out
}

// given are the courses of a colony that were begun up to today.
func (y yardRecord) given(k history.Colony) []decide.Course {
	return slices.DeleteFunc(k.Courses(y.today), func(c decide.Course) bool { return c.Planned() || c.First > y.today })
}

// askedCourse reads which courses of the record are asked about.
func askedCourse(c *cli.Context, a *worked) (func(decide.Course) bool, error) {
	var days []sampling.Date
	for _, text := range c.StringSlice("treated") {
		d, err := sampling.ParseDate(text)
		if err != nil {
			return nil, line.InFlag("treated", err)
		}
		days = append(days, d)
	}
	treatment := a.treatment
	return func(course decide.Course) bool {
		outside := func(d sampling.Date) bool { return d < course.First || d > course.Last }
		return (treatment == nil || course.Treatment.Slug == treatment.Slug) && !slices.ContainsFunc(days, outside)
	}, nil
}

func noSuchTreatment(where string, today sampling.Date) error {
	return &show.Problem{What: fmt.Sprintf("the record tells of no such treatment of %s up to %s", where, today), Remedy: "check the name, the day and the file, or add the treatment with halfcup log add"}
}

// workedColony is the last course of a colony of the record that is asked about.
func workedColony(sh *line.Shell, c *cli.Context, a *worked) (workedForm, error) {
	rec, err := ask.NeedRecord(sh, "a treatment")
	if err != nil {
		return nil, err
	}
	events, err := rec.History(c.String("yard"), c.String("colony"))
	if err != nil {
		return nil, err
	}
	id := fieldlog.Of(events[0])
	ask.Doubt(sh, rec, id)
	asked, err := askedCourse(c, a)
	if err != nil {
		return nil, err
	}
	y, err := readYard(sh, a, rec, events[0].Yard)
	if err != nil {
		return nil, err
	}
	place := slices.IndexFunc(y.colonies, func(k history.Colony) bool { return fieldlog.SameName(k.Name) == id.Name })
	courses := y.given(y.colonies[place])
	for len(courses) > 0 && !asked(courses[len(courses)-1]) {
		courses = courses[:len(courses)-1]
	}
	if len(courses) == 0 {
		return nil, noSuchTreatment(c.String("colony"), sh.Today)
	}
	t := treatedColony{y.colonies[place], courses[len(courses)-1]}
	a.repeated.mode, a.repeated.times = decide.Repeated(courses)
	form, _, err := a.judge(c, []treatedColony{t})
	if err != nil {
		return nil, err
	}
	if form == nil {
		return nil, t.notCounted()
	}
	return form, a.stand(y.apiary(), place, sh.Today)
}

// notCounted is the refusal where nothing was counted before and after.
func (t treatedColony) notCounted() error {
	return &show.Problem{
		What:   fmt.Sprintf("the record has no counts before and after the %s of %s in %s", t.course.Treatment.Called, show.Day(t.course.First), t.Name),
		Remedy: fmt.Sprintf("count from %s on, or ask about an earlier treatment by its day with --treated", show.Day(t.course.SettledOn())),
	}
}

// judge judges one course of some colonies by the counts of the record, with
// the names of the colonies that have none; the form is nil when none has any.
func (a *worked) judge(c *cli.Context, treated []treatedColony) (workedForm, []string, error) {
	course := treated[0].course
	a.treatment, a.course = &course.Treatment, course
	pairs := &pairsForm{}
	var leftOut, unread []string
	settled := slices.ContainsFunc(treated, func(t treatedColony) bool {
		p, found := t.Around(t.course)
		return found && p.Settled()
	})
	for _, t := range treated {
		unread = append(unread, t.Unread...)
		p, found := t.Around(t.course)
		if !found || settled && !p.Settled() {
			leftOut = append(leftOut, t.Name)
			continue
		}
		if c.IsSet("brood") {
			var err error
			if p.CappedBrood, err = a.cappedOn(c, 0); err != nil {
				return nil, nil, err
			}
		}
		pairs.Treated, pairs.colonies = append(pairs.Treated, p), append(pairs.colonies, t.Name)
	}
	if pairs.Treated != nil {
		a.capped = pairs.Treated[0].CappedBrood
		return recordForm{pairs, unread}, leftOut, a.compare(pairs)
	}
	if falls := treated[0].falls(); len(treated) == 1 && len(falls) > 1 && course.Treatment.NeedsNoBrood() {
		first := falls[0]
		f := &fallsForm{Falls: decide.Falls{Counts: falls, Happenings: treated[0].Happenings, FallBefore: first.FallBefore, AdultBees: first.Hive.AdultBees, Arrivals: a.rules.Base.Arrivals}, colony: treated[0].Name}
		return recordForm{f, unread}, nil, a.judgeFalls(f)
	}
	return nil, leftOut, nil
}

// falls are the boards under the rounds of the course.
func (t treatedColony) falls() []sampling.Count {
	var out []sampling.Count
	for _, c := range t.Counts {
		if c.Method == sampling.Knockdown && c.Date > t.course.First && c.Date <= t.course.SettledOn() {
			out = append(out, c)
		}
	}
	return out
}
