package keep

import (
	"fmt"
	"io"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

func undoCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "undo",
		Category:  line.GroupSeason,
		Usage:     "take back what was written down last",
		UsageText: "halfcup undo",
		Description: "Takes back the rows that were written together last. Nothing is cut out of the record: a row is added that says which one no longer counts, and to take that back brings it back. " +
			"In a record without ids, which was begun by hand, it is the last row, or the last so many with --rows.",
		Flags: []cli.Flag{&cli.StringFlag{Name: "rows", Usage: "take back the last `N` rows"}},
		Action: func(c *cli.Context) error {
			if err := line.TakesNothing(c); err != nil {
				return err
			}
			if sh.Explain {
				return line.NothingToExplain()
			}
			if _, err := ask.NeedRecord(sh, "a row"); err != nil {
				return err
			}
			rec, err := sh.Record() // whole: which rows come last, answers do not say
			if err != nil {
				return err
			}
			rows := rec.LastAddition()
			if c.IsSet("rows") {
				n, err := line.Whole(c, "rows")
				if err != nil {
					return err
				}
				rows = rec.Last(n)
			}
			if len(rows) == 0 {
				return &show.Problem{What: "the record holds nothing to take back", Remedy: "halfcup log list shows what it holds"}
			}
			for _, p := range rec.Problems {
				if !p.Warning && p.Line > rows[0].Line {
					return &show.Problem{File: rec.Path, Line: p.Line, What: "a row that cannot be read stands among the last: " + p.What, Remedy: p.Remedy + "; or delete that row, if it is the one to take back"}
				}
			}
			var back []fieldlog.Event
			for _, e := range rows {
				back = append(back, fieldlog.Event{Date: e.Date, Yard: e.Yard, Colony: e.Colony, Kind: fieldlog.Undo, UndoOf: rec.Key(e)})
			}
			a, err := fieldlog.Append(sh.LogFile, back, fieldlog.Options{Order: sh.DateOrder(), Device: device(sh)})
			if err != nil {
				return refused(err)
			}
			sh.Done = show.Many(len(rows), "row is", "rows are") + " taken back"
			return sh.Write(undone(sh, rec, a, rows))
		},
	}
}

type undoneJSON struct {
	File        string            `json:"file"`
	TakenBack   []loggedEvent     `json:"taken_back"`
	Assumptions []sampling.Source `json:"assumptions"`
}

// undone says what was taken back.
func undone(sh *line.Shell, before *fieldlog.Record, a fieldlog.Appended, rows []fieldlog.Event) line.Answer {
	verb, shown := "Taken back", rows
	if !slices.ContainsFunc(rows, func(e fieldlog.Event) bool { return e.Kind != fieldlog.Undo }) {
		verb, shown = "Brought back", nil
		for i, e := range before.Events {
			if e.Gone != 0 && a.Record.Events[i].Gone == 0 {
				shown = append(shown, e)
			}
		}
	}
	took := []loggedEvent{}
	for _, e := range rows {
		took = append(took, logged(sh, e))
	}
	return line.Answer{
		Schema: "halfcup.undo/2",
		JSON:   undoneJSON{a.Record.Path, took, []sampling.Source{}},
		CSV:    loggedCSV(rows),
		Text: func(w io.Writer) {
			fmt.Fprint(w, sh.Page.Wrap(fmt.Sprintf("%s: %s. Nothing was cut; halfcup undo again brings it back.", verb, show.Many(len(shown), "row", "rows")), 0))
			for _, e := range shown {
				fmt.Fprint(w, sh.Page.Hang(tellShared(sh, e)+": "+named(e), 2, 4))
			}
		},
	}
}
