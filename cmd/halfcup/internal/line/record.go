package line

import (
	"errors"
	"io/fs"

	"halfcup/cmd/internal/fieldlog"
)

// Record is the record as it is when it is first asked for; a command that asks
// twice gets the same. It is nil when none was named and none is there.
func (sh *Shell) Record() (*fieldlog.Record, error) {
	if sh.record == nil {
		rec, err := fieldlog.Open(sh.LogFile)
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
