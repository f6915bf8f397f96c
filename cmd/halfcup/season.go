package main

import (
	"github.com/urfave/cli/v2"

	"halfcup/decide"
)

// seasonFlags say which season a day is in. The days on which the phases begin
// are settings: nobody types them twice.
func seasonFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "hemisphere", Value: "north", Usage: "the half of the earth the bees live on `north|south`"},
	}
}

// hemisphere reads --hemisphere or its setting.
func (sh *shell) hemisphere(c *cli.Context) (decide.Hemisphere, error) {
	if own := sh.settings.Hemisphere; own != nil && !c.IsSet("hemisphere") {
		return decide.Hemisphere(*own), nil
	}
	h, err := choice(c, "hemisphere", "north", "south")
	return decide.Hemisphere(h), err
}

// season puts the beekeeper's own season together.
func (sh *shell) season(c *cli.Context) (decide.Season, error) {
	s := decide.SeasonSettings{Starts: map[decide.Phase]string{}}
	var err error
	if s.Hemisphere, err = sh.hemisphere(c); err != nil {
		return decide.Season{}, err
	}
	own := sh.settings.Season
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
