package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/show"
	"halfcup/sampling"
)

// assumptionFlags are the flags of every command that reads counts.
func assumptionFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "prior", Usage: "belief before any count, as `MEDIAN,LOGSD`", DefaultText: "1,1.3: one mite per hundred, nine in ten colonies between 0.12 and 8.5"},
		&cli.StringSliceFlag{Name: "recovery", Usage: "share of a wash's mites that a method finds, as `METHOD=A,B` (a Beta distribution), or METHOD=1; may be repeated"},
		&cli.StringFlag{Name: "frame-cv", Usage: "how much frames of one brood nest differ, as a `CV`", DefaultText: "0.25"},
		&cli.StringFlag{Name: "bees-cv", Usage: "how much the bees in an uncounted sample differ, as a `CV`", DefaultText: "0.15 for a scoop, 0.08 when weighed"},
	}
}

// basis is what an answer rests on: the figures in force, and where those come
// from that are not the defaults.
type basis struct {
	sampling.Assumptions
	own   map[string]sampling.Source // by the name in the table of sources
	fixed map[sampling.Method]bool   // recoveries said on the line, which no pair changes

	// leftOut tells, a sentence each, what the record holds that could not be
	// used. A bad row must not stop an answer that hardly rests on it.
	leftOut []string
}

// assumptions puts the defaults, the settings, the pairs of the record and the
// flags of assumptionFlags together: a flag beats a pair and a setting, a pair
// adds to what the settings or the defaults say. The command needs seasonFlags
// as well, since a board is read by whether there was brood.
func (sh *shell) assumptions(c *cli.Context) (basis, error) {
	b, err := sh.uncalibrated(c)
	if err != nil {
		return basis{}, err
	}
	pairs, err := sh.recordedPairs(c, &b)
	if err != nil {
		return basis{}, err
	}
	if _, err := b.calibrate(pairs); err != nil {
		return basis{}, err
	}
	return b, b.Check()
}

// uncalibrated is assumptions without the pairs of the record.
func (sh *shell) uncalibrated(c *cli.Context) (basis, error) {
	b := basis{Assumptions: sampling.DefaultAssumptions(), own: map[string]sampling.Source{}, fixed: map[sampling.Method]bool{}}
	b.fromSettings(sh.settings)
	if err := b.fromFlags(c); err != nil {
		return basis{}, err
	}
	return b, b.Check()
}

func (b basis) set(name, value, source string) {
	b.own[name] = sampling.Source{Name: name, Value: value, Source: source, Kind: "your own"}
}

// calibrate updates the figures by pairs, and says in them that it did. A pair
// that cannot be used is left out, or an error when the pair is strict.
func (b *basis) calibrate(pairs []ownPair) ([]sampling.Calibration, error) {
	pairs = slices.DeleteFunc(slices.Clone(pairs), func(p ownPair) bool { return b.fixed[p.Gentle.Method] })
	after, done, err := b.Calibrated(bare(pairs))
	var bad *sampling.PairError
	for errors.As(err, &bad) {
		p := pairs[bad.Index]
		if p.strict {
			return nil, p.problem(bad)
		}
		b.leftOut = append(b.leftOut, p.leftOut(bad))
		pairs = slices.Delete(pairs, bad.Index, bad.Index+1)
		after, done, err = b.Calibrated(bare(pairs))
	}
	if err != nil {
		return nil, err
	}
	b.Assumptions = after
	for _, c := range done {
		source := show.Many(c.Pairs, "pair", "pairs") + " of yours " + whereFrom(pairs, c)
		if c.Method != sampling.Board {
			name := "recovery_" + string(c.Method)
			b.set(name, significant(c.RecoveryAfter.Alpha)+","+significant(c.RecoveryAfter.Beta), source)
			continue
		}
		row := boardRow(c.Broodless)
		b.set(row+"median", significant(c.FallAfter.MedianPerDayPerHundred), source)
		b.set(row+"log_sd", significant(c.FallAfter.LogSD), source)
	}
	return done, nil
}

// significant writes a figure that was worked out in three digits.
func significant(x float64) string { return strconv.FormatFloat(x, 'g', 3, 64) }

// boardRow is how the names of a board's figures begin.
func boardRow(broodless bool) string {
	if broodless {
		return "board_broodless_"
	}
	return "board_brood_"
}

func (b *basis) fromSettings(s settings) {
	const from = "your settings"
	if v := s.Prior.MedianPerHundred; v != nil {
		b.Prior.MedianPerHundred = *v
		b.set("prior_median", show.Plain(*v), from)
	}
	if v := s.Prior.LogSD; v != nil {
		b.Prior.LogSD = *v
		b.set("prior_log_sd", show.Plain(*v), from)
	}
	for method, v := range map[sampling.Method][]float64{sampling.Roll: s.Recovery.Roll, sampling.CO2: s.Recovery.CO2} {
		if v != nil {
			b.setRecovery(method, sampling.Beta{Alpha: v[0], Beta: v[1]}, from)
		}
	}
	if v := s.FrameCV; v != nil {
		b.FrameCV = *v
		b.set("frame_cv", show.Plain(*v), from)
	}
	if v := s.BeesCV; v != nil {
		b.setBeesCV(*v, from)
	}
}

func (b *basis) setRecovery(m sampling.Method, law sampling.Beta, from string) {
	b.Recovery[m] = law
	b.set("recovery_"+string(m), show.Plain(law.Alpha)+","+show.Plain(law.Beta), from)
}

func (b *basis) setBeesCV(v float64, from string) {
	b.ScoopCV, b.WeighedCV = v, v
	b.set("scoop_cv", show.Plain(v), from)
	b.set("weighed_cv", show.Plain(v), from)
}

func (b *basis) fromFlags(c *cli.Context) error {
	if c.IsSet("prior") {
		v, err := twoNumbers(c.String("prior"), 0.01, 100, 0.05, 2)
		if err != nil {
			return inFlag("prior", err)
		}
		b.Prior = sampling.Prior{MedianPerHundred: v[0], LogSD: v[1]}
		b.set("prior_median", show.Plain(v[0]), "--prior")
		b.set("prior_log_sd", show.Plain(v[1]), "--prior")
	}
	for _, s := range c.StringSlice("recovery") {
		if err := b.recoveryFlag(s); err != nil {
			return inFlag("recovery", err)
		}
	}
	if c.IsSet("frame-cv") {
		v, err := number(c, "frame-cv", nil, 0, 2)
		if err != nil {
			return err
		}
		b.FrameCV = v
		b.set("frame_cv", show.Plain(v), "--frame-cv")
	}
	if c.IsSet("bees-cv") {
		v, err := number(c, "bees-cv", nil, 0, 2)
		if err != nil {
			return err
		}
		b.setBeesCV(v, "--bees-cv")
	}
	return nil
}

// recoveryFlag reads METHOD=A,B or METHOD=1. A recovery of exactly one takes
// the method to be as good as a careful wash.
func (b *basis) recoveryFlag(s string) error {
	name, value, found := strings.Cut(s, "=")
	if !found {
		return &sampling.SyntaxError{Input: s, Length: max(len(s), 1), Problem: "the recovery needs a method and two numbers", Remedy: "write it like roll=9,2"}
	}
	m, err := sampling.ParseMethod(name)
	if err != nil {
		return within(s, 0, err)
	}
	if m == sampling.Wash || m.Kind() != sampling.BeeSample {
		return &sampling.SyntaxError{Input: s, Length: len(name), Problem: name + " has no recovery of its own", Remedy: "give it for roll or co2; a careful wash is the scale itself, and a board is read by its fall"}
	}
	b.fixed[m] = true
	if value == "1" {
		delete(b.Recovery, m)
		b.set("recovery_"+name, "1", "--recovery")
		return nil
	}
	v, err := twoNumbers(value, 0.01, 1e5, 0.01, 1e5)
	if err != nil {
		return within(s, len(name)+1, err)
	}
	b.setRecovery(m, sampling.Beta{Alpha: v[0], Beta: v[1]}, "--recovery")
	return nil
}

// twoNumbers reads A,B, each within its bounds.
func twoNumbers(s string, low1, high1, low2, high2 float64) ([2]float64, error) {
	first, second, found := strings.Cut(s, ",")
	if !found {
		return [2]float64{}, &sampling.SyntaxError{Input: s, Length: max(len(s), 1), Problem: "here two numbers are needed", Remedy: "write them with a comma between and no blank, decimals with a point"}
	}
	a, err := parseNumber(first, low1, high1)
	if err != nil {
		return [2]float64{}, within(s, 0, err)
	}
	b, err := parseNumber(second, low2, high2)
	if err != nil {
		return [2]float64{}, within(s, len(first)+1, err)
	}
	return [2]float64{a, b}, nil
}

// within moves an error found in a part of s to its place in s.
func within(s string, offset int, err error) error {
	e, ok := err.(*sampling.SyntaxError)
	if !ok {
		return err
	}
	moved := *e
	moved.Input, moved.Offset = s, e.Offset+offset
	return &moved
}

// sources lists the figures that these counts were read with, and where each
// comes from: the defaults' own sources, or the flag, setting or pairs that
// took their place.
func (b basis) sources(counts ...sampling.Count) []sampling.Source {
	names := []string{"prior_median", "prior_log_sd"}
	for _, c := range counts {
		names = append(names, figuresOf(c)...)
	}
	var out []sampling.Source
	for _, s := range sampling.Sources() {
		isPair := strings.HasPrefix(s.Name, "board_pair_") && slices.Contains(names, "board_brood_median")
		if !isPair && !slices.Contains(names, s.Name) {
			continue
		}
		if own, ok := b.own[s.Name]; ok {
			what, _, _ := strings.Cut(s.What, ":") // what follows tells of the default
			s.Value, s.What, s.Source, s.Kind = own.Value, what, own.Source, own.Kind
		}
		out = append(out, s)
	}
	for _, c := range counts {
		if t, err := c.Treatment.Find(); err == nil && c.Method == sampling.Knockdown {
			kill := t.Kill(!c.Hive.Broodless)
			s := sampling.Source{
				Name: "kill_" + t.Slug, Value: show.Plain(kill.Alpha) + "," + show.Plain(kill.Beta), Unit: "beta",
				What: "share of the mites on adult bees that the treatment kills", Source: t.Source, Kind: t.Kind,
			}
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// figuresOf names the default figures a count is read with.
func figuresOf(c sampling.Count) []string {
	if c.Method.Kind() == sampling.BeeSample {
		names := []string{"frame_cv", "recovery_" + string(c.Method)}
		switch c.Amount.Unit {
		case sampling.Cups, sampling.Millilitres:
			names = append(names, "half_cup_bees", "scoop_cv")
		case sampling.Grams:
			names = append(names, "weighed_cv")
		}
		return names
	}
	var names []string
	if c.Method == sampling.Knockdown {
		names = append(names, "knockdown_reach")
	}
	row := boardRow(c.Hive.Broodless)
	if c.Method == sampling.Board || c.FallBefore == nil {
		names = append(names, "board_day_cv", row+"median", row+"log_sd", row+"bees")
	}
	if c.Cells.Of > 0 {
		names = append(names, "board_cells_cv")
	}
	if c.Hive.AdultBees == 0 {
		names = append(names, row+"bees", "bees_unknown_log_sd")
	}
	return names
}

// assumptionLines tells, one line each, what in the basis is the beekeeper's
// own; nothing when all figures are the defaults.
func (b basis) assumptionLines(counts ...sampling.Count) []string {
	var out []string
	for _, s := range b.sources(counts...) {
		if own, ok := b.own[s.Name]; ok {
			value := s.Value
			if a, b, isBeta := strings.Cut(value, ","); isBeta {
				value = "Beta(" + a + ", " + b + ")"
			}
			out = append(out, fmt.Sprintf("%s: %s, from %s", s.What, value, own.Source))
		}
	}
	return out
}
