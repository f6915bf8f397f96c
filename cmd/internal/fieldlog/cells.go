package fieldlog

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfcup/cmd/internal/rows"
	"halfcup/cmd/internal/show"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

// rowReader turns one row into an event and collects what is wrong with it.
type rowReader struct {
	*Record
	row rows.Row
	bad []*Problem
}

// readRow reads a row into Events, or says in Problems why it cannot. Of the
// rows that cannot be read only the first are told one by one.
func (r *Record) readRow(w rows.Row) {
	rr := rowReader{Record: r, row: w}
	told := len(r.Problems)
	r.Events = append(r.Events, Event{})
	e := &r.Events[len(r.Events)-1]
	ok := rr.event(e)
	if ok {
		e.row = w.Start
		e.Line, _ = r.place(w.Start)
		e.id = r.identify(e.Yard, e.Colony)
	} else {
		r.Events = r.Events[:len(r.Events)-1] // e is read still
		if r.unread++; r.unread > maxUnread {
			return
		}
	}
	r.Problems = append(r.Problems, rr.bad...)
	for _, p := range r.Problems[told:] {
		p.colony = Of(*e)
	}
}

// cell is the cell of a column; one that the record lacks is an empty cell at
// the end of the row.
func (rr *rowReader) cell(column string) rows.Cell {
	if i, ok := rr.columns[column]; ok {
		return rr.row.Cells[i]
	}
	return rows.Cell{Start: rr.row.End, End: rr.row.End}
}

func (rr *rowReader) text(column string) string { return rr.cell(column).Text }

func (rr *rowReader) fail(column, message, remedy string) {
	c := rr.cell(column)
	rr.failAt(c, 0, c.End-c.Start, message, remedy)
}

// failAt complains about length bytes at offset within a cell. A quoted cell is
// marked as a whole: its text is not what stands in the file.
func (rr *rowReader) failAt(c rows.Cell, offset, length int, message, remedy string) {
	if c.Quoted {
		offset, length = 0, c.End-c.Start
	}
	start := min(c.Start+offset, c.End)
	rr.bad = append(rr.bad, rr.problemOn(start, min(length, c.End-start), message, remedy))
}

// event reads the row into e; ok is false when anything in it is wrong.
func (rr *rowReader) event(e *Event) (ok bool) {
	if !rr.shape() || !rr.legible() {
		return false
	}
	for i := range rr.row.Cells {
		// The mark that keeps a spreadsheet from running a cell is no part of it.
		if c := &rr.row.Cells[i]; strings.HasPrefix(c.Text, "'") && show.FromInert(c.Text) != c.Text {
			c.Text, c.Quoted = show.FromInert(c.Text), true // it is not what stands in the file
		}
	}
	e.Date = rr.date()
	e.Yard, e.Colony = rr.name("yard"), rr.name("colony")
	if e.Colony == "" {
		rr.fail("colony", "the colony is missing", "name the colony this row is about")
	}
	e.Note = strings.TrimSpace(rr.text("note"))
	e.Brood = rr.brood()
	e.AdultBees, e.BeeFrames = rr.adultBees()

	kind, known := rr.kindOf(rr.row)
	if !known {
		var names []string
		for _, k := range kinds {
			names = append(names, string(k))
		}
		list := strings.Join(names, ", ")
		message, remedy := fmt.Sprintf("%q is not an event", rr.text("event")), "write one of "+list
		if rr.text("event") == "" {
			message = "the event is missing"
		} else {
			remedy = meant.Remedy(strings.ToLower(rr.text("event")), names, "The events are "+list, remedy)
		}
		rr.fail("event", message, remedy)
		return false
	}
	e.Kind = kind
	rr.onlyFor(kind)
	rr.later(e)
	switch kind {
	case TreatmentEnd:
		if rr.text("active")+rr.text("application") != "" {
			e.Treatment = rr.treatment()
		}
	case Undo:
		if e.UndoOf == "" {
			rr.fail("undo_of", "this row does not say which row it takes back", "write the id of that row into the column undo_of, or use halfcup undo")
		}
	case Count:
		e.Count = rr.count(e)
		e.Pair = rr.name("pair")
	case Treatment:
		e.Treatment = rr.treatment()
	case Split:
		e.Other = rr.other("the parent colony is missing", "name in the column pair the colony it was taken from")
	case United:
		e.Other = rr.other("the other colony is missing", "name in the column pair the colony it was joined to")
	case Renamed:
		e.Other = rr.other("the name that it had is missing", "name in the column pair the colony as it was called before")
	case BroodBreak:
		if e.Brood == BroodUnknown && rr.text("brood") == "" {
			rr.fail("brood", "the brood break does not say whether it starts or ends", "write in the column brood no when the queen stopped laying and yes when she laid again")
		}
	}
	return len(rr.bad) == 0
}

// shape looks at the row as a whole: torn, too short, too long.
func (rr *rowReader) shape() bool {
	columns, have := len(rr.header.Cells), len(rr.row.Cells)
	torn := rr.row.Next == len(rr.data) && rr.row.End == rr.row.Next
	switch {
	case rr.row.Fault == rows.Endless:
		rr.bad = append(rr.bad, rr.problemOn(rr.row.Start, rr.row.End-rr.row.Start, fmt.Sprintf("this row is longer than %d megabyte", rows.LongestRow>>20), "close its quote, or shorten it"))
	case rr.row.Fault == rows.Crowded:
		rr.bad = append(rr.bad, rr.problemOn(rr.row.Start, rr.row.End-rr.row.Start, fmt.Sprintf("the row has more than %d cells and the record %d columns", rows.MostCells, columns), "take the cells that are too many away"))
	case rr.row.Fault == rows.OpenQuote:
		rr.bad = append(rr.bad, rr.problemOn(rr.row.FaultAt, rr.row.End-rr.row.FaultAt, "the row is torn: this quote is never closed", "complete the row from your notes and close the quote, or delete the row"))
	case rr.row.Fault == rows.BadQuote:
		rr.bad = append(rr.bad, rr.problemOn(rr.row.FaultAt, rr.row.End-rr.row.FaultAt, "something stands behind the closing quote", `write a quote inside a quoted cell twice (""), or take the quotes away`))
	case have < columns && torn:
		rr.bad = append(rr.bad, rr.problemOn(rr.row.Start, rr.row.End-rr.row.Start, fmt.Sprintf("the last row is torn: it has %d of %d cells", have, columns), "complete the row from your notes, or delete it"))
	case have < columns:
		rr.bad = append(rr.bad, rr.problemOn(rr.row.Start, rr.row.End-rr.row.Start, fmt.Sprintf("the row has %d of %d cells: it is torn, or cells are missing", have, columns), fmt.Sprintf("complete it from your notes; if only empty cells are missing, write %q at its end", strings.Repeat(string(rr.format.sep), columns-have))))
	case have > columns:
		for _, c := range rr.row.Cells[columns:] {
			if c.Text != "" {
				rr.failAt(c, 0, c.End-c.Start, fmt.Sprintf("the row has %d cells and the record %d columns", have, columns), fmt.Sprintf("put a cell that holds %q in quotes, or take the cells that are too many away", string(rr.format.sep)))
				return false
			}
		}
		rr.row.Cells = rr.row.Cells[:columns]
		return true
	case torn && rr.row.Cells[have-1].Text != "":
		c := rr.row.Cells[have-1]
		p := rr.problemOn(c.Start, c.End-c.Start, "the last row has no line end, so this cell may be cut short", "check the cell and end the row with Enter")
		p.Warning, p.answers = true, "counted as it stands"
		rr.Problems = append(rr.Problems, p)
		return true
	default:
		return true
	}
	return false
}

// legible refuses cells that are not text.
func (rr *rowReader) legible() bool {
	for i, c := range rr.row.Cells {
		column := rr.known[i]
		if column == "" || typed(c.Text) && len(c.Text) <= maxCell {
			continue
		}
		if most := cellSize(column); len(c.Text) > most {
			rr.fail(column, fmt.Sprintf("this cell is longer than %d letters", most), "shorten it; what is long belongs into the note, and what is very long into a file of its own")
			continue
		}
		if !utf8.ValidString(c.Text) {
			rr.fail(column, "this cell is not written in UTF-8", "save the record from the spreadsheet as CSV in UTF-8")
			return false // its other cells are not either, and have the same cause
		}
		if i := strings.IndexFunc(c.Text, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' }); i >= 0 {
			bad, size := utf8.DecodeRuneInString(c.Text[i:])
			rr.failAt(c, i, size, fmt.Sprintf("this cell holds the unprintable character U+%04X", bad), "delete the character, or the row if a power failure left it")
		} else if column != "note" && strings.Contains(c.Text, "\n") {
			rr.fail(column, "only a note may hold a line break", "write the cell on one line")
		}
	}
	return len(rr.bad) == 0
}

// typed reports whether a cell holds nothing but what a typewriter has.
func typed(s string) bool {
	for i := range len(s) {
		if s[i] < ' ' || s[i] > '~' {
			return false
		}
	}
	return true
}

func cellSize(column string) int {
	if column == "note" {
		return maxNote
	}
	return maxCell
}

// name reads the name of a yard, a colony or a pair.
func (rr *rowReader) name(column string) string {
	s := tidy(rr.text(column))
	if n := letters(s); n > maxNameSize {
		rr.fail(column, fmt.Sprintf("this name has %d letters, and a name has at most %d", n, maxNameSize), "shorten it, and write the rest into the note")
	}
	return s
}

func (rr *rowReader) other(message, remedy string) string {
	s := rr.name("pair")
	switch {
	case s == "":
		rr.fail("pair", message, remedy)
	case SameName(s) == SameName(rr.text("colony")):
		rr.fail("pair", "both colonies have the same name", remedy)
	}
	return s
}

func (rr *rowReader) date() sampling.Date {
	text := rr.text("date")
	d, err := rr.format.order.Date(text)
	var bad *sampling.SyntaxError
	switch {
	case err == nil:
	case text == "":
		rr.fail("date", "the date is missing", "write year-month-day, such as 2026-08-06")
	case errors.As(err, &bad):
		rr.failAt(rr.cell("date"), bad.Offset, bad.Length, bad.Problem, bad.Remedy)
	}
	return d
}

var hyphens = strings.NewReplacer(" ", "-", "_", "-")

// ParseKind finds an event by name, in any case, with blanks for hyphens.
func ParseKind(s string) (Kind, bool) {
	if slices.Contains(kinds, Kind(s)) { // as most are written
		return Kind(s), true
	}
	name := Kind(hyphens.Replace(strings.ToLower(s)))
	for _, k := range kinds {
		if k == name {
			return k, true
		}
	}
	return "", false
}

// kindOf is the event of a row. One without a word for it, but with a method of
// counting, is a count: people who keep nothing but counts see no need to say so.
func (r *Record) kindOf(w rows.Row) (Kind, bool) {
	text := w.Cells[r.columns["event"]].Text
	if i, ok := r.columns["method"]; ok && text == "" && w.Cells[i].Text != "" {
		return Count, true
	}
	return ParseKind(text)
}

// onlyFor complains about cells that mean nothing for this kind of event: what
// stands there was meant for another row.
func (rr *rowReader) onlyFor(kind Kind) {
	for i, c := range rr.row.Cells {
		column := rr.known[i]
		if c.Text == "" || meansSomething(column, kind) {
			continue
		}
		remedy := "empty the cell, or check the event"
		if column == "frames" {
			remedy = "frames are those a sample came from; write frames covered with bees into adult_bees, such as 9f"
		}
		rr.fail(column, fmt.Sprintf("%s says nothing in a row of the event %s", column, kind), remedy)
	}
}

func meansSomething(column string, kind Kind) bool {
	switch column {
	case "method", "mites", "amount", "frames":
		return kind == Count
	case "active", "application":
		return kind == Count || kind == Treatment || kind == TreatmentEnd
	case "pair":
		return kind == Count || kind == Split || kind == United || kind == Renamed
	}
	return true
}

// later reads the later columns. A file may have one of such a name for
// something else, so that what does not fit is kept and told once.
func (rr *rowReader) later(e *Event) {
	if !rr.hasLater {
		return
	}
	e.Stand, e.Observer = rr.label("stand"), rr.label("observer")
	e.ID, e.By, e.UndoOf = rr.label("id"), rr.label("by"), rr.label("undo_of")
	switch m := Mark(strings.ToLower(rr.text("mark"))); {
	case m == "":
	case (m == Planned || m == Done) && e.Kind.Plannable():
		e.Mark = m
	case m == Planned || m == Done:
		rr.own("mark", fmt.Sprintf("of the event %s, planned and done say nothing", e.Kind))
	default:
		rr.misread("mark", "planned", "done")
	}
	if rr.text("until") == "" {
		return
	}
	switch until, err := rr.format.order.Date(rr.text("until")); {
	case err != nil:
		if _, _, _, three := threeNumbers(rr.text("until")); three {
			rr.own("until", "read are days such as 2026-09-20")
		}
	case e.Kind != Treatment:
		rr.own("until", "only a treatment has a day on which it is to come out")
	case until < e.Date:
		rr.fail("until", fmt.Sprintf("it is to come out before it went in on %s", e.Date), "check both days")
	default:
		e.Until = until
	}
}

// label reads a later cell of any words.
func (rr *rowReader) label(column string) string {
	s := tidy(rr.text(column))
	if letters(s) > maxNameSize {
		rr.own(column, fmt.Sprintf("read are at most %d letters", maxNameSize))
		return ""
	}
	return s
}

// misread tells of a word that is nearly one that is read. Any other is the
// keeper's own.
func (rr *rowReader) misread(column string, words ...string) {
	if question := meant.Question(strings.ToLower(rr.text(column)), words, ""); question != "" {
		rr.own(column, strings.TrimSpace(question))
	}
}

// own tells, once for each column, that what stands there is kept and not read.
func (rr *rowReader) own(column, read string) {
	if _, told := rr.owned[column]; told {
		return
	}
	rr.owned[column] = rr.row.Start
	c := rr.cell(column)
	p := rr.problemOn(c.Start, c.End-c.Start, fmt.Sprintf("%q in the column %s is kept and not read; %s", rr.text(column), column, read), "leave it, if the column is one of your own")
	p.Warning = true
	rr.Problems = append(rr.Problems, p)
}

func (rr *rowReader) brood() Brood {
	brood, bad := HiveCells{Brood: rr.text("brood")}.ReadBrood()
	rr.failCell(bad)
	return brood
}

func (rr *rowReader) adultBees() (bees, frames float64) {
	bees, frames, bad := HiveCells{AdultBees: rr.text("adult_bees"), DecimalComma: rr.format.sep != ','}.ReadAdultBees()
	rr.failCell(bad)
	return bees, frames
}

// failCell complains about a part of a cell.
func (rr *rowReader) failCell(bad *CellError) {
	if bad != nil {
		rr.failAt(rr.cell(bad.Column), bad.Offset, bad.Length, bad.Problem, bad.Remedy)
	}
}

func (rr *rowReader) treatment() sampling.TreatmentName {
	said := [2]string{rr.text("active"), rr.text("application")}
	if t, known := rr.treatments[said]; known {
		return t
	}
	name := sampling.TreatmentName{Active: tidy(said[0]), Application: tidy(said[1])}
	if name.Active == "" {
		rr.fail("active", "the active ingredient is missing", "name it, such as oxalic acid, and in the column application how it was given")
		return name
	}
	t, err := name.Find()
	var bad *sampling.SyntaxError
	if errors.As(err, &bad) {
		column := "active"
		if bad.Input == name.Application && bad.Input != name.Active {
			column = "application"
		}
		rr.fail(column, bad.Problem, bad.Remedy)
		return name
	}
	rr.treatments[said] = t.TreatmentName
	return t.TreatmentName
}

// count reads the cells of a count.
func (rr *rowReader) count(e *Event) *sampling.Count {
	c, ok := rr.counted()
	if !ok {
		return nil
	}
	switch w := sampling.Weather(strings.ToLower(rr.text("weather"))); {
	case w == "":
	case (w == sampling.Damp || w == sampling.Dry) && c.Method == sampling.Roll:
		c.Weather = w
	case w == sampling.Damp || w == sampling.Dry:
		rr.own("weather", "it is read of a sugar roll")
	default:
		rr.misread("weather", "damp", "dry")
	}
	c.Date = e.Date
	c.Hive.AdultBees = e.AdultBees
	c.Hive.Broodless = e.Brood == BroodAbsent
	if rr.text("active")+rr.text("application") != "" {
		if c.Method == sampling.Knockdown {
			c.Treatment = rr.treatment()
		} else {
			rr.fail("active", "only a knockdown names the treatment it followed", "empty the cell, and write the treatment as a row of its own")
		}
	}
	return &c
}

// counted reads what of a count is in its own cells. Most counts of a record are
// made alike: those that were read before need not be read again.
func (rr *rowReader) counted() (c sampling.Count, ok bool) {
	said := CountCells{rr.text("method"), rr.text("mites"), rr.text("amount"), rr.text("frames"), rr.format.sep != ','}
	if c, known := rr.counts[said]; known {
		return c, true
	}
	c, bad := said.Read()
	for _, b := range bad {
		rr.failCell(b)
	}
	if bad == nil && c.FallBefore == nil {
		rr.counts[said] = c
	}
	return c, bad == nil
}
