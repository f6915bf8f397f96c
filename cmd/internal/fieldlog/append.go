//go:build !page

package fieldlog

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/gofrs/flock"

	"halfcup/cmd/internal/rows"
	"halfcup/cmd/internal/show"
)

// Options say how to append.
type Options struct {
	Again bool // write a row even if the record holds the same already

	// Device is the letters that the ids of new rows begin with, in a new
	// record and in one that has a column for them; "" for rows without.
	Device string

	// Finish fills in what depends on the record as it stands when the rows
	// are written, such as a label that is not taken yet. May be nil.
	Finish func(r *Record, events []Event)

	// Known is the record as it was read before, nil when it was not. What of
	// it still stands in the file is not read again.
	Known *Record

	// Order is that of dates in the record that are not written
	// year-month-day, "" when the dates themselves say it.
	Order Order

	// Wait is how long to wait for another program that is writing; 0 means
	// ten seconds.
	Wait time.Duration
}

// Appended is what Append did.
type Appended struct {
	Record  *Record // the record as it is now
	Events  []Event // the new events as the record reads them
	Created bool    // the file is new

	// Torn is the last row of the record as it was before, when it could not
	// be read or has no line end: nothing of it was changed, the new rows
	// start on a line of their own. Nil when all was well.
	Torn *Problem
}

// Append writes events at the end of the record at path, and makes the file
// when there is none. All of them are written or, when there is an error,
// none: the file is then byte for byte as it was. Nothing that stands in the
// file is ever changed, except that a record which lacks a column for what is
// written is given it, at the end of its rows; see widened.
//
// That holds for a program that is killed in the middle, too: what an Append
// before this one left behind of its rows is taken back first, see intent.
// Asked for rows that such an Append wrote in full and did not live to report, it
// reports them as its own.
//
// Another program's Append waits its turn. The rows are written in one piece
// and are on the disk when Append returns. Before that they are read back in
// memory, so that what is written is what will be read.
//
// Errors are *FormatError (the file is no record), *FileError (the file cannot
// be written), *ColumnError (the record has no column for it), *DuplicateError
// and, for an event no record can hold, *Problem.
func Append(path string, events []Event, o Options) (Appended, error) {
	if len(events) == 0 {
		return Appended{}, errors.New("there is nothing to append")
	}
	info, statErr := os.Stat(path)
	created := errors.Is(statErr, fs.ErrNotExist)
	if statErr == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return Appended{}, notAFile(path, "append to")
	}
	unlock, err := lock(path, o.Wait)
	if err != nil {
		return Appended{}, err
	}
	defer unlock()
	a, err := appendLocked(path, events, o)
	if created {
		if info, statErr := os.Stat(path); err != nil && statErr == nil && info.Size() == 0 {
			os.Remove(path)
		}
	}
	return a, err
}

func appendLocked(path string, events []Event, o Options) (Appended, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_APPEND|os.O_CREATE, 0o644)
	if err != nil {
		return Appended{}, fileError("append to", path, err)
	}
	defer f.Close()
	if err := regular(path, f, "append to"); err != nil {
		return Appended{}, err
	}
	data, err := readAll(path, f)
	if err != nil {
		return Appended{}, err
	}
	left, err := recovered(f, path, data)
	if err != nil {
		return Appended{}, err
	}
	before, err := o.Known.reread(path, data[:len(data)-left.broken], o.Order)
	if err != nil {
		return Appended{}, err
	}
	if n := before.asked(left, events); n > 0 {
		return Appended{Record: before, Events: before.Events[len(before.Events)-n:], Created: left.at == 0}, nil
	}
	if o.Finish != nil {
		o.Finish(before, events)
	}
	before.number(events, o.Device)
	target, err := before.fitting(events)
	if err != nil {
		return Appended{}, err
	}
	text, after, err := compose(target, events, o.Again)
	if err != nil {
		return Appended{}, err
	}
	if target != before {
		f.Close() // it is about to be replaced
		if err := replace(path, after.data); err != nil {
			return Appended{}, err
		}
	} else if err := writeAllOrNone(f, path, before.data, text, len(events)); err != nil {
		return Appended{}, err
	}
	if len(before.data) == 0 {
		if err := syncFolder(path); err != nil {
			return Appended{}, fileError("append to", path, err)
		}
	}
	return Appended{
		Record: after, Events: after.Events[len(after.Events)-len(events):],
		Created: len(before.data) == 0, Torn: before.tornEnd(),
	}, nil
}

// compose writes the rows of the events in the manner of the record, and
// reads the record back as it will be with them.
func compose(before *Record, events []Event, again bool) (text string, after *Record, err error) {
	var b strings.Builder
	columns := before.Columns()
	f := before.format
	switch {
	case columns == nil:
		columns = before.columnsFor(events)
		if n := len(before.data); n > before.bom && rows.LineEnd(before.data, n-1) == 0 {
			b.WriteString(f.lineEnd) // blanks
		}
		b.WriteString(f.row(columns))
	case rows.LineEnd(before.data, len(before.data)-1) == 0:
		b.WriteString(f.lineEnd)
	}
	known := before.among(events)
	for i := range events {
		e := &events[i]
		if e.Note, err = notTwice(known[Of(*e)], *e, again); err != nil {
			return "", nil, err
		}
		known[Of(*e)] = append(known[Of(*e)], *e)
		cells := e.Cells()
		row := make([]string, len(columns))
		for j, c := range columns {
			row[j] = cells[columnName(c)]
			if f.commaSign && (columnName(c) == "amount" || columnName(c) == "adult_bees") {
				row[j] = strings.ReplaceAll(row[j], ".", ",")
			}
			delete(cells, columnName(c))
		}
		for _, name := range columnNames {
			if cells[name] != "" {
				return "", nil, &ColumnError{Path: before.Path, Column: name, Holds: cells[name]}
			}
		}
		b.WriteString(f.row(row))
	}
	text = b.String()
	if after, err = before.extended(text); err != nil {
		return "", nil, err
	}
	return text, after, sameAs(before, events, after)
}

// among are the events of the record that are of the colonies and days of
// some others, by colony.
func (r *Record) among(events []Event) map[Colony][]Event {
	known := map[Colony][]Event{}
	for _, e := range events {
		id := Of(e)
		if known[id] != nil {
			continue
		}
		known[id] = []Event{}
		for _, i := range r.byColony[id] { // those that stand
			if same := func(e Event) bool { return Of(e) == id && e.Date == r.Events[i].Date }; slices.ContainsFunc(events, same) {
				known[id] = append(known[id], r.Events[i])
			}
		}
	}
	return known
}

// sameAs makes sure that after holds the events of before and then the new
// ones, and says what is wrong where it does not.
func sameAs(before *Record, events []Event, after *Record) error {
	old := len(before.data)
	for _, p := range after.Problems {
		if at := after.lines[p.Line-1]; at >= old && !p.Warning {
			return p
		}
	}
	n := len(before.Events)
	same := len(after.Events) == n+len(events)
	for i := 0; same && i < n && !after.holds(before); i++ {
		same = identical(before.Events[i], after.Events[i])
	}
	for i := 0; same && i < len(events); i++ {
		same = maps.Equal(events[i].Cells(), after.Events[n+i].Written().Cells())
	}
	if same {
		return nil
	}
	p := &Problem{}
	p.What, p.Remedy = "this row would not read back as it was written", "say when, which colony and what happened, and write the note on one line"
	return p
}

// notTwice refuses an event that is among the known ones. Told to write it
// again, it gives it a note that tells it from them.
func notTwice(known []Event, e Event, again bool) (note string, err error) {
	note = strings.TrimSpace(unixLines(e.Note))
	e.Note = note
	for round := 1; ; round++ {
		var same *Event
		for i := range known {
			if sameFact(known[i], e) && (!again || known[i].Cells()["note"] == e.Note) {
				same = &known[i]
			}
		}
		if same == nil {
			return e.Note, nil
		}
		if !again {
			return "", &DuplicateError{Event: *same}
		}
		e.Note = strings.TrimSpace(note + " (again)")
		if round > 1 {
			e.Note = strings.TrimSpace(fmt.Sprintf("%s (again %d)", note, round))
		}
	}
}

// row writes cells as one row of the file. None of them is a formula to a
// spreadsheet.
func (f format) row(cells []string) string {
	var b strings.Builder
	for i, c := range cells {
		if i > 0 {
			b.WriteByte(f.sep)
		}
		c = show.Inert(c)
		if strings.ContainsAny(c, "\"\r\n"+string(f.sep)) || strings.Trim(c, " \t") != c {
			c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
		}
		b.WriteString(c)
	}
	return b.String() + f.lineEnd
}

// tornEnd is what is wrong with the end of the record, nil when nothing is.
func (r *Record) tornEnd() *Problem {
	if r.last == 0 {
		return nil
	}
	first, _ := r.place(r.last)
	for _, p := range r.Problems {
		if p.Line >= first {
			return p
		}
	}
	return nil
}

// writeWhole appends text to f, which is size bytes long, and sees it on to
// the disk. When any of that fails the file is cut back to what it was.
func writeWhole(f *os.File, path string, size int, text string) error {
	n, err := f.WriteString(text)
	if err == nil && n < len(text) {
		err = io.ErrShortWrite
	}
	if err == nil {
		err = f.Sync()
	}
	if err == nil {
		return nil
	}
	failed := fileError("append to", path, err)
	if undo := errors.Join(f.Truncate(int64(size)), f.Sync()); undo != nil {
		failed.Problem += ", and the part that was written could not be taken back"
		failed.Remedy = "nothing that stood there is lost; see with halfcup log check whether the last row is whole"
		failed.Err = errors.Join(err, undo)
	}
	return failed
}

// syncFolder makes sure that a new file is found after a power failure.
// Windows keeps its folders by itself and refuses to be asked.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}

const (
	defaultWait = 10 * time.Second
	lockPoll    = 2 * time.Millisecond
)

// lock keeps other programs from appending to the record at path until unlock
// is called.
//
// The lock is on the record itself, so that it needs no second file, which a
// folder that may only be read would not take, and leaves none lying about. When
// an editor puts a new file in its place just then, the lock is on a file that
// is gone: after locking we look whether it is still the same file. On Windows a
// lock would keep everyone, us included, from reading the record, so there it is
// on a file beside it.
func lock(path string, wait time.Duration) (unlock func(), err error) {
	if wait == 0 {
		wait = defaultWait
	}
	ctx, cancel := context.WithTimeout(context.Background(), wait)
	defer cancel()
	lockPath := path
	if runtime.GOOS == "windows" {
		lockPath += ".lock"
	}
	for {
		l := flock.New(lockPath, flock.SetFlag(os.O_CREATE|os.O_RDWR), flock.SetPermissions(0o644))
		_, err := l.TryLockContext(ctx, lockPoll)
		if errors.Is(err, context.DeadlineExceeded) {
			return nil, &FileError{Path: path, Op: "append to", Problem: fmt.Sprintf("another program has been writing to it for %v", wait), Remedy: "close that program and write the row again", Err: err}
		}
		if err != nil {
			return nil, fileError("append to", path, err)
		}
		held, err := l.Stat()
		if there, statErr := os.Stat(lockPath); err == nil && statErr == nil && os.SameFile(held, there) {
			return func() { l.Close() }, nil
		}
		l.Close()
	}
}

// DuplicateError says that the record holds the same event already, or that
// it was given twice: its Line is then 0.
type DuplicateError struct{ Event Event }

func (e *DuplicateError) Error() string {
	if e.Event.Line == 0 {
		return fmt.Sprintf("the same row of %s on %s is given twice", e.Event.Colony, e.Event.Date)
	}
	return fmt.Sprintf("line %d says the same of %s on %s", e.Event.Line, e.Event.Colony, e.Event.Date)
}

// ColumnError says that the record has no column for what an event holds.
type ColumnError struct{ Path, Column, Holds string }

func (e *ColumnError) Error() string {
	return fmt.Sprintf("%s: %s: %s", e.Path, e.Problem(), e.Remedy())
}

// Problem is what is wrong, without the remedy.
func (e *ColumnError) Problem() string {
	return fmt.Sprintf("there is no column %s to write %q into", e.Column, e.Holds)
}

// Remedy is what to do about it.
func (e *ColumnError) Remedy() string {
	return "a row that is torn or has too many cells keeps it from being added: mend what halfcup log check shows, and write this again"
}
