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
