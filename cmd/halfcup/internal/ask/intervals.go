package ask

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/sampling"
)

// ReadIntervalKind reads --interval or its setting.
func ReadIntervalKind(sh *line.Shell, c *cli.Context) (sampling.IntervalKind, error) {
	if sh.Settings.Interval != nil && !c.IsSet("interval") {
		return sampling.ParseIntervalKind(*sh.Settings.Interval)
	}
	kind, err := sampling.ParseIntervalKind(c.String("interval"))
	return kind, line.InFlag("interval", err)
}
