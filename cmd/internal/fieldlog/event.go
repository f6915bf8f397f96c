package fieldlog

import (
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// Kind is what happened.
type Kind string

// The kinds of event; the package comment says what each one holds.
const (
	Count             Kind = "count"
	Treatment         Kind = "treatment"
	Inspection        Kind = "inspection"
	BoardIn           Kind = "board-in"
	Split             Kind = "split"
	United            Kind = "united"
	Swarmed           Kind = "swarmed"
	Requeened         Kind = "requeened"
	BroodBreak        Kind = "brood-break"
	SupersOn          Kind = "supers-on"
	SupersOff         Kind = "supers-off"
	DroneBroodRemoved Kind = "drone-brood-removed"
	Died              Kind = "died"
	TreatmentEnd      Kind = "treatment-end"
	Hived             Kind = "hived"
	Queenless         Kind = "queenless"
	QueenCaged        Kind = "queen-caged"
	QueenReleased     Kind = "queen-released"
	DroneFrameIn      Kind = "drone-frame-in"
	Robbing           Kind = "robbing"
	HoneyTaken        Kind = "honey-taken"
	Moved             Kind = "moved"
	Signs             Kind = "signs"
	Renamed           Kind = "renamed"
	Undo              Kind = "undo"
)

var kinds = []Kind{
	Count, Treatment, TreatmentEnd, Inspection, BoardIn, Split, United, Swarmed, Hived, Requeened, Queenless,
	BroodBreak, QueenCaged, QueenReleased, SupersOn, SupersOff, HoneyTaken, DroneFrameIn, DroneBroodRemoved,
	Robbing, Moved, Signs, Died, Renamed, Undo,
}

// Kinds lists every kind of event.
func Kinds() []Kind { return slices.Clone(kinds) }

// plannable are the events that may be planned.
var plannable = []Kind{Treatment, TreatmentEnd, BroodBreak, QueenCaged, QueenReleased, SupersOn, SupersOff, DroneFrameIn, DroneBroodRemoved, HoneyTaken, Requeened}

// Plannable reports whether an event of the kind may be planned.
func (k Kind) Plannable() bool { return slices.Contains(plannable, k) }

// Begins reports whether a colony comes into a hive by it: another than one of
// that name which had ended.
func (k Kind) Begins() bool { return k == Split || k == Hived }

// Ends reports whether its colony is no more after it.
func (k Kind) Ends() bool { return k == Died || k == United }

// Mark says whether an event was planned and whether it was done.
type Mark string

// The marks. A row without one that lies in the days to come is a plan as well.
const (
	Planned Mark = "planned"
	Done    Mark = "done" // what was planned was done
)

// Brood is whether the colony had capped brood; of a brood break, whether the
// queen lays.
type Brood int

// What was said about brood.
const (
	BroodUnknown Brood = iota
	BroodPresent
	BroodAbsent
)

// Event is one row of the record.
type Event struct {
	Date         sampling.Date
	Yard, Colony string
	Kind         Kind

	// Count is the count of a Count event, else nil. Its date, the state of
	// the hive as far as the row tells it, and the treatment of a knockdown
	// that names one are filled in. Adult bees given in frames are not: what a
	// frame holds is for the caller to say.
	Count *sampling.Count

	Treatment sampling.TreatmentName // of a Treatment event, and of a TreatmentEnd that names one
	Until     sampling.Date          // of a Treatment event: the day its label has it out, zero when not said
	Mark      Mark
	Brood     Brood
	AdultBees float64 // bees in the hive, 0 when not said
	BeeFrames float64 // frames covered with bees, 0 when not said
	Pair      string  // label of a paired count
	Other     string  // the parent of a Split, the surviving colony of a United, the former name of a Renamed
	Note      string

	Stand    string // place of the hive in its yard, in the order in which it is visited
	Observer string // who looked
	ID       string // letter of a device and a number: see Key
	By       string // who or what wrote the row
	UndoOf   string // Key of the row that this one takes the place of

	Line int // line of the file the row starts on

	// Double is the line of an earlier row that says the same in the same
	// words, 0 when there is none: the row was written twice, and answers
	// count it once.
	Double int

	// Gone is the line of the row that took the place of this one or took it
	// back, 0 when it stands. Answers do not count it.
	Gone int

	// Named is the name in the row of a colony that was renamed since, and that
	// Colony names as it is called now; empty where it was not.
	Named string

	otherNamed string // the same of Other

	row int       // byte offset
	id  *identity // nil when the event is not of a record
}

// Colony is the identity of a colony: two spellings of one name give the same
// one.
type Colony struct{ Yard, Name string }

// Of is the identity of the colony of an event.
func Of(e Event) Colony {
	if e.id != nil && e.id.spelling == (spelling{e.Yard, e.Colony}) {
		return e.id.Colony
	}
	return Colony{SameName(e.Yard), SameName(e.Colony)}
}

// spelling is a colony as a row names it.
type spelling struct{ yard, colony string }

// identity is worked out once for each spelling of a record.
type identity struct {
	spelling
	Colony
}

func (r *Record) identify(yard, colony string) *identity {
	s := spelling{yard, colony}
	id := r.ids[s]
	if id == nil {
		id = &identity{s, Colony{SameName(yard), SameName(colony)}}
		r.ids[s] = id
	}
	return id
}

// SameName brings the spellings of one name together: in any case, with any
// blanks and in any Unicode composition.
func SameName(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9') }) {
		return s // as most are: nothing to bring together
	}
	if !strings.ContainsFunc(s, func(r rune) bool { return r >= utf8.RuneSelf }) {
		return strings.ToLower(tidy(s))
	}
	return strings.ToLower(composed(strings.Join(strings.Fields(s), " ")))
}

// firstColumns are the columns that a new file gets, in their order.
var firstColumns = []string{"date", "yard", "colony", "event", "method", "mites", "amount", "frames", "adult_bees", "brood", "active", "application", "pair", "note"}

// laterColumns are those that a file gets when something is to be written in
// them. A file may have a column of such a name for something else.
var laterColumns = []string{"until", "mark", "weather", "stand", "observer", "id", "by", "undo_of"}

// columnNames are all columns of the record.
var columnNames = slices.Concat(firstColumns, laterColumns)

// ColumnNames lists the columns that a record can have, in their order.
func ColumnNames() []string { return slices.Clone(columnNames) }

// Cells is the event as the cells of its row, by column, with decimal points.
func (e Event) Cells() map[string]string {
	out := map[string]string{
		"date": e.Date.String(), "yard": tidy(e.Yard), "colony": tidy(e.Colony), "event": string(e.Kind),
		"active": e.Treatment.Active, "application": e.Treatment.Application,
		"pair": tidy(e.Pair + e.Other), "note": strings.TrimSpace(unixLines(e.Note)),
		"until": e.Until.String(), "mark": string(e.Mark), "stand": tidy(e.Stand), "observer": tidy(e.Observer),
		"id": tidy(e.ID), "by": tidy(e.By), "undo_of": tidy(e.UndoOf),
	}
	switch {
	case e.AdultBees > 0:
		out["adult_bees"] = show.Plain(e.AdultBees)
	case e.BeeFrames > 0:
		out["adult_bees"] = show.Plain(e.BeeFrames) + "f"
	}
	switch e.Brood {
	case BroodPresent:
		out["brood"] = "yes"
	case BroodAbsent:
		out["brood"] = "no"
	}
	if c := e.Count; c != nil {
		out["method"] = string(c.Method)
		out["mites"] = strconv.Itoa(c.Mites)
		amount := show.Plain(c.Amount.Value)
		if c.Amount.Unit != sampling.Bees {
			amount += string(c.Amount.Unit)
		}
		if c.GramsPer100 > 0 {
			amount += " " + show.Plain(c.GramsPer100) + "g/100"
		}
		if c.Cells.Of > 0 {
			amount += " " + strconv.Itoa(c.Cells.Counted) + "/" + strconv.Itoa(c.Cells.Of)
		}
		if c.FallBefore != nil {
			amount += " " + show.Plain(*c.FallBefore) + "/day"
		}
		out["amount"] = amount
		if c.Frames > 0 {
			out["frames"] = strconv.Itoa(c.Frames)
		}
		out["weather"] = string(c.Weather)
		if c.Treatment != (sampling.TreatmentName{}) {
			out["active"], out["application"] = c.Treatment.Active, c.Treatment.Application
		}
	}
	return out
}

// identical reports whether two events are the same row read twice.
func identical(a, b Event) bool {
	a, b = a.Written(), b.Written() // a later row may rename them
	if (a.Count == nil) != (b.Count == nil) {
		return false
	}
	if a.Count != nil {
		x, y := *a.Count, *b.Count
		if (x.FallBefore == nil) != (y.FallBefore == nil) || x.FallBefore != nil && *x.FallBefore != *y.FallBefore {
			return false
		}
		x.FallBefore, y.FallBefore = nil, nil
		if x != y {
			return false
		}
	}
	a.Count, b.Count = nil, nil
	a.id, b.id = nil, nil
	a.Gone, b.Gone = 0, 0 // a later row may take it back
	return a == b
}

// sameFact reports whether two events tell the same thing, whatever their
// notes say.
func sameFact(a, b Event) bool {
	if a.Date != b.Date || a.Kind != b.Kind || Of(a) != Of(b) {
		return false
	}
	x, y := a.Cells(), b.Cells()
	for _, c := range []string{"method", "mites", "amount", "frames", "adult_bees", "brood", "active", "application", "until", "mark", "weather", "undo_of"} {
		if x[c] != y[c] {
			return false
		}
	}
	return SameName(x["pair"]) == SameName(y["pair"])
}

// letters counts what a reader sees as one letter: a mark that is set on a
// letter is part of it.
func letters(s string) int {
	n := 0
	for _, r := range composed(s) {
		if !unicode.Is(unicode.Mn, r) {
			n++
		}
	}
	return n
}

// tidy trims a name and joins its words with single blanks.
func tidy(s string) string {
	blank := true
	for i := range len(s) {
		if s[i] < ' ' || s[i] > '~' || s[i] == ' ' && blank {
			return strings.Join(strings.Fields(s), " ")
		}
		blank = s[i] == ' '
	}
	if blank {
		return strings.TrimRight(s, " ")
	}
	return s // as most are
}

// unixLines writes every line break as a line feed, as spreadsheets do inside
// a cell.
func unixLines(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
}
