package count

import (
	"errors"
	"testing"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/sampling"
)

// Whatever is typed, scoops are read or the fault is inside the text.
func TestParseScoops(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[0-9:,. x-]{0,20}`).Draw(t, "text")
		checkScoops(t, s)
	})
	got, err := parseScoops("100:2,98:0")
	if err != nil || len(got) != 2 || got[1] != (decide.Scoop{Bees: 98, Mites: 0}) {
		t.Errorf("%v, %v", got, err)
	}
}

func FuzzParseScoops(f *testing.F) {
	for _, s := range []string{"100:2,100:1", "", "100", "1:1,", "0:0", "9999999999:1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) { checkScoops(t, s) })
}

func checkScoops(t interface{ Fatalf(string, ...any) }, s string) {
	scoops, err := parseScoops(s)
	if err == nil {
		for _, c := range scoops {
			if c.Bees < 1 || c.Mites < 0 {
				t.Fatalf("%q gives %+v", s, c)
			}
		}
		return
	}
	var e *sampling.SyntaxError
	if !errors.As(err, &e) || e.Input != s || e.Offset < 0 || e.Offset > len(s) || e.Remedy == "" {
		t.Fatalf("%q: %#v", s, err)
	}
}
