package ask

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
)

// RateFlags are the figures of the model of mite growth that a user can set.
func RateFlags() []cli.Flag {
	d := decide.SteadyRates()
	return []cli.Flag{
		&cli.StringFlag{Name: "days-on-bees", Value: show.Plain(d.DaysOnBees), Usage: "mean `DAYS` a mite rides adult bees before it enters a cell"},
		&cli.StringFlag{Name: "drone-share", Value: show.Plain(d.DroneShare), Usage: "`SHARE` of the entering mites that enter drone cells"},
		&cli.StringFlag{Name: "worker-daughters", Value: show.Plain(d.WorkerDaughters), Usage: "grown daughters per mother and worker cell, `N`"},
		&cli.StringFlag{Name: "drone-daughters", Value: show.Plain(d.DroneDaughters), Usage: "grown daughters per mother and drone cell, `N`"},
		&cli.StringFlag{Name: "mortality", DefaultText: show.Plain(d.Mortality) + ", without brood " + show.Plain(d.MortalityBroodless), Usage: "`SHARE` of the mites on adult bees that die in a day"},
		&cli.StringFlag{Name: "survival", Value: show.Plain(d.Survival), Usage: "`SHARE` of mothers and daughters that live through the emergence of the bee"},
		&cli.StringFlag{Name: "bees", Usage: "adult bees, `N`: takes the days on bees from brood and bees"},
		&cli.StringFlag{Name: "worker-cells", Usage: "worker cells capped a day, `N`, with --bees"},
		&cli.StringFlag{Name: "drone-cells", Usage: "drone cells capped a day, `N`, with --bees"},
	}
}

// ReadRates reads the flags of RateFlags.
func ReadRates(c *cli.Context, brood decide.Brood) (decide.Rates, error) {
	r := decide.SteadyRates()
	mortality := &r.Mortality
	if brood == decide.NoBrood {
		mortality = &r.MortalityBroodless
	}
	for _, f := range []struct {
		name string
		into *float64
	}{
		{"days-on-bees", &r.DaysOnBees},
		{"drone-share", &r.DroneShare},
		{"worker-daughters", &r.WorkerDaughters},
		{"drone-daughters", &r.DroneDaughters},
		{"mortality", mortality},
		{"survival", &r.Survival},
	} {
		if !c.IsSet(f.name) {
			continue
		}
		var err error
		if *f.into, err = line.Number(c, f.name, nil); err != nil {
			return r, err
		}
	}
	return readNest(c, r)
}

// readNest lets brood and bees say how long mites ride bees.
func readNest(c *cli.Context, r decide.Rates) (decide.Rates, error) {
	var n decide.Nest
	var said []string
	for _, f := range []struct {
		name string
		into *float64
	}{
		{"bees", &n.AdultBees},
		{"worker-cells", &n.WorkerCells},
		{"drone-cells", &n.DroneCells},
	} {
		if !c.IsSet(f.name) {
			continue
		}
		said = append(said, "--"+f.name)
		var err error
		if *f.into, err = line.Number(c, f.name, nil); err != nil {
			return r, err
		}
	}
	if said == nil {
		return r, nil
	}
	for _, name := range []string{"days-on-bees", "drone-share"} {
		if c.IsSet(name) {
			return r, &show.Problem{What: fmt.Sprintf("%s and --%s say the same thing twice", strings.Join(said, " and "), name), Remedy: "give either brood and bees, or the days and the share"}
		}
	}
	if !c.IsSet("bees") || len(said) < 2 {
		return r, &show.Problem{What: strings.Join(said, " and ") + " alone does not say how long mites ride bees", Remedy: "give adult bees and cells, such as --bees 25000 --worker-cells 1000 --drone-cells 20"}
	}
	return r.Invasion(n)
}
