//go:build !page

package fieldlog

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halfcup/cmd/internal/rows"
)

// columnsFor are the columns that a new record gets: the usual ones, and those
// that its first rows need.
func (r *Record) columnsFor(events []Event) []string {
	out := slices.Clone(firstColumns)
	for _, name := range columnNames {
		holds := func(e Event) bool { return e.Cells()[name] != "" }
		if !slices.Contains(out, name) && slices.ContainsFunc(events, holds) {
			out = append(out, name)
		}
	}
	return out
}

// fitting is the record with a column for everything that some events hold:
// the record itself where it has them all.
func (r *Record) fitting(events []Event) (*Record, error) {
	if r.header.Cells == nil {
		return r, nil
	}
	var missing []string
	var first *ColumnError
	for _, name := range columnNames {
		if _, ok := r.columns[name]; ok {
			continue
		}
		for _, e := range events {
			if holds := e.Cells()[name]; holds != "" {
				missing = append(missing, name)
				if first == nil {
					first = &ColumnError{Path: r.Path, Column: name, Holds: holds}
				}
				break
			}
		}
	}
	if missing == nil {
		return r, nil
	}
	wide, ok := r.widened(missing)
	if !ok {
		return nil, first
	}
	return wide, nil
}

// widened is the record with further columns at the end of its rows, empty in
// all of them. Every byte that stood there still does, in its order. ok is false
// where a row cannot be told from the next, has more cells than columns or
// fewer: what would come to stand in the new columns then, nobody can say.
func (r *Record) widened(names []string) (wide *Record, ok bool) {
	sep := string(r.format.sep)
	var b strings.Builder
	b.WriteString(r.data[:r.header.End])
	b.WriteString(sep + strings.Join(names, sep))
	last := r.header.End
	for at := r.header.Next; at < len(r.data); {
		w := r.rules.Next(r.data, at, nil)
		at = w.Next
		if w.Blank() {
			continue
		}
		if w.Fault != rows.Whole || len(w.Cells) != len(r.header.Cells) {
			return nil, false
		}
		b.WriteString(r.data[last:w.End])
		b.WriteString(strings.Repeat(sep, len(names)))
		last = w.End
	}
	b.WriteString(r.data[last:])
	wide, err := parse(r.Path, b.String(), r.format.order)
	if err != nil || len(wide.Events) != len(r.Events) || len(wide.columns) != len(r.columns)+len(names) {
		return nil, false
	}
	for i := range r.Events {
		x, y := wide.Events[i], r.Events[i]
		x.row, y.row = 0, 0
		if !identical(x, y) {
			return nil, false
		}
	}
	return wide, true
}

// replace puts text in the place of the record in one step, under its lock: a
// reader finds the old file or the new one, and a program that is killed leaves
// the old one.
func replace(path, text string) error {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return fileError("append to", path, err)
	}
	info, err := os.Stat(real)
	if err != nil {
		return fileError("append to", path, err)
	}
	beside := filepath.Join(filepath.Dir(real), "."+filepath.Base(real)+".wider")
	err = writeSynced(beside, []byte(text))
	if err == nil {
		err = os.Chmod(beside, info.Mode().Perm())
	}
	if err == nil {
		err = os.Rename(beside, real)
	}
	if err == nil {
		err = syncFolder(real)
	}
	if err == nil {
		return nil
	}
	os.Remove(beside)
	failed := fileError("append to", path, err)
	if errors.Is(err, fs.ErrPermission) {
		failed.Problem, failed.Remedy = "it needs another column, and its folder may only be read", "allow writing to the folder, or add the column to the first row and an empty cell to every other"
	}
	return failed
}

// idForm is an id as the program writes them: letters of a device, the number
// of the addition and, where that has several rows, the number of the row.
var idForm = regexp.MustCompile(`^([a-z]{1,3})([0-9]{1,9})(\.[0-9]{1,4})?$`)

// number gives the events of one addition their ids, where the record has a
// column for them that holds nothing else.
func (r *Record) number(events []Event, device string) {
	if _, there := r.columns["id"]; device == "" || !there && r.header.Cells != nil {
		return
	}
	last := 0
	for _, e := range r.Events {
		m := idForm.FindStringSubmatch(e.ID)
		if m == nil {
			if e.ID != "" {
				return // a column of the keeper's own
			}
			continue
		}
		if n, _ := strconv.Atoi(m[2]); m[1] == device {
			last = max(last, n)
		}
	}
	for i := range events {
		if events[i].ID != "" {
			continue
		}
		events[i].ID = fmt.Sprintf("%s%d", device, last+1)
		if len(events) > 1 {
			events[i].ID += fmt.Sprintf(".%d", i+1)
		}
	}
}

// LastAddition is the rows that were written together last and stand, in the
// order of the file: those of one number, or the last row where it has none.
// It is empty when no row stands.
func (r *Record) LastAddition() []Event {
	var out []Event
	for _, e := range slices.Backward(r.Events) {
		switch {
		case e.Gone != 0:
		case len(out) == 0:
			out = append(out, e)
		case additionOf(e) != "" && additionOf(e) == additionOf(out[0]):
			out = append(out, e)
		default:
			slices.Reverse(out)
			return out
		}
	}
	slices.Reverse(out)
	return out
}

// additionOf is the id of an event without the number of its row, "" where it
// has no id of ours.
func additionOf(e Event) string {
	m := idForm.FindStringSubmatch(e.ID)
	if m == nil {
		return ""
	}
	return m[1] + m[2]
}

// Last is the last n rows that stand, in the order of the file.
func (r *Record) Last(n int) []Event {
	var out []Event
	for _, e := range slices.Backward(r.Events) {
		if len(out) == n {
			break
		}
		if e.Gone == 0 {
			out = append(out, e)
		}
	}
	slices.Reverse(out)
	return out
}
