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

// winterCall is the call while bees do not fly.
func (s Situation) winterCall() (Call, Reason) {
	day := s.State.Day
	began := s.History.Year.winterBegan(day)
	over := s.State.Known.Over(s.Threshold.Act / 100)
	boards := 0.0
	var bees sampling.Date // the last bee sample
	for _, e := range s.State.Evidence {
		switch c := e.Count; {
		case c.Method.Kind() == sampling.BeeSample:
			bees = max(bees, c.Date)
		case c.Date-sampling.Date(c.DaysOnBoard()) >= began-freshDays:
			boards += c.DaysOnBoard()
		}
	}
	if boards > 0 {
		switch {
		case over > winterTreat || boards >= boardWeeks && over > 0.5:
			return s.treatInWinter(), WinterFall
		case over < winterFine || boards >= boardWeeks:
			return Leave, WinterFall
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
		return Leave, WinterCount
	}
	return s.treatInWinter(), WinterPlan
}
