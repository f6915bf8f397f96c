package keep

import (
	"fmt"
	"io"
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

func logDoneCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "done",
		Usage:     "say that what was planned was done",
		ArgsUsage: "[DAY] [NAME...]",
		UsageText: "halfcup log done",
		Description: "What was planned acts until its day, and after it on nothing until somebody says that it was done. Names, or all, confirm what waits for them, on the day it was planned for or on the one given; " +
			"--not takes the plan back. Without a name it lists what waits.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "only the yard `NAME`"},
			&cli.StringFlag{Name: "what", Usage: "only this treatment or event, `WHAT`, such as oxalic-vapour"},
			&cli.BoolFlag{Name: "not", Usage: "it was not done, and will not be"},
		},
		Action: func(c *cli.Context) error {
			if sh.Explain {
				return line.NothingToExplain()
			}
			r, err := ask.ReadRules(sh, c)
			if err != nil {
				return err
			}
			rec, err := ask.NeedRecord(sh, "a plan")
			if err != nil {
				return err
			}
			waits := waiting(c, rec, sh.Today)
			words := c.Args().Slice()
			if len(words) == 0 {
				return sh.Write(tellWaiting(sh, rec, waits))
			}
			on := sampling.Date(0)
			if d, isDay, err := readDay(words[0], sh.Today, past); isDay {
				if err != nil {
					return err
				}
				if on, words = d, words[1:]; on > sh.Today {
					return &sampling.SyntaxError{Input: c.Args().First(), Length: len(c.Args().First()), Problem: "this day lies ahead", Remedy: "what is still to come is a plan"}
				}
			}
			events, err := done(c, rec, waits, words, on)
			if err != nil {
				return err
			}
			return write(sh, c, r, events, nil)
		},
	}
}

// waiting are the plans whose day has come and that wait to be confirmed.
func waiting(c *cli.Context, rec *fieldlog.Record, today sampling.Date) []fieldlog.Event {
	var out []fieldlog.Event
	for _, e := range rec.Once() {
		if e.Mark != fieldlog.Planned || e.Date > today ||
			c.IsSet("yard") && fieldlog.SameName(e.Yard) != fieldlog.SameName(c.String("yard")) ||
			c.IsSet("what") && !strings.EqualFold(c.String("what"), slugOf(e)) {
			continue
		}
		out = append(out, e)
	}
	return out
}

// slugOf is the word that add takes for an event.
func slugOf(e fieldlog.Event) string {
	if t, err := e.Treatment.Find(); err == nil && e.Kind == fieldlog.Treatment {
		return t.Slug
	}
	return string(e.Kind)
}

// done are the rows that confirm plans, or take them back.
func done(c *cli.Context, rec *fieldlog.Record, waits []fieldlog.Event, names []string, on sampling.Date) ([]fieldlog.Event, error) {
	all := len(names) == 1 && strings.EqualFold(names[0], "all")
	found := map[string]bool{}
	var out []fieldlog.Event
	for _, p := range waits {
		i := slices.IndexFunc(names, func(n string) bool { return fieldlog.SameName(n) == fieldlog.SameName(p.Colony) })
		if i < 0 && !all {
			continue
		}
		if !all {
			found[names[i]] = true
		}
		e := p
		e.ID, e.By, e.UndoOf, e.Mark = "", "", rec.Key(p), fieldlog.Done
		if !on.IsZero() {
			e.Date = on
		}
		if c.Bool("not") {
			e = fieldlog.Event{Date: p.Date, Yard: p.Yard, Colony: p.Colony, Kind: fieldlog.Undo, UndoOf: rec.Key(p)}
		}
		out = append(out, e)
	}
	for _, n := range names {
		if !all && !found[n] {
			return nil, &show.Problem{What: fmt.Sprintf("nothing that was planned waits for %s, and nothing was written", n), Remedy: "halfcup log done lists what waits; what is not planned is written with halfcup add"}
		}
	}
	if len(out) == 0 {
		return nil, &show.Problem{What: "nothing that was planned waits", Remedy: "halfcup log list shows what is planned"}
	}
	return out, nil
}

type waitingJSON struct {
	File        string            `json:"file"`
	Waiting     []loggedEvent     `json:"waiting"` // planned, and nobody wrote that it was done
	Assumptions []sampling.Source `json:"assumptions"`
}

// tellWaiting lists what waits.
func tellWaiting(sh *line.Shell, rec *fieldlog.Record, waits []fieldlog.Event) line.Answer {
	rows := []loggedEvent{}
	for _, e := range waits {
		rows = append(rows, logged(sh, e))
	}
	return line.Answer{
		Schema: "halfcup.log-done/2",
		JSON:   waitingJSON{rec.Path, rows, []sampling.Source{}},
		CSV:    loggedCSV(waits),
		Text: func(w io.Writer) {
			if len(waits) == 0 {
				fmt.Fprintln(w, "Nothing that was planned waits.")
				return
			}
			fmt.Fprint(w, sh.Page.Wrap("Planned, and nobody wrote that it was done: halfcup log done NAME, or --not.", 0))
			var groups remarks
			for _, e := range waits {
				groups.add(e.Colony, say.ShortDay(e.Date)+", "+slugOf(e))
			}
			for _, s := range groups.said {
				fmt.Fprint(w, sh.Page.Hang(s+": "+show.List(groups.whose[s]), 2, 4))
			}
		},
	}
}
