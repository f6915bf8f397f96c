package decide

import (
	"math"

	"halfcup/sampling"
)

// colony is what the bees and the brood of one colony do, day by day: those of
// its year, scaled by its own bees, with what happened to it. Mites are not in
// it; it is what they find.
type colony struct {
	start   sampling.Date
	logBees []float64 // adult bees at the start of the day, before what happens on it, on the log scale
	flows   []flow    // how mites on bees go into cells in the course of the day
	capped  []bool    // there is capped brood at the start of the day, before what happens on it
	jolts   []jolt    // what happenings did to mites at once
}

// jolt is what a happening leaves of the mites at the start of a day.
type jolt struct {
	day                   int
	onBees, worker, drone float64
}

const (
	// mostCellsPerBee is what bees can keep warm: the most on average that the
	// small colonies near Göttingen had (doi 10.5281/zenodo.12515616).
	mostCellsPerBee = 2.7

	// brooding is how far back eggs matter: to the last drone that comes out.
	brooding = eggToDroneCapping + droneDays
)

// colony runs bees and brood from a day to another. Own bees, where the plan
// has them, scale the year so that the colony has as many on their day.
func (plan PathPlan) colony(start, last sampling.Date) colony {
	r := newBroodRun(plan, start, int(last-start)+1)
	if plan.AdultBees == 0 {
		return r.run(1)
	}
	on := int(plan.BeesOn - start)
	scale := 1.0
	var c colony
	for range 3 {
		c = r.run(scale)
		scale = min(max(scale*plan.AdultBees*math.Exp(-c.logBees[on]), leastScale), mostScale)
	}
	// What is left of the difference, or lies beyond such colonies.
	off := math.Log(plan.AdultBees) - c.logBees[on]
	for i := range c.logBees {
		c.logBees[i] = max(c.logBees[i]+off, math.Log(fewestBees))
	}
	return c
}

// fewestBees is as few as a run lets a colony have. One whose queen is gone for
// good dwindles to nothing by the model; one of which nobody wrote that she was
// let out of her cage does so on paper only, and no board can be read by two bees.
const fewestBees = 100

// leastScale and mostScale bound how far a colony is taken to be off an ordinary
// one all year round.
const leastScale, mostScale = 0.05, 4

// broodRun is what a colony's bees and brood are made from.
type broodRun struct {
	start      sampling.Date
	rates      Rates
	happenings []Happening // in order, with a day of the run
	bees       []float64   // an ordinary colony's at the start of the day
	cells      []Cells
	laying     []float64 // share of the eggs of a queen in full lay, by day, from brooding days before the start on
}

func newBroodRun(plan PathPlan, start sampling.Date, days int) broodRun {
	r := broodRun{start: start, rates: plan.Rates, bees: make([]float64, days), cells: make([]Cells, days), laying: make([]float64, days+brooding)}
	happenings := inOrder(plan.Happenings)
	for _, h := range happenings {
		if i := int(h.On - start); i >= 0 && i < days {
			r.happenings = append(r.happenings, h)
		}
	}
	curve := plan.Year.filled().curve
	for i := range days {
		at := plan.Year.day(start + sampling.Date(i))
		r.bees[i] = math.Exp(curve.logBees[at])
		r.cells[i] = Cells{curve.worker[at], curve.drone[at]}
	}
	for i := range r.laying {
		r.laying[i] = 1
	}
	for _, g := range gaps(happenings) {
		for i := max(0, int(g.from-start)+brooding); i < len(r.laying); i++ {
			r.laying[i] = min(r.laying[i], g.laying(start+sampling.Date(i-brooding)))
		}
	}
	return r
}

// run lets bees and brood of the colony go their way. Its bees are those of the
// year, times scale, times a share that a happening moves away from one. As
// bees die and young ones come out the share goes after that of the brood
// that comes out, a day's worth at a time.
func (r broodRun) run(scale float64) colony {
	days := len(r.bees)
	c := colony{start: r.start, logBees: make([]float64, days), flows: make([]flow, days), capped: make([]bool, days)}
	// eggs are those of a day, as a share of what the colony would lay without
	// happenings, from brooding days before the start on.
	eggs := make([]float64, days+brooding)
	for i := range brooding {
		eggs[i] = r.laying[i]
	}
	long := -days - brooding
	lastWorker, lastDrone := long, long // days on which mites last went into cells
	share, next := 1.0, 0
	for i := range days {
		bees := scale * r.bees[i]
		c.logBees[i] = math.Log(share * bees)
		c.capped[i] = i-lastWorker <= workerDays || i-lastDrone <= droneDays
		for ; next < len(r.happenings) && int(r.happenings[next].On-r.start) == i; next++ {
			before := share
			j := r.happenings[next].act(&share, bees, eggs[i:i+brooding])
			j.day = i
			if j.onBees *= share / before; j != (jolt{i, 1, 1, 1}) {
				c.jolts = append(c.jolts, j)
			}
			if j.worker == 0 {
				lastWorker = long
			}
			if j.drone == 0 {
				lastDrone = long
			}
		}
		now, like := i+brooding, broodOf(bees, r.bees[i])
		eggs[now] = r.laying[now] * broodOf(share*bees, r.bees[i]) / like
		cells := Cells{like * r.cells[i].Worker, like * r.cells[i].Drone}
		turnover := cells.Worker / workerDays / bees
		cells.Worker *= eggs[now-eggToCapping]
		cells.Drone *= eggs[now-eggToDroneCapping]
		if most := mostCellsPerBee * share * bees; cells.Worker > most {
			cells.Worker = most
		}
		if c.flows[i] = r.rates.into(cells, share*bees); c.flows[i].enter > 0 {
			if cells.Worker > 0 {
				lastWorker = i
			}
			if cells.Drone > 0 {
				lastDrone = i
			}
		}
		share += min(turnover, 1) * (eggs[now-eggToCapping-workerDays] - share)
		share = max(share, fewestBees/bees)
	}
	return c
}

// broodOf is the brood that so many bees raise, as a share of an ordinary
// colony's: more in proportion, but fewer raise more for each bee.
func broodOf(bees, ordinary float64) float64 {
	if by := bees / ordinary; by < 1 {
		return math.Pow(by, smallBroodPower)
	} else {
		return by
	}
}

// act changes the share of its bees that a colony has and the eggs of the last
// days as the happening does, and gives what it leaves of the mites.
func (h Happening) act(share *float64, bees float64, eggs []float64) jolt {
	times := func(by float64) {
		for i := range eggs {
			eggs[i] *= by
		}
	}
	j := jolt{onBees: 1, worker: 1, drone: 1}
	switch h.Kind {
	case Swarmed:
		*share *= 1 - swarmShare
	case Hived:
		times(0)
		*share = orElse(h.Bees, swarmBees) / bees
		j.worker, j.drone = 0, 0
	case Divided:
		part := orElse(h.Part, 0.5)
		times(part)
		*share *= part
		j.worker, j.drone = part, part
	case United:
		// The other colony is taken to be like this one.
		by := 1 + orElse(h.Bees, swarmBees)/(*share*bees)
		times(by)
		*share *= by
		j.worker, j.drone = by, by
	case DroneBroodRemoved:
		j.drone = 0
	}
	return j
}

func orElse(v, unknown float64) float64 {
	if v == 0 {
		return unknown
	}
	return v
}

// Figures of rates.csv that are wanted every day.
var (
	swarmShare = parameter("swarm_share")
	swarmBees  = parameter("swarm_bees")

	smallBroodPower = parameter("small_brood_power")

	invasionWorker = parameter("invasion_worker")
	invasionDrone  = parameter("invasion_drone")
	gramsPerBee    = parameter("grams_per_bee")
)

// into is how mites on so many bees go into cells in a day, by the law of Boot et
// al. 1994 and 1995 for the cells that are capped on it, which are one in
// twelve of the capped worker and one in fourteen of the capped drone cells.
func (r Rates) into(c Cells, bees float64) flow {
	if !c.enough() {
		return flow{mortality: r.MortalityBroodless}
	}
	grams := gramsPerBee * bees
	worker := invasionWorker * c.Worker / workerDays / grams
	drone := invasionDrone * c.Drone / droneDays / grams
	return flow{-math.Expm1(-worker - drone), drone / (worker + drone), r.Mortality}
}

// day lets a day of the colony pass for its mites.
func (c *colony) day(r Rates, m Mites, i int, kill Kill, arrivals float64) Mites {
	for _, j := range c.jolts {
		if j.day == i {
			m.OnBees *= j.onBees
			for k := range m.Worker {
				m.Worker[k] *= j.worker
			}
			for k := range m.Drone {
				m.Drone[k] *= j.drone
			}
		}
	}
	return m.day(r, c.flows[i], kill, arrivals)
}

// before is the state that the mites are taken to be in on the first day, for
// one on adult bees: the stable one of that day's brood.
func (c *colony) before(r Rates) Mites { return r.stable(c.flows[0]).State }
