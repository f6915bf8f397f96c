// Package figures is the one table of figures that a beekeeper can type: what
// each is, its unit, how far it may go, and where it can be set. Flags, settings
// and the record all read their bounds here, so that none takes what another
// refuses.
package figures

import (
	"math"
	"strconv"
	"strings"

	"halfcup/cmd/internal/show"
)

// Figure is one row of the table. Most are numbers; a setting that is a word or
// a text has no bounds but the words it can be, or one that it is like.
type Figure struct {
	Name  string // as its flag is called; figures without a flag are named likewise
	What  string // what it says, for help
	Unit  string // of numbers; "" when they have none
	Low   float64
	High  float64
	Whole bool // whether it comes in whole numbers

	Words []string // the choices, when it is one of a few words
	Like  string   // an example, when it is a text that a command reads
	Len   int      // how many numbers it holds, 0 for one
	Texts bool     // it is a list of texts
	Truth bool     // it is true or false

	Default string // what holds when nobody says anything, for help

	Flag    string // without its dashes, "" when none sets it
	Setting string // the key, with its table; "" when none sets it
	Column  string // of the record, "" when it is not kept
}

// Number reports whether the figure is a number, or several.
func (f Figure) Number() bool {
	return f.Words == nil && f.Like == "" && !f.Texts && !f.Truth
}

// Allows reports whether v lies within the bounds, both of them allowed, and is
// whole where it has to be. NaN never is.
func (f Figure) Allows(v float64) bool {
	return v >= f.Low && v <= f.High && (!f.Whole || v == math.Trunc(v))
}

// Span tells the bounds: "from 0.5 to 0.9999".
func (f Figure) Span() string { return "from " + show.Plain(f.Low) + " to " + show.Plain(f.High) }

// Range tells the bounds and the unit, for a table: "100 to 200000 bees".
func (f Figure) Range() string {
	switch {
	case f.Words != nil:
		return strings.Join(f.Words, ", ")
	case f.Truth:
		return "true, false"
	case f.Texts:
		return `texts such as ["` + f.Like + `"]`
	case f.Like != "":
		return "such as " + f.Like
	}
	s := show.Plain(f.Low) + " to " + show.Plain(f.High)
	if f.Len > 1 {
		s = strconv.Itoa(f.Len) + " numbers, " + s
	}
	return strings.TrimSpace(s + " " + f.Unit)
}

// All lists the table.
func All() []Figure { return append([]Figure(nil), table()...) }

// Named is the figure of a name. There must be one: a name is written in the
// code, never typed.
func Named(name string) Figure {
	f, ok := find(func(f Figure) bool { return f.Name == name })
	if !ok {
		panic("the table of figures has no " + name)
	}
	return f
}

// OfSetting is the figure that a key of the settings sets.
func OfSetting(key string) (Figure, bool) {
	return find(func(f Figure) bool { return f.Setting == key })
}

func find(is func(Figure) bool) (Figure, bool) {
	for _, f := range table() {
		if is(f) {
			return f, true
		}
	}
	return Figure{}, false
}
