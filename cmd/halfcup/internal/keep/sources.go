package keep

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/guides"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func sourcesCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "sources",
		Category:  line.GroupChecking,
		Usage:     "every default figure, with where it comes from",
		ArgsUsage: "[WORD...]",
		UsageText: "halfcup sources recovery",
		Description: "Lists every figure the program uses when you say nothing else: its value, what it is, its source, and of what kind the source is. " +
			"published: from a paper. common practice: the trade does it so. computed: worked out here from published figures. " +
			"second-hand: published, but read where another quotes it. " +
			"judgement: set by us, because nobody has measured it well. memory: known, but not looked up again. " +
			"With words, only the figures in which all of them occur.",
		Action: func(c *cli.Context) error { return sources(sh, c.Args().Slice()) },
	}
}

// sourceKinds are the kinds of source, the firmest first.
var sourceKinds = []string{"published", "common practice", "computed", "second-hand", "judgement", "memory"}

type sourcesJSON struct {
	Figures []sampling.Source `json:"figures"`
}

func sources(sh *line.Shell, words []string) error {
	figures := about(allSources(), words)
	if len(figures) == 0 {
		return &show.Problem{What: fmt.Sprintf("no figure is about %q", strings.Join(words, " ")), Remedy: "halfcup sources lists all of them"}
	}
	table := show.CSV{Head: []string{"name", "value", "unit", "what", "source", "kind"}}
	for _, f := range figures {
		table.Rows = append(table.Rows, []any{f.Name, f.Value, f.Unit, f.What, f.Source, f.Kind})
	}
	return sh.Write(line.Answer{
		Schema: "halfcup.sources/2",
		JSON:   sourcesJSON{figures},
		CSV:    table,
		Text: func(w io.Writer) {
			fmt.Fprint(w, sh.Page.Wrap(countKinds(figures), 0), "\n")
			for _, f := range figures {
				head := f.Name
				if f.Value != "" {
					head += ": " + strings.TrimSpace(f.Value+" "+f.Unit)
				}
				from := f.Kind
				if f.Source != f.Kind {
					from += ": " + f.Source
				}
				fmt.Fprint(w, sh.Page.Hang(head, 0, 4), sh.Page.Wrap(f.What, 4), sh.Page.Wrap(from, 4))
			}
		},
	})
}

func allSources() []sampling.Source {
	return slices.Concat(sampling.Sources(), guides.Sources(), decide.Sources())
}

// about keeps the figures in which every word occurs.
func about(figures []sampling.Source, words []string) []sampling.Source {
	var out []sampling.Source
	for _, f := range figures {
		all := strings.ToLower(strings.Join([]string{f.Name, f.Value, f.Unit, f.What, f.Source, f.Kind}, " "))
		if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(all, strings.ToLower(w)) }) {
			out = append(out, f)
		}
	}
	return out
}

// countKinds says how many figures rest on what.
func countKinds(figures []sampling.Source) string {
	var parts []string
	for _, kind := range sourceKinds {
		n := 0
		for _, f := range figures {
			if f.Kind == kind {
				n++
			}
		}
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, kind))
		}
	}
	return show.Many(len(figures), "figure", "figures") + ": " + show.List(parts) + "."
}
