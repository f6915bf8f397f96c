package main

import (
	"bytes"
	"errors"
	"io"
	"reflect"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// with puts one more command into the program for the length of a test.
func with(t *testing.T, name string, flags []cli.Flag, action func(*line.Shell, *cli.Context) error) {
	saved := commands
	t.Cleanup(func() { commands = saved })
	commands = append(commands[:len(commands):len(commands)], func(sh *line.Shell) []*cli.Command {
		return []*cli.Command{{Name: name, Category: line.GroupCount, Flags: flags, Action: func(c *cli.Context) error { return action(sh, c) }}}
	})
}

func TestArrange(t *testing.T) {
	app := func() *cli.App {
		return halfcup().App(&line.Shell{Stderr: io.Discard})
	}
	with(t, "weigh", []cli.Flag{
		&cli.StringFlag{Name: "level", Value: "0.95"},
		&cli.StringSliceFlag{Name: "recovery"},
		&cli.BoolFlag{Name: "again"},
	}, nil)
	for _, test := range []struct{ line, want string }{
		// shared flags before the command, after it, and after the counts
		{"--format json weigh wash:5/300 --level 0.9", "halfcup --format=json weigh --level=0.9 -- wash:5/300"},
		{"weigh --format json wash:5/300", "halfcup --format=json weigh -- wash:5/300"},
		{"weigh wash:5/300 roll:3/300 --format=json --again", "halfcup --format=json weigh --again -- wash:5/300 roll:3/300"},
		{"weigh -format json wash:5/300", "halfcup --format=json weigh -- wash:5/300"},
		// repeated where that is meant, commas kept
		{"weigh --recovery roll=9,2 --recovery co2=6,4 x", "halfcup weigh --recovery=roll=9,2 --recovery=co2=6,4 -- x"},
		// values below zero are values, not flags; so are counts that start with a sign
		{"weigh --level -1 x", "halfcup weigh --level=-1 -- x"},
		{"weigh --level -.5 -3", "halfcup weigh --level=-.5 -- -3"},
		{"weigh --level=-1", "halfcup weigh --level=-1 --"},
		// after -- nothing is a flag
		{"weigh -- --level --format", "halfcup weigh -- --level --format"},
		{"weigh --level 0.5 -- a -- b", "halfcup weigh --level=0.5 -- a -- b"},
		// - is stdin
		{"weigh - --again", "halfcup weigh --again -- -"},
		// an empty value is a value
		{"weigh --level= x", "halfcup weigh --level= -- x"},
		// subcommands
		{"completion --color never bash --format text", "halfcup --color=never --format=text completion bash --"},
	} {
		got, err := line.Arrange(app(), strings.Split(test.line, " "))
		if err != nil {
			t.Errorf("%s: %v", test.line, err)
			continue
		}
		if !reflect.DeepEqual(got.Canonical(), strings.Split(test.want, " ")) {
			t.Errorf("%s:\n got %q\nwant %s", test.line, got.Canonical(), test.want)
		}
	}
	for _, test := range []struct{ line, what string }{
		{"--level 0.9 weigh x", "--level belongs to a command that is not named yet"},
		{"weigh --level --again", "--level needs a value"},
		{"weigh --level -- x", "--level needs a value"},
		{"weigh --level 1 --level 2", "--level is given twice"},
		{"weigh --again=no", "--again is a switch"},
		{"weigh –level 1", "this is a long dash"},
		{"weigh -l 3", "halfcup weigh has no flag -l"},
		{"weigh ---", "halfcup weigh has no flag ---"},
	} {
		_, err := line.Arrange(app(), strings.Split(test.line, " "))
		if err == nil || !strings.Contains(err.Error(), test.what) {
			t.Errorf("%s: got error %v, want %q", test.line, err, test.what)
		}
	}
}

// The cli package alone reads "x --level 0.9" as three arguments and ignores
// the flag without a word; ours must not.
func TestFlagAfterCountsIsHeard(t *testing.T) {
	var heard float64
	with(t, "weigh", []cli.Flag{&cli.StringFlag{Name: "level", Value: "0.95"}}, func(_ *line.Shell, c *cli.Context) error {
		var err error
		heard, err = line.Number(c, "level", nil)
		return err
	})
	if code := run([]string{"weigh", "x", "--level", "0.9"}, nil, io.Discard, io.Discard); code != line.ExitDone || heard != 0.9 {
		t.Errorf("exit %d, level %v", code, heard)
	}
}

func TestFlagBeatsSettingBeatsDefault(t *testing.T) {
	t.Chdir(t.TempDir())
	var heard float64
	with(t, "weigh", []cli.Flag{&cli.StringFlag{Name: "level", Value: "0.95"}}, func(sh *line.Shell, c *cli.Context) error {
		var err error
		heard, err = line.Number(c, "level", sh.Settings.Level)
		return err
	})
	check := func(want float64, args ...string) {
		t.Helper()
		var stderr bytes.Buffer
		if code := run(append([]string{"weigh"}, args...), nil, io.Discard, &stderr); code != line.ExitDone || heard != want {
			t.Errorf("%v: exit %d, level %v, want %v\n%s", args, code, heard, want, &stderr)
		}
	}
	check(0.95)
	writeFile(t, line.DefaultSettings, "level = 0.8\n")
	check(0.8)
	check(0.9, "--level", "0.9")
	writeFile(t, "other.toml", "level = 0.7\n")
	check(0.7, "--settings", "other.toml")
	if code := run([]string{"weigh", "--settings", "missing.toml"}, nil, io.Discard, io.Discard); code != line.ExitFailed {
		t.Errorf("a settings file that was named and is missing: exit %d, want %d", code, line.ExitFailed)
	}
	if code := run([]string{"weigh", "--settings", ""}, nil, io.Discard, io.Discard); code != line.ExitUsage {
		t.Errorf("a settings file without a name: exit %d, want %d", code, line.ExitUsage)
	}
	writeFile(t, line.DefaultSettings, "levle = 0.8\n")
	if code := run([]string{"weigh"}, nil, io.Discard, io.Discard); code != line.ExitBadData {
		t.Errorf("a settings file that is wrong: exit %d, want %d", code, line.ExitBadData)
	}
	if code := run([]string{"completion", "words", "--", ""}, nil, io.Discard, io.Discard); code != line.ExitDone {
		t.Errorf("a settings file that is wrong stops completion: exit %d", code)
	}
}

func TestExitCodes(t *testing.T) {
	for _, test := range []struct {
		name   string
		err    error
		code   int
		stderr string
	}{
		{"count", &sampling.SyntaxError{Input: "wash:x/300", Offset: 5, Length: 1, Problem: `"x" is not a number of mites`, Remedy: "write it in digits"}, line.ExitUsage,
			"halfcup: error: \"x\" is not a number of mites\n  wash:x/300\n       ^\nfix: write it in digits\n"},
		{"value", &sampling.ValueError{Name: "recovery of roll", Problem: "alpha is below zero", Remedy: "write a number above 0"}, line.ExitUsage,
			"halfcup: error: recovery of roll: alpha is below zero\nfix: write a number above 0\n"},
		{"file", &show.Problem{File: "halfcup.csv", Line: 12, Column: 5, What: "this is not a date"}, line.ExitBadData,
			"halfcup: error: halfcup.csv:12:5: this is not a date\n"},
		{"two kinds", errors.Join(line.TooFew("a count is missing", "halfcup weigh wash:5/300"), &show.Problem{File: "a", What: "b"}), line.ExitBadData,
			"halfcup: error: a count is missing\nfix: write it like this: halfcup weigh wash:5/300\nhalfcup: error: a: b\n"},
		{"other", errors.New("the machine is on fire"), line.ExitFailed, "halfcup: error: the machine is on fire\n"},
	} {
		t.Run(test.name, func(t *testing.T) {
			with(t, "weigh", nil, func(sh *line.Shell, _ *cli.Context) error {
				io.WriteString(&sh.Out, "half an answer")
				return test.err
			})
			var stdout, stderr bytes.Buffer
			if code := run([]string{"weigh"}, nil, &stdout, &stderr); code != test.code {
				t.Errorf("exit %d, want %d", code, test.code)
			}
			if stdout.Len() > 0 || stderr.String() != test.stderr {
				t.Errorf("stdout %q\nstderr %q\n  want %q", &stdout, &stderr, test.stderr)
			}
		})
	}
}

func TestPanicBecomesBugReport(t *testing.T) {
	with(t, "weigh", nil, func(*line.Shell, *cli.Context) error { panic("index out of range") })
	var stdout, stderr bytes.Buffer
	if code := run([]string{"weigh", "wash:5/300"}, nil, &stdout, &stderr); code != line.ExitFailed || stdout.Len() > 0 {
		t.Errorf("exit %d, stdout %q", code, &stdout)
	}
	for _, want := range []string{"halfcup: bug: index out of range\n", "\nhalfcup weigh wash:5/300\n", "run_test.go:"} {
		if !strings.Contains(stderr.String(), want) {
			t.Errorf("no %q in the report:\n%s", want, &stderr)
		}
	}
}

func TestWhole(t *testing.T) {
	var heard int
	with(t, "weigh", []cli.Flag{&cli.StringFlag{Name: "boards", Value: "1"}}, func(_ *line.Shell, c *cli.Context) error {
		var err error
		heard, err = line.Whole(c, "boards")
		return err
	})
	if code := run([]string{"weigh", "--boards", "010"}, nil, io.Discard, io.Discard); code != line.ExitDone || heard != 10 {
		t.Errorf("010: exit %d, %d boards", code, heard)
	}
	for _, s := range []string{"2.5", "0", "1001", "three"} {
		if code := run([]string{"weigh", "--boards", s}, nil, io.Discard, io.Discard); code != line.ExitUsage {
			t.Errorf("%s: exit %d, want %d", s, code, line.ExitUsage)
		}
	}
}

func TestAnswerInEveryFormat(t *testing.T) {
	with(t, "weigh", nil, func(sh *line.Shell, _ *cli.Context) error {
		return sh.Write(line.Answer{
			Schema:   "halfcup.weigh/1",
			Text:     func(w io.Writer) { io.WriteString(w, "about 2\n") },
			Warnings: say.Warn(say.LeftOut, "A small sample."),
			Explain:  "Bees were counted.",
			JSON: struct {
				Low  show.Number `json:"low"`
				Name string      `json:"name"`
			}{show.Number(nan), "a<b"},
			CSV: show.CSV{Head: []string{"low", "name"}, Rows: [][]any{{nan, "a,b"}, {0.1, nil}}},
		})
	})
	for _, test := range []struct{ args, stdout, stderr string }{
		{"weigh", "about 2\n\nnote: A small sample.\n", ""},
		{"weigh --explain", "Bees were counted.\n", ""},
		{"weigh --format json", "{\n  \"schema\": \"halfcup.weigh/1\",\n  \"low\": null,\n  \"name\": \"a<b\",\n  \"warnings\": [\n    {\n      \"kind\": \"left-out\",\n      \"text\": \"A small sample.\"\n    }\n  ]\n}\n", ""},
		{"weigh --format csv", "low,name\n,\"a,b\"\n0.1,\n", "halfcup: warning: A small sample.\n"},
	} {
		var stdout, stderr bytes.Buffer
		if code := run(strings.Split(test.args, " "), nil, &stdout, &stderr); code != line.ExitDone {
			t.Errorf("%s: exit %d", test.args, code)
		}
		if stdout.String() != test.stdout || stderr.String() != test.stderr {
			t.Errorf("%s:\nstdout %q\n  want %q\nstderr %q\n  want %q", test.args, &stdout, test.stdout, &stderr, test.stderr)
		}
	}
}
