package decide

import (
	"time"

	"halfcup/sampling"
)

// While bees do not fly nobody opens the hive, so that no call may ask for
// bees. What can be known then comes from the board under it.
const (
	// winterFine and winterTreat bound the chance of being over the line by a
	// week of winter fall: below, nothing need be done; above, treat; between,
	// the board stays in for a second week. Judgement.
	winterFine, winterTreat = 0.25, 0.60

	oldestBeforeWinter = 75 // days that a count made when brood was ending may carry a winter's call
	boardWeeks         = 14 // days of boards after which no more of them are asked for
	boardAgain         = 21 // days since the last board after which a second week of it is none
	longestWinter      = 240
)

// winterBegan is the first day of the time without flight that a day lies in.
func (y Year) winterBegan(day sampling.Date) sampling.Date {
	for d := day; d > day-longestWinter; d-- {
		if y.Flying(d - 1) {
			return d
		}
	}
	return day - longestWinter
}

// winterEnds is the first day of flight after a day.
func (y Year) winterEnds(day sampling.Date) sampling.Date {
	for d := day + 1; d < day+longestWinter; d++ {
		if y.Flying(d) {
			return d
		}
	}
	return day + longestWinter
}

// winterBetween is the first day on which a hive can be opened after the last
// winter that a day from one to another lies in, zero when none does.
func (y Year) winterBetween(from, to sampling.Date) sampling.Date {
	for d := to; d >= from; d-- {
		if !y.Flying(d) {
			return y.winterEnds(d)
		}
	}
	return 0
}

// treatInWinter is the call to treat in winter: once, and where a treatment is
// planned in these weeks, then.
func (s Situation) treatInWinter() Call {
	if next, ok := s.planned(); ok && next.On-s.State.Day <= longestWait {
		return WaitForPlanned
	}
	if s.SupersOn {
		return WhenSupersOff
	}
	return Treat
}

// leaveInWinter is the call not to treat now. Where the colony may be over the
// line, that is because a treatment is planned in these weeks: then it is to
// wait for that, and not to be left shut until spring.
func (s Situation) leaveInWinter(over float64) Call {
	if next, ok := s.planned(); ok && next.On-s.State.Day <= longestWait && over >= winterFine {
		return WaitForPlanned
	}
	return Leave
}

// winterCall is the call while bees do not fly.
func (s Situation) winterCall() (Call, Reason) {
	day := s.State.Day
	began := s.History.Year.winterBegan(day)
	over := s.State.Known.Over(s.Threshold.Act / 100)
	boards := 0.0
	var read sampling.Date // the last board
	var bees sampling.Date // the last bee sample
	for _, e := range s.State.Evidence {
		switch c := e.Count; {
		case c.Method.Kind() == sampling.BeeSample:
			bees = max(bees, c.Date)
		case c.Date-sampling.Date(c.DaysOnBoard()) >= began-freshDays:
			boards += c.DaysOnBoard()
			read = max(read, c.Date)
		}
	}
	if boards > 0 {
		settled := boards >= boardWeeks || day-read > boardAgain
		switch {
		case over > winterTreat || settled && s.Stakes().Regret(s.State.Known).Treats():
			return s.treatInWinter(), WinterFall
		case over < winterFine || settled:
			return s.leaveInWinter(over), WinterFall
		}
		return CountAgain, SecondWeek
	}
	treated := false
	settled := sampling.Date(0)
	for _, c := range s.History.Courses(day) {
		if !c.Planned() && c.First <= day {
			settled = max(settled, c.SettledOn())
			treated = treated || c.Given >= began
		}
	}
	switch {
	case treated:
		return Leave, WinterTreated
	case !bees.IsZero() && day-bees <= oldestBeforeWinter && bees >= settled &&
		bees >= s.History.Year.lately(day, time.October, 1):
		if s.Stakes().Regret(s.State.Known).Treats() {
			return s.treatInWinter(), WinterCount
		}
		return s.leaveInWinter(over), WinterCount
	}
	if _, ok := s.broodlessFrom(); !ok {
		if s.counted() {
			return CountAgain, Stale
		}
		return CountAgain, NothingCounted
	}
	return s.treatInWinter(), WinterPlan
}

// OpenInWinter reports whether a colony is left shut that may well be over the
// line: treating it is not the lesser regret by what was counted, and no further
// count is to be had before spring.
func (s Standing) OpenInWinter() bool {
	return s.Call == Leave && (s.Because == WinterFall || s.Because == WinterCount) && s.ChanceOverAct >= winterFine
}

// ofWinter reports whether a call for this reason is that of the time without
// flight.
func (r Reason) ofWinter() bool {
	return r == WinterFall || r == WinterCount || r == WinterPlan
}

// AsPlanned reports whether the colony is to wait for a planned treatment because
// it is to be treated, and that one is as near as any other could be: what is
// planned is not to be put off. Otherwise it waits because it may.
func (s Standing) AsPlanned() bool {
	if s.Call != WaitForPlanned {
		return false
	}
	treats := s.Regret.Treats() || s.ChanceOverAct > winterTreat
	return s.Because == OverLine || s.Because == WinterPlan || s.Because.ofWinter() && treats
}

// broodlessFrom is the first day from that of the situation on, before the bees
// fly again, on which the colony has no capped brood; ok is false when there is
// none, because the brood of spring has begun.
func (s Situation) broodlessFrom() (first sampling.Date, ok bool) {
	day := s.State.Day
	for d, end := day, s.History.Year.winterEnds(day); d < end; d++ {
		if !s.State.CappedBrood(d) {
			return d, true
		}
	}
	return 0, false
}
