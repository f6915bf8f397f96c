package fieldlog

import (
	"cmp"
	"slices"
	"sort"
	"strings"
	"unicode/utf8"

	"halfcup/cmd/internal/rows"
	"halfcup/cmd/internal/show"
)

// Problem is one thing that is wrong in a record, where, and how to mend it.
type Problem struct {
	show.Problem

	// Warning marks what is doubtful but can be true: the row is used.
	Warning bool

	colony  Colony // whose row it is; zero when no row could be read
	answers string // what answers make of the row, "" when they use it as it is
}

// Unwrap lets the shell show the problem like any other.
func (p *Problem) Unwrap() error { return &p.Problem }

// problemOn makes a problem of length bytes at a byte offset. What reaches
// past the end of the line is not marked.
func (r *Record) problemOn(offset, length int, message, remedy string) *Problem {
	line, column := r.place(offset)
	text, start := r.line(line)
	return &Problem{Problem: show.Problem{
		File: r.Path, Line: line, Column: column,
		Text: text, Offset: offset - start, Length: min(length, len(text)-(offset-start)),
		What: message, Remedy: remedy,
	}}
}

// ProblemAt makes a problem that points at a cell of an event of this record,
// or at the first cell of its row when the record has no such column.
func (r *Record) ProblemAt(e Event, column, message, remedy string) *Problem {
	w := r.rowOf(e)
	c := w.Cells[0]
	if i, ok := r.columns[column]; ok {
		c = w.Cells[i]
	}
	p := r.problemOn(c.Start, c.End-c.Start, message, remedy)
	p.colony = Of(e)
	return p
}

func sortProblems(ps []*Problem) {
	slices.SortStableFunc(ps, func(a, b *Problem) int {
		return cmp.Or(a.Line-b.Line, a.Column-b.Column)
	})
}

// FormatError says that a file is no record at all: nothing in it can be read
// and nothing can be appended to it.
type FormatError struct{ Problems []*Problem }

func (e *FormatError) Error() string {
	var lines []string
	for _, p := range e.Problems {
		lines = append(lines, p.Error())
	}
	return strings.Join(lines, "\n")
}

func notARecord(why *Problem) *FormatError { return &FormatError{Problems: []*Problem{why}} }

// Unwrap gives the problems one by one.
func (e *FormatError) Unwrap() []error {
	out := make([]error, len(e.Problems))
	for i, p := range e.Problems {
		out[i] = p
	}
	return out
}

// place is the line and column of a byte, both counted from one, the column in
// characters.
func (r *Record) place(offset int) (line, column int) {
	line = sort.SearchInts(r.lines, offset+1)
	_, start := r.line(line)
	return line, 1 + utf8.RuneCountInString(r.data[start:max(offset, start)])
}

// line is the text of a line, counted from one, without its line end, and the
// byte offset at which that text starts.
func (r *Record) line(n int) (text string, start int) {
	start = r.lines[n-1]
	if n == 1 {
		start = r.bom
	}
	return r.data[start:rows.EndOfLine(r.data, start)], start
}
