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

// OpenRecord is the record, nil when none was named and none is there. Rows that
// no answer can use are told and left out of it, and the line ends in exit 3: an
// answer that leaves out a row must not look like any other. A record in which
// nothing else stands is refused.
func OpenRecord(sh *line.Shell) (*fieldlog.Record, error) {
	whole, err := sh.Record()
	if whole == nil || err != nil {
		return nil, err
	}
	rec, bad := whole.Usable(sh.Today)
	if len(rec.Events) == 0 {
		return rec, errors.Join(asErrors(bad)...)
	}
	sh.LeaveOut(bad)
	return rec, nil
}

func asErrors(bad []*fieldlog.Problem) []error {
	out := make([]error, len(bad))
	for i, p := range bad {
		out[i] = p
	}
	return out
}

// NeedRecord is OpenRecord for a command that can do nothing without a record.
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
