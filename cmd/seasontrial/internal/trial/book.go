package trial

import (
	"math"
	"time"

	"halfcup/sampling"
)

// wrongBy is how far a colony must be past the line for a decision to count as
// a mistake: a third. Nearer to it both choices cost about the same.
const wrongBy = 4.0 / 3

// monthDays are the days of a month without treatment that count as one missed
// treatment, as they do in the stakes.
const monthDays = 30

// lostFrom is the level in mites per bee at which a colony counts as gone wrong
// at the end.
const lostFrom = 0.05

// book is a colony with what its keeper wrote down of it, and how the season
// went.
type book struct {
	*hive
	record
	next     int            // the day on which the advice wants to be asked again
	board    sampling.Count // the board that lies now
	boardOut int            // the day on which a board that lies now comes out; 0 for none
	wrote    bool           // whether a count was made today
	looks    int            // counts made one upon another, without a decision
	tally
	sayings
	memory memory // of the last question that had to be thought about
}

// record is what the keeper can know.
type record struct {
	counts  []sampling.Count
	courses []sampling.Date // the first days of treatments
}

// tally is how a season of a colony went, or the sum over several.
type tally struct {
	killed, minutes, treatments float64
	missed, needless            float64
	needlessAhead               float64
	regret                      float64
	overFive                    float64
}

func (t *tally) add(o tally) {
	t.killed += o.killed
	t.minutes += o.minutes
	t.treatments += o.treatments
	t.missed += o.missed
	t.needless += o.needless
	t.needlessAhead += o.needlessAhead
	t.regret += o.regret
	t.overFive += o.overFive
}

// statement is what was said of a colony, and how it was.
type statement struct {
	said float64 // chance of being over the line
	over bool    // whether it was
	held bool    // whether its level lay in the 90 % interval
}

// sayings are everything the program said of a colony, or of several, that can be
// held against the truth.
type sayings struct {
	statements []statement
	errors     []monthError
	forecasts  []forecast
}

func (s *sayings) join(o sayings) {
	s.statements = append(s.statements, o.statements...)
	s.errors = append(s.errors, o.errors...)
	s.forecasts = append(s.forecasts, o.forecasts...)
}

// monthError is how far the middle of what was expected of a counted colony,
// before it was counted again, lay from the truth on the log scale.
type monthError struct {
	month time.Month
	log   float64
}

// forecast is what was expected of a colony that was left alone.
type forecast struct {
	band
	day, horizon int // the day it is for, and how far ahead that was
	held         bool
}

// price is what mistakes cost on a day, in needless treatments. It is the
// trial's own and not that of the advice: near the line a mistake costs little
// either way, a factor of two past it costs in full, and a colony that is left
// over the line for a month costs as much as one missed treatment.
type price struct {
	act      float64 // the line, in mites per hundred bees
	missCost float64 // how many needless treatments a missed one is worth
}

func (p price) treating(level float64) float64 { return doublings(p.act / (100 * level)) }

// leaving is the price of a day.
func (p price) leaving(level float64) float64 {
	return p.missCost * doublings(100*level/p.act) / monthDays
}

func doublings(past float64) float64 { return min(1, max(0, math.Log2(past))) }

func (b *book) today() sampling.Date { return firstDay + sampling.Date(b.day) }

// look makes a count today and writes it down.
func (b *book) look(c sampling.Count) sampling.Count {
	c.Date, c.Weather = b.today(), b.said(c.Method)
	c.Mites = b.count(c, b.looks)
	b.looks++
	b.spend(c)
	b.counts = append(b.counts, c)
	b.wrote = true
	return c
}

// said is what the keeper writes down of the weather of a count.
func (b *book) said(m sampling.Method) sampling.Weather {
	switch {
	case m != sampling.Roll || b.of("weather_said") == 0:
		return ""
	case b.dry():
		return sampling.Dry
	}
	return sampling.Damp
}

// spend adds what a count takes.
func (b *book) spend(c sampling.Count) {
	killed, minutes := effort(c)
	b.killed += killed
	b.minutes += minutes
}

// begin starts a treatment today. lowest is the lowest line of the month to
// come. Not every keeper writes every treatment down.
func (b *book) begin(p price, lowest float64) {
	forgets := b.source(forForget, uint64(len(b.hive.courses))).Float64() < b.of("unwritten_chance")
	b.treat()
	if !forgets {
		b.record.courses = append(b.record.courses, b.today())
	}
	b.treatments++
	b.regret += p.treating(b.level())
	if 100*b.level() < p.act/wrongBy {
		b.needless++
	}
	if 100*b.level() < lowest/wrongBy {
		b.needlessAhead++
	}
}

// leave adds what the day costs a colony that is not under treatment.
func (b *book) leave(p price) {
	if b.underTreatment() {
		return
	}
	b.regret += p.leaving(b.level())
	if 100*b.level() >= p.act*wrongBy {
		b.missed += 1.0 / monthDays
	}
}

// passes lets the day go by.
func (b *book) passes() {
	if b.wrote {
		b.noted()
		b.wrote = false
	}
	for i, f := range b.forecasts {
		if f.day == b.day {
			b.forecasts[i].held = f.low <= b.level() && b.level() <= f.high
		}
	}
	b.pass()
}

// tell notes what was said of the colony today.
func (b *book) tell(o opinion, act float64) {
	level := b.level()
	b.statements = append(b.statements, statement{o.over, 100*level > act, o.low <= level && level <= o.high})
}

func (b *book) end() {
	if b.level() > lostFrom {
		b.overFive = 1
	}
}

// resting reports whether a course that began before today is still being
// given, or has not settled yet.
func (b *book) resting() bool {
	n := len(b.hive.courses)
	if n == 0 {
		return false
	}
	first := b.hive.courses[n-1].first
	return first < b.day && b.day < first+courseDays+settleDays
}

// mean is the tally divided by n.
func (t tally) mean(n int) Figures {
	d := float64(n)
	return Figures{
		Killed: t.killed / d, Minutes: t.minutes / d, Treatments: t.treatments / d,
		Missed: t.missed / d, Needless: t.needless / d, NeedlessAhead: t.needlessAhead / d, Regret: t.regret / d, OverFive: 100 * t.overFive / d,
	}
}
