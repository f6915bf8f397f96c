package decide

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"halfcup/internal/long"
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

// Wald's limits worked out by hand: negative binomial, mean 2 against 4 a unit,
// k 4.6, alpha and beta 0.1, so that with p = mean/k and q = 1 + p the limit after
// n units is n k ln(q4/q2)/d + ln 9/d, d = ln(p4 q2/(p2 q4)). The counts 2, 5, 6,
// 2, 7 end it at the fifth with the high mean.
func TestRunByHand(t *testing.T) {
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
		if !within(p.ChanceTreat, r["treat"], 1e-12) || !(math.Abs(p.ChanceTreat/r["treat"]-1) <= 1e-8) || !(math.Abs(p.MeanBees/100/r["mean_units"]-1) <= 1e-12) {
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

// worthSetting is an ordinary yard of one to three colonies on a day of the
// year, with what was counted and treated before, and a tally to make of the
// first.
func worthSetting(r *rapid.T, t *testing.T) (Apiary, sampling.Date, Tally) {
	year, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	lines, err := ThresholdSet(DefaultThresholds)
	if err != nil {
		t.Fatal(err)
	}
	day := sampling.Day(2026, 4, 1) + sampling.Date(rapid.IntRange(0, 200).Draw(r, "day"))
	a := Apiary{Rules: Rules{Lines: lines, MissCost: DefaultMissCost, MinWorth: DefaultMinWorth, Costs: DefaultCosts()}}
	for _, name := range []string{"oak", "ash", "elm"}[:rapid.IntRange(1, 3).Draw(r, "colonies")] {
		k := Colony{Name: name, History: History{Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: DefaultRates(), Ahead: leastAhead}}
		for range rapid.IntRange(0, 2).Draw(r, name+" counts") {
			k.Counts = append(k.Counts, sampling.Count{Method: rapid.SampledFrom([]sampling.Method{sampling.Roll, sampling.Wash}).Draw(r, "method"), Mites: rapid.IntRange(0, 14).Draw(r, "mites"),
				Amount: sampling.Amount{Value: 300, Unit: sampling.Bees}, Date: day - sampling.Date(rapid.IntRange(0, 50).Draw(r, "age"))})
		}
		a.Colonies = append(a.Colonies, k)
	}
	scoop := rapid.SampledFrom([]int{60, 100, 150}).Draw(r, "scoop")
	return a, day, Tally{Scoop: scoop, Max: scoop * rapid.IntRange(1, 6).Draw(r, "steps"), Low: 1, High: 3, Alpha: 0.1, Beta: 0.1, Recovery: 9.0 / 11, K: 16, OneFrame: rapid.Bool().Draw(r, "one frame")}
}

// stopOf is what a call means to a tally with room for another scoop.
func stopOf(c Call) Stop {
	switch {
	case c.Treats():
		return StopAndTreat
	case c == CountAgain:
		return GoOn
	}
	return StopAndLeave
}

// A tally never says another thing than the colony's standing does once the
// same scoops are in its record: by the table, and scoop by scoop. A plan that
// looks one scoop ahead, as if the next 100 bees were all that could still be
// counted, does.
func TestTallyAgreesWithTheStanding(t *testing.T) {
	said := map[Stop]int{}
	rapid.Check(t, func(r *rapid.T) {
		a, day, tally := worthSetting(r, t)
		now, err := a.Of(0, day)
		if err != nil {
			r.Skip(err)
		}
		s := now.Situation()
		plan, err := tally.Worthwhile(s, sampling.Roll)
		if err != nil {
			r.Fatal(err)
		}
		before := a.Colonies[0].Counts
		var taken []Scoop
		total := 0
		for i, row := range plan {
			next, err := tally.StandBy(s, sampling.Roll, taken)
			if err != nil {
				r.Fatal(err)
			}
			mites := rapid.IntRange(0, 5).Draw(r, "found")
			taken, total = append(taken, Scoop{tally.Scoop, mites}), total+mites
			a.Colonies[0].Counts = slices.Concat(before, tally.Counts(sampling.Roll, taken, day))
			then, err := a.Of(0, day)
			if err != nil {
				r.Fatal(err)
			}
			want := stopOf(then.Call)
			foretold := StopRow{LeaveFrom: next.NextLeaveFrom, LeaveAtMost: next.NextLeaveAtMost, TreatAtLeast: next.NextTreatAtLeast}.At(mites)
			if foretold != want {
				r.Fatalf("%q foretold of %v, the record says %q because %q", foretold, taken, then.Call, then.Because)
			}
			if want == GoOn && i == tally.steps()-1 {
				want = StopOpen
			}
			so, err := tally.StandBy(s, sampling.Roll, taken)
			if err != nil {
				r.Fatal(err)
			}
			// The table knows the total alone, not that one scoop does not
			// fit another.
			if so.Says != want || row.At(total) != want && then.Because != Clash {
				r.Fatalf("after %v: the table says %q, the tally %q, the record %q because %q", taken, row.At(total), so.Says, then.Call, then.Because)
			}
			said[want]++
			if want != GoOn {
				return
			}
		}
		r.Fatal("the plan goes on for ever")
	})
	for _, stop := range []Stop{GoOn, StopAndLeave, StopAndTreat, StopOpen} {
		if said[stop] == 0 && long.Tests { // a few draws may miss one
			t.Errorf("never tried: %q in %v", stop, said)
		}
	}
}

// By the worth of one more scoop alone, 3 mites in 300 bees of a colony at a
// line of 2 would go on, though the record has done with it and choose advises
// no count; and no mite in 200 bees would stop, though the record asks for half
// a cup.
func TestOneScoopAheadIsShortSighted(t *testing.T) {
	s := counted(t, 2)
	tally := Tally{Scoop: 100, Max: 600, Low: 1, High: 2, Alpha: 0.1, Beta: 0.1, Recovery: 9.0 / 11, K: 16, OneFrame: true}
	plan, err := tally.Worthwhile(s, sampling.Roll)
	if err != nil {
		t.Fatal(err)
	}
	differs := 0
	for _, r := range plan[:len(plan)-1] {
		for mites := range r.TreatAtLeast + 1 {
			then, err := s.after(tally.Counts(sampling.Roll, []Scoop{{r.Bees, mites}}, today)...)
			if err != nil {
				t.Fatal(err)
			}
			next := sampling.Count{Method: sampling.Roll, Frames: 1, Date: today, Amount: sampling.Amount{Value: 100, Unit: sampling.Bees}}
			p, err := then.prospect(next)
			if err != nil {
				t.Fatal(err)
			}
			const cost = 0.02 * 2 / 10 // 100 bees more
			naive := GoOn
			if newOffer(p, s.Stakes()).appraise().Worth <= cost {
				naive = stopOf(then.choice(then.Stakes().Regret(then.State.Known)))
			}
			if naive != r.At(mites) {
				differs++
				t.Logf("%d mites in %d bees: %q one scoop ahead, %q by the record", mites, r.Bees, naive, r.At(mites))
			}
		}
	}
	if differs == 0 {
		t.Error("looking one scoop ahead says the same everywhere: this tests nothing")
	}
}

// The chance that the next scoop ends a tally is that of all scoops that do,
// which with those that do not make one.
func TestChanceEnds(t *testing.T) {
	s := counted(t, 2, "roll:5/0.5cup@2026-06-20")
	for _, one := range []bool{true, false} {
		tally := Tally{Scoop: 100, Max: 600, Low: 1, High: 2, Alpha: 0.1, Beta: 0.1, Recovery: 9.0 / 11, K: 16, OneFrame: one}
		for _, taken := range [][]Scoop{{{100, 1}}, {{100, 2}, {90, 1}}, {{100, 2}, {100, 2}}} {
			ends, err := tally.ChanceEnds(s, sampling.Roll, taken, SoFar{Says: GoOn, NextLeaveFrom: 1, NextLeaveAtMost: 2, NextTreatAtLeast: 5})
			if err != nil {
				t.Fatal(err)
			}
			open, err := tally.ChanceEnds(s, sampling.Roll, taken, SoFar{Says: GoOn, NextLeaveAtMost: 0, NextTreatAtLeast: 400})
			if err != nil {
				t.Fatal(err)
			}
			// All but the mites from 1 to 399 is the chance of none.
			none, err := tally.ChanceEnds(s, sampling.Roll, taken, SoFar{Says: GoOn, NextLeaveAtMost: NoStop, NextTreatAtLeast: 1})
			if err != nil {
				t.Fatal(err)
			}
			if !within(open, 1-none, 1e-6) {
				t.Errorf("one frame %v, %v: the chance of none is %v, and %v as what the others leave", one, taken, 1-none, open)
			}
			if !(ends > 0 && ends < 1) {
				t.Errorf("one frame %v, %v: ends with %v", one, taken, ends)
			}
		}
	}
}

// Where no count leads to a call there is no plan.
func TestNoTallyWhereNoCountTells(t *testing.T) {
	vapour, err := sampling.FindTreatment("oxalic-vapour")
	if err != nil {
		t.Fatal(err)
	}
	s := counted(t, 2)
	tally := Tally{Scoop: 100, Max: 600, Low: 1, High: 2, Alpha: 0.1, Beta: 0.1, Recovery: 1, K: 16}
	s.History.Treatments = []TreatmentDay{{On: today - 2, Treatment: vapour}}
	var bad *sampling.ValueError
	if _, err := tally.Worthwhile(s, sampling.Roll); !errors.As(err, &bad) || bad.Remedy == "" {
		t.Errorf("under treatment: %v", err)
	}
	s = counted(t, 2)
	s.State.Day = sampling.Day(2026, 12, 20)
	if _, err := tally.StandBy(s, sampling.Roll, nil); !errors.As(err, &bad) {
		t.Errorf("in winter: %v", err)
	}
}
