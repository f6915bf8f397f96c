package line

import (
	"strings"
	"testing"
)

func TestParseNumber(t *testing.T) {
	for s, want := range map[string]float64{"0.9": 0.9, "010": 10, ".5": 0.5, "-1": -1, "3.": 3} {
		if got, err := ParseNumber(s, -10, 10); err != nil || got != want {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "NaN", "Inf", "1e3", "0x10", "1_0", "0,5", "1'0", "٣", "1.2.3", "--1", "11", "-11", " 1", strings.Repeat("9", 400)} {
		if got, err := ParseNumber(s, -10, 10); err == nil {
			t.Errorf("%q was read as %v", s, got)
		}
	}
}
