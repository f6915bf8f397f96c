package decide

import (
	"slices"
	"time"

	"halfcup/sampling"
)

// Standing is one colony on one day: what is known of it and what to do. Every
// answer about a colony is a part of its Standing.
type Standing struct {
	Colony string
	Day    sampling.Date

	// Known is what is known of the mites per bee, Alone the same by the colony's
	// own record. Pooled says that counts of its neighbours are in Known and in
	// the call.
	Known, Alone sampling.Density
	Pooled       bool

	Evidence []sampling.Evidence // what each count did, by day

	// Jump and Drop say that the last count is not what the record leads to: see
	// Alarms. UnrecordedEvent is the chance that something happened before it
	// that nobody wrote down.
	Jump, Drop      bool
	UnrecordedEvent float64

	Counted sampling.Date // the last count, zero when there is none
	Age     int           // days since then

	Line            Threshold // of the day, in mites per hundred bees
	ChanceOverWatch float64
	ChanceOverAct   float64
	Regret          Regret

	Supers      SupersState
	UsualSupers bool         // it is a time of the year at which supers are usually on
	Planned     TreatmentDay // the next one planned, the zero value when none is

	// Broodless is the time without capped brood that something recorded brings,
	// from four weeks before it on: one treatment reaches nearly all mites in it,
	// and the line of winter holds. Empty where there is none.
	Broodless Window

	// WinterLoss is told from late August to October, of colonies that are most
	// likely over the watch line; nil otherwise.
	WinterLoss *WinterLoss

	Call    Call
	Because Reason
	Advised Candidate // the next count; ActNow when none is advised

	// Due is the day of the next count. It follows from the record and not from
	// the day asked, so that a day that is past stays: Overdue is how many days
	// ago it was, and 0 before. Only what was missed before a winter waits for
	// the end of that, and a second week of a board is due while it is asked for.
	Due     sampling.Date
	DueFor  DueReason
	Overdue int

	// Robbed says that the colony was robbed or robbed others of late, and was not
	// counted since its mites have come in.
	Robbed bool

	// Course is the treatment that says what is to be done now, with its state;
	// CourseState is empty when there is none.
	Course      Course
	CourseState CourseState

	// TreatFrom is the first day on which no brood is capped, where the call is
	// to treat once in winter: before it the treatment misses the mites in cells.
	// Zero where there is no such call, or where the brood of spring has begun.
	TreatFrom sampling.Date

	now    Situation
	visit  *visit
	colony int // its place in the apiary
}

// Situation is what the call was made from, for whoever weighs the next counts
// himself.
func (s Standing) Situation() Situation { return s.now }

// Enough tells whether the bees already taken were enough, by the same call.
func (s Standing) Enough() (Enough, error) { return s.now.enough(s.Call) }

// Candidates are all that can be done next, the highest net worth first.
func (s Standing) Candidates() ([]Candidate, error) { return s.now.Candidates() }

// CutPoints are the calls that every possible outcome of a count would lead to.
func (s Standing) CutPoints(c Candidate) ([]CutPoint, error) { return s.now.CutPoints(c) }

// Forecast is what is known now of the colony on a later day.
func (s Standing) Forecast(day sampling.Date) (sampling.Density, error) {
	return s.now.State.Forecast(day)
}

// LineOn is the line of a later day, in mites per hundred bees.
func (s Standing) LineOn(day sampling.Date) Threshold { return s.now.lineOn(day) }

// situation is a colony of the visit as it was observed.
func (v *visit) situation(colony int, o *observed) Situation {
	c, k := v.Colonies[colony], o.of(colony)
	s := Situation{
		History: c.History, State: o.together[k], Lines: v.Lines,
		MissCost: v.MissCost, MinWorth: v.MinWorth, Costs: v.Costs, BackIn: v.backIn(),
		Supers: c.Supers, Hive: c.Hive, Looks: v.Looks, inHive: c.InHive,
		alone: o.alone[k], signs: c.Signs,
	}
	if o.pooled[k] {
		s.others, s.place = &o.others[k], k
		if o == v.now {
			s.rolled = v.rollsToday(colony)
		}
	}
	s.Threshold = s.lineOn(o.day)
	s.SupersOn = c.Supers.On(o.day) == SupersOn
	s.said = c.NextTreatment
	if t, ok := s.planned(); ok {
		s.NextTreatment = t.On
	}
	return s
}

// standing judges one colony of the visit.
func (v *visit) standing(colony int) (Standing, error) {
	s := v.situation(colony, v.now)
	out := Standing{
		Colony: v.Colonies[colony].Name, Day: v.now.day,
		Known: s.State.Known, Alone: s.alone.Known, Pooled: v.now.pooled[v.now.of(colony)],
		Evidence: s.State.Evidence, Counted: s.State.Counted,
		Line:            s.Threshold,
		ChanceOverWatch: s.State.Known.Over(s.Threshold.Watch / 100),
		ChanceOverAct:   s.State.Known.Over(s.Threshold.Act / 100),
		Regret:          s.Stakes().Regret(s.State.Known),
		Supers:          s.Supers.On(v.now.day),
		UsualSupers:     s.History.Year.usualSupers(v.now.day),
		now:             s, visit: v, colony: colony,
	}
	if s.counted() {
		out.Age = int(v.now.day - s.State.Counted)
	}
	var err error
	if out.WinterLoss, err = v.winterLoss(s); err != nil {
		return out, err
	}
	out.Planned, _ = s.planned()
	if w := s.History.broodless(out.Day); w.near(out.Day) {
		out.Broodless = w
	}
	if course, state, ok := InForce(s.History.Courses(out.Day), out.Day, s.countDays()); ok {
		out.Course, out.CourseState = course, state
	}
	out.UnrecordedEvent = s.alone.UnrecordedEvent
	if s.counted() {
		alarms, err := s.alone.Alarms(s.lineOn(s.State.Counted).Watch)
		if err != nil {
			return out, err
		}
		out.Jump, out.Drop = alarms.Jump, alarms.Drop
	}
	then := s
	if v.then != v.now && v.then.of(colony) >= 0 {
		then = v.situation(colony, v.then)
	}
	base, err := then.judge()
	if err != nil {
		return out, err
	}
	if out.Due, out.DueFor, err = v.due(colony, then, base); err != nil {
		return out, err
	}
	if end := s.History.Year.winterBetween(out.Due, out.Day); !end.IsZero() {
		out.Due, out.DueFor = end, DueFirstFly // missed before a winter, in which nobody opens a hive
	}
	out.Call, out.Because = s.callNow(then, base, out)
	if out.Because == SecondWeek {
		out.Due, out.DueFor = s.State.Counted+boardAgain, DueBoard // nobody has to open the hive for it
	}
	out.Overdue = max(0, int(out.Day-out.Due))
	robbed := v.Colonies[colony].Robbed
	out.Robbed = !robbed.IsZero() && robbed > s.State.Counted-neighbourGap && robbed > out.Day-usualGap
	if out.Call == Treat && out.Because.ofWinter() {
		out.TreatFrom, _ = s.broodlessFrom()
	}
	return out, out.advise()
}

// winterLoss is what the level of a colony costs, at the time of year at which
// that was measured.
func (v *visit) winterLoss(s Situation) (*WinterLoss, error) {
	if !s.History.Year.between(s.State.Day, time.August, 20, time.October, 31) || !s.counted() || s.State.Known.Quantile(0.5) <= s.Threshold.Watch/100 {
		return nil, nil
	}
	loss, err := NewWinterLoss(s.State.Known, v.lossWithout())
	return &loss, err
}

// advise finds the count to make when one is called for. What made the call
// risky on the day of the record may be worth a little less today: a count that
// is called for is advised all the same, the best there is.
func (s *Standing) advise() error {
	s.Advised = Candidate{Plan: ActNow, Outcome: Outcome{Switch: -1}}
	if s.Call != CountAgain {
		return nil
	}
	var err error
	s.Advised, err = s.now.nextStep(s.Because != Risky || s.Age > freshDays)
	if err == nil && s.Advised.Plan == ActNow {
		s.Advised, err = s.now.nextStep(true)
	}
	return err
}

// planned is the next treatment that is planned for a later day.
func (s Situation) planned() (TreatmentDay, bool) {
	var next TreatmentDay
	if s.said >= s.State.Day && !s.said.IsZero() {
		return TreatmentDay{On: s.said}, true
	}
	for _, t := range Acting(s.History.Treatments, s.State.Day) {
		if t.On > s.State.Day && (next.On.IsZero() || t.On < next.On) {
			next = t
		}
	}
	return next, !next.On.IsZero()
}

// lineOn is the line of a day. A colony without capped brood has all its mites
// on the bees, and is held against the line of winter.
func (s Situation) lineOn(day sampling.Date) Threshold {
	if t, ok := s.History.Year.Line(s.Lines, day, !s.State.CappedBrood(day)); ok {
		return t
	}
	return s.Threshold
}

// without reports whether a method is not to be advised.
func (s Situation) without(m sampling.Method) bool {
	return slices.Contains(s.Without, m)
}
