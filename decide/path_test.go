package decide_test

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/sampling"
)

func path(t testing.TB, plan decide.PathPlan) *decide.Path {
	t.Helper()
	p, err := decide.NewPath(plan)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// move is a move from a count, as far as the given number of days.
func move(t testing.TB, p *decide.Path, from sampling.Date, days int) decide.Move {
	t.Helper()
	m, err := p.Move(from, from+sampling.Date(days))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func treatment(t testing.TB, slug string) sampling.Treatment {
	t.Helper()
	tr, err := sampling.FindTreatment(slug)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// peak is a plan without events in the middle of the season.
func peak(t testing.TB) (decide.PathPlan, sampling.Date) {
	first := day(t, "2026-06-10")
	return decide.PathPlan{First: first, Last: first + 45, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates()}, first
}

// Without brood mites and bees die alike, so mites per bee stay level: Fries &
// Perez-Escala 2001, Apidologie 32:223-229.
func TestWinterIsLevel(t *testing.T) {
	first := day(t, "2026-12-01")
	p := path(t, decide.PathPlan{First: first, Last: first + 60, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates()})
	near(t, "shift over 45 days", move(t, p, first, 45).Shift, 0, 0.02)
}

// Naive: growth of mites read as growth of mites per bee. In late summer the bees
// dwindle too, by 0.0075 a day in September near Göttingen (doi
// 10.5281/zenodo.12515616), and in spring they grow as fast as the mites do.
func TestMitesPerBeeAreNotMites(t *testing.T) {
	for from, bees := range map[string]float64{"2026-09-01": -0.0087, "2026-04-15": 0.0126} {
		first := day(t, from)
		p := path(t, decide.PathPlan{First: first, Last: first + 15, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates()})
		near(t, from+": bees a day", math.Log(p.AdultBees(first+15)/p.AdultBees(first))/15, bees, 0.0002)
		onBees := move(t, p, first, 15).Shift + math.Log(p.AdultBees(first+15)/p.AdultBees(first))
		if perBee := move(t, p, first, 15).Shift; !(math.Abs(onBees-perBee) > 15*0.008) {
			t.Errorf("%s: mites grow by %v, mites per bee by %v", from, onBees, perBee)
		}
	}
}

// Naive: a treatment of 75 % as a lasting fall to a quarter. With brood more than
// a third of the untreated mites are on the bees at the end of its day, because
// as many again come out of the cells, and seven tenths two weeks later.
func TestReboundAfterATreatmentWithBrood(t *testing.T) {
	plan, first := peak(t)
	untreated := path(t, plan)
	plan.Treatments = []decide.TreatmentDay{{On: first, Treatment: treatment(t, "oxalic-vapour")}}
	treated := path(t, plan)
	left := func(days int) float64 {
		return math.Exp(move(t, treated, first, days).Shift - move(t, untreated, first, days).Shift)
	}
	near(t, "before the treatment", left(0), 1, 0)
	near(t, "end of the day", left(1), 0.42, 0.01)
	near(t, "end of day 14", left(15), 0.72, 0.01)
}

// Naive: the end of brood overlooked. The mites that were in cells come out on
// to the bees, and with seven of ten mites in cells mites per bee treble or
// more within two weeks.
func TestEndOfBroodBringsTheMitesOut(t *testing.T) {
	plan, first := peak(t)
	with := path(t, plan)
	plan.Happenings = []decide.Happening{{On: first - 9, Kind: decide.QueenCaged, To: first + 21}}
	without := path(t, plan)
	in := with.ShareInCells(first)
	if out := math.Exp(move(t, without, first, 15).Shift); !(out > 1/(1-in) && out < 2/(1-in)) {
		t.Errorf("after two weeks without brood %.1f times, with a share of %.2f in cells before", out, in)
	}
	if ordinary := math.Exp(move(t, with, first, 15).Shift); ordinary > 1.5 {
		t.Errorf("with brood %v", ordinary)
	}
	// At the end of the season the cells dwindle for months: no such jump.
	autumn := day(t, "2026-11-01")
	p := path(t, decide.PathPlan{First: autumn, Last: autumn + 30, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates()})
	if out := math.Exp(move(t, p, autumn, 26).Shift); !(out > 1 && out < 1.6) {
		t.Errorf("mites per bee at the end of brood %v times", out)
	}
}

// A treatment in a brood break finds all mites on bees and is taken with its
// kill without brood; the queen's last eggs in drone cells are capped ten days
// after.
func TestTreatmentInABroodBreak(t *testing.T) {
	plan, first := peak(t)
	plan.Happenings = []decide.Happening{{On: first, Kind: decide.QueenCaged, To: first + 25}}
	last := first + 9 + 14
	plan.Treatments = []decide.TreatmentDay{{On: last + 1, Treatment: treatment(t, "oxalic-trickle")}}
	p := path(t, plan)
	if !p.CappedBrood(last) || p.CappedBrood(last+1) {
		t.Errorf("capped brood: %v on %s, %v the day after", p.CappedBrood(last), last, p.CappedBrood(last+1))
	}
	bees := p.AdultBees(last+11) / p.AdultBees(last+1)
	near(t, "left of all mites", bees*math.Exp(move(t, p, last+1, 10).Shift), 0.1*math.Pow(1-0.003, 10), 1e-9)
}

// A kill quoted for the whole colony is what is gone at the end, against no
// treatment, wherever the mites are.
func TestWholeColonyKill(t *testing.T) {
	plan, first := peak(t)
	untreated := path(t, plan)
	strip := treatment(t, "thymol")
	plan.Treatments = []decide.TreatmentDay{{On: first, Treatment: strip}}
	treated := path(t, plan)
	for days, want := range map[int]float64{14: math.Sqrt(1 - strip.KillWithBrood.Mean()), 28: 1 - strip.KillWithBrood.Mean(), 40: 1 - strip.KillWithBrood.Mean()} {
		got := math.Exp(move(t, treated, first, days).Shift - move(t, untreated, first, days).Shift)
		near(t, "left", got, want, 1e-9)
	}
}

// Formic acid reaches the cells: less comes back than after oxalic acid that
// kills as much on the bees.
func TestKillInCells(t *testing.T) {
	plan, first := peak(t)
	formic := treatment(t, "formic-evaporation")
	plan.Treatments = []decide.TreatmentDay{{On: first, Treatment: formic}}
	inCells := path(t, plan)
	formic.ActsInBrood = false
	plan.Treatments = []decide.TreatmentDay{{On: first, Treatment: formic}}
	onBees := path(t, plan)
	a, b := move(t, inCells, first, 20).Shift, move(t, onBees, first, 20).Shift
	if a > b-0.5 {
		t.Errorf("shift %v with and %v without the kill in cells", a, b)
	}
}

// With no brood about, the parts of a course are the kills at their nine
// quantiles, twice over after two rounds, and one that failed. Two treatments
// are two courses.
func TestPartsWithoutBrood(t *testing.T) {
	first := day(t, "2026-12-10")
	vapour, trickle := treatment(t, "oxalic-vapour"), treatment(t, "oxalic-trickle")
	parts := func(days ...decide.TreatmentDay) [][]decide.Part {
		plan := decide.PathPlan{First: first, Last: first + 30, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates(), Treatments: days}
		m := move(t, path(t, plan), first, 10)
		near(t, "blur of growth", m.Variance, 0.4*0.4/3, 1e-12)
		return m.Courses
	}
	if got := parts(); len(got) != 0 {
		t.Errorf("no treatment gives %v", got)
	}
	for name, days := range map[string][]decide.TreatmentDay{
		"one round": {{On: first, Treatment: vapour}}, "two rounds": {{On: first, Treatment: vapour}, {On: first + 5, Treatment: vapour}},
	} {
		got := parts(days...)
		if len(got) != 1 || len(got[0]) != 10 {
			t.Fatalf("%s: %v", name, got)
		}
		rounds, expected := float64(len(days)), math.Log(1-vapour.KillNoBrood.Mean())
		quantile := func(q int) float64 { return math.Log(1 - vapour.KillNoBrood.Quantile((float64(q)+0.5)/9)) }
		for q := range 9 {
			near(t, name, got[0][q].Shift, rounds*(quantile(q)-expected), 1e-9)
			near(t, name+" weight", got[0][q].Weight, 0.95/9, 1e-12)
		}
		near(t, name+" failed", got[0][9].Shift, rounds*(0.15*quantile(4)-expected), 1e-9)
		near(t, name+" failed weight", got[0][9].Weight, 0.05, 1e-12)
	}
	if got := parts(decide.TreatmentDay{On: first, Treatment: vapour}, decide.TreatmentDay{On: first + 5, Treatment: trickle}); len(got) != 2 {
		t.Errorf("two treatments: %v", got)
	}
}

// With brood there is an eleventh part, two further down; and the kills differ
// less and less as the mites come back out of the cells.
func TestPartsWithBrood(t *testing.T) {
	plan, first := peak(t)
	plan.Treatments = []decide.TreatmentDay{{On: first, Treatment: treatment(t, "oxalic-vapour")}}
	p := path(t, plan)
	after := func(days int) []decide.Part { return move(t, p, first, days).Courses[0] }
	sum := 0.0
	for _, part := range after(1) {
		sum += part.Weight
	}
	near(t, "weights", sum, 1, 1e-12)
	middle, failed, better := after(1)[4], after(1)[9], after(1)[10]
	near(t, "far better", better.Shift-middle.Shift, -2, 1e-12)
	near(t, "its variance", better.Variance, 1, 1e-12)
	near(t, "weight of a failure", failed.Weight, 0.25, 1e-12)
	spread := func(days int) float64 { return after(days)[0].Shift - after(days)[8].Shift }
	if !(spread(1) > 0.6 && spread(14) < spread(1)/3) {
		t.Errorf("kills lie %v apart after a day, %v after two weeks", spread(1), spread(14))
	}
}

// A move is a shift, a blur and an addition, in this order.
func TestApply(t *testing.T) {
	d := decide.Move{Shift: math.Log(3), Variance: 0.3 * 0.3}.Apply(sampling.Normal(math.Log(0.01), 0.4))
	mean, sd := d.LogMoments()
	near(t, "middle", mean, math.Log(0.03), 1e-6)
	near(t, "width", sd, 0.5, 1e-6)
	more := decide.Move{Shift: math.Log(3), Variance: 0.3 * 0.3, Arrivals: 0.01}.Apply(sampling.Normal(math.Log(0.01), 0.4))
	// A third of the chance at each of three levels of what came in: the
	// chance of being under 0.04 by hand.
	want := 0.0
	for _, z := range []float64{-0.967421566, 0, 0.967421566} {
		want += math.Erfc(-math.Log((0.04-0.01*math.Exp(z))/0.03)/0.5/math.Sqrt2) / 6
	}
	near(t, "under 0.04 after arrivals", 1-more.Over(0.04), want, 1e-5)
	still := decide.Move{}.Apply(d)
	near(t, "no move", still.Quantile(0.9), d.Quantile(0.9), 1e-12)
}

func drawPlan(r *rapid.T, t testing.TB) decide.PathPlan {
	first := day(t, "2026-02-01") + sampling.Date(rapid.IntRange(0, 300).Draw(r, "first"))
	span := rapid.IntRange(10, 150).Draw(r, "span")
	plan := decide.PathPlan{
		First: first, Last: first + sampling.Date(span), Year: year(t, decide.YearSettings{}), Rates: drawRates(r),
		Arrivals: rapid.SampledFrom([]float64{0, 0, 2, 75}).Draw(r, "arrivals"),
	}
	within := func(label string) sampling.Date {
		return first + sampling.Date(rapid.IntRange(-30, span+10).Draw(r, label))
	}
	for range rapid.IntRange(0, 3).Draw(r, "treatments") {
		plan.Treatments = append(plan.Treatments, decide.TreatmentDay{On: within("on"), Treatment: rapid.SampledFrom(sampling.Treatments()).Draw(r, "treatment")})
	}
	if rapid.Bool().Draw(r, "break") {
		from := within("from")
		plan.Happenings = []decide.Happening{{
			On: from, To: from + sampling.Date(rapid.IntRange(0, 40).Draw(r, "length")),
			Kind: rapid.SampledFrom(slices.DeleteFunc(decide.HappeningKinds(), func(k decide.HappeningKind) bool { return k == decide.Died })).Draw(r, "kind"), Part: rapid.Float64Range(0.1, 1).Draw(r, "part"),
		}}
	}
	return plan
}

// Cutting a path changes nothing: shifts add up exactly, and so does the blur
// of growth. Looking further ahead does not change what came before.
func TestCuttingAPath(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		plan := drawPlan(r, t)
		p := path(t, plan)
		span := int(plan.Last - plan.First)
		a := rapid.IntRange(0, span).Draw(r, "a")
		b := rapid.IntRange(a, span).Draw(r, "b")
		c := rapid.IntRange(b, span).Draw(r, "c")
		at := func(i int) sampling.Date { return plan.First + sampling.Date(i) }
		get := func(p *decide.Path, from, to int) decide.Move {
			m, err := p.Move(at(from), at(to))
			if err != nil {
				r.Fatal(err)
			}
			return m
		}
		whole, one, two := get(p, a, c), get(p, a, b), get(p, b, c)
		if !(math.Abs(one.Shift+two.Shift-whole.Shift) <= 1e-9) {
			r.Fatalf("shift %v and %v, %v in one", one.Shift, two.Shift, whole.Shift)
		}
		if len(plan.Treatments) == 0 && !(math.Abs(one.Variance+two.Variance-whole.Variance) <= 1e-12) {
			r.Fatalf("variance %v and %v, %v in one", one.Variance, two.Variance, whole.Variance)
		}
		for _, m := range []decide.Move{whole, one, two} {
			if !(m.Variance >= -1e-15 && m.Arrivals >= 0) || math.IsInf(m.Shift, 0) || math.IsNaN(m.Shift) {
				r.Fatalf("move %+v", m)
			}
		}
		longer := plan
		longer.Last += 50
		if further := get(path(t, longer), a, c); !reflect.DeepEqual(further, whole) {
			r.Fatalf("%+v with a longer path, %+v without", further, whole)
		}
	})
}

// Mites that came in per colony over 3.5 months, 107 days, in Frey & Rosenkranz
// 2014, J Econ Entomol 107:508-515: 266 to 1171 where colonies were many, 72 to
// 248 where they were few.
func TestArrivalsByNeighbourhood(t *testing.T) {
	for word, span := range map[string][2]float64{"few": {72, 248}, "many": {266, 1171}, "none": {0, 0}} {
		perDay, ok := decide.Arrivals(word)
		if total := 107 * perDay; !ok || total < span[0] || total > span[1] {
			t.Errorf("%s: %v mites in 107 days, want %v", word, total, span)
		}
	}
	if _, ok := decide.Arrivals("lots"); ok {
		t.Error("lots is a word for a neighbourhood")
	}
}

// Bees that keep to the cluster bring no mites in.
func TestNoArrivalsInWinter(t *testing.T) {
	first := day(t, "2026-11-20")
	p := path(t, decide.PathPlan{First: first, Last: first + 150, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates(), Arrivals: 8})
	if got := move(t, p, first, 100).Arrivals; got != 0 {
		t.Errorf("%v mites per bee arrived by the end of February", got)
	}
	if got := move(t, p, first, 110).Arrivals; !(got > 0) {
		t.Errorf("%v mites per bee arrived by the second week of March", got)
	}
}

// When a move with arrivals is cut, those from before the cut move on as if
// they were spread over bees and cells like the colony's own; that is off by
// less than a third in the arrivals, and little in the mites.
func TestArrivalsCut(t *testing.T) {
	plan, first := peak(t)
	plan.Arrivals = 8
	p := path(t, plan)
	whole, one := move(t, p, first, 40), move(t, p, first, 20)
	two, err := p.Move(first+20, first+40)
	if err != nil {
		t.Fatal(err)
	}
	cut := one.Arrivals*math.Exp(two.Shift) + two.Arrivals
	if ratio := cut / whole.Arrivals; ratio < 1 || ratio > 4.0/3 {
		t.Errorf("arrivals cut %v, whole %v: %v", cut, whole.Arrivals, ratio)
	}
}

func TestPathErrors(t *testing.T) {
	good, first := peak(t)
	for name, spoil := range map[string]func(*decide.PathPlan){
		"backwards":       func(p *decide.PathPlan) { p.Last = p.First - 1 },
		"no first day":    func(p *decide.PathPlan) { p.First = 0 },
		"too long":        func(p *decide.PathPlan) { p.Last = p.First + 70*366 },
		"no year":         func(p *decide.PathPlan) { p.Year = decide.Year{} },
		"rates":           func(p *decide.PathPlan) { p.Rates.Survival = 2 },
		"arrivals":        func(p *decide.PathPlan) { p.Arrivals = math.NaN() },
		"bees":            func(p *decide.PathPlan) { p.AdultBees, p.BeesOn = 3, p.First },
		"day of the bees": func(p *decide.PathPlan) { p.AdultBees = 20_000 },
		"brood break": func(p *decide.PathPlan) {
			p.Happenings = []decide.Happening{{On: p.First, To: p.First - 3, Kind: decide.QueenCaged}}
		},
		"kind":   func(p *decide.PathPlan) { p.Happenings = []decide.Happening{{On: p.First, Kind: "flown"}} },
		"no day": func(p *decide.PathPlan) { p.Happenings = []decide.Happening{{Kind: decide.Swarmed}} },
		"part": func(p *decide.PathPlan) {
			p.Happenings = []decide.Happening{{On: p.First, Kind: decide.Divided, Part: 2}}
		},
		"bees of swarm": func(p *decide.PathPlan) {
			p.Happenings = []decide.Happening{{On: p.First, Kind: decide.Hived, Bees: 3}}
		},
		"dead":             func(p *decide.PathPlan) { p.Happenings = []decide.Happening{{On: p.First - 1, Kind: decide.Died}} },
		"day of treatment": func(p *decide.PathPlan) { p.Treatments = []decide.TreatmentDay{{Treatment: treatment(t, "thymol")}} },
		"kill":             func(p *decide.PathPlan) { p.Treatments = []decide.TreatmentDay{{On: p.First}} },
	} {
		plan := good
		spoil(&plan)
		_, err := decide.NewPath(plan)
		var value *sampling.ValueError
		if !errors.As(err, &value) {
			t.Errorf("%s: %v", name, err)
		}
	}
	p := path(t, good)
	for _, days := range [][2]sampling.Date{{first, first + 46}, {first - 1, first}, {first + 2, first + 1}} {
		_, err := p.Move(days[0], days[1])
		var value *sampling.ValueError
		if !errors.As(err, &value) {
			t.Errorf("%v: %v", days, err)
		}
	}
}

func BenchmarkNewPath(b *testing.B) {
	plan, first := peak(b)
	plan.Last = first + 365
	for i := range 8 {
		plan.Treatments = append(plan.Treatments, decide.TreatmentDay{On: first + sampling.Date(5*i), Treatment: treatment(b, "oxalic-vapour")})
	}
	for b.Loop() {
		path(b, plan)
	}
}
