package main

import (
	"bytes"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
)

// Whatever is typed, the program answers or says what is wrong; it never fails
// on its own account, and an error never leaves half an answer on stdout. This
// tries the readers of all flags at once: pairs, falls, scoops, cells, days.
func FuzzCommandLine(f *testing.F) {
	for _, typed := range []string{
		"estimate roll:7/300 --recovery roll=9,2 --prior 1,1.3",
		"estimate board:36/3d --cells 33/99 --adult-bees 20000 --brood no",
		"estimate knockdown:310/5d@2026-08-06 --treatment oxalic-vapour --fall-before 4",
		"enough wash:4/300/3f --watch 1 --act 2",
		"choose --supers on --next-treatment 2026-10-01 --arrivals many",
		"forecast wash:4/300@2026-09-01 --treat 2026-10-15:oxalic-vapour --days 21",
		"rounds --every 3,5,7 --rounds 1,3,5 --kill 0.5-0.9",
		"worked --before roll:18/300 --after roll:3/300",
		"worked --falls 310/2d@2026-08-01,140/2d@2026-08-06 --treatment oxalic-vapour",
		"worked --jar 89/100",
		"calibrate --pair roll:12/300,wash:2/300",
		"--format json estimate --level 0.9 wash:0/0.5cup",
		"estimate -- --level", "estimate wash:5/300 --level=", "estimate \x00 é ٥",
	} {
		f.Add(typed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		t.Chdir(t.TempDir())
		var args []string
		for _, word := range strings.Fields(typed) {
			name := strings.TrimLeft(word, "-")
			for _, other := range []string{"plot", "save", "log", "html", "ics", "settings", "from", "batch", "thresholds", "yard", "calendar", "tally"} {
				if strings.HasPrefix(name, other) {
					return // reads or writes files, or takes long
				}
			}
			args = append(args, word)
		}
		var stdout, stderr bytes.Buffer
		code := run(append(args, "--today", "2026-09-21"), strings.NewReader(""), &stdout, &stderr)
		if code != line.ExitDone && stdout.Len() > 0 {
			t.Errorf("exit %d with an answer: %s", code, &stdout)
		}
		if code != line.ExitDone && code != line.ExitUsage {
			t.Errorf("exit %d: %s", code, &stderr)
		}
	})
}
