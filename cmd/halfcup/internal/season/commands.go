// Package season holds the commands that look over a season or over many
// colonies: the yard, the weeks to come, the calendar, the year looked back on.
package season

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// Commands are those about a season and many colonies.
func Commands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{yardCommand(sh), forecastCommand(sh), calendarCommand(sh), reviewCommand(sh)}
}

// Answers are the answers of these commands in JSON, by the name of their
// schema: an empty one of each type.
func Answers() map[string]any {
	return map[string]any{
		"halfcup.forecast/3": forecastJSON{}, "halfcup.calendar/3": calendarJSON{}, "halfcup.yard/3": yardJSON{},
		"halfcup.yards/2": yardsJSON{}, "halfcup.yard-compare/3": comparison{}, "halfcup.yard-plan/3": yardPlanned{},
	}
}
