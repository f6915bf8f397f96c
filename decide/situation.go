package decide

import (
	"fmt"
	"math"
	"slices"
	"time"

	"halfcup/sampling"
)

// Situation is one colony on one day with all that bears on what to do.
type Situation struct {
	History   History
	State     State
	Threshold Threshold   // the line of the day
	Lines     []Threshold // the line of every season, for forecasts; nil when it is Threshold all year

	MissCost float64 // see Stakes
	MinWorth float64 // least net worth of a look that is advised, in needless treatments
	Costs    Costs

	NextTreatment sampling.Date // the next planned treatment, zero when none is
	SupersOn      bool          // honey supers are on, so that nothing may be given outright
	Hive          sampling.Hive // for boards

	BackIn int // days until somebody looks again when nothing is planned; 0 for a month
	Supers SupersPlan
	Looks

	others *sampling.Density     // what its neighbours make of it without its own counts, nil when they say nothing
	rolled func() (*Pool, error) // the yard with today's rolls sharing a recovery, nil when no other colony was rolled today
	place  int                   // of the colony in it
	alone  State                 // by the colony's own record, without its neighbours
	signs  sampling.Date         // the last day on which sick bees were seen
	inHive InHive
	said   sampling.Date // a planned treatment in place of those of the record
	many   *worthOfLooks // of a Survey, nil otherwise
}

// DefaultMinWorth is the least net worth of a look that is advised.
const DefaultMinWorth = 0.05

// Stakes is what a mistake costs in this situation.
func (s Situation) Stakes() Stakes { return s.stakesOn(s.State.Day) }

// stakesOn is what a mistake costs on a day, up to that of the next treatment.
func (s Situation) stakesOn(day sampling.Date) Stakes {
	days := math.Inf(1)
	if s.BackIn > 0 {
		days = float64(s.BackIn)
	}
	if s.NextTreatment >= day && !s.NextTreatment.IsZero() && (s.BackIn == 0 || s.mayWait()) {
		days = float64(s.NextTreatment - day)
	}
	return Stakes{Act: s.Threshold.Act, MissCost: s.MissCost, DaysExposed: math.Min(days, fullExposure)}
}

// mayWait reports whether the planned treatment is near enough to wait for: at
// most three weeks away, not past the first of August, when the winter bees
// begin to be raised, and not across the day supers go on.
func (s Situation) mayWait() bool {
	day, planned := s.State.Day, s.NextTreatment
	if planned.IsZero() || planned < day || planned-day > longestWait {
		return false
	}
	if august := s.History.Year.next(day, time.August, 1); planned > august {
		return false
	}
	on := s.Supers.nextOn(day)
	return on.IsZero() || on > planned
}

// counted reports whether anyone ever looked.
func (s Situation) counted() bool { return !s.State.Counted.IsZero() }

func (s Situation) check() error {
	if err := s.Stakes().check(); err != nil {
		return err
	}
	if err := s.Costs.check(); err != nil {
		return err
	}
	if !(s.MinWorth >= 0 && s.MinWorth <= 3) {
		return &sampling.ValueError{Name: "least worth", Problem: fmt.Sprintf("%v is out of range", s.MinWorth), Remedy: "give a figure in needless treatments from 0 to 3, such as 0.05"}
	}
	return nil
}

// prospect is what a count made today could show.
func (s Situation) prospect(c sampling.Count) (sampling.Prospect, error) {
	// Counts by other methods share nothing with it, and are in what is known.
	if !slices.ContainsFunc(s.State.Counts, func(made sampling.Count) bool { return made.Method == c.Method }) {
		return s.History.Assumptions.Foresee(s.State.Known, nil, c)
	}
	return s.History.Assumptions.Foresee(s.State.Before, s.State.Counts, c)
}

// seeing is the situation after a count made today showed so many mites.
func (s Situation) seeing(c sampling.Count, mites int) (Situation, error) {
	c.Mites = mites
	return s.after(c)
}

// after is the situation when counts made today are in the record.
func (s Situation) after(made ...sampling.Count) (Situation, error) {
	own := s.alone
	if own.path == nil {
		own = s.State // put together by hand
	}
	own, err := own.counting(made)
	if err != nil {
		return s, err
	}
	s.alone, s.State = own, own
	if s.others != nil {
		others := *s.others
		if s.rolled != nil && slices.ContainsFunc(own.Counts, s.History.unsureRoll) {
			yard, err := s.rolled()
			if err != nil {
				return s, err
			}
			if others, err = own.besideRolls(yard, s.place, made); err != nil {
				return s, err
			}
		}
		if s.State, err = own.Among(others); err != nil {
			return s, err
		}
	}
	s.History.Counts = slices.Concat(s.History.Counts, made)
	return s, nil
}

// After is the call once counts made today are in the record, and why: that of
// the Standing which the record would give with them. Their dates do not
// matter. Errors are *sampling.ValueError or sampling.ErrNoOverlap.
func (s Situation) After(made ...sampling.Count) (Call, Reason, error) {
	made = slices.Clone(made)
	for i := range made {
		made[i].Date = s.State.Day
	}
	next, err := s.after(made...)
	if err != nil {
		return "", "", err
	}
	return next.calledToday()
}

// calledToday is the call on a day on which something was counted: the record
// ends on it, so that it is fresh and nothing but what was counted is due.
func (s Situation) calledToday() (Call, Reason, error) {
	base, err := s.judge()
	if err != nil {
		return "", "", err
	}
	call, reason := s.callNow(s, base, Standing{ChanceOverAct: base.OverAct, Due: s.State.Day + 1})
	return call, reason, nil
}
