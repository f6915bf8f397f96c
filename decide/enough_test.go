package decide

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// alike are assumptions under which all frames are alike and every scoop holds
// what it should, so that mites in a sample of counted bees are Poisson.
func alike() sampling.Assumptions {
	a := sampling.DefaultAssumptions()
	a.FrameCV = 0
	return a
}

func mustCount(t testing.TB, text string) sampling.Count {
	t.Helper()
	c, err := sampling.ParseCount(text)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The fixed-precision sample size of field sampling, n = 1/(m·C²) for Poisson
// counts of mean m and SE over mean C (textbook, from memory: Southwood,
// Ecological Methods), at C = 0.25.
func TestBeesForPrecision(t *testing.T) {
	for perHundred, want := range map[float64]float64{1: 1600, 2: 800, 3: 1600.0 / 3, 5: 320} {
		if got := BeesForPrecision(alike(), perHundred/100, 0.25, 1); math.Abs(got-want) > 1e-9 {
			t.Errorf("%v per hundred: %v bees, want %v", perHundred, got, want)
		}
	}
	// Frames that differ: n = 1/(m·(C² - CV²/frames)); one frame never does.
	a := sampling.DefaultAssumptions()
	if got := BeesForPrecision(a, 0.03, 0.25, 1); !math.IsInf(got, 1) {
		t.Errorf("one frame: %v bees", got)
	}
	for frames, want := range map[int]float64{2: 1 / (0.03 * 0.03125), 4: 1 / (0.03 * 0.046875)} {
		if got := BeesForPrecision(a, 0.03, 0.25, frames); math.Abs(got-want) > 1e-6 {
			t.Errorf("%d frames: %v bees, want %v", frames, got, want)
		}
	}
}

// SE over mean of a Poisson count is 1/√mites; by hand.
func TestPrecisionOfThreeHundredBees(t *testing.T) {
	for mites, want := range map[int]float64{3: 0.577, 6: 0.408, 9: 0.333, 15: 0.258, 30: 0.183} {
		got, err := Precision(alike(), []sampling.Count{mustCount(t, fmt.Sprintf("wash:%d/300", mites))})
		if err != nil || math.Abs(got-want) > 5e-4 {
			t.Errorf("%d mites: %v, want %v (%v)", mites, got, want, err)
		}
	}
}

func TestPrecisionByHand(t *testing.T) {
	a := sampling.DefaultAssumptions()
	board := math.Expm1(a.BoardBrood.LogSD*a.BoardBrood.LogSD+a.BeesUnknownLogSD*a.BeesUnknownLogSD) + 0.16/4 + 1.0/40
	wash := 0.0625 + 1.0/9
	for _, c := range []struct {
		counts []string
		want   float64
	}{
		{[]string{"wash:9/300"}, math.Sqrt(wash)},
		{[]string{"wash:9/300/4f"}, math.Sqrt(0.0625/4 + 1.0/9)},
		{[]string{"wash:9/0.5cup"}, math.Sqrt(0.0625 + 0.0225 + 1.0/9)},
		// Two of one day: mites, frames and bees add up, two scoops err apart.
		{[]string{"wash:9/300", "roll:7/300"}, math.Sqrt(0.0625/2 + 1.0/16)},
		{[]string{"roll:4/0.5cup", "roll:5/0.5cup/3f"}, math.Sqrt(0.0625/4 + 0.0225/2 + 1.0/9)},
		{[]string{"board:40/4d"}, math.Sqrt(board)},
		{[]string{"wash:9/300", "board:40/4d"}, 1 / math.Sqrt(1/wash+1/board)},
		{[]string{"wash:0/300"}, math.Inf(1)},
		{nil, math.Inf(1)},
	} {
		var counts []sampling.Count
		for _, text := range c.counts {
			counts = append(counts, mustCount(t, text))
		}
		got, err := Precision(a, counts)
		if err != nil || !(math.Abs(got-c.want) < 1e-9 || got == c.want) {
			t.Errorf("%v: %v, want %v (%v)", c.counts, got, c.want, err)
		}
	}
	if _, err := Precision(a, []sampling.Count{mustCount(t, "wash:9/40g")}); err == nil {
		t.Error("a weight alone has a precision")
	}
}

// With frames alike and bees counted, the chance to find a mite is that of a
// search for one bee among many that carries one, exp(-θ) of the bees being
// free; and so is the number of bees it takes. No mite in 300 bees is
// exp(-3) = 5 % at one per hundred and exp(-6) = 0.25 % at two.
func TestDetectionIsASearch(t *testing.T) {
	for _, act := range []float64{0.5, 1, 2, 3, 5} {
		for _, bees := range []int{30, 100, 300} {
			s := counted(t, act, fmt.Sprintf("wash:1/%d", bees))
			s.History.Assumptions = alike()
			e, err := s.Enough()
			if err != nil {
				t.Fatal(err)
			}
			search := Search{Prevalence: 1 - math.Exp(-act/100), Sensitivity: 1}
			if want := search.Chance(bees); math.Abs(e.Detection.Chance-want) > 1e-7 {
				t.Errorf("act %v, %d bees: %v, a search %v", act, bees, e.Detection.Chance, want)
			}
			if n := e.Detection.Bees; search.Chance(n) < 0.95 || search.Chance(n-1) >= 0.95 {
				t.Errorf("act %v: %d bees", act, n)
			}
			if e.Detection.LevelPerHundred != act {
				t.Errorf("level %v, want %v", e.Detection.LevelPerHundred, act)
			}
			// Frames that differ, and mites that a roll misses, make it harder.
			for _, text := range []string{"wash:1/%d", "roll:1/%d"} {
				harder, err := counted(t, act, fmt.Sprintf(text, bees)).Enough()
				if err != nil || !(harder.Detection.Chance < e.Detection.Chance) {
					t.Errorf("act %v, %d bees: %v with %s, %v at best (%v)", act, bees, harder.Detection.Chance, text, e.Detection.Chance, err)
				}
			}
		}
	}
	for act, none := range map[float64]float64{1: 0.0498, 2: 0.00248} {
		s := counted(t, act, "wash:0/300")
		s.History.Assumptions = alike()
		if e, err := s.Enough(); err != nil || math.Abs(1-e.Detection.Chance-none) > 5e-5 {
			t.Errorf("act %v: no mite with %v, want %v (%v)", act, 1-e.Detection.Chance, none, err)
		}
	}
}

// How often the trade's rules (common practice) call for a treatment, by exact
// Poisson tails, R's ppois(8, 3*(1:5), lower.tail = FALSE) and ppois(5, 3*(1:3),
// lower.tail = FALSE). The rules are the switch points of the defaults.
func TestHowOftenTheRulesTreat(t *testing.T) {
	for act, chances := range map[float64][]float64{3: {0.004, 0.153, 0.544, 0.845, 0.963}, 2: {0.084, 0.554, 0.884}} {
		c, err := counted(t, act).appraise(mustCount(t, "wash:0/300@2026-07-01"))
		if err != nil {
			t.Fatal(err)
		}
		for i, want := range chances {
			mean := 3 * float64(i+1)
			if got := countLaw(mean, math.Inf(1)).atLeast(c.Switch); math.Abs(got-want) > 5e-4 {
				t.Errorf("%d mites or more at %d per hundred: %.4f, want %v", c.Switch, i+1, got, want)
			}
		}
	}
}

// What settles a call by its own words: with a chance of 80 %, the count leads
// to a call that is wrong by a third with a chance below 10 %. Here every count
// is gone through by itself, and fewer bees are tried too.
func TestMoreForTheCallIsTheSmallest(t *testing.T) {
	settles := func(s Situation, c sampling.Count) float64 {
		before, err := s.History.Assumptions.Likelihood(s.State.Counts...)
		if err != nil {
			t.Fatal(err)
		}
		settled, seen := 0.0, 0.0
		for mites := 0; seen < 0.9995; mites++ {
			then, err := s.seeing(c, mites)
			if err != nil {
				t.Fatal(err)
			}
			l, err := s.History.Assumptions.Likelihood(then.State.Counts...)
			if err != nil {
				t.Fatal(err)
			}
			chance := s.State.Before.Chance(l) / s.State.Before.Chance(before)
			if then.wrong(then.State.Known, s.Stakes().Regret(then.State.Known).Treats()) < sureEnough {
				settled += chance
			}
			seen += chance
		}
		return settled
	}
	found := 0
	for _, c := range []struct {
		act   float64
		count string
	}{{2, "wash:5/300"}, {2, "board:30/3d"}, {3, "roll:8/300"}} {
		s := counted(t, c.act, c.count)
		e, err := s.Enough()
		if err != nil {
			t.Fatal(err)
		}
		if e.Call.OK {
			t.Fatalf("%s at %v settles the call: choose another", c.count, c.act)
		}
		for _, m := range e.Call.More {
			found++
			if p := settles(s, Scooped(m.Method, m.Bees, m.Frames, today)); p < mostlySure-0.001 {
				t.Errorf("%s at %v: %+v settles with a chance of %v", c.count, c.act, m, p)
			}
			for bees := beesStep; bees <= m.Bees; bees += beesStep {
				frames := mostFrames
				if bees == m.Bees {
					frames = m.Frames - 1
				}
				if frames == 0 {
					continue
				}
				if p := settles(s, Scooped(m.Method, bees, frames, today)); p >= mostlySure+0.001 {
					t.Errorf("%s at %v: %d bees off %d frames settle with %v, fewer than %+v", c.count, c.act, bees, frames, p, m)
				}
			}
		}
	}
	if found < 4 {
		t.Errorf("only %d samples found", found)
	}
}

// A third past the line is only wrong on the side where the call is a mistake.
func TestWrongByAThird(t *testing.T) {
	s := counted(t, 3, "wash:9/300")
	d := s.State.Known
	if got, want := s.wrong(d, false), d.Over(0.04); got != want {
		t.Errorf("left: %v, want %v", got, want)
	}
	if got, want := s.wrong(d, true), 1-d.Over(0.0225); got != want {
		t.Errorf("treated: %v, want %v", got, want)
	}
}

// With no bee to be killed, no wash is named; without a roll, no roll.
func TestMoreHeedsWhatIsRuledOut(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anySituation(r, t)
		e, err := s.Enough()
		if err != nil {
			r.Fatal(err)
		}
		for _, m := range append(append([]More(nil), e.Call.More...), e.Figure.More...) {
			if s.without(m.Method) || m.Bees < 1 || m.Frames < 1 || m.Frames > mostFrames {
				r.Fatalf("without %v: %+v", s.Without, m)
			}
		}
		if e.Figure.OK != (e.Figure.Precision <= e.Figure.Wanted) {
			r.Fatalf("%+v", e.Figure)
		}
	})
}
