package ask

import (
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// ReadArrivals reads --arrivals.
func ReadArrivals(c *cli.Context) (float64, error) {
	text := c.String("arrivals")
	if v, ok := decide.Arrivals(text); ok {
		return v, nil
	}
	v, err := line.ParseNumber(text, 0, 1000)
	if err != nil && !line.IsDecimal(text) {
		return 0, line.BadValue("arrivals", text, fmt.Sprintf("%q is neither a number of mites a day nor a word for one", text), "write none, few, many, or a number such as 20")
	}
	return v, line.InFlag("arrivals", err)
}

// RulesFlags are the flags of every command that judges colonies, one or many.
func RulesFlags() []cli.Flag {
	flags := []cli.Flag{
		&cli.StringFlag{Name: "min-worth", Value: show.Plain(decide.DefaultMinWorth), Usage: "least worth of a further look, in needless treatments, `N`"},
		&cli.StringFlag{Name: "arrivals", Value: "none", Usage: "mites that come in from other colonies `none|few|many|N` a day"},
	}
	flags = append(flags, ThresholdFlags()...)
	flags = append(flags, SeasonFlags()...)
	return append(flags, AssumptionFlags()...)
}

// Rules are what every colony is read and judged by, whichever it is: figures,
// season, lines, costs. A command without the flags gets the settings and the
// defaults.
type Rules struct {
	Basis
	Blank    decide.History // season, rates and figures, and nothing that happened
	Lines    []decide.Threshold
	MissCost float64
	minWorth float64
	costs    decide.Costs

	noKill, noRoll bool
}

// ReadRules reads the flags of RulesFlags, the settings and the pairs of the
// record.
func ReadRules(sh *line.Shell, c *cli.Context) (Rules, error) {
	r := Rules{costs: Costs(sh.Settings), noKill: c.Bool("no-kill"), noRoll: c.Bool("no-roll")}
	var err error
	if r.Basis, err = ReadAssumptions(sh, c); err != nil {
		return r, err
	}
	r.Blank = decide.History{Assumptions: r.Assumptions, Rates: decide.DefaultRates()}
	if r.Blank.Season, err = ReadSeason(sh, c); err != nil {
		return r, err
	}
	if r.Lines, err = readThresholds(sh, c); err != nil {
		return r, err
	}
	r.MissCost, r.minWorth = decide.DefaultMissCost, decide.DefaultMinWorth
	for _, f := range []struct {
		name      string
		setting   *float64
		into      *float64
		low, high float64
	}{
		{"miss-cost", sh.Settings.MissCost, &r.MissCost, 0.1, 100},
		{"min-worth", sh.Settings.MinWorth, &r.minWorth, 0, 3},
	} {
		if f.setting == nil && !c.IsSet(f.name) {
			continue
		}
		if *f.into, err = line.Number(c, f.name, f.setting, f.low, f.high); err != nil {
			return r, err
		}
	}
	if c.IsSet("arrivals") {
		r.Blank.Arrivals, err = ReadArrivals(c)
	}
	return r, err
}

// Question is a colony with what is known of it on a day.
func (r Rules) Question(h history.Colony, day sampling.Date) (*Question, error) {
	s := &Question{Basis: r.Basis, Died: h.Died, Unread: slices.Concat(r.LeftOut, h.Unread), Situation: decide.Situation{
		History: h.History, MissCost: r.MissCost, MinWorth: r.minWorth, Costs: r.costs,
		NextTreatment: h.Planned, SupersOn: h.SupersOn, NoKill: r.noKill, NoRoll: r.noRoll,
		Hive: sampling.Hive{AdultBees: h.AdultBees},
	}}
	s.Lines = r.Lines
	s.Threshold, _ = decide.In(r.Lines, r.Blank.Season.Phase(day)) // every set has every phase
	var err error
	s.State, err = h.On(day)
	return s, err
}

// Colony is a colony of the record on a day.
func (r Rules) Colony(rec *fieldlog.Record, yard, name string, day sampling.Date) (*Question, error) {
	h, err := history.Of(rec, yard, name, r.Blank, day)
	if err != nil {
		return nil, err
	}
	return r.Question(h, day)
}
