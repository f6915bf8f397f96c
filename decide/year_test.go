package decide_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/sampling"
)

// A second hand at the same model, in another language: 1e-6 covers the digits
// of the table.
func TestPathAgainstASecondHand(t *testing.T) {
	happenings := map[string]func(first sampling.Date) decide.Happening{
		"caged": func(first sampling.Date) decide.Happening {
			return decide.Happening{On: first + 5, Kind: decide.QueenCaged, To: first + 30}
		},
		"swarmed": func(first sampling.Date) decide.Happening {
			return decide.Happening{On: first + 10, Kind: decide.Swarmed}
		},
		"halved": func(first sampling.Date) decide.Happening {
			return decide.Happening{On: first + 10, Kind: decide.Divided}
		},
	}
	paths := map[string]*decide.Path{}
	for _, r := range decide.TestdataTable(t, "reference", "colony-year.csv") {
		first := day(t, "2025-"+r["first"]) // with the year after, without a leap day
		p := paths[r["case"]]
		if p == nil {
			plan := decide.PathPlan{First: first, Last: first + 360, Year: year(t, decide.YearSettings{Set: r["set"]}), Rates: decide.DefaultRates()}
			if own := r.Number("own_bees"); own > 0 {
				plan.AdultBees, plan.BeesOn = own, first
			}
			if h := happenings[r["case"]]; h != nil {
				plan.Happenings = []decide.Happening{h(first)}
			}
			p = path(t, plan)
			paths[r["case"]] = p
		}
		days := int(r.Number("day"))
		d := first + sampling.Date(days)
		what := r["case"] + " on day " + r["day"]
		near(t, what+": mites per bee", math.Exp(move(t, p, first, days).Shift)/r.Number("mites_per_bee"), 1, 1e-6)
		near(t, what+": share in cells", p.ShareInCells(d), r.Number("in_cells"), 1e-6)
		near(t, what+": bees", p.AdultBees(d)/r.Number("bees"), 1, 1e-6)
	}
	if len(paths) != 8 {
		t.Errorf("%d cases", len(paths))
	}
}

// ordinary is an ordinary temperate colony from a day on.
func ordinary(t testing.TB, from string, days int) (*decide.Path, sampling.Date) {
	first := day(t, from)
	return path(t, decide.PathPlan{First: first, Last: first + sampling.Date(days), Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates()}), first
}

// Growth of mites per hundred bees a day, untreated.
//
//   - Late June to late August 0.023 to 0.038: 0.027 (90 % 0.022 to 0.033) and
//     0.035 (0.025 to 0.046) in Vermont 2021, 0.038 (0.031 to 0.045) near
//     Göttingen 2021, doi 10.5281/zenodo.12515616, worked out from open data.
//   - From then to late October 0.016 to 0.028: bees dwindle and mites come out,
//     which is 0.015 to 0.017 with no mite born; the 0.010 to 0.012 of the same
//     data are of treated yards. A judgement.
//   - Under 0.012 in April and in May: bees grow as fast as mites. A judgement;
//     0.046 (0.037 to 0.061) in the young colonies of Vermont from late May to late
//     June rests on 29 mites.
func TestGrowthOfMitesPerHundred(t *testing.T) {
	p, first := ordinary(t, "2026-04-01", 250)
	for _, c := range []struct {
		from, to  string
		low, high float64
	}{
		{"2026-06-24", "2026-08-26", 0.023, 0.038},
		{"2026-06-24", "2026-07-25", 0.023, 0.038},
		{"2026-07-25", "2026-08-26", 0.023, 0.038},
		{"2026-08-26", "2026-10-27", 0.016, 0.028},
		{"2026-04-01", "2026-05-01", -0.012, 0.012},
		{"2026-05-01", "2026-06-01", -0.012, 0.012},
	} {
		from, to := day(t, c.from), day(t, c.to)
		grown := move(t, p, first, int(to-first)).Shift - move(t, p, first, int(from-first)).Shift
		if a := grown / float64(to-from); !(a >= c.low && a <= c.high) {
			t.Errorf("%s to %s: %.4f a day, want %v to %v", c.from, c.to, a, c.low, c.high)
		}
	}
}

// From 0.25 to 3 mites per hundred takes four to five months after a treatment
// in spring and under three months after one in summer: Jack et al. 2023, Front
// Ecol Evol 11:1102457 (Florida; 80 to 105 days leave room for a temperate
// June), with no mite from outside as with two a day.
func TestMonthsToTheThreshold(t *testing.T) {
	for _, c := range []struct {
		from       string
		more, less int // days
	}{
		{"2026-04-01", 120, 153},
		{"2026-06-01", 80, 105},
	} {
		first := day(t, c.from)
		for _, arrivals := range []float64{0, 2} {
			p := path(t, decide.PathPlan{First: first, Last: first + 200, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates(), Arrivals: arrivals})
			days := 0
			for ; days < 200; days++ {
				if m := move(t, p, first, days); 0.0025*math.Exp(m.Shift)+m.Arrivals >= 0.03 {
					break
				}
			}
			if days < c.more || days > c.less {
				t.Errorf("from %s with %v arrivals: %d days, want %d to %d", c.from, arrivals, days, c.more, c.less)
			}
		}
	}
}

// A closed year: 10 to 40-fold in a temperate place, between the 8.2 to 24.6
// of Korpela et al. 1992, J Apic Res 31:157-164, in Finland, which a cold year
// has, and the more than a hundred of German advice. Naive: bees that shrink to
// 45 % from one spring to the next, with which mites per bee grew 388-fold.
func TestAClosedYear(t *testing.T) {
	for _, c := range []struct {
		set       string
		low, high float64
	}{{"temperate", 10, 40}, {"cold", 8.2, 24.6}} {
		first := day(t, "2026-04-01")
		y := year(t, decide.YearSettings{Set: c.set})
		p := path(t, decide.PathPlan{First: first, Last: first + 365, Year: y, Rates: decide.DefaultRates()})
		if fold := math.Exp(move(t, p, first, 365).Shift); !(fold >= c.low && fold <= c.high) {
			t.Errorf("%s: %.1f-fold in a year", c.set, fold)
		}
		if bees := p.AdultBees(first+365) / p.AdultBees(first); !(math.Abs(bees-1) <= 0.1) {
			t.Errorf("%s: bees close the year at %v", c.set, bees)
		}
	}
}

// Share of the mites in cells: half to nine tenths while there is brood in
// Rosenkranz, Aumeier & Ziegelmann 2010, J Invertebr Pathol 103:S96-S119 (from
// memory), most of them in May; a median of 0.72 in 47 colonies of Alabama in
// September with far more brood: Aurell et al. 2024, doi
// 10.5281/zenodo.10612430.
func TestShareInCells(t *testing.T) {
	p, _ := ordinary(t, "2026-04-01", 250)
	for _, c := range []struct {
		from, to  string
		low, high float64
	}{
		{"2026-05-01", "2026-05-31", 0.65, 0.8},
		{"2026-09-01", "2026-09-30", 0.5, 0.65},
		{"2026-12-01", "2026-12-05", 0, 0},
	} {
		for d := day(t, c.from); d <= day(t, c.to); d++ {
			if s := p.ShareInCells(d); !(s >= c.low && s <= c.high) {
				t.Errorf("%s: %.3f, want %v to %v", d, s, c.low, c.high)
			}
		}
	}
}

// Capped cells a bee of a full colony; 0.3 follows from 24 808 bees over about
// 7300 cells in mid August in Delaplane & Hood 1997, J Apic Res 36:125-132, and
// 0.22 stood over small colonies near Göttingen in late September (doi
// 10.5281/zenodo.12515616).
func TestCellsPerBee(t *testing.T) {
	y := year(t, decide.YearSettings{})
	for _, c := range []struct {
		from, to  string
		low, high float64
	}{
		{"2026-06-01", "2026-06-30", 0.45, 0.75},
		{"2026-08-20", "2026-08-31", 0.3, 0.4},
		{"2026-09-20", "2026-09-30", 0.15, 0.3},
	} {
		for d := day(t, c.from); d <= day(t, c.to); d++ {
			if per := y.Cells(d).Worker / y.AdultBees(d); !(per >= c.low && per <= c.high) {
				t.Errorf("%s: %.3f cells a bee, want %v to %v", d, per, c.low, c.high)
			}
		}
	}
}

// What is said of a full colony: 10 000 bees on 1 March, 27 000 on 1 July,
// 13 000 in November (12 600 to 13 500 in February and 24 800 to 33 700 in
// August in Delaplane & Hood 1999, Apidologie 30:383-395; 25 000 to 40 000 at
// most in Imdorf, Ruoff & Fluri 2008, ALP forum 68, from memory), and brood
// largest on 20 May.
func TestAnOrdinaryYear(t *testing.T) {
	y := year(t, decide.YearSettings{})
	for d, want := range map[string]float64{"2026-03-01": 10_000, "2026-07-01": 27_000, "2026-11-15": 13_000} {
		if got := y.AdultBees(day(t, d)); !(math.Abs(got/want-1) <= 0.05) {
			t.Errorf("%s: %.0f bees", d, got)
		}
	}
	if most, _ := mostBrood(y, 2026); most != day(t, "2026-05-20") {
		t.Errorf("brood is largest on %s", most)
	}
	if w, ok := y.WithoutBrood(day(t, "2026-07-01")); !ok || w.From != day(t, "2026-11-26") || w.Until != day(t, "2027-01-17") {
		t.Errorf("without brood %+v", w)
	}
	if _, ok := year(t, decide.YearSettings{Set: "warm"}).WithoutBrood(day(t, "2026-07-01")); ok {
		t.Error("a warm year has a time without brood")
	}
}

func mostBrood(y decide.Year, of int) (sampling.Date, float64) {
	most, cells := sampling.Date(0), 0.0
	for d := sampling.Day(of, time.January, 1); d <= sampling.Day(of, time.December, 31); d++ {
		if c := y.Cells(d).Worker; c > cells {
			most, cells = d, c
		}
	}
	return most, cells
}

// The day of most brood moves the whole year, also round the turn of the year.
// Naive: seasons of the south six months later whatever the beekeeper says.
func TestMostBroodMovesTheYear(t *testing.T) {
	usual := year(t, decide.YearSettings{})
	for _, c := range []struct {
		settings decide.YearSettings
		want     string
		later    int
	}{
		{decide.YearSettings{MostBrood: "04-05"}, "2026-04-05", -45},
		{decide.YearSettings{MostBrood: "04-20"}, "2026-04-20", -30},
		{decide.YearSettings{MostBrood: "07-04"}, "2026-07-04", 45},
		{decide.YearSettings{Hemisphere: decide.South}, "2026-11-20", 184},
		{decide.YearSettings{Hemisphere: decide.South, MostBrood: "10-11"}, "2026-10-11", 144},
		{decide.YearSettings{Hemisphere: decide.South, MostBrood: "01-04"}, "2026-01-04", -136},
		{decide.YearSettings{MostBrood: "11-20"}, "2026-11-20", -181},
	} {
		y := year(t, c.settings)
		if most, _ := mostBrood(y, 2026); most != day(t, c.want) {
			t.Errorf("%+v: brood is largest on %s", c.settings, most)
		}
		for d := day(t, "2026-01-01"); d < day(t, "2027-01-01"); d += 17 {
			then := d + sampling.Date(c.later)
			if y.AdultBees(then) != usual.AdultBees(d) || y.Cells(then) != usual.Cells(d) || y.Flying(then) != usual.Flying(d) {
				t.Errorf("%+v: %s is not like %s", c.settings, then, d)
			}
		}
	}
}

// Every year comes back to what it was, and no day is far from the next.
func TestYearsAreClosedAndEven(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		y, d := drawYear(r, t), drawDay(r)
		next := d.Time().AddDate(1, 0, 0)
		if d.Time().Day() == next.Day() { // not the leap day
			if a, b := y.AdultBees(d), y.AdultBees(sampling.Day(next.Year(), next.Month(), next.Day())); a != b {
				r.Fatalf("%v bees on %s, %v a year later", a, d, b)
			}
		}
		if step := math.Log(y.AdultBees(d+1) / y.AdultBees(d)); !(math.Abs(step) < 0.02) {
			r.Fatalf("bees change by %v on %s", step, d)
		}
		a, b := y.Cells(d), y.Cells(d+1)
		if !(math.Abs(b.Worker-a.Worker) < 350) || !(a.Worker >= 0 && a.Drone >= 0 && a.Drone <= 0.03*a.Worker) {
			r.Fatalf("cells %+v and %+v on %s", a, b, d)
		}
	})
}

// Births out of the cells and the bees of the table leave a death rate that bees
// have: 20 to 40 days in summer, months in winter (Winston 1987, The Biology of
// the Honey Bee, from memory). A table of bees and cells that do not belong
// together would show here.
func TestBeesAndCellsBelongTogether(t *testing.T) {
	for _, set := range decide.YearSets() {
		y := year(t, decide.YearSettings{Set: set})
		for d := day(t, "2026-01-15"); d < day(t, "2027-01-01"); d += 30 {
			born := y.Cells(d).Worker / 12 / y.AdultBees(d)
			dying := born - math.Log(y.AdultBees(d+1)/y.AdultBees(d))
			if !(dying > 0.001 && dying < 0.05) {
				t.Errorf("%s, %s: %.4f of the bees die a day", set, d, dying)
			}
		}
	}
}

func TestEveryRowOfTheYearHasASource(t *testing.T) {
	rows := map[string]int{}
	for _, p := range decide.YearPoints() {
		rows[p.Set]++
		if p.Source == "" || p.Kind == "" || !(p.AdultBees > 1000) {
			t.Errorf("%+v", p)
		}
	}
	for _, set := range []string{"temperate", "cold", "warm"} {
		if rows[set] < 12 {
			t.Errorf("%s has %d rows", set, rows[set])
		}
	}
}

// Own bees are taken as told, on their day; and they matter: a small colony
// breeds more brood a bee, so its mites are in cells sooner. Naive: own bees as
// a matter of arrivals only.
func TestOwnBees(t *testing.T) {
	first := day(t, "2026-06-10")
	share := func(bees float64) float64 {
		plan := decide.PathPlan{First: first, Last: first + 60, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates()}
		if bees > 0 {
			plan.AdultBees, plan.BeesOn = bees, first+20
		}
		p := path(t, plan)
		if bees > 0 {
			near(t, "bees", p.AdultBees(first+20), bees, 1e-6*bees)
		}
		return p.ShareInCells(first + 20)
	}
	unknown := share(0)
	near(t, "an ordinary colony told", share(27_300), unknown, 0.002)
	near(t, "twice as many bees and cells", share(55_000), unknown, 1e-9)
	if small := share(6000); !(small > unknown+0.05) {
		t.Errorf("share in cells %v in a small colony, %v in an ordinary one", small, unknown)
	}
}

// After a swarm the mites of the mother colony go into the young queen's first
// cells, and what a count finds falls (near Göttingen, in broodless swarms 1.75
// per hundred in early June and 0.39 in mid July, doi 10.5281/zenodo.12515616)
// and rises again. Nobody knows her first day, so it is no matter of a few days.
//
// Naive, she lays in full from one day on: mites go in together and come out
// together, and mites per bee of 18 July come to four times as many by the 24th.
func TestNoWaveAfterASwarm(t *testing.T) {
	first := day(t, "2026-05-01")
	swarmed := decide.Happening{On: day(t, "2026-05-24"), Kind: decide.Swarmed}
	p := path(t, decide.PathPlan{First: first, Last: first + 120, Year: year(t, decide.YearSettings{}), Rates: decide.DefaultRates(), Happenings: []decide.Happening{swarmed}})
	for d := day(t, "2026-07-12"); d < first+110; d++ {
		if by := math.Exp(move(t, p, d, 6).Shift); !(by > 0.6 && by < 2) {
			t.Errorf("%s to six days later: mites per bee times %.2f", d, by)
		}
	}
	fall := math.Exp(move(t, p, day(t, "2026-06-20"), 15).Shift)
	if !(fall < 0.5) {
		t.Errorf("into the first cells: times %.2f", fall)
	}
}
