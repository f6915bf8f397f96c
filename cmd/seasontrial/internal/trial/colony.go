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
	forEvents
	forHidden
	forForget
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

	bees      []float64 // adult bees
	capped    []float64 // capped worker cells
	enter     []float64 // share of the mites on bees that enter a cell that day
	daughters []float64 // grown daughters of each mite whose cell opens that day, before crowding
	arrivals  []float64 // mites that come in that day
	left      []float64 // share of the adult bees that leaves that day for good
	before    []float64 // enter on the days before the season, the last of them first
	events    []event
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
	own := s.factor(f.of("daughters_cv"))
	invasion := s.factor(f.of("invasion_cv"))
	c.arrivals = arrivals(f, s, days)
	c.events = unrecorded(f, newSource(seed, forEvents, uint64(number)), days)
	c.left = make([]float64, days)
	c.suffer(&n)
	n.lay(days)

	weeks := newWobble(f, newSource(seed, forDays, uint64(number)))
	for day := -nestDays; day < days; day++ {
		capped := n.capped(day)
		worker, drone := f.of("invasion_worker")*capped, f.of("invasion_drone")*n.drones(day)*capped
		grams := n.bees() * f.of("grams_per_bee") * f.of("capped_days")
		enter := -math.Expm1(-invasion * (worker + drone) / grams)
		if day < 0 {
			c.before = append([]float64{enter}, c.before...)
		} else {
			inDrones := 0.0
			if drone > 0 {
				inDrones = drone / (worker + drone)
			}
			daughters := (1-inDrones)*f.of("daughters_worker") + inDrones*f.of("daughters_drone")
			c.bees = append(c.bees, n.bees())
			c.capped = append(c.capped, capped)
			c.enter = append(c.enter, enter)
			c.daughters = append(c.daughters, own*weeks.next()*daughters)
			n.leave(c.left[day])
		}
		n.pass(day)
	}
	return c
}

// suffer lets the events of a colony act on its queen, its bees and what comes
// in. Those that act on mites and counts wait for the hive.
func (c *colony) suffer(n *nest) {
	for i, e := range c.events {
		switch e.kind {
		case swarm:
			c.left[e.day] = c.of("swarm_share")
			n.breaks = append(n.breaks, e.day)
		case robbing:
			s := newSource(c.seed, forHidden, uint64(c.number), uint64(i))
			perDay := c.of("burst_per_day") * s.spread(c.of("burst_log_sd"))
			for day := e.day; day < min(e.day+int(c.of("burst_days")), len(c.arrivals)); day++ {
				c.arrivals[day] += perDay
			}
		}
	}
}

// nest is a colony's queen and the life of its bees. Eggs are sealed on the
// ninth day and give a bee on the twenty-first (Winston 1987, The Biology of the
// Honey Bee). Bees that emerge late in the year are winter bees, which live for
// months; in spring they wear out.
type nest struct {
	figures
	laying, peakDay, droneCells float64
	life                        float64
	breaks                      []int     // days on which a queen stopped laying
	eggs                        []float64 // that become capped cells, from nestDays + toBee days before the season on
	summer, winter              float64
}

const fromEgg, toBee = 9, 21 // days to the sealing of a cell and to its bee

// nestDays is how long before the season a nest begins: in the middle of
// November, when all bees are winter bees.
var nestDays = int(firstDay - sampling.Day(firstYear-1, time.November, 15))

func newNest(f figures, s source) nest {
	n := nest{
		figures:    f,
		laying:     f.of("laying_peak") * s.factor(f.of("laying_peak_cv")),
		peakDay:    f.of("laying_peak_day") + f.of("laying_peak_day_sd")*s.NormFloat64(),
		droneCells: f.of("drone_cells") * s.factor(f.of("drone_cells_cv")),
		winter:     f.of("bees_winter") * s.factor(f.of("bees_winter_cv")),
		life:       f.of("bee_life") * s.factor(f.of("bee_life_cv")),
	}
	chance, day := s.Float64(), 120+91*s.Float64() // in May, June or July
	if chance < f.of("queen_break_chance") {
		n.breaks = append(n.breaks, int(day-dayOfYear(0)))
	}
	return n
}

// lay makes out the eggs of all days, once all breaks are known.
func (n *nest) lay(days int) {
	for day := -nestDays - toBee; day < days; day++ {
		n.eggs = append(n.eggs, n.laid(day)*n.of("sealed"))
	}
}

// sealed is the eggs of a day that become capped cells.
func (n *nest) sealed(day int) float64 { return n.eggs[day+nestDays+toBee] }

// laid is the eggs a queen lays on a day: slowly more to the peak, slowly less
// after it, and an end in autumn; less than a share of the most is none.
func (n *nest) laid(day int) float64 {
	for _, from := range n.breaks {
		if day >= from && day < from+int(n.of("queen_break_days")) {
			return 0
		}
	}
	t := math.Mod(dayOfYear(day)+yearDays, yearDays)
	most := 0.0
	for _, x := range []float64{t - n.peakDay, t - n.peakDay - yearDays} {
		width := n.of("laying_rise_days")
		if x > 0 {
			width = n.of("laying_fall_days")
		}
		most = max(most, math.Exp(-x*x/(2*width*width)))
	}
	if t > n.peakDay {
		most *= ramp(n.of("laying_stop_day")-t, n.of("laying_stop_days"))
	}
	if most < n.of("laying_least") {
		most = 0
	}
	return n.laying * max(most, n.of("laying_winter"))
}

// ramp rises from 0 to 1 round 0.
func ramp(x, width float64) float64 { return 1 / (1 + math.Exp(-x/width)) }

// capped is the capped worker cells on a day.
func (n *nest) capped(day int) float64 {
	cells := 0.0
	for age := fromEgg; age < toBee; age++ {
		cells += n.sealed(day - age)
	}
	return cells
}

// drones is the drone cells for each worker cell on a day.
func (n *nest) drones(day int) float64 {
	t := math.Mod(dayOfYear(day)+yearDays, yearDays)
	if t < n.of("drone_first_day") || t > n.of("drone_last_day") {
		return 0
	}
	return n.droneCells
}

func (n *nest) bees() float64 { return n.summer + n.winter }

func (n *nest) leave(share float64) {
	n.summer *= 1 - share
	n.winter *= 1 - share
}

// pass lets bees emerge and die.
func (n *nest) pass(day int) {
	const midsummer = 172
	t := math.Mod(dayOfYear(day)+yearDays, yearDays)
	born := n.sealed(day-toBee) * n.of("emerging")
	longLived := 0.0
	if t > midsummer {
		longLived = ramp(t-n.of("winter_bees_day"), n.of("winter_bees_days"))
	}
	n.summer += born*(1-longLived) - n.summer/n.life
	n.winter += born*longLived - n.winter*n.wear(t)
}

// wear is the share of the winter bees that die on a day of the year.
func (n *nest) wear(t float64) float64 {
	rested, worn := math.Log(1/n.of("bee_life_winter")), math.Log(1/n.of("bee_life_spring"))
	from, to := n.of("spring_from_day"), n.of("spring_to_day")
	part := 0.0
	if t < n.of("winter_bees_day") {
		part = min(1, max(0, (t-from)/(to-from)))
	}
	return math.Exp((1-part)*rested + part*worn)
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

// happening is a kind of thing that befalls a colony and is not written down.
type happening int

const (
	swarm      happening = iota // bees leave, and for three weeks there are no eggs
	robbing                     // mites come in
	unwritten                   // somebody treats
	slipOfPen                   // the next count written down is of the hive beside it
	happenings                  // how many kinds there are
)

// event is a happening on a day of the season.
type event struct {
	day  int
	kind happening
}

// unrecorded draws what befalls a colony and nobody writes down: the chance of
// none in so many days is (1 - event_month)^(days/30), whatever went before.
// Out of the swarming season a swarm is a slip of the pen.
func unrecorded(f figures, s source, days int) []event {
	const april20, august = 110, 212
	monthly := f.of("event_month")
	if monthly == 0 {
		return nil
	}
	var out []event
	for day := 0.0; ; {
		day += s.ExpFloat64() * 30 / -math.Log1p(-monthly)
		if int(day) >= days {
			return out
		}
		e := event{int(day), happening(s.IntN(int(happenings)))}
		if t := math.Mod(dayOfYear(e.day), yearDays); e.kind == swarm && (t < april20 || t >= august) {
			e.kind = slipOfPen
		}
		out = append(out, e)
	}
}
