package decide

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

func yearOf(t testing.TB, s YearSettings) Year {
	t.Helper()
	y, err := NewYear(s)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// planned is a path of an ordinary temperate colony with some happenings.
func pathWith(t testing.TB, first sampling.Date, days int, happenings ...Happening) *Path {
	t.Helper()
	p, err := NewPath(PathPlan{First: first, Last: first + sampling.Date(days), Year: yearOf(t, YearSettings{}), Rates: DefaultRates(), Happenings: happenings})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// shift is the change of ln mites per bee between two days of a path.
func (p *Path) shift(from, to sampling.Date) float64 {
	a, b := int(from-p.start), int(to-p.start)
	return p.mites[b] - p.mites[a] - (p.colony.logBees[b] - p.colony.logBees[a])
}

// Arrivals against the model run with them and with the colony's own mites
// together: the model is linear, so the two must agree to rounding.
func TestArrivalsAgainstTheWholeModel(t *testing.T) {
	first := mustDate("2026-06-10")
	plan := PathPlan{First: first, Last: first + 45, Year: yearOf(t, YearSettings{}), Rates: DefaultRates(), Arrivals: 8, AdultBees: 22_000, BeesOn: first}
	plan.Treatments = []TreatmentDay{{On: first + 9, Treatment: treatment(t, "oxalic-vapour")}}
	plan.Happenings = []Happening{{On: first + 20, Kind: Swarmed}}
	p, err := NewPath(plan)
	if err != nil {
		t.Fatal(err)
	}
	m, err := p.Move(first, first+30)
	if err != nil {
		t.Fatal(err)
	}
	mites := p.colony.before(plan.Rates)
	for i := range runIn {
		mites = p.colony.day(plan.Rates, mites, i, Kill{}, 0)
	}
	const start = 330 // on adult bees: 1.5 per hundred
	mites = mites.times(start / mites.OnBees)
	for i := range 30 {
		mites = p.colony.day(plan.Rates, mites, runIn+i, p.kills[runIn+i], 0.15*8) // before August few come
	}
	got, want := start/22_000.0*math.Exp(m.Shift)+m.Arrivals, mites.OnBees/p.AdultBees(first+30)
	if !(math.Abs(got/want-1) < 1e-9) {
		t.Errorf("mites per bee %v, want %v", got, want)
	}
}

// What each happening does, against the same colony without it.
func TestHappenings(t *testing.T) {
	first := mustDate("2026-05-25")
	on := first + 10
	plain := pathWith(t, first, 100)
	bees := func(p *Path, days int) float64 {
		return p.AdultBees(on+sampling.Date(days)) / plain.AdultBees(on+sampling.Date(days))
	}
	perBee := func(p *Path, days int) float64 {
		return p.shift(on, on+sampling.Date(days)) - plain.shift(on, on+sampling.Date(days))
	}
	same := func(what string, got, want, tolerance float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tolerance) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}

	p := pathWith(t, first, 100, Happening{On: on, Kind: Swarmed})
	same("swarmed: bees that stay, and a day's young ones", bees(p, 1), 0.3+0.7*0.045, 0.005)
	if !(perBee(p, 14) > math.Log(1.5)) {
		t.Errorf("swarmed: mites per bee %v times after two weeks: the brood is now over few bees", math.Exp(perBee(p, 14)))
	}
	if !(bees(p, 70) > 0.35 && bees(p, 70) < 0.8) {
		t.Errorf("swarmed: bees %v of an ordinary colony after ten weeks", bees(p, 70))
	}

	p = pathWith(t, first, 100, Happening{On: on, Kind: Hived, Bees: 8000})
	same("hived: bees", p.AdultBees(on+1)/8000, 1, 0.06)
	if p.ShareInCells(on+1) != 0 || p.CappedBrood(on+1) || p.CappedBrood(on+9) || !p.CappedBrood(on+10) {
		t.Errorf("hived: share in cells %v, capped brood on day 9 %v and 10 %v", p.ShareInCells(on+1), p.CappedBrood(on+9), p.CappedBrood(on+10))
	}

	p = pathWith(t, first, 100, Happening{On: on, Kind: Divided})
	same("split: bees", bees(p, 1), 0.5, 0.02)
	same("split: mites per bee the day after", perBee(p, 1), 0, 0.02)

	p = pathWith(t, first, 100, Happening{On: on, Kind: United, Bees: plain.AdultBees(on)})
	same("united: bees", bees(p, 1), 2, 0.02)
	same("united: mites per bee", perBee(p, 1), 0, 0.02)

	p = pathWith(t, first, 100, Happening{On: on, Kind: DroneBroodRemoved})
	if later := perBee(p, 30); !(later < -0.15 && later > -0.6) {
		t.Errorf("drone brood removed: mites per bee %v on the log scale after a month", later)
	}
	same("drone brood removed: bees", bees(p, 30), 1, 1e-12)

	for _, h := range []Happening{
		{Kind: QueenCaged, To: on + 25}, {Kind: Queenless, To: on + 25}, {Kind: Requeened, To: on + 25},
	} {
		h.On = on
		p = pathWith(t, first, 100, h)
		if w, ok := h.Window(yearOf(t, YearSettings{})); !ok || p.CappedBrood(w.From) || !p.CappedBrood(w.From-1) || p.CappedBrood(w.Until+1) || !p.CappedBrood(w.Until+2) {
			t.Errorf("%s: window %+v", h.Kind, w)
		}
		// Every mite of the cells is on the bees then.
		if p.ShareInCells(on+25) != 0 {
			t.Errorf("%s: %v in cells on day 25", h.Kind, p.ShareInCells(on+25))
		}
	}
	for _, h := range []Happening{{Kind: Robbing}, {Kind: HoneyTaken}, {Kind: Moved}, {Kind: Signs}, {Kind: Requeened}} {
		h.On = on
		p = pathWith(t, first, 100, h)
		same(string(h.Kind), perBee(p, 90), 0, 1e-12)
		if !slices.Contains(h.Notes(yearOf(t, YearSettings{})), NoteNoEffect) {
			t.Errorf("%s does nothing and does not say so", h.Kind)
		}
	}
	// A queen that is missing until another comes, by two rows of a record.
	open := pathWith(t, first, 100, Happening{On: on, Kind: Queenless}, Happening{On: on + 25, Kind: Requeened})
	same("queenless, then requeened", open.shift(on, on+60), pathWith(t, first, 100, Happening{On: on, Kind: Queenless, To: on + 25}).shift(on, on+60), 1e-12)
	if _, err := NewPath(PathPlan{First: first, Last: first + 10, Year: yearOf(t, YearSettings{}), Rates: DefaultRates(), Happenings: []Happening{{On: first - 1, Kind: Died}}}); err == nil {
		t.Error("a path of a dead colony")
	}
}

// Windows as practice has them: an artificial swarm until about day 8, a caged
// queen from day 21, or 24 with drone brood, to 8 days after she is let out
// (Büchler et al. 2020, J Apic Res 59:764-773, cage her for 25 days). Naive: the
// days of the cage.
func TestWindows(t *testing.T) {
	y := yearOf(t, YearSettings{})
	june, october := mustDate("2026-06-05"), mustDate("2026-09-20")
	for _, c := range []struct {
		h           Happening
		from, until sampling.Date
		ok          bool
	}{
		{Happening{On: june, Kind: Hived}, june, june + 8, true},
		{Happening{On: june, Kind: QueenCaged, To: june + 25}, june + 24, june + 33, true},
		{Happening{On: october, Kind: QueenCaged, To: october + 25}, october + 21, october + 33, true},
		{Happening{On: june, Kind: QueenCaged}, june + 24, 0, true},
		{Happening{On: june, Kind: QueenCaged, To: june + 10}, june + 24, june + 18, false},
		{Happening{On: june, Kind: Swarmed}, june + 24, june + 29, true},
		{Happening{On: june, Kind: Requeened}, 0, 0, false},
		{Happening{On: june, Kind: DroneBroodRemoved}, 0, 0, false},
	} {
		w, ok := c.h.Window(y)
		if ok != c.ok || ok && (w.From != c.from || w.Until != c.until) {
			t.Errorf("%+v: %+v, %v", c.h, w, ok)
		}
	}
}

func TestNotes(t *testing.T) {
	north, south := yearOf(t, YearSettings{}), yearOf(t, YearSettings{Hemisphere: South})
	for _, c := range []struct {
		year Year
		kind HappeningKind
		on   string
		to   int
		want Note
		told bool
	}{
		{north, QueenCaged, "2026-06-01", 25, NoteCostsWinterBees, false},
		{north, QueenCaged, "2026-07-01", 25, NoteCostsWinterBees, true},
		{north, QueenCaged, "2026-08-01", 25, NoteCostsWinterBees, true},
		{south, QueenCaged, "2026-08-01", 25, NoteCostsWinterBees, false},
		{south, QueenCaged, "2026-02-01", 25, NoteCostsWinterBees, true},
		{north, DroneBroodRemoved, "2026-05-10", 0, NoteFewDrones, false},
		{north, DroneBroodRemoved, "2026-07-10", 0, NoteFewDrones, true},
		{south, DroneBroodRemoved, "2026-11-10", 0, NoteFewDrones, false},
	} {
		h := Happening{On: mustDate(c.on), Kind: c.kind}
		if c.to > 0 {
			h.To = h.On + sampling.Date(c.to)
		}
		if got := slices.Contains(h.Notes(c.year), c.want); got != c.told {
			t.Errorf("%s on %s: %v", c.kind, c.on, h.Notes(c.year))
		}
	}
}

// A swarm caught and a queen caged leave windows that the model agrees with, in
// every year and on every day on which brood stands around them.
func TestWindowsAgreeWithTheModel(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		y := yearOf(t, YearSettings{
			Set: rapid.SampledFrom(YearSets()).Draw(r, "set"), Hemisphere: rapid.SampledFrom([]Hemisphere{North, South}).Draw(r, "hemisphere"),
		})
		on := mustDate("2026-01-01") + sampling.Date(rapid.IntRange(0, 365).Draw(r, "on"))
		h := Happening{On: on, Kind: rapid.SampledFrom([]HappeningKind{Hived, Swarmed, QueenCaged}).Draw(r, "kind")}
		if h.Kind == QueenCaged {
			h.To = on + sampling.Date(rapid.IntRange(20, 40).Draw(r, "days"))
		}
		w, ok := h.Window(y)
		if !ok {
			return
		}
		p, err := NewPath(PathPlan{First: on - 5, Last: on + 80, Year: y, Rates: DefaultRates(), Happenings: []Happening{h}})
		if err != nil {
			r.Fatal(err)
		}
		for d := w.From + 1; d <= w.Until+1; d++ { // on the first day a swarm has just come
			if p.CappedBrood(d) {
				r.Fatalf("%+v: capped brood on %s, in %+v", h, d, w)
			}
		}
	})
}
