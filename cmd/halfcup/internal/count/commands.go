package count

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// Commands are those that read counts: how infested, is it enough, what next.
func Commands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{estimateCommand(sh), enoughCommand(sh), chooseCommand(sh), tallyCommand(sh)}
}
