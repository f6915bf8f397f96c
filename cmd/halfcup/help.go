package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/figures"
	"halfcup/sampling"
)

// about is what the program is for.
const about = "Halfcup reads mite counts: how infested is this colony, is the sample big enough to say so, and what to do now."

// printWelcome says what people do most, each with a line to copy.
func printWelcome(sh *line.Shell) {
	w := &sh.Out
	fmt.Fprint(w, sh.Page.Wrap(about, 0))
	for _, it := range welcome {
		fmt.Fprintf(w, "\n%s\n  %s\n", strings.TrimRight(sh.Page.Wrap(it.what, 0), "\n"), it.word)
	}
	fmt.Fprint(w, "\n", sh.Page.Wrap("halfcup -h shows the kinds of count and the flags people use, halfcup --help everything.", 0))
}

var welcome = []item{
	{"halfcup estimate roll:7/300", "You counted, say 7 mites in a sugar roll of 300 bees:"},
	{"halfcup worked --before roll:18/300 --after roll:3/300", "You treated, and counted before and after:"},
	{"halfcup calendar", "You plan the year:"},
}

// printHelp answers whatever help was asked for.
func printHelp(sh *line.Shell, asked line.Arranged) {
	switch {
	case asked.Page != "":
		pages[asked.Page]().print(sh)
	case len(asked.Path) > 0 && asked.Short:
		printShortCommandHelp(sh, asked.Path)
	case len(asked.Path) > 0:
		printCommandHelp(sh, asked.Path)
	case asked.Short:
		printShortHelp(sh)
	default:
		printFullHelp(sh)
	}
}

// Titles of the groups of flags.
const (
	flagsUsed    = "most used"
	flagsFall    = "a board, or the fall after a treatment"
	flagsAssumed = "what it assumes"
	flagsShared  = "every command, anywhere on the line"
)

// used are the flags people use, the most used first.
var used = []string{"colony", "yard", "supers", "next-treatment", "treatment", "without", "card", "log", "today", "format"}

// ofFalls are the flags that say how to read what fell on to a board.
var ofFalls = []string{"brood", "adult-bees", "frames-of-bees", "cells", "treatment", "active", "application", "fall-before"}

// grouped sorts the flags of a command: a fall's only where counts of every
// kind are read, which --cells tells.
func grouped(flags []cli.Flag) map[string][]cli.Flag {
	out := map[string][]cli.Flag{}
	falls := slices.ContainsFunc(flags, func(f cli.Flag) bool { return f.Names()[0] == "cells" }) &&
		slices.ContainsFunc(flags, func(f cli.Flag) bool { return f.Names()[0] == "active" })
	for _, f := range flags {
		name, group := f.Names()[0], flagsUsed
		switch {
		case !line.Visible(f):
			continue
		case falls && slices.Contains(ofFalls, name):
			group = flagsFall
		case slices.Contains(used, name):
		case assumed(name):
			group = flagsAssumed
		}
		out[group] = append(out[group], f)
	}
	rank := func(f cli.Flag) int {
		if i := slices.Index(used, f.Names()[0]); i >= 0 {
			return i
		}
		return len(used)
	}
	slices.SortStableFunc(out[flagsUsed], func(a, b cli.Flag) int { return rank(a) - rank(b) })
	return out
}

// assumed reports whether a flag is a figure that a setting can set too, or one
// of the sample: nobody types it twice.
func assumed(name string) bool {
	return slices.ContainsFunc(figures.All(), func(f figures.Figure) bool {
		return f.Flag == name && (f.Setting != "" || f.Column == "amount")
	})
}

// kindsOfCount is one example of each kind.
func kindsOfCount() []item {
	var out []item
	for _, m := range sampling.Methods() {
		out = append(out, item{m.Example(), m.Title()})
	}
	return out
}

func commandsIn(sh *line.Shell, group string) []item {
	var out []item
	for _, c := range sh.App.Commands {
		if c.Category == group && !c.Hidden {
			out = append(out, item{c.Name, c.Usage})
		}
	}
	return out
}

func listOfPages() []item {
	var out []item
	for _, name := range line.Pages {
		out = append(out, item{name, pageTitles[name]})
	}
	return out
}

// printShortHelp fits a screen.
func printShortHelp(sh *line.Shell) {
	w := &sh.Out
	fmt.Fprintln(w, "usage: halfcup COMMAND [COUNT...] [flags]")
	printTitled(sh, "a count is METHOD:MITES/AMOUNT", kindsOfCount())
	var names []string
	for _, group := range line.Groups {
		for _, it := range commandsIn(sh, group) {
			names = append(names, it.word)
		}
	}
	fmt.Fprint(w, "\n", sh.Page.Hang("commands: "+strings.Join(names, ", "), 0, 2))
	printTitled(sh, "the flags people use", flagItems(usedAnywhere(sh.App)))
	fmt.Fprint(w, "\n", sh.Page.Wrap("halfcup --help shows everything; halfcup COMMAND -h tells about one command.", 0))
}

// usedAnywhere are the flags of used as the first command has them.
func usedAnywhere(app *cli.App) []cli.Flag {
	all := slices.Clone(app.Flags)
	line.Walk(app.Commands, func(c *cli.Command) { all = append(all, c.Flags...) })
	var out []cli.Flag
	for _, name := range used {
		if i := slices.IndexFunc(all, func(f cli.Flag) bool { return f.Names()[0] == name }); i >= 0 {
			out = append(out, all[i])
		}
	}
	return out
}

// printFullHelp lists the commands by group, the pages and the shared flags.
func printFullHelp(sh *line.Shell) {
	w := &sh.Out
	fmt.Fprintln(w, "usage: halfcup COMMAND [COUNT...] [flags]")
	printTitled(sh, "a count is METHOD:MITES/AMOUNT", kindsOfCount())
	for _, group := range line.Groups {
		printTitled(sh, group, commandsIn(sh, group))
	}
	printTitled(sh, "pages: halfcup help PAGE", listOfPages())
	printTitled(sh, flagsShared, flagItems(sh.App.Flags))
	fmt.Fprint(w, "\n", sh.Page.Wrap("halfcup COMMAND --help tells all about a command, halfcup COMMAND -h the most used.", 0))
}

// named is a command as it is typed, with its arguments.
func named(path []*cli.Command) (name, usage string) {
	name = "halfcup"
	for _, p := range path {
		name += " " + p.Name
	}
	c := path[len(path)-1]
	arguments := c.ArgsUsage
	if len(c.Subcommands) > 0 {
		arguments = "COMMAND"
	}
	return name, strings.TrimSpace(name+" "+arguments) + " [flags]"
}

func subcommands(c *cli.Command) []item {
	var out []item
	for _, s := range c.Subcommands {
		if !s.Hidden {
			out = append(out, item{s.Name, s.Usage})
		}
	}
	return out
}

// mostShown is how many flags the short help shows.
const mostShown = 10

// printShortCommandHelp tells of one command what most people need.
func printShortCommandHelp(sh *line.Shell, path []*cli.Command) {
	w, c := &sh.Out, path[len(path)-1]
	name, usage := named(path)
	fmt.Fprint(w, sh.Page.Wrap(name+": "+c.Usage, 0))
	fmt.Fprintf(w, "\nusage: %s\n", usage)
	printExamples(sh, c)
	printTitled(sh, "commands", subcommands(c))
	if strings.Contains(c.ArgsUsage, "COUNT") {
		printTitled(sh, "kinds of count", kindsOfCount())
	}
	flags := grouped(c.Flags)[flagsUsed]
	for _, f := range sh.App.Flags {
		if slices.Contains(used, f.Names()[0]) && len(flags) < mostShown {
			flags = append(flags[:len(flags):len(flags)], f)
		}
	}
	printTitled(sh, "flags", flagItems(flags[:min(len(flags), mostShown)]))
	fmt.Fprint(w, "\n", sh.Page.Wrap(name+" --help tells the rest.", 0))
}

// printCommandHelp tells all about one command.
func printCommandHelp(sh *line.Shell, path []*cli.Command) {
	w, c := &sh.Out, path[len(path)-1]
	name, usage := named(path)
	fmt.Fprint(w, sh.Page.Wrap(name+": "+c.Usage, 0))
	fmt.Fprintf(w, "\nusage: %s\n", usage)
	printExamples(sh, c)
	if c.Description != "" {
		fmt.Fprintf(w, "\n%s", sh.Page.Wrap(c.Description, 0))
	}
	printTitled(sh, "commands", subcommands(c))
	groups := grouped(c.Flags)
	for _, title := range []string{flagsUsed, flagsFall, flagsAssumed} {
		heading := title
		if title == flagsUsed && len(groups) == 1 {
			heading = "flags"
		}
		printTitled(sh, heading, flagItems(groups[title]))
	}
	printTitled(sh, flagsShared, flagItems(sh.App.Flags))
}

func printExamples(sh *line.Shell, c *cli.Command) {
	for i, example := range strings.Split(c.UsageText, "\n") {
		switch {
		case example == "":
		case i == 0:
			fmt.Fprintf(&sh.Out, "for example: %s\n", example)
		default:
			fmt.Fprintf(&sh.Out, "             %s\n", example)
		}
	}
}

func printTitled(sh *line.Shell, title string, items []item) {
	if len(items) == 0 {
		return
	}
	fmt.Fprintf(&sh.Out, "\n%s\n", title)
	printItems(sh, items)
}

// flagItems is every flag with its placeholder, and what it says with its
// default.
func flagItems(flags []cli.Flag) []item {
	var out []item
	for _, f := range flags {
		if !line.Visible(f) {
			continue
		}
		d := line.DescribeFlag(f)
		if d.Default != "" {
			d.What += " (default: " + d.Default + ")"
		}
		out = append(out, item{strings.TrimSpace(d.Name + " " + d.Placeholder), d.What})
	}
	return out
}
