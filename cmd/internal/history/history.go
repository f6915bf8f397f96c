// Package history turns the rows of a record into the history of a colony that
// package decide reads.
package history

import (
	"fmt"
	"slices"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/decide"
	"halfcup/sampling"
)

// Colony is what a record tells of one colony.
type Colony struct {
	decide.Colony

	// Unread are the counts that say nothing of the colony as they stand in the
	// record, a sentence each.
	Unread []string
}

// Yard is every colony of a yard, in the order in which they first stand in
// the record, as Of gives them. One that bore a name before another did has the
// year it ended in behind it, and stands in front of that one.
func Yard(rec *fieldlog.Record, yard string, base decide.Colony, day sampling.Date) ([]Colony, error) {
	var out []Colony
	for _, k := range rec.Colonies() {
		if fieldlog.SameName(k.Yard) != fieldlog.SameName(yard) {
			continue
		}
		own, err := rec.History(k.Yard, k.Name)
		if err != nil {
			return nil, err
		}
		all := lives(own)
		for i, l := range all {
			if i > 0 && l.from > day {
				break
			}
			c, err := of(rec, l, base, day, day)
			if err != nil {
				return nil, err
			}
			if i+1 < len(all) && all[i+1].from <= day {
				c.Name += fmt.Sprintf(" (%d)", c.Gone.Time().Year())
			}
			out = append(out, c)
		}
	}
	return out, nil
}

// life is the rows of one of the colonies that bore a name, and the days on which
// it did: from is zero for the first of them, until for the last. Where a colony
// died or was united and a swarm or a part is then put into the hive, that is
// another colony; nothing of the first holds of it.
type life struct {
	events      []fieldlog.Event
	from, until sampling.Date
}

func lives(events []fieldlog.Event) []life {
	out := []life{{}}
	ended := false
	for _, e := range events {
		if ended && e.Kind.Begins() {
			out[len(out)-1].until = e.Date
			out = append(out, life{from: e.Date})
			ended = false
		}
		l := &out[len(out)-1]
		l.events = append(l.events, e)
		ended = ended || e.Kind.Ends()
	}
	return out
}

// holds reports whether a day is one of the life.
func (l life) holds(day sampling.Date) bool {
	return day >= l.from && (l.until.IsZero() || day < l.until)
}

// lifeOn is the life of a day.
func lifeOn(events []fieldlog.Event, day sampling.Date) life {
	all := lives(events)
	return all[max(0, slices.IndexFunc(all, func(l life) bool { return l.holds(day) }))]
}

// Of turns the events of one colony into all that is known to have happened to
// it, over what base says of every colony. Events after the day count only as
// plans. Where the record says nothing of supers, base does. Of several that bore
// the name it is that of the day.
func Of(rec *fieldlog.Record, yard, colony string, base decide.Colony, day sampling.Date) (Colony, error) {
	own, err := rec.History(yard, colony)
	if err != nil {
		return Colony{}, err
	}
	return of(rec, lifeOn(own, day), base, day, day)
}

// of is Of with the colonies that were joined to it up to another day: of one that
// was itself joined to another, those of the days before, so that a record in
// which two colonies are joined to each other ends.
func of(rec *fieldlog.Record, l life, base decide.Colony, day, came sampling.Date) (Colony, error) {
	own := l.events
	s := Colony{Colony: base}
	s.Name, s.Began, s.Since = own[0].Colony, own[0].Date, own[0].Date
	inherited := before(rec, own, nil)
	if len(inherited) > 0 {
		s.Began = min(s.Began, inherited[0].Date)
	}
	events := append(inherited, own...)
	s.Splits = slices.DeleteFunc(dividedOn(rec, events[len(events)-1], day), func(d sampling.Date) bool { return !l.holds(d) })
	for _, on := range s.Splits {
		s.Happenings = append(s.Happenings, decide.Happening{On: on, Kind: decide.Divided})
	}
	if err := s.join(rec, l, base, came); err != nil {
		return s, err
	}
	s.Supers = supers(happened(own, day), base.Supers)
	r := reading{Colony: &s, rec: rec, day: day, own: fieldlog.Of(own[0])}
	for _, e := range events {
		if err := r.event(e); err != nil {
			return s, err
		}
	}
	r.end()
	s.Hive = s.HiveOn(day)
	var counts []pairedCount
	for _, e := range events {
		if e.Kind != fieldlog.Count || e.Date > day {
			continue
		}
		c := s.CountOf(rec, e)
		if err := s.Assumptions.CheckCount(c); err != nil {
			s.Unread = append(s.Unread, fmt.Sprintf("%s:%d: this count is left out: %v.", rec.Path, e.Line, err))
			continue
		}
		counts = append(counts, pairedCount{c, e.Pair})
	}
	s.Counts = sameBees(counts)
	return s, nil
}

// join adds the colonies that were joined to this one up to a day, with what is
// known of them.
func (s *Colony) join(rec *fieldlog.Record, l life, base decide.Colony, day sampling.Date) error {
	for _, e := range rec.Came(fieldlog.Of(l.events[len(l.events)-1])) {
		if e.Date > day || !l.holds(e.Date) {
			continue
		}
		its, err := rec.History(e.Yard, e.Colony)
		if err != nil {
			return err
		}
		c, err := of(rec, lifeOn(its, e.Date), base, e.Date, e.Date-1)
		if err != nil {
			return err
		}
		h := decide.Happening{On: e.Date, Kind: decide.United, Came: &c.History}
		if c.BeesOn > 0 {
			h.Bees = c.AdultBees
		}
		s.Splits, s.Happenings = append(s.Splits, e.Date), append(s.Happenings, h)
	}
	return nil
}

// supers are the times with supers on that the colony's own rows tell of, and
// after the last of those what is usual. A part of a divided colony has none of
// its parent's.
func supers(own []fieldlog.Event, usual decide.SupersPlan) decide.SupersPlan {
	var out decide.SupersPlan
	var last sampling.Date
	for _, e := range own {
		switch e.Kind {
		case fieldlog.SupersOn:
			if n := len(out.Times); n == 0 || !out.Times[n-1].Off.IsZero() {
				out.Times = append(out.Times, decide.Supers{On: e.Date})
			}
		case fieldlog.SupersOff:
			if n := len(out.Times); n > 0 && out.Times[n-1].Off.IsZero() {
				out.Times[n-1].Off = e.Date
			}
		default:
			continue
		}
		last, out.Known = e.Date, true
	}
	if !out.Known {
		return usual
	}
	for _, t := range usual.Times {
		switch n := len(out.Times); {
		case t.On > last && (n == 0 || !out.Times[n-1].Off.IsZero()):
			out.Times = append(out.Times, t)
		case n > 0 && out.Times[n-1].Off.IsZero() && t.Off > out.Times[n-1].On && t.Off-out.Times[n-1].On < 240:
			out.Times[n-1].Off = t.Off // as every year
		}
	}
	return out
}

// before is what happened to the colony that a split was taken from, up to
// that day, and what happened before that: both parts carry what the whole had.
// Children are the colonies already on the way, so that a record in which two
// colonies come from each other ends.
func before(rec *fieldlog.Record, events []fieldlog.Event, children []fieldlog.Colony) []fieldlog.Event {
	i := slices.IndexFunc(events, func(e fieldlog.Event) bool { return e.Kind == fieldlog.Split && e.Other != "" })
	if i < 0 || slices.Contains(children, fieldlog.Of(events[i])) {
		return nil
	}
	split := events[i]
	parent, err := rec.History(split.Yard, split.Other)
	if err != nil {
		return nil // a colony bought in, or one that is not in this record
	}
	parent = slices.DeleteFunc(lifeOn(parent, split.Date).events, func(e fieldlog.Event) bool { return e.Date > split.Date })
	return append(before(rec, parent, append(children, fieldlog.Of(split))), parent...)
}

// dividedOn lists the days up to a day on which a part was taken from the
// colony of an event.
func dividedOn(rec *fieldlog.Record, of fieldlog.Event, day sampling.Date) []sampling.Date {
	var out []sampling.Date
	for _, e := range rec.Parts(fieldlog.Of(of)) {
		if e.Date <= day {
			out = append(out, e.Date)
		}
	}
	return out
}

// sameBees reads a roll and a wash of the same bees after it, which a pair
// label ties, as what they are: one careful wash that was counted in two goes.
// The wash alone would tell of bees that had been rid of most of their mites.
//
// A board that a label ties to a sample has told how boards read here. To let
// it tell of its colony as well would be to use it twice.
func sameBees(counts []pairedCount) []sampling.Count {
	var out []sampling.Count
	done := map[string]bool{}
	for _, c := range counts {
		if c.calibrates(counts) {
			continue
		}
		if c.pair == "" || c.Method.Kind() != sampling.BeeSample {
			out = append(out, c.Count)
			continue
		}
		if done[c.pair] {
			continue
		}
		var wash *sampling.Count
		mites, shaken := 0, false
		for _, d := range counts {
			if d.pair != c.pair || d.Date != c.Date || d.Method.Kind() != sampling.BeeSample {
				continue
			}
			mites += d.Mites
			if d.Method == sampling.Wash {
				wash = &d.Count
			} else {
				shaken = true
			}
		}
		if wash == nil || !shaken {
			out = append(out, c.Count)
			continue
		}
		done[c.pair] = true
		both := *wash
		both.Mites = mites
		out = append(out, both)
	}
	return out
}

type pairedCount struct {
	sampling.Count
	pair string
}

// calibrates reports whether c is a board with its sample among the counts.
func (c pairedCount) calibrates(counts []pairedCount) bool {
	return c.Method == sampling.Board && c.pair != "" && slices.ContainsFunc(counts, func(d pairedCount) bool {
		return d.pair == c.pair && d.Method.Kind() == sampling.BeeSample
	})
}

// CountOf is the count of an event with what the rest of the record adds to
// its reading: the treatment of a fall, the brood, the bees on the frames.
func (s Colony) CountOf(rec *fieldlog.Record, e fieldlog.Event) sampling.Count {
	c := *e.Count
	if c.Method.Kind() != sampling.Fall {
		return c
	}
	c.Hive.AdultBees, c.Hive.AdultBeesCV = adultBees(e)
	if c.Method == sampling.Knockdown {
		if t, ok := rec.TreatmentOf(e); ok {
			c.Treatment = t.Treatment
		}
	}
	return s.Over(c, e.Brood != fieldlog.BroodUnknown)
}

// adultBees is the number of adult bees a row tells of and how sure it is of
// it, 0 when it tells none.
func adultBees(e fieldlog.Event) (bees, cv float64) {
	if e.BeeFrames > 0 {
		return sampling.BeesOnFrames(e.BeeFrames)
	}
	return e.AdultBees, 0
}
