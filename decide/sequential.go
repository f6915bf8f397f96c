package decide

import (
	"fmt"
	"math"

	"halfcup/sampling"
)

// Tally is the question a sequential plan answers: bees are taken scoop by
// scoop, and after each the mites so far say whether to stop. Most colonies
// are far from the line, and few bees show it.
//
// The mites of one scoop are taken as negative binomial with mean
// Scoop·Recovery·level/100 and size K, Poisson when K is infinite. Each scoop
// is taken off a frame of its own, so that K is that of a scoop and the total
// of n scoops has size n·K. With OneFrame all scoops come off the same frame
// and share its departure from the hive: K is then that of the frame, however
// many scoops are taken.
type Tally struct {
	Scoop       int     // bees in a scoop
	Max         int     // bees at most, in whole scoops
	Low, High   float64 // mites per hundred bees on the scale of a careful wash
	Alpha, Beta float64 // chance of treating at Low, and of leaving at High
	Recovery    float64 // share of the mites of a careful wash that the method finds
	K           float64 // size of the negative binomial, +Inf for Poisson
	OneFrame    bool
}

// Limits of a tally. Beyond them the plan is no help in a yard.
const (
	mostScoopBees  = 2000
	mostTallyBees  = 100_000
	mostTallySteps = 400
)

// Check reports a tally for which there is no plan, as a *sampling.ValueError.
func (t Tally) Check() error {
	bad := func(name, problem, remedy string) error {
		return &sampling.ValueError{Name: name, Problem: problem, Remedy: remedy}
	}
	switch {
	case t.Scoop < 1 || t.Scoop > mostScoopBees:
		return bad("bees in a scoop", fmt.Sprintf("%d is not between 1 and %d", t.Scoop, mostScoopBees), "give the bees of one scoop, such as 100")
	case t.Max < t.Scoop || t.Max > mostTallyBees:
		return bad("bees at most", fmt.Sprintf("%d is not between one scoop (%d) and %d", t.Max, t.Scoop, mostTallyBees), "give the bees you would take at the very most, such as 900")
	case t.steps() > mostTallySteps:
		return bad("bees at most", fmt.Sprintf("%d scoops are more than %d", t.steps(), mostTallySteps), "take larger scoops, or fewer bees at most")
	case !(t.Low > 0 && t.High <= 100):
		return bad("low and high", "both must be above 0 and at most 100 mites per hundred bees", "give two levels, such as 1 and 3")
	case !(t.Low < t.High):
		return bad("low and high", fmt.Sprintf("low (%g) must be below high (%g)", t.Low, t.High), "low is the level you would leave, high the level you would treat")
	case !(t.Alpha > 0 && t.Beta > 0 && t.Alpha < 0.5 && t.Beta < 0.5):
		return bad("chances of error", "both must be above 0 and below 0.5", "give chances such as 0.1")
	case !(t.Recovery > 0 && t.Recovery <= 1):
		return bad("recovery", "it must be above 0 and at most 1", "give the share of the mites that the method finds, such as 0.8")
	case !(t.K >= 0.01 && t.K <= 1e6) && !math.IsInf(t.K, 1):
		return bad("k", "it must be from 0.01 to a million", "give a number such as 16, or inf for mites spread evenly over the bees")
	}
	return nil
}

// steps is how many scoops there are at most.
func (t Tally) steps() int { return t.Max / t.Scoop }

// mean is the mites expected in a sample of so many bees.
func (t Tally) mean(bees, level float64) float64 { return bees * t.Recovery * level / 100 }

// StopRow says what to do with the mites so far after some scoops: stop and
// leave when they lie between LeaveFrom and LeaveAtMost, stop and treat when
// there are at least TreatAtLeast, else take one more scoop. A limit that is
// NoStop cannot be met.
type StopRow struct {
	Scoops, Bees           int
	LeaveFrom, LeaveAtMost int // LeaveFrom is above 0 where too few mites leave it open
	TreatAtLeast           int
	Last                   bool // no scoop comes after it, so that what is open stays open
}

// NoStop as a limit means that no number of mites ends the tally that way.
const NoStop = -1

// Stop is what a plan says after a scoop.
type Stop string

// What a plan can say.
const (
	GoOn         Stop = "go on"
	StopAndLeave Stop = "stop, leave"
	StopAndTreat Stop = "stop, treat"
	StopOpen     Stop = "stop, count again" // the bees at most are taken and nothing is settled
)

// At is what the row says of so many mites.
func (r StopRow) At(mites int) Stop {
	switch {
	case r.TreatAtLeast != NoStop && mites >= r.TreatAtLeast:
		return StopAndTreat
	case r.LeaveAtMost != NoStop && mites >= r.LeaveFrom && mites <= r.LeaveAtMost:
		return StopAndLeave
	case r.Last:
		return StopOpen
	}
	return GoOn
}

// StopPlan is a plan to carry to the hive: one row a scoop, of which the last
// always ends the tally.
type StopPlan []StopRow

// weight is what a count says of high against low: the logarithm of the
// likelihood ratio is perMite for every mite, less a constant (Wald 1945, Ann
// Math Stat 16:117-186; for the sampling of pests Binns, Nyrop & van der Werf
// 2000, Sampling and Monitoring in Crop Protection, ch. 5).
type weight struct{ perMite, constant float64 }

// weigh is the weight of a count with mean low or high and size k.
func weigh(low, high, k float64) weight {
	if math.IsInf(k, 1) {
		return weight{math.Log(high / low), high - low}
	}
	grown := math.Log((high + k) / (low + k))
	return weight{math.Log(high/low) - grown, k * grown}
}

func (w weight) of(mites int) float64 { return float64(mites)*w.perMite - w.constant }

// limits are the most mites with a logarithm of the likelihood ratio of at
// most leave, and the least with at least treat.
func (w weight) limits(leave, treat float64) (leaveAtMost, treatAtLeast int) {
	leaveAtMost = int(math.Floor((leave+w.constant)/w.perMite + atLine))
	treatAtLeast = int(math.Ceil((treat+w.constant)/w.perMite - atLine))
	return max(leaveAtMost, NoStop), max(treatAtLeast, 0)
}

// middle is the most mites that speak for low rather than high.
func (w weight) middle() int {
	m, _ := w.limits(0, 0)
	return m
}

// atLine is how near, in mites, a total has to be to a line to lie on it.
const atLine = 1e-9

// bounds are Wald's two bounds for the logarithm of the likelihood ratio.
func bounds(alpha, beta float64) (leave, treat float64) {
	return math.Log(beta / (1 - alpha)), math.Log((1 - beta) / alpha)
}

// weight is that of the total of n full scoops.
func (t Tally) weight(n int) weight {
	low, high := t.mean(float64(t.Scoop), t.Low), t.mean(float64(t.Scoop), t.High)
	if t.OneFrame {
		// One gamma factor for all: the total has the size of the frame.
		return weigh(float64(n)*low, float64(n)*high, t.K)
	}
	w := weigh(low, high, t.K)
	w.constant *= float64(n)
	return w
}

// Wald is the plan of Wald's sequential test as whole numbers. At the last
// scoop it leaves when the mites so far speak for Low rather than High and
// treats otherwise, the rule Wald gives for a test cut short. His bounds hold
// for any sequence of likelihood ratios, that of one frame included.
func (t Tally) Wald() StopPlan {
	leave, treat := bounds(t.Alpha, t.Beta)
	return t.plan(func(n int, r *StopRow) {
		r.LeaveAtMost, r.TreatAtLeast = t.weight(n).limits(leave, treat)
	})
}

// Precise is the plan that stops when the standard error of the level is at
// most the share d of it: with T mites in n scoops, when 1/T + 1/(n·K) <= d²
// (Kuno 1969, Res Popul Ecol 11:127-136, from memory, for a known K), and calls
// by whether they speak for Low or High. Off one frame it is 1/T + 1/K, so that a K of 16
// never allows a precision of a quarter.
func (t Tally) Precise(d float64) StopPlan {
	return t.plan(func(n int, r *StopRow) {
		size := t.K
		if !t.OneFrame {
			size *= float64(n)
		}
		room := d*d - 1/size
		if need := 1 / room; room > 0 && need < mostTallyBees {
			t.callFrom(r, int(math.Ceil(need-atLine)), t.weight(n).middle())
		}
	})
}

// callFrom lets the row stop from so many mites on: leave up to middle.
func (t Tally) callFrom(r *StopRow, need, middle int) {
	if need <= middle {
		r.LeaveFrom, r.LeaveAtMost = need, middle
	}
	r.TreatAtLeast = max(need, middle+1)
}

// plan makes the rows: stops fills in the limits of one that is not the last.
func (t Tally) plan(stops func(n int, r *StopRow)) StopPlan {
	var p StopPlan
	if t.Scoop < 1 {
		return nil // a tally nobody filled in
	}
	for n := 1; n <= t.steps(); n++ {
		r := StopRow{Scoops: n, Bees: n * t.Scoop, LeaveAtMost: NoStop, TreatAtLeast: NoStop}
		if n == t.steps() {
			t.callFrom(&r, 0, t.weight(n).middle())
		} else {
			stops(n, &r)
		}
		p = append(p, r)
		if r.final() {
			break
		}
	}
	return p
}

// final reports whether the row leaves no way to go on.
func (r StopRow) final() bool {
	return r.LeaveFrom == 0 && r.TreatAtLeast != NoStop && r.TreatAtLeast <= r.LeaveAtMost+1
}

// Scoop is one scoop that was taken and counted.
type Scoop struct{ Bees, Mites int }

// SoFar is where a running tally has come by Wald's plan. Scoops that came
// out smaller or larger than planned weigh by their own bees.
type SoFar struct {
	Says        Stop
	After       int // scoops taken when the tally ended; all of them while it goes on
	Bees, Mites int // of those scoops

	// What the next scoop, of full size, would have to hold to end the tally.
	// Set while it goes on; Last says that it ends after that scoop anyway.
	NextLeaveFrom, NextLeaveAtMost, NextTreatAtLeast int
	Last                                             bool
}

// Stand follows a tally to its first stop.
func (t Tally) Stand(taken []Scoop) (SoFar, error) {
	s := SoFar{Says: GoOn, NextLeaveAtMost: NoStop, NextTreatAtLeast: NoStop}
	leave, treat := bounds(t.Alpha, t.Beta)
	for i, c := range taken {
		if err := c.check(i); err != nil {
			return SoFar{}, err
		}
		s.After, s.Bees, s.Mites = i+1, s.Bees+c.Bees, s.Mites+c.Mites
		w := t.weightOf(taken[:i+1])
		switch {
		case w <= leave+atLine:
			s.Says = StopAndLeave
		case w >= treat-atLine:
			s.Says = StopAndTreat
		case s.Bees+t.Scoop > t.Max && w <= atLine:
			s.Says = StopAndLeave
		case s.Bees+t.Scoop > t.Max:
			s.Says = StopAndTreat
		}
		if s.Says != GoOn {
			return s, nil
		}
	}
	// The weight is linear in the mites of the next scoop.
	next := append(append([]Scoop(nil), taken...), Scoop{t.Scoop, 0})
	w := weight{constant: -t.weightOf(next)}
	next[len(taken)].Mites = 1
	w.perMite = t.weightOf(next) + w.constant
	s.NextLeaveAtMost, s.NextTreatAtLeast = w.limits(leave, treat)
	if s.Last = s.Bees+2*t.Scoop > t.Max; s.Last {
		s.NextLeaveAtMost = w.middle()
		s.NextTreatAtLeast = s.NextLeaveAtMost + 1
	}
	return s, nil
}

// weightOf is the logarithm of the likelihood ratio of scoops of any size.
func (t Tally) weightOf(taken []Scoop) float64 {
	if t.OneFrame {
		bees, mites := 0, 0
		for _, c := range taken {
			bees, mites = bees+c.Bees, mites+c.Mites
		}
		return weigh(t.mean(float64(bees), t.Low), t.mean(float64(bees), t.High), t.K).of(mites)
	}
	sum := 0.0
	for _, c := range taken {
		sum += weigh(t.mean(float64(c.Bees), t.Low), t.mean(float64(c.Bees), t.High), t.K).of(c.Mites)
	}
	return sum
}
