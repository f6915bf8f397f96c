package main

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/show"
)

// openLines are commands with one word left open, VALUE: every kind of text that a
// flag or a command reads, save names of files.
var openLines = []string{
	"estimate VALUE", "worked --after roll:3/300 --before=VALUE", "rounds VALUE", "sources VALUE", "completion words -- VALUE",
	"estimate wash:5/300 --level=VALUE", "estimate wash:5/300 --prior=VALUE", "estimate wash:5/300 --interval=VALUE",
	"estimate roll:5/300 --recovery=VALUE", "estimate wash:5/300 --act=VALUE", "estimate wash:5/300 --today=VALUE",
	"estimate wash:4/41g --grams-per-100=VALUE", "estimate board:24/3d --cells=VALUE", "estimate board:24/3d --adult-bees=VALUE",
	"estimate knockdown:90/2d --treatment=VALUE", "forecast wash:4/300 --treat=VALUE", "forecast wash:4/300 --arrivals=VALUE",
	"forecast wash:4/300 --days=VALUE", "worked --falls=VALUE", "rounds --every=VALUE", "rounds --kill=VALUE",
	"tally --low 1 --high 3 --so-far=VALUE", "calibrate --pair=VALUE", "calibrate --pair roll:12/300,wash:2/300 --date=VALUE",
	"choose --next-treatment=VALUE", "calendar --flow=VALUE",
}

// Whatever is given as the value of a flag, the command answers, or says on
// stderr alone what is wrong and how to mend it.
func FuzzValues(f *testing.F) {
	good := []string{
		"wash:5/312", "wash:9/300", "oxalic-vapour", "recovery", "--col", "0.9", "0.01,1.3", "wilson", "roll=9,2", "3", "2026-06-20", "14",
		"33/99", "20000", "oxalic-trickle", "2026-08-15:oxalic-vapour", "high", "90", "310/2d@2026-08-01,120/2d@2026-08-06", "5,7",
		"0.5-0.9", "100:2,100:1", "board:40/3d,wash:6/300", "2026-06-20", "2026-09-01", "05-01..07-20",
	}
	for i, s := range good {
		f.Add(uint8(i), s)
	}
	for i, s := range []string{"", ",", "/", ":", "=", "@", "..", "-", "NaN", "1e9", "-1", "0,5", "\xff", "\x00", "٥", "9999-12-31", "99999999999999999999", "roll=", "a,b", "1/0"} {
		f.Add(uint8(i), s)
	}
	f.Fuzz(func(t *testing.T, which uint8, value string) {
		typed := openLines[int(which)%len(openLines)]
		args := strings.Fields(typed)
		if last := len(args) - 1; args[last] == "VALUE" && strings.HasPrefix(value, "-") {
			return // that is a flag
		}
		args[len(args)-1] = strings.Replace(args[len(args)-1], "VALUE", value, 1)
		var stdout, stderr bytes.Buffer
		code := run(args, strings.NewReader(""), &stdout, &stderr)
		switch {
		case code == line.ExitDone && strings.Contains(stderr.String(), "error"):
			t.Errorf("%q ends well, with %s", args, &stderr)
		case code == line.ExitDone:
		case code != line.ExitUsage || stdout.Len() > 0:
			t.Errorf("%q: exit %d\n%s%s", args, code, &stdout, &stderr)
		case !strings.HasPrefix(stderr.String(), "halfcup: error: ") || !strings.Contains(stderr.String(), "\nfix: "):
			t.Errorf("%q: the cause or the mend is missing:\n%s", args, &stderr)
		}
	})
}

// However a line is put together, its parts are found or the fault is shown in
// it, and a line that is sorted stays as it is.
func FuzzArrange(f *testing.F) {
	for _, s := range []string{
		"estimate wash:5/300 --format json", "--explain log add --colony hazel roll:3/300", "log", "help log add", "-V", "--", "estimate -- --x",
		"estimate --today", "–explain", "log add --note=--x -h", "--level 0.9 estimate", "forecast --treat a --treat b", "sources --color= -", "completion words -- a -b",
	} {
		f.Add(s)
	}
	app := halfcup().App(&line.Shell{})
	f.Fuzz(func(t *testing.T, typed string) {
		args := strings.Split(typed, " ")
		a, err := line.Arrange(app, args)
		if err != nil {
			var p *show.Problem
			if !errors.As(err, &p) || p.What == "" || p.Remedy == "" || p.Offset < 0 || p.Length < 0 || p.Offset > len(p.Text)+1 {
				t.Fatalf("%q: %#v", args, err)
			}
			p.Layout("")
			return
		}
		if a.Help || a.Version || len(a.Path) == 0 {
			return // these are no part of a line for cli
		}
		again, err := line.Arrange(app, a.Canonical()[1:])
		if err != nil || !reflect.DeepEqual(again, a) {
			t.Errorf("%q is sorted into %q, and that into %q, %v", args, a.Canonical(), again.Canonical(), err)
		}
	})
}
