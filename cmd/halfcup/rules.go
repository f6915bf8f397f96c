package main

import (
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/fieldlog"
	"halfcup/cmd/halfcup/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// rulesFlags are the flags of every command that judges colonies, one or many.
func rulesFlags() []cli.Flag {
	flags := []cli.Flag{
		&cli.StringFlag{Name: "min-worth", Value: show.Plain(decide.DefaultMinWorth), Usage: "least worth of a further look, in needless treatments, `N`"},
		&cli.StringFlag{Name: "arrivals", Value: "none", Usage: "mites that come in from other colonies `none|few|many|N` a day"},
	}
	flags = append(flags, thresholdFlags()...)
	flags = append(flags, seasonFlags()...)
	return append(flags, assumptionFlags()...)
}

// rules are what every colony is read and judged by, whichever it is: figures,
// season, lines, costs. A command without the flags gets the settings and the
// defaults.
type rules struct {
	basis
	blank    decide.History // season, rates and figures, and nothing that happened
	lines    []decide.Threshold
	missCost float64
	minWorth float64
	costs    decide.Costs

	noKill, noRoll bool
}

func (sh *shell) rules(c *cli.Context) (rules, error) {
	r := rules{costs: sh.settings.costs(), noKill: c.Bool("no-kill"), noRoll: c.Bool("no-roll")}
	var err error
	if r.basis, err = sh.assumptions(c); err != nil {
		return r, err
	}
	r.blank = decide.History{Assumptions: r.Assumptions, Rates: decide.DefaultRates()}
	if r.blank.Season, err = sh.season(c); err != nil {
		return r, err
	}
	if r.lines, err = sh.thresholds(c); err != nil {
		return r, err
	}
	r.missCost, r.minWorth = decide.DefaultMissCost, decide.DefaultMinWorth
	for _, f := range []struct {
		name      string
		setting   *float64
		into      *float64
		low, high float64
	}{
		{"miss-cost", sh.settings.MissCost, &r.missCost, 0.1, 100},
		{"min-worth", sh.settings.MinWorth, &r.minWorth, 0, 3},
	} {
		if f.setting == nil && !c.IsSet(f.name) {
			continue
		}
		if *f.into, err = number(c, f.name, f.setting, f.low, f.high); err != nil {
			return r, err
		}
	}
	if c.IsSet("arrivals") {
		r.blank.Arrivals, err = arrivals(c)
	}
	return r, err
}

// situationOf is a colony with what is known of it on a day.
func (r rules) situationOf(h seasonOf, day sampling.Date) (*situation, error) {
	s := &situation{basis: r.basis, died: h.Died, unread: slices.Concat(r.leftOut, h.Unread), Situation: decide.Situation{
		History: h.History, MissCost: r.missCost, MinWorth: r.minWorth, Costs: r.costs,
		NextTreatment: h.Planned, SupersOn: h.SupersOn, NoKill: r.noKill, NoRoll: r.noRoll,
		Hive: sampling.Hive{AdultBees: h.AdultBees},
	}}
	s.Lines = r.lines
	s.Threshold, _ = decide.In(r.lines, r.blank.Season.Phase(day)) // every set has every phase
	var err error
	s.State, err = h.On(day)
	return s, err
}

// colony is a colony of the record on a day.
func (r rules) colony(rec *fieldlog.Record, yard, name string, day sampling.Date) (*situation, error) {
	h, err := historyOf(rec, yard, name, r.blank, day)
	if err != nil {
		return nil, err
	}
	return r.situationOf(h, day)
}
