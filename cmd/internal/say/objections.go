package say

import (
	"fmt"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
)

// Objection is what speaks against a course, as a clause that a name can stand
// before: none of them forbids anything, the label and the law do.
func Objection(o decide.Objection, next decide.Course) string {
	switch o.Kind {
	case decide.ObjectSupers:
		return fmt.Sprintf("honey supers are on for %s of it. Nothing is given while they are, unless its label allows it", show.Many(o.Days, "day", "days"))
	case decide.ObjectSecondTrickle:
		if o.With.First == next.First {
			return "a trickle once in a winter, never twice: the second harms the bees"
		}
		return fmt.Sprintf("it was trickled on %s: once in a winter, never twice. The second harms the bees", ShortDay(o.With.First))
	case decide.ObjectTwoAtOnce:
		return fmt.Sprintf("%s of %s is not over. Two treatments at once are for the label to allow", o.With.Treatment.Called, ShortDay(o.With.First))
	case decide.ObjectSameGroup:
		return fmt.Sprintf("%s before was of the same group (%s). Mites that outlive one outlive the other: ask your vet or bee inspector", o.With.Treatment.Called, o.With.Treatment.ModeOfAction)
	case decide.ObjectManyCourses:
		return fmt.Sprintf("this is course %d of %s in a year. Labels say how many they allow", o.Courses, next.Treatment.Active)
	}
	return string(o.Kind)
}
