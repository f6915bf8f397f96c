package rows

import (
	"bytes"
	"errors"
	"io"
)

// Reader takes a table apart as it comes, in memory that does not grow with it.
type Reader struct {
	Rules

	in     io.Reader
	window string // what is read and not yet taken apart starts at pos
	pos    int
	line   int  // lines before pos
	begun  bool // the byte order mark is behind us
	mark   bool // there was one
	ended  bool
	err    error
}

// NewReader reads a table from in. The rules may be changed between rows, as
// one must who learns from the head what the rows look like.
func NewReader(in io.Reader, sep byte) *Reader {
	return &Reader{Rules: Rules{Sep: sep}, in: in}
}

// Placed is a row with where it stands and what stands there.
type Placed struct {
	Row
	Line int    // on which it starts, counted from one
	Raw  string // as it stands in the table, without its line end
}

// Column is where byte offset of the row stands: its line and its column in
// characters, both counted from one.
func (p Placed) Column(offset int) (line, column int) {
	line, column = p.Line, 1
	text := p.Raw[:min(max(offset-p.Start, 0), len(p.Raw))]
	for i := 0; i < len(text); {
		if n := LineEnd(text, i); n > 0 {
			line, column, i = line+1, 1, i+n
			continue
		}
		column++
		for i++; i < len(text) && text[i]&0xC0 == 0x80; i++ {
		}
	}
	return line, column
}

// Mark reports, once a row was read, whether the table begins with a byte order
// mark.
func (r *Reader) Mark() bool { return r.mark }

const byteOrderMark = "\xef\xbb\xbf"

const (
	windowSize = 256 << 10

	// ahead is what must be read behind a row before it is believed: the
	// other byte of a line end.
	ahead = 2
)

// Next is the row after the last one; empty lines are passed over. Its cells use
// the room of cells and stay as they are when reading goes on. The error is io.EOF
// at the end of the table, or what the table's reader said.
func (r *Reader) Next(cells []Cell) (Placed, error) {
	for {
		if r.pos >= len(r.window) && r.ended {
			return Placed{}, r.end()
		}
		row := r.Rules.Next(r.window, r.pos, cells)
		if !r.ended && (r.pos >= len(r.window) || row.Reach+ahead > len(r.window)) && len(r.window)-r.pos < 2*LongestRow {
			r.fill()
			continue
		}
		p := Placed{Row: row, Line: r.line + 1, Raw: r.window[row.Start:row.End]}
		r.line += lineEnds(r.window[row.Start:row.Next])
		r.pos = row.Next
		if row.Fault == Endless || row.Fault == Crowded {
			r.skipLine(row)
		}
		if empty := len(row.Cells) == 1 && row.Blank() && !row.Cells[0].Quoted; !empty {
			return p, nil
		}
	}
}

func (r *Reader) end() error {
	if r.err != nil {
		return r.err
	}
	return io.EOF
}

// fill reads more of the table into the window, and drops what is done with.
func (r *Reader) fill() {
	keep := r.window[r.pos:]
	buf := make([]byte, len(keep)+max(windowSize, len(keep)))
	n := copy(buf, keep)
	more, err := r.in.Read(buf[n:])
	text := buf[:n+more]
	if !r.begun && len(text) >= len(byteOrderMark) {
		r.begun = true
		text, r.mark = bytes.CutPrefix(text, []byte(byteOrderMark))
	}
	r.window, r.pos = string(text), 0
	if err != nil {
		r.ended = true
		if !errors.Is(err, io.EOF) {
			r.err = err
		}
	}
}

// skipLine passes over the rest of a line that is too long for the window.
func (r *Reader) skipLine(row Row) {
	if row.Next > row.End { // its line end was found
		return
	}
	for !r.ended {
		r.pos = len(r.window)
		r.fill()
		if end := EndOfLine(r.window, 0); end < len(r.window) {
			r.pos = end + LineEnd(r.window, end)
			r.line++
			return
		}
	}
	r.pos = len(r.window)
}

func lineEnds(s string) int {
	n := 0
	for i := 0; i < len(s); {
		i = EndOfLine(s, i)
		if l := LineEnd(s, i); l > 0 {
			n++
			i += l
		}
	}
	return n
}
