package main

import (
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
)

func TestExplainTallyIsShort(t *testing.T) {
	for _, args := range [][]string{
		{"tally", "--today", "2026-06-20", "--explain", "--format", "json"},
		{"tally", "--today", "2026-06-20", "--low", "1.25", "--high", "3.25", "--explain", "--method", "wash", "--format", "json"},
	} {
		var out, errs strings.Builder
		if code := run(args, strings.NewReader(""), &out, &errs); code != line.ExitDone {
			t.Fatal(errs.String())
		}
		_, rest, _ := strings.Cut(out.String(), `"explain": "`)
		explain, _, _ := strings.Cut(rest, `"`)
		if n := len(strings.Fields(explain)); n == 0 || n >= 120 {
			t.Errorf("%d words: %s", n, explain)
		}
		for _, term := range []string{"standard error", "negative binomial", "Poisson", "alpha", "beta", "hypothesis"} {
			if strings.Contains(explain, term) {
				t.Errorf("a learner reads %q: %s", term, explain)
			}
		}
	}
}
