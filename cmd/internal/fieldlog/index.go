package fieldlog

import (
	"cmp"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"halfcup/internal/meant"
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

// tookFrom learns whether rows from a place on are marked or take back others.
// It reports whether any of them can change what becomes of a row before it.
func (r *Record) tookFrom(from int) (changes bool) {
	for i := from; i < len(r.Events); i++ {
		e := &r.Events[i]
		r.marked, r.took = r.marked || e.Mark != "", r.took || e.UndoOf != ""
		r.renames = r.renames || e.Kind == Renamed
	}
	return r.renames && from < len(r.Events) || slices.ContainsFunc(r.Events[from:], func(e Event) bool {
		return e.Mark != "" || e.UndoOf != "" || r.marked && e.Kind.Plannable() || r.took && e.ID != ""
	})
}

// index finds the rows of each colony, and those that are written twice. Where
// the events before a place are in the index already, it goes on from there.
func (r *Record) index(from int) {
	if from == 0 {
		r.takeBack()
		if r.renames {
			r.rename()
		}
		r.indexes = indexes{byColony: make(map[Colony][]int), byName: make(map[string][]int), parts: make(map[Colony][]int), came: make(map[Colony][]int)}
	} else { // that of the shorter record stays as it is
		r.indexes = indexes{slices.Clip(r.colonies), apart(r.byColony), apart(r.byName), apart(r.parts), apart(r.came)}
	}
	places := map[*identity]*[]int{} // of rows that are spelled alike
	all := map[Colony]*[]int{}
	for i := from; i < len(r.Events); i++ {
		e := &r.Events[i]
		if e.Gone != 0 || e.Kind == Undo {
			continue
		}
		id := e.id.Colony
		rows := places[e.id]
		if rows == nil {
			if rows = all[id]; rows == nil {
				its := r.byColony[id]
				rows, all[id] = &its, &its
			}
			places[e.id] = rows
		}
		if len(*rows) == 0 {
			r.byName[id.Name] = append(r.byName[id.Name], len(r.colonies))
			r.colonies = append(r.colonies, Colony{e.Yard, e.Colony})
		}
		*rows = append(*rows, i)
		switch other := (Colony{id.Yard, SameName(e.Other)}); e.Kind {
		case Split:
			r.parts[other] = append(r.parts[other], i)
		case United:
			r.came[other] = append(r.came[other], i)
		}
	}
	for id, rows := range all {
		r.byColony[id] = *rows
		r.findDoubles(*rows)
	}
}

// apart is places that can be added to without a change in those given.
func apart[K comparable](places map[K][]int) map[K][]int {
	out := maps.Clone(places)
	for k, v := range out {
		out[k] = slices.Clip(v)
	}
	return out
}

// findDoubles finds the rows of one colony that say the same as an earlier one.
func (r *Record) findDoubles(rows []int) {
	before := func(i, j int) int { return int(r.Events[i].Date - r.Events[j].Date) }
	if !slices.IsSortedFunc(rows, before) { // as most are
		rows = slices.Clone(rows)
		slices.SortStableFunc(rows, before)
	}
	for len(rows) > 0 {
		n := 1
		for n < len(rows) && r.Events[rows[n]].Date == r.Events[rows[0]].Date {
			n++
		}
		r.doublesOfDay(rows[:n])
		rows = rows[n:]
	}
}

func (r *Record) doublesOfDay(rows []int) {
	if len(rows) == 1 {
		r.Events[rows[0]].Double = 0
		return
	}
	type fact struct {
		kind Kind
		says string
	}
	of := map[Kind]int{}
	for _, i := range rows {
		of[r.Events[i].Kind]++
	}
	first := map[fact]int{} // lines
	for _, i := range rows {
		e := &r.Events[i]
		e.Double = 0
		if of[e.Kind] == 1 {
			continue
		}
		f := fact{e.Kind, e.says()}
		if line, twice := first[f]; twice {
			e.Double = line
		} else {
			first[f] = e.Line
		}
	}
}

// takeBack finds the rows that later rows of the file took back or took the
// place of. To take back such a row brings back what it took.
func (r *Record) takeBack() {
	for i := range r.Events {
		r.Events[i].Gone, r.Events[i].Double = 0, 0
	}
	if r.took {
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
	if r.marked {
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
	e = e.Written() // it may have been named by the key before it was renamed
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

// Ended is the day up to another on which the colony of a name died or was
// united, zero when it lives then: also where another was put into its hive since.
func (r *Record) Ended(of Colony, day sampling.Date) sampling.Date {
	end := sampling.Date(0)
	for _, e := range r.chosen(r.byColony[Colony{SameName(of.Yard), SameName(of.Name)}]) {
		switch {
		case e.Date > day:
		case e.Kind.Ends():
			end = e.Date
		case e.Kind.Begins():
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

// Came is the unions in which another colony was joined to a colony, by day, each
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
		if now, since, ok := r.Called(yard, colony); ok {
			e.Remedy = fmt.Sprintf("it is called %s since %s", now, since)
		} else if name := meant.Word(id.Name, names); SameName(name) != id.Name {
			e.Remedy = strings.TrimSpace(meant.Remedy(id.Name, names, "", e.Remedy))
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
