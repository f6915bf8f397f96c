package decide

import (
	"time"

	"halfcup/sampling"
)

// Supers is a time with honey supers on, from the day On to the day before Off.
// A zero Off says that nobody knows when they come off.
type Supers struct{ On, Off sampling.Date }

func (s Supers) holds(d sampling.Date) bool {
	return s.On <= d && (s.Off.IsZero() || d < s.Off)
}

// SupersState is whether honey supers are on a hive.
type SupersState string

// The states. Nobody wrote anything down: they are unknown, and at a time when
// supers are usually on that makes what may be given conditional.
const (
	SupersOn      SupersState = "on"
	SupersOff     SupersState = "off"
	SupersUnknown SupersState = "unknown"
)

// SupersPlan is all that is known of the supers of a colony: as recorded, as
// planned, or as the beekeeper has them every year.
type SupersPlan struct {
	Times []Supers // by day; empty with Known for a hive that gets none
	Known bool     // whether anybody said anything
}

// Overridden is the plan with what was said of one day in place of the rest.
func (p SupersPlan) Overridden(day sampling.Date, on bool) SupersPlan {
	out := SupersPlan{Known: true}
	for _, t := range p.Times {
		if t.On > day {
			out.Times = append(out.Times, t)
		}
	}
	if on {
		now := Supers{On: day}
		for _, t := range p.Times {
			if t.holds(day) {
				now = t
			}
		}
		if now.Off.IsZero() {
			out.Times = nil // nothing later can be on while these never come off
		}
		out.Times = append([]Supers{now}, out.Times...)
	}
	return out
}

// On is the state of a day.
func (p SupersPlan) On(d sampling.Date) SupersState {
	if !p.Known {
		return SupersUnknown
	}
	for _, t := range p.Times {
		if t.holds(d) {
			return SupersOn
		}
	}
	return SupersOff
}

// nextOn is the first day after d on which supers go on, zero when none do.
func (p SupersPlan) nextOn(d sampling.Date) sampling.Date {
	return p.next(d, func(t Supers) sampling.Date { return t.On })
}

// nextOff is the first day after d on which supers come off, zero when nobody
// knows of any.
func (p SupersPlan) nextOff(d sampling.Date) sampling.Date {
	return p.next(d, func(t Supers) sampling.Date { return t.Off })
}

// next is the first of some days after d, one of each time, zero when none is.
func (p SupersPlan) next(d sampling.Date, of func(Supers) sampling.Date) sampling.Date {
	var next sampling.Date
	for _, t := range p.Times {
		if on := of(t); on > d && (next.IsZero() || on < next) {
			next = on
		}
	}
	return next
}

// Overlap is the number of the days from first to the day before end on which
// supers are known to be on: a treatment that lies in the hive so long would
// lie under them.
func (p SupersPlan) Overlap(first, end sampling.Date) int {
	days := 0
	for d := first; d < end; d++ {
		if p.On(d) == SupersOn {
			days++
		}
	}
	return days
}

// usualSupers reports whether a day lies at a time of the year at which honey
// supers are usually on.
func (y Year) usualSupers(d sampling.Date) bool { return y.between(d, time.May, 1, time.July, 31) }
