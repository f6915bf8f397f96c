package fieldlog

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/rows"
	"halfcup/cmd/internal/show"
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

	kind, known := ParseKind(rr.text("event"))
	if !known {
		var names []string
		for _, k := range kinds {
			names = append(names, string(k))
		}
		message, remedy := fmt.Sprintf("%q is not an event", rr.text("event")), "write one of "+strings.Join(names, ", ")
		if rr.text("event") == "" {
			message = "the event is missing"
		} else if near := sampling.Nearest(strings.ToLower(rr.text("event")), names); near != "" {
			remedy = fmt.Sprintf("did you mean %s? The events are %s", near, strings.Join(names, ", "))
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
			continue
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
		return kind == Count || kind == Split || kind == United
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
	if near := sampling.Nearest(strings.ToLower(rr.text(column)), words); near != "" {
		rr.own(column, "did you mean "+near+"?")
	}
}

// own tells once a column that what stands there is kept and not read.
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
	switch strings.ToLower(rr.text("brood")) {
	case "":
		return BroodUnknown
	case "yes":
		return BroodPresent
	case "no":
		return BroodAbsent
	}
	rr.fail("brood", fmt.Sprintf("%q does not say whether there was brood", rr.text("brood")), "write yes or no, or leave the cell empty")
	return BroodUnknown
}

func (rr *rowReader) adultBees() (bees, frames float64) {
	text := rr.text("adult_bees")
	if text == "" {
		return 0, 0
	}
	number, inFrames := strings.CutSuffix(strings.ToLower(text), "f")
	v, ok := rr.decimal(strings.TrimSpace(number))
	const remedy = "write the bees in the hive, such as 18000, or the frames covered with bees, such as 9f"
	switch {
	case !ok:
		rr.fail("adult_bees", fmt.Sprintf("%q is not a number of bees", text), remedy)
	case inFrames && !figures.Named("frames-of-bees").Allows(v):
		rr.fail("adult_bees", fmt.Sprintf("no hive has bees on %s frames", strings.TrimSpace(number)), remedy)
	case inFrames:
		return 0, v
	case strings.ContainsAny(number, ".,"):
		rr.fail("adult_bees", "bees come in whole numbers", "write thousands without a mark, such as 18000")
	case !figures.Named("adult-bees").Allows(v):
		rr.fail("adult_bees", fmt.Sprintf("no colony has %s adult bees", text), remedy)
	default:
		return v, 0
	}
	return 0, 0
}

// decimal reads a number that is not below zero, with the comma as decimal
// sign where the file's separator leaves it free.
func (rr *rowReader) decimal(s string) (float64, bool) {
	s = rr.pointed(s)
	whole, part, pointed := strings.Cut(s, ".")
	if !digits(whole) && whole != "" || !digits(part) && pointed || !pointed && whole == "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// digits reports whether s is one digit or more and nothing else.
func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// pointed writes a decimal comma as a point. It keeps the length, so that
// places in the text stay places in the cell.
func (rr *rowReader) pointed(s string) string {
	if rr.format.sep == ',' {
		return s
	}
	return strings.Replace(s, ",", ".", 1)
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

// count reads the cells of a count through the count notation, so that the
// record and the command line keep the same rules.
func (rr *rowReader) count(e *Event) *sampling.Count {
	c, details, ok := rr.counted()
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
	for _, d := range details {
		rr.detail(&c, d)
	}
	if rr.text("active")+rr.text("application") != "" {
		if c.Method == sampling.Knockdown {
			c.Treatment = rr.treatment()
		} else {
			rr.fail("active", "only a knockdown names the treatment it followed", "empty the cell, and write the treatment as a row of its own")
		}
	}
	return &c
}

// counted reads what of a count is in its notation, and the words behind the
// amount. Most counts of a record are made alike: those that were read before
// need not be read again.
func (rr *rowReader) counted() (c sampling.Count, details []rows.Cell, ok bool) {
	said := [4]string{rr.text("method"), rr.text("mites"), rr.text("amount"), rr.text("frames")}
	if c, known := rr.counts[said]; known {
		return c, nil, true
	}
	before := len(rr.bad)
	amount, details := splitAmount(rr.cell("amount"))
	amount.Text = rr.pointed(amount.Text)
	frames := rr.cell("frames")
	frames.Text = strings.TrimSuffix(strings.ToLower(frames.Text), "f")
	if amount.Text != "" && strings.Trim(amount.Text, "0123456789") == "." {
		rr.failAt(amount, 0, amount.End-amount.Start, "bees come in whole numbers", "write the bees counted without a mark, such as 300, or a measure with its unit, such as 0.5cup")
	}
	if amount.Text == "" {
		rr.fail("amount", "the amount is missing", "write what was looked at: bees (300, 0.5cup, 120ml, 41g), or of a board how long it lay (3d, 36h)")
	}
	if rr.text("mites") == "" {
		rr.fail("mites", "the number of mites is missing", "write it in digits, 0 when there was none")
	}
	if m, err := sampling.ParseMethod(rr.text("method")); err == nil && m.Kind() != sampling.BeeSample && frames.Text != "" {
		rr.fail("frames", fmt.Sprintf("a %s count has no frames", m), "empty the cell; frames covered with bees belong into adult_bees, such as 9f")
	}
	parts := []struct {
		column string
		cell   rows.Cell
		before string // what the notation puts between
		after  string
	}{
		{"method", rr.cell("method"), "", ""},
		{"mites", rr.cell("mites"), ":", ""},
		{"amount", amount, "/", ""},
		{"frames", frames, "/", "f"},
	}
	var notation strings.Builder
	var starts []int
	for _, p := range parts {
		if i := strings.IndexAny(p.cell.Text, ":/@ \t"); i >= 0 {
			rr.failAt(p.cell, i, 1, fmt.Sprintf("%q is not one %s", p.cell.Text, map[string]string{"method": "method", "mites": "number of mites", "amount": "amount", "frames": "number of frames"}[p.column]), "write only the "+p.column+" in this cell")
		}
		if p.column == "frames" && p.cell.Text == "" {
			continue
		}
		notation.WriteString(p.before)
		starts = append(starts, notation.Len())
		notation.WriteString(p.cell.Text + p.after)
	}
	if len(rr.bad) > before {
		return c, nil, false
	}
	c, err := sampling.ParseCount(notation.String())
	var bad *sampling.SyntaxError
	if errors.As(err, &bad) {
		i := 0
		for i+1 < len(starts) && bad.Offset >= starts[i+1] {
			i++
		}
		offset, length := bad.Offset-starts[i], bad.Length
		if i == 1 && bad.Offset+bad.Length > starts[2] {
			// Mites and amount do not go together. The amount is marked.
			i, offset, length = 2, 0, len(parts[2].cell.Text)
		}
		rr.failAt(parts[i].cell, offset, length, bad.Problem, bad.Remedy)
		return c, nil, false
	}
	if len(details) == 0 {
		rr.counts[said] = c
	}
	return c, details, true
}

// splitAmount takes the first word of an amount and the words behind it apart.
// A unit may stand behind a blank: 41 g is 41g.
func splitAmount(c rows.Cell) (amount rows.Cell, details []rows.Cell) {
	var words []rows.Cell
	for i := 0; i < len(c.Text); {
		if c.Text[i] == ' ' || c.Text[i] == '\t' {
			i++
			continue
		}
		end := i
		for end < len(c.Text) && c.Text[end] != ' ' && c.Text[end] != '\t' {
			end++
		}
		w := rows.Cell{Text: c.Text[i:end], Start: c.Start + i, End: c.Start + end, Quoted: c.Quoted}
		if c.Quoted {
			w.Start, w.End = c.Start, c.End
		}
		words = append(words, w)
		i = end
	}
	if len(words) == 0 {
		return c, nil
	}
	amount, details = words[0], words[1:]
	isUnit := func(s string) bool {
		return strings.IndexFunc(s, func(r rune) bool { return !unicode.IsLetter(r) }) < 0
	}
	if len(details) > 0 && isUnit(details[0].Text) && isDigit(amount.Text[len(amount.Text)-1]) {
		amount.Text += details[0].Text
		amount.End = details[0].End
		details = details[1:]
	}
	return amount, details
}

// detail reads one word behind an amount.
func (rr *rowReader) detail(c *sampling.Count, w rows.Cell) {
	fail := func(message, remedy string) { rr.failAt(w, 0, w.End-w.Start, message, remedy) }
	text := strings.ToLower(w.Text)
	if number, ok := strings.CutSuffix(text, "g/100"); ok {
		v, isNumber := rr.decimal(number)
		switch {
		case c.Amount.Unit != sampling.Grams:
			fail("only weighed bees need the weight of a hundred", "take this part away, or give the amount in grams")
		case !isNumber || !figures.Named("grams-per-100").Allows(v):
			fail(fmt.Sprintf("%q is not the weight of a hundred bees", w.Text), "write the grams that 100 bees weigh, from 10 to 20, such as 17.6g/100")
		default:
			c.GramsPer100 = v
		}
		return
	}
	if number, ok := strings.CutSuffix(text, "/day"); ok {
		v, isNumber := rr.decimal(number)
		switch {
		case c.Method != sampling.Knockdown:
			fail("only a knockdown has a natural fall before it", "take this part away")
		case !isNumber || !figures.Named("fall-before").Allows(v):
			fail(fmt.Sprintf("%q is not a number of mites a day", w.Text), "write the natural fall before the treatment, such as 2/day")
		default:
			c.FallBefore = &v
		}
		return
	}
	if counted, of, ok := strings.Cut(text, "/"); ok {
		a, errA := strconv.ParseUint(counted, 10, 16)
		b, errB := strconv.ParseUint(of, 10, 16)
		switch {
		case c.Method == sampling.Knockdown:
			fail("after a treatment the whole board is counted", "give the mites of the whole board")
		case c.Method != sampling.Board:
			fail("only a board has cells", "take this part away")
		case errA != nil || errB != nil || a > b || !figures.Named("cells").Allows(float64(a)) || !figures.Named("cells").Allows(float64(b)):
			fail(fmt.Sprintf("%q does not say how many cells of the board were counted", w.Text), "write the cells counted and all cells, such as 33/99")
		default:
			c.Cells = sampling.Cells{Counted: int(a), Of: int(b)}
		}
		return
	}
	fail(fmt.Sprintf("%q behind the amount says nothing", w.Text), "write one amount; behind it may follow 17.6g/100 (weight of a hundred bees), 33/99 (cells counted of a board) or 2/day (natural fall before a treatment)")
}
