package decide

import (
	"math"
	"slices"

	"halfcup/sampling"
)

// The rolls of one day and yard find much or little together: the bees of all
// its hives are as damp as each other. So the yard's last day of rolls has one
// recovery, and what was rolled and washed there tells of it. Earlier days are
// read colony by colony.

// rollRecoveries are where that recovery may lie in what is known of it, as
// quantiles that are equally likely: the middles of its fifths.
var rollRecoveries = []float64{0.1, 0.3, 0.5, 0.7, 0.9}

// rollDay is the last day up to a day on which two colonies or more of those
// observed were rolled, zero when there is none.
func (a Apiary) rollDay(o *observed) sampling.Date {
	on := map[sampling.Date]int{}
	for _, i := range o.colonies {
		var days []sampling.Date
		for _, c := range a.Colonies[i].Counts {
			if c.Date <= o.day && a.Colonies[i].unsureRoll(c) && !slices.Contains(days, c.Date) {
				days = append(days, c.Date)
			}
		}
		for _, d := range days {
			on[d]++
		}
	}
	last := sampling.Date(0)
	for d, colonies := range on {
		if colonies > 1 {
			last = max(last, d)
		}
	}
	return last
}

// unsureRoll reports whether a count is a roll of which it is not known what
// share it found.
func (h History) unsureRoll(c sampling.Count) bool {
	_, unsure := h.Assumptions.RecoveryOf(c)
	return c.Method == sampling.Roll && unsure
}

// members are the colonies observed as the pool takes them, with a Known for
// each recovery of those that were rolled on the day that shares one. It goes on
// from what was observed earlier, as observe does.
func (a Apiary) members(o, earlier *observed) ([]Member, error) {
	out := make([]Member, len(o.alone))
	o.shared, o.rolled = a.rollDay(o), make([][]State, len(o.alone))
	err := a.each(o, func(k int, c Colony) error {
		s := o.alone[k]
		out[k] = Member{Carried: s.Carried, Known: []sampling.Density{s.Known}}
		if o.shared.IsZero() || !slices.ContainsFunc(c.Counts, func(n sampling.Count) bool { return n.Date == o.shared && c.unsureRoll(n) }) {
			return nil
		}
		rolled, err := s.rollsLater(o, k, earlier)
		if err != nil {
			return err
		}
		o.rolled[k] = rolled
		out[k].Known = nil
		most := math.Inf(-1)
		for _, at := range rolled {
			out[k].Known, most = append(out[k].Known, at.Known), max(most, at.log)
		}
		for _, at := range rolled {
			out[k].Chances = append(out[k].Chances, math.Exp(at.log-most))
		}
		return nil
	})
	return out, err
}

// rollsLater is rollsAt for the colony at the place k, from what was observed
// earlier where it can be.
func (s State) rollsLater(o *observed, k int, earlier *observed) ([]State, error) {
	if earlier == nil || earlier.shared != o.shared {
		return s.rollsAt(o.shared)
	}
	before := earlier.of(o.colonies[k])
	if before < 0 || earlier.rolled[before] == nil || !earlier.alone[before].reaches(o.day) {
		return s.rollsAt(o.shared)
	}
	out := slices.Clone(earlier.rolled[before])
	for i := range out {
		out[i].Day, out[i].history = s.Day, s.history
	}
	return out, s.endAll(out)
}

// rollsAt are the states had the rolls of a day found what lies at each of
// rollRecoveries. What was counted before that day is the same, and so is what
// was known on its eve. Without the counts they are as s.
func (s State) rollsAt(day sampling.Date) ([]State, error) {
	days, err := s.history.countDays(s.Day, s.Day)
	if err != nil {
		return nil, err
	}
	start := State{Day: s.Day, history: s.history, path: s.path, from: s.began, began: s.began, unions: s.united, united: s.united}
	if last := len(days) - 1; s.morning != nil && last >= 0 && days[last].on == day {
		start, days = *s.morning, days[last:]
		start.Day, start.history = s.Day, s.history
	} else {
		start.base = certain(s.history.unseen(s.began, s.Day).Density())
		start.carried = start.base
	}
	start.log, start.rollDay, start.rolls = 0, day, rollRecoveries[0]
	for len(days) > 0 && days[0].on < day {
		if err := start.count(days[0]); err != nil {
			return nil, err
		}
		days = days[1:]
	}
	if len(days) > 0 {
		if start.eve, err = start.eveOf(days[0].on); err != nil {
			return nil, err
		}
	}
	out := slices.Repeat([]State{start}, len(rollRecoveries))
	for i := range out {
		out[i].rolls = rollRecoveries[i]
		for _, d := range days {
			if err := out[i].count(d); err != nil {
				return nil, err
			}
		}
	}
	return out, s.endAll(out)
}

// endAll brings states that differ from s in what was counted alone to its day.
func (s State) endAll(all []State) error {
	if s.Counted == s.Day && len(s.unions) == 0 {
		return nil
	}
	st, err := s.step(s.Day, true)
	if err != nil {
		return err
	}
	for i := range all {
		all[i].end(st)
	}
	return nil
}

// pooledPrior is what is known of a colony without its counts, when the yard
// says how to read its roll as well as where it stands: what makes its own
// record, read by itself, into what the yard knows of it.
func pooledPrior(m Member, weights []float64, together sampling.Density) (sampling.Density, error) {
	own := m.Known[0]
	if len(m.Known) > 1 {
		by := make([]float64, len(m.Known))
		for k := range by {
			by[k] = weights[k] * m.Chances[k]
		}
		var err error
		if own, err = sampling.Blend(m.Known, by); err != nil {
			return own, err
		}
	}
	l, err := sampling.Learnt(together, own)
	if err != nil {
		return own, err
	}
	return m.Carried.Times(l)
}
