package decide

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"halfcup/sampling"
)

// YearCount is a count of every colony by the calendar, on the day it is made or
// the board comes out; its mites do not matter.
type YearCount struct {
	Count sampling.Count // with its date
	Effort

	// From is the fewest mites that call for a treatment, Calls the chance that
	// there are so many.
	From  int
	Calls float64

	// Saves is by how much the chance of being over the line for more than six
	// weeks unseen would rise without it.
	Saves float64

	// After is the course of the plan that it shows the failure of, empty for
	// a count before any; Sample is how many colonies of a yard have to be
	// counted to see with 95 % that it failed in all of them, 0 when no number
	// shows it.
	After  Course
	Sample int
}

// YearCounts are the counts that pay in a year under a plan.
type YearCounts struct {
	Counts []YearCount // by their days
	Effort             // of a colony and year
	Before YearOutlook // without a count
	After  YearOutlook // with them

	// Enough says that the chance of being over the line unseen is brought
	// under MostUnseen.
	Enough bool
}

// mostYearCounts is how many counts a year are asked of a keeper at most.
const mostYearCounts = 6

// CountsThatPay looks for the few gentle counts that make a plan safe: it adds
// the count that lowers the chance most a minute, until it is low enough, and
// drops what is then not needed. It gives at least one: without any, the year
// in which a plan fails is not seen. Errors are *sampling.ValueError.
func (p YearPlan) CountsThatPay() (YearCounts, error) {
	r, err := p.ready()
	if err != nil {
		return YearCounts{}, err
	}
	return r.countsThatPay()
}

func (r *yearRun) countsThatPay() (YearCounts, error) {
	out := YearCounts{}
	var err error
	if out.Before, err = r.outlook(nil); err != nil {
		return out, err
	}
	candidates, err := r.candidates()
	if err != nil {
		return out, err
	}
	chosen := r.choose(candidates, func(c yearCandidate) float64 { return c.saves / c.Minutes })
	if !(r.unseen(chosen) < MostUnseen) {
		// The cheapest way may have used up all there is on small gains.
		if other := r.choose(candidates, func(c yearCandidate) float64 { return c.saves }); r.unseen(other) < r.unseen(chosen) {
			chosen = other
		}
	}
	slices.SortFunc(chosen, func(a, b yearCandidate) int { return cmp.Compare(a.look, b.look) })
	rise, _ := r.rises(chosen)
	var counts []YearCount
	for i, c := range chosen {
		c.Saves = rise[i]
		counts = append(counts, c.YearCount)
		out.Minutes += c.Effort.Minutes
		out.Killed += c.Effort.Killed
		out.Visits += c.Effort.Visits
	}
	if out.After, err = r.outlook(counts); err != nil {
		return out, err
	}
	r.samples(counts, chosen)
	out.Counts, out.Enough = counts, out.After.Unseen < MostUnseen
	return out, nil
}

// yearCandidate is a count that could be made on a look.
type yearCandidate struct {
	YearCount
	look  int
	calls *levels
	saves float64 // beside those that are chosen already
}

// choose adds the best count by a measure as long as that is needed, and drops
// what is not.
func (r *yearRun) choose(candidates []yearCandidate, by func(yearCandidate) float64) []yearCandidate {
	const leastSaving = 1e-4
	var chosen []yearCandidate
	s := r.watched()
	for len(chosen) < mostYearCounts {
		counts := callsOf(chosen)
		run := r.forward(s, counts, true)
		if len(chosen) > 0 && run.end.passed() < MostUnseen {
			break
		}
		value := r.backward(s, counts)
		best := yearCandidate{}
		for _, c := range candidates {
			c.saves = r.saves(c.look, run.at[c.look], value[c.look], counts[c.look], c.calls)
			taken := counts[c.look] != nil // one count a day
			if !taken && c.saves > leastSaving && (best.calls == nil || by(c) > by(best)) {
				best = c
			}
		}
		if best.calls == nil {
			break
		}
		chosen = append(chosen, best)
	}
	if len(chosen) == 0 && len(candidates) > 0 {
		// None helps much, and yet a year that fails must be seen: the last
		// date, when there is most to see.
		chosen = candidates[len(candidates)-1:]
	}
	for len(chosen) > 1 {
		rise, now := r.rises(chosen)
		least := 0
		for i := range rise {
			if rise[i] < rise[least] {
				least = i
			}
		}
		if !(now+rise[least] < MostUnseen) {
			break
		}
		chosen = without(chosen, least)
	}
	return chosen
}

// rises is by how much the chance of being over the line too long would rise
// without each of the chosen counts, and what it is with all of them.
func (r *yearRun) rises(chosen []yearCandidate) (rise []float64, now float64) {
	counts, s := callsOf(chosen), r.watched()
	run := r.forward(s, counts, true)
	value := r.backward(s, counts)
	for i, c := range chosen {
		others := callsOf(without(chosen, i))
		rise = append(rise, r.saves(c.look, run.at[c.look], value[c.look], others[c.look], c.calls))
	}
	return rise, run.end.passed()
}

func without[T any](list []T, i int) []T {
	return append(slices.Clone(list[:i]), list[i+1:]...)
}

// unseen is the chance of being over the line too long with some counts.
func (r *yearRun) unseen(chosen []yearCandidate) float64 {
	return r.forward(r.watched(), callsOf(chosen), false).end.passed()
}

func callsOf(chosen []yearCandidate) called {
	out := called{}
	for _, c := range chosen {
		out.add(c.look, c.calls)
	}
	return out
}

// add is a further count on a look: it is called when one of them calls it.
func (c called) add(look int, calls *levels) {
	if before := c[look]; before != nil {
		both := levels{}
		for i := range both {
			both[i] = 1 - (1-before[i])*(1-calls[i])
		}
		calls = &both
	}
	c[look] = calls
}

// calls are those of counts a keeper has planned, each on the nearest look.
func (r *yearRun) calls(counts []YearCount) (called, error) {
	out := called{}
	if len(counts) == 0 {
		return out, nil
	}
	reader := r.newCaller()
	for _, c := range counts {
		on := c.Count.Date
		if on <= r.From || on >= r.From+daysOfPlan {
			return nil, &sampling.ValueError{Name: "count " + c.Count.String(), Problem: fmt.Sprintf("%s is not in the year from %s on", on, r.From), Remedy: "give it a day of that year"}
		}
		near := 0
		for n, l := range r.looks {
			if l.on.Apart(on) < r.looks[near].on.Apart(on) {
				near = n
			}
		}
		calls, _, _, err := reader.calls(near, c.Count)
		if err != nil {
			return nil, err
		}
		out.add(near, calls)
	}
	return out, nil
}

// countable reports whether colonies may be counted on a look: from spring on,
// for as long as it can still help this year, and not while a course works, except
// for the check of a long one.
func (r *yearRun) countable(n int, kind sampling.Kind) bool {
	on, y := r.looks[n].on, r.Colony.Year
	if !y.between(on, time.April, 1, time.October, 25) || !y.Flying(on) {
		return false
	}
	if kind == sampling.Fall && y.between(on, time.July, 15, time.October, 5) {
		return false // a board alone settles nothing then
	}
	return !r.inProgress(on) || kind == sampling.BeeSample && r.checks(on)
}

// checks reports whether a day is one for the check of a long course.
func (r *yearRun) checks(on sampling.Date) bool {
	return slices.ContainsFunc(r.path.courses, func(c courseRun) bool {
		from, to := c.Check()
		return !from.IsZero() && from <= on && on <= to
	})
}

// candidates are all gentle counts that could be made.
func (r *yearRun) candidates() ([]yearCandidate, error) {
	reader := r.newCaller()
	var out []yearCandidate
	for n, l := range r.looks {
		for _, c := range gentle(l.on) {
			if !r.countable(n, c.Method.Kind()) || slices.Contains(r.Rules.Without, c.Method) {
				continue
			}
			calls, from, chance, err := reader.calls(n, c)
			if err != nil {
				return nil, err
			}
			if from == mostPlanned {
				continue // no such board calls
			}
			out = append(out, yearCandidate{YearCount: YearCount{Count: c, Effort: r.Rules.Costs.Effort(c), From: from, Calls: chance, After: r.courseBefore(l.on)}, look: n, calls: calls})
		}
	}
	return out, nil
}

// gentle are the counts of a plan: no bee dies of them.
func gentle(on sampling.Date) []sampling.Count {
	out := []sampling.Count{Scooped(sampling.Roll, halfCup, 1, on)}
	for _, days := range []float64{3, 7} {
		out = append(out, sampling.Count{Method: sampling.Board, Amount: sampling.Amount{Value: days, Unit: sampling.Days}, Date: on})
	}
	return out
}

// courseBefore is the last course of the year that has settled on a day, empty
// when there is none.
func (r *yearRun) courseBefore(on sampling.Date) Course {
	var out Course
	for _, c := range r.path.courses {
		if c.First >= r.From && (c.SettledOn() <= on || c.First+checkFrom <= on) && c.First > out.First {
			out = c.Course
		}
	}
	return out
}

// caller works out what a count would call: the fewest mites from which
// treating is the lesser regret by what is to be expected of a colony under the
// plan, and the chance of as many by the level.
type caller struct {
	*yearRun
	expected []*levels
	tables   map[string][]*levels // by method and amount: the chance of so many mites, by the level
	likely   map[string][]sampling.Likelihood
}

func (r *yearRun) newCaller() *caller {
	bare := r.forward(r.watched(), nil, false)
	return &caller{r, bare.all, map[string][]*levels{}, map[string][]sampling.Likelihood{}}
}

// mostPlanned is the most mites that a count is read for.
const mostPlanned = 150

// calls is the chance of a call by the level, the mites from which there is
// one, and the chance of that over all levels.
func (c *caller) calls(n int, count sampling.Count) (calls *levels, from int, chance float64, err error) {
	l, known := c.looks[n], c.expected[n].density()
	stakes := Stakes{Act: l.act, MissCost: c.Rules.MissCost, DaysExposed: float64(min(c.Rules.backIn(), fullExposure))}
	working := c.inProgress(l.on)
	treats := func(after sampling.Density) bool {
		if working { // only a clear failure is a call
			return after.Over(l.act/100) > notWorking
		}
		return stakes.Regret(after).Treats()
	}
	calls = &levels{}
	for i := range calls {
		calls[i] = 1
	}
	for from = 0; from < mostPlanned; from++ {
		likely, table, err := c.chanceOf(count, from)
		if err != nil {
			return nil, 0, 0, err
		}
		after, err := known.Times(likely)
		if err != nil || treats(after) {
			break
		}
		for i := range calls {
			calls[i] = max(0, calls[i]-table[i])
		}
	}
	for i, v := range c.expected[n] {
		chance += v * calls[i]
	}
	return calls, from, chance, nil
}

// chanceOf is the chance of so many mites, by the level.
func (c *caller) chanceOf(count sampling.Count, mites int) (sampling.Likelihood, *levels, error) {
	key := fmt.Sprint(count.Method, count.Amount, count.Frames)
	for len(c.tables[key]) <= mites {
		of := count
		of.Mites = len(c.tables[key])
		likely, err := c.Colony.Assumptions.Likelihood(of)
		if err != nil {
			return likely, nil, err
		}
		row := &levels{}
		for i := range row {
			row[i] = likely.At(math.Exp(chainAt(i)))
		}
		c.tables[key], c.likely[key] = append(c.tables[key], row), append(c.likely[key], likely)
	}
	return c.likely[key][mites], c.tables[key][mites], nil
}

// samples works out how many colonies show that a course failed in the whole
// yard, for the counts that come after one.
func (r *yearRun) samples(counts []YearCount, chosen []yearCandidate) {
	for i, c := range counts {
		if c.After.First.IsZero() {
			continue
		}
		run := r.failing(c.After.First).forward(r.watched(), callsOf(chosen[:i]), false)
		called := 0.0
		for k, v := range run.all[chosen[i].look] {
			called += v * chosen[i].calls[k]
		}
		if called > 0.01 {
			const missed = 0.05
			counts[i].Sample = max(1, int(math.Ceil(math.Log(missed)/math.Log1p(-min(called, 0.999)))))
		}
	}
}
