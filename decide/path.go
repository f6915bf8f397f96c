package decide

import (
	"fmt"
	"math"
	"slices"

	"halfcup/sampling"
)

// PathPlan is what happens to a colony, as far as it is known or planned.
type PathPlan struct {
	First, Last sampling.Date // the days the path is asked about
	Year        Year
	Rates       Rates
	Treatments  []TreatmentDay
	Ends        []TreatmentEnd // days on which what lay in the hive came out
	Happenings  []Happening
	Arrivals    float64 // mites a day that come in from other colonies while bees fly

	// AdultBees is the number of adult bees on the day BeesOn, 0 when nobody
	// knows; then the colony is an ordinary one.
	AdultBees float64
	BeesOn    sampling.Date
}

// TreatmentDay is a treatment given on a day. It acts at the start of that
// day; one whose kill is quoted for the whole colony acts a little on each of
// its Days, evenly on the log scale, so that at their end it has killed what
// was quoted.
type TreatmentDay struct {
	On        sampling.Date
	Treatment sampling.Treatment

	// Until is the day it is to come out by its label, zero when nobody wrote
	// that down.
	Until sampling.Date

	// Planned is the mark of a round written down as one to come, Confirmed
	// that it was written down since that it was given. See Acts.
	Planned, Confirmed bool
}

// DefaultArrivals is the neighbourhood that is taken for granted.
const DefaultArrivals = "few"

// Arrivals are the mites a day that come in from other colonies, by a word for
// the neighbourhood: none, few or many.
func Arrivals(neighbourhood string) (perDay float64, known bool) {
	switch neighbourhood {
	case "none":
		return 0, true
	case "few", "many":
		return parameter("arrivals_" + neighbourhood), true
	}
	return 0, false
}

// Path is one run of the model of mite growth through a colony's record, from
// which the moves between any two of its days are read. The model is linear
// in the mites, so the run starts with one mite on the adult bees.
type Path struct {
	plan  PathPlan
	start sampling.Date // the first day of the run; earlier than plan.First

	colony colony

	// By days since start, each at the start of its day, before a treatment.
	mites  []float64 // log of the mites on adult bees, at the expected kills
	inCell []float64 // share of the mites that is in cells, at the expected kills
	kills  []Kill    // the expected kill of the day

	courses []courseRun // in the order in which they began
}

const (
	// runIn is the time in days the model is run before the first day, so that
	// mites are spread over bees and cells as the season before has left them
	// and not as if its brood had always been that of one day.
	runIn = 60

	// remembered is how long before the first day a happening may lie, in days,
	// and still matter to how many bees and how much brood there are.
	remembered = 180

	// almostAll keeps a kill from rounding to all of the mites: a log axis has
	// no place for none.
	almostAll = 1 - 1e-9

	maxPathDays = 62 * 366 // a keeper's life, and a plan ahead
	maxArrivals = 10_000
)

// NewPath runs the model through the plan. Its errors are
// *sampling.ValueError. A treatment before the first day is taken along.
func NewPath(plan PathPlan) (*Path, error) {
	if err := plan.check(); err != nil {
		return nil, err
	}
	p := &Path{plan: plan, start: plan.First}
	for _, t := range plan.Treatments {
		p.start = min(p.start, t.On)
	}
	for _, h := range plan.Happenings {
		if h.On >= plan.First-remembered {
			p.start = min(p.start, h.On)
		}
	}
	p.start -= runIn
	days := int(plan.Last-p.start) + 1
	if days > maxPathDays {
		return nil, &sampling.ValueError{Name: "record", Problem: fmt.Sprintf("it spans %d days", days), Remedy: "check the years of its first and last day"}
	}
	p.colony = plan.colony(p.start, plan.Last)
	p.kills = p.killsWith(func(_ TreatmentDay, b sampling.Beta) float64 { return b.Mean() }, 0, days)
	p.mites, p.inCell = make([]float64, days), make([]float64, days)
	courses := plan.courses()
	states := make([]Mites, len(courses)) // of the run at the start of each
	m, at := p.colony.before(plan.Rates), 0
	for i, c := range courses {
		first := int(c.First - p.start)
		m = p.grow(m, p.mites[at:], p.inCell[at:], p.kills[at:], at, first)
		states[i], at = m, first
	}
	p.grow(m, p.mites[at:], p.inCell[at:], p.kills[at:], at, days)
	p.runCourses(courses, states)
	return p, nil
}

// CappedBrood reports whether the colony has capped brood at the start of a
// day of the path.
func (p *Path) CappedBrood(d sampling.Date) bool {
	i := int(d - p.start)
	return i >= 0 && i < len(p.colony.capped) && p.colony.capped[i]
}

// AdultBees is the number of adult bees at the start of a day of the path, NaN
// on any other day.
func (p *Path) AdultBees(d sampling.Date) float64 {
	if i := int(d - p.start); i >= 0 && i < len(p.colony.logBees) {
		return math.Exp(p.colony.logBees[i])
	}
	return math.NaN()
}

// ShareInCells is the share of the colony's mites that sits in capped cells at
// the start of a day of the path, at the expected kills; NaN on any other day.
func (p *Path) ShareInCells(d sampling.Date) float64 {
	if i := int(d - p.start); i >= 0 && i < len(p.inCell) {
		return p.inCell[i]
	}
	return math.NaN()
}

// arrived is the number of mites on adult bees at the start of day b that
// arrived since the start of day a or descend from such: a run with arrivals
// only.
func (p *Path) arrived(a, b int) float64 {
	if p.plan.Arrivals == 0 {
		return 0
	}
	var m Mites
	for i := a; i < b; i++ {
		arrivals := 0.0
		if p.plan.Year.Flying(p.start + sampling.Date(i)) {
			arrivals = p.plan.Arrivals * p.plan.Year.arrivalShare(p.start+sampling.Date(i))
		}
		m = p.colony.day(p.plan.Rates, m, i, p.kills[i], arrivals)
	}
	return m.OnBees
}

// grow lets the mites m at the start of the day first breed until the start of
// the day end, by the kills of the days from first on, and puts down the log of
// those on adult bees on each day between, and the share in cells where that is
// wanted.
func (p *Path) grow(m Mites, logs, inCell []float64, kills []Kill, first, end int) Mites {
	for i := first; i < end; i++ {
		logs[i-first] = math.Log(m.OnBees)
		if inCell != nil {
			inCell[i-first] = m.InCells() / m.Total()
		}
		m = p.colony.day(p.plan.Rates, m, i, kills[i-first], 0)
	}
	return m
}

// killsWith gives the kill of every day from first to the one before end, with
// the given choice of one share out of what is known of a treatment's kill.
func (p *Path) killsWith(choose func(TreatmentDay, sampling.Beta) float64, first, end int) []Kill {
	kills := make([]Kill, end-first)
	plan := p.plan
	for _, given := range plan.Treatments {
		t, on := given.Treatment, int(given.On-p.start)
		if on >= end {
			continue // planned for after the last day
		}
		share := func(b sampling.Beta) float64 { return min(choose(given, b), almostAll) }
		kill := Kill{OnBees: share(t.Kill(p.colony.capped[on]))}
		days := 1
		switch {
		case t.WholeColony:
			days = t.Days
			kill.OnBees = -math.Expm1(math.Log1p(-kill.OnBees) / float64(days))
			kill.InCells = kill.OnBees
		case t.ActsInBrood:
			kill.InCells = share(t.KillInCells)
		}
		last := on + days
		if out := plan.takenOut(given); !out.IsZero() {
			last = min(last, int(out-p.start))
		}
		for i := max(on, first); i < min(last, end); i++ {
			kills[i-first] = kills[i-first].and(kill)
		}
	}
	return kills
}

// and is the kill of two treatments on one day.
func (k Kill) and(other Kill) Kill {
	return Kill{1 - (1-k.OnBees)*(1-other.OnBees), 1 - (1-k.InCells)*(1-other.InCells)}
}

// courses are the courses of treatment that begin before the plan ends.
func (plan PathPlan) courses() []Course {
	return slices.DeleteFunc(Courses(plan.Treatments, plan.Ends...), func(c Course) bool { return c.First > plan.Last })
}

// takenOut is the day on which what a round left in the hive came out, zero
// when nobody wrote that down.
func (plan PathPlan) takenOut(t TreatmentDay) sampling.Date {
	if len(plan.Ends) == 0 {
		return 0
	}
	for _, c := range plan.courses() {
		if c.has(t) {
			return c.TakenOut
		}
	}
	return 0
}

func (plan PathPlan) check() error {
	if plan.First.IsZero() || plan.Last < plan.First {
		return &sampling.ValueError{Name: "record", Problem: fmt.Sprintf("it cannot run from %q to %q", plan.First, plan.Last), Remedy: "give its first and last day in order"}
	}
	if err := plan.Year.check(); err != nil {
		return err
	}
	if err := plan.Rates.Check(); err != nil {
		return err
	}
	for _, t := range plan.Treatments {
		if err := t.check(); err != nil {
			return err
		}
	}
	for _, h := range plan.Happenings {
		if err := h.check(); err != nil {
			return err
		}
		if h.Kind == Died && h.On < plan.First {
			return &sampling.ValueError{Name: "record", Problem: fmt.Sprintf("the colony died on %s, before %s", h.On, plan.First), Remedy: "ask about a day on which it lived, or correct the day"}
		}
	}
	if !(plan.Arrivals >= 0 && plan.Arrivals <= maxArrivals) {
		return &sampling.ValueError{Name: "arrivals", Problem: fmt.Sprintf("%v mites a day cannot arrive", plan.Arrivals), Remedy: "give the mites a day, such as 2"}
	}
	if plan.AdultBees != 0 && !(plan.AdultBees >= 100 && plan.AdultBees <= 200_000) {
		return &sampling.ValueError{Name: "adult bees", Problem: fmt.Sprintf("no colony has %v", plan.AdultBees), Remedy: "give the number of adult bees, such as 25000"}
	}
	if plan.AdultBees != 0 && (plan.BeesOn < plan.First || plan.BeesOn > plan.Last) {
		return &sampling.ValueError{Name: "adult bees", Problem: fmt.Sprintf("the day they were counted (%q) is not in the record", plan.BeesOn), Remedy: "give a day from its first to its last"}
	}
	return nil
}

func (t TreatmentDay) check() error {
	name := "treatment " + t.Treatment.Slug
	if t.On.IsZero() {
		return &sampling.ValueError{Name: name, Problem: "its day is missing", Remedy: "give the day of every round"}
	}
	kills := []sampling.Beta{t.Treatment.KillNoBrood, t.Treatment.KillWithBrood}
	if t.Treatment.ActsInBrood {
		kills = append(kills, t.Treatment.KillInCells)
	}
	for _, k := range kills {
		if err := k.Check(name); err != nil {
			return err
		}
	}
	if t.Treatment.WholeColony && t.Treatment.Days < 1 {
		return &sampling.ValueError{Name: name, Problem: "how long it takes is missing", Remedy: "give the days it lies in the hive"}
	}
	return nil
}
