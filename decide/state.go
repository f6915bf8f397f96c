package decide

import (
	"math"
	"slices"

	"halfcup/sampling"
)

// State is what is known of a colony on one day, and how it came about.
type State struct {
	Day     sampling.Date
	Known   sampling.Density // everything up to and with Day
	Before  sampling.Density // the same without the counts of Day
	Counts  []sampling.Count // the counts of Day
	Counted sampling.Date    // the last count, zero when there is none

	// Carried is Known without any count: the same path, treatments and dates.
	// Known over Carried is the likelihood of all counts.
	Carried sampling.Density

	// Evidence is what each count did, in the order of the days.
	Evidence []sampling.Evidence

	// UnrecordedEvent is the chance, 0 to 1, that between the last two counts
	// something happened that nobody wrote down; 0 when there are not two. Over
	// a quarter, the last count does not fit the record.
	UnrecordedEvent float64

	history History
	path    *Path
	began   sampling.Date // the day on which the record began
	from    sampling.Date // the day of base and carried: that of the last count, or on which the record began
	base    belief
	carried belief
	unions  []union // that are not in base and carried
	united  []union // all of the record
	last    lastCount

	// The rolls of rollDay are read at the quantile rolls of their recovery, 0
	// for as they come; log is then the log chance of the counts, up to a
	// constant.
	rollDay    sampling.Date
	rolls, log float64

	thought bool // counts of its last day are only thought of

	// morning is the state before the counts of the last counted day; nil when
	// there is none, or when what is known was put in from outside. Its eve is
	// what was then known of that day, whatever was counted on it.
	morning *State
	eve     *eve

	// narrow is Known at every node, where Known was worked out only at those at
	// which it is not negligible; nil when it was worked out at all.
	narrow func() (sampling.Density, error)
}

// lastCount is what the alarms ask of the last day of counts. It is empty when
// none came before.
type lastCount struct {
	counts   []sampling.Count
	expected sampling.Density // what was known, had nothing happened that is not in the record
	quiet    bool             // a rise has an ordinary cause
}

// eve is what is known of a day before anything was counted on it.
type eve struct {
	on       sampling.Date
	step     step
	expected belief // had nothing happened that nobody wrote down
	before   belief
	carried  belief // without any count
}

// eveOf is the eve of the next counted day.
func (s *State) eveOf(on sampling.Date) (*eve, error) {
	if s.eve != nil && s.eve.on == on {
		return s.eve, nil
	}
	st, err := s.step(on, false)
	if err != nil {
		return nil, err
	}
	expected := st.expected(s.base)
	return &eve{on, st, expected, st.blend(expected), st.blend(st.expected(s.carried))}, nil
}

// count takes in the counts of the next day.
func (s *State) count(d countDay) error {
	e, err := s.eveOf(d.on)
	if err != nil {
		return err
	}
	morning := *s
	morning.morning, morning.eve = nil, e
	s.morning, s.eve = &morning, nil
	st, expected, carried := e.step, e.expected, e.carried
	before, l, err := s.likelihoods(e.before, d)
	if err != nil {
		return err
	}
	s.Before, s.Counts = before.density(), d.counts
	if s.rolls > 0 {
		s.log += math.Log(before.chance(l))
	}
	evidence, err := s.weigh(d)
	if err != nil {
		return err
	}
	s.UnrecordedEvent, s.last = 0, lastCount{}
	if !s.Counted.IsZero() && s.rolls == 0 {
		was, happened := (1-st.q)*s.path.in(expected, before.course).chance(l), st.q*s.path.in(st.instead(expected), before.course).chance(l)
		if was+happened > 0 {
			s.UnrecordedEvent = happened / (was + happened)
		}
		s.last = lastCount{d.counts, expected.density(), s.history.quiet(d.on)}
	}
	if s.base, err = before.times(l...); err != nil {
		return err
	}
	s.Known = s.base.density()
	if len(l) > 1 && len(evidence) > 0 && !s.thought { // the kill was weighed too
		evidence[len(evidence)-1].MedianAfter = 100 * s.Known.Quantile(0.5)
	}
	s.Evidence = append(s.Evidence, evidence...)
	s.carried, s.from, s.Counted = s.path.in(carried, before.course), d.on, d.on
	s.unions = unionsFrom(s.unions, d.on)
	return nil
}

// weigh is what each count of a day does. Nobody asks that of counts that are
// only thought of.
func (s *State) weigh(d countDay) ([]sampling.Evidence, error) {
	switch {
	case s.rolls > 0:
		return nil, nil
	case s.thought:
		out := make([]sampling.Evidence, len(d.counts))
		for i, c := range d.counts {
			out[i].Count = c
		}
		return out, nil
	}
	_, evidence, err := s.history.Assumptions.Weigh(s.Before, d.counts)
	return evidence, err
}

// assumptions are the figures with which counts of a day are read.
func (s *State) assumptions(day sampling.Date) sampling.Assumptions {
	if s.rolls > 0 && day == s.rollDay {
		return s.history.Assumptions.RollsAt(s.rolls)
	}
	return s.history.Assumptions
}

// likelihoods is what counts say in each part of a belief. A fall after a round
// of a course tells each part of the course apart by its own kill.
func (s *State) likelihoods(b belief, d countDay) (belief, []sampling.Likelihood, error) {
	a := s.assumptions(d.on)
	if course := s.path.active(d.on); course != noCourse && s.fellAfter(course, d.counts) {
		b = s.path.in(b, course)
		var out []sampling.Likelihood
		for _, kill := range s.path.kill(s.path.courses[course], d.on) {
			l, err := a.AtKill(kill).Likelihood(d.counts...)
			if err != nil {
				return b, nil, err
			}
			out = append(out, l)
		}
		return b, out, nil
	}
	l, err := a.Likelihood(d.counts...)
	return b, []sampling.Likelihood{l}, err
}

// fellAfter reports whether one of the counts is of mites that a round of the
// course brought down.
func (s *State) fellAfter(course int, counts []sampling.Count) bool {
	for _, c := range counts {
		if c.Method != sampling.Knockdown {
			continue
		}
		if its, _ := TreatmentOfFall(c, s.history.Treatments); its >= 0 && s.path.courses[course].has(s.history.Treatments[its]) {
			return true
		}
	}
	return false
}

// settle brings what is known after the last count to the day of the state.
func (s *State) settle() error {
	if s.Counted == s.Day && len(s.unions) == 0 {
		s.Carried = s.carried.density()
		return nil
	}
	st, err := s.step(s.Day, true)
	if err != nil {
		return err
	}
	s.end(st)
	s.Carried = st.last(s.carried)
	return nil
}

// end is the part of settle that rests on what was counted.
func (s *State) end(st step) {
	s.Known = st.last(s.base)
	s.Before, s.Counts = s.Known, nil
}

// at is the state on a later day between which and its own nothing was written
// down: it comes to what On gives for that day, without the replay. ok is false
// when it does not: where a plan of those days was not confirmed, or where what
// is known of colonies in general was said for the day of the answer.
func (s State) at(day sampling.Date) (later State, ok bool, err error) {
	if !s.reaches(day) {
		return s, false, nil
	}
	s.Day = day
	return s, true, s.settle()
}

// reaches reports whether at can bring the state to a day.
func (s State) reaches(day sampling.Date) bool {
	h := s.history
	return h.Prior == (sampling.Prior{}) && len(Acting(h.Treatments, day)) == len(h.Treatments) && day+leastAhead <= s.path.plan.Last
}

// Forecast is what is known now of the colony on a later day: one step from the
// last count. The error is a *sampling.ValueError, for a day before that of the
// state or too far ahead.
func (s State) Forecast(day sampling.Date) (sampling.Density, error) {
	st, err := s.step(day, true)
	if err != nil {
		return sampling.Density{}, err
	}
	return st.last(s.base), nil
}

// knowing is the state with something else known of its day, whatever came
// before it.
func (s State) knowing(known sampling.Density) State {
	s.Known, s.base, s.from = known, certain(known), s.Day
	s.carried = certain(s.Carried)
	s.morning, s.unions = nil, nil
	return s
}

// counting is the state when more had been counted on its day, by the colony's
// own record: the same as History.On gives with these counts in it, but for what
// each of its day did, in less time. The error is that of History.On.
func (s State) counting(made []sampling.Count) (State, error) {
	now := s
	all := slices.Concat(s.Counts, made)
	if len(s.Counts) > 0 {
		if s.morning != nil {
			now = *s.morning
			now.Day = s.Day
		} else {
			now = s.knowing(s.Before)
			now.Evidence = slices.DeleteFunc(slices.Clone(s.Evidence), func(e sampling.Evidence) bool { return e.Count.Date == s.Day })
		}
	}
	now.Evidence, now.thought = slices.Clip(now.Evidence), true
	if err := now.count(countDay{now.Day, all}); err != nil {
		return now, err
	}
	return now, now.settle()
}

// Learnt is what all counts of the record say of the level on the day of the
// state, as a likelihood. The error is sampling.ErrNoOverlap.
func (s State) Learnt() (sampling.Likelihood, error) {
	known := s.Known
	if s.narrow != nil {
		var err error
		if known, err = s.narrow(); err != nil {
			return sampling.Likelihood{}, err
		}
	}
	return sampling.Learnt(known, s.Carried)
}

// Among is the state when others is what is known of the colony on its day
// without its counts, such as by the rest of its yard: it takes the place of
// Carried. The error is sampling.ErrNoOverlap.
func (s State) Among(others sampling.Density) (State, error) {
	l, err := s.Learnt()
	if err != nil {
		return s, err
	}
	known, err := others.Times(l)
	if err != nil {
		return s, err
	}
	if l, err = sampling.Learnt(s.Before, s.Carried); err != nil {
		return s, err
	}
	if s.Before, err = others.Times(l); err != nil {
		return s, err
	}
	// The parts of a course stay apart: they are no likelier for the others.
	parts := s.base
	if l, err = sampling.Learnt(others, s.Carried); err != nil {
		return s, err
	}
	s.Carried = others
	out := s.knowing(known)
	if s.from == s.Day && len(parts.parts) > 1 {
		if out.base, err = parts.times(l); err != nil {
			return s, err
		}
	}
	return out, nil
}

// CappedBrood reports whether the colony has capped brood on a day from the
// start of its record on.
func (s State) CappedBrood(day sampling.Date) bool {
	return s.path != nil && s.path.CappedBrood(day)
}

// step is the time from one count to the next, or to the day of an answer.
type step struct {
	path      *Path
	stretches []stretch
	course    int // whose parts are told apart at its end
	growth    Move
	arrivals  float64
	unions    []union
	since     []float64          // the growth since each of them, on the log scale
	unseen    []sampling.Density // of a colony nobody has looked at, in each part
	q         float64            // chance that something happened that nobody wrote down
}

// step is the time from the last count to a day, with the end of that day or
// without it.
func (s State) step(to sampling.Date, ended bool) (step, error) {
	p, h, from := s.path, s.history, s.from
	if p == nil {
		return step{}, &sampling.ValueError{Name: "state", Problem: "it is of no record", Remedy: "take it from History.On or Apiary.On"}
	}
	st := step{path: p, course: p.activeUpTo(to), q: unrecorded(float64(to - from))}
	var err error
	if st.growth, err = p.growth(from, to); err != nil {
		return st, err
	}
	for _, on := range h.Splits {
		if on > from && on <= to {
			st.growth.Variance += splitLogSD * splitLogSD
		}
	}
	for _, u := range s.unions {
		if u.on > to || u.on == to && !ended {
			continue
		}
		since, err := p.growth(u.on, to)
		if err != nil {
			return st, err
		}
		st.unions, st.since = append(st.unions, u), append(st.since, since.Shift)
	}
	st.stretches = p.stretches(from, to)
	if h.Arrivals > 0 {
		st.arrivals = p.arrivals(from, to)
	}
	st.unseen = h.unseenParts(p, to, s.Day, st.course)
	return st, nil
}

// unseenParts is what is known on a day of a colony that was treated like this
// one and that nobody has looked at, in each part of a course, or in all when
// it is noCourse. Of the effects of courses before the last, the mean and the
// variance are enough.
func (h History) unseenParts(p *Path, day, asked sampling.Date, course int) []sampling.Density {
	u := h.unseen(day, asked)
	mean, variance := 0.0, u.LogSD*u.LogSD
	var parts []Part // of the last course
	for _, r := range p.courses {
		effect := r.effect(int(day - p.start))
		if effect == nil {
			continue
		}
		m, v := moments(parts)
		mean, variance = mean+m, variance+v
		parts = effect
	}
	normal := func(m, v float64) sampling.Density { return logNormal(u.MedianPerHundred, m, v) }
	if parts == nil {
		return []sampling.Density{normal(mean, variance)}
	}
	var out []sampling.Density
	var weights []float64
	for _, part := range parts {
		out, weights = append(out, normal(mean+part.Shift, variance+part.Variance)), append(weights, part.Weight)
	}
	if course == noCourse {
		return []sampling.Density{blend(out, weights)}
	}
	return out
}

// expected is what comes of a belief when nothing happened that is not in the
// record.
func (st step) expected(b belief) belief {
	for _, s := range st.stretches {
		b = st.path.in(b, s.course).moved(s.parts)
	}
	b = st.path.in(b, st.course)
	if len(st.unions) == 0 {
		k := sampling.NormalKernel(st.growth.Shift, st.growth.sd())
		return b.each(func(_ int, d sampling.Density) sampling.Density { return d.Moved(k) })
	}
	// How the mites grew since is unsure of those that came as well.
	return b.each(func(_ int, d sampling.Density) sampling.Density {
		d = blur(d, st.growth.Shift, 0)
		for i, u := range st.unions {
			d = u.join(d, st.since[i])
		}
		return blur(d, 0, st.growth.Variance)
	})
}

// instead is what is known when something did happen: the weights of the parts
// stay.
func (st step) instead(b belief) belief {
	return b.each(func(k int, _ sampling.Density) sampling.Density { return st.unseen[min(k, len(st.unseen)-1)] })
}

// blend allows for what nobody wrote down.
func (st step) blend(b belief) belief {
	if st.q == 0 {
		return b
	}
	return b.with(st.instead(b), st.q)
}

// last is what is known at the end of the step when nothing was counted since
// its start: mites came in meanwhile.
func (st step) last(b belief) sampling.Density {
	expected := st.expected(b)
	d := arrive(expected.density(), st.arrivals)
	if st.q == 0 {
		return d
	}
	return blend([]sampling.Density{d, st.instead(expected).density()}, []float64{1 - st.q, st.q})
}
