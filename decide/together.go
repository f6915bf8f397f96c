package decide

import (
	"math"
	"slices"

	"halfcup/sampling"
)

// latestBefore is how old a count can be and still stand for the colony before
// a treatment, in days. Later than latestAfter days after it could first be
// told, the mites are of another season.
const latestBefore, latestAfter = 45, 90

// Around are the counts on both sides of a course: the last before it and the
// first when it can be judged, or failing that the last one before then. ok is
// false when there are not both.
func (h History) Around(c Course) (p Pair, ok bool) {
	p = Pair{SettledOn: c.SettledOn(), CappedBrood: h.CappedBrood(c.First), Happenings: h.Happenings}
	for _, count := range h.Counts {
		if count.Method == sampling.Knockdown {
			continue
		}
		switch {
		case count.Date <= c.First && count.Date >= c.First-latestBefore:
			if p.Before.Date != count.Date || p.Before.Method.Kind() == sampling.Fall {
				p.Before = count
			}
		case count.Date > c.Last && count.Date <= c.SettledOn()+latestAfter && p.After.Date < p.SettledOn:
			p.After = count
		}
	}
	return p, p.Before != (sampling.Count{}) && p.After != (sampling.Count{})
}

// Settled reports whether the count after is late enough to tell what the
// treatment did. One that is not credits it with the mites that were in cells, so
// that beside colonies with a later count it is left out; where no brood was capped
// there were none.
func (p Pair) Settled() bool { return !p.CappedBrood || p.After.Date >= p.SettledOn }

// SharedCourse is one course that some colonies of an apiary were given in the
// same weeks.
type SharedCourse struct {
	First, Last sampling.Date // over all of them
	Given       []GivenCourse
}

// GivenCourse is the course of one colony, by its place in the apiary.
type GivenCourse struct {
	Colony int
	Course Course
}

// SharedCourses are the courses of an apiary that were given by a day and that
// keep takes, by their first day. keep may be nil.
func (a Apiary) SharedCourses(day sampling.Date, keep func(Course) bool) []SharedCourse {
	var out []SharedCourse
	for i, k := range a.Colonies {
		for _, c := range k.Courses(day) {
			if c.Planned() || c.First > day || c.First < k.Since || // given to the whole that it was divided from
				keep != nil && !keep(c) {
				continue
			}
			together := func(g SharedCourse) bool {
				has := slices.ContainsFunc(g.Given, func(o GivenCourse) bool { return o.Colony == i })
				near := c.First <= g.Last+SettleDays && g.First <= c.Last+SettleDays
				return !has && near && g.Given[0].Course.Treatment.Slug == c.Treatment.Slug
			}
			at := slices.IndexFunc(out, together)
			if at < 0 {
				at, out = len(out), append(out, SharedCourse{First: c.First, Last: c.Last})
			}
			g := &out[at]
			g.First, g.Last = min(g.First, c.First), max(g.Last, c.Last)
			g.Given = append(g.Given, GivenCourse{i, c})
		}
	}
	slices.SortStableFunc(out, func(a, b SharedCourse) int { return int(a.First - b.First) })
	return out
}

// expects is by how much fewer mites per bee there should be on the day a course
// can first be told, against no treatment: its published kills, weak to strong,
// put through the colony's own run. ok is false when the course is not on the
// path.
func (p *Path) expects(c Course) (r Range, ok bool) {
	for _, run := range p.courses {
		if run.First != c.First || run.Treatment.Slug != c.Treatment.Slug {
			continue
		}
		at := int(c.SettledOn()-p.start) - run.first
		if at < 0 || at >= len(run.without) {
			return Range{}, false
		}
		took := func(q int) float64 { return -math.Expm1(run.quantiles[q][at] - run.without[at]) }
		return Range{took(middleKill), took(0), took(killQuantiles - 1)}, true
	}
	return Range{}, false
}
