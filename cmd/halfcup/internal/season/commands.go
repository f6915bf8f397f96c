// Package season holds the commands that look over a season or over many
// colonies: the yard, the weeks to come, the calendar, the year
// looked back on.
package season

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// Commands are those about a season and many colonies.
func Commands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{yardCommand(sh), forecastCommand(sh), calendarCommand(sh), reviewCommand(sh)}
}
