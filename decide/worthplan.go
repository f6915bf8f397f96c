package decide

import (
	"errors"
	"fmt"
	"math"

	"halfcup/sampling"
)

// Worthwhile is the plan that stops as soon as no further count is worth its
// cost, and starts from what s knows of the colony. After every scoop it makes
// the call that the record would with the scoops in it, and goes on while that
// is to count again: so a tally never says another thing than the standing of
// the colony does after the same bees and mites.
//
// The scoops are read by the assumptions of s, of which K is the CV of frames,
// 1/CV². While a treatment works or settles, and while bees do not fly, no count
// of today leads to a call: the error is a *sampling.ValueError.
func (t Tally) Worthwhile(s Situation, m sampling.Method) (StopPlan, error) {
	if err := s.tells(); err != nil {
		return nil, err
	}
	w := worth{t, s, m}
	var plan StopPlan
	goesOn := func(int) bool { return true } // whether the row before does
	for n := 1; n <= t.steps(); n++ {
		r, err := w.row(n, goesOn)
		if err != nil {
			return nil, err
		}
		r.Last = n == t.steps()
		plan = append(plan, r)
		if r.final() {
			break
		}
		goesOn = func(mites int) bool { return r.At(mites) == GoOn }
	}
	return plan, nil
}

// row is what the plan says after n scoops. Totals that have stopped before are
// not asked about.
func (w worth) row(n int, goesOn func(int) bool) (StopRow, error) {
	r := StopRow{Scoops: n, Bees: n * w.Scoop, LeaveAtMost: NoStop, TreatAtLeast: NoStop}
	least := 0
	for !goesOn(least) {
		least++
	}
	for total := least; ; total++ {
		says, err := w.says(w.total(n, total))
		if err != nil {
			return r, err
		}
		switch says {
		case StopAndTreat:
			r.TreatAtLeast = total
			return r, nil
		case StopAndLeave:
			if r.LeaveAtMost == NoStop && total > least {
				r.LeaveFrom = total
			}
			r.LeaveAtMost = total
		}
	}
}

// worth is a tally of a colony of which something is known.
type worth struct {
	Tally
	Situation
	method sampling.Method
}

// tells reports a situation in which counts of today lead to no call.
func (s Situation) tells() error {
	if err := s.check(); err != nil {
		return err
	}
	if _, _, ok := s.courseCall(); ok {
		return &sampling.ValueError{Name: "tally", Problem: "a treatment works or settles in the hive, and no count tells yet what it left", Remedy: "count when it has settled; the estimate of this colony names the day"}
	}
	if !s.History.Year.Flying(s.State.Day) {
		return &sampling.ValueError{Name: "tally", Problem: "bees do not fly in these weeks, and nobody opens a hive for a sample", Remedy: "put a board under it, or ask about the day on which you will count"}
	}
	return nil
}

// total is n full scoops with so many mites, as one count: off one frame they
// are one sample of it, and off a frame each their total says all that the
// single scoops do.
func (w worth) total(n, mites int) []sampling.Count {
	frames := n
	if w.OneFrame {
		frames = 1
	}
	return []sampling.Count{w.count(n*w.Scoop, mites, frames)}
}

func (w worth) count(bees, mites, frames int) sampling.Count {
	return sampling.Count{Method: w.method, Mites: mites, Frames: frames, Date: w.State.Day, Amount: sampling.Amount{Value: float64(bees), Unit: sampling.Bees}}
}

// Counts are scoops as the record would have them: one count of the frame they
// all come off, or one each.
func (t Tally) Counts(m sampling.Method, taken []Scoop, day sampling.Date) []sampling.Count {
	if len(taken) == 0 {
		return nil
	}
	w := worth{Tally: t, method: m}
	w.State.Day = day
	var out []sampling.Count
	bees, mites := 0, 0
	for _, c := range taken {
		out = append(out, w.count(c.Bees, c.Mites, 1))
		bees, mites = bees+c.Bees, mites+c.Mites
	}
	if t.OneFrame {
		return []sampling.Count{w.count(bees, mites, 1)}
	}
	return out
}

// says is what to do once these counts are made.
func (w worth) says(made []sampling.Count) (Stop, error) {
	call, _, err := w.After(made...)
	var cannot *sampling.ValueError
	if errors.Is(err, sampling.ErrNoOverlap) || errors.As(err, &cannot) && made[0].Check() != nil {
		return StopAndTreat, nil // more mites than any colony has shown
	}
	switch {
	case err != nil:
		return "", err
	case call.Treats():
		return StopAndTreat, nil
	case call == CountAgain:
		return GoOn, nil
	}
	return StopAndLeave, nil
}

// StandBy is where a running tally has come by the plan of Worthwhile. Scoops
// that came out smaller or larger than planned weigh by their own bees.
func (t Tally) StandBy(s Situation, m sampling.Method, taken []Scoop) (SoFar, error) {
	if err := s.tells(); err != nil {
		return SoFar{}, err
	}
	w := worth{t, s, m}
	out := SoFar{Says: GoOn, NextLeaveAtMost: NoStop, NextTreatAtLeast: NoStop}
	for i, c := range taken {
		if err := c.check(i); err != nil {
			return SoFar{}, err
		}
		out.After, out.Bees, out.Mites = i+1, out.Bees+c.Bees, out.Mites+c.Mites
		var err error
		if out.Says, err = w.says(t.Counts(m, taken[:i+1], s.State.Day)); err != nil {
			return SoFar{}, err
		}
		if out.Says == GoOn && out.Bees+t.Scoop > t.Max {
			out.Says = StopOpen
		}
		if out.Says != GoOn {
			return out, nil
		}
	}
	out.Last = out.Bees+2*t.Scoop > t.Max
	next := append(append([]Scoop(nil), taken...), Scoop{Bees: t.Scoop})
	for mites := 0; ; mites++ {
		next[len(taken)].Mites = mites
		says, err := w.says(t.Counts(m, next, s.State.Day))
		if err != nil {
			return SoFar{}, err
		}
		switch says {
		case StopAndTreat:
			out.NextTreatAtLeast = mites
			return out, nil
		case StopAndLeave:
			if out.NextLeaveAtMost == NoStop {
				out.NextLeaveFrom = mites
			}
			out.NextLeaveAtMost = mites
		}
	}
}

// check reports a scoop that cannot be, the i-th from 0.
func (c Scoop) check(i int) error {
	if c.Bees < 1 || c.Bees > mostScoopBees || c.Mites < 0 || c.Mites > 20*c.Bees {
		return &sampling.ValueError{Name: fmt.Sprintf("scoop %d", i+1), Problem: fmt.Sprintf("%d:%d cannot be", c.Bees, c.Mites), Remedy: "give the bees, then the mites, such as 100:2"}
	}
	return nil
}

// ChanceEnds is the chance that the next full scoop ends a tally that goes on,
// by what is known of the colony and the scoops so far.
func (t Tally) ChanceEnds(s Situation, m sampling.Method, taken []Scoop, so SoFar) (float64, error) {
	if so.Says != GoOn {
		return math.NaN(), nil
	}
	if so.Last {
		return 1, nil
	}
	of := func(scoops []Scoop) (float64, error) {
		l, err := s.History.Assumptions.Likelihood(append(append([]sampling.Count(nil), s.State.Counts...), t.Counts(m, scoops, s.State.Day)...)...)
		if err != nil {
			return 0, err
		}
		return s.State.Before.Chance(l) * t.parted(scoops), nil
	}
	before, err := of(taken)
	if err != nil {
		return 0, err
	}
	on := 0.0
	for mites := 0; mites < so.NextTreatAtLeast; mites++ {
		if so.NextLeaveAtMost != NoStop && mites >= so.NextLeaveFrom && mites <= so.NextLeaveAtMost {
			continue
		}
		chance, err := of(append(append([]Scoop(nil), taken...), Scoop{t.Scoop, mites}))
		if err != nil {
			return 0, err
		}
		on += chance / before
	}
	return math.Min(1, math.Max(0, 1-on)), nil
}

// parted is the chance that the mites of scoops off one frame, read as one
// count, fell to the scoops as they did: each mite is in one of them by its
// share of the bees.
func (t Tally) parted(scoops []Scoop) float64 {
	if !t.OneFrame {
		return 1
	}
	bees, mites, log := 0, 0, 0.0
	for _, c := range scoops {
		bees, mites = bees+c.Bees, mites+c.Mites
	}
	for _, c := range scoops {
		log += float64(c.Mites)*math.Log(float64(c.Bees)/float64(bees)) - logGamma(float64(c.Mites)+1)
	}
	return math.Exp(log + logGamma(float64(mites)+1))
}
