package main

import (
	"bytes"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// The example in the help of every command works as it stands, in a folder
// with the demo yard's record and a survey.
func TestHelpExamplesWork(t *testing.T) {
	files := map[string]string{
		"halfcup.csv": "../../testdata/demo/mill.csv",
		"survey.csv":  "../../testdata/open/washes-2022.csv",
	}
	for name, from := range files {
		data, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		files[name] = string(data)
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

// Halfcup alone says what to type first, and that works.
func TestWelcomeSaysWhatToTypeFirst(t *testing.T) {
	var welcome, stdout, stderr bytes.Buffer
	if code := run(nil, nil, &welcome, &stderr); code != line.ExitDone || stderr.Len() > 0 {
		t.Fatalf("exit %d: %s", code, &stderr)
	}
	_, rest, _ := strings.Cut(welcome.String(), "Type first")
	_, rest, _ = strings.Cut(rest, "\n  halfcup ")
	first, _, _ := strings.Cut(rest, "\n")
	t.Chdir(t.TempDir())
	if code := run(strings.Fields(first), nil, &stdout, &stderr); code != line.ExitDone || stdout.Len() == 0 {
		t.Errorf("what to type first is %q: exit %d\n%s", first, code, &stderr)
	}
	for _, c := range halfcup().App(&line.Shell{}).VisibleCommands() {
		if !strings.Contains(welcome.String(), "\n  "+c.Name+" ") {
			t.Errorf("the welcome lacks %s", c.Name)
		}
	}
}

// The manual page and the completions know every command and its flags.
func TestGeneratedPagesKnowEveryCommand(t *testing.T) {
	var page, stderr bytes.Buffer
	if code := run([]string{"man"}, nil, &page, &stderr); code != line.ExitDone {
		t.Fatalf("man: exit %d: %s", code, &stderr)
	}
	app := halfcup().App(&line.Shell{})
	var visit func(path []string, commands []*cli.Command)
	visit = func(path []string, commands []*cli.Command) {
		next := line.Complete(app, append(slices.Clone(path), ""))
		for _, c := range commands {
			if c.Hidden {
				continue
			}
			if !regexp.MustCompile(`(?m)^\.S[HS] ` + c.Name + `$`).MatchString(page.String()) {
				t.Errorf("the manual page lacks %s", c.Name)
			}
			if !slices.Contains(next, c.Name) {
				t.Errorf("after %q completion lacks %s, and has %q", path, c.Name, next)
			}
			within := append(slices.Clone(path), c.Name)
			flags := line.Complete(app, append(slices.Clone(within), "--"))
			for _, f := range c.Flags {
				if line.HiddenFlag(f) {
					continue
				}
				if !slices.Contains(flags, "--"+f.Names()[0]) {
					t.Errorf("completion lacks --%s of %q", f.Names()[0], within)
				}
				if !strings.Contains(page.String(), "--"+f.Names()[0]) {
					t.Errorf("the manual page lacks --%s of %q", f.Names()[0], within)
				}
			}
			visit(within, c.Subcommands)
		}
	}
	visit(nil, app.Commands)
	for _, name := range []string{"bash", "zsh", "fish"} {
		var script bytes.Buffer
		if code := run([]string{"completion", name}, nil, &script, &stderr); code != line.ExitDone || !strings.Contains(script.String(), "halfcup completion words --") {
			t.Errorf("completion %s: exit %d\n%s", name, code, &script)
		}
	}
}
