package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/decide"
)

func manCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:        "man",
		Category:    line.GroupProgram,
		Usage:       "print the manual page",
		UsageText:   "halfcup man",
		Description: "Writes the page in troff, for the man command: halfcup man > halfcup.1; man ./halfcup.1",
		Action: func(c *cli.Context) error {
			if err := line.TakesNothing(c); err != nil {
				return err
			}
			_, err := sh.Out.WriteString(manual(sh.App))
			return err
		},
	}
}

const (
	manAnswers = "Levels are mites per hundred adult bees by a careful alcohol wash. Every answer says first what to do, then how sure it is. " +
		"The answer goes to standard output, as text, JSON or CSV by --format; warnings and errors go to standard error."
	manCautions = "The label, the law where you are, and your vet or bee inspector decide; nothing here is a dose. " +
		"halfcup help cautions has those of every treatment and count."
)

// manual is the manual page, from the same texts as help.
func manual(app *cli.App) string {
	t := &troff{}
	t.line(`.TH HALFCUP 1 "" "halfcup ` + line.Version + `" "User commands"`)
	t.section("NAME")
	t.text("halfcup - " + app.Usage)
	t.section("SYNOPSIS")
	t.line(".B halfcup\n.I COMMAND\n[COUNT...] [flags]")
	t.section("DESCRIPTION")
	t.text(about)
	t.text(manAnswers)
	t.text("halfcup help PAGE prints a page: " + strings.Join(line.Pages, ", ") + ".")
	t.section("COUNTS")
	t.blocks(countsPage().blocks)

	common := commonFlags(app)
	t.section("COMMANDS")
	t.commands(app.Commands, nil, common)
	t.subsection("Flags of several commands")
	for _, it := range common {
		t.item(it)
	}
	t.subsection("Flags of every command")
	for _, it := range flagItems(app.Flags) {
		t.item(it)
	}
	t.section("FILES")
	for _, it := range manFiles {
		t.item(it)
	}
	t.section("ENVIRONMENT")
	for _, it := range manEnvironment {
		t.item(it)
	}
	t.section("EXIT STATUS")
	for _, it := range manExits {
		t.item(it)
	}
	t.section("EXAMPLES")
	for _, it := range welcome {
		t.text(it.what)
		t.example(it.word)
	}
	for _, it := range manExamples {
		t.text(it.what)
		t.example(it.word)
	}
	t.section("CAUTIONS")
	t.text(manCautions)
	for _, name := range []string{"treatment", "wash", "roll", "board"} {
		for _, c := range decide.Cautions(name) {
			t.text(c.Text)
		}
	}
	return t.b.String()
}

var manFiles = []item{
	{line.DefaultRecord, "the record, in the folder you work in: halfcup help record"},
	{"." + line.DefaultRecord + ".adding", "stands beside the record while rows are written; one that a killed program left is taken up by the next log add"},
	{line.DefaultSettings, "settings, in the folder you work in: halfcup help settings"},
}

var manEnvironment = []item{
	{"LC_ALL, LC_CTYPE, LANG", "the first that is set says whether signs other than ASCII can be shown: only a UTF-8 locale can"},
	{"NO_COLOR", "set to anything, text has no colour"},
	{"FORCE_COLOR", "set to anything, text has colour in a pipe too, unless NO_COLOR is set"},
	{"TERM", "dumb: no colour"},
	{"COLUMNS", "how wide text is set, from 40 to 100, in a pipe too; else as wide as the terminal, or 80"},
}

var manExits = []item{
	{fmt.Sprint(line.ExitDone), "done"},
	{fmt.Sprint(line.ExitFailed), "failed: the machine or the program is at fault"},
	{fmt.Sprint(line.ExitUsage), "wrong usage: what was typed cannot be used"},
	{fmt.Sprint(line.ExitBadData), "bad data: a file holds something that cannot be used"},
}

var manExamples = []item{
	{"halfcup choose board:24/3d --adult-bees 20000", "A board lay three days: what to count next, if anything:"},
	{"halfcup estimate roll:7/300 --format json", "The same for another program:"},
}

// commands writes the commands, each with the flags that it alone has.
func (t *troff) commands(commands []*cli.Command, before []*cli.Command, common []item) {
	for _, c := range commands {
		if c.Hidden {
			continue
		}
		path := append(slices.Clone(before), c)
		_, usage := named(path)
		t.subsection(c.Name)
		t.text(usage + ": " + c.Usage + ".")
		for _, example := range strings.Split(c.UsageText, "\n") {
			if example != "" && len(c.Subcommands) == 0 {
				t.example(example)
			}
		}
		var own, shared []string
		for _, it := range flagItems(c.Flags) {
			if slices.Contains(common, it) {
				name, _, _ := strings.Cut(it.word, " ")
				shared = append(shared, name)
				continue
			}
			own = append(own, it.word+": "+it.what)
		}
		if own != nil {
			t.text(strings.Join(own, ". ") + ".")
		}
		if shared != nil {
			t.text("And, as told below, " + strings.Join(shared, ", ") + ".")
		}
		t.commands(c.Subcommands, path, common)
	}
}

// commonFlags are those that two commands or more have in the same words.
func commonFlags(app *cli.App) []item {
	var seen, common []item
	line.Walk(app.Commands, func(c *cli.Command) {
		for _, it := range flagItems(c.Flags) {
			switch {
			case !slices.Contains(seen, it):
				seen = append(seen, it)
			case !slices.Contains(common, it):
				common = append(common, it)
			}
		}
	})
	return common
}

// troff is a manual page being written, in the macros of man(7).
type troff struct{ b strings.Builder }

func (t *troff) line(s string) { t.b.WriteString(s + "\n") }

func (t *troff) section(title string) { t.line(".SH " + title) }

func (t *troff) subsection(title string) { t.line(".SS " + title) }

// text is a paragraph.
func (t *troff) text(s string) { t.line(".PP\n" + escaped(s)) }

// item is a word in bold with what it means.
func (t *troff) item(it item) {
	word := strings.ReplaceAll(escaped(it.word), `"`, `""`)
	t.line(`.IP "\fB` + word + `\fP" 8` + "\n" + escaped(it.what))
}

// example is a line to copy.
func (t *troff) example(s string) { t.line(".IP\n" + escaped(s)) }

func (t *troff) blocks(blocks []block) {
	for _, b := range blocks {
		if b.heading != "" {
			t.subsection(b.heading)
		}
		if b.text != "" {
			t.text(b.text)
		}
		for _, it := range b.items {
			t.item(it)
		}
		for _, l := range b.lines {
			t.example(l)
		}
	}
}

// escaped is text that troff takes as it stands: no sign of it is an order, and
// a hyphen is one that can be copied.
func escaped(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(s)
	if s != "" && (s[0] == '.' || s[0] == '\'') {
		s = `\&` + s
	}
	return s
}
