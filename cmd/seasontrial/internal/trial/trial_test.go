package trial

import (
	"fmt"
	"maps"
	"math"
	"runtime"
	"slices"
	"testing"

	"halfcup/decide"
	"halfcup/internal/long"
	"halfcup/sampling"
)

// onlyPoisson switches off all noise of a count but chance itself.
var onlyPoisson = figures{"frame_cv_low": 0, "frame_cv_high": 0, "scoop_cv": 0, "scoop_crew_cv": 0}

// atLeast is the exact chance of so many mites or more.
func atLeast(mites int, mean float64) float64 {
	sum, term := 0.0, math.Exp(-mean)
	for y := range mites {
		sum += term
		term *= mean / float64(y+1)
	}
	return 1 - sum
}

// With no noise but chance the usual rule errs as the Poisson law says: "treat
// from 9 mites in 300 bees" at a line of 3, and from 6 at a line of 2. The
// chances are those of the law to three places.
func TestBareCountErrsAsPoissonSays(t *testing.T) {
	const n = 20_000
	h := newColony(with(onlyPoisson), 3, yard{scoop: 1}, 0, 2).hive()
	for _, c := range []struct{ act, perHundred, chance float64 }{
		{3, 1, 0.004}, {3, 2, 0.153}, {3, 3, 0.544}, {3, 4, 0.845}, {3, 5, 0.963},
		{2, 1, 0.084}, {2, 2, 0.554}, {2, 3, 0.884},
	} {
		h.onBees = c.perHundred / 100 * h.bees[0]
		treated := 0
		for again := range n {
			if overLine(h.count(usual(sampling.Wash), again), c.act) {
				treated++
			}
		}
		exact := atLeast(int(3*c.act), 3*c.perHundred)
		if !(math.Abs(exact-c.chance) <= 5e-4) {
			t.Errorf("line %v, level %v: the law gives %.4f, not %v", c.act, c.perHundred, exact, c.chance)
		}
		if got, se := float64(treated)/n, math.Sqrt(exact*(1-exact)/n); !(math.Abs(got-exact) <= 4*se) {
			t.Errorf("line %v, level %v: treated with a chance of %.4f, exactly %.4f ± %.4f", c.act, c.perHundred, got, exact, se)
		}
	}
}

// The same over whole seasons of the policy itself.
func TestBarePolicyErrsAsPoissonSays(t *testing.T) {
	f := with(onlyPoisson)
	a := adviserForTest(t)
	expected, variance, treated := 0.0, 0.0, 0.0
	for number := range 40 {
		g := &playground{policy: policies[0], adviser: a}
		y := newYard(f, 5, number)
		for i := range yardSize {
			g.books = append(g.books, &book{hive: newColony(f, 5, y, number*yardSize+i, november+1).hive()})
		}
		month := 0
		for day := range november {
			visit := -1
			if day == dayOf(month) {
				visit = month
				month++
				for _, b := range g.books {
					p := atLeast(int(3*g.act(b.today())), 300*b.level())
					expected += p
					variance += p * (1 - p)
				}
			}
			if err := g.morning(day, visit); err != nil {
				t.Fatal(err)
			}
			for _, b := range g.books {
				b.pass()
			}
		}
		for _, b := range g.books {
			treated += b.treatments
		}
	}
	if !(math.Abs(treated-expected) <= 4*math.Sqrt(variance)) {
		t.Errorf("%v treatments, expected %.1f ± %.1f", treated, expected, math.Sqrt(variance))
	}
}

func adviserForTest(t *testing.T) *adviser {
	t.Helper()
	a, err := newAdviser(decide.DefaultMissCost, decide.DefaultMinWorth)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func result(t *testing.T, o Options) Result {
	t.Helper()
	if o.MissCost == 0 {
		o.MissCost, o.MinWorth = decide.DefaultMissCost, decide.DefaultMinWorth
	}
	r, err := Run(o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The same seed gives the same result however many processors there are and
// whatever else is played; another seed gives another.
func TestSameSeedSameResult(t *testing.T) {
	o := Options{Seed: 4, Colonies: 24, Months: 2}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one := result(t, o)
	runtime.GOMAXPROCS(4)
	if got, want := fmt.Sprintf("%#v", result(t, o)), fmt.Sprintf("%#v", one); got != want {
		t.Errorf("on four processors\n%s\non one\n%s", got, want)
	}
	o.Settings = []string{"late-arrivals"}
	late := slices.IndexFunc(one.Settings, func(s SettingResult) bool { return s.Name == o.Settings[0] })
	if got, want := fmt.Sprintf("%#v", result(t, o).Settings[0]), fmt.Sprintf("%#v", one.Settings[late]); got != want {
		t.Errorf("alone\n%s\namong others\n%s", got, want)
	}
	o.Seed = 5
	if fmt.Sprintf("%#v", result(t, o).Settings[0]) == fmt.Sprintf("%#v", one.Settings[late]) {
		t.Error("another seed gives the same")
	}
}

// What is worse in a setting changes nothing else: boards do not matter to
// those who wash, and washes show the same in a wet summer.
func TestPoliciesMeetTheSameColonies(t *testing.T) {
	r := result(t, Options{Seed: 1, Colonies: long.Of(6, 12), Months: 6, Settings: []string{"as-assumed", "weak-boards", "damp-rolls"}})
	for _, s := range r.Settings[1:] {
		for i, p := range r.Settings[0].Policies[:2] {
			if p.Figures != s.Policies[i].Figures {
				t.Errorf("%s, %s: %+v, not %+v", s.Name, p.Name, s.Policies[i].Figures, p.Figures)
			}
		}
	}
	board := slices.IndexFunc(r.Settings[0].Policies, func(p PolicyResult) bool { return p.Name == "board" })
	if r.Settings[0].Policies[board].Figures == r.Settings[1].Policies[board].Figures {
		t.Error("weak boards change nothing for those who use boards")
	}
}

// The usual practice against the advice on a small scale; the README shows the
// whole trial. With its defaults the advice would rather treat three colonies
// for nothing than miss one; asked to hold both mistakes alike, as a bare count
// against a line does, it makes no more of either.
func TestAdviceSparesBeesAndErrsNoMore(t *testing.T) {
	o := Options{Seed: 2, Colonies: long.Of(10, 20), Months: 6, Settings: []string{"as-assumed"}}
	even := o
	even.MissCost = 1
	for name, o := range map[string]Options{"defaults": o, "both mistakes alike": even} {
		var bare, choose PolicyResult
		for _, p := range result(t, o).Settings[0].Policies {
			switch p.Name {
			case "bare wash":
				bare = p
			case Advised:
				choose = p
			}
		}
		if bare.Killed != 6*sampleBees {
			t.Errorf("%s: washing six times killed %v bees", name, bare.Killed)
		}
		if choose.Killed > 0.05*bare.Killed {
			t.Errorf("%s: choose killed %v bees, washing %v", name, choose.Killed, bare.Killed)
		}
		if choose.Missed > bare.Missed || choose.Regret > bare.Regret {
			t.Errorf("%s: choose: %+v, washing: %+v", name, choose.Figures, bare.Figures)
		}
		if o.MissCost == 1 && choose.Needless > bare.Needless+math.Hypot(choose.SE.Needless, bare.SE.Needless) {
			t.Errorf("%s: choose treated %v times for nothing, washing %v", name, choose.Needless, bare.Needless)
		}
	}
}

// Answers are kept, and those without washes may be taken from those with:
// both must be what the program would say if asked outright.
func TestAskIsThink(t *testing.T) {
	kept := adviserForTest(t)
	day := visitDay(3)
	for mites := range 14 {
		c := decide.Scooped(sampling.Roll, 300, 2, day)
		c.Mites = mites
		for _, noKill := range []bool{false, true} {
			q := question{record: record{counts: []sampling.Count{c}}, day: day, from: new(memory), advice: true, noKill: noKill}
			first, err := kept.ask(q)
			if err != nil {
				t.Fatal(err)
			}
			again, _ := kept.ask(q)
			want, err := adviserForTest(t).think(q)
			if err != nil {
				t.Fatal(err)
			}
			if first != want || again != want {
				t.Errorf("%d mites, no kill %v: %+v and %+v, asked outright %+v", mites, noKill, first, again, want)
			}
		}
	}
}

// Colonies of a yard are alike, so the error of a mean must come from the
// yards: from single colonies it would be far too small.
func TestErrorsComeFromYards(t *testing.T) {
	yards := []Figures{{Missed: 1}, {Missed: 3}}
	if got := errorsOf(yards).Missed; got != 1 {
		t.Errorf("the error of two yards at 1 and 3 is %v, not 1", got)
	}
	if got := errorsOf(yards[:1]).Missed; !math.IsNaN(got) {
		t.Errorf("the error of one yard is %v", got)
	}
}

func TestReliability(t *testing.T) {
	got := reliability([]sayings{{statements: []statement{{said: 0.05}, {said: 0.95, over: true}, {said: 1, over: true}, {said: 0.92}}}})
	want := []Bin{{0, 0.05, 0, math.NaN(), 1}, {9, 0.9566666666666667, 2.0 / 3, math.NaN(), 3}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// named is one setting by its name.
func named(t *testing.T, name string) setting {
	t.Helper()
	i := slices.IndexFunc(settings, func(s setting) bool { return s.name == name })
	if i < 0 {
		t.Fatalf("there is no setting %s", name)
	}
	return settings[i]
}

// Each setting in which counting is not as assumed changes what counts show by
// as much as it says, against careful washes of 300 bees.
func TestSettingsChangeCountsAsTheySay(t *testing.T) {
	const level, n = 0.03, 4000
	for name, want := range map[string]struct{ mean, cv float64 }{
		"as-assumed":    {1, 0}, // CV: what frames add to a scoop, below
		"weak-wash":     {0.88, 0},
		"small-scoops":  {220.0 / 300, 0},
		"big-scoops":    {380.0 / 300, 0},
		"unlike-frames": {1, 0.5},
	} {
		f := maps.Clone(named(t, name).figures)
		f["scoop_cv"], f["scoop_crew_cv"] = 0, 0
		if want.cv == 0 {
			f["frame_cv_low"], f["frame_cv_high"] = 0, 0
		}
		h := newColony(f, 3, yard{scoop: 1}, 0, 2).hive()
		h.onBees = level * h.bees[0]
		sum, squares := 0.0, 0.0
		for again := range n {
			y := float64(h.count(usual(sampling.Wash), again))
			sum += y
			squares += y * y
		}
		mean := sum / n
		variance := squares/n - mean*mean
		expected := want.mean * 300 * level
		exact := expected + want.cv*want.cv*expected*expected
		if se := math.Sqrt(exact / n); !(math.Abs(mean-expected) <= 4*se) {
			t.Errorf("%s: %.3f mites a wash, not %.3f ± %.3f", name, mean, expected, se)
		}
		if !(math.Abs(variance/exact-1) <= 0.15) {
			t.Errorf("%s: the variance of a wash is %.2f, not %.2f", name, variance, exact)
		}
	}
}

// Other worlds are others: each moves what it is named for, the middle of many
// colonies, and leaves the first of April about as it was.
func TestOtherWorldsDiffer(t *testing.T) {
	type world struct{ growth, winterCells, springCells float64 }
	see := func(name string) world {
		f := maps.Clone(named(t, name).figures)
		for k, v := range noArrivals {
			f[k] = v
		}
		level, cells := series{}, series{}
		grow(f, 100, november+45, func(_ int, h *hive) {
			level.note(h.day, h.level())
			cells.note(h.day, h.capped[h.day])
		})
		return world{
			level.middle(june, september, logRate(september-june)),
			quantile(cells[november+40], 0.5), quantile(cells[april+20], 0.5),
		}
	}
	usual := see("as-assumed")
	if w := see("fast-mites"); !(w.growth > 1.2*usual.growth) {
		t.Errorf("fast mites grow by %v a day, others by %v", w.growth, usual.growth)
	}
	if w := see("slow-mites"); !(w.growth < 0.75*usual.growth) {
		t.Errorf("slow mites grow by %v a day, others by %v", w.growth, usual.growth)
	}
	if w := see("brood-all-year"); usual.winterCells != 0 || !(w.winterCells > 1000) {
		t.Errorf("%v capped cells in December, usually %v", w.winterCells, usual.winterCells)
	}
	if w := see("late-spring"); !(w.springCells < 0.75*usual.springCells) {
		t.Errorf("%v capped cells in late April, usually %v", w.springCells, usual.springCells)
	}
	if w := see("brood-breaks"); !(w.growth < usual.growth) {
		t.Errorf("with breaks mites grow by %v a day, without by %v", w.growth, usual.growth)
	}
}

// The error of a difference comes from the same colonies: two policies that do
// the same differ by nothing, and surely so.
func TestDifferencesArePaired(t *testing.T) {
	s := SettingResult{Policies: []PolicyResult{
		{Name: "a", Figures: Figures{Missed: 2}, yards: []Figures{{Missed: 1}, {Missed: 3}}},
		{Name: "b", Figures: Figures{Missed: 1.5}, yards: []Figures{{Missed: 0.5}, {Missed: 2.5}}},
		{Name: "c", Figures: Figures{Missed: 2}, yards: []Figures{{Missed: 3}, {Missed: 1}}},
	}}
	for _, c := range []struct {
		name, against  string
		difference, se float64
	}{{"a", "a", 0, 0}, {"a", "b", 0.5, 0}, {"a", "c", 0, 2}} {
		got, ok := s.Difference(c.name, c.against)
		if !ok || got.Missed != c.difference || got.SE.Missed != c.se {
			t.Errorf("%s against %s: %v ± %v, %v", c.name, c.against, got.Missed, got.SE.Missed, ok)
		}
	}
	if _, ok := s.Difference("a", "d"); ok {
		t.Error("a policy that was not played differs")
	}
}

// By hand: two yards with 1 of 2 and 3 of 3 are 4 of 5; the sums lie off that by
// -0.6 and 0.6, so the error is √(2·0.72)/5.
func TestErrorOfAShare(t *testing.T) {
	var m mean
	for _, v := range []struct {
		yard  int
		value float64
	}{{0, 1}, {0, 0}, {1, 1}, {1, 1}, {1, 1}} {
		m.note(v.yard, v.value)
	}
	if got, want := m.err(2), math.Sqrt(2*0.72)/5; m.value() != 0.8 || !(math.Abs(got-want) <= 1e-12) {
		t.Errorf("%v ± %v, want 0.8 ± %v", m.value(), got, want)
	}
	if got := m.err(1); !math.IsNaN(got) {
		t.Errorf("the error of one yard is %v", got)
	}
}

// A treatment just before the line falls is needless by the line of the day and
// not by that of the month to come.
func TestNeedlessLooksAhead(t *testing.T) {
	for _, c := range []struct{ level, line, lowest, needless, ahead float64 }{
		{2, 3, 2, 1, 0}, {1, 3, 2, 1, 1}, {2.5, 3, 2, 0, 0}, {1, 2, 2, 1, 1},
	} {
		b := &book{hive: newColony(with(nil), 3, yard{scoop: 1}, 0, 2).hive()}
		b.onBees = c.level / 100 * b.bees[0]
		b.begin(price{c.line, 3}, c.lowest)
		if b.needless != c.needless || b.needlessAhead != c.ahead {
			t.Errorf("%+v: needless %v, against the lowest line %v", c, b.needless, b.needlessAhead)
		}
	}
	a := adviserForTest(t)
	falls := false
	for day := visitDay(0); day < visitDay(7); day++ {
		least := math.Inf(1)
		for d := range sampling.Date(monthDays + 1) {
			least = min(least, a.act(day+d))
		}
		if got := a.lowestAct(day); got != least {
			t.Errorf("%s: the lowest line of the month to come is %v, not %v", day, got, least)
		}
		falls = falls || least < a.act(day)
	}
	if !falls {
		t.Error("the line never falls, so nothing was tested")
	}
}

// A plan is kept to the day, and policies visit when they say.
func TestVisitsAndPlansAreKept(t *testing.T) {
	a := adviserForTest(t)
	f := with(figures{"start_median": 0.0001, "arrivals_spring": 0, "arrivals_late": 0, "burst_chance": 0}) // nothing to treat
	played := map[string]*book{}
	for _, p := range policies {
		if p.advice {
			continue
		}
		g := newPlayground(p, a, []*colony{newColony(f, 3, yard{scoop: 1}, 0, november+1)})
		if err := g.play(7); err != nil {
			t.Fatal(err)
		}
		played[p.name] = g.books[0]
	}
	if n := len(played["bare wash"].counts); n != 7 {
		t.Errorf("%d monthly washes", n)
	}
	three := played["3 weeks"].counts
	if n := len(three); n != 11 || three[1].Date-three[0].Date != 21 || three[0].Date != visitDay(0) {
		t.Errorf("%d washes every three weeks: %v", n, three)
	}
	for _, name := range []string{"schedule", "counted"} {
		if got := fmt.Sprint(played[name].record.courses); got != "[2026-08-01 2026-09-01]" {
			t.Errorf("%s treats on %s", name, got)
		}
	}
	var on []string
	for _, c := range played["counted"].counts {
		on = append(on, c.Date.String())
	}
	if got := fmt.Sprint(on); got != "[2026-05-01 2026-07-20 2026-10-05]" {
		t.Errorf("counted on %s", got)
	}
}

// A treatment that is not written down kills all the same, and the program does
// not hear of it.
func TestTreatmentsCanBeForgotten(t *testing.T) {
	h := newColony(with(figures{"unwritten_chance": 1}), 3, yard{scoop: 1}, 0, 60).hive()
	b := &book{hive: h}
	b.begin(price{3, 3}, 3)
	if len(b.record.courses) != 0 || len(b.hive.courses) != 1 || b.treatments != 1 {
		t.Errorf("%d in the record, %d given, %v paid for", len(b.record.courses), len(b.hive.courses), b.treatments)
	}
}

// Forecasts and what is expected before a count are held against the truth in
// every month they are made for, and add up.
func TestForecastsAreHeldAgainstTheTruth(t *testing.T) {
	s := result(t, Options{Seed: 1, Colonies: 12, Months: 6, Settings: []string{"as-assumed"}}).Settings[0]
	for i, n := range []int{60, 60, 48, 36} { // 12 colonies, six visits from April, the season ending on 1 October
		if h := s.Forecasts[i]; h.Days != horizons[i] || h.N != n || !(h.Coverage80 >= 0 && h.Coverage80 <= 1) || !(h.SE >= 0) {
			t.Errorf("%+v, want %d for %d days", h, n, horizons[i])
		}
	}
	if len(s.BiasUntreated) != 5 || s.BiasUntreated[0].Month != 5 || s.BiasUntreated[0].N != 12 {
		t.Errorf("%+v", s.BiasUntreated)
	}
	if len(s.Bias) != 5 || !(math.Abs(s.Bias[0].Log) < 5) {
		t.Errorf("%+v", s.Bias)
	}
}
