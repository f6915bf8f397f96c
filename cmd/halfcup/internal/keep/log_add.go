package keep

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

const logAddExample = "halfcup log add --yard mill --colony alder roll:6/300"

func logAddCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "add",
		Usage:     "write counts, a treatment or another event into the record",
		ArgsUsage: "[COUNT...]",
		UsageText: logAddExample,
		Description: "Writes one row for each count, or for each colony one row of a treatment or another event, and says back what it wrote. " +
			"All rows are written or none; the record is made when there is none. A treatment, a brood break or supers of a day to come are a plan.\n" +
			"A split is a row of the new part: --colony willow --event split --other oak. Where colonies are joined, --colony is the one that ends and --other the one that stays. " +
			"A brood break begins with --event brood-break --brood no, on the day the queen stops laying, and ends with --brood yes, on the day she lays again.",
		Flags: []cli.Flag{
			&cli.StringSliceFlag{Name: "colony", Usage: "`NAME` of the colony; may be repeated when the row is no count"},
			&cli.StringFlag{Name: "yard", Usage: "`NAME` of its yard", DefaultText: "the one that has the colony, else the setting, else the only one"},
			&cli.StringFlag{Name: "date", Usage: "`DATE` it was done; of a board the day it came out", DefaultText: "the date of the count, or today"},
			&cli.StringFlag{Name: "event", Usage: "`EVENT`: " + strings.Join(eventNames(), ", "), DefaultText: "what the counts and --treatment say"},
			&cli.StringFlag{Name: "treatment", Usage: "`NAME` of a treatment, such as oxalic-vapour; of a knockdown the one it followed"},
			&cli.StringFlag{Name: "other", Usage: "split, united: `NAME` of the other colony"},
			&cli.StringFlag{Name: "brood", Usage: "whether there is capped brood `yes|no`"},
			&cli.StringFlag{Name: "adult-bees", Usage: "adult bees of the colony, `BEES`"},
			&cli.StringFlag{Name: "frames-of-bees", Usage: "deep frames covered with bees on both sides, `FRAMES`"},
			&cli.StringFlag{Name: "grams-per-100", Usage: "weight of 100 bees of a weighed sample, as wet as they were, `GRAMS`"},
			&cli.StringFlag{Name: "cells", Usage: "board: when only some cells of the grid were counted, `COUNTED/ALL`"},
			&cli.StringFlag{Name: "fall-before", Usage: "knockdown: mites a day that fell before the treatment, `MITES`"},
			&cli.StringFlag{Name: "pair", Usage: "`LABEL` that ties two counts made to be compared"},
			&cli.StringFlag{Name: "until", Usage: "of a treatment: the `DATE` on which it is to come out by its label"},
			&cli.StringFlag{Name: "stand", Usage: "place of the hive in the yard, `N`, in the order in which they are visited"},
			&cli.StringFlag{Name: "observer", Usage: "`NAME` of who looked"},
			&cli.StringFlag{Name: "note", Usage: "`TEXT` of your own"},
			&cli.BoolFlag{Name: "again", Usage: "write it even if the record says the same already"},
		},
		Action: func(c *cli.Context) error {
			if sh.Explain { // before anything is written, not after
				return line.NothingToExplain()
			}
			sh.LogNamed = false // this command makes the record when there is none
			r, err := ask.ReadRules(sh, c)
			if err != nil {
				return err
			}
			events, err := readEvents(sh, c)
			if err != nil {
				return err
			}
			if !c.IsSet("yard") {
				if err := findYards(sh, events); err != nil {
					return err
				}
			}
			return write(sh, c, r, events, nil)
		},
	}
}

func eventNames() []string {
	var out []string
	for _, k := range fieldlog.Kinds() {
		if k != fieldlog.Count && k != fieldlog.Treatment && k != fieldlog.Renamed && k != fieldlog.Undo {
			out = append(out, string(k))
		}
	}
	return out
}

// readEvents is what the line says happened: one event for each count, else
// one for each colony.
func readEvents(sh *line.Shell, c *cli.Context) ([]fieldlog.Event, error) {
	colonies := c.StringSlice("colony")
	if len(colonies) == 0 {
		return nil, line.TooFew("the colony is missing", logAddExample)
	}
	common, err := readCommon(sh, c)
	if err != nil {
		return nil, err
	}
	if c.NArg() > 0 {
		if len(colonies) > 1 {
			return nil, &show.Problem{What: "a count is of one colony, and " + strconv.Itoa(len(colonies)) + " are named", Remedy: "write a line of its own for each colony"}
		}
		common.Colony = colonies[0]
		return readCounts(c, common)
	}
	for _, name := range []string{"grams-per-100", "cells", "fall-before", "pair"} {
		if c.IsSet(name) {
			return nil, &show.Problem{What: "--" + name + " says something of a count, and there is none", Remedy: "write the count too, or leave out --" + name}
		}
	}
	if c.IsSet("treatment") {
		if common.Kind != "" && common.Kind != fieldlog.Treatment {
			return nil, line.BadValue("event", c.String("event"), "--treatment is an event of its own", "write one line for each, or leave out --event")
		}
		t, err := sampling.FindTreatment(c.String("treatment"))
		if err != nil {
			return nil, line.InFlag("treatment", err)
		}
		common.Kind, common.Treatment = fieldlog.Treatment, t.TreatmentName
	}
	switch common.Kind {
	case "":
		return nil, line.TooFew("what happened is missing: a count, --treatment or --event", logAddExample)
	case fieldlog.Count:
		return nil, line.TooFew("the count is missing", logAddExample)
	case fieldlog.Treatment:
		if !c.IsSet("treatment") {
			return nil, line.TooFew("the treatment is missing", "halfcup log add --colony alder --treatment oxalic-vapour")
		}
	}
	var events []fieldlog.Event
	for _, name := range colonies {
		common.Colony = name
		events = append(events, common)
	}
	return events, nil
}

// findYards says the yard of events that came without one: the one that has the
// colony, else that of the settings, else the only one of the record. In a
// nameless yard beside it the colony would be another one, without neighbours
// and without its past.
func findYards(sh *line.Shell, events []fieldlog.Event) error {
	rec, err := sh.Record()
	if err != nil || rec == nil {
		return err
	}
	all := yardsOf(rec.Colonies())
	for i := range events {
		e := &events[i]
		c, err := rec.Find("", e.Colony)
		var unclear *fieldlog.ColonyError
		switch {
		case err == nil:
			e.Yard = c.Yard
		case errors.As(err, &unclear) && unclear.Yards != nil:
			return &show.Problem{What: unclear.Problem() + ", and nothing was written", Remedy: unclear.Remedy}
		case sh.Settings.Yard != nil:
			e.Yard = *sh.Settings.Yard
		case len(all) == 1:
			e.Yard = all[0]
		}
	}
	return nil
}

// yardsOf are the yards of colonies, each once.
func yardsOf(colonies []fieldlog.Colony) []string {
	var yards []string
	for _, c := range colonies {
		if !slices.ContainsFunc(yards, func(y string) bool { return fieldlog.SameName(y) == fieldlog.SameName(c.Yard) }) {
			yards = append(yards, c.Yard)
		}
	}
	return yards
}

// readCommon reads the flags that mean the same for every event.
func readCommon(sh *line.Shell, c *cli.Context) (e fieldlog.Event, err error) {
	e = fieldlog.Event{Date: sh.Today, Yard: c.String("yard"), Pair: c.String("pair"), Other: c.String("other"), Note: c.String("note"), Stand: c.String("stand"), Observer: c.String("observer")}
	if c.IsSet("date") {
		if e.Date, err = line.Date(c, "date"); err != nil {
			return e, err
		}
	}
	if c.IsSet("event") {
		names := append(eventNames(), string(fieldlog.Count), string(fieldlog.Treatment))
		name, err := line.Choice(c, "event", names...)
		if err != nil {
			return e, err
		}
		e.Kind = fieldlog.Kind(name)
	}
	if apart := e.Kind == fieldlog.Split || e.Kind == fieldlog.United; apart != c.IsSet("other") {
		if apart {
			return e, line.TooFew("the other colony is missing", "halfcup log add --colony willow --event split --other oak")
		}
		return e, &show.Problem{What: "--other is the other colony of a split or a union", Remedy: "add --event split or --event united, or leave out --other"}
	}
	if e.Kind == fieldlog.BroodBreak && !c.IsSet("brood") {
		return e, line.TooFew("whether the brood break starts or ends is missing", "halfcup log add --colony alder --event brood-break --brood no")
	}
	if c.IsSet("until") {
		if e.Until, err = line.Date(c, "until"); err != nil {
			return e, err
		}
		if !c.IsSet("treatment") {
			return e, line.BadValue("until", c.String("until"), "--until says when a treatment is to come out, and there is none", "leave it out")
		}
		if e.Until < e.Date {
			return e, line.BadValue("until", c.String("until"), "it is to come out before it went in on "+e.Date.String(), "check both days")
		}
	}
	return e, readHive(c, &e)
}

// readHive reads what flags say of the hive.
func readHive(c *cli.Context, e *fieldlog.Event) error {
	if c.IsSet("brood") {
		word, err := line.Choice(c, "brood", "yes", "no")
		if err != nil {
			return err
		}
		e.Brood = fieldlog.BroodPresent
		if word == "no" {
			e.Brood = fieldlog.BroodAbsent
		}
	}
	if c.IsSet("adult-bees") {
		bees, err := line.Whole(c, "adult-bees")
		if err != nil {
			return err
		}
		e.AdultBees = float64(bees)
	}
	if c.IsSet("frames-of-bees") {
		if c.IsSet("adult-bees") {
			return &show.Problem{What: "--adult-bees and --frames-of-bees say the same thing twice", Remedy: "leave one of them out"}
		}
		var err error
		if e.BeeFrames, err = line.Number(c, "frames-of-bees", nil); err != nil {
			return err
		}
	}
	return nil
}

// readCounts makes an event of each count.
func readCounts(c *cli.Context, common fieldlog.Event) ([]fieldlog.Event, error) {
	if common.Kind != "" && common.Kind != fieldlog.Count {
		return nil, line.BadValue("event", c.String("event"), "the line holds a count, and a count is an event of its own", "write one line for each")
	}
	common.Kind = fieldlog.Count
	var events []fieldlog.Event
	treated, onBoard, weighed, fell := false, false, false, false
	for _, text := range c.Args().Slice() {
		count, err := sampling.ParseCount(text)
		if err != nil {
			return nil, err
		}
		e := common
		if !count.Date.IsZero() {
			if c.IsSet("date") && e.Date != count.Date {
				return nil, line.BadValue("date", c.String("date"), "the count "+text+" has another date", "leave out one of the two")
			}
			e.Date = count.Date
		}
		if count.Method == sampling.Knockdown && c.IsSet("treatment") {
			t, err := sampling.FindTreatment(c.String("treatment"))
			if err != nil {
				return nil, line.InFlag("treatment", err)
			}
			count.Treatment, treated = t.TreatmentName, true
		}
		if count.Method == sampling.Knockdown && c.IsSet("fall-before") {
			v, err := line.Number(c, "fall-before", nil)
			if err != nil {
				return nil, err
			}
			count.FallBefore, fell = &v, true
		}
		if count.Method == sampling.Board && c.IsSet("cells") {
			if count.Cells, err = ask.ParseCells(c.String("cells")); err != nil {
				return nil, line.InFlag("cells", err)
			}
			onBoard = true
		}
		if count.Amount.Unit == sampling.Grams && c.IsSet("grams-per-100") {
			if count.GramsPer100, err = line.Number(c, "grams-per-100", nil); err != nil {
				return nil, err
			}
			weighed = true
		}
		e.Count = &count
		events = append(events, e)
	}
	for _, unused := range []struct {
		name string
		used bool
		of   string
	}{{"treatment", treated, "a knockdown"}, {"cells", onBoard, "a board"}, {"grams-per-100", weighed, "a weighed sample"}, {"fall-before", fell, "a knockdown"}} {
		if c.IsSet(unused.name) && !unused.used {
			return nil, line.BadValue(unused.name, c.String(unused.name), "--"+unused.name+" says something of "+unused.of+", and there is none", "leave it out, or write it as a line of its own")
		}
	}
	return events, nil
}

// refused says why nothing was written. A row that no record can hold was
// typed wrong: it stands in no file yet.
func refused(err error) error {
	var problem *fieldlog.Problem
	var same *fieldlog.DuplicateError
	var format *fieldlog.FormatError
	switch {
	case errors.As(err, &format):
		return err
	case errors.As(err, &same):
		return &show.Problem{What: same.Error(), Remedy: "nothing was written; add --again if it happened twice"}
	case errors.As(err, &problem):
		typed := problem.Problem
		typed.File, typed.Line, typed.Column = "", 0, 0
		return &typed
	}
	return err
}
