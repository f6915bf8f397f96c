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
// each recovery of those that were rolled on the day that shares one.
func (a Apiary) members(o *observed) ([]Member, error) {
	out := make([]Member, len(o.alone))
	shared := a.rollDay(o)
	err := a.each(o, func(k int, c Colony) error {
		s := o.alone[k]
		out[k] = Member{Carried: s.Carried, Known: []sampling.Density{s.Known}}
		if shared.IsZero() || !slices.ContainsFunc(c.Counts, func(n sampling.Count) bool { return n.Date == shared && c.unsureRoll(n) }) {
			return nil
		}
		var logs []float64
		var known []sampling.Density
		for _, q := range rollRecoveries {
			at, err := s.rollsAt(shared, q)
			if err != nil {
				return err
			}
			logs, known = append(logs, at.log), append(known, at.Known)
		}
		out[k].Known = known
		for _, l := range logs {
			out[k].Chances = append(out[k].Chances, math.Exp(l-slices.Max(logs)))
		}
		return nil
	})
	return out, err
}

// rollsAt is the state had the rolls of a day found what lies at a quantile of
// their recovery. What was counted before that day is the same.
func (s State) rollsAt(day sampling.Date, quantile float64) (State, error) {
	days, err := s.history.countDays(s.Day, s.Day)
	if err != nil {
		return s, err
	}
	now := State{Day: s.Day, history: s.history, path: s.path, from: s.began, began: s.began}
	if last := len(days) - 1; s.morning != nil && last >= 0 && days[last].on == day {
		now, days = *s.morning, days[last:]
		now.Day, now.history = s.Day, s.history
	} else {
		now.base = certain(s.history.unseen(s.began, s.Day).Density())
		now.carried = now.base
		if now.unions, err = s.history.unions(s.path, s.began, s.Day); err != nil {
			return s, err
		}
	}
	now.log, now.rollDay, now.rolls = 0, day, quantile
	for _, d := range days {
		if err := now.count(d); err != nil {
			return s, err
		}
	}
	return now, now.settle()
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
