package keep

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

func logMergeCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "merge",
		Usage:     "take over the rows of another record",
		ArgsUsage: "FILE",
		UsageText: "halfcup log merge phone.csv",
		Description: "Adds the rows of FILE that the record has not. A row with the same id is the same row; without ids, a row that says the same is. " +
			"Where two devices wrote down the same figures, they are kept once; --both says that it was counted twice. Where one id stands for two different rows, both are kept. FILE is not changed, and everything is told.",
		Flags: []cli.Flag{&cli.BoolFlag{Name: "both", Usage: "the same figures from two devices were counted twice: keep both"}},
		Action: func(c *cli.Context) error {
			if c.NArg() != 1 {
				return line.TooFew("log merge needs the name of one record", "halfcup log merge phone.csv")
			}
			if sh.Explain {
				return line.NothingToExplain()
			}
			sh.LogNamed = false
			other, err := fieldlog.Open(c.Args().First(), sh.DateOrder())
			if err != nil {
				return err
			}
			rec, err := fieldlog.Open(sh.LogFile, sh.DateOrder())
			if errors.Is(err, fs.ErrNotExist) {
				rec, err = fieldlog.Read(sh.LogFile, strings.NewReader(""))
			}
			if err != nil {
				return err
			}
			m := merge(rec, other, c.Bool("both"))
			if len(m.events) > 0 {
				a, err := fieldlog.Append(sh.LogFile, m.events, fieldlog.Options{Again: true, Order: sh.DateOrder()})
				if err != nil {
					return refused(err)
				}
				m.events = a.Events
				sh.Done = show.Many(len(a.Events), "row is", "rows are") + " written to " + a.Record.Path
			}
			return sh.Write(m.answer(sh, rec, other))
		},
	}
}

// merged is what a merge found.
type merged struct {
	events    []fieldlog.Event // to be written
	same      int              // rows the record has
	doubled   []fieldlog.Event // the same figures from two devices, kept once
	conflicts []fieldlog.Event // rows whose id stands for another row
	unread    int
	own       []string // columns that are not taken over
}

// merge finds the rows of another record that this one has not.
func merge(rec, other *fieldlog.Record, both bool) *merged {
	m := &merged{}
	byID := map[string]fieldlog.Event{}
	type day struct {
		fieldlog.Colony
		on   sampling.Date
		kind fieldlog.Kind
	}
	dayOf := func(e fieldlog.Event) day { return day{fieldlog.Of(e), e.Date, e.Kind} }
	byDay := map[day][]fieldlog.Event{}
	for _, e := range rec.Events {
		e = e.Written() // another device may not have heard of a new name
		if e.ID != "" {
			byID[e.ID] = e
		}
		byDay[dayOf(e)] = append(byDay[dayOf(e)], e)
	}
	names := map[string]string{} // what a row of other is called in rec, where that differs
	lines := map[int]bool{}
	for _, p := range other.Problems {
		if !p.Warning {
			lines[p.Line] = true
		}
	}
	m.unread = len(lines)
	for _, e := range other.Events {
		e = e.Written()
		if e.Double != 0 {
			m.same++
			continue
		}
		key := other.Key(e)
		if to, ok := names[e.UndoOf]; ok {
			e.UndoOf = to
		}
		if known, ok := byID[e.ID]; ok && e.ID != "" {
			if fieldlog.SameFact(known, e) && (e.Kind != fieldlog.Undo || known.UndoOf == e.UndoOf) {
				m.same++
				continue
			}
			e.ID = ""
			if known, has := alike(byDay[dayOf(e)], e); has { // taken over before
				m.same++
				names[key] = rec.Key(known)
				continue
			}
			names[key] = e.Digest()
			m.conflicts = append(m.conflicts, e)
			m.events = append(m.events, e)
			continue
		}
		known, has := alike(byDay[dayOf(e)], e)
		switch {
		case !has:
			m.events = append(m.events, e)
		case known.Note == e.Note && (e.ID == "" || known.ID == ""):
			m.same++
			names[key] = rec.Key(known)
		case both:
			m.events = append(m.events, e)
		default:
			e.UndoOf = rec.Key(known)
			m.doubled = append(m.doubled, e)
			m.events = append(m.events, e)
		}
	}
	for _, name := range other.Columns() {
		if !slices.ContainsFunc(fieldlog.ColumnNames(), func(c string) bool {
			return strings.EqualFold(strings.NewReplacer(" ", "_", "-", "_").Replace(name), c)
		}) && strings.TrimSpace(name) != "" {
			m.own = append(m.own, name)
		}
	}
	return m
}

// alike is a row that says the same; one that still stands rather than one that
// was taken back.
func alike(events []fieldlog.Event, e fieldlog.Event) (known fieldlog.Event, ok bool) {
	for _, o := range events {
		if o.Kind == fieldlog.Undo && o.UndoOf != e.UndoOf || !fieldlog.SameFact(o, e) || (e.UndoOf != "" && e.UndoOf != o.UndoOf) {
			continue
		}
		if !ok || known.Gone != 0 && o.Gone == 0 {
			known, ok = o, true
		}
	}
	return known, ok
}

type mergedJSON struct {
	File        string            `json:"file"`
	From        string            `json:"from"` // the record that was taken over
	Written     []loggedEvent     `json:"written"`
	Same        int               `json:"same"`      // rows that were there before
	KeptOnce    []loggedEvent     `json:"kept_once"` // written down on two devices
	Conflicts   []loggedEvent     `json:"conflicts"` // two different rows of one id, both kept
	Unread      int               `json:"unread"`    // rows that cannot be read
	Assumptions []sampling.Source `json:"assumptions"`
}

const (
	keptOnce     = "Written down on two devices and kept once: %s. If it was counted twice: halfcup undo --rows %d, then merge with --both."
	oneIDTwoRows = "One id stands for two different rows, and both are kept: %s. Give every device a letter of its own (setting device)."
)

func (m *merged) answer(sh *line.Shell, rec, other *fieldlog.Record) line.Answer {
	rows := func(events []fieldlog.Event) []loggedEvent {
		out := []loggedEvent{}
		for _, e := range events {
			out = append(out, logged(sh, e))
		}
		return out
	}
	a := line.Answer{
		Schema: "halfcup.log-merge/2",
		JSON:   mergedJSON{rec.Path, other.Path, rows(m.events), m.same, rows(m.doubled), rows(m.conflicts), m.unread, []sampling.Source{}},
		CSV:    loggedCSV(m.events),
		Text: func(w io.Writer) {
			fmt.Fprint(w, sh.Page.Wrap(fmt.Sprintf("%s from %s written to %s; %s there before.", show.Many(len(m.events), "row", "rows"), other.Path, rec.Path, show.Many(m.same, "was", "were")), 0))
			if len(m.events) > 0 {
				fmt.Fprint(w, sh.Page.Table(eventTable(sh, m.events)))
			}
		},
	}
	told := func(events []fieldlog.Event) string {
		var out []string
		for _, e := range events {
			out = append(out, fmt.Sprintf("%s on %s", named(e), dayWords(sh, e.Date)))
		}
		return show.List(out)
	}
	if len(m.doubled) > 0 {
		a.Warnings = append(a.Warnings, say.Warn(say.LeftOut, fmt.Sprintf(keptOnce, told(m.doubled), len(m.events)))...)
	}
	if len(m.conflicts) > 0 {
		a.Warnings = append(a.Warnings, say.Warn(say.Doubtful, fmt.Sprintf(oneIDTwoRows, told(m.conflicts)))...)
	}
	if m.unread > 0 {
		a.Warnings = append(a.Warnings, say.Warn(say.LeftOut, fmt.Sprintf("Left out: %s that cannot be read. halfcup log check --log %s shows them.", show.Many(m.unread, "row", "rows"), other.Path))...)
	}
	if len(m.own) > 0 {
		own := "the columns "
		if len(m.own) == 1 {
			own = "the column "
		}
		a.Warnings = append(a.Warnings, say.Warning{Kind: say.LeftOut, Text: "Of your own and not taken over: " + own + show.List(m.own) + "."})
	}
	return a
}
