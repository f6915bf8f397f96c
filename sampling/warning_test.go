package sampling

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// warningsOf weighs counts and gives their warnings.
func warningsOf(t *testing.T, a Assumptions, counts ...Count) []Warning {
	t.Helper()
	before := a.Prior.Density()
	after, evidence, err := a.Weigh(before, counts)
	if err != nil {
		t.Fatal(err)
	}
	return a.Warnings(before, after, evidence, 0.95)
}

func TestWarnings(t *testing.T) {
	a := DefaultAssumptions()
	vapour := func(s string, fallBefore float64) Count {
		c := count(t, s)
		c.Treatment, c.Hive.AdultBees = TreatmentName{"oxalic acid", "vapour"}, 25000
		if fallBefore > 0 {
			c.FallBefore = &fallBefore
		}
		return c
	}
	board := func(s string) Count {
		c := count(t, s)
		c.Hive.AdultBees = 25000
		return c
	}
	for _, tc := range []struct {
		name   string
		counts []Count
		want   string // kinds in order
		says   []string
	}{
		{"nothing to say", []Count{count(t, "wash:9/300/3f")}, "", nil},
		{"none found", []Count{count(t, "wash:0/300")}, "zero-is-not-none", []string{"there may still be up to 1.", "as empty as this one, would leave 0."}},
		{"a small sample", []Count{count(t, "roll:2/120")}, "small-sample", []string{"120 bees"}},
		{"few mites in a scoop", []Count{count(t, "wash:3/0.5cup/3f")}, "", nil},
		{"many mites in a scoop", []Count{count(t, "wash:60/0.5cup/3f")}, "bees-not-counted", []string{"instead of"}},
		{"a board alone", []Count{board("board:36/3d")}, "board-alone", []string{"times apart", "three pairs of your own"}},
		{"a board and a roll", []Count{board("board:36/3d"), count(t, "roll:7/300")}, "", nil},
		{"one day", []Count{board("board:12/24h")}, "short-board board-alone", []string{"less than 3 days"}},
		{"an empty board", []Count{board("board:0/3d")}, "zero-is-not-none board-alone", []string{"solid floor"}},
		{"bees not said", []Count{count(t, "board:36/3d"), count(t, "board:30/3d")}, "board-alone bees-unknown", []string{"over 25000"}},
		{"the first two days", []Count{vapour("knockdown:200/2d", 0)}, "short-knockdown", []string{"read the board again on day 3"}},
		{"nothing fell", []Count{vapour("knockdown:0/5d", 0)}, "zero-knockdown", []string{"few mites or a failed application"}},
		{"as before", []Count{vapour("knockdown:60/5d", 9)}, "mostly-natural", []string{"about 45 of the 60 mites"}},
		{"a fall well told", []Count{vapour("knockdown:310/5d", 9)}, "", nil},
		{"two that disagree", []Count{count(t, "wash:0/300/3f"), count(t, "wash:30/300/3f")}, "zero-is-not-none disagreement disagreement", []string{"count once more"}},
	} {
		got := warningsOf(t, a, tc.counts...)
		var kinds, text []string
		for _, w := range got {
			kinds, text = append(kinds, string(w.Kind)), append(text, w.Text)
		}
		if strings.Join(kinds, " ") != tc.want {
			t.Errorf("%s: %v, want %s\n%s", tc.name, kinds, tc.want, strings.Join(text, "\n"))
		}
		for _, s := range tc.says {
			if !strings.Contains(strings.Join(text, "\n"), s) {
				t.Errorf("%s does not say %q:\n%s", tc.name, s, strings.Join(text, "\n"))
			}
		}
	}
}

// Figures that more often are a slip of the pen than true.
func TestQuestions(t *testing.T) {
	for text, want := range map[string]string{
		"wash:300/60":     "swapped-numbers: wash:300/60 is 500 mites per hundred bees. Were the two numbers swapped? Mites come first: wash:60/300.",
		"wash:1/2cup":     "more-than-a-cup: wash:1/2cup is 2 cups of bees, about 1200. Was half a cup meant? That is wash:1/0.5cup.",
		"roll:200/0.5cup": "swapped-numbers: roll:200/0.5cup is 67 mites per hundred bees. Were the two numbers swapped? Mites come first.",
		"wash:5/360ml":    "more-than-a-cup: wash:5/360ml is 1.5 cups of bees, about 900. Was half a cup meant? That is wash:5/0.5cup.",
		"wash:150/300":    "", // fifty per hundred is far gone, but seen
		"wash:151/300":    "swapped-numbers: wash:151/300 is 50 mites per hundred bees. Were the two numbers swapped? Mites come first: wash:300/151.",
		"wash:5/1cup":     "",
		"wash:5/240ml":    "",
		"wash:5/1200":     "", // counted bees
		"wash:5/41g":      "", // nothing is known of them yet
		"board:900/3d":    "",
	} {
		var got []string
		c := count(t, text)
		for _, q := range c.Questions() {
			got = append(got, string(q.Kind)+": "+q.Text)
		}
		if strings.Join(got, "\n") != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
	w := warningsOf(t, DefaultAssumptions(), count(t, "wash:60/100/3f"))
	if len(w) == 0 || w[0].Kind != SwappedNumbers {
		t.Errorf("the warnings do not ask: %v", w)
	}
}

// A board is weak until it is calibrated, and the warning says by how much in
// figures that calibration then bears out.
func TestBoardAloneKeepsItsPromise(t *testing.T) {
	a := DefaultAssumptions()
	c := count(t, "board:36/3d")
	c.Hive.AdultBees = 25000
	paired, err := a.WithTypicalPairs(3, false)
	if err != nil {
		t.Fatal(err)
	}
	s := mustPosterior(t, paired, a.Prior.Density(), c).Summary(0.95)
	text := warningsOf(t, a, c)[0].Text
	if want := "halfcup calibrate) about " + digits(s.High/s.Low) + " times"; !strings.Contains(text, want) {
		t.Errorf("%s\ndoes not say %s", text, want)
	}
}

func TestPairWarnings(t *testing.T) {
	if w := pairOf(t, "roll:12/300", "wash:2/300").Warnings(); w != nil {
		t.Errorf("a good pair: %v", w)
	}
	w := pairOf(t, "roll:4/300", "wash:9/300").Warnings()
	if len(w) != 1 || w[0].Kind != LeftMore {
		t.Errorf("got %v", w)
	}
	if w := pairOf(t, "board:4/3d", "wash:9/300").Warnings(); w != nil {
		t.Errorf("a board pair: %v", w)
	}
}

func TestWarningsAreSentences(t *testing.T) {
	a := DefaultAssumptions()
	for _, c := range []Count{count(t, "wash:0/150"), count(t, "board:0/1d"), count(t, "wash:80/0.5cup")} {
		for _, w := range warningsOf(t, a, c) {
			if !strings.HasSuffix(w.Text, ".") || strings.Contains(w.Text, "%!") {
				t.Errorf("%q", w.Text)
			}
		}
	}
}

// A roll that shows fewer mites than a board beside it says that rolls find few
// only where the board's reading is the keeper's own: out of the box boards are
// worse than rolls. Naive: the two are said to disagree, whichever is to blame.
func TestRollsThatFindFew(t *testing.T) {
	calibrated := DefaultAssumptions()
	var pairs []Pair
	for i := range 6 {
		hive := Hive{AdultBees: 20000}
		pairs = append(pairs, Pair{Gentle: parsed("board:120/3d"), Reference: parsed("wash:12/300/3f"), Colony: string(rune('a' + i))})
		pairs[i].Gentle.Hive = hive
	}
	calibrated, _, err := calibrated.Calibrated(pairs)
	if err != nil {
		t.Fatal(err)
	}
	before := Normal(math.Log(0.02), 1.2)
	for _, c := range []struct {
		what        string
		a           Assumptions
		board, roll string
		want        bool
	}{
		{"few beside an own board", calibrated, "board:300/3d", "roll:0/300", true},
		{"as many as it leads to", calibrated, "board:300/3d", "roll:24/300", false},
		{"more than it leads to", calibrated, "board:15/3d", "roll:40/300", false},
		{"few beside a board out of the box", DefaultAssumptions(), "board:300/3d", "roll:0/300", false},
		{"a roll marked damp", calibrated, "board:300/3d", "roll:0/300/damp", false},
	} {
		counts := []Count{parsed(c.board), parsed(c.roll)}
		counts[0].Hive.AdultBees = 20000
		after, evidence, err := c.a.Weigh(before, counts)
		if err != nil {
			t.Fatal(err)
		}
		got := slices.ContainsFunc(c.a.Warnings(before, after, evidence, 0.9), func(w Warning) bool { return w.Kind == RollsFindFew })
		if got != c.want {
			t.Errorf("%s: %v", c.what, got)
		}
	}
}

// parsed is a count as it is typed.
func parsed(text string) Count {
	c, err := ParseCount(text)
	if err != nil {
		panic(err)
	}
	return c
}
