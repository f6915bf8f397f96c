package season

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// Commands are those about a season and many colonies.
func Commands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{forecastCommand(sh), calendarCommand(sh), yardCommand(sh)}
}
