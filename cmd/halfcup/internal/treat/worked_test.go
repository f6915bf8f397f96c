package treat

import (
	"testing"
)

func TestReducedBy(t *testing.T) {
	for share, want := range map[float64]string{1: "100%", 0.996: "over 99%", 0.5: "50%", -0.001: "0%", -0.86: "-86%"} {
		if got := reducedBy(share); got != want {
			t.Errorf("%v is %s, want %s", share, got, want)
		}
	}
	for mites, want := range map[float64]string{0.2: "under 1", 7.4: "7", 99.6: "100", 255: "260", 1234: "1200"} {
		if got := someMites(mites); got != want {
			t.Errorf("%v mites are %s, want %s", mites, got, want)
		}
	}
}
