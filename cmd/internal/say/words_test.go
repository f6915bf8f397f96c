package say

import "testing"

// Taking the first byte for the first letter would break the é in two.
func TestCapital(t *testing.T) {
	for s, want := range map[string]string{"": "", "wash": "Wash", "érable": "Érable", "über 3": "Über 3", "5 mites": "5 mites", "蜂": "蜂", "\xc3(": "\xc3("} {
		if got := Capital(s); got != want {
			t.Errorf("%q becomes %q, want %q", s, got, want)
		}
	}
}
