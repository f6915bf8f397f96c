package decide

import "slices"

// Call is what to do about a colony now.
type Call string

// The calls. WaitForPlanned and BringForward are of a colony with a treatment
// planned, WhenSupersOff of one with supers on, and the last two of one that was
// given something.
const (
	Treat          Call = "treat"
	Leave          Call = "leave"
	CountAgain     Call = "count again"
	WaitForPlanned Call = "wait for the planned treatment"
	BringForward   Call = "bring it forward"
	WhenSupersOff  Call = "treat when supers are off"
	UnderTreatment Call = "under treatment"
	TakeOut        Call = "take out"
)

// Treats reports whether the call is one of those that ask for a treatment
// sooner than planned.
func (c Call) Treats() bool { return c == Treat || c == BringForward || c == WhenSupersOff }

// judgement is the call by the record and what was weighed to come to it.
type judgement struct {
	Call      Call
	Reason    Reason
	Regret    Regret
	OverWatch float64 // chance of being over the watch line
	OverAct   float64 // chance of being over the line
}

// thisWeek is how soon a treatment is given that is called for: one that is
// planned within these days is not brought forward.
const thisWeek = 7

// choice is the better of treating and leaving, as far as the schedule and the
// supers allow it.
func (s Situation) choice(r Regret) Call {
	planned := !s.NextTreatment.IsZero()
	soon := planned && s.NextTreatment-s.State.Day <= fullExposure
	if s.BackIn > 0 {
		soon = s.mayWait()
	}
	switch {
	case r.Treats() && s.SupersOn:
		return WhenSupersOff
	case r.Treats() && planned && !s.plannedForNoBrood():
		if s.NextTreatment-s.State.Day <= thisWeek {
			return WaitForPlanned
		}
		return BringForward
	case r.Treats():
		return Treat
	case soon:
		return WaitForPlanned
	}
	return Leave
}

// plannedForNoBrood reports whether the treatment that is planned can do its
// work only without capped brood, and the colony has some now: then it stays
// where it is, and what is needed now is another one.
func (s Situation) plannedForNoBrood() bool {
	if !s.State.CappedBrood(s.State.Day) {
		return false
	}
	next, _ := s.planned()
	for _, c := range s.History.Courses(s.State.Day) {
		if slices.Contains(c.Rounds, next.On) && c.Treatment.Slug == next.Treatment.Slug {
			return c.NeedsNoBrood()
		}
	}
	return false
}
