package keep

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

const calibrateExample = "halfcup calibrate --pair roll:12/300,wash:2/300 --pair board:40/3d,wash:6/300"

func calibrateCommand(sh *line.Shell) *cli.Command {
	flags := []cli.Flag{
		&cli.StringSliceFlag{Name: "pair", Usage: "two `COUNT,COUNT` made to be compared; may be repeated"},
		&cli.StringFlag{Name: "from", Usage: "take pairs from `FILE`, a CSV file with the columns of the record"},
		&cli.StringFlag{Name: "colony", Usage: "`NAME` of the colony of the pairs on the line"},
		&cli.StringFlag{Name: "yard", Usage: "its yard, `NAME`"},
		&cli.StringFlag{Name: "date", Usage: "`DATE` of the pairs on the line", DefaultText: "that of their counts, or today"},
		&cli.BoolFlag{Name: "save", Usage: "write the pairs on the line into the record"},
	}
	flags = append(flags, calibrationFlags()...)
	flags = append(flags, ask.SeasonFlags()...)
	return &cli.Command{
		Name:      "calibrate",
		Category:  line.GroupChecking,
		Usage:     "read rolls and boards by pairs of your own",
		UsageText: calibrateExample,
		Description: "A pair is two counts made to be compared: a sugar roll (or co2) and then a wash of the very same bees, which finds what the roll left; or a board and a sample of bees of the same week. " +
			"The answer is what they change: the share of the mites that a roll of yours finds, and how many mites fall in your yard for each mite per hundred bees.\n" +
			"Pairs are taken from the record, from --from, and from the line. --save writes those on the line into the record as counts that a pair label ties; every command that is given the record then uses them. No result is ever stored.\n" +
			"For a board, mesh and board cover the whole floor, the board is coated against ants, and pale young mites are not counted; over a solid floor a board tells nothing. Washing kills the bees; a few pairs a year are enough.",
		Flags:  flags,
		Action: func(c *cli.Context) error { return calibrate(sh, c) },
	}
}

// calibrationFlags are AssumptionFlags and those flags of a count that a pair
// can need.
func calibrationFlags() []cli.Flag {
	flags := ask.AssumptionFlags()
	for _, f := range ask.CountFlags() {
		if slices.Contains([]string{"grams-per-100", "brood", "adult-bees", "frames-of-bees", "cells"}, f.Names()[0]) {
			flags = append(flags, f)
		}
	}
	return flags
}

// calibrated is the pairs, and what they change in the reading of each method.
type calibrated struct {
	Pairs       []pairJSON        `json:"pairs"`
	Calibration []calibrationJSON `json:"calibration"`
	Saved       *savedJSON        `json:"saved"`
	Figures     []sampling.Source `json:"assumptions"`

	pairs    []ask.OwnPair
	done     []sampling.Calibration
	before   sampling.Assumptions
	after    ask.Basis
	appended *fieldlog.Appended
	record   string
}

// savedJSON is what --save wrote; null when nothing was.
type savedJSON struct {
	File    string        `json:"file"`
	Created bool          `json:"created"`
	Rows    []loggedEvent `json:"rows"`
}

// pairJSON is one pair. Found is of a roll, ratio of a board.
type pairJSON struct {
	Label     *string       `json:"label"`
	Yard      *string       `json:"yard"`
	Colony    *string       `json:"colony"`
	Date      sampling.Date `json:"date"`
	Gentle    string        `json:"gentle"`
	Reference string        `json:"reference"`
	Found     show.Number   `json:"found"`
	Ratio     show.Number   `json:"mites_a_day_per_hundred"`
	File      *string       `json:"file"`
}

// calibrationJSON is what the pairs changed in one method.
type calibrationJSON struct {
	Method   sampling.Method `json:"method"`
	Brood    *bool           `json:"brood"`
	Pairs    int             `json:"pairs"`
	Recovery *recoveryChange `json:"recovery,omitempty"`
	Board    *boardChange    `json:"board,omitempty"`
}

type recoveryChange struct {
	Before recoveryJSON `json:"before"`
	After  recoveryJSON `json:"after"`
}

type recoveryJSON struct {
	sampling.Beta
	Mean show.Number `json:"mean"`
	Mode show.Number `json:"mode"`
	SD   show.Number `json:"sd"`
}

type boardChange struct {
	Before say.Board `json:"before"`
	After  say.Board `json:"after"`
}

func calibrate(sh *line.Shell, c *cli.Context) error {
	if c.NArg() > 0 {
		return &show.Problem{What: fmt.Sprintf("calibrate takes no count by itself, such as %s", c.Args().First()), Remedy: "write it like this: " + calibrateExample}
	}
	save := c.Bool("save")
	if save && !c.IsSet("pair") {
		return line.TooFew("--save writes the pairs on the line, and there are none", calibrateExample+" --colony alder --save")
	}
	if save && c.String("colony") == "" {
		return line.TooFew("--save needs to know the colony of the pairs", calibrateExample+" --colony alder --save")
	}
	if save {
		sh.LogNamed = false // it is made when it is not there
	}
	b, err := ask.ReadUncalibrated(sh, c)
	if err != nil {
		return err
	}
	before := b.Assumptions.Clone()
	pairs, err := allPairs(sh, c, &b)
	if err != nil {
		return err
	}
	if len(pairs) == 0 {
		return line.TooFew("there is no pair to calibrate with", calibrateExample)
	}
	done, err := b.Calibrate(pairs)
	if err != nil {
		return err
	}
	found := &calibrated{pairs: pairs, done: done, before: before, after: b, record: sh.LogFile}
	if save {
		if err := savePairs(sh, c, found); err != nil {
			return err
		}
	}
	found.fill(sh)
	return sh.Write(line.Answer{
		Schema:   "halfcup.calibrate/2",
		JSON:     found,
		CSV:      found.csv(),
		Text:     func(w io.Writer) { found.print(w, sh) },
		Warnings: found.warnings(sh),
		Explain:  calibrateWhy,
	})
}

// allPairs are the pairs of the record, of --from and of the line.
func allPairs(sh *line.Shell, c *cli.Context, b *ask.Basis) ([]ask.OwnPair, error) {
	pairs, err := ask.RecordedPairs(sh, c, b)
	if err != nil {
		return nil, err
	}
	if c.IsSet("from") {
		given, err := pairsFrom(sh, c)
		if err != nil {
			return nil, err
		}
		pairs = append(pairs, given...)
	}
	typed, err := typedPairs(sh, c)
	return append(pairs, typed...), err
}

// pairsFrom are the pairs of a file that was named for its pairs: whatever is
// wrong in it is an error.
func pairsFrom(sh *line.Shell, c *cli.Context) ([]ask.OwnPair, error) {
	rec, err := fieldlog.Open(c.String("from"), sh.DateOrder())
	if err != nil {
		return nil, err
	}
	var problems []error
	for _, p := range rec.Problems {
		if !p.Warning {
			problems = append(problems, p)
		}
	}
	pairs, err := ask.PairsOf(sh, c, rec, func(p ask.OwnPair, bad *sampling.PairError) error {
		problems = append(problems, p.Problem(bad))
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(pairs) == 0 && problems == nil {
		problems = append(problems, &show.Problem{File: rec.Path, What: "no two counts share a pair label", Remedy: "give both counts of a pair the same word in the column pair"})
	}
	for i := range pairs {
		pairs[i].Strict = true
	}
	return pairs, errors.Join(problems...)
}

// typedPairs reads --pair.
func typedPairs(sh *line.Shell, c *cli.Context) ([]ask.OwnPair, error) {
	add, err := ask.ReadDetails(c)
	if err != nil {
		return nil, err
	}
	day := sh.Today
	if c.IsSet("date") {
		if day, err = line.Date(c, "date"); err != nil {
			return nil, err
		}
	}
	var out []ask.OwnPair
	var counts []sampling.Count
	for _, text := range c.StringSlice("pair") {
		parts := strings.Split(text, ",")
		if len(parts) != 2 {
			return nil, line.BadValue("pair", text, "a pair is two counts with one comma between them", "write it like roll:12/300,wash:2/300, with decimals behind a point")
		}
		var two [2]sampling.Count
		for i, part := range parts {
			count, err := sampling.ParseCount(part)
			if err != nil {
				return nil, line.InFlag("pair", line.Within(text, i*(len(parts[0])+1), err))
			}
			if count.Date.IsZero() {
				count.Date = day
			}
			add.AddTo(&count)
			two[i] = count
		}
		p := ask.OwnPair{YardName: c.String("yard"), ColonyName: c.String("colony"), Strict: true, Problem: func(e *sampling.PairError) error {
			return line.BadValue("pair", text, e.Problem, e.Remedy)
		}}
		p.Pair, err = sampling.NewPair(two[0], two[1])
		var bad *sampling.PairError
		if errors.As(err, &bad) {
			return nil, p.Problem(bad)
		}
		if p.ColonyName != "" {
			of := fieldlog.Of(fieldlog.Event{Yard: p.YardName, Colony: p.ColonyName})
			p.Colony = of.Yard + "/" + of.Name
		}
		out, counts = append(out, p), append(counts, two[0], two[1])
	}
	for _, name := range []string{"colony", "yard", "date"} {
		if c.IsSet(name) && len(out) == 0 {
			return nil, line.BadValue(name, c.String(name), "--"+name+" tells of the pairs on the line, and there are none", "leave it out")
		}
	}
	return out, add.CheckUsed(c, counts)
}

// savePairs writes the pairs of the line into the record.
func savePairs(sh *line.Shell, c *cli.Context, found *calibrated) error {
	brood := fieldlog.BroodUnknown
	if c.IsSet("brood") {
		brood = fieldlog.BroodPresent
		if c.String("brood") == "no" {
			brood = fieldlog.BroodAbsent
		}
	}
	var events []fieldlog.Event
	var saved []*ask.OwnPair // of every two events
	for i := range found.pairs {
		p := &found.pairs[i]
		if p.File != "" {
			continue
		}
		saved = append(saved, p)
		for _, count := range []sampling.Count{p.Gentle, p.Reference} {
			e := fieldlog.Event{Date: count.Date, Yard: p.YardName, Colony: p.ColonyName, Kind: fieldlog.Count, Count: &count, Pair: p.Label}
			if count.Method == sampling.Board {
				e.Brood = brood
				if c.IsSet("frames-of-bees") {
					e.BeeFrames, _ = line.Number(c, "frames-of-bees", nil) // read before
				} else {
					e.AdultBees = count.Hive.AdultBees
				}
			}
			events = append(events, e)
		}
	}
	// The labels are given while no other program can take them.
	label := func(rec *fieldlog.Record, events []fieldlog.Event) {
		taken := map[string]bool{}
		for _, e := range rec.Events {
			taken[fieldlog.SameName(e.Pair)] = true
		}
		for i, p := range saved {
			for n := 1; p.Label == "" || taken[p.Label]; n++ {
				p.Label = fmt.Sprintf("%s-%d", p.Gentle.Method, n)
			}
			taken[p.Label] = true
			events[2*i].Pair, events[2*i+1].Pair = p.Label, p.Label
		}
	}
	a, err := fieldlog.Append(sh.LogFile, events, fieldlog.Options{Finish: label, Order: sh.DateOrder(), Device: device(sh)})
	if err != nil {
		return refused(err)
	}
	for i, p := range saved {
		p.Label = a.Events[2*i].Pair
	}
	sh.Done = "the pairs are written to " + a.Record.Path
	found.appended = &a
	return nil
}

func (f *calibrated) fill(sh *line.Shell) {
	missing := show.Number(math.NaN())
	var counts []sampling.Count
	for _, p := range f.pairs {
		j := pairJSON{Label: say.Said(p.Label), Yard: say.Said(p.YardName), Colony: say.Said(p.ColonyName), Date: p.Day(), Gentle: undated(p.Gentle), Reference: undated(p.Reference), File: say.Said(p.File), Found: missing, Ratio: missing}
		switch all := p.Gentle.Mites + p.Reference.Mites; {
		case p.Gentle.Method == sampling.Board:
			j.Ratio = show.Number(f.after.PlainRatio(p.Pair))
		case all > 0:
			j.Found = show.Number(float64(p.Gentle.Mites) / float64(all))
		}
		f.Pairs = append(f.Pairs, j)
		counts = append(counts, p.Gentle)
	}
	for _, c := range f.done {
		j := calibrationJSON{Method: c.Method, Pairs: c.Pairs}
		if c.Method == sampling.Board {
			brood := !c.Broodless
			j.Brood = &brood
			j.Board = &boardChange{say.BoardOf(c.FallBefore, brood), say.BoardOf(c.FallAfter, brood)}
		} else {
			j.Recovery = &recoveryChange{recoveryOf(c.RecoveryBefore), recoveryOf(c.RecoveryAfter)}
		}
		f.Calibration = append(f.Calibration, j)
	}
	f.Figures = f.after.Sources(counts...)
	if f.appended != nil {
		f.Saved = &savedJSON{File: f.appended.Record.Path, Created: f.appended.Created}
		for _, e := range f.appended.Events {
			f.Saved.Rows = append(f.Saved.Rows, logged(sh, e))
		}
	}
}

// undated is a count without its day, which stands beside it.
func undated(c sampling.Count) string {
	c.Date = 0
	return c.String()
}

func recoveryOf(b sampling.Beta) recoveryJSON {
	return recoveryJSON{b, show.Number(b.Mean()), show.Number(b.Mode()), show.Number(b.SD())}
}

func (f *calibrated) csv() show.CSV {
	t := show.CSV{Head: []string{"method", "brood", "pairs", "figure", "before", "after"}}
	for _, j := range f.Calibration {
		row := func(figure string, before, after float64) {
			var brood any
			if j.Brood != nil {
				brood = *j.Brood
			}
			t.Rows = append(t.Rows, []any{string(j.Method), brood, j.Pairs, figure, before, after})
		}
		if r := j.Recovery; r != nil {
			row("alpha", r.Before.Alpha, r.After.Alpha)
			row("beta", r.Before.Beta.Beta, r.After.Beta.Beta)
			row("mean", float64(r.Before.Mean), float64(r.After.Mean))
			row("mode", float64(r.Before.Mode), float64(r.After.Mode))
			row("sd", float64(r.Before.SD), float64(r.After.SD))
			continue
		}
		row("median_per_day_per_hundred", j.Board.Before.MedianPerDayPerHundred, j.Board.After.MedianPerDayPerHundred)
		row("log_sd", j.Board.Before.LogSD, j.Board.After.LogSD)
		row("adult_bees", j.Board.Before.AdultBees, j.Board.After.AdultBees)
	}
	return t
}

func (f *calibrated) print(w io.Writer, sh *line.Shell) {
	if s := f.found(); s != "" {
		fmt.Fprint(w, sh.Page.Wrap(s, 0), "\n")
	}
	fmt.Fprint(w, sh.Page.Table(f.pairTable()))
	for _, c := range f.done {
		fmt.Fprint(w, "\n", sh.Page.Wrap(sh.Page.Paint(show.Strong, say.Capital(methodWords(c)))+", "+show.Many(c.Pairs, "pair", "pairs")+":", 0))
		fmt.Fprint(w, sh.Page.Strip(f.strip(c)), sh.Page.Table(changeTable(c)))
	}
	if f.appended != nil {
		fmt.Fprintln(w)
		tellWritten(sh, w, *f.appended)
	}
}

func (f *calibrated) pairTable() show.Table {
	t := show.Table{Columns: []show.Column{{Name: "pair"}, {Name: "date"}, {Name: "colony"}, {Name: "counts"}, {Name: "what it says", Flow: true}}}
	for i, p := range f.pairs {
		t.Rows = append(t.Rows, []string{f.name(i), p.Day().String(), p.ColonyName, undated(p.Gentle) + ", " + undated(p.Reference), f.says(i)})
	}
	return t
}

// name is the label of a pair, or its place on the line.
func (f *calibrated) name(i int) string {
	if f.pairs[i].Label != "" {
		return f.pairs[i].Label
	}
	n := 1
	for _, p := range f.pairs[:i] {
		if p.Label == "" {
			n++
		}
	}
	return fmt.Sprintf("line %d", n)
}

func (f *calibrated) says(i int) string {
	p := f.pairs[i]
	if p.Gentle.Method != sampling.Board {
		return fmt.Sprintf("found %d of %d", p.Gentle.Mites, p.Gentle.Mites+p.Reference.Mites)
	}
	bees, _, err := f.after.BeesOf(p.Reference)
	if err != nil {
		return ""
	}
	s := fmt.Sprintf("%s a day at %s per hundred", show.Level(p.Gentle.FallPerDay()), show.Level(100*float64(p.Reference.Mites)/bees))
	if p.Gentle.Hive.AdultBees > 0 {
		s += fmt.Sprintf(", %.0f bees", p.Gentle.Hive.AdultBees)
	}
	return s
}

// methodWords names what was calibrated.
func methodWords(c sampling.Calibration) string {
	switch {
	case c.Method != sampling.Board:
		return c.Method.Title()
	case c.Broodless:
		return "sticky board over no brood"
	}
	return "sticky board over brood"
}

// The interval that the pictures and the table of a board show.
const stripLevel = 0.95

// strip draws the pairs of a method, and its reading before and after them.
func (f *calibrated) strip(c sampling.Calibration) show.Strip {
	none := math.NaN()
	var s show.Strip
	for i, p := range f.pairs {
		if p.Gentle.Method != c.Method || p.Gentle.Hive.Broodless != c.Broodless {
			continue
		}
		value := float64(f.Pairs[i].Found)
		if c.Method == sampling.Board {
			value = float64(f.Pairs[i].Ratio)
		}
		if !math.IsNaN(value) {
			s.Rows = append(s.Rows, show.StripRow{Name: f.name(i), Middle: value, Low: none, High: none, Past: true})
		}
	}
	if c.Method != sampling.Board {
		s.Unit = "share of the mites that it finds"
		row := func(name string, b sampling.Beta, past bool) show.StripRow {
			return show.StripRow{Name: name, Middle: b.Mean(), Low: b.Quantile((1 - stripLevel) / 2), High: b.Quantile((1 + stripLevel) / 2), Past: past}
		}
		s.Rows = append(s.Rows, row("before", c.RecoveryBefore, true), row("after", c.RecoveryAfter, false))
		return s
	}
	s.Log, s.Unit = true, fmt.Sprintf("mites a day for each mite per hundred, over %.0f bees", c.FallAfter.Bees)
	row := func(name string, b sampling.BoardFall, past bool) show.StripRow {
		low, high := boardLimits(b)
		return show.StripRow{Name: name, Middle: b.MedianPerDayPerHundred, Low: low, High: high, Past: past}
	}
	s.Rows = append(s.Rows, row("before", c.FallBefore, true), row("after", c.FallAfter, false))
	return s
}

// boardLimits is where one more board would lie, at stripLevel.
func boardLimits(b sampling.BoardFall) (low, high float64) {
	const z = 1.96
	return b.MedianPerDayPerHundred * math.Exp(-z*b.LogSD), b.MedianPerDayPerHundred * math.Exp(z*b.LogSD)
}

func changeTable(c sampling.Calibration) show.Table {
	t := show.Table{Columns: []show.Column{{Name: ""}, {Name: "before", Right: true}, {Name: "after", Right: true}}}
	row := func(what, before, after string) { t.Rows = append(t.Rows, []string{what, before, after}) }
	if c.Method != sampling.Board {
		b, a := c.RecoveryBefore, c.RecoveryAfter
		row("share found, mean", show.Percent(b.Mean()), show.Percent(a.Mean()))
		row("share found, most likely", show.Percent(b.Mode()), show.Percent(a.Mode()))
		row("standard deviation", show.Percent(b.SD()), show.Percent(a.SD()))
		row("as a Beta distribution", betaWords(b), betaWords(a))
		return t
	}
	b, a := c.FallBefore, c.FallAfter
	lowB, highB := boardLimits(b)
	lowA, highA := boardLimits(a)
	row("mites a day for each mite per hundred", show.Level(b.MedianPerDayPerHundred), show.Level(a.MedianPerDayPerHundred))
	row("19 boards of 20 lie between", show.Level(lowB)+" and "+show.Level(highB), show.Level(lowA)+" and "+show.Level(highA))
	row("spread on the log scale, SD", show.Level(b.LogSD), show.Level(a.LogSD))
	return t
}

func betaWords(b sampling.Beta) string {
	return show.Digits(b.Alpha, 3, 6) + ", " + show.Digits(b.Beta, 3, 6)
}

func (f *calibrated) warnings(sh *line.Shell) []say.Warning {
	out := say.Warn(say.LeftOut, f.after.LeftOut...)
	for i, p := range f.pairs {
		for _, w := range p.Warnings() {
			out = append(out, say.Warning{Kind: say.WarningKind(w.Kind), Text: f.name(i) + ": " + w.Text})
		}
		if f.after.Typed[p.Gentle.Method] {
			out = append(out, say.Warn(say.LeftOut, fmt.Sprintf("%s says nothing here: --recovery fixes what a %s finds.", f.name(i), p.Gentle.Method))...)
		}
	}
	if f.appended != nil {
		out = append(out, addedWarnings(sh, *f.appended)...)
	}
	return out
}

// found says what the pairs taught and how every answer will use it.
func (f *calibrated) found() string {
	var parts []string
	for _, c := range f.done {
		if c.Method != sampling.Board {
			parts = append(parts, fmt.Sprintf("a %s of yours finds about %.0f of 100 mites", c.Method.Title(), 100*c.RecoveryAfter.Mean()))
			continue
		}
		parts = append(parts, fmt.Sprintf("about %s mites fall in a day on a %s for each mite per hundred bees", show.Level(c.FallAfter.MedianPerDayPerHundred), methodWords(c)))
	}
	if parts == nil {
		return ""
	}
	s := say.Capital(strings.Join(parts, "; ")) + "."
	for _, p := range f.pairs {
		switch {
		case p.File == "" && f.appended == nil:
			return s + " Keep the pairs on the line with --colony NAME --save, so that every answer uses them."
		case p.File != "" && p.File != f.record:
			return s + " Copy the rows of " + p.File + " into the record, so that every answer uses them."
		}
	}
	return s + " Every answer that is given the record uses its pairs."
}

// calibrateWhy tells it to a learner.
const calibrateWhy = "A sugar roll leaves some mites on the bees, and how many depends on the sugar, the shaking and the weather. Wash the rolled bees as well and you see what was left. " +
	"A board catches what falls, and how much falls depends on the bees, the brood and the floor; a sample of bees beside it tells what the fall means in your yard. " +
	"Each pair moves the figure from the books a little toward yours, and never all the way: " +
	"another day is damper, and another colony grooms better. It goes wrong when the wash was of other bees, or when ants were at the board."
