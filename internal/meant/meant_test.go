package meant

import "testing"

func TestWord(t *testing.T) {
	names := []string{"wash", "roll", "co2", "board", "knockdown"}
	for in, want := range map[string]string{
		"wash": "wash", "wahs": "wash", "washes": "wash", "rool": "roll", "co": "co2", "boards": "board", "knock-down": "knockdown",
		"sticky": "", "xyz": "",
	} {
		if got := Word(in, names); got != want {
			t.Errorf("%q is nearest to %q, want %q", in, got, want)
		}
	}
}

func TestRemedy(t *testing.T) {
	for typed, want := range map[string]string{"rol": "did you mean roll? There are two", "sticky": "say which"} {
		if got := Remedy(typed, []string{"wash", "roll"}, "There are two", "say which"); got != want {
			t.Errorf("%s: %q, want %q", typed, got, want)
		}
	}
	if got := OneOf("x", []string{"json", "csv"}); got != "write one of json, csv" {
		t.Errorf("%q", got)
	}
}
