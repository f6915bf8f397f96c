package fieldlog

import (
	"cmp"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfcup/sampling"
)

// indexes find the rows of a colony without going through the record.
type indexes struct {
	colonies []Colony         // as they are written, in the order of the file
	byColony map[Colony][]int // events by identity, in the order of the file
	byName   map[string][]int // colonies by their name in one spelling
	parts    map[Colony][]int // splits by the identity of the parent
	came     map[Colony][]int // unions by the identity of the colony that stayed
}

// index finds the rows of each colony, and those that are written twice.
func (r *Record) index() {
	r.indexes = indexes{byColony: make(map[Colony][]int), byName: make(map[string][]int), parts: make(map[Colony][]int), came: make(map[Colony][]int)}
	type day struct {
		date sampling.Date
		kind Kind
	}
	r.takeBack()
	for i := range r.Events {
		e := &r.Events[i]
		if e.Gone != 0 || e.Kind == Undo {
			continue
		}
		id := Of(*e)
		if r.byColony[id] == nil {
			r.byName[id.Name] = append(r.byName[id.Name], len(r.colonies))
			r.colonies = append(r.colonies, Colony{e.Yard, e.Colony})
		}
		r.byColony[id] = append(r.byColony[id], i)
		switch other := (Colony{id.Yard, SameName(e.Other)}); e.Kind {
		case Split:
			r.parts[other] = append(r.parts[other], i)
		case United:
			r.came[other] = append(r.came[other], i)
		}
	}
	for _, rows := range r.byColony {
		first := make(map[day]int, len(rows)) // of that day; -1 once texts holds them
		var texts map[day]map[string]int      // lines by what they say
		for _, i := range rows {
			e := &r.Events[i]
			e.Double = 0
			d := day{e.Date, e.Kind}
			j, more := first[d]
			if !more {
				first[d] = i
				continue
			}
			if texts == nil {
				texts = map[day]map[string]int{}
			}
			if j >= 0 {
				texts[d] = map[string]int{r.Events[j].says(): r.Events[j].Line}
				first[d] = -1
			}
			text := e.says()
			if line, twice := texts[d][text]; twice {
				e.Double = line
			} else {
				texts[d][text] = e.Line
			}
		}
	}
}

// takeBack finds the rows that later rows of the file took back or took the
// place of. To take back such a row brings back what it took.
func (r *Record) takeBack() {
	marked, took := false, false
	for i := range r.Events {
		e := &r.Events[i]
		e.Gone = 0
		marked, took = marked || e.Mark != "", took || e.UndoOf != ""
	}
	if took {
		last := map[string]int{} // by key, the last row that stands
		target := map[int]int{}  // what a row took back
		before := map[int]int{}  // by row, the one of its key that stood before it
		ids := r.idCounts()
		for i := range r.Events {
			e := &r.Events[i]
			if e.UndoOf != "" {
				if j, ok := last[e.UndoOf]; ok {
					r.Events[j].Gone, target[i] = e.Line, j
					if k, ok := before[j]; ok {
						last[e.UndoOf] = k
					} else {
						delete(last, e.UndoOf)
					}
					if k, ok := target[j]; ok {
						r.Events[k].Gone = 0
						last[e.key(ids)], last[r.Events[k].key(ids)] = i, k
					}
				}
			}
			key := e.key(ids)
			if j, ok := last[key]; ok {
				before[i] = j
			}
			last[key] = i
		}
	}
	if marked {
		r.confirm()
	}
}

// confirm lets what was done take the place of what was planned for the same
// day.
func (r *Record) confirm() {
	type fact struct {
		Colony
		date      sampling.Date
		kind      Kind
		treatment sampling.TreatmentName
		brood     Brood
	}
	factOf := func(e Event) fact { return fact{Of(e), e.Date, e.Kind, e.Treatment, e.Brood} }
	rank := map[Mark]int{Planned: 0, "": 1, Done: 2}
	same := map[fact][]int{}
	for i, e := range r.Events {
		if e.Gone == 0 && e.Kind.Plannable() {
			same[factOf(e)] = append(same[factOf(e)], i)
		}
	}
	for _, of := range same {
		best := of[0]
		for _, i := range of {
			if rank[r.Events[i].Mark] > rank[r.Events[best].Mark] {
				best = i
			}
		}
		for _, i := range of {
			if rank[r.Events[i].Mark] < rank[r.Events[best].Mark] {
				r.Events[i].Gone = r.Events[best].Line
			}
		}
	}
}

// idCounts is how often each id stands in the record.
func (r *Record) idCounts() map[string]int {
	out := map[string]int{}
	for _, e := range r.Events {
		out[e.ID]++
	}
	return out
}

// Key names an event for the column undo_of: its id or, where it has none or
// shares it, a digest of what it says.
func (r *Record) Key(e Event) string { return e.key(r.idCounts()) }

// key is Key where it is known how often each id stands in the record.
func (e Event) key(ids map[string]int) string {
	if e.ID != "" && ids[e.ID] == 1 {
		return e.ID
	}
	id := Of(e)
	sum := digestOfRow(fmt.Appendf(nil, "%s %q %q %s %s", e.Date, id.Yard, id.Name, e.Kind, e.says()))
	return "~" + hex.EncodeToString(sum[:5])
}

// saying are the columns that say what happened, those of the day, the place
// and the writing apart.
var saying = []string{"method", "mites", "amount", "frames", "adult_bees", "brood", "active", "application", "pair", "note", "until", "mark", "weather", "undo_of"}

// says is all that an event says, in one spelling.
func (e Event) says() string {
	var b []byte
	c := e.Cells()
	for _, name := range saying {
		text := c[name]
		if name == "pair" {
			text = SameName(text)
		}
		b = append(strconv.AppendQuote(b, text), ' ')
	}
	return string(b)
}

// Colonies lists the colonies of the record in the order in which they first
// stand in it, under the names they have there.
func (r *Record) Colonies() []Colony { return slices.Clone(r.colonies) }

// Ended is the day on which a colony died or was united, zero while it lives.
func (r *Record) Ended(of Colony) sampling.Date {
	end := sampling.Date(0)
	for _, e := range r.chosen(r.byColony[Colony{SameName(of.Yard), SameName(of.Name)}]) {
		switch e.Kind {
		case Died, United:
			end = e.Date
		case Split, Hived:
			end = 0
		}
	}
	return end
}

// InStandOrder lists the colonies of a yard as they stand in it, by the last
// stand that their rows tell; those of which none is told come behind.
func (r *Record) InStandOrder(yard string) []Colony {
	type placed struct {
		Colony
		stand string
	}
	var out []placed
	for _, c := range r.colonies {
		if SameName(c.Yard) != SameName(yard) {
			continue
		}
		p := placed{Colony: c}
		for _, e := range r.chosen(r.byColony[Colony{SameName(c.Yard), SameName(c.Name)}]) {
			if e.Stand != "" {
				p.stand = e.Stand
			}
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(a, b placed) int {
		m, errA := strconv.ParseFloat(a.stand, 64)
		n, errB := strconv.ParseFloat(b.stand, 64)
		switch {
		case (a.stand == "") != (b.stand == ""):
			return strings.Compare(b.stand, a.stand)
		case errA == nil && errB == nil:
			return cmp.Compare(m, n)
		case (errA == nil) != (errB == nil):
			return cmp.Compare(b2i(errA != nil), b2i(errB != nil))
		}
		return strings.Compare(a.stand, b.stand)
	})
	colonies := make([]Colony, len(out))
	for i, p := range out {
		colonies[i] = p.Colony
	}
	return colonies
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Once is the events without those that are written twice or were taken back,
// in the order of the file: what an answer counts.
func (r *Record) Once() []Event {
	return slices.DeleteFunc(slices.Clone(r.Events), func(e Event) bool { return !e.counts() })
}

// Paired is the counts of Once that a label ties to another.
func (r *Record) Paired() []Event {
	var out []Event
	for i := range r.Events {
		if e := &r.Events[i]; e.Pair != "" && e.Kind == Count && e.counts() {
			out = append(out, *e)
		}
	}
	return out
}

// counts reports whether answers count the event.
func (e *Event) counts() bool { return e.Double == 0 && e.Gone == 0 && e.Kind != Undo }

// Parts is the splits in which a part was taken from a colony, by day, each
// once.
func (r *Record) Parts(of Colony) []Event {
	return r.chosen(r.parts[Colony{SameName(of.Yard), SameName(of.Name)}])
}

// Came is the unions in which another colony was put to a colony, by day, each
// once.
func (r *Record) Came(to Colony) []Event {
	return r.chosen(r.came[Colony{SameName(to.Yard), SameName(to.Name)}])
}

// chosen are the events at some places, by day, each once.
func (r *Record) chosen(places []int) []Event {
	out := make([]Event, 0, len(places))
	for _, i := range places {
		if e := r.Events[i]; e.counts() {
			out = append(out, e)
		}
	}
	return byDate(out)
}

// History is the events of one colony by day, each once. The yard may be left
// out when no two yards have a colony of that name. Errors are those of Find.
func (r *Record) History(yard, colony string) ([]Event, error) {
	id := Colony{SameName(yard), SameName(colony)}
	if yard == "" || r.byColony[id] == nil {
		c, err := r.Find(yard, colony)
		if err != nil {
			return nil, err
		}
		id.Yard = SameName(c.Yard)
	}
	return r.chosen(r.byColony[id]), nil
}

// Find is the colony of a name in a yard, or in whichever yard has it where
// none is said. One that is not in the record, or that could be either of two,
// is a *ColonyError.
func (r *Record) Find(yard, colony string) (Colony, error) {
	id := Colony{SameName(yard), SameName(colony)}
	var matches []Colony
	for _, i := range r.byName[id.Name] {
		if c := r.colonies[i]; yard == "" || SameName(c.Yard) == id.Yard {
			matches = append(matches, c)
		}
	}
	switch {
	case len(matches) == 0:
		e := &ColonyError{Yard: yard, Colony: colony, Remedy: "check the name, or write the first row of this colony with halfcup log add"}
		var names []string
		for _, c := range r.colonies {
			names = append(names, c.Name)
		}
		if near := sampling.Nearest(id.Name, names); near != "" && SameName(near) != id.Name {
			e.Remedy = fmt.Sprintf("did you mean %s?", near)
		}
		return Colony{}, e
	case len(matches) > 1:
		var yards []string
		for _, c := range matches {
			yards = append(yards, fmt.Sprintf("%q", c.Yard))
		}
		return Colony{}, &ColonyError{Yard: yard, Colony: colony, Yards: yards, Remedy: "say which with --yard: " + strings.Join(yards, ", ")}
	}
	return matches[0], nil
}

// SameFact reports whether two events tell the same thing, whatever their notes
// say and whoever wrote them.
func SameFact(a, b Event) bool {
	a.UndoOf, b.UndoOf = "", ""
	return sameFact(a, b)
}

// Digest names an event by what it says: its Key where it has no id.
func (e Event) Digest() string {
	e.ID = ""
	return e.key(nil)
}
