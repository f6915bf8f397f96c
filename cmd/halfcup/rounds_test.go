package main

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
)

// explained is what --explain adds to a command's answer.
func explained(t *testing.T, args ...string) string {
	t.Helper()
	parts := [2]string{}
	for i, more := range [][]string{nil, {"--explain"}} {
		var stdout bytes.Buffer
		if code := run(append(args[:len(args):len(args)], more...), nil, &stdout, io.Discard); code != line.ExitDone {
			t.Fatalf("%v %v: exit %d", args, more, code)
		}
		parts[i] = stdout.String()
	}
	plain := map[string]bool{}
	for _, paragraph := range strings.Split(parts[0], "\n\n") {
		plain[strings.TrimSpace(paragraph)] = true
	}
	var added []string
	for _, paragraph := range strings.Split(parts[1], "\n\n") {
		if !plain[strings.TrimSpace(paragraph)] {
			added = append(added, paragraph)
		}
	}
	return strings.Join(added, "\n")
}

func TestRoundsExplainedToALearner(t *testing.T) {
	for _, args := range []string{"rounds", "rounds --brood no", "rounds --rounds 1", "rounds hop-acids --every 3 --rounds 4"} {
		told := explained(t, strings.Split(args, " ")...)
		if n := len(strings.Fields(told)); n == 0 || n >= 120 {
			t.Errorf("%s: %d words", args, n)
		}
		if !strings.Contains(told, "of 100 mites") {
			t.Errorf("%s: no natural frequency in %q", args, told)
		}
		for _, term := range []string{"probability", "distribution", "variance", "deviation", "interval", "confidence", "beta", "prior", "median", "mean ", "expected", "log"} {
			if strings.Contains(strings.ToLower(told), term) {
				t.Errorf("%s: %q in %q", args, term, told)
			}
		}
	}
}
