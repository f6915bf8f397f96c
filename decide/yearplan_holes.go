package decide

import (
	"cmp"
	"slices"
	"time"

	"halfcup/sampling"
)

// HoleKind is a way in which a yearly plan lets mites through.
type HoleKind string

// The holes, with what their figures say.
const (
	// HoleGap: from one day to another nothing reaches the mites, and Chance is
	// that of passing the line in some week of it.
	HoleGap HoleKind = "gap"

	// HoleRounds: the rounds end before the brood of their first day has opened,
	// and Chance is the share of the mites that they would not reach if they
	// killed every mite on bees.
	HoleRounds HoleKind = "rounds end too early"

	// HoleSupers: the treatment lies under honey supers for Days.
	HoleSupers HoleKind = "under supers"

	// HoleUnseen: a course that fails goes unseen for so many Days, and Chance
	// is that of being over the line for more than six weeks in a year in
	// which it does.
	HoleUnseen HoleKind = "failure unseen"

	// HoleHeat: it is often too hot for the treatment and the plan names nothing
	// instead. Chance is that of being over the line for more than six weeks
	// when it is left out.
	HoleHeat HoleKind = "too hot"
)

// Hole is one of them, on the days of the year asked about.
type Hole struct {
	Kind        HoleKind
	From, Until sampling.Date
	Course      Course // of the plan, that it is about or that comes before it
	Chance      float64
	Days        int
}

const (
	longGap   = 28   // days without a treatment that are no gap yet
	openGap   = 0.10 // least chance of passing the line that makes one
	missedBy  = 0.05 // least share of the mites that rounds do not reach
	longBlind = 28   // days that a failure may go unseen
)

// holes are those of the plan, the gaps with most chance of passing the line
// first and then the others by their days.
func (r *yearRun) holes() ([]Hole, error) {
	out := r.gaps()
	var rest []Hole
	for i, s := range r.Steps {
		c := s.Course
		if share := r.unreached(c); share >= missedBy {
			rest = append(rest, Hole{HoleRounds, c.First, c.Last, c, share, int(c.Last - c.First)})
		}
		if h, ok := r.underSupers(c); ok {
			rest = append(rest, h)
		}
		if h, ok := r.blind(c); ok {
			rest = append(rest, h)
		}
		if s.Or == nil && c.Treatment.Warmth.Known() && r.Colony.Year.between(c.First, time.June, 15, time.September, 15) {
			left := r.YearPlan
			left.Steps = without(r.Steps, i)
			o, err := left.Outlook()
			if err != nil {
				return nil, err
			}
			rest = append(rest, Hole{Kind: HoleHeat, From: c.First, Until: c.First, Course: c, Chance: o.Unseen})
		}
	}
	return append(out, rest...), nil
}

// gaps are the times of the year in which mites breed and nothing reaches them.
// What lies between the last course and the first of the next year is told by
// the end of this year and, from April on, by its beginning.
func (r *yearRun) gaps() []Hole {
	var out []Hole
	spring, s := r.Colony.Year.next(r.From, time.April, 1), r.watched()
	add := func(from, until sampling.Date, before Course) {
		if until-from <= longGap || from > s.until {
			return
		}
		over := r.forward(span{max(from, spring), min(until-1, s.until), 0}, nil, false).end.passed()
		if over >= openGap {
			out = append(out, Hole{HoleGap, from, until, before, over, int(until - from)})
		}
	}
	from, before := max(r.From, spring), Course{}
	for _, c := range r.path.courses {
		if c.First >= r.From {
			add(from, c.First, before)
			before = c.Course
		}
		from = max(from, c.actsUntil())
		if c.First >= r.From && c.actsUntil() < spring {
			from = c.actsUntil()
		}
	}
	if next := r.firstNextYear(); next > from {
		add(from, next, before)
	}
	slices.SortStableFunc(out, func(a, b Hole) int { return cmp.Compare(b.Chance, a.Chance) })
	return out
}

// actsUntil is the day after the last on which a course does something.
func (c Course) actsUntil() sampling.Date {
	if c.Treatment.WholeColony {
		return max(c.Last+sampling.Date(c.Treatment.Days), c.out())
	}
	return max(c.Last+1, c.out())
}

// firstNextYear is the first day of the plan in the year after.
func (r *yearRun) firstNextYear() sampling.Date {
	var first sampling.Date
	for _, s := range r.Steps {
		if on := s.days(1)[0].On; first.IsZero() || on < first {
			first = on
		}
	}
	if first.IsZero() {
		return r.From + daysOfPlan
	}
	return first
}

// unreached is the share of the mites that rounds on bees leave if each kills
// every mite that is on them: those in cells that open after the last.
func (r *yearRun) unreached(c Course) float64 {
	p := r.path
	if !c.Treatment.NeedsNoBrood() || !p.CappedBrood(c.First) || c.Last-c.First > r.cappedFor(c.First) {
		return 0
	}
	treated := p.plan.Rates.stable(p.colony.flows[c.First-p.start]).State
	untreated := treated
	end := c.Last + SettleDays + 1
	if int(end-p.start) > len(p.colony.flows) {
		return 0
	}
	for d := c.First; d < end; d++ {
		kill := Kill{}
		if slices.Contains(c.Rounds, d) {
			kill.OnBees = 1
		}
		i := int(d - p.start)
		treated = p.colony.day(p.plan.Rates, treated, i, kill, 0)
		untreated = p.colony.day(p.plan.Rates, untreated, i, Kill{}, 0)
	}
	return treated.Total() / untreated.Total()
}

// cappedFor is how long brood capped on a day stays so.
func (r *yearRun) cappedFor(d sampling.Date) sampling.Date {
	if r.Colony.Year.Cells(d).Drone > 0 {
		return droneDays
	}
	return workerDays
}

func (r *yearRun) underSupers(c Course) (Hole, bool) {
	days := c.Overlap(r.Colony.Supers.Times...)
	if days == 0 {
		return Hole{}, false
	}
	from := c.First
	for from < c.out() && r.Colony.Supers.On(from) != SupersOn {
		from++
	}
	return Hole{Kind: HoleSupers, From: from, Until: max(c.out(), c.Last), Course: c, Days: days}, true
}

// blind is how long a course that fails while there is brood goes unseen when
// nobody counts: until the next one, or the end of the time that is watched.
func (r *yearRun) blind(c Course) (Hole, bool) {
	s := r.watched()
	until := s.until
	if next, ok := r.nextCourse(c.First + 1); ok {
		until = min(until, next.First)
	}
	if !r.path.CappedBrood(c.First) || c.First < s.from-60 || until-c.First <= longBlind {
		return Hole{}, false
	}
	chance := r.failing(c.First).forward(s, nil, false).end.passed()
	return Hole{HoleUnseen, c.First, until, c, chance, int(until - c.First)}, true
}

// IfOtherwise is what becomes of a plan when something goes otherwise than
// assumed.
type IfOtherwise struct {
	What   string // one of the words below
	Course Course // that fails, empty for the rest

	// Weight is how often it does, as a share of all years, when that is known,
	// and 0 when not.
	Weight float64

	// Bare is the chance of being over the line for more than six weeks unseen
	// without counts, Counted with those of the plan.
	Bare, Counted float64
}

// What may go otherwise.
const (
	CourseFails  = "course fails"
	ManyArrivals = "many arrivals"
	LaterBrood   = "last brood two weeks later"
)

// YearReport is all that is to be said of a yearly plan.
type YearReport struct {
	YearCounts
	Holes     []Hole
	Otherwise []IfOtherwise
}

// Report works out the counts that pay, the holes, and what becomes of both
// when a course fails in the whole yard, mites come in in numbers, or the brood
// ends two weeks later. Errors are *sampling.ValueError.
func (p YearPlan) Report() (YearReport, error) {
	out := YearReport{}
	r, err := p.ready()
	if err != nil {
		return out, err
	}
	if out.YearCounts, err = r.countsThatPay(); err != nil {
		return out, err
	}
	if out.Holes, err = r.holes(); err != nil {
		return out, err
	}
	add := func(what string, of *yearRun, c Course, weight float64) error {
		calls, err := r.calls(out.Counts)
		if err != nil {
			return err
		}
		s := of.watched()
		out.Otherwise = append(out.Otherwise, IfOtherwise{what, c, weight, of.forward(s, nil, false).end.passed(), of.forward(s, calls, false).end.passed()})
		return nil
	}
	for _, s := range r.Steps {
		i := slices.IndexFunc(r.path.courses, func(c courseRun) bool { return c.First == s.Course.First })
		if i < 0 {
			continue // further rounds of the course of the step before
		}
		if err := add(CourseFails, r.failing(s.Course.First), s.Course, r.threeWeights(i)[1]); err != nil {
			return out, err
		}
	}
	many := r.YearPlan
	many.Colony.Arrivals, _ = Arrivals("many")
	late := r.YearPlan
	late.Colony.Year = late.Colony.Year.brooding(laterBrood)
	for _, o := range []struct {
		what string
		plan YearPlan
	}{{ManyArrivals, many}, {LaterBrood, late}} {
		of, err := o.plan.ready()
		if err != nil {
			return out, err
		}
		if err := add(o.what, of, Course{}, 0); err != nil {
			return out, err
		}
	}
	return out, nil
}

// laterBrood is by how many days the brood of another year may end later.
const laterBrood = 14

// brooding is the year with bees and brood so many days later, and the lines and
// the dates of the calendar as they are.
func (y Year) brooding(later int) Year {
	c := *y.curve
	for i := range daysOfYear {
		from := ((i-later)%daysOfYear + daysOfYear) % daysOfYear
		c.logBees[i], c.worker[i], c.drone[i], c.flying[i] = y.curve.logBees[from], y.curve.worker[from], y.curve.drone[from], y.curve.flying[from]
	}
	y.curve = &c
	return y
}
