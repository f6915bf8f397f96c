package decide

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"halfcup/sampling"
)

// Alarms says that the last count is not what the record leads to.
type Alarms struct {
	// Rise and Fall are the chances, 0 to 1, of so high and of so low a count
	// as the last, had nothing happened since the one before that is not in the
	// record; 1 when there was none before.
	Rise, Fall float64

	Jump bool // mites rose faster than they breed, and to where it matters
	Drop bool // mites fell, and no treatment is in the record that explains it
}

// Alarms looks at the last day of counts, with the watch line of that day in
// mites per hundred bees. Where several counts were made that day, the chance
// is that of the rarest, times their number. Errors come from the counts.
//
// No jump is called when its cause is an ordinary one: within five weeks of a
// split, a swarm or a break in the brood, and from late October, when the last
// brood brings its mites out on to the bees.
func (s State) Alarms(watch float64) (Alarms, error) {
	out := Alarms{Rise: 1, Fall: 1}
	for _, c := range s.last.counts {
		p, err := s.history.Assumptions.Foresee(s.last.expected, nil, c)
		if err != nil {
			return out, err
		}
		n := float64(len(s.last.counts))
		out.Rise = math.Min(out.Rise, n*p.Chance(c.Mites, true))
		out.Fall = math.Min(out.Fall, n*p.Chance(c.Mites, false))
	}
	counted := s.Known
	if s.from < s.Day {
		counted = s.base.density()
	}
	out.Jump = out.Rise < parameter("jump_chance") && counted.Over(watch/100) > 0.5 && !s.last.quiet
	out.Drop = out.Fall < parameter("drop_chance")
	return out, nil
}

// quiet reports whether a rise up to a day has an ordinary cause.
func (h History) quiet(day sampling.Date) bool {
	lately := day - sampling.Date(parameter("jump_quiet"))
	for _, on := range h.Splits {
		if on >= lately && on <= day {
			return true
		}
	}
	for _, g := range gaps(inOrder(h.Happenings)) {
		if g.from <= day && (g.to.IsZero() || g.to+eggToCapping >= lately) {
			return true
		}
	}
	for _, e := range h.Happenings {
		if (e.Kind == Hived || e.Kind == Divided || e.Kind == United) && e.On >= lately && e.On <= day {
			return true
		}
	}
	d := h.Year.northern(day)
	year := d.Time().Year()
	return d >= sampling.Day(year, time.October, 24) || d < sampling.Day(year, time.March, 1)
}

// YardAlarm reports whether so many colonies with a jump, of those counted in
// three weeks, are more than chance brings.
func YardAlarm(jumps, counted int) bool {
	return tooMany(jumps, counted, parameter("jump_chance"))
}

// YardDrop is YardAlarm for drops.
func YardDrop(drops, counted int) bool {
	return tooMany(drops, counted, parameter("drop_chance"))
}

// tooMany is a test by the binomial law.
func tooMany(with, counted int, chance float64) bool {
	if with <= 0 || with > counted {
		return false
	}
	law := distuv.Binomial{N: float64(counted), P: chance}
	return law.Survival(float64(with-1)) < parameter("yard_alarm")
}

// LeansOnPrior reports whether what is known of the colony comes from colonies
// in general more than from its counts: whether the chance of being over a
// line, in mites per hundred bees, is more than ten points from what it is by
// the counts alone, all levels being as good before them; or whether the counts
// took less than a tenth off the spread, for then the two can only agree by
// accident. With no count it always is.
func (s State) LeansOnPrior(line float64) bool {
	if s.Counted.IsZero() {
		return true
	}
	l, err := s.Learnt()
	if err != nil {
		return true
	}
	alone, err := sampling.Flat().Times(l)
	if err != nil {
		return true
	}
	leans := parameter("prior_leans")
	if math.Abs(alone.Over(line/100)-s.Known.Over(line/100)) > leans {
		return true
	}
	_, before := s.Carried.LogMoments()
	_, after := s.Known.LogMoments()
	return after > (1-leans)*before
}
