package decide

import (
	"slices"

	"halfcup/sampling"
)

// Course is one treatment with all its rounds, from the first of them to the
// day on which a count can tell what it did. A brood break and the cutting of
// drone brood are no courses: they put nothing into the hive.
type Course struct {
	Treatment   sampling.Treatment
	First, Last sampling.Date   // of the rounds
	Rounds      []sampling.Date // in order

	// Until is the day it is to come out by its label, zero when nobody wrote
	// that down; see OutDue. TakenOut is the day it did.
	Until, TakenOut sampling.Date

	// Given is the last round that was given and not only planned, zero when
	// none was. Confirmed says that some round was planned and that every one
	// of those has been confirmed.
	Given     sampling.Date
	Confirmed bool
}

// CourseState is how far a course has come on a day.
type CourseState string

// The states, in their order. A count tells what a course did from
// CourseDueCount on.
const (
	CoursePlanned  CourseState = "planned"
	CourseRunning  CourseState = "running"
	CourseTakeOut  CourseState = "take out" // its days are over and nobody wrote that it came out
	CourseSettling CourseState = "settling"
	CourseDueCount CourseState = "due a count"
	CourseCounted  CourseState = "counted"
)

// BarsTreatment reports whether nothing may be added while a course is in this
// state: what it does is not over, or no count can yet tell what it did.
func (s CourseState) BarsTreatment() bool {
	return s == CourseRunning || s == CourseTakeOut || s == CourseSettling
}

// TreatmentEnd is a day on which what lay in the hive was taken out. Without a
// slug it is everything that lay there.
type TreatmentEnd struct {
	On   sampling.Date
	Slug string
}

const (
	// sameCourse is how far apart in days two rounds of one course can be. Rounds
	// a fortnight apart are rare; a treatment three weeks later answers another
	// count. It is the only such figure.
	sameCourse = 21

	// outAsked is how many days after its out-day a treatment is still asked
	// for when nobody wrote that it came out: strips left in over winter are
	// found at the first inspection in spring.
	outAsked = 180

	// Courses longer than longCourse days get a check between checkFrom and
	// checkTo days after they began, so that strips that meet resistant mites
	// are not found out when they come out. Common practice.
	longCourse         = 28
	checkFrom, checkTo = 21, 28

	// notWorking is the chance of being over the line at which a count made
	// under treatment says that it may not be working.
	notWorking = 0.9
)

// Acts reports whether a treatment acts on what is known and forecast on a day.
// A planned round whose day has passed and that nobody confirmed acts on
// nothing: it may not have been given. See Unconfirmed.
func (t TreatmentDay) Acts(today sampling.Date) bool {
	return !t.Planned || t.Confirmed || t.On >= today
}

// given reports whether the round is more than a plan.
func (t TreatmentDay) given() bool { return !t.Planned || t.Confirmed }

// Acting are the treatments that act on a day, in their order.
func Acting(days []TreatmentDay, today sampling.Date) []TreatmentDay {
	var out []TreatmentDay
	for _, t := range days {
		if t.Acts(today) {
			out = append(out, t)
		}
	}
	return out
}

// Unconfirmed are the planned rounds whose day has passed, of which an answer
// has to ask whether they were given.
func Unconfirmed(days []TreatmentDay, today sampling.Date) []TreatmentDay {
	var out []TreatmentDay
	for _, t := range days {
		if !t.Acts(today) {
			out = append(out, t)
		}
	}
	return out
}

// Courses groups the treatments of one colony, in any order, into courses by
// their first day. Take the Acting ones: a plan that nobody confirmed belongs
// to no course.
func Courses(days []TreatmentDay, ends ...TreatmentEnd) []Course {
	days = slices.Clone(days)
	slices.SortStableFunc(days, func(a, b TreatmentDay) int { return int(a.On - b.On) })
	var out []Course
	for _, d := range days {
		i := len(out) - 1
		for i >= 0 && !out[i].goesOn(d) {
			i--
		}
		if i < 0 {
			out = append(out, Course{Treatment: d.Treatment, First: d.On, Confirmed: true})
			i = len(out) - 1
		}
		c := &out[i]
		c.Last, c.Rounds = d.On, append(c.Rounds, d.On)
		c.Until = max(c.Until, d.Until)
		if d.given() {
			c.Given = d.On
		}
		c.Confirmed = c.Confirmed && d.given()
	}
	for i := range out {
		c := &out[i]
		c.Confirmed = c.Confirmed && slices.ContainsFunc(days, func(d TreatmentDay) bool {
			return d.Planned && d.Treatment.Slug == c.Treatment.Slug && c.First <= d.On && d.On <= c.Last
		})
		c.TakenOut = takenOut(out, i, ends)
	}
	return out
}

// Courses are the courses of the colony as they stand on a day, without plans
// that nobody confirmed.
func (h History) Courses(today sampling.Date) []Course {
	return Courses(Acting(h.Treatments, today), h.Ends...)
}

// goesOn reports whether a later round belongs to the course.
func (c Course) goesOn(d TreatmentDay) bool {
	return d.Treatment.Slug == c.Treatment.Slug && d.On <= max(c.Last+sameCourse, c.OutDue())
}

// takenOut is the first end after the last given round of a course, and before
// another course of the same treatment begins.
func takenOut(courses []Course, i int, ends []TreatmentEnd) sampling.Date {
	c := courses[i]
	if !c.lies() || c.Planned() {
		return 0
	}
	next := sampling.Date(0)
	for _, other := range courses[i+1:] {
		if other.Treatment.Slug == c.Treatment.Slug {
			next = other.First
			break
		}
	}
	var out sampling.Date
	for _, e := range ends {
		mine := e.Slug == "" || e.Slug == c.Treatment.Slug
		if mine && e.On >= c.Given && (next.IsZero() || e.On <= next) && (out.IsZero() || e.On < out) {
			out = e.On
		}
	}
	return out
}

// Planned reports whether no round of the course was given yet.
func (c Course) Planned() bool { return c.Given.IsZero() }

// NeedsNoBrood reports whether the course can do its work only while the
// colony has no capped brood: what is given is gone before cells capped at its
// first round have opened. Such a course is not to be brought forward into a
// time with brood.
func (c Course) NeedsNoBrood() bool {
	return c.Treatment.NeedsNoBrood() && c.Last < c.First+SettleDays
}

// lies reports whether something is left in the hive that has to come out.
func (c Course) lies() bool { return c.Treatment.Lies() > 0 || !c.Until.IsZero() }

// OutDue is the day the course is over: that of the last round, or the day on
// which what lies in the hive is to come out. It is the day of the label where
// one was written down, else what is usual; see OutUsual.
func (c Course) OutDue() sampling.Date {
	if c.Until >= c.Last && !c.Until.IsZero() {
		return c.Until
	}
	return c.Last + sampling.Date(c.Treatment.Lies())
}

// OutUsual reports whether OutDue is only what is usual of such a treatment.
// The label's own day wins.
func (c Course) OutUsual() bool { return c.lies() && c.OutDue() != c.Until }

// out is the day the course was or will be over.
func (c Course) out() sampling.Date {
	if !c.TakenOut.IsZero() {
		return c.TakenOut
	}
	return c.OutDue()
}

// SettledOn is the first day on which a count can tell what the course did in
// a colony with brood: 14 days after the last round, and after whatever lay in
// the hive came out.
func (c Course) SettledOn() sampling.Date { return max(c.Last, c.out()) + SettleDays }

// Check are the days between which a course of more than 28 days is to be
// checked by a roll or a wash, zero for a shorter one. A board will not do: what
// falls under treatment is on another scale.
func (c Course) Check() (from, to sampling.Date) {
	if c.OutDue() <= c.First+longCourse || !c.lies() {
		return 0, 0
	}
	return c.First + checkFrom, c.First + checkTo
}

// State is how far the course has come on a day, given the days on which the
// colony was counted.
func (c Course) State(on sampling.Date, counts []sampling.Date) CourseState {
	isOut := !c.TakenOut.IsZero() && c.TakenOut <= on
	switch {
	case c.Planned() || on < c.First:
		return CoursePlanned
	case isOut && c.Given < c.Last && on <= c.Last:
		return CourseRunning // some of its rounds are still to come
	case !isOut && on < c.OutDue(), on == c.Last && c.Given < c.Last:
		return CourseRunning
	case !isOut && c.lies() && on < c.OutDue()+outAsked:
		return CourseTakeOut
	case on < c.SettledOn():
		return CourseSettling
	}
	for _, d := range counts {
		if d >= c.SettledOn() && d <= on {
			return CourseCounted
		}
	}
	return CourseDueCount
}

// InForce is the course that says what is to be done on a day, with its state:
// one that has to come out, else the last to settle, unless it was counted
// since. Where courses overlap, a count tells what they did when the last of
// them has settled, and counts for all. ok is false when none is in force.
func InForce(courses []Course, on sampling.Date, counts []sampling.Date) (c Course, state CourseState, ok bool) {
	out := slices.DeleteFunc(slices.Clone(courses), func(c Course) bool { return c.State(on, counts) != CourseTakeOut })
	if c, ok = lastToSettle(out, on); ok {
		return c, CourseTakeOut, true
	}
	if c, ok = lastToSettle(courses, on); ok {
		state = c.State(on, counts)
	}
	if !ok || state == CourseCounted {
		return Course{}, "", false
	}
	return c, state, true
}

// lastToSettle is the course that had begun by a day and settles last; of some
// that settle on one day the last to begin.
func lastToSettle(courses []Course, on sampling.Date) (last Course, ok bool) {
	for _, c := range courses {
		if !c.Planned() && c.First <= on && (!ok || c.SettledOn() >= last.SettledOn()) {
			last, ok = c, true
		}
	}
	return last, ok
}

// MayNotWork reports whether a roll or wash made under treatment says that it
// may not be working: one of the check, of the second half of the course or of
// the days after it, with so high a chance of being over the line. Nothing is
// to be added then; a vet or bee inspector has to be asked.
func (c Course) MayNotWork(counted sampling.Date, overAct float64) bool {
	half := c.First + (c.out()-c.First+1)/2
	if from, _ := c.Check(); !from.IsZero() {
		half = min(half, from)
	}
	return !c.Planned() && counted > c.First && counted >= half && counted < c.SettledOn() && overAct > notWorking
}

// Overlap is on how many days of the course honey supers are on: days on which
// it lies in the hive, or days of its rounds. Supers whose Off is zero stay on.
func (c Course) Overlap(supers ...Supers) int {
	on := func(d sampling.Date) bool {
		return slices.ContainsFunc(supers, func(s Supers) bool { return s.On <= d && (d < s.Off || s.Off.IsZero()) })
	}
	days := 0
	if !c.lies() {
		for _, d := range c.Rounds {
			if on(d) {
				days++
			}
		}
		return days
	}
	for d := c.First; d < max(c.out(), c.Last+1); d++ {
		if on(d) {
			days++
		}
	}
	return days
}

// Repeated is the mode of action of the last course and how many courses in a
// row had it. Mites that outlive one treatment of a group outlive the others
// of the group too, so names do not count.
func Repeated(courses []Course) (mode string, times int) {
	for _, c := range slices.Backward(courses) {
		switch {
		case times == 0:
			mode = c.Treatment.ModeOfAction
		case c.Treatment.ModeOfAction != mode:
			return mode, times
		}
		times++
	}
	return mode, times
}

// AskResistance reports whether to speak of resistance after a treatment was
// judged, of changing the group and of a jar test: only after synthetic ones,
// to which mites are known to become resistant, and only when it did not work.
func AskResistance(t sampling.Treatment, a Answer) bool { return t.Synthetic() && a == DidNot }
