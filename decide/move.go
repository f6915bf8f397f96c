package decide

import (
	_ "embed"
	"fmt"
	"math"
	"time"

	"halfcup/sampling"
)

// The figures behind moves, alarms and what is known of unseen colonies.
//
//go:embed moves.csv
var movesCSV string

// Move is what happens to mites per adult bee between two days. The density of
// ln θ is shifted by Shift and blurred by a normal density of that Variance:
// growth, with every treatment at the kill that is expected. Then each course
// of treatment did more or less than expected, and mites came in.
type Move struct {
	Shift, Variance float64
	Courses         [][]Part // one after the other, none depending on another

	// Arrivals is the middle of three equally likely numbers of mites per adult
	// bee that came in from other colonies.
	Arrivals float64
}

// Part is one of the things that a course of treatment may have done: with the
// chance Weight, ln θ is shifted and blurred beyond what was expected.
type Part struct{ Weight, Shift, Variance float64 }

// Apply moves a density of mites per adult bee.
func (m Move) Apply(d sampling.Density) sampling.Density {
	for _, parts := range m.Courses {
		d = split(d, parts).moved(parts).density()
	}
	return arrive(blur(d, m.Shift, m.Variance), m.Arrivals)
}

func (m Move) sd() float64 { return math.Sqrt(max(m.Variance, 0)) }

func blur(d sampling.Density, shift, variance float64) sampling.Density {
	return d.Moved(sampling.NormalKernel(shift, math.Sqrt(max(variance, 0))))
}

// arrive adds mites per adult bee, of which only the order is known: three
// equally likely levels, the middles of three parts of a log-normal law.
func arrive(d sampling.Density, mites float64) sampling.Density {
	if !(mites > 0) {
		return d
	}
	const outer = 0.967421566 // standard normal quantile of five sixths
	var levels [3]float64
	for i := range levels {
		levels[i] = mites * math.Exp(outer*parameter("arrivals_log_sd")*float64(i-1))
	}
	return d.PlusOneOf(levels[:]...)
}

// blend is a mixture of which some part has weight.
func blend(densities []sampling.Density, weights []float64) sampling.Density {
	d, err := sampling.Blend(densities, weights)
	if err != nil {
		return densities[0]
	}
	return d
}

// growthVariance is the variance that growth adds to ln θ in so many days.
func growthVariance(days float64) float64 {
	sd := parameter("growth_sd")
	return sd * sd * days / daysAMonth
}

// unrecorded is the chance that something nobody wrote down happened in so many
// days.
func unrecorded(days float64) float64 {
	return -math.Expm1(math.Log1p(-parameter("unrecorded")) * days / daysAMonth)
}

const daysAMonth = 30

// courseRun is the model run with the kill of one course at its quantiles, and
// as if the course had not been given: the log of the mites on adult bees by
// days since first, which is days since the start of the path. All begin alike.
type courseRun struct {
	Course
	first     int
	ends      int // its last day at work, since the start of the path
	over      int // the first day on which its parts are told apart no more, likewise
	brood     bool
	quantiles [killQuantiles][]float64
	without   []float64
}

// killQuantiles is the number of kills a course is tried with: the middles of
// nine parts of equal probability.
const (
	killQuantiles = 9
	middleKill    = killQuantiles / 2
)

// runCourses runs the model for every course of the plan, from its state at the
// start of each.
func (p *Path) runCourses(courses []Course, states []Mites) {
	for i, c := range courses {
		r := courseRun{Course: c, first: int(c.First - p.start)}
		r.ends = int(c.Last - p.start)
		if c.Treatment.WholeColony {
			r.ends += c.Treatment.Days - 1
		}
		if !c.TakenOut.IsZero() {
			r.ends = min(r.ends, max(int(c.TakenOut-p.start)-1, int(c.Last-p.start)))
		}
		// Not before no later round can belong to it: what is known today must
		// not depend on whether one is given tomorrow.
		r.over = int(max(c.SettledOn(), c.Last+sameCourse+1) - p.start)
		r.brood = p.colony.capped[r.first]
		last := min(len(p.mites), max(r.over, r.ends+int(parameter("effect_gone")))+1)
		run := func(kill func(sampling.Beta) float64) []float64 {
			kills := p.killsWith(func(t TreatmentDay, b sampling.Beta) float64 {
				if !c.has(t) {
					return b.Mean()
				}
				return kill(b)
			}, r.first, last)
			logs := make([]float64, last-r.first)
			p.grow(states[i], logs, nil, kills, r.first, last)
			return logs
		}
		r.without = run(func(sampling.Beta) float64 { return 0 })
		for q := range r.quantiles {
			r.quantiles[q] = run(func(b sampling.Beta) float64 { return b.Quantile(killAt(q)) })
		}
		p.courses = append(p.courses, r)
	}
}

// killAt is the share of all kills that lie below quantile q.
func killAt(q int) float64 { return (float64(q) + 0.5) / killQuantiles }

// weights are the chances of the parts of a course before anything was counted:
// the kill quantiles, one that failed and, where there was brood, one that met
// none or did far better.
func (r courseRun) weights() []float64 {
	failed, better := parameter("failed_without_brood"), 0.0
	if r.brood {
		failed, better = parameter("failed_with_brood"), parameter("far_better")
	}
	out := make([]float64, killQuantiles, killQuantiles+2)
	for q := range out {
		out[q] = (1 - failed - better) / killQuantiles
	}
	out = append(out, failed)
	if r.brood {
		out = append(out, better)
	}
	return out
}

// parts is what each part of the course does to ln mites between two days,
// since the start of the path, beyond a run that did what base says.
func (r courseRun) parts(a, b int, base func(i int) float64) []Part {
	out := make([]Part, 0, killQuantiles+2)
	did := func(logs []float64) float64 {
		return logs[b-r.first] - logs[a-r.first] - (base(b) - base(a))
	}
	for _, w := range r.weights() {
		switch q := len(out); q {
		case killQuantiles: // failed
			middle := did(r.quantiles[middleKill])
			out = append(out, Part{w, middle + parameter("failed_undone")*(did(r.without)-middle), 0})
		case killQuantiles + 1: // far better
			more := r.progress(b) - r.progress(a)
			sd := parameter("far_better_sd")
			out = append(out, Part{w, did(r.quantiles[middleKill]) + parameter("far_better_shift")*more, sd * sd * more})
		default:
			out = append(out, Part{w, did(r.quantiles[q]), 0})
		}
	}
	return out
}

// progress is how much of what the course does it has done at the start of a
// day, since the start of the path.
func (r courseRun) progress(i int) float64 {
	if r.Treatment.WholeColony {
		return min(1, max(0, float64(min(i, r.ends+1)-r.first)/float64(r.Treatment.Days)))
	}
	if i > r.first {
		return 1
	}
	return 0
}

// kill is the share of the mites on adult bees that a round on a day killed,
// in each part of the course.
func (p *Path) kill(r courseRun, on sampling.Date) []float64 {
	law := r.Treatment.Kill(p.CappedBrood(on))
	left := math.Log1p(-min(law.Quantile(killAt(middleKill)), almostAll))
	out := make([]float64, 0, killQuantiles+2)
	for range r.weights() {
		switch q := len(out); q {
		case killQuantiles:
			out = append(out, -math.Expm1((1-parameter("failed_undone"))*left))
		case killQuantiles + 1:
			out = append(out, -math.Expm1(left+parameter("far_better_shift")))
		default:
			out = append(out, min(law.Quantile(killAt(q)), almostAll))
		}
	}
	return out
}

// effect is what each part of the course does at the start of a day to a colony
// nobody has looked at: all of it up to a month after its end, then less day by
// day until nothing is left.
func (r courseRun) effect(i int) []Part {
	lasts, gone := parameter("effect_lasts"), parameter("effect_gone")
	fade := min(1, max(0, (gone-float64(i-r.ends))/(gone-lasts)))
	if i <= r.first || fade == 0 {
		return nil
	}
	parts := r.parts(r.first, i, func(i int) float64 { return r.without[i-r.first] })
	for k := range parts {
		parts[k].Shift *= fade
		parts[k].Variance *= fade * fade
	}
	return parts
}

// moments is the mean and the variance of the shift of a course.
func moments(parts []Part) (mean, variance float64) {
	for _, p := range parts {
		mean += p.Weight * p.Shift
	}
	for _, p := range parts {
		variance += p.Weight * (p.Variance + (p.Shift-mean)*(p.Shift-mean))
	}
	return mean, variance
}

// noCourse stands for no course in progress.
const noCourse = -1

// active is the course whose parts are told apart from a day on: the one begun
// last, that day included, until it has settled and no round can follow.
func (p *Path) active(day sampling.Date) int { return p.begun(int(day-p.start), int(day-p.start)) }

// activeUpTo is the course whose parts are told apart up to a day, before one
// that begins on it.
func (p *Path) activeUpTo(day sampling.Date) int {
	return p.begun(int(day-p.start)-1, int(day-p.start))
}

// begun is the course begun last up to the day last, when it is not over on the
// day i, both since the start of the path.
func (p *Path) begun(last, i int) int {
	for c := len(p.courses) - 1; c >= 0; c-- {
		if r := p.courses[c]; r.first <= last {
			if i < r.over {
				return c
			}
			break
		}
	}
	return noCourse
}

// stretch is the time in which the parts of one course are told apart.
type stretch struct {
	course int
	parts  []Part
}

// stretches are those between two days, in order.
func (p *Path) stretches(from, to sampling.Date) []stretch {
	var out []stretch
	for c, r := range p.courses {
		a, b := max(int(from-p.start), r.first), min(int(to-p.start), r.over)
		if c+1 < len(p.courses) {
			b = min(b, p.courses[c+1].first)
		}
		if a < b {
			out = append(out, stretch{c, r.parts(a, b, func(i int) float64 { return p.mites[i] })})
		}
	}
	return out
}

// Move is what happens between the start of the day from and the start of the
// day to to mites per adult bee.
//
// Shifts of growth add up, and so do its variances. What a course of treatment
// did does not: a colony that lost more to it gets more back from its brood.
// So move in one step from count to count. Rounds of one course share their
// kill, because what makes it weak in a hive stays the same. Once a course has
// settled, or another has begun, its kill is taken to be the expected one.
// Errors are *sampling.ValueError.
func (p *Path) Move(from, to sampling.Date) (Move, error) {
	m, err := p.growth(from, to)
	if err != nil {
		return m, err
	}
	for _, s := range p.stretches(from, to) {
		m.Courses = append(m.Courses, s.parts)
	}
	m.Arrivals = p.arrivals(from, to)
	return m, nil
}

// growth is the part of a move that has nothing to do with how well treatments
// worked, without arrivals.
func (p *Path) growth(from, to sampling.Date) (Move, error) {
	if p.mites == nil || from < p.plan.First || to > p.plan.Last || from > to {
		return Move{}, &sampling.ValueError{
			Name:    "move",
			Problem: fmt.Sprintf("from %s to %s is not within the path from %s to %s", from, to, p.plan.First, p.plan.Last),
			Remedy:  "give the days in order and build the path over all of them",
		}
	}
	a, b := int(from-p.start), int(to-p.start)
	return Move{Shift: p.mites[b] - p.mites[a] - (p.colony.logBees[b] - p.colony.logBees[a]), Variance: growthVariance(float64(to - from))}, nil
}

// arrivals is the mites per adult bee at the start of the day to that came in
// since the start of the day from, or descend from such.
func (p *Path) arrivals(from, to sampling.Date) float64 {
	return p.arrived(int(from-p.start), int(to-p.start)) / p.AdultBees(to)
}

// arrivalShare is the part of the figure for arrivals that comes in on a day:
// little while colonies grow, and all of it from the middle of August on, when
// the weak ones are robbed.
func (y Year) arrivalShare(d sampling.Date) float64 {
	early := parameter("arrivals_early")
	day := y.northern(d)
	since := float64(day - sampling.Day(day.Time().Year(), time.August, 1))
	return early + (1-early)*min(1, max(0, since/parameter("arrivals_rise")))
}
