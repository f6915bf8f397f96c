package fieldlog

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"runtime"
	"slices"
	"strings"
	"syscall"

	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// maxSize bounds the record that is read into memory. A yard of a hundred
// colonies writes about a megabyte in ten years.
const maxSize = 64 << 20

// Record is a beekeeper's record as read from its file.
type Record struct {
	Path   string
	Events []Event // the rows that could be read, in the order of the file

	// Problems are the rows that could not be read, by line. Check adds what
	// is impossible in what could be read.
	Problems []*Problem

	data    []byte
	bom     int   // length of the byte order mark
	lines   []int // byte offsets of the line starts
	header  row
	columns map[string]int // known column by name
	rows    []row
	format  format
}

// format is how the file writes what it holds.
type format struct {
	sep       byte
	lineEnd   string
	commaSign bool // decimals with a comma
}

// Open reads the record at path. A file that is no record at all is a
// *FormatError; rows that cannot be read are the Problems of the record.
func Open(path string) (*Record, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fileError("read", path, err)
	}
	defer f.Close()
	return Read(path, f)
}

// Read reads a record. The name stands for it in messages.
func Read(name string, in io.Reader) (*Record, error) {
	data, err := io.ReadAll(io.LimitReader(in, maxSize+1))
	if err != nil {
		return nil, fileError("read", name, err)
	}
	if len(data) > maxSize {
		return nil, &FileError{Path: name, Op: "read", Problem: fmt.Sprintf("the file is larger than %d megabytes", maxSize>>20), Remedy: "check that it is the record, or start a new one for the new year"}
	}
	return parse(name, data)
}

var byteOrderMark = []byte("\xef\xbb\xbf")

func parse(name string, data []byte) (*Record, error) {
	r := &Record{Path: name, data: data, lines: lineStarts(data), columns: map[string]int{}}
	if bytes.HasPrefix(data, byteOrderMark) {
		r.bom = len(byteOrderMark)
	}
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return nil, &FormatError{[]*Problem{{Problem: show.Problem{File: name, What: "the file is written in UTF-16", Remedy: "save it from the spreadsheet as CSV in UTF-8"}}}}
	}
	if err := r.readHeader(); err != nil {
		return nil, err
	}
	if r.header.cells == nil {
		return r, nil
	}
	for _, w := range scanRows(data, r.header.next, r.format.sep, r.looksWhole, r.looksDated) {
		if !w.blank() {
			r.rows = append(r.rows, w)
		}
	}
	r.format.commaSign = r.usesCommaSign()
	for i := range r.rows {
		r.readRow(i)
	}
	sortProblems(r.Problems)
	return r, nil
}

// readHeader finds the row of column names and the mark between cells. A file
// in which nothing is written has no header and is an empty record.
func (r *Record) readHeader() error {
	start := r.bom
	for start < len(r.data) && len(bytes.Trim(r.data[start:endOfLine(r.data, start)], " \t")) == 0 {
		start = endOfLine(r.data, start)
		start += lineEnd(r.data, start)
	}
	r.format = format{sep: ',', lineEnd: "\n"}
	if start >= len(r.data) {
		return nil
	}
	best := -1
	for _, sep := range []byte{',', ';', '\t'} {
		h := scanRow(r.data[:endOfLine(r.data, start)], start, sep, nil)
		known := 0
		for _, c := range h.cells {
			if slices.Contains(columnNames, columnName(c.text)) {
				known++
			}
		}
		if known > best {
			best, r.header, r.format.sep = known, h, sep
		}
	}
	n := lineEnd(r.data, r.header.end)
	r.header.next = r.header.end + n
	if n > 0 {
		r.format.lineEnd = string(r.data[r.header.end:r.header.next])
	}

	var bad []*Problem
	fail := func(c cell, message, remedy string) {
		bad = append(bad, r.problemOn(c.start, c.end-c.start, message, remedy))
	}
	for i, c := range r.header.cells {
		name := columnName(c.text)
		if !slices.Contains(columnNames, name) {
			continue
		}
		if _, twice := r.columns[name]; twice {
			fail(c, fmt.Sprintf("there are two columns %s", name), "rename one of them")
			continue
		}
		r.columns[name] = i
	}
	if len(r.columns) == 0 {
		return &FormatError{[]*Problem{r.problemOn(r.header.start, r.header.end-r.header.start, "the first row does not name the columns of a record", "put this row first: "+strings.Join(columnNames, string(r.format.sep)))}}
	}
	for _, name := range []string{"date", "colony", "event"} {
		if _, ok := r.columns[name]; ok {
			continue
		}
		remedy := "name the column that holds it, or add one: " + name
		at := r.header.cells[0]
		for _, c := range r.header.cells {
			if sampling.Nearest(columnName(c.text), []string{name}) != "" {
				at, remedy = c, fmt.Sprintf("rename the column %q to %s", c.text, name)
			}
		}
		fail(at, "there is no column "+name, remedy)
	}
	if r.header.fault != whole {
		fail(r.header.cells[len(r.header.cells)-1], "a quote in the first row is never closed", "write the column names without quotes")
	}
	if bad != nil {
		return &FormatError{bad}
	}
	for _, c := range r.header.cells {
		var missing []string
		for _, name := range columnNames {
			if _, ok := r.columns[name]; !ok {
				missing = append(missing, name)
			}
		}
		name := columnName(c.text)
		if near := sampling.Nearest(name, missing); near != "" && !slices.Contains(columnNames, name) && 3*len(name) > len(near) {
			p := r.problemOn(c.start, c.end-c.start, fmt.Sprintf("the column %q is kept but not read, and there is no column %s", c.text, near), "rename it to "+near+" if that is what it holds")
			p.Warning = true
			r.Problems = append(r.Problems, p)
		}
	}
	return nil
}

var underscores = strings.NewReplacer(" ", "_", "-", "_")

// columnName brings the spellings of a column name together.
func columnName(s string) string {
	return underscores.Replace(strings.ToLower(s))
}

// looksWhole reports whether a row could stand in this record: as many cells
// as there are columns, a date and an event. A bare quote in it is the end of a
// note that began on an earlier line.
func (r *Record) looksWhole(w row) bool {
	if w.fault != whole || len(w.cells) != len(r.header.cells) {
		return false
	}
	for _, c := range w.cells {
		if !c.quoted && strings.Contains(c.text, `"`) {
			return false
		}
	}
	_, known := parseKind(w.cells[r.columns["event"]].text)
	return known && r.looksDated(w)
}

// looksDated reports whether a row holds a date where the dates are.
func (r *Record) looksDated(w row) bool {
	i := r.columns["date"]
	if i >= len(w.cells) {
		return false
	}
	_, err := sampling.ParseDate(w.cells[i].text)
	return err == nil
}

// usesCommaSign finds out how the file writes decimals: as its first decimal
// is written, and where it has none as its cells are separated, because the
// semicolon came to spreadsheets where the comma is the decimal sign.
func (r *Record) usesCommaSign() bool {
	for _, w := range r.rows {
		for _, name := range []string{"amount", "adult_bees"} {
			i, ok := r.columns[name]
			if !ok || i >= len(w.cells) {
				continue
			}
			text := w.cells[i].text
			if at := strings.IndexAny(text, ".,"); at > 0 && at+1 < len(text) && isDigit(text[at-1]) && isDigit(text[at+1]) {
				return text[at] == ',' && r.format.sep != ','
			}
		}
	}
	return r.format.sep == ';'
}

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

// Columns lists the names of the columns as the file writes them.
func (r *Record) Columns() []string {
	var out []string
	for _, c := range r.header.cells {
		out = append(out, c.text)
	}
	return out
}

// Cell is what an event's row holds in a column, the beekeeper's own columns
// included, and "" where the record has no such column.
func (r *Record) Cell(e Event, column string) string {
	for i, c := range r.header.cells {
		if columnName(c.text) == columnName(column) {
			return r.rows[e.row].cells[i].text
		}
	}
	return ""
}

// ByDate is the events by day, those of one day in the order of the file.
func (r *Record) ByDate() []Event {
	return byDate(slices.Clone(r.Events))
}

func byDate(events []Event) []Event {
	slices.SortStableFunc(events, func(a, b Event) int { return int(a.Date - b.Date) })
	return events
}

// Colonies lists the colonies of the record in the order in which they first
// stand in it, under the names they have there.
func (r *Record) Colonies() []Colony {
	var out []Colony
	seen := map[Colony]bool{}
	for _, e := range r.Events {
		if id := Of(e); !seen[id] {
			seen[id] = true
			out = append(out, Colony{e.Yard, e.Colony})
		}
	}
	return out
}

// History is the events of one colony by day. The yard may be left out when no
// two yards have a colony of that name. A colony that is not in the record, or
// that could be either of two, is a *ColonyError.
func (r *Record) History(yard, colony string) ([]Event, error) {
	var matches []Colony
	var names []string
	for _, c := range r.Colonies() {
		names = append(names, c.Name)
		if SameName(c.Name) == SameName(colony) && (yard == "" || SameName(c.Yard) == SameName(yard)) {
			matches = append(matches, c)
		}
	}
	switch {
	case len(matches) == 0:
		e := &ColonyError{Yard: yard, Colony: colony, Remedy: "check the name, or write the first row of this colony with halfcup log add"}
		if near := sampling.Nearest(SameName(colony), names); near != "" && SameName(near) != SameName(colony) {
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
	var out []Event
	id := Colony{SameName(matches[0].Yard), SameName(matches[0].Name)}
	for _, e := range r.Events {
		if Of(e) == id {
			out = append(out, e)
		}
	}
	return byDate(out), nil
}

// ColonyError says that a colony is not in the record, or that Yards have one
// of its name each.
type ColonyError struct {
	Yard, Colony string
	Yards        []string
	Remedy       string
}

func (e *ColonyError) Error() string { return e.Problem() + ": " + e.Remedy }

// Problem is what is wrong, without the remedy.
func (e *ColonyError) Problem() string {
	if e.Yards != nil {
		return fmt.Sprintf("%d yards have a colony %s", len(e.Yards), e.Colony)
	}
	where := "the record"
	if e.Yard != "" {
		where = "the yard " + e.Yard
	}
	return fmt.Sprintf("there is no colony %s in %s", e.Colony, where)
}

// FileError says that the record's file could not be read or written.
type FileError struct {
	Path, Op        string // Op is read, append to or lock
	Problem, Remedy string
	Err             error // what the system said, nil when the problem is ours
}

func (e *FileError) Error() string {
	return fmt.Sprintf("cannot %s %s: %s: %s", e.Op, e.Path, e.Problem, e.Remedy)
}

func (e *FileError) Unwrap() error { return e.Err }

// diskFull reports the ways in which a system says that a file cannot grow.
func diskFull(err error) bool {
	const windowsDiskFull = syscall.Errno(112)
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EFBIG) ||
		runtime.GOOS == "windows" && errors.Is(err, windowsDiskFull)
}

// fileError puts what the system said into words and says what to do.
func fileError(op, path string, err error) *FileError {
	e := &FileError{Path: path, Op: op, Problem: err.Error(), Remedy: "check the file and the disk it is on", Err: err}
	var p *fs.PathError
	if errors.As(err, &p) {
		e.Problem = p.Err.Error()
	}
	info, statErr := os.Stat(path)
	switch {
	case diskFull(err):
		e.Problem, e.Remedy = "the disk is full", "make room and write the row again; the record is as it was"
	case errors.Is(err, fs.ErrNotExist) && op == "read":
		e.Problem, e.Remedy = "there is no such file", "check the name given with --log, or start a record with halfcup log add"
	case errors.Is(err, fs.ErrNotExist):
		e.Problem, e.Remedy = "its folder is not there", "make the folder, or name another place with --log"
	case statErr == nil && info.IsDir():
		e.Problem, e.Remedy = "it is a folder", "name the file, such as "+path+string(os.PathSeparator)+"halfcup.csv"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		e.Problem, e.Remedy = "the file or its folder may only be read", "allow writing to it, or name another place with --log"
		if op == "read" {
			e.Problem, e.Remedy = "reading it is not allowed", "allow reading it, or name another file with --log"
		}
	}
	return e
}
