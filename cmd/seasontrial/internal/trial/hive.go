package trial

import (
	"slices"

	"halfcup/sampling"
)

// courseRounds rounds of vapour, courseEvery days apart, are what every policy
// means by a treatment: they outlast the capped time of drone cells.
const (
	courseRounds = 4
	courseEvery  = 5
	courseDays   = (courseRounds - 1) * courseEvery // to the last round
)

// hive is a colony in the hands of a keeper: its mites, which treatments kill.
type hive struct {
	*colony
	day             int // the day that has begun
	onBees, inCells float64
	opening         []float64 // mites in the cells that open on each day to come
	fall            []float64 // mites that fell by themselves on the days that are over
	courses         []course
	hidden          []course // those that nobody wrote down
	beside          *hive    // the hive a count is mistaken for; nil for none
	slips           int      // slips of the pen that are over
}

// course is a treatment in rounds, and what each kills of the mites on bees.
type course struct {
	first            int
	onBrood, without float64
}

func (c *colony) hive() *hive {
	h := &hive{colony: c, onBees: c.start * c.bees[0], opening: make([]float64, len(c.bees)+cappedMost+1)}
	for before, enter := range c.before[:cappedMost] {
		h.cap(-1-before, h.onBees*enter)
	}
	for i, e := range c.events {
		if e.kind == unwritten {
			h.hidden = append(h.hidden, h.draw(e.day, h.source(forHidden, uint64(i))))
		}
	}
	return h
}

// cappedFor is the chance of a mite spending 11 to 14 days in a cell: 12 days
// and a little in worker cells, up to 14 in drone cells (Winston 1987, The
// Biology of the Honey Bee, from memory), with some spread between bees.
var cappedFor = map[int]float64{11: 0.2, 12: 0.4, 13: 0.25, 14: 0.15}

const cappedMost = 14

// cap puts mites that enter cells on a day, which may be past, into those that
// are still closed today.
func (h *hive) cap(day int, mites float64) {
	for days := cappedMost; days > 0; days-- {
		if on := day + days; on >= h.day {
			h.opening[on] += mites * cappedFor[days]
			h.inCells += mites * cappedFor[days]
		}
	}
}

// level is the true mites per bee, as a careful wash of many bees shows it.
func (h *hive) level() float64 { return h.onBees / h.bees[h.day] }

// treat begins a course today. What it kills differs from course to course.
func (h *hive) treat() {
	h.courses = append(h.courses, h.draw(h.day, h.source(forKill, uint64(len(h.courses)))))
}

// draw is a course that begins on a day.
func (h *hive) draw(day int, s source) course {
	failed := s.Float64() < h.of("kill_failure_chance")
	c := course{
		first:   day,
		onBrood: s.share(h.of("kill_brood_mean"), h.of("kill_brood_sd")),
		without: s.share(h.of("kill_none_mean"), h.of("kill_none_sd")),
	}
	if failed {
		c.onBrood = s.share(h.of("kill_failed_mean"), h.of("kill_failed_sd"))
		c.without = c.onBrood
	}
	return c
}

// round kills what a round of the course kills that is due today, if one is.
func (h *hive) round(c course) {
	age := h.day - c.first
	if age < 0 || age > courseDays || age%courseEvery != 0 {
		return
	}
	kill := c.onBrood
	if !h.brooding() && h.inCells < 1 {
		kill = c.without
	}
	h.onBees *= 1 - kill
}

// brooding reports whether there are cells for mites today.
func (h *hive) brooding() bool { return h.capped[h.day] > 0 }

// underTreatment reports whether a course is being given.
func (h *hive) underTreatment() bool {
	n := len(h.courses)
	return n > 0 && h.day <= h.courses[n-1].first+courseDays
}

// pass lets the day go by: rounds that are due, bees that leave with their
// mites, mites going into cells and coming out of them with their daughters,
// deaths, and arrivals.
func (h *hive) pass() {
	if n := len(h.courses); n > 0 {
		h.round(h.courses[n-1])
	}
	for _, c := range h.hidden {
		h.round(c)
	}
	h.onBees *= 1 - h.left[h.day]
	opening := h.opening[h.day]
	h.inCells -= opening
	room := max(0, 1-(h.onBees+h.inCells)/(h.of("crowding")*h.bees[h.day]))
	opening *= 1 + room*h.daughters[h.day]
	entering := h.onBees * h.enter[h.day]
	died := h.of("death_broodless") * h.onBees
	if h.brooding() {
		died = h.of("death_brood") * h.onBees
	}
	lost := h.of("death_emerging") * opening
	h.fall = append(h.fall, lost+died)
	h.onBees += opening - lost - entering - died + h.arrivals[h.day]
	h.day++
	h.cap(h.day-1, entering)
}

// count is how many mites a count made today shows. The same count of the same
// day shows the same to everyone; again tells further ones apart. A board must
// have lain on the days that are over.
func (h *hive) count(c sampling.Count, again int) int {
	if h.slipped() {
		return h.beside.seen(c, again)
	}
	return h.seen(c, again)
}

// slipped reports whether today's counts are the first after a slip of the pen.
func (h *hive) slipped() bool {
	if h.beside == nil {
		return false
	}
	due := 0
	for _, e := range h.events {
		if e.kind == slipOfPen && e.day <= h.day {
			due++
		}
	}
	return due > h.slips
}

// noted says that the counts of the day are over.
func (h *hive) noted() {
	for h.slipped() {
		h.slips++
	}
}

// seen is what a count made of this hive today shows.
func (h *hive) seen(c sampling.Count, again int) int {
	s := h.source(forCount, uint64(h.day), methodLabel(c.Method), uint64(again))
	if c.Method == sampling.Board {
		mean := 0.0
		for i := range int(c.DaysOnBoard()) {
			if d := h.day - 1 - i; d >= 0 {
				mean += h.fall[d] * s.gamma(h.of("board_day_cv"))
			}
		}
		return s.events(mean * h.board)
	}
	return s.events(h.inJar(s, c) * h.recovery(c.Method))
}

// inJar is the mites expected in a jar of scooped bees.
func (h *hive) inJar(s source, c sampling.Count) float64 {
	bees := float64(scoopedBees(c)) * h.of("scoop_full") * h.scoop * s.factor(h.of("scoop_cv"))
	frames := max(c.Frames, 1)
	g := 0.0
	for range frames {
		g += s.factor(h.frameCV) / float64(frames)
	}
	return bees * g * h.level()
}

// dry reports whether the bees of the yard are dry today.
func (h *hive) dry() bool {
	return newSource(h.seed, forWeather, uint64(h.yard), uint64(h.day)).Float64() < h.of("roll_dry_share")
}

// recovery is the share of the mites in a jar that a method brings down in this
// colony today.
func (h *hive) recovery(m sampling.Method) float64 {
	s := h.source(forRecovery, uint64(h.day), methodLabel(m))
	switch m {
	case sampling.Roll:
		if h.dry() {
			return s.share(h.of("roll_dry_mean"), h.of("roll_dry_sd"))
		}
		return s.share(h.of("roll_damp_mean"), h.of("roll_damp_sd"))
	case sampling.CO2:
		return s.share(h.of("co2_mean"), h.of("co2_sd"))
	}
	return h.of("wash_found")
}

// pair is a roll and the wash of the very same bees after it.
func (h *hive) pair(roll, wash sampling.Count) (sampling.Count, sampling.Count) {
	s := h.source(forPair, uint64(h.day))
	jar := s.events(h.inJar(s, roll))
	roll.Mites = s.thinned(jar, h.recovery(sampling.Roll))
	wash.Mites = jar - roll.Mites
	return roll, wash
}

// source is a stream of this colony's own.
func (c *colony) source(labels ...uint64) source {
	return newSource(c.seed, append([]uint64{labels[0], uint64(c.number)}, labels[1:]...)...)
}

func methodLabel(m sampling.Method) uint64 {
	return uint64(slices.Index(sampling.Methods(), m))
}
