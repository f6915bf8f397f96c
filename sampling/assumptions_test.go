package sampling

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Every figure that stands between a count and an estimate is listed with
// where it comes from and how sure that is.
func TestSources(t *testing.T) {
	kinds := map[string]bool{"published": true, "common practice": true, "computed": true, "judgement": true, "second-hand": true, "memory": true}
	seen := map[string]bool{}
	for _, s := range Sources() {
		if s.Name == "" || s.Source == "" || !kinds[s.Kind] {
			t.Errorf("incomplete: %+v", s)
		}
		if seen[s.Name] {
			t.Errorf("%s is listed twice", s.Name)
		}
		seen[s.Name] = true
	}
	for _, want := range []string{"prior_median", "prior_log_sd", "recovery_roll", "recovery_co2", "frame_cv", "scoop_cv", "weighed_cv", "board_brood_median", "board_pair_4", "knockdown_reach"} {
		if !seen[want] {
			t.Errorf("%s is not listed", want)
		}
	}
}

func TestAssumptionsCheck(t *testing.T) {
	if err := DefaultAssumptions().Check(); err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	for what, change := range map[string]func(*Assumptions){
		"prior":                    func(a *Assumptions) { a.Prior.LogSD = nan },
		"recovery of roll":         func(a *Assumptions) { a.Recovery[Roll] = Beta{9, 0} },
		"recovery of board":        func(a *Assumptions) { a.Recovery[Board] = Beta{9, 2} },
		"frame CV":                 func(a *Assumptions) { a.FrameCV = -0.1 },
		"bees CV":                  func(a *Assumptions) { a.ScoopCV = nan },
		"weighed samples":          func(a *Assumptions) { a.WeighedCV = 3 },
		"board day CV":             func(a *Assumptions) { a.BoardDayCV = math.Inf(1) },
		"board cells CV":           func(a *Assumptions) { a.BoardCellsCV = -1 },
		"fall per mite":            func(a *Assumptions) { a.BoardBroodless.MedianPerDayPerHundred = 0 },
		"share reaching the board": func(a *Assumptions) { a.Reach = Beta{} },
	} {
		a := DefaultAssumptions()
		b := a.Clone()
		change(&b)
		var value *ValueError
		if err := b.Check(); !errors.As(err, &value) || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
		}
		if err := a.Check(); err != nil {
			t.Errorf("%s: the copy is not one: %v", what, err)
		}
	}
}

func TestBeesOf(t *testing.T) {
	a := DefaultAssumptions()
	for text, want := range map[string][2]float64{ // bees and their CV
		"wash:5/312":    {312, 0},
		"wash:5/0.5cup": {300, 0.15}, // the half-cup rule
		"wash:5/100ml":  {250, 0.15},
	} {
		bees, cv, err := a.BeesOf(count(t, text))
		if err != nil || !(math.Abs(bees-want[0]) <= 1e-9) || cv != want[1] {
			t.Errorf("%s: %v bees, CV %v, %v, want %v", text, bees, cv, err, want)
		}
	}
	// Wet bees weigh 18.3 g a hundred: median of 175 samples in the data of
	// Aurell et al. 2024, J Insect Sci (computed).
	c := count(t, "wash:5/54.9g")
	c.GramsPer100 = 18.3
	if bees, cv, err := a.BeesOf(c); err != nil || !(math.Abs(bees-300) <= 1e-9) || cv != 0.08 {
		t.Errorf("54.9 g: %v bees, CV %v, %v", bees, cv, err)
	}
	// A weighed sample is a count of the same bees, blurred by its CV.
	_, counted := mustPosterior(t, a, Flat(), count(t, "wash:5/300")).LogMoments()
	_, weighed := mustPosterior(t, a, Flat(), c).LogMoments()
	close(t, "log-SD of a weighed sample", weighed, math.Sqrt(counted*counted+math.Log1p(0.08*0.08)), 1e-4)
	for _, grams := range []float64{0, -1, math.NaN(), 1e-9, 1e6} {
		c.GramsPer100 = grams
		var value *ValueError
		if _, _, err := a.BeesOf(c); !errors.As(err, &value) {
			t.Errorf("%v g per hundred: %v", grams, err)
		}
	}
	if bees, cv := BeesOnFrames(8); bees != 16_000 || cv != 0.2 {
		t.Errorf("8 frames: %v bees, CV %v", bees, cv)
	}
}
