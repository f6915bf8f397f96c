// Package rows takes apart the tables that people and spreadsheets write: cells
// between commas, semicolons or tabs, some of them in quotes (RFC 4180).
//
// It differs from other readers of such tables in what it makes of a stray
// quote. A quote that is never closed, because somebody wrote about 3" of snow
// or a disk failed in the middle of a row, swallows every row behind it
// elsewhere. Here a line inside a quoted cell that is by itself a whole row of
// the table ends the cell; the row in which the quote was opened is told, and
// the rows behind it are read.
//
// Work and memory are bounded: by LongestRow for a row and MostCells for its
// cells.
package rows

import "strings"

const (
	// LongestRow is how many bytes a row may have. A longer one is Endless.
	LongestRow = 1 << 20

	// MostCells is how many cells a row may have. One of more is Crowded.
	MostCells = 1000

	// lookAhead is how many bytes a line inside a quoted cell is followed to
	// find out whether a whole row starts there. Without that bound a long
	// note would be read again from each of its lines.
	lookAhead = 8 << 10
)

// Cell is one field of a row with the bytes it stands on.
type Cell struct {
	Text       string // without quotes and outer blanks
	Start, End int    // byte offsets of what stands in the table, blanks left out
	Quoted     bool
}

// Fault says why a row could not be taken apart into cells.
type Fault int

// What can be wrong with a row.
const (
	Whole     Fault = iota // nothing
	OpenQuote              // a quote is never closed
	BadQuote               // something stands behind a closing quote
	Endless                // the row is longer than LongestRow
	Crowded                // the row has more than MostCells cells
)

// Row is one record of a table.
type Row struct {
	Cells      []Cell
	Start, End int // byte offsets, without the line end
	Next       int // where the row after it starts
	Fault      Fault
	FaultAt    int // byte offset of the quote at fault

	// Reach is how far the table was looked at to take this row apart. What
	// is added to a table behind that changes nothing in the row.
	Reach int
}

// Blank reports a row in which nothing is written.
func (r Row) Blank() bool {
	for _, c := range r.Cells {
		if c.Text != "" {
			return false
		}
	}
	return r.Fault == Whole
}

// LineEnd is the length of the line end at data[i:], 0 when there is none. A
// lone carriage return is one: old spreadsheets write it, and a file torn
// between the two bytes of a line end leaves it.
func LineEnd(data string, i int) int {
	switch {
	case i >= len(data):
		return 0
	case data[i] == '\n':
		return 1
	case data[i] == '\r' && i+1 < len(data) && data[i+1] == '\n':
		return 2
	case data[i] == '\r':
		return 1
	}
	return 0
}

// EndOfLine is the offset of the line end at or behind i.
func EndOfLine(data string, i int) int {
	for ; i < len(data); i++ {
		if data[i] == '\n' || data[i] == '\r' {
			return i
		}
	}
	return i
}

// Line takes one line apart as if the table ended with it.
func Line(data string, start int, sep byte) Row {
	return scan(data[:min(EndOfLine(data, start), start+LongestRow)], start, sep, nil, nil)
}

// Rules say what a row of a table looks like.
type Rules struct {
	Sep byte

	// Whole says whether a row is one that this table could hold. It is asked
	// of the lines inside a quoted cell, and its answer yes ends the cell.
	Whole func(Row) bool

	// Begins says whether a line looks like the start of a row. A row at fault
	// ends before such a line, so that each one is shown by itself.
	Begins func(Row) bool
}

// Next takes the row at data[start:] apart. Its cells use the room of cells.
func (ru Rules) Next(data string, start int, cells []Cell) Row {
	limit := min(len(data), start+LongestRow)
	reach := 0
	wholeAt := func(i int) bool {
		if ru.Whole == nil || !startsCells(data, i) {
			return false
		}
		row := scan(data[:min(limit, i+lookAhead)], i, ru.Sep, nil, nil)
		reach = max(reach, row.Next)
		return row.Fault == Whole && ru.Whole(row)
	}
	r := scan(data[:limit], start, ru.Sep, cells[:0], wholeAt)
	r.Next = r.End + LineEnd(data, r.End)
	if cutOff := limit < len(data) && r.End == limit; cutOff && r.Fault != Crowded && (r.Fault == OpenQuote || r.Next == r.End) {
		r.Fault = Endless
	}
	r.Reach = max(reach, r.Next)
	if r.Fault != Whole {
		ru.cut(data, &r)
	}
	return r
}

// cut ends a row at fault before the next line that looks like a row, and an
// endless or a crowded one at the end of its first line.
func (ru Rules) cut(data string, r *Row) {
	end := r.Start
	for {
		end = EndOfLine(data, end)
		next := end + LineEnd(data, end)
		if next >= r.Next || r.Fault == Endless || r.Fault == Crowded || ru.Begins != nil && ru.Begins(Line(data, next, ru.Sep)) {
			r.End, r.Next = end, next
			r.Reach = max(r.Reach, next)
			return
		}
		end = next
	}
}

// startsCells reports whether anything stands on the line at data[i:].
func startsCells(data string, i int) bool { return i < len(data) && LineEnd(data, i) == 0 }

// scan takes the row at data[start:] apart. Inside a quoted cell it asks
// wholeAt at the start of every line whether a whole row starts there.
func scan(data string, start int, sep byte, cells []Cell, wholeAt func(int) bool) Row {
	r := Row{Start: start, Cells: cells}
	ends := func(i int) { r.End, r.Next = i, i+LineEnd(data, i) }
	for i := start; ; i++ {
		i = skipBlanks(data, i, sep)
		c := Cell{Start: i}
		if i < len(data) && data[i] == '"' {
			closed := false
			c.Text, i, closed = quoted(data, i+1, wholeAt)
			c.Quoted, c.End = true, i
			r.Cells = append(r.Cells, c)
			if !closed {
				r.Fault, r.FaultAt = OpenQuote, c.Start
				ends(i)
				return r
			}
			if i = skipBlanks(data, i, sep); i < len(data) && data[i] != sep && LineEnd(data, i) == 0 {
				r.Fault, r.FaultAt = BadQuote, c.Start
				ends(EndOfLine(data, i))
				return r
			}
		} else {
			for i < len(data) && data[i] != sep && data[i] != '\n' && data[i] != '\r' {
				i++
			}
			c.Text = strings.TrimRight(data[c.Start:i], " \t")
			c.End = c.Start + len(c.Text)
			r.Cells = append(r.Cells, c)
		}
		if i >= len(data) || data[i] != sep {
			ends(i)
			return r
		}
		if len(r.Cells) == MostCells {
			r.Fault, r.FaultAt = Crowded, start
			ends(EndOfLine(data, i))
			return r
		}
	}
}

func skipBlanks(data string, i int, sep byte) int {
	for i < len(data) && data[i] != sep && (data[i] == ' ' || data[i] == '\t') {
		i++
	}
	return i
}

// quoted reads the quoted cell whose text starts at data[i:]. It ends behind
// the closing quote, or where the data ends or a whole row starts.
func quoted(data string, i int, wholeAt func(int) bool) (text string, end int, closed bool) {
	var b strings.Builder
	from, plain := i, true // what is not yet in b; whether b can be done without
	flush := func(to int) {
		plain = false
		b.WriteString(data[from:to])
	}
	done := func(to int) string {
		if plain {
			return data[from:to]
		}
		b.WriteString(data[from:to])
		return b.String()
	}
	for i < len(data) {
		n := strings.IndexAny(data[i:], "\"\r\n")
		if n < 0 {
			break
		}
		i += n
		if data[i] == '"' {
			if i+1 < len(data) && data[i+1] == '"' {
				flush(i + 1)
				i += 2
				from = i
				continue
			}
			return done(i), i + 1, true
		}
		n = LineEnd(data, i)
		if wholeAt != nil && wholeAt(i+n) {
			return done(i), i, false
		}
		if data[i] == '\r' {
			flush(i)
			b.WriteByte('\n')
			from = i + n
		}
		i += n
	}
	return done(len(data)), len(data), false
}
