package ask

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// ReadArrivals reads --arrivals or its setting.
func ReadArrivals(sh *line.Shell, c *cli.Context) (float64, error) {
	text := decide.DefaultArrivals
	if own := sh.Settings.Arrivals; own != nil {
		text = *own
	}
	if c.IsSet("arrivals") {
		text = c.String("arrivals")
	}
	if v, ok := decide.Arrivals(text); ok {
		return v, nil
	}
	v, err := line.ParseNumber(text, 0, figures.Named("arrivals").High)
	if err != nil && !line.IsDecimal(text) {
		return 0, line.BadValue("arrivals", text, fmt.Sprintf("%q is neither a number of mites a day nor a word for one", text), "write none, few, many, or a number such as 20")
	}
	return v, line.InFlag("arrivals", err)
}

// LooksFlags say which counts may be advised.
func LooksFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringSliceFlag{Name: "without", Usage: "advise no count by this `METHOD`, which you have not got or do not want: wash, roll, co2 or board; may be repeated"},
		&cli.BoolFlag{Name: "any-size", Usage: "you count or weigh the bees: advise other sizes than half cups too"},
		&cli.StringFlag{Name: "most-frames", Value: "1", Usage: "the most frames to take bees from, `N`; each further one is a further chance to lose the queen"},
		&cli.StringFlag{Name: "back-in", DefaultText: fmt.Sprint(decide.DefaultBackIn), Usage: "somebody looks again in `DAYS`"},
	}
}

// RulesFlags are the flags of every command that judges colonies, one or many.
func RulesFlags() []cli.Flag {
	flags := []cli.Flag{
		&cli.StringFlag{Name: "supers", Usage: "whether honey supers are on `on|off`, or the days of every year, 05-01..07-20", DefaultText: "as the record says, else the settings, else unknown"},
		&cli.StringFlag{Name: "min-worth", Value: show.Plain(decide.DefaultMinWorth), Usage: "least worth of a further count, in needless treatments, `N`"},
		&cli.StringFlag{Name: "arrivals", Value: decide.DefaultArrivals, Usage: "mites that come in from other colonies `none|few|many|N` a day"},
	}
	flags = append(flags, LooksFlags()...)
	flags = append(flags, ThresholdFlags()...)
	flags = append(flags, SeasonFlags()...)
	return append(flags, AssumptionFlags()...)
}

// Rules are what every colony is read and judged by, whichever it is. A command
// without the flags gets the settings and the defaults.
type Rules struct {
	Basis
	decide.Rules

	// Base is a colony to which nothing happened: figures, season, rates, and
	// when supers are on as the beekeeper has them every year.
	Base decide.Colony

	supers string // what --supers said, "" when it was not given
}

// ReadRules reads the settings and the flags of RulesFlags.
func ReadRules(sh *line.Shell, c *cli.Context) (Rules, error) {
	r := Rules{Rules: decide.Rules{Costs: Costs(sh.Settings), MissCost: decide.DefaultMissCost, MinWorth: decide.DefaultMinWorth}}
	var err error
	if r.Basis, err = ReadAssumptions(sh, c); err != nil {
		return r, err
	}
	r.Base.History = decide.History{Assumptions: r.Assumptions, Rates: decide.DefaultRates()}
	if r.Base.Year, err = ReadYear(sh, c); err != nil {
		return r, err
	}
	if r.Base.Arrivals, err = ReadArrivals(sh, c); err != nil {
		return r, err
	}
	if r.Lines, err = readThresholds(sh, c); err != nil {
		return r, err
	}
	for _, f := range []struct {
		name    string
		setting *float64
		into    *float64
	}{
		{"miss-cost", sh.Settings.MissCost, &r.MissCost},
		{"min-worth", sh.Settings.MinWorth, &r.MinWorth},
	} {
		if f.setting == nil && !c.IsSet(f.name) {
			continue
		}
		if *f.into, err = line.Number(c, f.name, f.setting); err != nil {
			return r, err
		}
	}
	if err := r.readLooks(sh, c); err != nil {
		return r, err
	}
	return r, r.readSupers(sh, c)
}

// readLooks reads which counts may be advised, and when somebody is back.
func (r *Rules) readLooks(sh *line.Shell, c *cli.Context) error {
	names := c.StringSlice("without")
	if len(names) == 0 {
		names = sh.Settings.Without
	}
	for _, name := range names {
		m, err := sampling.ParseMethod(name)
		if err != nil {
			return line.InFlag("without", err)
		}
		r.Without = append(r.Without, m)
	}
	r.AnySize = c.Bool("any-size") || sh.Settings.AnySize != nil && *sh.Settings.AnySize
	r.CO2 = sh.Settings.CO2AtHand != nil && *sh.Settings.CO2AtHand
	if own := sh.Settings.MostFrames; own != nil {
		r.MostFrames = int(*own)
	}
	if own := sh.Settings.LossWithout; own != nil {
		r.LossWithout = *own
	}
	if own := sh.Settings.BackIn; own != nil {
		r.BackIn, r.OwnBackIn = int(*own), true
	}
	var err error
	if c.IsSet("most-frames") {
		if r.MostFrames, err = line.Whole(c, "most-frames"); err != nil {
			return err
		}
	}
	if c.IsSet("back-in") {
		r.BackIn, err = line.Whole(c, "back-in")
		r.OwnBackIn = true
	}
	return err
}

// readSupers reads --supers and the times of every year in the settings.
func (r *Rules) readSupers(sh *line.Shell, c *cli.Context) error {
	if own := sh.Settings.Season.Supers; own != nil {
		flows, err := ParseFlows(*own)
		if err != nil {
			return err
		}
		r.Base.Supers = Yearly(flows, sh.Today)
	}
	if !c.IsSet("supers") {
		return nil
	}
	if text := c.String("supers"); strings.Contains(text, "..") {
		flows, err := ParseFlows(text)
		r.Base.Supers = Yearly(flows, sh.Today)
		return line.InFlag("supers", err)
	}
	var err error
	r.supers, err = line.Choice(c, "supers", "on", "off")
	return err
}

// Apiary is a yard of the record as it stands on a day, with a sentence for
// every count that says nothing of its colony.
func (r Rules) Apiary(rec *fieldlog.Record, yard string, day sampling.Date) (decide.Apiary, []string, error) {
	a := decide.Apiary{Rules: r.Rules}
	colonies, err := history.Yard(rec, yard, r.Base, day)
	if err != nil {
		return a, nil, err
	}
	var unread []string
	for _, k := range colonies {
		unread = append(unread, k.Unread...)
		r.said(&k.Colony, day)
		a.Colonies = append(a.Colonies, k.Colony)
	}
	return a, unread, nil
}

// said puts what --supers says in place of what else is known of today.
func (r Rules) said(k *decide.Colony, today sampling.Date) {
	if r.supers != "" {
		k.Supers = k.Supers.Overridden(today, r.supers == "on")
	}
}
