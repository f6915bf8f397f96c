package figures

import (
	"math"
	"strings"
	"testing"

	"halfcup/decide"
	"halfcup/sampling"
)

func TestTableIsSound(t *testing.T) {
	names, settings := map[string]bool{}, map[string]bool{}
	for _, f := range All() {
		if names[f.Name] || f.Name == "" || f.What == "" {
			t.Errorf("%+v: its name is there twice, or it says nothing", f)
		}
		names[f.Name] = true
		if f.Setting != "" && settings[f.Setting] {
			t.Errorf("the setting %s is there twice", f.Setting)
		}
		settings[f.Setting] = true
		if f.Setting == "" && f.Flag == "" && f.Column == "" {
			t.Errorf("%s can be set nowhere", f.Name)
		}
		if f.Setting != "" && f.Default == "" {
			t.Errorf("%s does not say what holds when nobody sets it", f.Name)
		}
		if f.Number() && (!(f.Low < f.High) || f.Whole && (f.Low != math.Trunc(f.Low) || f.High != math.Trunc(f.High))) {
			t.Errorf("%s: bounds %v and %v", f.Name, f.Low, f.High)
		}
		if f.Number() && f.Allows(math.NaN()) {
			t.Errorf("%s may be NaN", f.Name)
		}
		if strings.Contains(f.What, "`") || strings.HasSuffix(f.What, ".") {
			t.Errorf("%s: %q is no clause", f.Name, f.What)
		}
	}
}

// The libraries keep checks of their own, since other programs use them too.
// They refuse what the table refuses, and take its bounds.
func TestLibrariesHoldTheSameBounds(t *testing.T) {
	day := sampling.Day(2026, 8, 6)
	rules := func(change func(*decide.Rules)) error {
		lines, err := decide.ThresholdSet(decide.DefaultThresholds)
		if err != nil {
			t.Fatal(err)
		}
		year, err := decide.NewYear(decide.YearSettings{})
		if err != nil {
			t.Fatal(err)
		}
		r := decide.Rules{Costs: decide.DefaultCosts(), MissCost: 3, MinWorth: 0.05, Lines: lines}
		change(&r)
		k := decide.Colony{}
		k.History = decide.History{Assumptions: sampling.DefaultAssumptions(), Rates: decide.DefaultRates()}
		k.Year = year
		c, err := sampling.ParseCount("wash:2/300@2026-08-06")
		if err != nil {
			t.Fatal(err)
		}
		k.Counts = []sampling.Count{c}
		_, err = decide.Apiary{Rules: r, Colonies: []decide.Colony{k}}.Of(0, day)
		return err
	}
	assume := func(change func(*sampling.Assumptions)) error {
		a := sampling.DefaultAssumptions()
		change(&a)
		return a.Check()
	}
	rates := func(change func(*decide.Rates)) error {
		r := decide.DefaultRates()
		change(&r)
		return r.Check()
	}
	nest := func(n decide.Nest) error {
		_, err := decide.DefaultRates().Invasion(n)
		return err
	}
	round := func(r decide.Rounds) error { return r.Check() }
	cost := func(set func(*decide.Costs, float64)) func(float64) error {
		return func(v float64) error {
			return rules(func(r *decide.Rules) { set(&r.Costs, v) })
		}
	}
	for name, try := range map[string]func(v float64) error{
		"miss-cost":            func(v float64) error { return rules(func(r *decide.Rules) { r.MissCost = v }) },
		"min-worth":            func(v float64) error { return rules(func(r *decide.Rules) { r.MinWorth = v }) },
		"per-300-killed":       cost(func(c *decide.Costs, v float64) { c.Per300Killed = v }),
		"per-10-minutes":       cost(func(c *decide.Costs, v float64) { c.Per10Minutes = v }),
		"extra-visit":          cost(func(c *decide.Costs, v float64) { c.ExtraVisit = v }),
		"minutes-per-sample":   cost(func(c *decide.Costs, v float64) { c.MinutesPerSample = v }),
		"minutes-per-frame":    cost(func(c *decide.Costs, v float64) { c.MinutesPerFrame = v }),
		"minutes-per-100-bees": cost(func(c *decide.Costs, v float64) { c.MinutesPer100 = v }),
		"minutes-per-board":    cost(func(c *decide.Costs, v float64) { c.MinutesPerBoard = v }),
		"frame-cv":             func(v float64) error { return assume(func(a *sampling.Assumptions) { a.FrameCV = v }) },
		"bees-cv":              func(v float64) error { return assume(func(a *sampling.Assumptions) { a.ScoopCV = v }) },
		"prior-median":         func(v float64) error { return assume(func(a *sampling.Assumptions) { a.Prior.MedianPerHundred = v }) },
		"prior-log-sd":         func(v float64) error { return assume(func(a *sampling.Assumptions) { a.Prior.LogSD = v }) },
		"days-on-bees":         func(v float64) error { return rates(func(r *decide.Rates) { r.DaysOnBees = v }) },
		"drone-share":          func(v float64) error { return rates(func(r *decide.Rates) { r.DroneShare = v }) },
		"worker-daughters":     func(v float64) error { return rates(func(r *decide.Rates) { r.WorkerDaughters = v }) },
		"drone-daughters":      func(v float64) error { return rates(func(r *decide.Rates) { r.DroneDaughters = v }) },
		"mortality":            func(v float64) error { return rates(func(r *decide.Rates) { r.Mortality = v }) },
		"survival":             func(v float64) error { return rates(func(r *decide.Rates) { r.Survival = v }) },
		"worker-cells":         func(v float64) error { return nest(decide.Nest{AdultBees: 25_000, WorkerCells: v, DroneCells: 20}) },
		"drone-cells":          func(v float64) error { return nest(decide.Nest{AdultBees: 25_000, WorkerCells: 1000, DroneCells: v}) },
		"every":                func(v float64) error { return round(decide.Rounds{Rounds: 3, EveryDays: int(v), Kill: 0.7}) },
		"rounds":               func(v float64) error { return round(decide.Rounds{Rounds: int(v), EveryDays: 5, Kill: 0.7}) },
		"mean": func(v float64) error {
			return decide.YardPlan{Colonies: 20, LevelPerHundred: v, Precision: 0.25, ColonyCV: 0.7, FrameCV: 0.2}.Check()
		},
		"adult-bees": func(v float64) error {
			a := sampling.DefaultAssumptions()
			c, err := sampling.ParseCount("board:24/3d")
			if err != nil {
				t.Fatal(err)
			}
			c.Hive.AdultBees = v
			_, err = a.Likelihood(c)
			return err
		},
	} {
		f := Named(name)
		step := 1.0
		if !f.Whole && f.High < 1000 {
			step = f.High / 1e6
		}
		for _, v := range []float64{f.Low, f.High} {
			if err := try(v); err != nil {
				t.Errorf("%s %v is allowed by the table, and not by the library: %v", name, v, err)
			}
		}
		for _, v := range []float64{f.Low - step, f.High + step} {
			if err := try(v); err == nil {
				t.Errorf("%s %v is refused by the table, and not by the library", name, v)
			}
		}
	}
}
