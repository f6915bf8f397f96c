package count

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// run types a line of this group.
func run(t *testing.T, stdin string, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	t.Chdir(t.TempDir())
	p := line.Program{Commands: []func(*line.Shell) []*cli.Command{Commands}}
	var out, errs strings.Builder
	code = p.Run(args, strings.NewReader(stdin), &out, &errs)
	return out.String(), errs.String(), code
}

// An answer fits on the page that is carried to the hive.
func TestTallyAndEnoughAreShort(t *testing.T) {
	for _, c := range []struct {
		line         string
		lines, words int
	}{
		{"tally --today 2026-06-20", 24, 105},
		{"tally --today 2026-06-20 --method wash", 24, 105},
		{"tally --today 2026-08-20 --each-frame", 24, 105},
		{"tally --today 2026-05-10 --max 2000", 24, 115},
		{"tally --today 2026-06-20 --plan sure --low 1 --high 3", 24, 105},
		{"tally --today 2026-06-20 --so-far 100:2,100:1", 8, 60},
		{"tally --today 2026-06-20 --so-far 100:0,100:0,100:0", 8, 60},
		{"enough wash:4/300 --today 2026-06-20", 10, 80},
		{"enough wash:8/300 --today 2026-06-20", 10, 100},
		{"enough roll:1/100 --today 2026-08-20", 10, 100},
		{"enough wash:9/300 --today 2026-06-20 --back-in 30", 10, 100},
		{"enough board:10/3d --today 2026-06-20", 10, 100},
	} {
		out, errs, code := run(t, "", strings.Fields(c.line)...)
		if code != line.ExitDone {
			t.Fatalf("%s: %s", c.line, errs)
		}
		words := 0
		text, _, _ := strings.Cut(out, "\nnote: ") // the cautions are counted as lines only
		for _, l := range strings.Split(text, "\n") {
			if len([]rune(l)) > 80 {
				t.Errorf("%s: wider than 80: %s", c.line, l)
			}
			// The rows of the table are figures.
			if !strings.HasSuffix(l, " or more") {
				words += len(strings.Fields(l))
			}
		}
		if n := strings.Count(out, "\n"); n > c.lines || words > c.words {
			t.Errorf("%s: %d lines and %d words, at most %d and %d:\n%s", c.line, n, words, c.lines, c.words, out)
		}
	}
}

type verdict struct {
	Verdict struct{ Call, Sentence string }
	SoFar   struct {
		Says  string
		Mites int
		Bees  int
	} `json:"so_far"`
	Assumptions []struct{ Name, Kind string }
}

func verdictOf(t *testing.T, stdin string, args ...string) verdict {
	t.Helper()
	out, errs, code := run(t, stdin, append(args, "--format", "json")...)
	if code != line.ExitDone {
		t.Fatalf("%v: %s", args, errs)
	}
	var v verdict
	if err := json.Unmarshal([]byte(out), &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// After the same bees and mites tally and choose give one verdict, in the same
// words.
func TestTallySaysWhatChooseSays(t *testing.T) {
	for _, c := range []struct{ scoops, count, says string }{
		{"100:6", "roll:6/100", "stop, treat"},
		{"100:2,100:1", "roll:3/200", "go on"},
		{"100:0,100:1,100:1", "roll:2/300", "stop, leave"},
		{"100:2,100:2,100:3", "roll:7/300", "go on"},
		{"100:2,100:2,100:2,100:2,100:2,100:3", "roll:13/600", "stop, count again"},
	} {
		tally := verdictOf(t, "", "tally", "--today", "2026-06-20", "--so-far", c.scoops)
		choose := verdictOf(t, "", "choose", c.count, "--today", "2026-06-20")
		if tally.Verdict != choose.Verdict {
			t.Errorf("%s: tally %+v, choose %+v", c.scoops, tally.Verdict, choose.Verdict)
		}
		if tally.SoFar.Says != c.says || len(tally.Assumptions) == 0 {
			t.Errorf("%s: %+v", c.scoops, tally)
		}
	}
}

// A line a scoop: each is answered, a bad one is said and asked again, and the
// end of the input or of the tally ends with the verdict.
func TestTallyLineByLine(t *testing.T) {
	out, errs, code := run(t, "2\nx\n10:900\n\n98:1\n", "tally", "-", "--today", "2026-06-20")
	if code != line.ExitDone {
		t.Fatal(errs)
	}
	for _, want := range []string{"1 scoop, 100 bees, 2 mites. One more scoop: ", "2 scoops, 198 bees, 3 mites. One more scoop: "} {
		if strings.Count(out, want) != 1 {
			t.Errorf("no %q once in\n%s", want, out)
		}
	}
	for _, want := range []string{`"x" is not a number`, "10:900 cannot be", "scoop 1, mites: ", "scoop 3, mites: "} {
		if !strings.Contains(errs, want) {
			t.Errorf("no %q in\n%s", want, errs)
		}
	}
	out, _, _ = run(t, "6\n1\n", "tally", "-", "--today", "2026-06-20")
	if !strings.HasPrefix(out, "20 June: treat this week") || !strings.Contains(out, "1 scoop, 100 bees, 6 mites") {
		t.Error(out)
	}
	if v := verdictOf(t, "0\n0\n1\n", "tally", "-", "--today", "2026-06-20"); v.SoFar.Says != "stop, leave" || v.SoFar.Mites != 1 || v.SoFar.Bees != 300 {
		t.Errorf("%+v", v)
	}
	if out, errs, code := run(t, "", "tally", "-", "--today", "2026-06-20"); code != line.ExitDone || !strings.HasPrefix(out, "20 June: count it.") {
		t.Errorf("%d: %s%s", code, out, errs)
	}
}
