package decide

import (
	"errors"
	"math"
	"slices"

	"halfcup/sampling"
)

// Worthwhile is the plan that stops when one more scoop is not worth its cost,
// by the same reckoning as a look of any other kind, and then makes the choice
// with the lesser regret. It starts from what s knows of the colony. It looks one scoop ahead, no further.
//
// Only for scoops off frames of their own: then the total says all that the
// single scoops do, and n scoops are read as one count off n frames.
func (t Tally) Worthwhile(s Situation, m sampling.Method) (StopPlan, error) {
	if t.OneFrame {
		return nil, &sampling.ValueError{Name: "worth plan", Problem: "it is not worked out for scoops off one frame", Remedy: "take every scoop off another frame"}
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	w := t.weighed(s, m)
	var plan StopPlan
	for n := 1; n <= t.steps(); n++ {
		r := StopRow{Scoops: n, Bees: n * t.Scoop, LeaveAtMost: NoStop, TreatAtLeast: NoStop}
		if n > 1 {
			r.LeaveAtMost = plan[n-2].LeaveAtMost // fewer mites have stopped before
		}
		for total := r.LeaveAtMost + 1; r.TreatAtLeast == NoStop; total++ {
			says, err := w.says(n, total)
			if err != nil {
				return nil, err
			}
			switch says {
			case StopAndLeave:
				r.LeaveAtMost = total
			case StopAndTreat:
				r.TreatAtLeast = total
			}
		}
		plan = append(plan, r)
		if r.final() {
			break
		}
	}
	return plan, nil
}

type worth struct {
	Tally
	Situation
	method sampling.Method
}

// weighed is the tally in a situation, with frames that differ as K says.
func (t Tally) weighed(s Situation, m sampling.Method) worth {
	w := worth{t, s, m}
	w.History.Assumptions = w.History.Assumptions.Clone()
	w.History.Assumptions.FrameCV = 1 / math.Sqrt(t.K)
	return w
}

// taken is n scoops with so many mites, as one count.
func (w worth) taken(n, mites int) sampling.Count {
	return sampling.Count{
		Method: w.method, Mites: mites, Frames: n, Date: w.State.Day,
		Amount: sampling.Amount{Value: float64(n * w.Scoop), Unit: sampling.Bees},
	}
}

func (w worth) says(n, mites int) (Stop, error) {
	past := w.taken(n, mites)
	p, err := w.prospect(past)
	var cannot *sampling.ValueError
	if errors.Is(err, sampling.ErrNoOverlap) || errors.As(err, &cannot) && past.Check() != nil {
		return StopAndTreat, nil // more mites than any colony has shown
	}
	if err != nil {
		return "", err
	}
	stakes := w.Stakes()
	if n < w.steps() && Appraise(p, stakes).Worth > w.oneMore(n) {
		return GoOn, nil
	}
	if (Regret{p.Mean(p.Carry(stakes.Treat)), p.Mean(p.Carry(stakes.Leave))}).Treats() {
		return StopAndTreat, nil
	}
	return StopAndLeave, nil
}

// oneMore is what another scoop costs after n.
func (w worth) oneMore(n int) float64 {
	cost := func(n int) float64 {
		return w.Costs.Of(w.Costs.Effort(Scooped(w.method, n*w.Scoop, n, w.State.Day)))
	}
	return cost(n+1) - cost(n)
}

// Prospect is what the next full scoop could show after those taken, each off
// a frame of its own, in a colony of which s knows what it does.
func (t Tally) Prospect(s Situation, m sampling.Method, taken []Scoop) (sampling.Prospect, error) {
	w := t.weighed(s, m)
	var counts []sampling.Count
	for _, c := range taken {
		count := w.taken(1, c.Mites)
		count.Amount.Value = float64(c.Bees)
		counts = append(counts, count)
	}
	return w.prospect(counts...)
}

// prospect is what the next scoop could show after those taken, beside what
// was counted before them on the same day.
func (w worth) prospect(taken ...sampling.Count) (sampling.Prospect, error) {
	return w.History.Assumptions.Foresee(w.State.Before, slices.Concat(w.State.Counts, taken), w.taken(1, 0))
}
