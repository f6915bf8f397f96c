package decide

import (
	"cmp"
	"slices"

	"halfcup/sampling"
)

// DutyKind is what there is to do at a hive.
type DutyKind string

// The kinds, in the order in which a day's duties are done: what lies in a hive
// too long comes first, counting last but for what only waits.
const (
	DutyTakeOut   DutyKind = "take out"        // strips whose days are over
	DutyConfirm   DutyKind = "confirm"         // a plan whose day has passed: was it given?
	DutyRound     DutyKind = "next round"      // of a course that has begun
	DutyTreat     DutyKind = "treat"           // by the call
	DutyBoardOut  DutyKind = "board out"       // a board that lies too long tells nothing
	DutyQueenOut  DutyKind = "queen out"       // of her cage
	DutyDroneOut  DutyKind = "drone frame out" // before it hatches, or it breeds mites
	DutyCheck     DutyKind = "check"           // whether a course of weeks works at all
	DutyCount     DutyKind = "count"
	DutyTreatment DutyKind = "planned treatment"
	DutySupers    DutyKind = "supers over a treatment" // supers are due on while something lies in the hive
)

var dutyOrder = []DutyKind{DutyTakeOut, DutyConfirm, DutyRound, DutyTreat, DutyBoardOut, DutyQueenOut, DutyDroneOut, DutyCheck, DutyCount, DutyTreatment, DutySupers}

// Rank is the place of the kind in the order in which a day's duties are done.
func (k DutyKind) Rank() int { return slices.Index(dutyOrder, k) }

// Duty is something to do at one colony by a day.
type Duty struct {
	Kind      DutyKind
	Colony    string
	Day       sampling.Date
	Treatment sampling.Treatment // of a round, a course or a plan; else zero
	Round, Of int                // of a round
	Why       DueReason          // of a count
}

// Late is how many days ago a duty was due, 0 when it still is.
func (d Duty) Late(today sampling.Date) int { return max(0, int(today-d.Day)) }

// How long things may stay in a hive, in days.
const (
	boardStays = 3  // a board is read after three days; past 14 it tells nothing
	queenStays = 21 // in her cage, until the last worker cell capped before has opened (Büchler et al. 2020, J Apic Res 59:764-773, have 25 days)
	droneStays = 21 // a frame of drone brood, before the drones hatch on day 24 (common practice)
)

// Duties is what there is to do at the colony from the day of the standing on,
// and what is late, in the order in which it is due. Only the first of the
// counts that will be made is among them: the others follow from what it shows.
func (s Standing) Duties() []Duty {
	var out []Duty
	add := func(d Duty) {
		d.Colony = s.Colony
		out = append(out, d)
	}
	for _, c := range s.now.History.Courses(s.Day) {
		for i, on := range c.Rounds {
			switch {
			case on < s.Day || on == s.Day && on <= c.Given:
			case i == 0:
				add(Duty{Kind: DutyTreatment, Day: on, Treatment: c.Treatment, Round: 1, Of: len(c.Rounds)})
			case !c.Planned() && c.First <= s.Day:
				add(Duty{Kind: DutyRound, Day: on, Treatment: c.Treatment, Round: i + 1, Of: len(c.Rounds)})
			}
		}
		switch c.State(s.Day, s.countDays()) {
		case CourseRunning, CourseTakeOut:
			if c.lies() {
				add(Duty{Kind: DutyTakeOut, Day: c.OutDue(), Treatment: c.Treatment})
			}
		}
		if on := s.now.Supers.nextOn(s.Day - 1); !on.IsZero() && c.lies() && c.TakenOut.IsZero() && c.First < on && on < c.OutDue() {
			add(Duty{Kind: DutySupers, Day: on, Treatment: c.Treatment})
		}
	}
	s.unconfirmed(add)
	if s.Call.Treats() {
		add(Duty{Kind: DutyTreat, Day: max(s.Day, s.TreatFrom)})
	}
	in := s.now.inHive
	for _, lies := range []struct {
		since sampling.Date
		stays sampling.Date
		kind  DutyKind
	}{{in.Board, boardStays, DutyBoardOut}, {in.QueenCaged, queenStays, DutyQueenOut}, {in.DroneFrame, droneStays, DutyDroneOut}} {
		if !lies.since.IsZero() && lies.since <= s.Day {
			add(Duty{Kind: lies.kind, Day: lies.since + lies.stays})
		}
	}
	kind := DutyCount
	if s.DueFor == DueCheck {
		kind = DutyCheck
	}
	add(Duty{Kind: kind, Day: s.Due, Why: s.DueFor})
	slices.SortStableFunc(out, func(a, b Duty) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Kind.Rank(), b.Kind.Rank()))
	})
	return out
}

// unconfirmed are the plans whose day has passed and that nobody confirmed: a
// round of a course that has begun, or a treatment of which nobody wrote
// whether it was given.
func (s Standing) unconfirmed(add func(Duty)) {
	missed := Unconfirmed(s.now.History.Treatments, s.Day)
	if len(missed) == 0 {
		return
	}
	all := Courses(s.now.History.Treatments, s.now.History.Ends...)
	for _, t := range missed {
		d := Duty{Kind: DutyConfirm, Day: t.On, Treatment: t.Treatment}
		for _, c := range all {
			if c.Treatment.Slug == t.Treatment.Slug && !c.Planned() && c.First < t.On && t.On <= c.Last {
				d.Kind, d.Round, d.Of = DutyRound, slices.Index(c.Rounds, t.On)+1, len(c.Rounds)
			}
		}
		add(d)
	}
}

// countDays are the days on which the colony was counted.
func (s Standing) countDays() []sampling.Date { return s.now.countDays() }

func (s Situation) countDays() []sampling.Date {
	var out []sampling.Date
	for _, c := range s.History.Counts {
		if c.Date <= s.State.Day {
			out = append(out, c.Date)
		}
	}
	return out
}

// InHive is what was put into a hive for a time and not yet written to have
// come out: the day it went in, zero when there is nothing of the kind.
type InHive struct{ Board, QueenCaged, DroneFrame sampling.Date }
