package ask

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/decide"
)

// SeasonFlags say which season a day is in. The days on which the seasons begin
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

// ReadYear puts the beekeeper's own year together.
func ReadYear(sh *line.Shell, c *cli.Context) (decide.Year, error) {
	s := decide.YearSettings{Starts: map[decide.Season]string{}}
	var err error
	if s.Hemisphere, err = ReadHemisphere(sh, c); err != nil {
		return decide.Year{}, err
	}
	own := sh.Settings.Season
	if own.Year != nil {
		s.Set = *own.Year
	}
	if own.MostBrood != nil {
		s.MostBrood = *own.MostBrood
	}
	for season, start := range map[decide.Season]*string{
		decide.Spring: own.Spring, decide.Summer: own.Summer, decide.LateSummer: own.LateSummer,
		decide.Autumn: own.Autumn, decide.Winter: own.Winter,
	} {
		if start != nil {
			s.Starts[season] = *start
		}
	}
	year, err := decide.NewYear(s)
	if err != nil && (len(s.Starts) > 0 || own.Year != nil || own.MostBrood != nil) {
		return year, sh.InSettings("season", err)
	}
	return year, err
}
