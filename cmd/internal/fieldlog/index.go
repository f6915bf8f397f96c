package fieldlog

import (
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
}

// index finds the rows of each colony, and those that are written twice.
func (r *Record) index() {
	r.indexes = indexes{byColony: make(map[Colony][]int), byName: make(map[string][]int), parts: make(map[Colony][]int)}
	type day struct {
		date sampling.Date
		kind Kind
	}
	for i := range r.Events {
		e := &r.Events[i]
		id := Of(*e)
		if r.byColony[id] == nil {
			r.byName[id.Name] = append(r.byName[id.Name], len(r.colonies))
			r.colonies = append(r.colonies, Colony{e.Yard, e.Colony})
		}
		r.byColony[id] = append(r.byColony[id], i)
		if e.Kind == Split {
			parent := Colony{id.Yard, SameName(e.Other)}
			r.parts[parent] = append(r.parts[parent], i)
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

// says is all that an event says, in one spelling.
func (e Event) says() string {
	var b []byte
	c := e.Cells()
	for _, name := range columnNames[4:] {
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

// Once is the events without those that are written twice, in the order of the
// file: what an answer counts.
func (r *Record) Once() []Event {
	return slices.DeleteFunc(slices.Clone(r.Events), func(e Event) bool { return e.Double != 0 })
}

// Parts is the splits in which a part was taken from a colony, by day, each
// once.
func (r *Record) Parts(of Colony) []Event {
	return r.chosen(r.parts[Colony{SameName(of.Yard), SameName(of.Name)}])
}

// chosen are the events at some places, by day, each once.
func (r *Record) chosen(places []int) []Event {
	out := make([]Event, 0, len(places))
	for _, i := range places {
		if e := r.Events[i]; e.Double == 0 {
			out = append(out, e)
		}
	}
	return byDate(out)
}

// History is the events of one colony by day, each once. The yard may be left
// out when no two yards have a colony of that name. A colony that is not in the
// record, or that could be either of two, is a *ColonyError.
func (r *Record) History(yard, colony string) ([]Event, error) {
	id := Colony{SameName(yard), SameName(colony)}
	if yard != "" && r.byColony[id] != nil {
		return r.chosen(r.byColony[id]), nil
	}
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
		return nil, e
	case len(matches) > 1:
		var yards []string
		for _, c := range matches {
			yards = append(yards, fmt.Sprintf("%q", c.Yard))
		}
		return nil, &ColonyError{Yard: yard, Colony: colony, Yards: yards, Remedy: "say which with --yard: " + strings.Join(yards, ", ")}
	}
	return r.chosen(r.byColony[Colony{SameName(matches[0].Yard), id.Name}]), nil
}
