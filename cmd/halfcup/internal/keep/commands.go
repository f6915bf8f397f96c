// Package keep holds the commands that keep and read what was written down: the
// record, pairs of counts, surveys, and where every figure comes from.
package keep

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// Commands are those that keep and read what was written down.
func Commands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{addCommand(sh), undoCommand(sh), logCommand(sh), calibrateCommand(sh), batchCommand(sh), sourcesCommand(sh)}
}

// Answers are the answers of these commands in JSON, by the name of their
// schema: an empty one of each type. What batch writes of a row has columns of
// the beekeeper's own, and is not among them.
func Answers() map[string]any {
	return map[string]any{
		"halfcup.log-add/3": added{}, "halfcup.undo/2": undoneJSON{}, "halfcup.log-list/2": listedJSON{}, "halfcup.treatments/2": treatmentsJSON{},
		"halfcup.log-check/1": checkedJSON{}, "halfcup.log-done/2": waitingJSON{}, "halfcup.log-merge/2": mergedJSON{},
		"halfcup.calibrate/2": calibrated{}, "halfcup.sources/2": sourcesJSON{},
	}
}
