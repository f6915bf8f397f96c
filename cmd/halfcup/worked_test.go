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

func TestReducedBy(t *testing.T) {
	for share, want := range map[float64]string{1: "100%", 0.996: "over 99%", 0.5: "50%", -0.001: "0%", -0.86: "-86%"} {
		if got := reducedBy(share); got != want {
			t.Errorf("%v is %s, want %s", share, got, want)
		}
	}
	for mites, want := range map[float64]string{0.2: "under 1", 7.4: "7", 99.6: "100", 255: "260", 1234: "1200"} {
		if got := twoDigits(mites); got != want {
			t.Errorf("%v mites are %s, want %s", mites, got, want)
		}
	}
}
