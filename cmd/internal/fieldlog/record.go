package fieldlog

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"runtime"
	"slices"
	"strings"
	"syscall"

	"halfcup/cmd/internal/rows"
	"halfcup/cmd/internal/show"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

// What a record may hold. A yard of a hundred colonies writes about a megabyte
// and ten thousand rows in ten years; what is beyond these bounds is another
// file, and reading it would take all the memory there is.
const (
	maxSize     = 64 << 20
	maxLines    = 1_000_000
	maxUnread   = 1000     // rows told one by one
	maxNote     = 64 << 10 // bytes
	maxCell     = 1000     // bytes of any other cell
	maxNameSize = 60       // letters
)

// Record is a beekeeper's record as read from its file.
type Record struct {
	Path   string
	Events []Event // the rows that could be read, in the order of the file

	// Problems are the rows that could not be read, by line. Check adds what
	// is impossible in what could be read.
	Problems []*Problem

	data    string
	bom     int   // length of the byte order mark
	lines   []int // byte offsets of the line starts
	header  rows.Row
	columns map[string]int // known column by name
	known   []string       // the same by place, "" for columns of the keeper's own
	rules   rows.Rules
	format  format
	last    int // where the last row starts in which anything is written
	unread  int // rows that could not be read

	// Before settled nothing can change by what is written behind the record:
	// so many events and problems, and the row after them starts there.
	settled struct{ events, problems, at, unread int }

	// What was read of some rows, so that it need not be read again.
	counts     map[CountCells]sampling.Count
	treatments map[[2]string]sampling.TreatmentName

	hasLater bool // whether it has any of the later columns
	ids      map[spelling]*identity
	owned    map[string]int // later columns that hold something else, and the row of which that was told

	lent         bool             // whether a longer record has its rows behind Events
	marked, took bool             // whether any row is marked, or takes back another
	renames      bool             // whether any row renames a colony
	formerly     map[Colony]Event // by the former name, the last row that gave another
	indexes
}

// format is how the file writes what it holds.
type format struct {
	sep       byte
	lineEnd   string
	order     Order // of dates that are not written year-month-day
	commaSign bool  // decimals with a comma
	sawSign   bool  // whether a decimal has told so
}

// Open reads the record at path. A file that is no record at all is a
// *FormatError; rows that cannot be read are the Problems of the record. Rows
// that broke off while several were written are not read: either all of an
// Append is there or nothing of it. Dates are read in an order if one is given,
// else in the one that the dates themselves settle.
func Open(path string, order ...Order) (*Record, error) {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return nil, notAFile(path, "read") // to open a pipe is to wait for it
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fileError("read", path, err)
	}
	defer f.Close()
	if err := regular(path, f, "read"); err != nil {
		return nil, err
	}
	for try := 0; ; try++ {
		data, err := readAll(path, f)
		if err != nil {
			return nil, err
		}
		broken := brokenOff(path, data)
		// A program that was writing just then has its rows there by now, or
		// has taken them back: what we read may be half of them.
		info, err := f.Stat()
		if err == nil && info.Size() != int64(len(data)) && try < 10 {
			if _, err = f.Seek(0, io.SeekStart); err == nil {
				continue
			}
		}
		return parse(path, data[:len(data)-broken], order...)
	}
}

// regular refuses what is no file. A pipe would be waited for without end, and
// can be read only once.
func regular(path string, f *os.File, op string) error {
	info, err := f.Stat()
	switch {
	case err != nil:
		return fileError(op, path, err)
	case info.IsDir():
		return fileError(op, path, &fs.PathError{Op: op, Path: path, Err: syscall.EISDIR})
	case !info.Mode().IsRegular():
		return notAFile(path, op)
	}
	return nil
}

func notAFile(path, op string) *FileError {
	return &FileError{Path: path, Op: op, Problem: "it is a pipe or a device, and a record is a file", Remedy: "write what comes from it into a file, and name that"}
}

// Read reads a record. The name stands for it in messages.
func Read(name string, in io.Reader) (*Record, error) {
	data, err := readAll(name, in)
	if err != nil {
		return nil, err
	}
	return parse(name, data)
}

func readAll(name string, in io.Reader) (string, error) {
	var b strings.Builder
	if f, ok := in.(*os.File); ok {
		if info, err := f.Stat(); err == nil {
			b.Grow(int(min(info.Size(), maxSize)) + 512)
		}
	}
	_, err := io.Copy(&b, io.LimitReader(in, maxSize+1))
	if err != nil {
		return "", fileError("read", name, err)
	}
	if b.Len() > maxSize {
		return "", &FileError{Path: name, Op: "read", Problem: fmt.Sprintf("the file is larger than %d megabytes", maxSize>>20), Remedy: "check that it is the record, or start a new one for the new year"}
	}
	return b.String(), nil
}

const byteOrderMark = "\xef\xbb\xbf"

// parse reads a record whose dates are in an order, if one is given.
func parse(name, data string, order ...Order) (*Record, error) {
	r := &Record{
		Path: name, data: data, columns: map[string]int{}, ids: map[spelling]*identity{}, owned: map[string]int{},
		counts: map[CountCells]sampling.Count{}, treatments: map[[2]string]sampling.TreatmentName{},
	}
	if strings.HasPrefix(data, byteOrderMark) {
		r.bom = len(byteOrderMark)
	}
	if strings.HasPrefix(data, "\xff\xfe") || strings.HasPrefix(data, "\xfe\xff") {
		return nil, notARecord(&Problem{Problem: show.Problem{File: name, What: "the file is written in UTF-16", Remedy: "save it from the spreadsheet as CSV in UTF-8"}})
	}
	if strings.HasPrefix(data, "PK\x03\x04") {
		return nil, notARecord(&Problem{Problem: show.Problem{File: name, What: "this is a spreadsheet's own file (.xlsx or .ods), and the record is a table in text", Remedy: "open it in the spreadsheet and save the sheet as CSV in UTF-8"}})
	}
	if err := r.findLines(0); err != nil {
		return nil, err
	}
	if err := r.readHeader(); err != nil {
		return nil, err
	}
	if r.header.Cells == nil {
		return r, nil
	}
	for _, o := range order {
		r.format.order = o
	}
	r.settleOrder()
	r.readRows(r.header.Next, 0)
	return r, nil
}

// extended is the record as it is with text written behind it. What that
// cannot change is not read again.
func (r *Record) extended(text string) (*Record, error) {
	if r.header.Cells == nil {
		return parse(r.Path, r.data+text, r.format.order)
	}
	x := *r
	x.data, x.owned = r.data+text, maps.Clone(r.owned)
	s := r.settled
	maps.DeleteFunc(x.owned, func(_ string, row int) bool { return row >= s.at })
	x.Events = r.Events[:s.events]
	indexed := 0
	if s.events == len(r.Events) {
		indexed = s.events
	}
	if r.lent || indexed == 0 {
		x.Events = slices.Clip(x.Events)
	}
	r.lent = true
	x.Problems = slices.Clip(r.Problems[:s.problems])
	x.unread = s.unread
	line, _ := r.place(min(s.at, len(r.data)))
	x.lines = slices.Clip(r.lines[:line])
	if err := x.findLines(x.lines[line-1]); err != nil {
		return nil, err
	}
	x.readRows(s.at, indexed)
	return &x, nil
}

// holds reports whether the first events of the record are those of r by being
// the same memory.
func (x *Record) holds(r *Record) bool {
	return len(r.Events) > 0 && len(x.Events) >= len(r.Events) && &x.Events[0] == &r.Events[0]
}

// reread is the record that holds data. Where r, which may be nil, holds the
// beginning of it, only the rest is read.
func (r *Record) reread(path, data string, order Order) (*Record, error) {
	switch {
	case r == nil || r.Path != path || order != "" && r.format.order != order || !strings.HasPrefix(data, r.data):
		return parse(path, data, order)
	case len(data) == len(r.data):
		return r, nil
	}
	return r.extended(data[len(r.data):])
}

func (r *Record) newRules() rows.Rules {
	return rows.Rules{Sep: r.format.sep, Whole: r.looksWhole, Begins: r.looksDated}
}

// readRows reads the rows from a byte offset on. So many of the events there are
// stand in the index.
func (r *Record) readRows(at, indexed int) {
	r.rules = r.newRules()
	open := true
	settle := func() {
		r.settled.events, r.settled.problems, r.settled.at, r.settled.unread = len(r.Events), len(r.Problems), at, r.unread
	}
	// Room for all that can come, and for some rows that are added: to grow a
	// long list again and again costs more than to read the rows.
	const shortest, added = len("2026-08-06,a,died"), 64
	first, _ := r.place(min(at, len(r.data)))
	if most := min(len(r.lines)-first+1, (len(r.data)-at)/shortest+1); most > cap(r.Events)-len(r.Events) {
		r.Events = slices.Grow(r.Events, most+added)
	}
	var cells []rows.Cell
	settle()
	for at < len(r.data) {
		w := r.rules.Next(r.data, at, cells)
		cells = w.Cells
		if open = open && (w.Reach < len(r.data) || r.ends(w)); open {
			at = w.Next
		}
		if !w.Blank() {
			r.last = w.Start
			r.noteSign(w)
			r.readRow(w)
		}
		if open {
			settle()
		}
		at = w.Next
	}
	if more := r.unread - maxUnread; more > 0 {
		p := r.problemOn(r.last, 0, fmt.Sprintf("%d more rows cannot be read", more), "check that the file is the record")
		r.Problems = append(r.Problems, p)
	}
	if len(r.Events) == 0 {
		r.Events = nil
	}
	sortProblems(r.Problems)
	if r.tookFrom(indexed) && indexed > 0 {
		r.Events, indexed = slices.Clone(r.Events), 0
	}
	r.index(indexed)
}

// ends reports whether the last row of the record ends where it does whatever
// comes behind it.
func (r *Record) ends(w rows.Row) bool {
	return w.Fault == rows.Whole && strings.HasSuffix(r.data[w.Start:], "\n") && !strings.Contains(r.data[w.Start:w.End], `"`)
}

// findLines finds where the lines start, from the start of one of them on.
func (r *Record) findLines(at int) error {
	if len(r.lines) == 0 {
		r.lines = append(make([]int, 0, len(r.data)/64+1), 0)
	}
	for at < len(r.data) {
		at = rows.EndOfLine(r.data, at)
		n := rows.LineEnd(r.data, at)
		if n == 0 {
			break
		}
		at += n
		r.lines = append(r.lines, at)
		if len(r.lines) > maxLines {
			return &FileError{Path: r.Path, Op: "read", Problem: fmt.Sprintf("the file has more than %d lines", maxLines), Remedy: "check that it is the record, or start a new one for the new year"}
		}
	}
	return nil
}

// readHeader finds the row of column names and the mark between cells. A file
// in which nothing is written has no header and is an empty record.
func (r *Record) readHeader() error {
	start := r.bom
	for start < len(r.data) {
		end := rows.EndOfLine(r.data, start)
		if strings.Trim(r.data[start:end], " \t") != "" {
			break
		}
		start = end + rows.LineEnd(r.data, end)
	}
	r.format = format{sep: ',', lineEnd: "\n"}
	if start >= len(r.data) {
		return nil
	}
	best := -1
	for _, sep := range []byte{',', ';', '\t'} {
		h := rows.Line(r.data, start, sep)
		known := 0
		for _, c := range h.Cells {
			if slices.Contains(columnNames, columnName(c.Text)) {
				known++
			}
		}
		if known > best {
			best, r.header, r.format.sep = known, h, sep
		}
	}
	r.header.End = rows.EndOfLine(r.data, start)
	r.format.commaSign = r.format.sep == ';' // it came to spreadsheets where decimals have a comma
	n := rows.LineEnd(r.data, r.header.End)
	r.header.Next = r.header.End + n
	if n > 0 {
		r.format.lineEnd = string(r.data[r.header.End:r.header.Next])
	}

	r.known = make([]string, len(r.header.Cells))
	var bad []*Problem
	fail := func(c rows.Cell, message, remedy string) {
		bad = append(bad, r.problemOn(c.Start, c.End-c.Start, message, remedy))
	}
	for i, c := range r.header.Cells {
		name := columnName(c.Text)
		if !slices.Contains(columnNames, name) {
			continue
		}
		if _, twice := r.columns[name]; twice {
			fail(c, fmt.Sprintf("there are two columns %s", name), "rename one of them")
			continue
		}
		r.columns[name], r.known[i] = i, name
		r.hasLater = r.hasLater || slices.Contains(laterColumns, name)
	}
	if len(r.columns) == 0 {
		return notARecord(r.problemOn(r.header.Start, r.header.End-r.header.Start, "the first row does not name the columns of a record", "put this row first: "+strings.Join(firstColumns, string(r.format.sep))))
	}
	for _, name := range []string{"date", "colony", "event"} {
		if _, ok := r.columns[name]; ok {
			continue
		}
		remedy := "name the column that holds it, or add one: " + name
		at := r.header.Cells[0]
		for _, c := range r.header.Cells {
			if meant.Word(columnName(c.Text), []string{name}) != "" {
				at, remedy = c, fmt.Sprintf("rename the column %q to %s", c.Text, name)
			}
		}
		fail(at, "there is no column "+name, remedy)
	}
	if r.header.Fault != rows.Whole {
		fail(r.header.Cells[len(r.header.Cells)-1], "a quote in the first row is never closed", "write the column names without quotes")
	}
	if bad != nil {
		return &FormatError{Problems: bad}
	}
	for _, c := range r.header.Cells {
		var missing []string
		for _, name := range firstColumns {
			if _, ok := r.columns[name]; !ok {
				missing = append(missing, name)
			}
		}
		name := columnName(c.Text)
		if read := meant.Word(name, missing); read != "" && !slices.Contains(columnNames, name) && 3*len(name) > len(read) {
			p := r.problemOn(c.Start, c.End-c.Start, fmt.Sprintf("the column %q is kept but not read, and there is no column %s", c.Text, read), "rename it to "+read+" if that is what it holds")
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
func (r *Record) looksWhole(w rows.Row) bool {
	if w.Fault != rows.Whole || len(w.Cells) != len(r.header.Cells) {
		return false
	}
	for _, c := range w.Cells {
		if !c.Quoted && strings.Contains(c.Text, `"`) {
			return false
		}
	}
	_, known := r.kindOf(w)
	return known && r.looksDated(w)
}

// looksDated reports whether a row holds a date where the dates are.
func (r *Record) looksDated(w rows.Row) bool {
	i := r.columns["date"]
	if i >= len(w.Cells) {
		return false
	}
	text := withoutTime(w.Cells[i].Text)
	if len(text) == len("2026-08-06") {
		if _, err := sampling.ParseDate(text); err == nil {
			return true
		}
	}
	a, _, c, three := threeNumbers(text)
	return three && (a >= 1900 || c >= 1900)
}

// noteSign learns how the file writes decimals from the first row that has
// one.
func (r *Record) noteSign(w rows.Row) {
	if r.format.sawSign {
		return
	}
	for _, name := range []string{"amount", "adult_bees"} {
		i, ok := r.columns[name]
		if !ok || i >= len(w.Cells) {
			continue
		}
		text := w.Cells[i].Text
		if at := strings.IndexAny(text, ".,"); at > 0 && at+1 < len(text) && isDigit(text[at-1]) && isDigit(text[at+1]) {
			r.format.commaSign, r.format.sawSign = text[at] == ',' && r.format.sep != ',', true
			return
		}
	}
}

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

// rowOf is the row of an event of this record.
func (r *Record) rowOf(e Event) rows.Row { return r.rules.Next(r.data, e.row, nil) }

// Columns lists the names of the columns as the file writes them.
func (r *Record) Columns() []string {
	var out []string
	for _, c := range r.header.Cells {
		out = append(out, c.Text)
	}
	return out
}

// Cell is what an event's row holds in a column, the beekeeper's own columns
// included, and "" where the record has no such column.
func (r *Record) Cell(e Event, column string) string {
	for i, c := range r.header.Cells {
		if columnName(c.Text) == columnName(column) {
			return r.rowOf(e).Cells[i].Text
		}
	}
	return ""
}

// ByDate is the events by day, those of one day in the order of the file.
func (r *Record) ByDate() []Event {
	return byDate(slices.Clone(r.Events))
}

func byDate(events []Event) []Event {
	before := func(a, b Event) int { return int(a.Date - b.Date) }
	if !slices.IsSortedFunc(events, before) { // as most are
		slices.SortStableFunc(events, before)
	}
	return events
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
