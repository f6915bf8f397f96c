package fieldlog

import (
	"os"
	"strings"
	"testing"

	"halfcup/sampling"
)

// The demo yard holds what its README says, and nothing is wrong with it.
func TestDemo(t *testing.T) {
	r, err := Open("../../../testdata/demo/mill.csv")
	if err != nil {
		t.Fatal(err)
	}
	if ps := r.Check(sampling.Day(2026, 9, 21)); len(ps) != 0 {
		t.Error(problemsOf(ps))
	}
	if n := len(r.Colonies()); n != 14 {
		t.Errorf("%d colonies, want 14", n)
	}
	methods, events := map[sampling.Method]int{}, map[Kind]int{}
	planned, fell := 0, 0
	for _, e := range r.Events {
		events[e.Kind]++
		if e.Kind == Treatment && e.Date > sampling.Day(2026, 9, 21) {
			planned++
		}
		if e.Count == nil {
			continue
		}
		methods[e.Count.Method]++
		if e.Count.Method == sampling.Knockdown {
			fell++
			if _, ok := r.TreatmentOf(e); !ok {
				t.Errorf("line %d: no treatment", e.Line)
			}
		}
	}
	for _, m := range sampling.Methods() {
		if methods[m] < 2 {
			t.Errorf("%d counts by %s", methods[m], m)
		}
	}
	for _, k := range []Kind{Count, Treatment, Inspection, BoardIn, Split, Swarmed, Requeened, BroodBreak, SupersOn, SupersOff, DroneBroodRemoved, Died} {
		if events[k] == 0 {
			t.Errorf("no %s", k)
		}
	}
	if planned != 13 || fell != 12 {
		t.Errorf("%d planned treatments and %d knockdowns", planned, fell)
	}
	for _, path := range []string{"README.md", "mill.csv"} {
		text, err := os.ReadFile("../../../testdata/demo/" + path)
		if err != nil || !strings.Contains(string(text), "invented") {
			t.Errorf("%s does not say that it is invented", path)
		}
	}
}
