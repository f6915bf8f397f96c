package decide

import (
	"time"

	"halfcup/sampling"
)

// Reason is why a colony is called as it is. The sentences for it are the program's.
type Reason string

const (
	NothingCounted Reason = "nothing counted"     // nobody has looked yet
	AfterCourse    Reason = "after a treatment"   // nobody has counted since it settled
	Stale          Reason = "stale"               // the last count is too old to rest anything on
	DueNow         Reason = "due"                 // the day of the next count has come
	Risky          Reason = "risky"               // either choice may be wrong, and a count is worth its cost
	OldCount       Reason = "old count"           // over the line by a count of more than a week ago
	OverLine       Reason = "over the line"       // treating is the lesser regret
	UnderLine      Reason = "under the line"      // leaving is the lesser regret
	BoardAlone     Reason = "board alone"         // a board by itself settles nothing while winter bees are raised
	SmallSample    Reason = "small sample"        // too few bees to leave it on
	Clash          Reason = "clash"               // the count does not fit the record
	InGeneral      Reason = "colonies in general" // most of it comes from colonies in general
	SickBees       Reason = "signs"               // sick bees were seen
	OwnTreat       Reason = "neighbours disagree" // its own count says treat, the yard says leave
	Running        Reason = "treatment running"   // something lies or works in the hive
	Settling       Reason = "treatment settling"  // too early to tell what it did
	StripsDue      Reason = "strips due out"      // the label's days are over
	WinterFall     Reason = "fall of this winter" // by a board or a fall of this winter
	WinterCount    Reason = "count before winter" // by a count made when brood was ending
	WinterPlan     Reason = "winter plan"         // nothing counted: once, by the plan
	WinterTreated  Reason = "treated this winter" // the winter treatment is given
	SecondWeek     Reason = "second week"         // the board decides nothing yet
)

// freshDays is how old a count may be and still carry a treatment by itself;
// staleDays is the age from which it carries nothing while bees fly. Judgement.
const (
	freshDays = 7
	staleDays = 45

	// sureEnoughToTreat is the chance of being over the line with which a count
	// of more than a week ago still carries a treatment.
	sureEnoughToTreat = 0.9

	// clashes is the chance of something that nobody wrote down from which a
	// count does not fit the record.
	clashes = 0.25

	// signsLast is how many days signs of sick bees keep a colony from being left
	// alone.
	signsLast = 30

	// clearlyUnder is the chance of being over the line below which a count that
	// does not fit the record is told, but asks for no other: whatever happened,
	// the colony is far under the line.
	clearlyUnder = 0.15

	// clearlyLeft is the chance of being over the line, by the counts alone,
	// below which a colony is left whatever colonies in general are like.
	clearlyLeft = 1.0 / 3

	// longestWait is how long a colony may wait for a planned treatment.
	longestWait = 21
)

// judge is the call by the record on the situation's own day, the last
// on which something was written down. It knows nothing of courses that run, nor of
// winter: callNow does.
func (s Situation) judge() (judgement, error) {
	j := judgement{Regret: s.Stakes().Regret(s.State.Known)}
	if err := s.check(); err != nil {
		return j, err
	}
	j.OverWatch, j.OverAct = s.State.Known.Over(s.Threshold.Watch/100), s.State.Known.Over(s.Threshold.Act/100)
	again := func(r Reason) (judgement, error) {
		j.Call, j.Reason = CountAgain, r
		return j, nil
	}
	if !s.counted() {
		return again(NothingCounted)
	}
	if s.countDue() {
		return again(AfterCourse)
	}
	age := s.State.Day - s.State.Counted
	if age >= staleDays {
		return again(Stale)
	}
	if j.Regret.Treats() && age > freshDays && !(j.OverAct > sureEnoughToTreat) {
		return again(OldCount)
	}
	if age <= freshDays {
		worth, err := s.worthALook(j.Regret)
		if err != nil {
			return j, err
		}
		if worth {
			return again(Risky)
		}
	}
	if !j.Regret.Treats() {
		if r, ok := s.mayNotLeave(); ok {
			return again(r)
		}
	}
	j.Call, j.Reason = s.choice(j.Regret), OverLine
	if !j.Regret.Treats() {
		j.Reason = UnderLine
		if age <= freshDays && s.Stakes().Regret(s.alone.Known).Treats() {
			return again(OwnTreat)
		}
	}
	return j, nil
}

// worthALook reports whether some count is worth its cost. No count can be
// worth more than perfect knowledge, so most colonies need no search at all.
func (s Situation) worthALook(r Regret) (bool, error) {
	if r.Least()-s.leastCost() < s.MinWorth {
		return false, nil
	}
	if s.many != nil {
		return s.many.any(s, r)
	}
	best, err := s.nextStep(false)
	return best.Plan == LookNow && best.Net >= s.MinWorth, err
}

// halfCupLeast is one standard deviation below what a level half cup holds: a
// sample of fewer bees is not half a cup.
const halfCupLeast = 255

// mayNotLeave is why a colony that looks well may not be left alone on what is
// known of it.
func (s Situation) mayNotLeave() (Reason, bool) {
	switch {
	case !s.signs.IsZero() && s.State.Day-s.signs <= signsLast:
		return SickBees, true
	case s.boardAlone():
		return BoardAlone, true
	case s.smallSample():
		return SmallSample, true
	case s.clashes() && s.State.Known.Over(s.Threshold.Act/100) > clearlyUnder:
		return Clash, true
	case s.State.Day-s.State.Counted <= freshDays && s.leansOnPrior():
		return InGeneral, true
	}
	return "", false
}

// clashes reports whether the last count does not fit the record.
func (s Situation) clashes() bool { return s.alone.UnrecordedEvent > clashes }

// leansOnPrior reports whether the colony was known by colonies in general more
// than by its counts on the day of the last of them. The days since then only
// blur what is known: they are no reason to come back earlier.
func (s Situation) leansOnPrior() bool {
	state := s.alone
	if state.Day > state.Counted {
		then, err := s.History.On(state.Counted)
		if err != nil {
			return true
		}
		state = then
	}
	return state.LeansOnPrior(s.lineOn(state.Day).Act) && !s.countsLeave(state)
}

// countsLeave reports whether the counts alone, all levels being as good before
// them, would leave the colony too, by two to one: then leaving it does not rest
// on colonies in general, however much lower those make it.
func (s Situation) countsLeave(state State) bool {
	l, err := state.Learnt()
	if err != nil {
		return false
	}
	alone, err := sampling.Flat().Times(l)
	return err == nil && alone.Over(s.lineOn(state.Day).Act/100) < clearlyLeft
}

// boardAlone reports whether boards are all that was counted of late while the
// winter bees are raised.
func (s Situation) boardAlone() bool {
	if !s.History.Year.between(s.State.Day, time.July, 15, time.October, 5) {
		return false
	}
	for _, e := range s.State.Evidence {
		if e.Count.Method.Kind() == sampling.BeeSample && s.State.Day-e.Count.Date < staleDays {
			return false
		}
	}
	return true
}

// smallSample reports whether fewer bees were counted of late than half a cup
// holds. One mite in them is no better news than none.
func (s Situation) smallSample() bool {
	bees := 0.0
	for _, e := range s.State.Evidence {
		if s.State.Day-e.Count.Date >= staleDays {
			continue
		}
		if e.Count.Method.Kind() != sampling.BeeSample {
			return false
		}
		n, _, err := s.History.Assumptions.BeesOf(e.Count)
		if err != nil {
			return false
		}
		bees += n
	}
	return bees < halfCupLeast
}

// callNow is the call on the day asked: that of the record, as time, winter
// and what lies in the hive let it stand.
func (s Situation) callNow(then Situation, base judgement, out Standing) (Call, Reason) {
	day := s.State.Day
	if call, reason, ok := s.courseCall(); ok {
		return call, reason
	}
	if !s.History.Year.Flying(day) {
		return s.winterCall()
	}
	switch {
	case !s.counted():
		return CountAgain, NothingCounted
	case s.countDue():
		return CountAgain, AfterCourse
	case out.Age >= staleDays:
		return CountAgain, Stale
	case base.Reason == OldCount && !out.Regret.Treats():
		return CountAgain, DueNow // the line it was over has moved since
	case base.Call == CountAgain:
		return CountAgain, base.Reason
	case base.Call.Treats():
		if out.Age > freshDays && !(out.ChanceOverAct > sureEnoughToTreat) {
			return CountAgain, OldCount
		}
		return s.choice(Regret{Treat: 0, Leave: 1}), OverLine
	case day >= out.Due:
		return CountAgain, DueNow
	}
	return s.choice(Regret{Treat: 1, Leave: 0}), base.Reason
}

// courseCall is the call while something works, lies or settles in the hive.
func (s Situation) courseCall() (Call, Reason, bool) {
	_, state, ok := InForce(s.History.Courses(s.State.Day), s.State.Day, s.countDays())
	switch {
	case !ok:
	case state == CourseRunning:
		return UnderTreatment, Running, true
	case state == CourseTakeOut:
		return TakeOut, StripsDue, true
	case state == CourseSettling:
		return UnderTreatment, Settling, true
	}
	return "", "", false
}

// countDue reports whether a course has settled and nobody has counted since,
// so that what it did is a guess.
func (s Situation) countDue() bool {
	_, state, ok := InForce(s.History.Courses(s.State.Day), s.State.Day, s.countDays())
	return ok && state == CourseDueCount
}
