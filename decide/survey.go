package decide

import (
	"slices"

	"halfcup/sampling"
)

// Survey reads many counts of one day, each of a colony of its own of which
// nothing else is known, and gives of each what it says and the call: that of
// the Standing with the count in its record. What depends on the day alone is
// worked out once, so it is not safe for concurrent use.
type Survey struct {
	blank Situation
	read  *sampling.Survey
	looks worthOfLooks
}

// Outlooks keeps what looks can show from one day of a survey to the next.
type Outlooks map[sampling.Count]*sampling.Outlook

// of is the outlook of a look; what it can show does not depend on the day.
func (o Outlooks) of(a sampling.Assumptions, look sampling.Count) *sampling.Outlook {
	look.Date = 0
	if o == nil {
		return a.Outlook(look)
	}
	if o[look] == nil {
		o[look] = a.Outlook(look)
	}
	return o[look]
}

// Survey prepares for counts of the day of the standing, of colonies of which as
// much is known as it knows. Limits are at level. No count may be in the standing.
// Surveys with the same assumptions may share their outlooks.
func (s Standing) Survey(level float64, kept Outlooks) *Survey {
	return &Survey{
		blank: s.now,
		read:  s.now.History.Assumptions.Survey(s.Known, level, s.Line.Watch/100, s.Line.Act/100),
		looks: s.now.worthOfLooks(kept),
	}
}

// Read is what a count says: the summary, and the chances of being over the two
// lines, which hold until the next call. Errors are those of
// sampling.Assumptions.Likelihood and sampling.ErrNoOverlap.
func (v *Survey) Read(c sampling.Count) (sum sampling.Summary, overWatch, overAct float64, err error) {
	sum, over, err := v.read.Read(c)
	if err != nil {
		return sum, 0, 0, err
	}
	return sum, over[0], over[1], nil
}

// Call is the call by the count that was read last. A knockdown tells of an
// earlier day than its own, so that there is none by it.
func (v *Survey) Call(c sampling.Count) (Call, error) {
	s, state := v.blank, v.blank.alone
	state.Counted, state.Counts = state.Day, []sampling.Count{c}
	state.Evidence = []sampling.Evidence{{Count: c}} // what it did is not asked
	state.Before, state.Known = state.Known, v.read.After()
	state.narrow = func() (sampling.Density, error) {
		l, err := s.History.Assumptions.Likelihood(c)
		if err != nil {
			return state.Known, err
		}
		return state.Before.Times(l)
	}
	s.alone, s.State = state, state
	if c.Method.Kind() == sampling.Fall {
		s.Hive = c.Hive // the next board goes under it as well
	}
	s.History.Counts = slices.Concat(s.History.Counts, state.Counts)
	s.many = &v.looks
	call, _, err := s.calledToday()
	return call, err
}

// worthOfLooks answers whether any look is worth its cost for one colony after
// the other, all of one day: the same as nextStep in less time, by what a look
// could show any of them in place of a Prospect for each.
type worthOfLooks struct {
	methods      [][]outlook // by method, large looks first
	treat, leave []float64   // regrets at the nodes
}

type outlook struct {
	*sampling.Outlook
	look sampling.Count
	cost float64
}

func (s Situation) worthOfLooks(kept Outlooks) worthOfLooks {
	w, stakes := worthOfLooks{}, s.Stakes()
	for _, m := range lookMethods {
		var looks []outlook
		for _, c := range slices.Backward(s.looksBy(m)) {
			looks = append(looks, outlook{kept.of(s.History.Assumptions, c), c, s.Costs.Of(s.Costs.Effort(c))})
		}
		w.methods = append(w.methods, looks)
	}
	for _, theta := range sampling.Nodes() {
		w.treat, w.leave = append(w.treat, stakes.Treat(theta)), append(w.leave, stakes.Leave(theta))
	}
	return w
}

// any reports whether a look is worth making for the colony of s, of which the
// regret is that of today.
func (w *worthOfLooks) any(s Situation, today Regret) (bool, error) {
	made := s.State.Counts[0].Method
	var shares []outlook // looks by the method of the count: they share its recovery
	for _, looks := range w.methods {
		if len(looks) > 0 && looks[0].look.Method == made {
			shares = looks
			continue
		}
		most, frames := today.Least(), -1 // see nextStep
		for _, l := range looks {
			if l.look.Frames != frames {
				most, frames = today.Least(), l.look.Frames
			}
			if most-l.cost < s.MinWorth {
				continue
			}
			// It can take away no more than the regret of leaving that the results
			// not yet summed have: when that is too little, so is its worth, and
			// what comes of the sum is a bound of it.
			var err error
			left := today.Leave
			most = appraise(today, func(visit func(int, float64, Regret) bool) {
				err = l.Outcomes(s.State.Known, w.treat, w.leave, func(mites int, chance, treat, leave float64) bool {
					left -= leave
					return visit(mites, chance, Regret{treat, leave}) && (today.Treats() || left-l.cost >= s.MinWorth)
				})
			}).Worth
			if err != nil {
				return false, err
			}
			if net := most - l.cost; net > 0 && net >= s.MinWorth {
				return true, nil
			}
		}
	}
	if len(shares) == 0 {
		return false, nil
	}
	best, err := s.bestOf(Candidate{Plan: ActNow}, shares[0].look.Method, false)
	return best.Plan == LookNow && best.Net >= s.MinWorth, err
}
