// Package treat holds the commands about treatments: when to give the rounds of
// one, and whether it worked.
package treat

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// Commands are those about treatments.
func Commands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{roundsCommand(sh), workedCommand(sh)}
}
