package decide

import (
	"slices"

	"halfcup/sampling"
)

// Course is a treatment with all its rounds.
type Course struct {
	Treatment   sampling.Treatment
	First, Last sampling.Date // of the rounds
}

// SettledOn is the first day on which a count can tell what the course did in
// a colony with brood: 14 days after the last round, and not before the end of
// a treatment that lies in the hive for weeks.
func (c Course) SettledOn() sampling.Date {
	settled := c.Last + SettleDays
	if c.Treatment.WholeColony {
		settled = max(settled, c.Last+sampling.Date(c.Treatment.Days))
	}
	return settled
}

// sameCourse is how far apart in days two rounds of one course can be. Rounds
// a fortnight apart are rare; a treatment three weeks later answers another
// count.
const sameCourse = 21

// Courses groups the treatments of one colony, in any order, into courses.
func Courses(days []TreatmentDay) []Course {
	days = slices.Clone(days)
	slices.SortStableFunc(days, func(a, b TreatmentDay) int { return int(a.On - b.On) })
	var out []Course
	for _, d := range days {
		i := len(out) - 1
		for i >= 0 && (out[i].Treatment.Slug != d.Treatment.Slug || d.On > out[i].Last+sameCourse) {
			i--
		}
		if i < 0 {
			out = append(out, Course{d.Treatment, d.On, d.On})
			continue
		}
		out[i].Last = d.On
	}
	return out
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

// ActionGroup is the active ingredients that share a mode of action.
type ActionGroup struct {
	Mode    string
	Actives []string
}

// ActionGroups lists the modes of action to rotate among.
func ActionGroups() []ActionGroup {
	var out []ActionGroup
	for _, t := range sampling.Treatments() {
		i := slices.IndexFunc(out, func(g ActionGroup) bool { return g.Mode == t.ModeOfAction })
		if i < 0 {
			i = len(out)
			out = append(out, ActionGroup{Mode: t.ModeOfAction})
		}
		if !slices.Contains(out[i].Actives, t.Active) {
			out[i].Actives = append(out[i].Actives, t.Active)
		}
	}
	return out
}
