package say

import (
	"fmt"
	"slices"
	"strings"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// course is the first sentence while a treatment works or settles.
func (s Standing) course() string {
	with := s.Course.Treatment.Called
	switch {
	case s.mayNotWork():
		return "this may not be working. Add nothing; ask your vet or bee inspector."
	case s.Because == decide.Settling && s.closed():
		return fmt.Sprintf("treated with %s. Leave it shut; %s", with, strings.ToLower(s.again()[:1])+s.again()[1:])
	case s.Because == decide.Settling:
		return fmt.Sprintf("treated with %s; count on %s, not before.", with, ShortDay(s.Course.SettledOn()))
	case s.lies():
		return fmt.Sprintf("leave the %s in until %s; add nothing.", with, ShortDay(s.Course.OutDue()))
	}
	if next := s.nextRound(); !next.IsZero() {
		return fmt.Sprintf("being treated with %s. Next round on %s; add nothing else.", with, ShortDay(next))
	}
	return "being treated with " + with + "; add nothing."
}

// checked is the last roll or wash made since the treatment began.
func (s Standing) checked() (sampling.Count, bool) {
	for _, e := range slices.Backward(s.Evidence) {
		if c := e.Count; c.Method.Kind() == sampling.BeeSample {
			return c, c.Date > s.Course.First
		}
	}
	return sampling.Count{}, false
}

// mayNotWork reports whether a roll or wash made under treatment says so.
func (s Standing) mayNotWork() bool {
	c, ok := s.checked()
	return ok && s.Course.MayNotWork(c.Date, s.ChanceOverAct)
}

// lies reports whether something is in the hive that has to come out.
func (s Standing) lies() bool { return s.Course.OutDue() > s.Course.Last }

// nextRound is the next round of the course after the day, zero when none is
// planned.
func (s Standing) nextRound() sampling.Date {
	for _, on := range s.Course.Rounds {
		if on > s.Day {
			return on
		}
	}
	return 0
}

// courseRow is what a row says of a colony under treatment.
func (s Standing) courseRow() string {
	switch {
	case s.mayNotWork():
		return "may not work: ask vet"
	case s.Because == decide.Settling && s.closed():
		return "treated; leave it shut"
	case s.Because == decide.Settling:
		return "treated; count " + rowDay(s.Course.SettledOn())
	case s.lies():
		return "leave it in to " + rowDay(s.Course.OutDue())
	}
	if next := s.nextRound(); !next.IsZero() {
		return "next round " + rowDay(next)
	}
	return "being treated"
}

// daysLate is how late something has to come out.
func (s Standing) daysLate() string {
	late := int(s.Day - s.Course.OutDue())
	if late <= 0 {
		return "today"
	}
	return show.Many(late, "day", "days") + " late"
}

// Step is a day of a course and what there is to do on it.
type Step struct{ When, What string }

// Steps are the days of a course that are still to come, in their order; none
// when no treatment works, lies or settles.
func (s Standing) Steps() []Step {
	var out []Step
	add := func(when, what string) { out = append(out, Step{when, what}) }
	c := s.Course
	switch s.CourseState {
	case decide.CourseRunning:
	case decide.CourseTakeOut:
		add("since "+ShortDay(c.OutDue()), "it should be out: "+s.daysLate())
		add("14 days after that", "count, to see what is left")
		return out
	default:
		return nil
	}
	if c, ok := s.checked(); ok {
		what := "nothing says that it fails"
		if s.mayNotWork() {
			what = "too many: it may not be working"
		}
		add(ShortDay(c.Date), fmt.Sprintf("%s counted: %s", show.Many(c.Mites, "mite", "mites"), what))
	}
	if s.lies() {
		what := fmt.Sprintf("%s, day %d of %d", c.Treatment.Called, int(s.Day-c.First), int(c.OutDue()-c.First))
		if c.OutUsual() {
			what += " (usual; your label's day wins: --until DATE)"
		}
		add("until "+ShortDay(c.OutDue()), what)
	}
	for i, on := range c.Rounds {
		if on > s.Day {
			add(ShortDay(on), fmt.Sprintf("round %d of %d", i+1, len(c.Rounds)))
		}
	}
	if from, to := c.Check(); !from.IsZero() && s.Day <= to && s.Counted < from {
		add("about "+ShortDay(from), "check: half a cup. If it shows no effect, add nothing: ask your vet or bee inspector")
	}
	if s.lies() {
		add(ShortDay(c.OutDue()), "take it all out")
	}
	add(ShortDay(c.SettledOn()), "count, to see what is left")
	return out
}
