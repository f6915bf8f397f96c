package main

import (
	"bytes"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/licences"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/internal/table"
	"halfcup/sampling"
)

// The example in the help of every command works as it stands, in a folder
// with the demo yard's record and a survey.
func TestHelpExamplesWork(t *testing.T) {
	files := map[string]string{
		"halfcup.csv": "../../testdata/demo/mill.csv",
		"phone.csv":   "../../testdata/demo/mill.csv",
		"survey.csv":  "../../testdata/open/washes-2022.csv",
	}
	for name, from := range files {
		data, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		files[name] = string(data)
	}
	files["phone.csv"] = files["halfcup.csv"]
	for _, colony := range []string{"M1", "M2", "M3", "M4", "M5"} {
		files["halfcup.csv"] += "2026-05-01,mill," + colony + ",inspection,,,,,,,,,,\n"
	}
	line.Walk(halfcup().App(&line.Shell{}).Commands, func(c *cli.Command) {
		if len(c.Subcommands) > 0 || c.Hidden {
			return
		}
		if !strings.HasPrefix(c.UsageText, "halfcup ") {
			t.Errorf("the help of %s has no example", c.Name)
			return
		}
		for _, example := range strings.Split(c.UsageText, "\n") {
			t.Run(example, func(t *testing.T) {
				t.Chdir(t.TempDir())
				for name, data := range files {
					if err := os.WriteFile(name, []byte(data), 0o666); err != nil {
						t.Fatal(err)
					}
				}
				plan := strings.Fields("log add --colony M1 --colony M4 --yard mill --treatment oxalic-vapour --date 2026-09-20 --today 2026-09-01")
				if strings.HasPrefix(example, "halfcup log done ") && run(plan, nil, io.Discard, os.Stderr) != line.ExitDone {
					t.Fatalf("%q failed", plan)
				}
				args, err := splitWords(strings.TrimPrefix(example, "halfcup"))
				if err != nil {
					t.Fatal(err)
				}
				var stdout, stderr bytes.Buffer
				if code := run(append(args, "--today", "2026-09-21"), strings.NewReader(""), &stdout, &stderr); code != line.ExitDone {
					t.Errorf("exit %d\n%s", code, &stderr)
				}
			})
		}
	})
}

// Halfcup alone says what people do most, and what it says works.
func TestWelcomeSaysWhatToTypeFirst(t *testing.T) {
	var text, stderr bytes.Buffer
	if code := run(nil, nil, &text, &stderr); code != line.ExitDone || stderr.Len() > 0 {
		t.Fatalf("exit %d: %s", code, &stderr)
	}
	t.Chdir(t.TempDir())
	for _, it := range welcome {
		if !strings.Contains(text.String(), "\n  "+it.word+"\n") {
			t.Errorf("the welcome lacks %q", it.word)
		}
		var stdout, stderr bytes.Buffer
		if code := run(strings.Fields(it.word)[1:], nil, &stdout, &stderr); code != line.ExitDone || stdout.Len() == 0 {
			t.Errorf("%s: exit %d\n%s", it.word, code, &stderr)
		}
	}
}

// helpOf is what the program says.
func helpOf(t *testing.T, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if code := run(args, nil, &stdout, &stderr); code != line.ExitDone || stderr.Len() > 0 {
		t.Fatalf("%q: exit %d: %s", args, code, &stderr)
	}
	return strings.Join(strings.Fields(stdout.String()), " ")
}

// The pages hold every row of the tables they are made from.
func TestPagesHoldTheirTables(t *testing.T) {
	wanted := map[string][]string{}
	want := func(page string, texts ...string) {
		for _, s := range texts {
			wanted[page] = append(wanted[page], strings.Join(strings.Fields(s), " "))
		}
	}
	for _, m := range sampling.Methods() {
		want("counts", m.Example(), m.Title(), m.Units())
		want("methods", m.Names()...)
		for _, s := range m.Steps() {
			want("methods", s.Text)
		}
	}
	for _, k := range fieldlog.Kinds() {
		want("record", string(k)+" "+kindsMean[k])
		if kindsMean[k] == "" {
			t.Errorf("nothing is said of the event %s", k)
		}
	}
	for _, c := range fieldlog.ColumnNames() {
		want("columns", c+" "+columnsMean[c])
		if columnsMean[c] == "" {
			t.Errorf("nothing is said of the column %s", c)
		}
	}
	for _, f := range figures.All() {
		if f.Setting != "" {
			want("settings", f.What+": "+f.Range(), "(default: "+f.Default+")")
		}
		if f.Column != "" {
			want("columns", f.Range())
		}
	}
	for _, r := range decide.Thresholds() {
		want("lines", r.Set, string(r.Season)+" watch "+show.Plain(r.Watch)+", act "+show.Plain(r.Act)+": "+r.Source)
	}
	cautions, err := os.ReadFile("../../decide/cautions.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows := table.Read(string(cautions))
	if len(rows) < 20 {
		t.Fatalf("only %d cautions", len(rows))
	}
	for _, r := range rows {
		want("cautions", r["about"]+" "+r["text"])
	}
	want("licences", "No licence has been chosen yet: ask before you reuse the code.", "CC BY 4.0", licences.Text())
	for _, m := range licences.Modules() {
		want("licences", m.Path+": "+m.Licence)
	}
	for _, name := range line.Pages {
		text := helpOf(t, "help", name)
		if len(wanted[name]) == 0 {
			t.Errorf("nothing is known of the page %s", name)
		}
		for _, s := range wanted[name] {
			if !strings.Contains(text, s) {
				t.Errorf("halfcup help %s lacks %q", name, s)
			}
		}
		if !strings.Contains(helpOf(t, "--help"), name+" "+pageTitles[name]) {
			t.Errorf("help does not name the page %s", name)
		}
	}
}

// Lines of help are whole: no placeholder hangs behind a comma.
func TestHelpLinesAreWhole(t *testing.T) {
	hanging := regexp.MustCompile(`, [A-Z|]+$|, [:;,]| [:;,]|  |^ | $`)
	check := func(flags []cli.Flag) {
		for _, f := range flags {
			if d := line.DescribeFlag(f); hanging.MatchString(d.What) {
				t.Errorf("%s: %q", d.Name, d.What)
			}
		}
	}
	app := halfcup().App(&line.Shell{})
	check(app.Flags)
	line.Walk(app.Commands, func(c *cli.Command) { check(c.Flags) })
}

// The short help fits a screen of 80 columns and 40 lines, and shows at most
// ten flags; the long one has them all, each once.
func TestHelpComesInTwoSizes(t *testing.T) {
	flag := regexp.MustCompile(`(?m)^  (?:-\w, )?--([a-z0-9-]+)`)
	app := halfcup().App(&line.Shell{})
	var visit func(path []string, commands []*cli.Command)
	visit = func(path []string, commands []*cli.Command) {
		for _, c := range commands {
			if c.Hidden {
				continue
			}
			typed := append(slices.Clone(path), c.Name)
			var short, long, stderr bytes.Buffer
			run(append(slices.Clone(typed), "-h"), nil, &short, &stderr)
			run(append(slices.Clone(typed), "--help"), nil, &long, &stderr)
			if n := strings.Count(short.String(), "\n"); n > 40 {
				t.Errorf("%q -h has %d lines", typed, n)
			}
			if n := len(flag.FindAllString(short.String(), -1)); n > mostShown {
				t.Errorf("%q -h has %d flags", typed, n)
			}
			seen := map[string]int{}
			for _, m := range flag.FindAllStringSubmatch(long.String(), -1) {
				seen[m[1]]++
			}
			for _, f := range append(slices.Clone(app.Flags), c.Flags...) {
				if line.Visible(f) && seen[f.Names()[0]] != 1 {
					t.Errorf("%q --help has --%s %d times", typed, f.Names()[0], seen[f.Names()[0]])
				}
			}
			visit(typed, c.Subcommands)
		}
	}
	visit(nil, app.Commands)
}

// A wrong line is answered with the whole line as it should be.
func TestWrongLinesAreAnsweredWhole(t *testing.T) {
	for typed, want := range map[string]string{
		"roll:7/300":                          "halfcup estimate roll:7/300",
		"roll 7 300":                          "halfcup estimate roll:7/300",
		"estimate roll 7 300":                 "halfcup estimate roll:7/300",
		"choose sugar roll 7/300 --act 2":     "halfcup choose roll:7/300 --act 2",
		"--format json wash 4 300":            "halfcup --format json estimate wash:4/300",
		"estimate roll 7 300 wash 4 300/3f":   "halfcup estimate roll:7/300 wash:4/300/3f",
		"estimate --colony a&b roll 7 0.5cup": "halfcup estimate --colony 'a&b' roll:7/0.5cup",
	} {
		var stdout, stderr bytes.Buffer
		if code := run(strings.Fields(typed), nil, &stdout, &stderr); code != line.ExitUsage || !strings.Contains(stderr.String(), "\nfix: write "+want+"\n") {
			t.Errorf("%s: exit %d\n%s", typed, code, &stderr)
		}
	}
}

// Values are completed as far as they are known, and placeholders never.
func TestCompletionKnowsValues(t *testing.T) {
	app := halfcup().App(&line.Shell{})
	for typed, want := range map[string]string{
		"--format ":                     "text",
		"estimate --format=j":           "--format=json",
		"estimate --without r":          "roll",
		"estimate --arrivals f":         "few",
		"estimate --thresholds f":       "flat-2",
		"estimate --treatment oxalic-v": "oxalic-vapour",
		"--log ":                        line.FileNames,
		"help se":                       "settings",
		"estimate ro":                   "roll:",
	} {
		found := line.Complete(app, strings.Split(typed, " "))
		if !slices.ContainsFunc(found, func(c line.Candidate) bool { return c.Word == want }) {
			t.Errorf("after %q: %v", typed, found)
		}
		for _, c := range found {
			if strings.ToUpper(c.Word) == c.Word {
				t.Errorf("after %q it completes the placeholder %s", typed, c.Word)
			}
		}
	}
}

// The manual page and the completions know every command and its flags.
func TestGeneratedPagesKnowEveryCommand(t *testing.T) {
	var page, stderr bytes.Buffer
	if code := run([]string{"man"}, nil, &page, &stderr); code != line.ExitDone {
		t.Fatalf("man: exit %d: %s", code, &stderr)
	}
	manual := strings.ReplaceAll(page.String(), `\-`, "-")
	for _, section := range []string{"NAME", "SYNOPSIS", "DESCRIPTION", "COUNTS", "COMMANDS", "FILES", "ENVIRONMENT", "EXIT STATUS", "EXAMPLES", "CAUTIONS"} {
		if !strings.Contains(manual, "\n.SH "+section+"\n") {
			t.Errorf("the manual page lacks %s", section)
		}
	}
	app := halfcup().App(&line.Shell{})
	words := func(typed []string) (out []string) {
		for _, c := range line.Complete(app, typed) {
			out = append(out, c.Word)
		}
		return out
	}
	var visit func(path []string, commands []*cli.Command)
	visit = func(path []string, commands []*cli.Command) {
		next := words(append(slices.Clone(path), ""))
		for _, c := range commands {
			if c.Hidden {
				continue
			}
			if !regexp.MustCompile(`(?m)^\.S[HS] ` + c.Name + `$`).MatchString(manual) {
				t.Errorf("the manual page lacks %s", c.Name)
			}
			if !slices.Contains(next, c.Name) {
				t.Errorf("after %q completion lacks %s, and has %q", path, c.Name, next)
			}
			within := append(slices.Clone(path), c.Name)
			flags := words(append(slices.Clone(within), "--"))
			for _, f := range c.Flags {
				if !line.Visible(f) {
					continue
				}
				if !slices.Contains(flags, "--"+f.Names()[0]) {
					t.Errorf("completion lacks --%s of %q", f.Names()[0], within)
				}
				if !strings.Contains(manual, "--"+f.Names()[0]) {
					t.Errorf("the manual page lacks --%s of %q", f.Names()[0], within)
				}
			}
			visit(within, c.Subcommands)
		}
	}
	visit(nil, app.Commands)
	for _, name := range shells {
		var script bytes.Buffer
		if code := run([]string{"completion", name}, nil, &script, &stderr); code != line.ExitDone || !strings.Contains(script.String(), "halfcup completion words --") {
			t.Errorf("completion %s: exit %d\n%s", name, code, &script)
		}
	}
}

// The page of the record says what every event is.
func TestEveryEventIsExplained(t *testing.T) {
	for _, k := range fieldlog.Kinds() {
		if kindsMean[k] == "" {
			t.Errorf("halfcup help record says nothing of %s", k)
		}
	}
}
