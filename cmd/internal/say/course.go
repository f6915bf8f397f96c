package say

import (
	"fmt"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// course is the first sentence while a treatment works or settles.
func (s Standing) course() string {
	switch {
	case s.Because == decide.Settling:
		return "treated; too early to count. Count on " + ShortDay(s.Course.SettledOn()) + "."
	case s.lies():
		return fmt.Sprintf("being treated. Leave the %s in; add nothing.", s.Course.Treatment.Called)
	}
	if next := s.nextRound(); !next.IsZero() {
		return fmt.Sprintf("being treated. Next round on %s; add nothing else.", ShortDay(next))
	}
	return "being treated; add nothing."
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
		add(ShortDay(c.OutDue()), "take it out, all of it")
	}
	add(ShortDay(c.SettledOn()), "count, to see what is left")
	return out
}
