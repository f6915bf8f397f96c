package fieldlog

import (
	"fmt"
	"slices"

	"halfcup/sampling"
)

// Written is the event with the names that its row has, where colonies were
// renamed since: what a file holds, and what two files are compared by.
func (e Event) Written() Event {
	if e.Named != "" {
		e.Colony, e.Named, e.id = e.Named, "", nil
	}
	if e.otherNamed != "" {
		e.Other, e.otherNamed = e.otherNamed, ""
	}
	return e
}

// rename gives the rows of colonies that were renamed the names that these have
// now. A new name is that of all that the colony's rows tell up to the day of the
// change, so that an old one may go to another colony afterwards.
func (r *Record) rename() {
	r.formerly = nil
	for i := range r.Events {
		if e := &r.Events[i]; e.Named != "" || e.otherNamed != "" {
			*e = e.Written()
			e.id = r.identify(e.Yard, e.Colony)
		}
	}
	var changes []int
	for i, e := range r.Events {
		if e.Kind == Renamed && e.Gone == 0 {
			changes = append(changes, i)
		}
	}
	slices.SortStableFunc(changes, func(i, j int) int { return int(r.Events[i].Date - r.Events[j].Date) })
	r.formerly = map[Colony]Event{}
	for _, at := range changes {
		change := r.Events[at]
		from := Colony{Of(change).Yard, SameName(change.Other)}
		for i := range r.Events {
			e := &r.Events[i]
			if e.Date > change.Date || SameName(e.Yard) != from.Yard || i == at {
				continue
			}
			if Of(*e) == from {
				if e.Named == "" {
					e.Named = e.Colony
				}
				e.Colony = change.Colony
				e.id = r.identify(e.Yard, e.Colony)
			}
			if e.Other != "" && e.Kind != Renamed && SameName(e.Other) == from.Name {
				if e.otherNamed == "" {
					e.otherNamed = e.Other
				}
				e.Other = change.Colony
			}
		}
		r.formerly[from] = change
		delete(r.formerly, Of(change)) // given back
	}
}

// Called is the name that a colony has now which had another, and since when; ok
// is false where none was renamed so.
func (r *Record) Called(yard, formerly string) (name string, since sampling.Date, ok bool) {
	for id, e := range r.formerly {
		if id.Name == SameName(formerly) && (yard == "" || id.Yard == SameName(yard)) {
			return e.Colony, e.Date, true
		}
	}
	return "", 0, false
}

// renamed looks at a row by which a colony was renamed.
func (s *season) renamed(e Event) {
	had, id := false, Of(e)
	for _, o := range s.Events {
		if !o.counts() || o.Line == e.Line || Of(o) != id {
			continue
		}
		if o.Named != "" && SameName(o.Named) == SameName(e.Other) || o.Kind == Renamed {
			had = true
		}
		if o.Named == "" && o.Kind != Renamed && o.Line < e.Line {
			s.fail(e, "colony", fmt.Sprintf("%s was a colony already %s, and the two cannot be told apart", e.Colony, on(o)), "take this row back with halfcup undo, and give a name that no colony of the yard has")
			return
		}
	}
	if !had {
		s.fail(e, "pair", fmt.Sprintf("no row up to that day tells of a colony %s", e.Other), "check the name and the date")
	}
}

// oldName warns of a row that gives a colony the name which it had before.
func (s *season) oldName(e Event) {
	change, ok := s.formerly[Of(e)]
	if !ok || e.Date <= change.Date {
		return
	}
	for _, o := range s.Events {
		if o.counts() && Of(o) == Of(e) && o.Kind.Begins() {
			return // a new colony
		}
	}
	s.warn(e, "colony", fmt.Sprintf("%s is called %s since %s, and this row makes a colony of its own", e.Colony, change.Colony, change.Date), "write "+change.Colony+"; or, if it is another colony, write the row in which it was hived or split off")
}
