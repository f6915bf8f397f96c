package decide

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"halfcup/sampling"
)

// Every set has every season once, and every row says where it comes from and
// how sure it is.
func TestThresholdSetsAreComplete(t *testing.T) {
	kinds := []string{"published", "common practice", "computed", "judgement", "second-hand", "memory"}
	for _, name := range []string{"composite", "flat-2", "flat-3"} {
		set, err := ThresholdSet(name)
		if err != nil {
			t.Fatal(err)
		}
		if len(set) != len(Seasons()) {
			t.Errorf("%s has %d rows", name, len(set))
		}
		for _, p := range Seasons() {
			r, ok := In(set, p)
			if !ok {
				t.Errorf("%s has no %s", name, p)
			}
			if r.Source == "" || !slices.Contains(kinds, r.Kind) || !(r.Watch > 0 && r.Watch < r.Act) {
				t.Errorf("%s, %s: %+v", name, p, r)
			}
		}
	}
	if n := len(Thresholds()); n != 3*len(Seasons()) {
		t.Errorf("%d thresholds in all", n)
	}
	if _, ok := In(nil, Summer); ok {
		t.Error("an empty set has a row")
	}
}

// flat-2 is common practice; flat-3 is the standard figure named by Jack et al.
// 2023, Front Ecol Evol 11:1102457; composite is a judgement, strictest where the
// mites sit on the bees and where winter bees are raised, and its rows name the papers behind them.
func TestThresholdFigures(t *testing.T) {
	for _, want := range []struct {
		set        string
		season     Season
		watch, act float64
	}{
		{"composite", Spring, 1, 2}, {"composite", Summer, 2, 3}, {"composite", LateSummer, 1, 2}, {"composite", Autumn, 1.5, 3}, {"composite", Winter, 0.5, 1},
		{"flat-2", Spring, 1, 2}, {"flat-2", Summer, 1, 2}, {"flat-2", LateSummer, 1, 2}, {"flat-2", Autumn, 1, 2}, {"flat-2", Winter, 1, 2},
		{"flat-3", Spring, 1.5, 3}, {"flat-3", Summer, 1.5, 3}, {"flat-3", LateSummer, 1.5, 3}, {"flat-3", Autumn, 1.5, 3}, {"flat-3", Winter, 1.5, 3},
	} {
		set, err := ThresholdSet(want.set)
		if err != nil {
			t.Fatal(err)
		}
		if got, _ := In(set, want.season); got.Watch != want.watch || got.Act != want.act {
			t.Errorf("%s, %s: watch %v, act %v, want %v and %v", want.set, want.season, got.Watch, got.Act, want.watch, want.act)
		}
	}
}

func TestThresholdSetNearestName(t *testing.T) {
	for name, want := range map[string]string{
		"flat2":     "did you mean flat-2?",
		"composit":  "did you mean composite?",
		"something": "use one of composite, flat-2, flat-3",
		"":          "use one of composite, flat-2, flat-3",
	} {
		_, err := ThresholdSet(name)
		var syntax *sampling.SyntaxError
		if !errors.As(err, &syntax) || !strings.Contains(syntax.Remedy, want) {
			t.Errorf("%q: %v, want %q", name, err, want)
		}
	}
}
