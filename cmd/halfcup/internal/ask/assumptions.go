package ask

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// AssumptionFlags are the flags of every command that reads counts.
func AssumptionFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "prior", Usage: "belief before any count, as `MEDIAN,LOGSD`", DefaultText: "1,1.3: one mite per hundred, nine in ten colonies between 0.12 and 8.5"},
		&cli.StringSliceFlag{Name: "recovery", Usage: "share of a wash's mites that a method finds, as `METHOD=A,B` (a Beta distribution), or METHOD=1; may be repeated"},
		&cli.StringFlag{Name: "frame-cv", Usage: "how much frames of one brood nest differ, as a `CV`", DefaultText: "0.25"},
		&cli.StringFlag{Name: "bees-cv", Usage: "how much the bees in an uncounted sample differ, as a `CV`", DefaultText: "0.15 for a scoop, 0.08 when weighed"},
	}
}

// Basis is what an answer rests on: the figures in force, and where those that are
// not the defaults come from.
type Basis struct {
	sampling.Assumptions
	Own   map[string]sampling.Source // by the name in the table of sources
	Typed map[sampling.Method]bool   // recoveries said on the line, which no pair changes

	// Learnt is what pairs changed.
	Learnt []sampling.Calibration

	// leftOut tells, a sentence each, what the record holds that could not be
	// used. A bad row must not stop an answer that hardly rests on it.
	LeftOut []string
}

// ReadAssumptions puts the defaults, the settings, the pairs of the record and the
// flags of AssumptionFlags together: a flag beats a pair and a setting, a pair
// adds to what the settings or the defaults say. The command needs SeasonFlags
// as well, since a board is read by whether there was brood.
func ReadAssumptions(sh *line.Shell, c *cli.Context) (Basis, error) {
	b, err := ReadUncalibrated(sh, c)
	if err != nil {
		return Basis{}, err
	}
	pairs, err := RecordedPairs(sh, c, &b)
	if err != nil {
		return Basis{}, err
	}
	if _, err := b.Calibrate(pairs); err != nil {
		return Basis{}, err
	}
	return b, b.Check()
}

// ReadUncalibrated is ReadAssumptions without the pairs of the record.
func ReadUncalibrated(sh *line.Shell, c *cli.Context) (Basis, error) {
	b := Basis{Assumptions: sampling.DefaultAssumptions(), Own: map[string]sampling.Source{}, Typed: map[sampling.Method]bool{}}
	b.fromSettings(sh.Settings)
	if err := b.fromFlags(c); err != nil {
		return Basis{}, err
	}
	return b, b.Check()
}

func (b Basis) set(name, value, source string) {
	b.Own[name] = sampling.Source{Name: name, Value: value, Source: source, Kind: "your own"}
}

// Calibrate updates the figures by pairs, and says in them that it did. A pair
// that cannot be used is left out, or an error when the pair is strict.
func (b *Basis) Calibrate(pairs []OwnPair) ([]sampling.Calibration, error) {
	pairs = slices.DeleteFunc(slices.Clone(pairs), func(p OwnPair) bool { return b.Typed[p.Gentle.Method] })
	after, done, err := b.Calibrated(bare(pairs))
	var bad *sampling.PairError
	for errors.As(err, &bad) {
		p := pairs[bad.Index]
		if p.Strict {
			return nil, p.Problem(bad)
		}
		b.LeftOut = append(b.LeftOut, p.leftOut(bad))
		pairs = slices.Delete(pairs, bad.Index, bad.Index+1)
		after, done, err = b.Calibrated(bare(pairs))
	}
	if err != nil {
		return nil, err
	}
	b.Assumptions, b.Learnt = after, done
	for _, c := range done {
		source := show.Many(c.Pairs, "pair", "pairs") + " of yours " + whereFrom(pairs, c)
		if c.Method != sampling.Board {
			name := "recovery_" + string(c.Method)
			b.set(name, show.Digits(c.RecoveryAfter.Alpha, 3, 6)+","+show.Digits(c.RecoveryAfter.Beta, 3, 6), source)
			continue
		}
		row := boardRow(c.Broodless)
		b.set(row+"median", show.Digits(c.FallAfter.MedianPerDayPerHundred, 3, 6), source)
		b.set(row+"log_sd", show.Digits(c.FallAfter.LogSD, 3, 6), source)
	}
	return done, nil
}

// boardRow is how the names of a board's figures begin.
func boardRow(broodless bool) string {
	if broodless {
		return "board_broodless_"
	}
	return "board_brood_"
}

func (b *Basis) fromSettings(s line.Settings) {
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

func (b *Basis) setRecovery(m sampling.Method, law sampling.Beta, from string) {
	b.Recovery[m] = law
	b.set("recovery_"+string(m), show.Plain(law.Alpha)+","+show.Plain(law.Beta), from)
}

func (b *Basis) setBeesCV(v float64, from string) {
	b.ScoopCV, b.WeighedCV = v, v
	b.set("scoop_cv", show.Plain(v), from)
	b.set("weighed_cv", show.Plain(v), from)
}

func (b *Basis) fromFlags(c *cli.Context) error {
	if c.IsSet("prior") {
		v, err := twoNumbers(c.String("prior"), figures.Named("prior-median"), figures.Named("prior-log-sd"))
		if err != nil {
			return line.InFlag("prior", err)
		}
		b.Prior = sampling.Prior{MedianPerHundred: v[0], LogSD: v[1]}
		b.set("prior_median", show.Plain(v[0]), "--prior")
		b.set("prior_log_sd", show.Plain(v[1]), "--prior")
	}
	for _, s := range c.StringSlice("recovery") {
		if err := b.recoveryFlag(s); err != nil {
			return line.InFlag("recovery", err)
		}
	}
	if c.IsSet("frame-cv") {
		v, err := line.Number(c, "frame-cv", nil)
		if err != nil {
			return err
		}
		b.FrameCV = v
		b.set("frame_cv", show.Plain(v), "--frame-cv")
	}
	if c.IsSet("bees-cv") {
		v, err := line.Number(c, "bees-cv", nil)
		if err != nil {
			return err
		}
		b.setBeesCV(v, "--bees-cv")
	}
	return nil
}

// recoveryFlag reads METHOD=A,B or METHOD=1. A recovery of exactly one takes
// the method to be as good as a careful wash.
func (b *Basis) recoveryFlag(s string) error {
	name, value, found := strings.Cut(s, "=")
	if !found {
		return &sampling.SyntaxError{Input: s, Length: max(len(s), 1), Problem: "the recovery needs a method and two numbers", Remedy: "write it like roll=9,2"}
	}
	m, err := sampling.ParseMethod(name)
	if err != nil {
		return line.Within(s, 0, err)
	}
	if m == sampling.Wash || m.Kind() != sampling.BeeSample {
		return &sampling.SyntaxError{Input: s, Length: len(name), Problem: name + " has no recovery of its own", Remedy: "give it for roll or co2; a careful wash is the scale itself, and a board is read by its fall"}
	}
	b.Typed[m] = true
	if value == "1" {
		delete(b.Recovery, m)
		b.set("recovery_"+name, "1", "--recovery")
		return nil
	}
	v, err := twoNumbers(value, figures.Named("recovery-"+string(m)), figures.Named("recovery-"+string(m)))
	if err != nil {
		return line.Within(s, len(name)+1, err)
	}
	b.setRecovery(m, sampling.Beta{Alpha: v[0], Beta: v[1]}, "--recovery")
	return nil
}

// twoNumbers reads A,B, each within its bounds.
func twoNumbers(s string, of, and figures.Figure) ([2]float64, error) {
	first, second, found := strings.Cut(s, ",")
	if !found {
		return [2]float64{}, &sampling.SyntaxError{Input: s, Length: max(len(s), 1), Problem: "here two numbers are needed", Remedy: "write them with a comma between and no blank, decimals with a point"}
	}
	a, err := line.ParseNumber(first, of.Low, of.High)
	if err != nil {
		return [2]float64{}, line.Within(s, 0, err)
	}
	b, err := line.ParseNumber(second, and.Low, and.High)
	if err != nil {
		return [2]float64{}, line.Within(s, len(first)+1, err)
	}
	return [2]float64{a, b}, nil
}

// Sources lists the figures that these counts were read with, and where each
// comes from: the defaults' own sources, or the flag, setting or pairs that
// took their place.
func (b Basis) Sources(counts ...sampling.Count) []sampling.Source {
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
		if own, ok := b.Own[s.Name]; ok {
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
	} else if c.Hive.Ordinary {
		names = append(names, "bees_unknown_log_sd")
	}
	return names
}

// AssumptionLines tells, one line each, what in the basis is the beekeeper's
// own; nothing when all figures are the defaults.
func (b Basis) AssumptionLines(counts ...sampling.Count) []string {
	var out []string
	for _, s := range b.Sources(counts...) {
		if own, ok := b.Own[s.Name]; ok {
			value := s.Value
			if a, b, isBeta := strings.Cut(value, ","); isBeta {
				value = "Beta(" + a + ", " + b + ")"
			}
			out = append(out, fmt.Sprintf("%s: %s, from %s", s.What, value, own.Source))
		}
	}
	return out
}
