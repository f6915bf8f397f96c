package treat

import (
	"testing"
)

func TestSomeMites(t *testing.T) {
	for mites, want := range map[float64]string{0.2: "under 1", 7.4: "7", 99.6: "100", 255: "260", 1234: "1200"} {
		if got := someMites(mites); got != want {
			t.Errorf("%v mites are %s, want %s", mites, got, want)
		}
	}
}
