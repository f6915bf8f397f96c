package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// printWelcome says what to type first.
func printWelcome(sh *line.Shell) {
	w := &sh.Out
	fmt.Fprint(w, sh.Page.Wrap("Halfcup reads mite counts: how infested is this colony, is the sample big enough to say so, and what to do now.", 0))
	fmt.Fprint(w, "\nType first what you counted, for example 5 mites in a wash of 300 bees:\n\n  halfcup estimate wash:5/300\n\n")
	printHelp(sh, nil)
}

// printHelp tells about one command; without one, it lists the commands by
// group, and the shared flags.
func printHelp(sh *line.Shell, path []*cli.Command) {
	if len(path) > 0 {
		printCommandHelp(sh, path)
		return
	}
	w := &sh.Out
	fmt.Fprintf(w, "usage: halfcup COMMAND [COUNT...] [flags]\n")
	for _, group := range line.Groups {
		var names, says []string
		for _, c := range sh.App.Commands {
			if c.Category == group && !c.Hidden {
				names, says = append(names, c.Name), append(says, c.Usage)
			}
		}
		printColumns(sh, group, names, says)
	}
	printFlags(sh, "flags of every command, anywhere on the line", sh.App.Flags)
	fmt.Fprintf(w, "\n%s", sh.Page.Wrap("halfcup COMMAND --help tells more. A count is METHOD:MITES/AMOUNT, such as wash:5/300: 5 mites in a wash of 300 bees.", 0))
}

// printCommandHelp tells all about one command.
func printCommandHelp(sh *line.Shell, path []*cli.Command) {
	w, c := &sh.Out, path[len(path)-1]
	name := "halfcup"
	for _, p := range path {
		name += " " + p.Name
	}
	arguments := c.ArgsUsage
	if len(c.Subcommands) > 0 {
		arguments = "COMMAND"
	}
	fmt.Fprint(w, sh.Page.Wrap(name+": "+c.Usage, 0))
	fmt.Fprintf(w, "\nusage: %s [flags]\n", strings.TrimSpace(name+" "+arguments))
	if c.UsageText != "" {
		fmt.Fprintf(w, "for example: %s\n", c.UsageText)
	}
	if c.Description != "" {
		fmt.Fprintf(w, "\n%s", sh.Page.Wrap(c.Description, 0))
	}
	var names, says []string
	for _, s := range c.Subcommands {
		if !s.Hidden {
			names, says = append(names, s.Name), append(says, s.Usage)
		}
	}
	printColumns(sh, "commands", names, says)
	printFlags(sh, "flags", c.Flags)
	printFlags(sh, "flags of every command, anywhere on the line", sh.App.Flags)
}

func printFlags(sh *line.Shell, title string, flags []cli.Flag) {
	var names, says []string
	for _, f := range flags {
		if line.HiddenFlag(f) {
			continue
		}
		name, what := describe(f)
		names, says = append(names, name), append(says, what)
	}
	printColumns(sh, title, names, says)
}

// describe is a flag's name with its placeholder, and its usage with its
// default. The placeholder is what the usage has in backquotes.
func describe(f cli.Flag) (name, what string) {
	doc := f.(cli.DocGenerationFlag)
	name, what = "--"+f.Names()[0], doc.GetUsage()
	for _, alias := range f.Names()[1:] {
		name = "-" + alias + ", " + name
	}
	if before, rest, ok := strings.Cut(what, "`"); ok {
		placeholder, after, _ := strings.Cut(rest, "`")
		name += " " + placeholder
		what = before + placeholder + after
		if strings.Contains(placeholder, "|") {
			what = strings.TrimSpace(before + after) // the choices stand beside the name
		}
	}
	if text := defaultOf(f); text != "" {
		what += " (default: " + text + ")"
	}
	return name, what
}

func defaultOf(f cli.Flag) string {
	s, ok := f.(*cli.StringFlag)
	switch {
	case !ok:
		return ""
	case s.DefaultText != "":
		return s.DefaultText
	}
	return s.Value
}

// printColumns writes names beside what they mean.
func printColumns(sh *line.Shell, title string, names, says []string) {
	if len(names) == 0 {
		return
	}
	const widest = 26 // a longer name gets a line of its own
	column := 0
	for _, n := range names {
		if len(n) <= widest {
			column = max(column, len(n))
		}
	}
	fmt.Fprintf(&sh.Out, "\n%s\n", title)
	for i, n := range names {
		lead := fmt.Sprintf("  %-*s  ", column, n)
		if len(n) > column {
			fmt.Fprintln(&sh.Out, "  "+n)
			lead = strings.Repeat(" ", column+4)
		}
		body := sh.Page.Wrap(says[i], column+4)
		fmt.Fprint(&sh.Out, lead+body[column+4:])
	}
}
