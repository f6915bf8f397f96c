package trial

import (
	"maps"
	"math"
	"slices"
	"testing"
)

// with are the usual figures, some of them changed.
func with(changes figures) figures {
	f := maps.Clone(settings[0].figures)
	for name, v := range changes {
		f.of(name) // a name that is not there tests nothing
		f[name] = v
	}
	return f
}

// noArrivals leaves every colony to itself.
var noArrivals = figures{"arrivals_spring": 0, "arrivals_late": 0, "burst_chance": 0}

// grow lets colonies live for some days and shows each of them at the start of
// every day.
func grow(f figures, colonies, days int, see func(colony int, h *hive)) {
	for i := range colonies {
		h := newColony(f, 7, newYard(f, 7, i/yardSize), i, days).hive()
		for range days - 1 {
			see(i, h)
			h.pass()
		}
	}
}

func (h *hive) mites() float64 { return h.onBees + h.inCells }

func quantile(values []float64, p float64) float64 {
	s := slices.Sorted(slices.Values(values))
	return s[int(p*float64(len(s)-1))]
}

func within(t *testing.T, what string, got, low, high float64) {
	t.Helper()
	t.Logf("%s: %.4g", what, got)
	if !(got >= low && got <= high) {
		t.Errorf("%s is %.4g, not from %v to %v", what, got, low, high)
	}
}

// Days since the first of the season, by the date.
var (
	april, may, june, july = dayOf(0), dayOf(1), dayOf(2), dayOf(3)
	august, september      = dayOf(4), dayOf(5)
	october, november      = dayOf(6), dayOf(7)
)

func dayOf(month int) int { return int(visitDay(month) - firstDay) }

// The colonies must grow their mites as published ones did, whatever the
// program believes.
func TestGrowthIsAsPublished(t *testing.T) {
	f := with(noArrivals)
	const n = 200
	start, end, spring, summer := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	var rates, monthly, yearly []float64
	year := april + yearDays
	f["start_median"] = 0.003 // so few that crowding does not matter in a year
	grow(f, n, year+2, func(i int, h *hive) {
		switch h.day {
		case april:
			start[i] = h.mites()
		case may:
			spring[i] = h.mites()
		case june:
			summer[i] = h.level()
		case july:
			rates = append(rates, math.Log(h.mites()/spring[i])/float64(july-may))
			monthly = append(monthly, h.level()/summer[i])
		case year:
			end[i] = h.mites()
			yearly = append(yearly, end[i]/start[i])
		}
	})
	// 0.021 to 0.025 a day with brood: Calatayud & Verdu 1993, Exp Appl Acarol
	// 17:889-894; Branco, Kidd & Pickard 1999, Apidologie 30:491-503 (rates from
	// memory). 0.0187 and 0.0265 in season worked out from Korpela et al. 1992.
	within(t, "growth a day, middle", quantile(rates, 0.5), 0.021, 0.025)
	within(t, "growth a day, one colony in ten grows less", quantile(rates, 0.1), 0.013, 0.021)
	within(t, "growth a day, one colony in ten grows more", quantile(rates, 0.9), 0.0255, 0.032)
	// The degree of infestation doubles or triples in a month: a German advisory
	// series of 2019. The middle colony must; not every one does.
	within(t, "mites per bee after a month of June, times", quantile(monthly, 0.5), 1.7, 3)
	// 8.2 to 24.6 a year with less than five months of brood: Korpela et al.
	// 1992, J Apic Res 31:157-164; more than 100 by autumn in the German series.
	within(t, "growth in a year, middle, times", quantile(yearly, 0.5), 8.2, 100)
}

// 39.8 % of the mites were lost in a Finnish winter: Korpela et al. 1992.
func TestWinterLossIsAsPublished(t *testing.T) {
	var before, left []float64
	grow(with(noArrivals), 100, october+160, func(i int, h *hive) {
		if h.day == november+20 {
			before = append(before, h.mites())
		}
		if h.day == november+80 { // 60 days later, 24 of them the 150 to 180 days' pro rata
			left = append(left, h.mites()/before[i])
		}
	})
	within(t, "left of 60 winter days", quantile(left, 0.5), math.Pow(0.602, 60.0/150)-0.02, math.Pow(0.602, 60.0/180)+0.05)
}

// From a quarter of a mite per hundred to three takes four to five months after
// spring treatments: Jack et al. 2023, Front Ecol Evol 11:1102457.
func TestMonthsToThreePerHundred(t *testing.T) {
	first := map[int]int{}
	f := with(figures{"start_median": 0.25, "start_yard_log_sd": 0, "start_colony_log_sd": 0})
	grow(f, 200, november, func(i int, h *hive) {
		if _, seen := first[i]; !seen && h.level() >= 0.03 {
			first[i] = h.day - april
		}
	})
	var days []float64
	for i := range 200 {
		d, ok := first[i]
		if !ok {
			d = 365
		}
		days = append(days, float64(d))
	}
	within(t, "days from 0.25 to 3 per hundred, middle", quantile(days, 0.5), 120, 150)
}

// Supervised colonies that were treated in late summer had 2.9 to 5.1 mites per
// hundred in autumn on average (Hohenheim, 2012 to 2017, quoted second-hand),
// and inside a yard the coefficient of variation was 0.43 to 0.98 (27 yards of
// open data, 2020).
func TestAutumnIsAsPublished(t *testing.T) {
	const n = 400
	sum, days := 0.0, 0
	september15 := make([]float64, n)
	grow(with(nil), n, november+1, func(i int, h *hive) {
		if h.day == august || h.day == september {
			h.treat()
		}
		if h.day == september-5 {
			september15[i] = 100 * h.level()
		}
		if h.day >= october {
			sum += 100 * h.level()
			days++
		}
	})
	within(t, "mean in October after two late-summer treatments", sum/float64(days), 2.9, 5.1)
	var cvs []float64
	for y := range n / yardSize {
		yard := september15[y*yardSize : (y+1)*yardSize]
		mean, ss := 0.0, 0.0
		for _, v := range yard {
			mean += v / yardSize
		}
		for _, v := range yard {
			ss += (v - mean) * (v - mean) / (yardSize - 1)
		}
		cvs = append(cvs, math.Sqrt(ss)/mean)
	}
	within(t, "CV inside a yard, middle", quantile(cvs, 0.5), 0.43, 0.98)
}

// 72 to 248 mites came in from late July to mid-November where colonies were
// few, 266 to 1171 where they were many: Frey & Rosenkranz 2014, J Econ Entomol
// 107:508-515.
func TestArrivalsAreAsPublished(t *testing.T) {
	for _, c := range []struct {
		setting   setting
		low, high float64
	}{{settings[0], 72, 248}, {settings[3], 266, 1171}} {
		var totals []float64
		for i := range 200 {
			total := 0.0
			for _, a := range newColony(c.setting.figures, 7, yard{}, i, november+14).arrivals[august-4:] {
				total += a
			}
			totals = append(totals, total)
		}
		within(t, c.setting.name+": mites that came in, middle", quantile(totals, 0.5), c.low, c.high)
	}
}

// 5000 to 12 000 bees in spring, 25 000 to 40 000 in early summer and 8000 to
// 15 000 at the start of winter: Imdorf, Ruoff & Fluri 2008, ALP forum 68 (from
// memory).
func TestBeesAreAsPublished(t *testing.T) {
	var spring, summer, winter []float64
	grow(with(nil), 200, november+20, func(_ int, h *hive) {
		switch h.day {
		case 0:
			spring = append(spring, h.bees[h.day])
		case june + 14:
			summer = append(summer, h.bees[h.day])
		case november:
			winter = append(winter, h.bees[h.day])
		}
	})
	within(t, "bees in spring", quantile(spring, 0.5), 5000, 12000)
	within(t, "bees in June", quantile(summer, 0.5), 25000, 40000)
	within(t, "bees in November", quantile(winter, 0.5), 8000, 15000)
}

// The seven published pairs of board and sample have a geometric mean of 9.2
// mites a day for each mite per hundred; most of them are of July and August.
// Without brood the rule of 400 gives 0.3.
func TestFallIsAsPublished(t *testing.T) {
	var brood, none []float64
	before := map[int]float64{}
	grow(with(noArrivals), 200, november+60, func(i int, h *hive) {
		if n := len(h.fall); n > 0 && (h.day == july+15 || h.day == august+15) {
			brood = append(brood, h.of("board_share")*h.fall[n-1]/(100*before[i]))
		} else if h.day == november+58 {
			none = append(none, h.of("board_share")*h.fall[n-1]/(100*before[i]))
		}
		before[i] = h.level()
	})
	within(t, "fall with brood", quantile(brood, 0.5), 8, 10.5)
	within(t, "fall without brood", quantile(none, 0.5), 0.2, 0.6)
}

// A mite is nowhere but on bees or in a cell.
func TestMitesAreKept(t *testing.T) {
	f := with(noArrivals)
	f["growth_mean"], f["growth_sd"], f["death_broodless"] = -1, 0, 0 // held at the least growth
	grow(f, 5, august, func(i int, h *hive) {
		sum := 0.0
		for _, v := range h.opening[h.day:] {
			sum += v
		}
		if math.Abs(sum-h.inCells) > 1e-9*h.mites() {
			t.Fatalf("colony %d, day %d: %v mites in cells, but %v are to come out", i, h.day, h.inCells, sum)
		}
	})
}
