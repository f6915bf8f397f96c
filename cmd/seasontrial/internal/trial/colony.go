package trial

import (
	"math"
	"time"

	"halfcup/sampling"
)

// The season begins a week before the first of April, of a year that is not a
// leap year, so that a board can lie before the first visit.
const (
	firstYear = 2026
	lead      = 7
	yearDays  = 365
)

var firstDay = visitDay(0) - lead

// visitDay is the day of a monthly visit: the first of a month, April for 0.
func visitDay(month int) sampling.Date {
	return sampling.Day(firstYear, time.April+time.Month(month), 1)
}

// dayOfYear is the day of its first year, from 0, that is so many days after
// the first day of the season; it goes on past the end of the year.
func dayOfYear(day int) float64 {
	return float64(int(firstDay-sampling.Day(firstYear, time.January, 1)) + day)
}

// The purposes of the streams of random numbers.
const (
	forYard uint64 = iota
	forColony
	forDays
	forCount
	forRecovery
	forWeather
	forPair
	forKill
)

// yard is what the colonies of one yard share.
type yard struct {
	number int
	start  float64 // log of the level on the first day, against other yards
	board  float64 // log of what boards catch here
	scoop  float64 // how full the keeper's scoop is
}

func newYard(f figures, seed uint64, number int) yard {
	s := newSource(seed, forYard, uint64(number))
	return yard{
		number: number,
		start:  f.of("start_yard_log_sd") * s.NormFloat64(),
		board:  f.of("board_yard_log_sd") * s.NormFloat64(),
		scoop:  s.factor(f.of("scoop_crew_cv")),
	}
}

// colony is one colony's year as far as nobody can change it: its bees, its
// brood, how its mites breed and what comes in from outside. Days count from
// the first of the season.
type colony struct {
	figures
	seed         uint64
	yard, number int

	start   float64 // mites per bee on the first day
	frameCV float64
	board   float64 // what its board catches, against the middle board
	scoop   float64

	bees     []float64 // adult bees
	brooding []bool
	enter    []float64 // share of the mites on bees that enter a cell that day
	births   []float64 // new mites for each that comes out of a cell that day, before crowding
	arrivals []float64 // mites that come in that day
}

func newColony(f figures, seed uint64, y yard, number, days int) *colony {
	s := newSource(seed, forColony, uint64(number))
	c := &colony{
		figures: f, seed: seed, yard: y.number, number: number,
		start:   f.of("start_median") / 100 * math.Exp(y.start) * s.spread(f.of("start_colony_log_sd")),
		frameCV: f.of("frame_cv_low") + (f.of("frame_cv_high")-f.of("frame_cv_low"))*s.Float64(),
		board:   f.of("board_share") * math.Exp(y.board) * s.spread(f.of("board_colony_log_sd")),
		scoop:   y.scoop,
	}
	n := newNest(f, s)
	growth := max(0.005, f.of("growth_mean")+f.of("growth_sd")*s.NormFloat64())
	invasion := s.factor(f.of("invasion_cv"))
	bees := n.startBees
	wobble := newWobble(f, newSource(seed, forDays, uint64(number)))
	for day := range days {
		brood := n.brood(day)
		drones := n.drones(day) * brood
		grams := bees * f.of("grams_per_bee") * f.of("capped_days")
		worker, drone := f.of("invasion_worker")*brood/grams, f.of("invasion_drone")*drones/grams
		droneShare := 0.0
		if drone > 0 {
			droneShare = drone / (worker + drone)
		}
		c.bees = append(c.bees, bees)
		c.brooding = append(c.brooding, brood > 0)
		c.enter = append(c.enter, -math.Expm1(-invasion*(worker+drone)))
		c.births = append(c.births, growth*f.of("capped_days")/f.of("brood_share")*(1+f.of("growth_by_drones")*droneShare)*wobble.next())
		bees += brood/f.of("capped_days")*f.of("emerging") - bees*n.deaths(day)
	}
	c.arrivals = arrivals(f, s, days)
	return c
}

// nest is a colony's brood and the life of its bees.
type nest struct {
	figures
	peak, peakDay, rise, fall float64
	droneCells                float64
	breakDay, breakDays       float64 // breakDay below 0: none
	startBees, life           float64
}

func newNest(f figures, s source) nest {
	n := nest{
		figures: f,
		peak:    f.of("brood_peak") * s.factor(f.of("brood_peak_cv")),
		peakDay: f.of("brood_peak_day") + f.of("brood_peak_day_sd")*s.NormFloat64(),
		rise:    f.of("brood_rise_days"), fall: f.of("brood_fall_days"),
		droneCells: f.of("drone_cells") * s.factor(f.of("drone_cells_cv")),
		startBees:  f.of("bees_start") * s.factor(f.of("bees_start_cv")),
		life:       f.of("bee_life") * s.factor(f.of("bee_life_cv")),
		breakDays:  f.of("queen_break_days"),
		breakDay:   -yearDays,
	}
	chance, day := s.Float64(), 120+91*s.Float64() // in May, June or July
	if chance < f.of("queen_break_chance") {
		n.breakDay = day
	}
	return n
}

// brood is the capped worker cells on a day: a bell over the year, lopsided
// and cut off where there is next to none, less the eggs of a queen who was
// not there. Cells are capped from 9 to 21 days after the egg.
func (n nest) brood(day int) float64 {
	t := dayOfYear(day)
	most := 0.0
	for _, x := range []float64{t - n.peakDay, t - n.peakDay - yearDays} {
		width := n.rise
		if x > 0 {
			width = n.fall
		}
		most = max(most, math.Exp(-x*x/(2*width*width)))
	}
	if most < n.of("brood_least") {
		return 0
	}
	const fromEgg, toBee = 9, 21
	missing := min(t-fromEgg, n.breakDay+n.breakDays) - max(t-toBee, n.breakDay)
	return n.peak * most * (1 - max(0, missing)/(toBee-fromEgg))
}

// drones is the drone cells for each worker cell on a day.
func (n nest) drones(day int) float64 {
	if math.Mod(dayOfYear(day), yearDays) > n.of("drone_last_day") {
		return 0
	}
	return n.droneCells
}

// deaths is the share of the adult bees that die on a day. From the end
// of August long-lived winter bees take the place of the summer bees; early in
// November they have, and from March to April it is the other way round.
func (n nest) deaths(day int) float64 {
	const august, october, march, april = 243, 310, 60, 90
	t := math.Mod(dayOfYear(day), yearDays)
	summer, winter := 1/n.life, 1/n.of("bee_life_winter")
	part := 0.0 // of winter bees
	switch {
	case t < march || t > october:
		part = 1
	case t < april:
		part = (april - t) / (april - march)
	case t > august:
		part = (t - august) / (october - august)
	}
	return math.Exp((1-part)*math.Log(summer) + part*math.Log(winter))
}

// wobble is the good and bad weeks of a colony: a factor round 1 that keeps
// its way for some days.
type wobble struct {
	source
	sd, keep, z float64
}

func newWobble(f figures, s source) *wobble {
	return &wobble{s, f.of("growth_wobble_sd"), math.Exp(-1 / f.of("growth_wobble_days")), s.NormFloat64()}
}

func (w *wobble) next() float64 {
	now := max(0, 1+w.sd*w.z)
	w.z = w.keep*w.z + math.Sqrt(1-w.keep*w.keep)*w.NormFloat64()
	return now
}

// arrivals is the mites that come in day by day: few in spring, more from
// August to October, and perhaps a burst when a neighbour collapses.
func arrivals(f figures, s source, days int) []float64 {
	const august, september, november = 212, 258, 304
	out := make([]float64, days)
	own := s.spread(f.of("arrivals_log_sd"))
	chance, begins, size := s.Float64(), august+10+(september-august)*s.Float64(), s.spread(f.of("burst_log_sd"))
	for day := range out {
		t := math.Mod(dayOfYear(day), yearDays)
		switch {
		case t < 60 || t >= november: // bees do not fly far
		case t < august:
			out[day] = own * f.of("arrivals_spring")
		default:
			out[day] = own * f.of("arrivals_late")
		}
		if chance < f.of("burst_chance") && t >= begins && t < begins+f.of("burst_days") {
			out[day] += size * f.of("burst_per_day")
		}
	}
	return out
}
