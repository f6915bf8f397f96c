package ask

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/decide"
)

// SeasonFlags say which season a day is in. The days on which the phases begin
// are settings: nobody types them twice.
func SeasonFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "hemisphere", Value: "north", Usage: "the half of the earth the bees live on `north|south`"},
	}
}

// ReadHemisphere reads --hemisphere or its setting.
func ReadHemisphere(sh *line.Shell, c *cli.Context) (decide.Hemisphere, error) {
	if own := sh.Settings.Hemisphere; own != nil && !c.IsSet("hemisphere") {
		return decide.Hemisphere(*own), nil
	}
	h, err := line.Choice(c, "hemisphere", "north", "south")
	return decide.Hemisphere(h), err
}

// ReadSeason puts the beekeeper's own season together.
func ReadSeason(sh *line.Shell, c *cli.Context) (decide.Season, error) {
	s := decide.SeasonSettings{Starts: map[decide.Phase]string{}}
	var err error
	if s.Hemisphere, err = ReadHemisphere(sh, c); err != nil {
		return decide.Season{}, err
	}
	own := sh.Settings.Season
	for phase, start := range map[decide.Phase]*string{
		decide.Broodless: own.Broodless, decide.Dormant: own.Dormant, decide.Buildup: own.Buildup,
		decide.Peak: own.Peak, decide.Decline: own.Decline,
	} {
		if start != nil {
			s.Starts[phase] = *start
		}
	}
	return decide.NewSeason(s)
}
