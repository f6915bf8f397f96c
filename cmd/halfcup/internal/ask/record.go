package ask

import (
	"errors"
	"fmt"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
)

// NoteUnread warns of rows that an answer had to leave out.
func NoteUnread(r *fieldlog.Record) []string {
	lines := map[int]bool{}
	for _, p := range r.Problems {
		if !p.Warning {
			lines[p.Line] = true
		}
	}
	if len(lines) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("Left out: %s of %s that cannot be read. halfcup log check shows where, and how to mend it.", show.Many(len(lines), "row", "rows"), r.Path)}
}

// OpenRecord is the record, nil when none was named and none is there. A record
// with rows that cannot be read is refused: an answer that leaves out
// half of a season would look like any other.
func OpenRecord(sh *line.Shell) (*fieldlog.Record, error) {
	rec, err := sh.Record()
	if rec == nil || err != nil {
		return nil, err
	}
	var unreadable []error
	for _, p := range rec.Problems {
		if !p.Warning {
			unreadable = append(unreadable, p)
		}
	}
	for _, p := range rec.Misdated(sh.Today) {
		unreadable = append(unreadable, p)
	}
	return rec, errors.Join(unreadable...)
}

// NeedRecord is OpenRecord for a command that can do nothing without.
func NeedRecord(sh *line.Shell, toFind string) (*fieldlog.Record, error) {
	rec, err := OpenRecord(sh)
	if rec == nil && err == nil {
		err = &show.Problem{What: "there is no record " + sh.LogFile + " to find " + toFind + " in", Remedy: "begin one with halfcup log add, or name it with --log"}
	}
	return rec, err
}

// Doubt has the answer tell what is doubtful in the record it rests on, for
// some colonies or, when none is named, for all.
func Doubt(sh *line.Shell, rec *fieldlog.Record, of ...fieldlog.Colony) {
	sh.Doubts = rec.Doubts(sh.Today, of...)
}
