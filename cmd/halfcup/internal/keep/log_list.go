package keep

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

func logListCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "list",
		Usage:     "show what the record holds",
		UsageText: "halfcup log list --colony alder --from 2026-07-01",
		Description: "Shows the rows of the record by day, in words. With --treatments it is the treatment record: what was given to which colony on which day, " +
			"by active ingredient, and whether supers were on. Where the law asks for more, such as the batch or the person, keep it in the notes.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "only the yard `NAME`"},
			&cli.StringSliceFlag{Name: "colony", Usage: "only the colony `NAME`; may be repeated"},
			&cli.StringSliceFlag{Name: "event", Usage: "only the event `EVENT`, such as count; may be repeated"},
			&cli.StringFlag{Name: "from", Usage: "nothing before `DATE`"},
			&cli.StringFlag{Name: "to", Usage: "nothing after `DATE`"},
			&cli.BoolFlag{Name: "treatments", Usage: "the treatment record"},
		},
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 {
				return &show.Problem{What: fmt.Sprintf("log list takes no %q", c.Args().First()), Remedy: "name colonies with --colony"}
			}
			keep, err := readFilter(c)
			if err != nil {
				return err
			}
			record, err := fieldlog.Open(sh.LogFile, sh.DateOrder())
			if err != nil {
				return err
			}
			if err := keep.knows(record); err != nil {
				return err
			}
			sh.LeaveOut(slices.DeleteFunc(slices.Clone(record.Problems), func(p *fieldlog.Problem) bool { return p.Warning }))
			var events []fieldlog.Event
			for _, e := range record.ByDate() {
				if keep.event(e) {
					events = append(events, e)
				}
			}
			if c.Bool("treatments") {
				return sh.Write(treatmentAnswer(sh, record, events))
			}
			a := line.Answer{
				Schema: "halfcup.log-list/2",
				CSV:    loggedCSV(events),
				Text:   func(w io.Writer) { tellEvents(sh, w, events) },
			}
			rows := []loggedEvent{}
			for _, e := range events {
				rows = append(rows, logged(sh, e))
			}
			a.JSON = listedJSON{record.Path, rows}
			return sh.Write(a)
		},
	}
}

type listedJSON struct {
	File string        `json:"file"`
	Rows []loggedEvent `json:"rows"`
}

// filter is which rows are asked for.
type filter struct {
	yard     string
	anyYard  bool
	colonies []string
	kinds    []fieldlog.Kind
	from, to sampling.Date
}

func readFilter(c *cli.Context) (f filter, err error) {
	f.yard, f.anyYard = c.String("yard"), !c.IsSet("yard")
	f.colonies = c.StringSlice("colony")
	for _, name := range c.StringSlice("event") {
		names := append(eventNames(), string(fieldlog.Count), string(fieldlog.Treatment))
		if !slices.Contains(names, name) {
			remedy := fmt.Sprintf("the events are %v", fieldlog.Kinds())
			if question := meant.Question(name, names, ""); question != "" {
				remedy = strings.TrimSpace(question)
			}
			return f, line.BadValue("event", name, fmt.Sprintf("%q is not an event", name), remedy)
		}
		f.kinds = append(f.kinds, fieldlog.Kind(name))
	}
	if c.Bool("treatments") {
		if f.kinds != nil {
			return f, &show.Problem{What: "--treatments lists treatments and no other event", Remedy: "leave out --event, or --treatments"}
		}
		f.kinds = []fieldlog.Kind{fieldlog.Treatment}
	}
	if c.IsSet("from") {
		if f.from, err = line.Date(c, "from"); err != nil {
			return f, err
		}
	}
	if c.IsSet("to") {
		if f.to, err = line.Date(c, "to"); err != nil {
			return f, err
		}
		if f.to < f.from {
			return f, line.BadValue("to", c.String("to"), "the last day is before the first", "check --from and --to")
		}
	}
	return f, nil
}

// knows refuses a yard or colony the record has never heard of: an empty list
// would hide a slip.
func (f filter) knows(r *fieldlog.Record) error {
	inYard := func(c fieldlog.Colony) bool {
		return f.anyYard || fieldlog.SameName(c.Yard) == fieldlog.SameName(f.yard)
	}
	if all := r.Colonies(); !slices.ContainsFunc(all, inYard) && !f.anyYard {
		var yards []string
		for _, c := range all {
			yards = append(yards, c.Yard)
		}
		remedy := "check the name"
		if question := meant.Question(f.yard, yards, ""); question != "" {
			remedy = strings.TrimSpace(question)
		}
		return &show.Problem{What: fmt.Sprintf("there is no yard %s in the record", f.yard), Remedy: remedy}
	}
	for _, name := range f.colonies {
		found := slices.ContainsFunc(r.Colonies(), func(c fieldlog.Colony) bool {
			return inYard(c) && fieldlog.SameName(c.Name) == fieldlog.SameName(name)
		})
		if !found {
			_, err := r.History(f.yard, name)
			return err
		}
	}
	return nil
}

func (f filter) event(e fieldlog.Event) bool {
	isOne := func(name string) bool { return fieldlog.SameName(name) == fieldlog.SameName(e.Colony) }
	return (f.anyYard || fieldlog.SameName(f.yard) == fieldlog.SameName(e.Yard)) &&
		(f.colonies == nil || slices.ContainsFunc(f.colonies, isOne)) &&
		(f.kinds == nil || slices.Contains(f.kinds, e.Kind)) &&
		e.Date >= f.from && (f.to.IsZero() || e.Date <= f.to)
}

const nothingListed = "The record holds nothing of the kind.\n"

func tellEvents(sh *line.Shell, w io.Writer, events []fieldlog.Event) {
	if len(events) == 0 {
		fmt.Fprint(w, nothingListed)
		return
	}
	fmt.Fprint(w, sh.Page.Table(eventTable(sh, events)))
}

// eventTable is events in words. A yard column is there when it says anything.
func eventTable(sh *line.Shell, events []fieldlog.Event) show.Table {
	hasYard := slices.ContainsFunc(events, func(e fieldlog.Event) bool { return e.Yard != "" })
	t := show.Table{Columns: []show.Column{{Name: "line", Right: true}, {Name: "date"}, {Name: "yard"}, {Name: "colony"}, {Name: "event"}, {Name: "what", Flow: true}}}
	undone := map[int]bool{} // lines that only take back
	for _, e := range events {
		undone[e.Line] = e.Kind == fieldlog.Undo
	}
	for _, e := range events {
		event := string(e.Kind)
		switch {
		case e.Gone != 0 && e.Mark == fieldlog.Planned && !undone[e.Gone]:
			event += " (done since)"
		case e.Gone != 0:
			event += " (taken back)"
		case e.Mark == "" && planned(e, sh.Today):
			event += " (planned)"
		}
		t.Rows = append(t.Rows, []string{fmt.Sprint(e.Line), e.Date.String(), e.Yard, e.Colony, event, tellEvent(e)})
	}
	return withoutYard(t, 2, hasYard)
}

// withoutYard takes the yard column out of a table when no row names one.
func withoutYard(t show.Table, column int, hasYard bool) show.Table {
	if hasYard {
		return t
	}
	t.Columns = slices.Delete(t.Columns, column, column+1)
	for i, r := range t.Rows {
		t.Rows[i] = slices.Delete(r, column, column+1)
	}
	return t
}

// given is one row of the treatment record.
type given struct {
	Line        int           `json:"line"`
	Date        sampling.Date `json:"date"`
	Planned     bool          `json:"planned"`
	Yard        *string       `json:"yard"`
	Colony      string        `json:"colony"`
	Active      string        `json:"active"`
	Application string        `json:"application"`
	SupersOn    *bool         `json:"supers_on"` // null when the record does not say
	Note        *string       `json:"note"`
}

const supersWereOn = "By the record, supers are on at %s. The label and the law decide whether that is allowed, and what may become of the honey."

// treatmentAnswer is the treatment record.
func treatmentAnswer(sh *line.Shell, r *fieldlog.Record, events []fieldlog.Event) line.Answer {
	rows := []given{}
	table := show.CSV{Head: []string{"date", "yard", "colony", "active", "application", "planned", "supers_on", "note", "line"}}
	t := show.Table{Columns: []show.Column{{Name: "date"}, {Name: "yard"}, {Name: "colony"}, {Name: "active ingredient"}, {Name: "application"}, {Name: "supers"}, {Name: "note", Flow: true}}}
	hasYard, withSupers := false, 0
	supers := supersBy(r)
	for _, e := range events {
		if e.Gone != 0 {
			continue
		}
		g := given{Line: e.Line, Date: e.Date, Planned: planned(e, sh.Today), Yard: say.Said(e.Yard), Colony: e.Colony, Active: e.Treatment.Active, Application: e.Treatment.Application, SupersOn: supers[e.Line], Note: say.Said(e.Note)}
		rows = append(rows, g)
		state := ""
		var on any
		if g.SupersOn != nil {
			on = *g.SupersOn
			state = "off"
			if *g.SupersOn {
				state = "on"
				withSupers++
			}
		}
		note := e.Note
		if g.Planned {
			if note = "planned"; e.Note != "" && e.Note != "planned" {
				note += "; " + e.Note
			}
		}
		hasYard = hasYard || e.Yard != ""
		table.Rows = append(table.Rows, []any{e.Date, e.Yard, e.Colony, g.Active, g.Application, g.Planned, on, e.Note, e.Line})
		t.Rows = append(t.Rows, []string{e.Date.String(), e.Yard, e.Colony, g.Active, g.Application, state, show.Printable(note)})
	}
	a := line.Answer{
		Schema: "halfcup.treatments/2",
		JSON:   treatmentsJSON{r.Path, rows},
		CSV:    table,
		Text: func(w io.Writer) {
			if len(events) == 0 {
				fmt.Fprint(w, nothingListed)
				return
			}
			fmt.Fprint(w, sh.Page.Table(withoutYard(t, 1, hasYard)))
		},
	}
	if withSupers > 0 {
		a.Warnings = append(a.Warnings, say.Warn(say.Caution, fmt.Sprintf(supersWereOn, many(float64(withSupers), "treatment")))...)
	}
	return a
}

type treatmentsJSON struct {
	File string  `json:"file"`
	Rows []given `json:"rows"`
}

// supersBy tells, by the line of each treatment, whether supers were on when it
// was given; a line is missing when the record does not say. Supers put on or
// taken off that day were so before it when their row stands first.
func supersBy(r *fieldlog.Record) map[int]*bool {
	out := map[int]*bool{}
	on := map[fieldlog.Colony]*bool{}
	for _, e := range r.ByDate() {
		if e.Gone != 0 {
			continue
		}
		switch e.Kind {
		case fieldlog.SupersOn, fieldlog.SupersOff:
			is := e.Kind == fieldlog.SupersOn
			on[fieldlog.Of(e)] = &is
		case fieldlog.Treatment:
			if is := on[fieldlog.Of(e)]; is != nil {
				out[e.Line] = is
			}
		}
	}
	return out
}
