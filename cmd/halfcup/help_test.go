package main

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
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
	walk(newApp(&shell{}).Commands, func(c *cli.Command) {
		if len(c.Subcommands) > 0 || c.Hidden {
			return
		}
		if c.UsageText == "" {
			t.Errorf("the help of %s has no example", c.Name)
			return
		}
		for _, line := range strings.Split(c.UsageText, "\n") {
			t.Run(line, func(t *testing.T) {
				t.Chdir(t.TempDir())
				for name, data := range files {
					if err := os.WriteFile(name, []byte(data), 0o666); err != nil {
						t.Fatal(err)
					}
				}
				args, err := splitWords(strings.TrimPrefix(line, "halfcup"))
				if err != nil {
					t.Fatal(err)
				}
				var stdout, stderr bytes.Buffer
				if code := run(append(args, "--today", "2026-09-21"), strings.NewReader(""), &stdout, &stderr); code != exitDone {
					t.Errorf("exit %d\n%s", code, &stderr)
				}
			})
		}
	})
}

// The manual page and the completions know every command.
func TestGeneratedPagesKnowEveryCommand(t *testing.T) {
	var man, stderr bytes.Buffer
	if code := run([]string{"man"}, nil, &man, &stderr); code != exitDone {
		t.Fatalf("man: exit %d: %s", code, &stderr)
	}
	for _, c := range newApp(&shell{}).VisibleCommands() {
		if !strings.Contains(man.String(), c.Name) {
			t.Errorf("the manual page lacks %s", c.Name)
		}
	}
}
