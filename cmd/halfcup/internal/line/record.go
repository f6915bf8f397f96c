package line

import (
	"errors"
	"fmt"
	"io"
	"io/fs"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
)

// Record is the record as it is when it is first asked for; a command that asks
// twice gets the same. It is nil when none was named and none is there.
func (sh *Shell) Record() (*fieldlog.Record, error) {
	if sh.record == nil {
		rec, err := fieldlog.Open(sh.LogFile, sh.DateOrder())
		if errors.Is(err, fs.ErrNotExist) && !sh.LogNamed {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		sh.record = rec
	}
	return sh.record, nil
}

// Wrote says what the record is since the line wrote into it.
func (sh *Shell) Wrote(rec *fieldlog.Record) { sh.record = rec }

// DateOrder is the order of dates that the settings say, "" when none.
func (sh *Shell) DateOrder() fieldlog.Order {
	if sh.Settings.DateOrder == nil {
		return ""
	}
	return fieldlog.Order(*sh.Settings.DateOrder)
}

// LeaveOut says which rows of the record the answer does not rest on. They are
// told once the answer is written, and the line ends in ExitBadData, unless it
// wrote rows of its own: who sees a line fail writes it again.
func (sh *Shell) LeaveOut(rows []*fieldlog.Problem) { sh.leftOut = rows }

// mostLeftOut is how many rows that are left out are told in full.
const mostLeftOut = 5

// tellLeftOut writes what the answer leaves out, and how to mend it.
func (sh *Shell) tellLeftOut(w io.Writer) {
	for i, p := range sh.leftOut {
		if i == mostLeftOut {
			fmt.Fprintf(w, "halfcup: left out: and %d more: halfcup log check\n", len(sh.leftOut)-i)
			break
		}
		fmt.Fprint(w, p.Layout("halfcup: left out: "))
	}
}

// leftOutWarnings say the same in an answer. Its text says only that there are
// some: who reads it has stderr beside it.
func (sh *Shell) leftOutWarnings() []string {
	n := len(sh.leftOut)
	switch {
	case n == 0 || sh.Format == "csv":
		return nil
	case sh.Format != "json":
		lines := map[int]bool{} // a row may have several faults
		for _, p := range sh.leftOut {
			lines[p.Line] = true
		}
		return []string{fmt.Sprintf("Left out: %s of %s that cannot be used. halfcup log check shows where, and how to mend it.", show.Many(len(lines), "row", "rows"), sh.LogFile)}
	}
	var out []string
	for i, p := range sh.leftOut {
		if i == mostLeftOut {
			return append(out, fmt.Sprintf("Left out: %d more of %s; halfcup log check shows them.", n-i, sh.LogFile))
		}
		out = append(out, fmt.Sprintf("Left out: %s: %s. Mend: %s.", p.Place(), p.What, p.Remedy))
	}
	return out
}
