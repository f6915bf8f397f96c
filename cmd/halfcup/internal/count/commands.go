// Package count holds the commands that read counts: how infested a colony is,
// whether the sample is big enough to say so, and what to do next.
package count

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// Commands are those that read counts: how infested, is it enough, what next.
func Commands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{estimateCommand(sh), enoughCommand(sh), chooseCommand(sh), tallyCommand(sh)}
}

// Answers are the answers of these commands in JSON, by the name of their
// schema: an empty one of each type.
func Answers() map[string]any {
	return map[string]any{
		"halfcup.estimate/3": estimated{}, "halfcup.enough/3": enoughFound{}, "halfcup.choose/3": chosen{}, "halfcup.tally/3": tallied{},
	}
}
