package decide

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"halfcup/internal/numeric"
	"halfcup/sampling"
)

// Plan is what a candidate does.
type Plan string

// The plans a beekeeper can choose from.
const (
	LookNow Plan = "look"             // make the count
	ActNow  Plan = "stop and act now" // go by what is known
)

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

// lookMethods are the methods of the candidates, the gentle ones first.
var lookMethods = []sampling.Method{sampling.Roll, sampling.CO2, sampling.Board, sampling.Wash}

// looks are the counts that can be made today.
func (s Situation) looks() []sampling.Count {
	var out []sampling.Count
	for _, m := range lookMethods {
		out = append(out, s.looksBy(m)...)
	}
	return out
}

// looksBy are those by one method: samples from few frames first, small ones
// first, and short boards first. Samples are whole half cups, which is what
// people have to scoop with, and from one frame, because each further one is a
// further chance to lose the queen.
func (s Situation) looksBy(m sampling.Method) []sampling.Count {
	if s.without(m) || m != sampling.Board && !s.History.Year.Flying(s.State.Day) {
		return nil // nobody opens a winter cluster
	}
	switch m {
	case sampling.CO2:
		if !s.CO2 {
			return nil // nobody has it at hand who does not say so
		}
	case sampling.Board:
		hive := s.Hive
		hive.Broodless = !s.State.CappedBrood(s.State.Day)
		var out []sampling.Count
		for _, days := range []float64{3, 7} {
			out = append(out, sampling.Count{Method: m, Amount: sampling.Amount{Value: days, Unit: sampling.Days}, Date: s.State.Day, Hive: hive})
		}
		return out
	}
	sizes := []int{halfCup, 2 * halfCup}
	if s.AnySize {
		sizes = []int{100, 200, 300, 400, 500, 600}
	}
	var out []sampling.Count
	for frames := 1; frames <= max(s.MostFrames, 1); frames++ {
		for _, bees := range sizes {
			out = append(out, Scooped(m, bees, frames, s.State.Day))
		}
	}
	return out
}

// halfCup is how many bees a level half cup holds (common practice).
const halfCup = 300

// candidate puts a value on a count that is offered.
func (s Situation) candidate(c sampling.Count, o offer) Candidate {
	effort, out := s.Costs.Effort(c), o.appraise()
	return Candidate{LookNow, c, effort, out, out.Worth - s.Costs.Of(effort)}
}

// offer makes a look an offer. Looks by one method follow each other and share
// all but their size, so that most of the last offer is good for the next.
func (s Situation) offer(last offer, look sampling.Count) (offer, error) {
	p, same := last.Instead(look)
	if same {
		last.Prospect = p
		return last, nil
	}
	p, err := s.prospect(look)
	if err != nil {
		return offer{}, err
	}
	return newOffer(p, s.Stakes()), nil
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
		var err error
		if on, err = s.offer(on, look); err != nil {
			return nil, err
		}
		out = append(out, s.candidate(look, on))
	}
	slices.SortStableFunc(out, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(b.Net, a.Net), cmp.Compare(a.Killed, b.Killed))
	})
	return out, nil
}

// usualBees is the size of the usual sample (common practice).
const usualBees = 300

// small reports a sample of fewer bees than is usual. A look that is due asks
// whether the colony is as it is believed to be, so its size cannot be left to
// that belief: few bees seem to do where the belief is firm.
func small(c sampling.Count) bool {
	return c.Method.Kind() == sampling.BeeSample && ScoopedBees(c) < usualBees
}

// nextStep is the best of all candidates, or of those to look now that are not
// small when a look is due; one that kills bees has to be worth more than the
// best that kills none. It puts a value on few of them: no count is worth more
// than knowing exactly what it measures, nor more than one of more bees off as
// many frames, or of more days, in which it is contained.
func (s Situation) nextStep(due bool) (Candidate, error) {
	best := Candidate{Plan: ActNow, Outcome: Outcome{Switch: -1}}
	if due {
		best.Net = math.Inf(-1)
	}
	// The gentle methods come first, so that one that kills bees has to beat
	// them all.
	var err error
	for _, m := range lookMethods {
		if best, err = s.bestOf(best, m, due); err != nil {
			return best, err
		}
	}
	return best, nil
}

// bestOf is the best of a candidate and the looks by one method; see nextStep.
func (s Situation) bestOf(best Candidate, m sampling.Method, due bool) (Candidate, error) {
	looks := s.looksBy(m)
	if len(looks) == 0 {
		return best, nil
	}
	on, err := s.offer(offer{}, looks[0])
	if err != nil {
		return best, err
	}
	perfect := on.perfect() // what is measured does not depend on the size
	most, frames := perfect, -1
	for _, look := range slices.Backward(looks) {
		if look.Frames != frames {
			most, frames = perfect, look.Frames
		}
		if due && small(look) {
			continue
		}
		if most-s.Costs.Of(s.Costs.Effort(look)) <= best.Net {
			continue
		}
		if on, err = s.offer(on, look); err != nil {
			return best, err
		}
		c := s.candidate(look, on)
		most = c.Worth
		if c.Net > best.Net {
			best = c
		}
	}
	return best, nil
}

// leastCost is the lowest cost of any look.
func (s Situation) leastCost() float64 {
	least := math.Inf(1)
	for _, look := range s.looks() {
		least = math.Min(least, s.Costs.Of(s.Costs.Effort(look)))
	}
	return least
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
		if !now.Treats() {
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

// callChanges is the fewest mites, of so many and more, at which the call is no
// longer what it is now; -1 when only counts too rare to name would change it.
func (s Situation) callChanges(look sampling.Count, p sampling.Prospect, from int, now Call) (int, error) {
	const tooRare = 1e-4
	var err error
	changed := func(mites int) bool {
		call, e := s.callAt(look, mites)
		err = cmp.Or(err, e)
		return e != nil || call != now
	}
	next, found := numeric.First(from, changed, func(mites int) bool { return p.Chance(mites, true) < tooRare })
	if !found {
		next = -1
	}
	return next, err
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
	call, _, err := next.calledToday()
	return call, err
}
