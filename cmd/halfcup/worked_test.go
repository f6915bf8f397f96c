package main

import (
	"strings"
	"testing"
)

func TestWorkedExplainedToALearner(t *testing.T) {
	for _, args := range []string{
		"worked --before roll:18/300 --after roll:3/300",
		"worked --before wash:18/300@2026-08-01 --after wash:1/300@2026-08-25",
		"worked --after wash:1/300 --control-after wash:12/300",
		"worked --falls 310/2d@2026-08-01,140/2d@2026-08-06,60/2d@2026-08-11",
		"worked --killed 1880 --follow-up 120",
		"worked --jar 45/60",
	} {
		told := explained(t, strings.Split(args, " ")...)
		if n := len(strings.Fields(told)); n == 0 || n >= 120 {
			t.Errorf("%s: %d words", args, n)
		}
		if !strings.Contains(strings.ToLower(told), "of 100") && !strings.Contains(strings.ToLower(told), "of 1000") && !strings.Contains(told, "f every 100") {
			t.Errorf("%s: no natural frequency in %q", args, told)
		}
		for _, term := range []string{"probability", "distribution", "variance", "deviation", "interval", "confidence", "beta", "prior", "median", "mean ", "expected", "log"} {
			if strings.Contains(strings.ToLower(told), term) {
				t.Errorf("%s: %q in %q", args, term, told)
			}
		}
	}
}
