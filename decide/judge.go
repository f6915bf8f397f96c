package decide

import (
	"fmt"
	"math"
	"slices"

	"halfcup/sampling"
)

// Call is what to do about a colony now.
type Call string

// The calls. The last three need a schedule or supers to be known.
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

// Verdict is a call with its chance, its reason and the day of the next look.
type Verdict struct {
	Call     Call          `json:"call"`
	Because  string        `json:"because"`
	NextLook sampling.Date `json:"next_look"`
}

// Judgement is everything that was weighed to come to a verdict.
type Judgement struct {
	Verdict
	Reason    Reason
	Regret    Regret
	OverWatch float64   // chance of being over the watch line
	OverAct   float64   // chance of being over the line
	Advised   Candidate // the next step; ActNow when no look is worth its cost
}

// Judge weighs the situation. Errors are *sampling.ValueError or come from the
// record.
func (s Situation) Judge() (Judgement, error) {
	j, err := s.call()
	if err != nil {
		return Judgement{}, err
	}
	j.OverWatch, j.OverAct = s.State.Known.Over(s.Threshold.Watch/100), s.State.Known.Over(s.Threshold.Act/100)
	if j.NextLook, err = s.nextLook(j); err != nil {
		return Judgement{}, err
	}
	j.Because = s.because(j)
	return j, nil
}

// CallOf is the call alone, without its reason and the next look, for a colony
// of which this count, made today, is all there is: known is what it leaves.
func (s Situation) CallOf(c sampling.Count, known sampling.Density) (Call, error) {
	c.Date = s.State.Day
	s.State = s.State.knowing(known)
	s.State.Counts, s.State.Counted = []sampling.Count{c}, s.State.Day
	j, err := s.call()
	return j.Call, err
}

// call decides without words.
func (s Situation) call() (Judgement, error) {
	j := Judgement{Regret: s.Stakes().Regret(s.State.Known), Advised: Candidate{Plan: ActNow}}
	if err := s.check(); err != nil {
		return j, err
	}
	j.Call = s.choice(j.Regret)
	due := s.lookDue()
	// No look can be worth more than perfect knowledge, so most colonies need
	// no search at all.
	if !due && j.Regret.Least()-s.leastCost() < s.MinWorth {
		return j, nil
	}
	best, err := s.nextStep(due)
	if err != nil {
		return j, err
	}
	switch {
	case due:
		j.Call, j.Advised = CountAgain, best
	case best.Plan == ActNow || best.Net < s.MinWorth:
		// What is known has to do.
	case best.Plan == LookNow:
		j.Call, j.Advised = CountAgain, best
	}
	return j, nil
}

// choice is the better of treating and leaving, as the schedule and the supers
// let it be put.
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

// Looks ahead, in days.
const (
	soonestLook   = 3
	latestLook    = 30
	latestInPause = 60 // in the broodless phase
)

// nextLook is the first day on which treating is forecast to be the lesser
// regret, and SettleDays after the last round of a treatment that is due, given
// or advised.
func (s Situation) nextLook(j Judgement) (sampling.Date, error) {
	day := s.State.Day
	if j.Call == CountAgain {
		return day, nil
	}
	if last := s.History.lastRound(day); !last.IsZero() && last+SettleDays > day {
		return last + SettleDays, nil
	}
	if j.Call == Treat || j.Call == BringForward {
		return day + SettleDays, nil // as if it were given today
	}
	latest := sampling.Date(latestLook)
	if s.History.Year.Season(day) == Winter {
		latest = latestInPause
	}
	for d := day + soonestLook; d < day+latest; d++ {
		if planned := s.NextTreatment; !planned.IsZero() && d >= planned {
			return planned + SettleDays, nil
		}
		known, err := s.State.Forecast(d)
		if err != nil {
			return 0, err
		}
		stakes := s.stakesOn(d)
		stakes.Act = s.act(d)
		if stakes.Regret(known).Treats() {
			return d, nil
		}
	}
	return day + latest, nil
}

// settled is the first day after every treatment up to a day on which a count
// tells what they did, zero when there was none.
func (h History) settled(day sampling.Date) sampling.Date {
	var on sampling.Date
	for _, t := range h.Treatments {
		if t.On <= day {
			on = max(on, t.end()+SettleDays)
		}
	}
	return on
}

// because is the reason in one sentence, with the chance in it.
func (s Situation) because(j Judgement) string {
	chance := fmt.Sprintf("the chance of being over the line of %v mites per hundred is %s", s.Threshold.Act, percent(j.OverAct))
	switch j.Call {
	case CountAgain:
		if !s.counted() {
			return "nobody has counted yet; going by colonies in general " + chance
		}
		if s.lookDue() {
			return "nobody has counted since the treatment, and treatments fail; going by what such a treatment does " + chance
		}
		return chance + ", which leaves either choice risky, and a further look is worth more than it costs"
	case Treat:
		return chance + ", so leaving it would on average cost more than a treatment that proves needless"
	case BringForward:
		return fmt.Sprintf("%s, too much to wait the %d days until the planned treatment", chance, s.NextTreatment-s.State.Day)
	case WhenSupersOff:
		return chance + ", but honey supers are on: the label and the law decide what may be given before they come off"
	case WaitForPlanned:
		return fmt.Sprintf("%s, and the planned treatment is %d days away", chance, s.NextTreatment-s.State.Day)
	}
	return chance + ", so a treatment now would more likely be needless than missed"
}

// percent writes a chance without ever claiming certainty.
func percent(p float64) string {
	switch {
	case p < 0.01:
		return "under 1%"
	case p > 0.99:
		return "over 99%"
	}
	return fmt.Sprintf("%.0f%%", math.Round(100*p))
}
