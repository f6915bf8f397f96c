package treat

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// step is a line of a yearly plan: a day of every year and what is given.
type step struct {
	text      string
	on        time.Time // month and day
	treatment sampling.Treatment
	rounds    int
	every     int
	or        *sampling.Treatment
	recorded  *decide.Course // as a record has it, with its own days; nil for a step that was typed
}

// planExample is a plan to copy; it is never taken for the keeper's own.
const planExample = "halfcup plan --treat '03-25:oxalic-vapour*4/5d' --treat 07-28:formic-evaporation --or oxalic-strip --treat 12-15:oxalic-trickle --supers 05-01..07-20"

const stepRemedy = "write the day, the treatment and, for several rounds, how many and how far apart, such as 03-25:oxalic-vapour*4/5d"

const mostRoundsOfStep, mostDaysApart = 20, 21

// parseStep reads MM-DD:TREATMENT, MM-DD:TREATMENT*ROUNDS/DAYSd, and either with
// " or TREATMENT" behind it.
func parseStep(text string) (step, error) {
	s := step{text: text, rounds: 1}
	fail := func(offset, length int, problem, remedy string) (step, error) {
		return s, &sampling.SyntaxError{Input: text, Offset: offset, Length: max(length, 1), Problem: problem, Remedy: remedy}
	}
	day, rest, found := strings.Cut(text, ":")
	if !found {
		return fail(0, len(text), "a step of a plan is a day of the year and a treatment", stepRemedy)
	}
	on, err := time.Parse("2006-01-02", "2023-"+day)
	switch {
	case len(day) == len("2026-07-28") && day[4] == '-':
		return fail(0, len(day), "a plan is repeated every year, and this is the day of one year", "leave out the year: "+day[5:])
	case day == "02-29":
		return fail(0, len(day), "02-29 is not in every year", "write 02-28 or 03-01")
	case err != nil:
		return fail(0, len(day), fmt.Sprintf("%q is not a month and a day", day), "write them like 07-28")
	}
	s.on = on
	at := len(day) + 1
	first, or, named := strings.Cut(rest, " or ")
	if named {
		t, err := sampling.FindTreatment(strings.TrimSpace(or))
		if err != nil {
			return s, line.Within(text, at+len(first)+len(" or "), err)
		}
		s.or = &t
	}
	name, rounds, several := strings.Cut(first, "*")
	if s.treatment, err = sampling.FindTreatment(strings.TrimSpace(name)); err != nil {
		return s, line.Within(text, at, err)
	}
	if !several {
		return s, nil
	}
	at += len(name) + 1
	number, apart, found := strings.Cut(rounds, "/")
	if s.rounds, err = strconv.Atoi(number); err != nil || s.rounds < 1 || s.rounds > mostRoundsOfStep {
		return fail(at, len(number), fmt.Sprintf("%q is not a number of rounds from 1 to %d", number, mostRoundsOfStep), stepRemedy)
	}
	if !found {
		if s.rounds > 1 {
			return fail(at, len(number), "how far apart the rounds are is missing", stepRemedy)
		}
		return s, nil
	}
	at += len(number) + 1
	if s.every, err = strconv.Atoi(strings.TrimSuffix(apart, "d")); err != nil || s.every < 1 || s.every > mostDaysApart {
		return fail(at, len(apart), fmt.Sprintf("%q is not a number of days from 1 to %d", apart, mostDaysApart), stepRemedy)
	}
	return s, nil
}

// course is the step in the year that begins on a day.
func (s step) course(from sampling.Date) decide.Course {
	if s.recorded != nil {
		return *s.recorded
	}
	on := sampling.Day(from.Time().Year(), s.on.Month(), s.on.Day())
	if on < from {
		on = sampling.Day(from.Time().Year()+1, s.on.Month(), s.on.Day())
	}
	c := decide.Course{Treatment: s.treatment, First: on}
	for i := range s.rounds {
		c.Last = on + sampling.Date(i*s.every)
		c.Rounds = append(c.Rounds, c.Last)
	}
	return c
}

// notation is the step as it is typed.
func (s step) notation() string {
	out := s.on.Format("01-02") + ":" + s.treatment.Slug
	if s.rounds > 1 {
		out += fmt.Sprintf("*%d/%dd", s.rounds, s.every)
	}
	if s.or != nil {
		out += " or " + s.or.Slug
	}
	return out
}

// asked is one plan that is asked about: its steps, and whose it is where the
// record has it.
type asked struct {
	steps  []step
	whence string
	supers decide.SupersPlan // when supers are on
	yard   string
	living int               // colonies of the yard
	of     []fieldlog.Colony // empty for a plan that was typed or is of the settings
	before [][]decide.Course // what each of them was given before the year
}

// readPlans reads the plan of the line, else of the settings, else those that
// the record has: what is planned and what was given, each of the colonies that
// have the same. without are the colonies for which nothing is planned.
func readPlans(sh *line.Shell, c *cli.Context, r ask.Rules, from sampling.Date) (plans []asked, without []fieldlog.Colony, err error) {
	texts, whence := c.StringSlice("treat"), "as you wrote it"
	in := func(_ int, err error) error { return line.InFlag("treat", err) }
	if len(texts) == 0 && len(sh.Settings.Plan.Treat) > 0 {
		texts, whence = sh.Settings.Plan.Treat, "of your settings"
		in = func(i int, err error) error { return inStep(i, sh.InSettings("plan.treat", err)) }
	}
	var steps []step
	for i, text := range texts {
		s, err := parseStep(text)
		if err != nil {
			return nil, nil, in(i, err)
		}
		steps = append(steps, s)
	}
	if len(steps) > 0 {
		plans = []asked{{steps: steps, whence: whence, supers: r.Base.Supers}}
	} else if plans, without, err = recordedPlans(sh, c, r, from); err != nil {
		return nil, nil, err
	}
	if len(plans) == 0 {
		return nil, nil, noPlan()
	}
	if len(plans) > 1 {
		for _, name := range []string{"or", "beside", "plot", "save"} {
			if c.IsSet(name) {
				return nil, nil, &show.Problem{What: fmt.Sprintf("--%s is for one plan, and the record has %d of different colonies", name, len(plans)), Remedy: "name a colony with --colony, or write the plan with --treat"}
			}
		}
	}
	return plans, without, readOr(c, plans[0].steps)
}

// inStep says which step of the settings cannot be used.
func inStep(i int, err error) error {
	var p *show.Problem
	if errors.As(err, &p) {
		p.What = fmt.Sprintf("step %d of %s", i+1, p.What)
	}
	return err
}

const noPlanYet = "there is no plan, and none comes from this program: write yours, a --treat for each treatment of your year (or treat = [...] under [plan] in the settings). " +
	"An example of how it is written, not advice"

// noPlan tells how to write one. No schedule comes from the program.
func noPlan() error {
	return line.TooFew(noPlanYet, planExample)
}

// readOr gives the steps that mind heat, in their order, what is used in their
// place when it is too hot.
func readOr(c *cli.Context, steps []step) error {
	at := 0
	for _, name := range c.StringSlice("or") {
		t, err := sampling.FindTreatment(name)
		if err != nil {
			return line.InFlag("or", err)
		}
		for at < len(steps) && (!steps[at].treatment.Warmth.Known() || steps[at].or != nil) {
			at++
		}
		if at == len(steps) {
			return line.BadValue("or", name, "no step is left that heat or cold could forbid", "leave it out, or write it behind its step: --treat '07-28:formic-evaporation or "+t.Slug+"'")
		}
		steps[at].or = &t
	}
	return nil
}

// recordedPlans are the plans of the record for the year from a day on. What one
// colony is given says nothing of another, so each has its own, and those that
// have the same in one yard share it. What was given in the year is part of its
// plan: a course does not leave the plan on the day on which it is done.
func recordedPlans(sh *line.Shell, c *cli.Context, r ask.Rules, from sampling.Date) (plans []asked, without []fieldlog.Colony, err error) {
	rec, err := ask.OpenRecord(sh)
	if rec == nil || err != nil {
		return nil, nil, err
	}
	var named []fieldlog.Colony
	if !c.Bool("save") { // else they are those to write it down for
		if named, err = namedColonies(c, rec); err != nil {
			return nil, nil, err
		}
	}
	living := map[string]int{}
	for _, at := range rec.Colonies() {
		k, err := history.Of(rec, at.Yard, at.Name, r.Base, sh.Today)
		if err != nil {
			return nil, nil, err
		}
		if !k.Gone.IsZero() {
			continue
		}
		yard := fieldlog.SameName(at.Yard)
		living[yard]++
		if len(named) > 0 && !slices.Contains(named, fieldlog.Colony{Yard: yard, Name: fieldlog.SameName(at.Name)}) {
			continue
		}
		steps, supers := stepsOf(k, from), untilToday(k.Supers, sh.Today)
		if steps == nil {
			without = append(without, at)
			continue
		}
		same := slices.IndexFunc(plans, func(p asked) bool {
			return fieldlog.SameName(p.yard) == yard && sameSteps(p.steps, steps) && sameSupers(p.supers, supers, from)
		})
		if same < 0 {
			same, plans = len(plans), append(plans, asked{steps: steps, whence: "of the rows of your record, planned and given", supers: supers, yard: at.Yard})
		}
		plans[same].of = append(plans[same].of, at)
		plans[same].before = append(plans[same].before, slices.DeleteFunc(k.Courses(sh.Today), func(c decide.Course) bool { return c.First >= from }))
	}
	for i := range plans {
		plans[i].living = living[fieldlog.SameName(plans[i].yard)]
	}
	return plans, without, nil
}

// namedColonies are those of --colony and --yard in the record, in one spelling;
// none when neither was given.
func namedColonies(c *cli.Context, rec *fieldlog.Record) ([]fieldlog.Colony, error) {
	yard, names := c.String("yard"), c.StringSlice("colony")
	var out []fieldlog.Colony
	for _, n := range names {
		events, err := rec.History(yard, n)
		if err != nil {
			return nil, err
		}
		out = append(out, fieldlog.Of(events[0]))
	}
	if len(names) > 0 || yard == "" {
		return out, nil
	}
	for _, k := range rec.InStandOrder(yard) {
		out = append(out, fieldlog.Colony{Yard: fieldlog.SameName(k.Yard), Name: fieldlog.SameName(k.Name)})
	}
	if len(out) == 0 {
		return nil, line.BadValue("yard", yard, "no colony of the record stands in a yard of this name", "halfcup yard lists the yards")
	}
	return out, nil
}

// stepsOf are the courses of a colony in the year from a day on, nil when none of
// them is planned: what was given is no plan by itself.
func stepsOf(k history.Colony, from sampling.Date) []step {
	var out []step
	planned := false
	for _, c := range decide.Courses(k.Treatments) {
		if c.First < from || c.First >= from+365 {
			continue
		}
		on := c.First.Time()
		s := step{on: time.Date(2023, on.Month(), min(on.Day(), daysOf(on.Month())), 0, 0, 0, 0, time.UTC), treatment: c.Treatment, rounds: len(c.Rounds)}
		if s.rounds > 1 {
			s.every = int(c.Last-c.First) / (s.rounds - 1)
		}
		s.text = s.notation()
		s.recorded = &decide.Course{Treatment: c.Treatment, First: c.First, Last: c.Last, Rounds: c.Rounds, Until: c.Until}
		out = append(out, s)
		planned = planned || slices.ContainsFunc(k.Treatments, func(t decide.TreatmentDay) bool {
			return t.Planned && t.Treatment.Slug == c.Treatment.Slug && slices.Contains(c.Rounds, t.On)
		})
	}
	if !planned {
		return nil
	}
	return out
}

// sameSteps reports whether two colonies are given the same on the same days.
func sameSteps(a, b []step) bool {
	return slices.EqualFunc(a, b, func(a, b step) bool {
		return a.treatment.Slug == b.treatment.Slug && slices.Equal(a.recorded.Rounds, b.recorded.Rounds) && a.recorded.Until == b.recorded.Until
	})
}

// untilToday is when supers are on where nobody said when they come off: whoever
// plans a treatment will take them off for it, and it is no fault of the plan.
func untilToday(p decide.SupersPlan, today sampling.Date) decide.SupersPlan {
	p.Times = slices.Clone(p.Times)
	for i := range p.Times {
		if t := &p.Times[i]; t.Off.IsZero() {
			t.Off = max(today, t.On) + 1
		}
	}
	return p
}

// sameSupers reports whether supers are on two colonies on the same days of the
// year from a day on.
func sameSupers(a, b decide.SupersPlan, from sampling.Date) bool {
	for d := from; d < from+366; d++ {
		if a.On(d) != b.On(d) {
			return false
		}
	}
	return true
}

// daysOf is how many days a month has in every year.
func daysOf(m time.Month) int { return time.Date(2023, m+1, 0, 0, 0, 0, 0, time.UTC).Day() }

// readBeside reads another plan to set beside: its steps with commas between.
func readBeside(text string) ([]step, error) {
	var out []step
	offset := 0
	for _, part := range strings.Split(text, ",") {
		lead := len(part) - len(strings.TrimLeft(part, " "))
		s, err := parseStep(strings.TrimSpace(part))
		if err != nil {
			return nil, line.InFlag("beside", line.Within(text, offset+lead, err))
		}
		out = append(out, s)
		offset += len(part) + 1
	}
	return out, nil
}

// mostBeside is how many plans stand beside the first.
const mostBeside = 2

// yearPlan is the plan of some steps in the year from a day on.
func yearPlan(r ask.Rules, from sampling.Date, steps []step, supers decide.SupersPlan) decide.YearPlan {
	p := decide.YearPlan{From: from, Colony: r.Base, Rules: r.Rules}
	p.Colony.Supers = supers
	for _, s := range steps {
		p.Steps = append(p.Steps, decide.YearStep{Course: s.course(from), Or: s.or})
	}
	slices.SortStableFunc(p.Steps, func(a, b decide.YearStep) int { return int(a.Course.First - b.Course.First) })
	return p
}

// planYear is the day on which the year begins that a plan made today is for:
// the one in progress, until there is little of it left to plan.
func planYear(y decide.Year, today sampling.Date) sampling.Date {
	const late = 43 * 7
	from := y.YearFrom(today)
	if today > from+late {
		from = y.YearFrom(from + 366)
	}
	return from
}

// savedEvents are the rounds of the plan that are still to come as planned rows
// of every colony named, and of all of the record when none is. What is to be
// counted after a course stands in the note of its last round.
func savedEvents(sh *line.Shell, c *cli.Context, p decide.YearPlan, counts []decide.YearCount) ([]fieldlog.Event, error) {
	rec, err := ask.OpenRecord(sh)
	if err != nil {
		return nil, err
	}
	yard, names := c.String("yard"), c.StringSlice("colony")
	type place struct{ yard, name string }
	var places []place
	for _, n := range names {
		places = append(places, place{yard, n})
	}
	if len(names) == 0 && rec != nil {
		for _, k := range rec.Colonies() {
			if yard == "" || fieldlog.SameName(k.Yard) == fieldlog.SameName(yard) {
				places = append(places, place{k.Yard, k.Name})
			}
		}
	}
	if len(places) == 0 {
		return nil, &show.Problem{What: "there is no colony to write the plan down for", Remedy: "name them with --colony, each one with its own, and their yard with --yard"}
	}
	var out []fieldlog.Event
	for i, s := range p.Steps {
		for k, on := range s.Course.Rounds {
			if on <= sh.Today {
				continue
			}
			e := fieldlog.Event{Date: on, Kind: fieldlog.Treatment, Treatment: s.Course.Treatment.TreatmentName, Mark: fieldlog.Planned}
			if k == len(s.Course.Rounds)-1 {
				e.Note = countsAfter(p, i, counts)
			}
			for _, at := range places {
				e.Yard, e.Colony = at.yard, at.name
				out = append(out, e)
			}
		}
	}
	if len(out) == 0 {
		return nil, &show.Problem{What: "no day of the plan is still to come", Remedy: "ask again from November on, when the next year begins"}
	}
	return out, nil
}

// countsAfter is the counts between one step and the next, as a note.
func countsAfter(p decide.YearPlan, i int, counts []decide.YearCount) string {
	next := p.From + 366
	if i+1 < len(p.Steps) {
		next = p.Steps[i+1].Course.First
	}
	var texts []string
	for _, c := range counts {
		if c.Count.Date > p.Steps[i].Course.First && c.Count.Date <= next {
			texts = append(texts, fmt.Sprintf("%s on %s", countCalled(c.Count), c.Count.Date))
		}
	}
	if texts == nil {
		return ""
	}
	return "then count: " + strings.Join(texts, ", ")
}
