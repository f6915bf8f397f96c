package fieldlog

import (
	"bytes"
	"regexp"
	"sort"
	"unicode/utf8"
)

// A cell is one field of a row with the bytes it stands on.
type cell struct {
	text       string // without quotes and outer blanks
	start, end int    // byte offsets of what stands in the file, blanks left out
	quoted     bool
}

// fault says why a row could not be taken apart into cells.
type fault int

const (
	whole     fault = iota
	openQuote       // a quote is never closed
	badQuote        // something stands behind a closing quote
)

// A row is one record of the file.
type row struct {
	cells      []cell
	start, end int // byte offsets, without the line end
	next       int // where the row after it starts
	fault      fault
	faultAt    int // byte offset of the quote at fault
}

// blank reports a row in which nothing is written.
func (r row) blank() bool {
	for _, c := range r.cells {
		if c.text != "" {
			return false
		}
	}
	return r.fault == whole
}

// lineEnd is the length of the line end at data[i:], 0 when there is none. A
// lone carriage return is one: old spreadsheets write it, and a file torn
// between the two bytes of a line end leaves it.
func lineEnd(data []byte, i int) int {
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

// scanRow takes the row at data[start:] apart. Inside a quoted cell it asks
// rowStarts at the start of every line whether a whole row starts there, which
// ends the quoted cell as torn; rowStarts may be nil.
func scanRow(data []byte, start int, sep byte, rowStarts func(int) bool) row {
	r := row{start: start}
	blankAt := func(i int) bool {
		return i < len(data) && data[i] != sep && (data[i] == ' ' || data[i] == '\t')
	}
	for i := start; ; i++ {
		for blankAt(i) {
			i++
		}
		c := cell{start: i}
		if i < len(data) && data[i] == '"' {
			c.quoted = true
			closed := false
			var text []byte
			for i++; i < len(data); {
				if data[i] == '"' {
					if i++; i >= len(data) || data[i] != '"' {
						closed = true
						break
					}
				}
				n := lineEnd(data, i)
				if n > 0 && rowStarts != nil && rowStarts(i+n) {
					break
				}
				if n > 0 {
					text = append(text, '\n')
					i += n
					continue
				}
				text = append(text, data[i])
				i++
			}
			c.text, c.end = string(text), i
			r.cells = append(r.cells, c)
			if !closed {
				r.fault, r.faultAt = openQuote, c.start
				r.end, r.next = i, i+lineEnd(data, i)
				return r
			}
			for blankAt(i) {
				i++
			}
			if i < len(data) && data[i] != sep && lineEnd(data, i) == 0 {
				r.fault, r.faultAt = badQuote, c.start
				for i < len(data) && lineEnd(data, i) == 0 {
					i++
				}
				r.end, r.next = i, i+lineEnd(data, i)
				return r
			}
		} else {
			for i < len(data) && data[i] != sep && lineEnd(data, i) == 0 {
				i++
			}
			c.end = c.start + len(bytes.TrimRight(data[c.start:i], " \t"))
			c.text = string(data[c.start:c.end])
			r.cells = append(r.cells, c)
		}
		if i >= len(data) || data[i] != sep {
			r.end, r.next = i, i+lineEnd(data, i)
			return r
		}
	}
}

// scanRows takes the rows behind the header apart. looksWhole says whether a
// row is one that this record could hold.
//
// A quote that was never closed, because the program or the disk failed in the
// middle of a row, would swallow every row behind it. Two rules stop that. A
// line inside a quoted cell that is by itself a whole row ends the cell. And a
// row that proves torn ends before the next line that holds a date where the
// dates are, so that each torn row is shown by itself.
func scanRows(data []byte, start int, sep byte, looksWhole func(row) bool, looksDated func(row) bool) []row {
	wholeRowAt := func(i int) bool {
		return dateOnLine(data, i) && looksWhole(scanRow(data, i, sep, nil))
	}
	var rows []row
	for i := start; i < len(data); {
		r := scanRow(data, i, sep, wholeRowAt)
		if r.fault != whole {
			end := i
			for {
				end = endOfLine(data, end)
				next := end + lineEnd(data, end)
				if next >= r.next || dateOnLine(data, next) && looksDated(scanRow(data[:endOfLine(data, next)], next, sep, nil)) {
					r.end, r.next = end, next
					break
				}
				end = next
			}
		}
		rows = append(rows, r)
		i = r.next
	}
	return rows
}

func endOfLine(data []byte, i int) int {
	for i < len(data) && lineEnd(data, i) == 0 {
		i++
	}
	return i
}

var datePattern = regexp.MustCompile(`\d{4}-\d{2}-\d{2}`)

func dateOnLine(data []byte, i int) bool {
	return i < len(data) && datePattern.Match(data[i:endOfLine(data, i)])
}

// lineStarts lists the byte offsets at which the lines of data start.
func lineStarts(data []byte) []int {
	starts := []int{0}
	for i := 0; i < len(data); {
		n := lineEnd(data, i)
		if n == 0 {
			i++
			continue
		}
		i += n
		starts = append(starts, i)
	}
	return starts
}

// place is the line and column of a byte, both counted from one, the column in
// characters.
func (r *Record) place(offset int) (line, column int) {
	line = sort.SearchInts(r.lines, offset+1)
	_, start := r.line(line)
	return line, 1 + utf8.RuneCount(r.data[start:max(offset, start)])
}

// line is the text of a line, counted from one, without its line end, and the
// byte offset at which that text starts.
func (r *Record) line(n int) (text string, start int) {
	start = r.lines[n-1]
	if n == 1 {
		start = r.bom
	}
	return string(r.data[start:endOfLine(r.data, start)]), start
}
