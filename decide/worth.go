package decide

import (
	"fmt"
	"math"

	"halfcup/sampling"
)

// Costs is what looking costs, in needless treatments, and the time it takes.
type Costs struct {
	Per300Killed float64 // for every 300 bees killed
	Per10Minutes float64
	ExtraVisit   float64 // for every visit after the first

	MinutesPerSample float64 // to begin any bee sample
	MinutesPerFrame  float64
	MinutesPer100    float64 // to take and count 100 bees
	MinutesPerBoard  float64
}

// DefaultCosts are judgements. They are small beside a missed treatment and
// not nothing: 300 bees do not harm a strong colony (Dietemann et al. 2013, J
// Apic Res 52(1)), yet need not be spent on an answer one has.
func DefaultCosts() Costs {
	return Costs{
		Per300Killed: 0.1, Per10Minutes: 0.02, ExtraVisit: 0.03,
		MinutesPerSample: 5, MinutesPerFrame: 3, MinutesPer100: 2, MinutesPerBoard: 10,
	}
}

// check reports the first cost that cannot be, as a *sampling.ValueError.
func (c Costs) check() error {
	for _, cost := range []struct {
		name    string
		v, most float64
	}{
		{"cost of 300 bees", c.Per300Killed, 10}, {"cost of 10 minutes", c.Per10Minutes, 10}, {"cost of an extra visit", c.ExtraVisit, 10},
		{"minutes a sample", c.MinutesPerSample, 600}, {"minutes a frame", c.MinutesPerFrame, 600},
		{"minutes per 100 bees", c.MinutesPer100, 600}, {"minutes a board", c.MinutesPerBoard, 600},
	} {
		if !(cost.v >= 0 && cost.v <= cost.most) {
			return &sampling.ValueError{Name: cost.name, Problem: fmt.Sprintf("%v is out of range", cost.v), Remedy: fmt.Sprintf("give a number from 0 to %v", cost.most)}
		}
	}
	return nil
}

// Effort is what a look takes.
type Effort struct {
	Killed  int     `json:"killed"`
	Minutes float64 `json:"minutes"`
	Visits  int     `json:"visits"`
}

// Effort is what a count takes: bees killed, minutes and visits to the hive.
func (c Costs) Effort(count sampling.Count) Effort {
	if count.Method.Kind() == sampling.Fall {
		return Effort{0, c.MinutesPerBoard, 2}
	}
	bees := ScoopedBees(count)
	e := Effort{0, c.MinutesPerSample + c.MinutesPerFrame*float64(max(count.Frames, 1)) + c.MinutesPer100*float64(bees)/100, 1}
	if count.Method.KillsBees() {
		e.Killed = bees
	}
	return e
}

// Of is what an effort costs, in needless treatments.
func (c Costs) Of(e Effort) float64 {
	return c.Per300Killed*float64(e.Killed)/300 + c.Per10Minutes*e.Minutes/10 + c.ExtraVisit*float64(max(e.Visits-1, 0))
}

// ScoopMillilitres is the volume of 100 bees by the half-cup rule.
const ScoopMillilitres = 40

// Scooped is a count of so many bees, scooped and not counted, off so many
// frames on a day.
func Scooped(m sampling.Method, bees, frames int, day sampling.Date) sampling.Count {
	return sampling.Count{
		Method: m, Amount: sampling.Amount{Value: ScoopMillilitres * float64(bees) / 100, Unit: sampling.Millilitres},
		Frames: frames, Date: day,
	}
}

// ScoopedBees is the number of bees a scooped count is meant to hold.
func ScoopedBees(c sampling.Count) int {
	return int(math.Round(c.Amount.Value * 100 / ScoopMillilitres))
}

// Outcome is what a look is worth before it is made. Regret, worth and net are
// in needless treatments.
type Outcome struct {
	Switch      int     // the count from which treating is the better choice; -1 when none worth naming is
	ChangesCall float64 // chance that the better choice is not today's
	Worth       float64 // expected fall in regret
}

// offer is a count that could be made and what is at stake, on its scale.
type offer struct {
	sampling.Prospect
	treat, leave []float64 // both regrets, carried
	now          Regret    // both regrets without the count
}

func newOffer(p sampling.Prospect, s Stakes) offer {
	treat, leave := p.Carry(s.Treat), p.Carry(s.Leave)
	return offer{p, treat, leave, Regret{p.Mean(treat), p.Mean(leave)}}
}

// perfect is what it would be worth to know exactly what the count measures, in
// place of counting it.
func (o offer) perfect() float64 { return o.now.Least() - o.MeanOfLeast(o.treat, o.leave) }

func (o offer) appraise() Outcome {
	return appraise(o.now, func(visit func(mites int, chance float64, part Regret) bool) {
		o.Outcomes([][]float64{o.treat, o.leave}, func(mites int, chance float64, parts []float64) bool {
			return visit(mites, chance, Regret{parts[0], parts[1]})
		})
	})
}

// appraise tells what a test is worth from the regrets without it and a walk
// over its results, from the one that speaks most for leaving on. Each comes
// with its chance and its part of both regrets, the chance times the regret
// after it.
//
// The regret after the test is summed over the results below the switch only;
// what lies above it is the regret of treating now less the part already
// summed. That is exact and cuts off no tail, because treating gets no worse
// as mites are added.
func appraise(now Regret, walk func(visit func(result int, chance float64, part Regret) bool)) Outcome {
	// Too little to matter: no result is worth more than the regret of leaving
	// that is still to be summed.
	const negligible = 1e-9
	o := Outcome{Switch: -1}
	var below Regret // the parts of both regrets that fall on results below the switch
	chance := 0.0
	walk(func(result int, c float64, part Regret) bool {
		if part.Treats() {
			o.Switch = result
			return false
		}
		below.Treat += part.Treat
		below.Leave += part.Leave
		chance += c
		return chance < 1-negligible && below.Leave < now.Leave-negligible
	})
	after := below.Leave
	if o.Switch >= 0 {
		after += now.Treat - below.Treat
	}
	o.Worth = math.Max(0, now.Least()-after)
	o.ChangesCall = chance
	if !now.Treats() {
		o.ChangesCall = math.Max(0, 1-chance)
	}
	if o.Switch < 0 && !now.Treats() {
		o.ChangesCall = 0
	}
	return o
}
