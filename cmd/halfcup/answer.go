package main

import (
	"fmt"
	"io"

	"halfcup/cmd/halfcup/internal/show"
)

// answer is what a command found out, ready to be written in any format.
type answer struct {
	schema   string            // name and version of the JSON, such as halfcup.estimate/1
	text     func(w io.Writer) // the body of the text, without warnings and closing
	warnings []string          // whole sentences that a user must not miss
	explain  string            // what --explain adds; "" when there is nothing to explain
	closing  string            // the last sentence, that a tired person can act on
	json     any               // a struct; schema and warnings are added
	csv      show.CSV
}

// write puts the answer out in the format that was asked for.
func (sh *shell) write(a answer) error {
	if sh.explain && a.explain == "" {
		return nothingToExplain()
	}
	switch sh.format {
	case "json":
		extra := map[string]any{"warnings": append([]string{}, a.warnings...)}
		if sh.explain {
			extra["explain"] = a.explain
		}
		return show.JSON(&sh.out, a.schema, a.json, extra)
	case "csv":
		for _, s := range a.warnings {
			fmt.Fprintln(sh.stderr, "halfcup: warning: "+s)
		}
		if sh.explain {
			fmt.Fprint(sh.stderr, sh.page.Wrap(a.explain, 0))
		}
		return a.csv.Write(&sh.out)
	}
	w := &sh.out
	a.text(w)
	for _, s := range a.warnings {
		fmt.Fprint(w, "\n"+sh.page.Hang("note: "+s, 0, 6))
	}
	if sh.explain {
		fmt.Fprint(w, "\n"+sh.page.Wrap(a.explain, 0))
	}
	if a.closing != "" {
		fmt.Fprint(w, "\n"+sh.page.Wrap(a.closing, 0))
	}
	return nil
}

func nothingToExplain() error {
	return &show.Problem{What: "this command has nothing to explain", Remedy: "leave out --explain"}
}
