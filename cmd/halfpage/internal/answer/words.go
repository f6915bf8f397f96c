package answer

import (
	"fmt"

	"halfcup/cmd/internal/say"
	"halfcup/decide"
)

// dutyWords is something to do at a hive, in a few words.
func dutyWords(d decide.Duty) string {
	called := d.Treatment.Called
	switch d.Kind {
	case decide.DutyTakeOut:
		return "take out the " + called
	case decide.DutyConfirm:
		return called + " was planned: was it given?"
	case decide.DutyRound:
		return fmt.Sprintf("%s, round %d of %d", called, d.Round, d.Of)
	case decide.DutyTreat:
		return "treat"
	case decide.DutyBoardOut:
		return "board out: it tells most early"
	case decide.DutyQueenOut:
		return "let the queen out"
	case decide.DutyDroneOut:
		return "drone frame out, before they hatch"
	case decide.DutyCheck:
		return "count: does the treatment work?"
	case decide.DutyTreatment:
		return called + ", planned"
	case decide.DutySupers:
		return "no supers yet: " + called + " lies in the hive"
	case decide.DutyCount:
		return "count: " + say.DueFor(d.Why)
	}
	return string(d.Kind)
}

// courseWords is what works or settles in a hive, "" when nothing does.
func courseWords(s decide.Standing) string {
	called := s.Course.Treatment.Called
	switch s.CourseState {
	case decide.CourseRunning:
		return called + ", to " + say.ShortDay(s.Course.OutDue())
	case decide.CourseTakeOut:
		return called + ": take it out"
	case decide.CourseSettling:
		return called + " is out; count " + say.ShortDay(s.Course.SettledOn())
	}
	return ""
}
