package line

import (
	"fmt"
	"io"
	"slices"

	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
)

// Answer is what a command found out, ready to be written in any format.
type Answer struct {
	Schema   string            // name and version of the JSON, such as halfcup.estimate/1
	Text     func(w io.Writer) // what to do first, and why after it
	Warnings []say.Warning     // what a user must not miss
	Doubt    string            // that of the warnings which has to be answered before the rest is worth reading
	Unsound  string            // said in place of the text when nothing can be built on what is in doubt
	Explain  string            // what --explain says in place of the text; "" when there is nothing to explain
	JSON     any               // a struct; schema and warnings are added
	CSV      show.CSV
}

// Write puts the answer out in the format that was asked for.
func (sh *Shell) Write(a Answer) error {
	if sh.Explain && a.Explain == "" {
		return NothingToExplain()
	}
	a.Warnings = slices.Concat(a.Warnings, say.Warn(say.LeftOut, sh.leftOutWarnings()...), say.Warn(say.Doubtful, sh.Doubts...))
	switch sh.Format {
	case "json":
		extra := map[string]any{"warnings": append([]say.Warning{}, a.Warnings...)}
		if sh.Explain {
			extra["explain"] = a.Explain
		}
		return show.JSON(&sh.Out, a.Schema, a.JSON, extra)
	case "csv":
		for _, w := range a.Warnings {
			fmt.Fprintln(sh.Stderr, "halfcup: warning: "+show.Marked(w.Text))
		}
		if sh.Explain {
			fmt.Fprint(sh.Stderr, sh.Page.Wrap(a.Explain, 0))
		}
		return a.CSV.Write(&sh.Out)
	}
	w := &sh.Out
	if sh.Explain {
		fmt.Fprint(w, sh.Page.Wrap(a.Explain, 0))
		return nil
	}
	if a.Doubt != "" {
		fmt.Fprint(w, sh.Page.Wrap(sh.Page.Paint(show.Strong, a.Doubt), 0))
		if a.Unsound != "" {
			fmt.Fprint(w, sh.Page.Wrap(a.Unsound, 0))
			return nil
		}
		fmt.Fprintln(w)
		a.Warnings = slices.DeleteFunc(a.Warnings, func(w say.Warning) bool { return w.Text == a.Doubt })
	}
	a.Text(w)
	for i, note := range a.Warnings {
		if i == 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprint(w, sh.Page.Hang("note: "+note.Text, 0, 6))
	}
	return nil
}

// NothingToExplain refuses --explain.
func NothingToExplain() error {
	return &show.Problem{What: "this command has nothing to explain", Remedy: "leave out --explain"}
}
