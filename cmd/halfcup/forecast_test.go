package main

import (
	"strings"
	"testing"
)

func TestForecastExplainedToALearner(t *testing.T) {
	for _, args := range []string{
		"forecast wash:4/300 --today 2026-07-10",
		"forecast wash:0/300 --today 2026-07-10 --act 5",
		"forecast roll:40/300 --today 2026-12-10 --arrivals none --treat 2026-12-20:oxalic-trickle",
	} {
		told := explained(t, strings.Split(args, " ")...)
		if n := len(strings.Fields(told)); n == 0 || n >= 120 {
			t.Errorf("%s: %d words", args, n)
		}
		if !strings.Contains(told, "colonies like this") {
			t.Errorf("%s: no natural frequency in %q", args, told)
		}
		for _, term := range []string{"probability", "distribution", "variance", "deviation", "interval", "confidence", "beta", "prior", "median", "mean ", "expected", "logarithm", "regret"} {
			if strings.Contains(strings.ToLower(told), term) {
				t.Errorf("%s: %q in %q", args, term, told)
			}
		}
	}
}
