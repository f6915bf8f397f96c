package ask

import (
	"errors"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// CountFlags tell of the hive and the sample what the notation of a count does
// not hold. They apply to every count on the line that can use them.
func CountFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "grams-per-100", Usage: "weight of 100 bees of a weighed sample, as wet as they were, `GRAMS`"},
		&cli.StringFlag{Name: "brood", Value: "yes", Usage: "board, knockdown: whether there is capped brood `yes|no`"},
		&cli.StringFlag{Name: "adult-bees", Usage: "board, knockdown: adult bees of the colony, `BEES`"},
		&cli.StringFlag{Name: "frames-of-bees", Usage: "board, knockdown: deep frames covered with bees on both sides, `FRAMES`"},
		&cli.StringFlag{Name: "cells", Usage: "board: when only some cells of the grid were counted, `COUNTED/ALL`"},
		&cli.StringFlag{Name: "treatment", Usage: "knockdown: what was given, `NAME`, such as oxalic-vapour"},
		&cli.StringFlag{Name: "active", Usage: "knockdown: the same by its active `INGREDIENT`, such as \"oxalic acid\""},
		&cli.StringFlag{Name: "application", Usage: "knockdown: and `HOW` it was given, such as vapour"},
		&cli.StringFlag{Name: "fall-before", Usage: "knockdown: mites a day that fell before the treatment, `MITES`"},
	}
}

// ReadCounts reads the counts on the line, with what the flags add to them.
func ReadCounts(c *cli.Context) ([]sampling.Count, error) {
	add, err := ReadDetails(c)
	if err != nil {
		return nil, err
	}
	counts, err := add.counts(c)
	if err != nil {
		return nil, err
	}
	return counts, add.CheckUsed(c, counts)
}

// readBareCounts is ReadCounts where no flag needs a count to tell of.
func readBareCounts(c *cli.Context) ([]sampling.Count, error) {
	add, err := ReadDetails(c)
	if err != nil {
		return nil, err
	}
	return add.counts(c)
}

func (add Details) counts(c *cli.Context) ([]sampling.Count, error) {
	var counts []sampling.Count
	for _, text := range c.Args().Slice() {
		count, err := sampling.ParseCount(text)
		if err != nil {
			return nil, err
		}
		if count.Method == sampling.Knockdown && !c.IsSet("treatment") && !c.IsSet("active") {
			return nil, line.TooFew("what falls after a treatment is read by the treatment, and it is not named", "halfcup "+c.Command.Name+" "+text+" --treatment oxalic-vapour")
		}
		add.AddTo(&count)
		counts = append(counts, count)
	}
	return counts, nil
}

// Details is what the flags say of the counts.
type Details struct {
	gramsPer100 float64
	hive        sampling.Hive
	cells       sampling.Cells
	treatment   sampling.TreatmentName
	fallBefore  *float64
}

// ReadDetails reads the flags of CountFlags.
func ReadDetails(c *cli.Context) (d Details, err error) {
	figure := func(name string) float64 {
		if err != nil || !c.IsSet(name) {
			return 0
		}
		var v float64
		v, err = line.Number(c, name, nil)
		return v
	}
	d.gramsPer100 = figure("grams-per-100")
	d.hive.AdultBees = figure("adult-bees")
	if frames := figure("frames-of-bees"); frames > 0 {
		if d.hive.AdultBees > 0 {
			return d, line.BadValue("frames-of-bees", c.String("frames-of-bees"), "the bees are given twice, as --adult-bees and as --frames-of-bees", "leave one of them out")
		}
		d.hive.AdultBees, d.hive.AdultBeesCV = sampling.BeesOnFrames(frames)
	}
	if v := figure("fall-before"); c.IsSet("fall-before") {
		d.fallBefore = &v
	}
	if err != nil {
		return d, err
	}
	brood, err := line.Choice(c, "brood", "yes", "no")
	if err != nil {
		return d, err
	}
	d.hive.Broodless = brood == "no"
	if c.IsSet("cells") {
		if d.cells, err = ParseCells(c.String("cells")); err != nil {
			return d, line.InFlag("cells", err)
		}
	}
	d.treatment, err = treatmentFlag(c)
	return d, err
}

// treatmentFlag reads --treatment, or --active and --application.
func treatmentFlag(c *cli.Context) (sampling.TreatmentName, error) {
	name := sampling.TreatmentName{Active: c.String("active"), Application: c.String("application")}
	switch {
	case c.IsSet("treatment") && name != sampling.TreatmentName{}:
		return name, line.BadValue("treatment", c.String("treatment"), "the treatment is named twice", "give --treatment, or --active and --application")
	case c.IsSet("treatment"):
		t, err := sampling.FindTreatment(c.String("treatment"))
		return t.TreatmentName, line.InFlag("treatment", err)
	case name == sampling.TreatmentName{}:
		return name, nil
	case name.Active == "":
		return name, line.BadValue("application", name.Application, "the active ingredient is missing", `add it, such as --active "oxalic acid"`)
	}
	t, err := name.Find()
	var syntax *sampling.SyntaxError
	if errors.As(err, &syntax) {
		err = &show.Problem{What: syntax.Problem, Remedy: syntax.Remedy}
	}
	return t.TreatmentName, err
}

// AddTo gives a count what bears on it.
func (d Details) AddTo(c *sampling.Count) {
	if c.Method.Kind() == sampling.BeeSample {
		if c.Amount.Unit == sampling.Grams {
			c.GramsPer100 = d.gramsPer100
		}
		return
	}
	c.Hive = d.hive
	if c.Method == sampling.Board {
		c.Cells = d.cells
		return
	}
	c.Treatment, c.FallBefore = d.treatment, d.fallBefore
}

// CheckUsed refuses a flag that no count on the line takes any notice of.
func (d Details) CheckUsed(c *cli.Context, counts []sampling.Count) error {
	has := func(fits func(sampling.Count) bool) bool {
		for _, count := range counts {
			if fits(count) {
				return true
			}
		}
		return false
	}
	weighed := func(c sampling.Count) bool { return c.Amount.Unit == sampling.Grams }
	fall := func(c sampling.Count) bool { return c.Method.Kind() == sampling.Fall }
	board := func(c sampling.Count) bool { return c.Method == sampling.Board }
	knockdown := func(c sampling.Count) bool { return c.Method == sampling.Knockdown }
	for _, f := range []struct {
		name string
		fits func(sampling.Count) bool
		what string
	}{
		{"grams-per-100", weighed, "a weighed sample, such as wash:4/41g"},
		{"brood", fall, "a board or a knockdown"},
		{"adult-bees", fall, "a board or a knockdown"},
		{"frames-of-bees", fall, "a board or a knockdown"},
		{"cells", board, "a board"},
		{"treatment", knockdown, "a knockdown"},
		{"active", knockdown, "a knockdown"},
		{"application", knockdown, "a knockdown"},
		{"fall-before", knockdown, "a knockdown"},
	} {
		if c.IsSet(f.name) && !has(f.fits) {
			return line.BadValue(f.name, c.String(f.name), "--"+f.name+" tells of "+f.what+", and there is none here", "leave it out")
		}
	}
	return nil
}

// ParseCells reads COUNTED/ALL.
func ParseCells(s string) (sampling.Cells, error) {
	counted, all, ok := strings.Cut(s, "/")
	if !ok {
		return sampling.Cells{}, &sampling.SyntaxError{Input: s, Length: max(len(s), 1), Problem: "this does not say how many cells there are", Remedy: "write the cells counted and all cells, such as 33/99"}
	}
	bounds := figures.Named("cells")
	var v [2]float64
	for i, part := range []string{counted, all} {
		var err error
		if v[i], err = line.ParseNumber(part, bounds.Low, bounds.High); err != nil {
			return sampling.Cells{}, line.Within(s, i*(len(counted)+1), err)
		}
	}
	cells := sampling.Cells{Counted: int(v[0]), Of: int(v[1])}
	if float64(cells.Counted) != v[0] || float64(cells.Of) != v[1] || cells.Counted > cells.Of {
		return sampling.Cells{}, &sampling.SyntaxError{Input: s, Length: len(s), Problem: "these are not some cells of a grid", Remedy: "write whole numbers, the cells counted first, such as 33/99"}
	}
	return cells, nil
}
