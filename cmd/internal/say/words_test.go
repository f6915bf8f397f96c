package say

import (
	"math"
	"testing"
)

// Taking the first byte for the first letter would break the é in two.
func TestCapital(t *testing.T) {
	for s, want := range map[string]string{"": "", "wash": "Wash", "érable": "Érable", "über 3": "Über 3", "5 mites": "5 mites", "蜂": "蜂", "\xc3(": "\xc3("} {
		if got := Capital(s); got != want {
			t.Errorf("%q becomes %q, want %q", s, got, want)
		}
	}
}

// A treatment after which more mites were found took none, and a figure that
// only rounds to all is not all.
func TestTook(t *testing.T) {
	for _, test := range []struct {
		share float64
		want  string
	}{
		{1, "100%"}, {math.Nextafter(1, 0), "over 99%"}, {0.996, "over 99%"}, {0.994, "99%"}, {0.5, "50%"}, {0.004, "under 1%"},
		{0, "none"}, {-0.001, "none"}, {-0.86, "none"}, {math.Inf(-1), "none"}, {math.NaN(), "–"},
	} {
		if got := Took(test.share); got != test.want {
			t.Errorf("%v is %s, want %s", test.share, got, test.want)
		}
	}
}
