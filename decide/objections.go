package decide

import (
	"halfcup/sampling"
)

// ObjectionKind is what speaks against a course when it is written down.
type ObjectionKind string

// The objections. None of them forbids anything: the label and the law do.
const (
	ObjectSecondTrickle ObjectionKind = "second trickle in one winter"
	ObjectSupers        ObjectionKind = "supers on"
	ObjectSameGroup     ObjectionKind = "same group as the last course"
	ObjectTwoAtOnce     ObjectionKind = "two treatments at once"
	ObjectManyCourses   ObjectionKind = "many courses in a year"
)

// manyCourses is the number of courses of one active ingredient in a year from
// which the label is to be looked at: labels set how many they allow.
const manyCourses = 3

// Objection is one of them. With is the other course it speaks of, empty where
// there is none; Days are those under supers, Courses those of the ingredient
// in the year up to the new one.
type Objection struct {
	Kind    ObjectionKind
	With    Course
	Days    int
	Courses int
}

// Objections are what speaks against a new course, one that is not a further
// round of an old one. courses are the others of the colony by their first day,
// given or planned.
func Objections(year Year, courses []Course, supers []Supers, next Course) []Objection {
	var out []Objection
	if days := next.Overlap(supers...); days > 0 {
		out = append(out, Objection{Kind: ObjectSupers, Days: days})
	}
	var last, both, trickled Course
	inYear := 1
	for _, c := range courses {
		if c.First <= next.First && !c.Planned() {
			last = c
		}
		if c.atOnce(next) {
			both = c
		}
		if sameWinter(year, c, next) {
			trickled = c
		}
		if c.Treatment.Active == next.Treatment.Active && c.First <= next.First && c.First > next.First-365 {
			inYear++
		}
	}
	if len(next.Rounds) > 1 && sameWinter(year, next, next) {
		trickled = next
	}
	for _, o := range []Objection{
		{Kind: ObjectSecondTrickle, With: trickled},
		{Kind: ObjectTwoAtOnce, With: both},
	} {
		if !o.With.First.IsZero() {
			out = append(out, o)
		}
	}
	if next.Treatment.Synthetic() && last.Treatment.ModeOfAction == next.Treatment.ModeOfAction {
		out = append(out, Objection{Kind: ObjectSameGroup, With: last})
	}
	if inYear >= manyCourses {
		out = append(out, Objection{Kind: ObjectManyCourses, Courses: inYear})
	}
	return out
}

// atOnce reports whether two courses act on the same day, or the one still lies
// in the hive when the other begins.
func (c Course) atOnce(next Course) bool {
	end := func(c Course) sampling.Date { return max(c.Last+1, c.out()) }
	if c.First < end(next) && next.First < end(c) {
		return true
	}
	return c.State(next.First, nil) == CourseTakeOut
}
