package decide

import (
	"fmt"
	"math"

	"halfcup/sampling"
)

// Stakes is what a mistake costs, in needless treatments: a cost of 1 is one
// treatment that was not needed.
//
// Near the line a mistake costs little either way; a factor of two past it
// costs in full. Leaving a colony that is over the line costs the less the
// sooner it will be treated anyway.
type Stakes struct {
	Act         float64 // the line, in mites per hundred bees
	MissCost    float64 // how many needless treatments one missed one is worth
	DaysExposed float64 // until the colony can or will be treated anyway; 30 or more is a full miss
}

// DefaultMissCost is how many needless treatments one missed one is taken to be
// worth. It puts the switch at 6 and 9 mites in a wash of 300 bees for a line
// of 2 and 3, which is the trade's own rule.
const DefaultMissCost = 3

// fullExposure is the time in days after which waiting costs as much as never
// treating.
const fullExposure = 30

// Treat is the regret of treating a colony at theta mites per bee.
func (s Stakes) Treat(theta float64) float64 { return share(s.Act / (100 * theta)) }

// Leave is the regret of leaving it.
func (s Stakes) Leave(theta float64) float64 {
	return s.MissCost * share(100*theta/s.Act) * math.Min(1, s.DaysExposed/fullExposure)
}

// share is how much of its full cost a mistake has when the level is a factor
// past the line: nothing at the line, all of it at twice the line, and between
// them the doublings.
func share(past float64) float64 {
	switch {
	case !(past > 1):
		return 0
	case past >= 2:
		return 1
	}
	return math.Log2(past)
}

// Regret is what each choice is expected to cost, in needless treatments.
type Regret struct {
	Treat float64 `json:"treat"`
	Leave float64 `json:"leave"`
}

// Regret is the regret of both choices by what is known of a colony.
func (s Stakes) Regret(d sampling.Density) Regret {
	return Regret{d.Expect(s.Treat), d.Expect(s.Leave)}
}

// Least is the regret of the better choice. It is also what perfect knowledge
// would be worth, because one of the choices is always free of regret.
func (r Regret) Least() float64 { return math.Min(r.Treat, r.Leave) }

// Treats reports whether treating is the better choice; at equal regret the
// bees are left alone.
func (r Regret) Treats() bool { return r.Treat < r.Leave }

func (s Stakes) check() error {
	switch {
	case !(s.Act >= leastLevel && s.Act <= mostLevel):
		return &sampling.ValueError{Name: "act", Problem: fmt.Sprintf("%v mites per hundred is no line", s.Act), Remedy: fmt.Sprintf("give a figure from %v to %v", leastLevel, mostLevel)}
	case !(s.MissCost >= 0.1 && s.MissCost <= 100):
		return &sampling.ValueError{Name: "miss cost", Problem: fmt.Sprintf("%v is out of range", s.MissCost), Remedy: "say how many needless treatments one missed one is worth, from 0.1 to 100"}
	case !(s.DaysExposed >= 0):
		return &sampling.ValueError{Name: "next treatment", Problem: "it lies in the past", Remedy: "give a day from today on"}
	}
	return nil
}
