package decide

import (
	"cmp"
	"errors"
	"slices"

	"halfcup/sampling"
)

// Plan is what a candidate does.
type Plan string

// The plans a beekeeper can choose from.
const (
	LookNow   Plan = "look"             // make the count
	LookLater Plan = "wait and look"    // let laterDays pass, then make it
	ActNow    Plan = "stop and act now" // go by what is known
)

// laterDays is how long LookLater waits.
const laterDays = 14

// Candidate is one thing a beekeeper could do next, with what it takes and what
// it is worth. Worth and Net are in needless treatments.
type Candidate struct {
	Plan  Plan
	Count sampling.Count // what is counted; its mites do not matter
	Effort
	Outcome
	Net float64 // worth less the cost of the effort
}

// Lethal reports whether bees die of it.
func (c Candidate) Lethal() bool { return c.Killed > 0 }

// looks are the counts that can be made today.
func (s Situation) looks() []sampling.Count {
	var out []sampling.Count
	for _, m := range []sampling.Method{sampling.Roll, sampling.Wash} {
		if m == sampling.Roll && s.NoRoll || m == sampling.Wash && s.NoKill {
			continue
		}
		for frames := 1; frames <= 3; frames++ {
			for _, bees := range []int{100, 200, 300, 400} {
				out = append(out, Scooped(m, bees, frames, s.State.Day))
			}
		}
	}
	out = append(out, Scooped(sampling.CO2, 300, 1, s.State.Day))
	for _, days := range []float64{3, 7} {
		hive := s.Hive
		hive.Broodless = !s.State.CappedBrood(s.State.Day)
		out = append(out, sampling.Count{Method: sampling.Board, Amount: sampling.Amount{Value: days, Unit: sampling.Days}, Date: s.State.Day, Hive: hive})
	}
	return out
}

// appraise puts a value on making a count today.
func (s Situation) appraise(c sampling.Count) (Candidate, error) {
	p, err := s.prospect(c)
	if err != nil {
		return Candidate{}, err
	}
	return s.candidate(c, newOffer(p, s.Stakes())), nil
}

func (s Situation) candidate(c sampling.Count, o offer) Candidate {
	effort, out := s.Costs.Effort(c), o.appraise()
	return Candidate{LookNow, c, effort, out, out.Worth - s.Costs.Of(effort)}
}

// Candidates are all that can be done next, the highest net worth first. The
// gentler of two that are worth the same comes first.
func (s Situation) Candidates() ([]Candidate, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	out := []Candidate{{Plan: ActNow, Outcome: Outcome{Switch: -1}}}
	var on offer
	for _, look := range s.looks() {
		// Looks by one method follow each other and share all but their size.
		p, same := on.Instead(look)
		if same {
			on.Prospect = p
		} else {
			p, err := s.prospect(look)
			if err != nil {
				return nil, err
			}
			on = newOffer(p, s.Stakes())
		}
		out = append(out, s.candidate(look, on))
	}
	best, _ := spare(out)
	if best.Plan == LookNow {
		later, err := s.later(best)
		if err != nil {
			return nil, err
		}
		out = append(out, later)
	}
	slices.SortStableFunc(out, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(b.Net, a.Net), cmp.Compare(a.Killed, b.Killed))
	})
	return out, nil
}

// spare picks the best candidate under the spare rule: one that kills bees only
// when it is worth more than the best that kills none. The second result is
// the best that kills bees, the zero Candidate when there is none.
func spare(candidates []Candidate) (advised, lethal Candidate) {
	var gentle Candidate
	for _, c := range candidates {
		best := &gentle
		if c.Lethal() {
			best = &lethal
		}
		if best.Plan == "" || c.Net > best.Net {
			*best = c
		}
	}
	if lethal.Plan != "" && lethal.Net > gentle.Net {
		return lethal, lethal
	}
	return gentle, lethal
}

// later puts a value on making the same count after laterDays. Leaving the
// colony so long costs its share of a month's exposure; what the count then
// decides is the rest of that month.
func (s Situation) later(now Candidate) (Candidate, error) {
	stakes := s.Stakes()
	wait, rest := stakes, stakes
	wait.DaysExposed = min(laterDays, stakes.DaysExposed)
	rest.DaysExposed = stakes.DaysExposed - wait.DaysExposed
	then, err := s.State.Forecast(s.State.Day + laterDays)
	if err != nil {
		return Candidate{}, err
	}
	c := now.Count
	c.Date += laterDays
	p, err := s.History.Assumptions.Foresee(then, nil, c)
	if err != nil {
		return Candidate{}, err
	}
	on := newOffer(p, rest)
	o := on.appraise()
	o.Worth = max(0, stakes.Regret(s.State.Known).Least()-wait.Regret(s.State.Known).Leave-(on.now.Least()-o.Worth))
	effort := now.Effort
	effort.Visits++
	return Candidate{LookLater, c, effort, o, o.Worth - s.Costs.Of(effort)}, nil
}

// CutPoint is a range of counts of one look, all of which lead to one call. A
// To of -1 has no upper end.
type CutPoint struct {
	From int  `json:"from"`
	To   int  `json:"to"`
	Call Call `json:"call"`
}

// CutPoints are the calls that every possible count of a look would lead to:
// what a person carries to the hive. A mite more never moves the call toward
// leaving, so the ends of the ranges are found by halving.
func (s Situation) CutPoints(c Candidate) ([]CutPoint, error) {
	if c.Plan == LookLater {
		then, err := s.State.Forecast(c.Count.Date)
		if err != nil {
			return nil, err
		}
		s.State.Day, s.State.Known, s.State.Before, s.State.Counts = c.Count.Date, then, then, nil
	}
	p, err := s.prospect(c.Count)
	if err != nil {
		return nil, err
	}
	var out []CutPoint
	for from := 0; ; {
		now, err := s.callAt(c.Count, from)
		if err != nil {
			return nil, err
		}
		next := -1
		if !now.treats() {
			if next, err = s.callChanges(c.Count, p, from, now); err != nil {
				return nil, err
			}
		}
		if next < 0 {
			return append(out, CutPoint{from, -1, now}), nil
		}
		out = append(out, CutPoint{from, next - 1, now})
		from = next
	}
}

// callChanges is the first count above one with a call at which the call is
// another, -1 when only counts too rare to name would change it.
func (s Situation) callChanges(look sampling.Count, p sampling.Prospect, from int, now Call) (int, error) {
	const tooRare = 1e-4
	low := from
	var high int
	for step := 1; ; step *= 2 {
		high = low + step
		call, err := s.callAt(look, high)
		if err != nil {
			return 0, err
		}
		if call != now {
			break
		}
		if low = high; p.Chance(low, true) < tooRare {
			return -1, nil
		}
	}
	for low+1 < high {
		mid := (low + high) / 2
		call, err := s.callAt(look, mid)
		if err != nil {
			return 0, err
		}
		if call == now {
			low = mid
		} else {
			high = mid
		}
	}
	return high, nil
}

// callAt is the call after a look showed so many mites. More than any colony
// can show speak for treating as clearly as mites can.
func (s Situation) callAt(look sampling.Count, mites int) (Call, error) {
	next, err := s.seeing(look, mites)
	look.Mites = mites
	if errors.Is(err, sampling.ErrNoOverlap) || look.Check() != nil {
		return s.choice(Regret{Treat: 0, Leave: 1}), nil
	}
	if err != nil {
		return "", err
	}
	j, err := next.call()
	return j.Call, err
}
