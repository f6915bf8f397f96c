package decide

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"halfcup/sampling"
)

// wash is Wald's tally in washed scoops of 100 bees.
func wash(low, high, k, alpha, beta float64) Tally {
	return Tally{Scoop: 100, Max: 40000, Low: low, High: high, Alpha: alpha, Beta: beta, Recovery: 1, K: k}
}

func within(got, want, by float64) bool { return math.Abs(got-want) <= by }

// stopLines are the two straight lines of Wald's test, in mites: leave when the
// total after n units is at or below slope·n + below, treat when it is at or
// above slope·n + above.
func stopLines(w weight, alpha, beta float64) (slope, below, above float64) {
	leave, treat := bounds(alpha, beta)
	return w.constant / w.perMite, leave / w.perMite, treat / w.perMite
}

// The formulas of Wald 1945, Ann Math Stat 16:117-186, as in Binns, Nyrop &
// van der Werf 2000, ch. 5, worked out apart from this code to 4 decimals.
func TestWaldLines(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name                string
		weight              weight
		alpha               float64
		slope, leave, treat float64
	}{
		{"negative binomial 2 v 4", weigh(2, 4, 4.6), 0.1, 2.8418, -5.1283, 5.1283},
		{"Poisson 2 v 4", weigh(2, 4, inf), 0.1, 2.8854, -3.1699, 3.1699},
		{"Poisson 1 v 3", weigh(1, 3, inf), 0.1, 1.8205, -2.0000, 2.0000},
		{"Poisson 1 v 3, alpha 0.05", weigh(1, 3, inf), 0.05, 1.8205, -2.0492, 2.6309},
	} {
		slope, leave, treat := stopLines(c.weight, c.alpha, 0.1)
		if !within(slope, c.slope, 5e-5) || !within(leave, c.leave, 5e-5) || !within(treat, c.treat, 5e-5) {
			t.Errorf("%s: %.4f %.4f %.4f, want %v %v %v", c.name, slope, leave, treat, c.slope, c.leave, c.treat)
		}
	}
}

// A run printed in a manual of pest statistics: negative binomial, mean 2
// against 4 a unit, k 4.6, alpha and beta 0.1; the counts 2, 5, 6, 2, 7 end it
// at the fifth with the high mean.
func TestPublishedRun(t *testing.T) {
	tally := wash(2, 4, 4.6, 0.1, 0.1)
	slope, _, treat := stopLines(weigh(2, 4, 4.6), 0.1, 0.1)
	for i, upper := range []float64{7.97, 10.81, 13.65, 16.50, 19.34} {
		if got := slope*float64(i+1) + treat; !within(got, upper, 0.005) {
			t.Errorf("upper limit after %d is %.2f, want %.2f", i+1, got, upper)
		}
	}
	var taken []Scoop
	for i, mites := range []int{2, 5, 6, 2, 7} {
		taken = append(taken, Scoop{100, mites})
		s, err := tally.Stand(taken)
		want := GoOn
		if i == 4 {
			want = StopAndTreat
		}
		if err != nil || s.Says != want || s.After != i+1 {
			t.Errorf("after %d: %+v, %v, want %q", i+1, s, err, want)
		}
	}
}

// A recovery may be a law with its mass at an end, as a person can type it.
func TestPerformVariedOfAnyRecovery(t *testing.T) {
	tally := wash(1, 3, 16, 0.1, 0.1)
	tally.Max = 900
	plan := tally.Wald()
	small := []float64{0.001, 0.01, 0.1, 0.5, 1, 9, 1e4, 1e6}
	for _, a := range small {
		for _, b := range small {
			p := tally.PerformVaried(plan, 3, sampling.Beta{Alpha: a, Beta: b})
			if !(p.ChanceTreat >= 0 && p.ChanceTreat <= 1+1e-12) || !(p.MeanBees >= 100 && p.MeanBees <= 900+1e-9) {
				t.Errorf("Beta(%v, %v): %+v", a, b, p)
			}
		}
	}
}

// Exact figures for Poisson 1 against 3 mites in 100 bees, worked out apart
// from this code and tried by 40 000 simulated runs before it was written.
func TestPerformancePrinted(t *testing.T) {
	tally := wash(1, 3, math.Inf(1), 0.1, 0.1)
	plan := tally.Wald()
	for _, c := range []struct{ level, leave, scoops float64 }{
		{0.5, 0.998, 2.33}, {1, 0.959, 3.20}, {1.5, 0.758, 4.32}, {2, 0.390, 4.38}, {2.5, 0.144, 3.45}, {3, 0.048, 2.60}, {4, 0.005, 1.71},
	} {
		p := tally.Perform(plan, c.level)
		if !within(1-p.ChanceTreat, c.leave, 0.0005) || !within(p.MeanBees/100, c.scoops, 0.005) {
			t.Errorf("at %v: leaves %.4f, takes %.3f scoops; want %v and %v", c.level, 1-p.ChanceTreat, p.MeanBees/100, c.leave, c.scoops)
		}
	}
	// The naive answer: Wald's nominal errors of 10 %. The totals jump past
	// their lines, so the plan really errs half as often.
	for _, c := range []struct{ level, wrong float64 }{{1, tally.Perform(plan, 1).ChanceTreat}, {3, 1 - tally.Perform(plan, 3).ChanceTreat}} {
		if c.wrong < 0.04 || c.wrong > 0.05 {
			t.Errorf("at %v the plan errs with chance %.4f; nominal 0.10, real 0.04 to 0.05", c.level, c.wrong)
		}
	}
}

// Tables made with R, testdata/reference/sequential.R.
func TestAgainstR(t *testing.T) {
	for _, r := range figures(t, "sequential.csv") {
		tally := wash(r["m0"], r["m1"], r["k"], r["alpha"], r["beta"])
		p := tally.Perform(tally.Wald(), r["mean"])
		if !within(p.ChanceTreat, r["treat"], 1e-12) || math.Abs(p.ChanceTreat/r["treat"]-1) > 1e-8 || math.Abs(p.MeanBees/100/r["mean_units"]-1) > 1e-12 {
			t.Errorf("%v: treats %v, takes %v", r, p.ChanceTreat, p.MeanBees/100)
		}
	}
	for _, r := range figures(t, "sequential-plan.csv") {
		row := wash(r["m0"], r["m1"], r["k"], r["alpha"], r["beta"]).Wald()[int(r["unit"])-1]
		leave := NoStop
		if !math.IsNaN(r["leave_at_most"]) {
			leave = int(r["leave_at_most"])
		}
		if row.LeaveAtMost != leave || row.TreatAtLeast != int(r["treat_at_least"]) {
			t.Errorf("%v: %+v", r, row)
		}
	}
}

// simulate runs the tally itself, scoop by scoop, with seeded random counts.
func simulate(t Tally, p StopPlan, level float64, runs int, r *rand.Rand) (treat, bees float64) {
	mean := t.mean(float64(t.Scoop), level)
	for range runs {
		frame, total := 1.0, 0
		for i, row := range p {
			if !math.IsInf(t.K, 1) && (i == 0 || !t.OneFrame) {
				frame = distuv.Gamma{Alpha: t.K, Beta: t.K, Src: r}.Rand()
			}
			total += int(distuv.Poisson{Lambda: mean * frame, Src: r}.Rand())
			says := row.At(total)
			if says == GoOn {
				continue
			}
			if says == StopAndTreat {
				treat++
			}
			bees += float64(row.Bees)
			break
		}
	}
	return treat / float64(runs), bees / float64(runs)
}

func TestPerformanceAgainstSimulation(t *testing.T) {
	const runs = 20000
	r := rand.New(rand.NewPCG(7, 11))
	each := Tally{Scoop: 100, Max: 900, Low: 1, High: 3, Alpha: 0.1, Beta: 0.1, Recovery: 0.82, K: 16}
	one := each
	one.OneFrame = true
	clumped := each
	clumped.K = 1.2
	for _, tally := range []Tally{each, one, clumped} {
		for name, plan := range map[string]StopPlan{"Wald": tally.Wald(), "precise": tally.Precise(0.25), "rough": tally.Precise(0.6)} {
			for _, level := range []float64{0.7, 2, 3.5} {
				p := tally.Perform(plan, level)
				treat, bees := simulate(tally, plan, level, runs, r)
				// Four standard errors; the SD of the bees is at most half their range.
				if !within(p.ChanceTreat, treat, 4*math.Sqrt(p.ChanceTreat*(1-p.ChanceTreat)/runs)+1e-3) || !within(p.MeanBees, bees, 4*450/math.Sqrt(runs)) {
					t.Errorf("%s, %+v at %v: %.4f and %.1f bees, simulated %.4f and %.1f", name, tally, level, p.ChanceTreat, p.MeanBees, treat, bees)
				}
			}
		}
	}
}

func drawTally(t *rapid.T) Tally {
	low := rapid.Float64Range(0.05, 5).Draw(t, "low")
	tally := Tally{
		Scoop:    rapid.IntRange(10, 150).Draw(t, "scoop"),
		Low:      low,
		High:     low * rapid.Float64Range(1.05, 5).Draw(t, "ratio"),
		Alpha:    rapid.Float64Range(0.005, 0.45).Draw(t, "alpha"),
		Beta:     rapid.Float64Range(0.005, 0.45).Draw(t, "beta"),
		Recovery: rapid.Float64Range(0.3, 1).Draw(t, "recovery"),
		K:        rapid.SampledFrom([]float64{0.3, 1, 16, 64, math.Inf(1)}).Draw(t, "k"),
		OneFrame: rapid.Bool().Draw(t, "one frame"),
	}
	tally.High = min(tally.High, 100)
	tally.Max = tally.Scoop * rapid.IntRange(1, 12).Draw(t, "steps")
	return tally
}

func TestPlanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tally := drawTally(t)
		if err := tally.Check(); err != nil {
			t.Fatal(err)
		}
		for name, plan := range map[string]StopPlan{"Wald": tally.Wald(), "precise": tally.Precise(0.25)} {
			for i, r := range plan {
				if r.TreatAtLeast != NoStop && r.LeaveAtMost >= r.TreatAtLeast {
					t.Fatalf("%s: the stops meet: %+v", name, r)
				}
				if name == "Wald" && i > 0 && i < len(plan)-1 && (r.LeaveAtMost < plan[i-1].LeaveAtMost || r.TreatAtLeast < plan[i-1].TreatAtLeast) {
					t.Fatalf("not monotone: %+v after %+v", r, plan[i-1])
				}
			}
			if last := plan[len(plan)-1]; !last.final() {
				t.Fatalf("%s goes on for ever: %+v", name, last)
			}
			before := Performance{}
			for _, level := range []float64{tally.Low / 4, tally.Low, math.Sqrt(tally.Low * tally.High), tally.High, 2 * tally.High} {
				p := tally.Perform(plan, level)
				if p.ChanceTreat < before.ChanceTreat-1e-12 || p.ChanceTreat > 1+1e-9 {
					t.Fatalf("%s: chance of treating %v at %v, %v below", name, p.ChanceTreat, level, before.ChanceTreat)
				}
				if p.MeanBees < float64(tally.Scoop)-1e-6 || p.MeanBees > float64(tally.Max)+1e-6 {
					t.Fatalf("%s: takes %v bees", name, p.MeanBees)
				}
				before = p
			}
		}
	})
}

// A tally of full scoops stands where the table says, and what the next scoop
// must hold agrees with the next row.
func TestSoFarAgreesWithTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tally := drawTally(t)
		plan := tally.Wald()
		var taken []Scoop
		total := 0
		for i := range plan {
			mites := rapid.IntRange(0, 2+int(2*tally.mean(float64(tally.Scoop), tally.High))).Draw(t, "mites")
			mites = min(mites, 20*tally.Scoop)
			next := StopRow{LeaveAtMost: NoStop, TreatAtLeast: 0}
			if s, err := tally.Stand(taken); err != nil {
				t.Fatal(err)
			} else if s.Says == GoOn {
				next.LeaveAtMost, next.TreatAtLeast = s.NextLeaveAtMost, s.NextTreatAtLeast
			}
			taken, total = append(taken, Scoop{tally.Scoop, mites}), total+mites
			s, err := tally.Stand(taken)
			if err != nil {
				t.Fatal(err)
			}
			want := plan[i].At(total)
			if s.Says != want {
				t.Fatalf("after %v: %q, the table says %q", taken, s.Says, want)
			}
			if got := next.At(mites); got != want {
				t.Fatalf("after %v: %q foretold, the table says %q", taken, got, want)
			}
			if want != GoOn {
				return
			}
		}
	})
}

// Off one frame no number of scoops gives the level to a quarter; off several
// frames a few do. And the naive plan, which forgets that scoops off one frame
// share its departure, errs far more often than it claims.
func TestOneFrame(t *testing.T) {
	each := Tally{Scoop: 100, Max: 3000, Low: 1, High: 3, Alpha: 0.1, Beta: 0.1, Recovery: 1, K: 16}
	one := each
	one.OneFrame = true
	for _, r := range one.Precise(0.25)[:29] {
		if r.TreatAtLeast != NoStop {
			t.Fatalf("precise off one frame: %+v", r)
		}
	}
	leaves := func(t Tally, p StopPlan) float64 { return 1 - t.Perform(p, 3).ChanceTreat }
	claimed, real, honest := leaves(each, each.Wald()), leaves(one, each.Wald()), leaves(one, one.Wald())
	if !(claimed < 0.06 && real > 0.1 && honest < 0.08) {
		t.Errorf("off one frame the plan for many leaves at high with %.3f, claimed %.3f; that for one frame with %.3f", real, claimed, honest)
	}
}

func TestPerformVaried(t *testing.T) {
	tally := Tally{Scoop: 100, Max: 900, Low: 1, High: 3, Alpha: 0.1, Beta: 0.1, Recovery: 9.0 / 11, K: 16}
	plan := tally.Wald()
	roll := sampling.Beta{Alpha: 9, Beta: 2}
	r := rand.New(rand.NewPCG(3, 5))
	for _, level := range []float64{1, 3} {
		got := tally.PerformVaried(plan, level, roll)
		// The recursion averaged over drawn recoveries.
		sum, n := 0.0, 4000
		for range n {
			share := distuv.Beta{Alpha: 9, Beta: 2, Src: r}.Rand()
			sum += tally.Perform(plan, level*share/tally.Recovery).ChanceTreat
		}
		if !within(got.ChanceTreat, sum/float64(n), 0.01) {
			t.Errorf("at %v: %.4f, by draws %.4f", level, got.ChanceTreat, sum/float64(n))
		}
	}
	if planned, real := 1-tally.Perform(plan, 3).ChanceTreat, 1-tally.PerformVaried(plan, 3, roll).ChanceTreat; !(real > 1.2*planned) {
		t.Errorf("leaves at high: %.4f as planned, %.4f with a recovery that varies", planned, real)
	}
}

// The smallest fixed sample is found again by the plain sums of R's ppois:
// 1 against 3 mites in 100 bees at 5 % and 10 %.
func TestFixed(t *testing.T) {
	tally := wash(1, 3, math.Inf(1), 0.1, 0.1)
	f, _ := tally.Fixed(0.05, 0.1, 5000)
	bees, cut := f.Bees, f.LeaveAtMost
	ok := func(bees, cut int) bool {
		low, high := distuv.Poisson{Lambda: float64(bees) / 100}, distuv.Poisson{Lambda: 3 * float64(bees) / 100}
		return 1-low.CDF(float64(cut)) <= 0.05 && high.CDF(float64(cut)) <= 0.1
	}
	if !ok(bees, cut) {
		t.Errorf("%d bees, leave at most %d, errs too often", bees, cut)
	}
	for smaller := 1; smaller < bees; smaller++ {
		for c := range 40 {
			if ok(smaller, c) {
				t.Fatalf("%d bees with %d would do, not only %d", smaller, c, bees)
			}
		}
	}
	if p := tally.PerformFixed(f, 3); !within(1-p.ChanceTreat, distuv.Poisson{Lambda: 3 * float64(bees) / 100}.CDF(float64(cut)), 1e-12) || p.MeanBees != float64(bees) {
		t.Errorf("the fixed sample does %+v at 3", p)
	}
	if f, ok := tally.Fixed(1e-9, 1e-9, 50); ok {
		t.Errorf("50 bees cannot be sure, got %+v", f)
	}
}

func TestTallyRefuses(t *testing.T) {
	good := Tally{Scoop: 100, Max: 900, Low: 1, High: 3, Alpha: 0.1, Beta: 0.1, Recovery: 1, K: 16}
	for name, spoil := range map[string]func(*Tally){
		"no bees":       func(t *Tally) { t.Scoop = 0 },
		"max too small": func(t *Tally) { t.Max = 99 },
		"too many":      func(t *Tally) { t.Scoop, t.Max = 1, 5000 },
		"no low":        func(t *Tally) { t.Low = 0 },
		"low not a number": func(t *Tally) {
			t.Low = math.NaN()
		},
		"low above high": func(t *Tally) { t.Low = 3 },
		"high too high":  func(t *Tally) { t.High = 101 },
		"alpha":          func(t *Tally) { t.Alpha = 0.5 },
		"beta":           func(t *Tally) { t.Beta = 0 },
		"recovery":       func(t *Tally) { t.Recovery = 1.1 },
		"k":              func(t *Tally) { t.K = 0 },
		"k not a number": func(t *Tally) { t.K = math.NaN() },
	} {
		bad := good
		spoil(&bad)
		if err, ok := bad.Check().(*sampling.ValueError); !ok || err.Remedy == "" {
			t.Errorf("%s: %v", name, bad.Check())
		}
	}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	if _, err := good.Stand([]Scoop{{100, 2}, {0, 0}}); err == nil {
		t.Error("a scoop without bees was taken")
	}
}

// A law is not followed for ever: the smallest number there is times a ratio
// over a half rounds to itself.
func TestCountLawEnds(t *testing.T) {
	for _, size := range []float64{0.3, 4, math.Inf(1)} {
		law := countLaw(0.785, size)
		if got := law.atLeast(0); !within(got, 1, 1e-12) {
			t.Errorf("size %v: the chances sum to %v", size, got)
		}
	}
}

// worthSetting is an ordinary colony nobody has looked at, in early June.
func worthSetting(t *testing.T, act float64) Situation {
	t.Helper()
	year, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	h := History{Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: DefaultRates()}
	state, err := h.On(sampling.Day(2026, 6, 20))
	if err != nil {
		t.Fatal(err)
	}
	return Situation{History: h, State: state, Threshold: Threshold{Act: act, Watch: act / 2}, MissCost: DefaultMissCost, MinWorth: DefaultMinWorth, Costs: DefaultCosts()}
}

func TestWorthwhile(t *testing.T) {
	tally := Tally{Scoop: 100, Max: 900, Low: 1, High: 3, Alpha: 0.1, Beta: 0.1, Recovery: 9.0 / 11, K: 16}
	s := worthSetting(t, 3)
	plan, err := tally.Worthwhile(s, sampling.Roll)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v", plan)
	for i, r := range plan {
		if i > 0 && r.LeaveAtMost < plan[i-1].LeaveAtMost || r.TreatAtLeast <= r.LeaveAtMost {
			t.Errorf("row %+v after %+v", r, plan[max(i-1, 0)])
		}
		// Where it says so, a further scoop is worth its cost by the same code
		// that chooses between looks; past its limits it is not.
		for total := r.LeaveAtMost; total <= r.TreatAtLeast; total++ {
			if total < 0 || i == len(plan)-1 {
				continue
			}
			past := sampling.Count{Method: sampling.Roll, Mites: total, Frames: r.Scoops, Date: s.State.Day, Amount: sampling.Amount{Value: float64(r.Bees), Unit: sampling.Bees}}
			next := sampling.Count{Method: sampling.Roll, Frames: 1, Date: s.State.Day, Amount: sampling.Amount{Value: 100, Unit: sampling.Bees}}
			p, err := s.History.Assumptions.Foresee(s.State.Before, []sampling.Count{past}, next)
			if err != nil {
				t.Fatal(err)
			}
			const cost = 0.02 * (3 + 2) / 10 // a frame and 100 bees more, nobody killed
			if more := Appraise(p, s.Stakes()).Worth > cost; more != (r.At(total) == GoOn) {
				t.Errorf("%d mites in %d scoops: worth more than it costs %v, but %q", total, r.Scoops, more, r.At(total))
			}
		}
	}
	one := tally
	one.OneFrame = true
	if _, err := one.Worthwhile(s, sampling.Roll); err == nil {
		t.Error("a worth plan off one frame")
	}
}
