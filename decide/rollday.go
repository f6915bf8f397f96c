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
	o.rolled = make([][]State, len(o.alone))
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
		out[k] = s.member(rolled)
		return nil
	})
	return out, err
}

// member is a colony that shares a recovery, by its states at each value.
func (s State) member(rolled []State) Member {
	m, most := Member{Carried: s.Carried}, math.Inf(-1)
	for _, at := range rolled {
		m.Known, most = append(m.Known, at.Known), max(most, at.log)
	}
	for _, at := range rolled {
		m.Chances = append(m.Chances, math.Exp(at.log-most))
	}
	return m
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

// rollsToday is the yard of the visit put together as it will be once a colony is
// rolled today, which then shares the recovery of those that already were; nil
// when no other was.
func (v *visit) rollsToday(colony int) func() (*Pool, error) {
	day := v.now.day
	for _, i := range v.now.colonies {
		c := v.Colonies[i]
		if i != colony && slices.ContainsFunc(c.Counts, func(n sampling.Count) bool { return n.Date == day && c.unsureRoll(n) }) {
			return v.rolling
		}
	}
	return nil
}

// sharing puts the yard together with the recovery of today's rolls shared, were
// they those of one colony.
func (v *visit) sharing() (*Pool, error) {
	if v.now.shared == v.now.day {
		return v.now.yard, nil
	}
	o := &observed{day: v.now.day, colonies: v.now.colonies, alone: v.now.alone, shared: v.now.day}
	members, err := v.members(o, nil)
	if err != nil {
		return nil, err
	}
	return NewPool(members, recoveryWeights(members), DefaultYardPrior())
}

// besideRolls is what the rest of the yard of rollsToday, in which the colony has
// the place k, makes of it once counts were made: what pool puts in others. The
// counts are in the state and not yet in its history.
func (s State) besideRolls(yard *Pool, k int, made []sampling.Count) (sampling.Density, error) {
	s.history.Counts = slices.Concat(s.history.Counts, made)
	rolled, err := s.rollsAt(s.Day)
	if err != nil {
		return sampling.Density{}, err
	}
	m := s.member(rolled)
	together, err := yard.with(k, m)
	if err != nil {
		return sampling.Density{}, err
	}
	return pooledPrior(m, recoveryWeights([]Member{m}), together)
}

// recoveryWeights are the weights of the values of the recovery that members
// share; none when they share none.
func recoveryWeights(members []Member) []float64 {
	if !slices.ContainsFunc(members, func(m Member) bool { return len(m.Known) > 1 }) {
		return nil
	}
	return slices.Repeat([]float64{1}, len(rollRecoveries))
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
