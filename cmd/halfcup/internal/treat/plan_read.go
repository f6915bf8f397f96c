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

// readSteps reads the plan: of the line, else of the settings, else the planned
// rows of the record.
func readSteps(sh *line.Shell, c *cli.Context, from sampling.Date) (steps []step, whence string, err error) {
	texts, whence := c.StringSlice("treat"), "as you wrote it"
	in := func(_ int, err error) error { return line.InFlag("treat", err) }
	if len(texts) == 0 && len(sh.Settings.Plan.Treat) > 0 {
		texts, whence = sh.Settings.Plan.Treat, "of your settings"
		in = func(i int, err error) error { return inStep(i, sh.InSettings("plan.treat", err)) }
	}
	for i, text := range texts {
		s, err := parseStep(text)
		if err != nil {
			return nil, "", in(i, err)
		}
		steps = append(steps, s)
	}
	if len(steps) == 0 {
		if steps, err = recordedSteps(sh, from); err != nil {
			return nil, "", err
		}
		whence = "of the planned rows of your record"
	}
	if len(steps) == 0 {
		return nil, "", noPlan()
	}
	return steps, whence, readOr(c, steps)
}

// inStep says which step of the settings cannot be used.
func inStep(i int, err error) error {
	var p *show.Problem
	if errors.As(err, &p) {
		p.What = fmt.Sprintf("step %d of %s", i+1, p.What)
	}
	return err
}

// noPlan tells how to write one. No schedule comes from the program.
func noPlan() error {
	return line.TooFew("there is no plan, and none comes from this program: write yours, a --treat for each treatment of your year (or treat = [...] under [plan] in the settings). An example of how it is written, not advice", planExample)
}

// readOr gives what is used when it is too hot to the steps that mind heat, in
// their order.
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

// recordedSteps are the treatments that the record has as plans in the year from
// a day on, whichever colony they are for.
func recordedSteps(sh *line.Shell, from sampling.Date) ([]step, error) {
	rec, err := ask.OpenRecord(sh)
	if rec == nil || err != nil {
		return nil, err
	}
	var days []decide.TreatmentDay
	for _, e := range rec.ByDate() {
		isPlan := e.Mark == fieldlog.Planned || e.Mark == "" && e.Date > sh.Today
		if e.Kind != fieldlog.Treatment || !isPlan || e.Gone > 0 || e.Date < from || e.Date >= from+365 {
			continue
		}
		t, ok := treatmentNamed(e.Treatment)
		day := decide.TreatmentDay{On: e.Date, Treatment: t}
		if ok && !slices.ContainsFunc(days, func(o decide.TreatmentDay) bool { return o.On == day.On && o.Treatment.Slug == t.Slug }) {
			days = append(days, day)
		}
	}
	var out []step
	for _, c := range decide.Courses(days) {
		on := c.First.Time()
		s := step{on: time.Date(2023, on.Month(), min(on.Day(), daysOf(on.Month())), 0, 0, 0, 0, time.UTC), treatment: c.Treatment, rounds: len(c.Rounds)}
		if s.rounds > 1 {
			s.every = int(c.Last-c.First) / (s.rounds - 1)
		}
		s.text = s.notation()
		out = append(out, s)
	}
	return out, nil
}

// daysOf is how many days a month has in every year.
func daysOf(m time.Month) int { return time.Date(2023, m+1, 0, 0, 0, 0, 0, time.UTC).Day() }

func treatmentNamed(n sampling.TreatmentName) (sampling.Treatment, bool) {
	all := sampling.Treatments()
	i := slices.IndexFunc(all, func(t sampling.Treatment) bool { return t.TreatmentName == n })
	if i < 0 {
		return sampling.Treatment{}, false
	}
	return all[i], true
}

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
func yearPlan(r ask.Rules, from sampling.Date, steps []step) decide.YearPlan {
	p := decide.YearPlan{From: from, Colony: r.Base, Rules: r.Rules}
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
