package keep

import (
	"errors"
	"fmt"
	"io"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
)

func logCheckCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "check",
		Usage:     "show everything that is wrong with the record",
		UsageText: "halfcup log check",
		Description: "Shows every problem in one run, with its place, the line and how to mend it: rows that cannot be read, and seasons that cannot have been, such as a count after a colony died. " +
			"Ends with 0 when all is well and with 3 when it is not. Nothing is changed.",
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 {
				return &show.Problem{What: fmt.Sprintf("log check takes no %q", c.Args().First()), Remedy: "name the record with --log"}
			}
			if sh.Explain {
				return line.NothingToExplain()
			}
			problems, read, err := checkRecord(sh)
			if err != nil {
				return err
			}
			if err := writeProblems(sh, sh.Stdout, problems, read); err != nil {
				return line.WriteError(err)
			}
			if len(problems) == 0 {
				return nil
			}
			return &show.Problem{File: sh.LogFile, What: many(float64(len(problems)), "problem"), Remedy: "mend the rows in a spreadsheet or an editor, and check again"}
		},
	}
}

// checkRecord is everything that is wrong with the record, and how many rows of
// it could be read. A file that is no record at all has problems like any other.
func checkRecord(sh *line.Shell) (problems []*fieldlog.Problem, read int, err error) {
	record, err := fieldlog.Open(sh.LogFile, sh.DateOrder())
	var format *fieldlog.FormatError
	switch {
	case errors.As(err, &format):
		return format.Problems, 0, nil
	case err != nil:
		return nil, 0, err
	}
	return record.Check(sh.Today), len(record.Events), nil
}

// checkedJSON is the answer of log check.
type checkedJSON struct {
	File     string        `json:"file"`
	Problems []problemJSON `json:"problems"`
}

type problemJSON struct {
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Length  int    `json:"length"` // of what is marked, in characters
	Kind    string `json:"kind"`   // error or warning
	Message string `json:"message"`
	Remedy  string `json:"remedy"`
	Text    string `json:"text"` // the row as it stands
}

// writeProblems writes them as the answer that they are. It goes to stdout at
// once, because the command does not end well. People are told when there are
// none of so many rows: a program that says nothing may not have looked.
func writeProblems(sh *line.Shell, w io.Writer, problems []*fieldlog.Problem, read int) error {
	kind := func(p *fieldlog.Problem) string {
		if p.Warning {
			return "warning"
		}
		return "error"
	}
	switch sh.Format {
	case "csv":
		t := show.CSV{Head: []string{"line", "column", "kind", "message", "remedy"}}
		for _, p := range problems {
			t.Rows = append(t.Rows, []any{p.Line, p.Column, kind(p), p.What, p.Remedy})
		}
		return t.Write(w)
	case "json":
		rows := []problemJSON{}
		for _, p := range problems {
			marked := p.Text[p.Offset : p.Offset+p.Length]
			rows = append(rows, problemJSON{p.Line, p.Column, len([]rune(marked)), kind(p), p.What, p.Remedy, p.Text})
		}
		return show.JSON(w, "halfcup.log-check/1", checkedJSON{sh.LogFile, rows}, map[string]any{"warnings": []say.Warning{}})
	}
	if len(problems) == 0 {
		found := "no rows yet"
		if read > 0 {
			found = show.Many(read, "row", "rows") + ", and nothing is wrong"
		}
		_, err := fmt.Fprintf(w, "%s: %s.\n", sh.LogFile, found)
		return err
	}
	for _, p := range problems {
		prefix := ""
		if p.Warning {
			prefix = "warning: "
		}
		if _, err := io.WriteString(w, p.Layout(prefix)); err != nil {
			return err
		}
	}
	return nil
}
