package keep

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

func logCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:     "log",
		Category: line.GroupSeason,
		Usage:    "keep the record: add to it, list it, check it",
		Description: "The record is a CSV file that any spreadsheet opens, one row an event; ./" + line.DefaultRecord + " unless --log names another. " +
			"The program only ever writes at its end and changes nothing that stands there but to add a column that is needed, so you can also keep it by hand. " +
			"Close it in the spreadsheet before you write with the program.",
		UsageText:   "halfcup log add --colony alder roll:6/300",
		Subcommands: []*cli.Command{logAddCommand(sh), logListCommand(sh), logCheckCommand(sh), logDoneCommand(sh), logRenameCommand(sh), logMergeCommand(sh)},
	}
}

// loggedEvent is one event of the record in an answer.
type loggedEvent struct {
	Line    int           `json:"line"`
	Date    sampling.Date `json:"date"`
	Planned bool          `json:"planned"`
	Done    bool          `json:"done"`       // what was planned was done
	Gone    bool          `json:"taken_back"` // by a later row

	Yard   *string `json:"yard"`
	Colony string  `json:"colony"`
	Event  string  `json:"event"`
	Count  *string `json:"count"`
	Other  *string `json:"other"` // parent of a split, survivor of a union, former name
	Pair   *string `json:"pair"`
	Note   *string `json:"note"`
	Brood  *bool   `json:"brood"` // capped brood; of a brood break, whether the queen lays

	AdultBees   *float64       `json:"adult_bees"`
	BeeFrames   *float64       `json:"frames_of_bees"`
	GramsPer100 *float64       `json:"grams_per_100"`
	Counted     *int           `json:"cells_counted"`
	OfCells     *int           `json:"cells_of_board"`
	FallBefore  *float64       `json:"fall_before"`
	Until       *sampling.Date `json:"until"` // the day it is to come out by its label
	Weather     *string        `json:"weather"`
	Stand       *string        `json:"stand"`
	Observer    *string        `json:"observer"`
	ID          *string        `json:"id"`
	By          *string        `json:"by"`
	UndoOf      *string        `json:"undo_of"`
	Active      *string        `json:"active"`
	Application *string        `json:"application"`
}

func logged(sh *line.Shell, e fieldlog.Event) loggedEvent {
	out := loggedEvent{
		Line: e.Line, Date: e.Date, Planned: planned(e, sh.Today), Done: e.Mark == fieldlog.Done, Gone: e.Gone != 0,
		Until: say.Said(e.Until), Stand: say.Said(e.Stand), Observer: say.Said(e.Observer), ID: say.Said(e.ID), By: say.Said(e.By), UndoOf: say.Said(e.UndoOf),
		Yard: say.Said(e.Yard), Colony: e.Colony, Event: string(e.Kind), Other: say.Said(e.Other), Pair: say.Said(e.Pair), Note: say.Said(e.Note),
		AdultBees: say.Said(e.AdultBees), BeeFrames: say.Said(e.BeeFrames),
	}
	if e.Brood != fieldlog.BroodUnknown {
		yes := e.Brood == fieldlog.BroodPresent
		out.Brood = &yes
	}
	treatment := e.Treatment
	if c := e.Count; c != nil {
		undated := *c
		undated.Date = 0
		out.Count = say.Said(undated.String())
		out.Weather = say.Said(string(c.Weather))
		out.GramsPer100, out.FallBefore = say.Said(c.GramsPer100), c.FallBefore
		out.Counted, out.OfCells = say.Said(c.Cells.Counted), say.Said(c.Cells.Of)
		treatment = c.Treatment
	}
	out.Active, out.Application = say.Said(treatment.Active), say.Said(treatment.Application)
	return out
}

// planned reports whether an event is a plan: marked as one, or in the days to
// come.
func planned(e fieldlog.Event, today sampling.Date) bool {
	return e.Mark == fieldlog.Planned || e.Mark == "" && e.Date > today
}

// loggedCSV is events in the columns of the record, with the line they are on.
func loggedCSV(events []fieldlog.Event) show.CSV {
	names := fieldlog.ColumnNames()
	t := show.CSV{Head: append(names, "line"), Record: true}
	for _, e := range events {
		cells := e.Cells()
		var row []any
		for _, name := range names {
			row = append(row, cells[name])
		}
		t.Rows = append(t.Rows, append(row, e.Line))
	}
	return t
}

// tellEvent says what an event was, in words, without its day and colony.
func tellEvent(e fieldlog.Event) string { return tellWith(e, tellCount) }

// tellWith is tellEvent with words for the count.
func tellWith(e fieldlog.Event, count func(sampling.Count) string) string {
	var parts []string
	add := func(format string, a ...any) { parts = append(parts, fmt.Sprintf(format, a...)) }
	switch e.Kind {
	case fieldlog.Count:
		add("%s", count(*e.Count))
		if e.Pair != "" {
			add("pair %s", e.Pair)
		}
	case fieldlog.Treatment:
		add("%s", e.Treatment)
		if !e.Until.IsZero() {
			add("until %s", e.Until.Time().Format("2 January"))
		}
	case fieldlog.TreatmentEnd:
		if e.Treatment.Active != "" {
			add("%s", e.Treatment)
		}
	case fieldlog.Undo:
		add("takes back %s", e.UndoOf)
	case fieldlog.Split:
		add("taken from %s", e.Other)
	case fieldlog.United:
		add("joined to %s", e.Other)
	case fieldlog.Renamed:
		add("it was called %s", e.Other)
	case fieldlog.BroodBreak:
		if e.Brood == fieldlog.BroodAbsent {
			add("the queen stops laying")
		} else {
			add("the queen lays again")
		}
	}
	if e.Kind != fieldlog.BroodBreak {
		switch e.Brood {
		case fieldlog.BroodPresent:
			add("capped brood")
		case fieldlog.BroodAbsent:
			add("no capped brood")
		}
	}
	switch {
	case e.AdultBees > 0:
		add("%s adult bees", show.Plain(e.AdultBees))
	case e.BeeFrames > 0:
		add("bees on %s", many(e.BeeFrames, "frame"))
	}
	switch e.Mark {
	case fieldlog.Planned:
		add("planned")
	case fieldlog.Done:
		add("done as planned")
	}
	told := strings.Join(parts, "; ")
	note := strings.Join(strings.Fields(show.Printable(strings.ReplaceAll(e.Note, "\n", " "))), " ")
	switch {
	case told == "" || note == "":
		return told + note
	case strings.HasPrefix(note, "("): // as --again writes it
		return told + " " + note
	}
	return told + "; " + note
}

// tellCount says a count in words.
func tellCount(c sampling.Count) string {
	return fmt.Sprintf("%s: %s in %s", c.Method.Title(), many(float64(c.Mites), "mite"), tellSample(c))
}

// tellSample says in words what was looked at for a count.
func tellSample(c sampling.Count) string {
	s := ""
	switch c.Amount.Unit {
	case sampling.Bees:
		s += many(c.Amount.Value, "bee")
	case sampling.Cups:
		s += cups(c.Amount.Value) + " of bees"
	case sampling.Millilitres:
		s += show.Plain(c.Amount.Value) + " mL of bees"
	case sampling.Grams:
		s += show.Plain(c.Amount.Value) + " g of bees"
	case sampling.Days:
		s += many(c.Amount.Value, "day")
	case sampling.Hours:
		s += many(c.Amount.Value, "hour")
	}
	if c.GramsPer100 > 0 {
		s += fmt.Sprintf(" (100 weigh %s g)", show.Plain(c.GramsPer100))
	}
	if c.Frames > 0 {
		s += " from " + many(float64(c.Frames), "frame")
	}
	if c.Weather != "" {
		s += ", " + string(c.Weather)
	}
	if c.Cells.Of > 0 {
		s += fmt.Sprintf(" on %d of %d cells", c.Cells.Counted, c.Cells.Of)
	}
	if c.Treatment.Active != "" {
		s += " after " + c.Treatment.String()
	}
	if c.FallBefore != nil {
		s += fmt.Sprintf("; %s a day before it", show.Plain(*c.FallBefore))
	}
	return s
}

// cups are cups as people say them.
func cups(n float64) string {
	switch n {
	case 0.5:
		return "half a cup"
	case 1:
		return "a cup"
	}
	return many(n, "cup")
}

// many is a number with its noun: 0.5 cup, 1 day, 2 mites, 0 mites.
func many(n float64, noun string) string {
	if n == 0 || n > 1 {
		noun += "s"
	}
	return show.Plain(n) + " " + noun
}
