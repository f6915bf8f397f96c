package decide

import (
	"errors"
	"math"
	"testing"

	"halfcup/sampling"
)

func replayed(t *testing.T, h History, on string) sampling.Density {
	t.Helper()
	s, err := h.On(mustDate(on))
	if err != nil {
		t.Fatal(err)
	}
	return s.Known
}

// The naive version pools counts of different days as if of one. Mites breed
// meanwhile, so that the older count stands for more than it shows.
func TestCountsOfDifferentDaysAreNotOneDay(t *testing.T) {
	apart := counted(t, 3, "wash:3/300@2026-05-01", "wash:3/300@2026-07-01").State.Known
	pooled := counted(t, 3, "wash:3/300@2026-07-01", "wash:3/300@2026-07-01").State.Known
	if a, p := 100*apart.Quantile(0.5), 100*pooled.Quantile(0.5); !(a > 1.1*p) {
		t.Errorf("apart %.2f, pooled %.2f mites per hundred: want clearly more apart", a, p)
	}
}

// A board looked at twice tells as much as the same board looked at once.
func TestBoardLookedAtTwice(t *testing.T) {
	twice := counted(t, 3, "board:10/2d@2026-06-29", "board:14/2d@2026-07-01").State.Known
	once := counted(t, 3, "board:24/4d@2026-07-01").State.Known
	for _, p := range []float64{0.05, 0.5, 0.95} {
		if a, b := twice.Quantile(p), once.Quantile(p); !(math.Abs(a-b) <= 1e-9*b) {
			t.Errorf("quantile %v: %v looked at twice, %v once", p, a, b)
		}
	}
}

// The fall after a treatment tells of the moment before it.
func TestKnockdownTellsOfTheTimeBefore(t *testing.T) {
	h := counted(t, 3, "wash:6/300@2026-06-20").History
	oxalic, err := sampling.FindTreatment("oxalic-vapour")
	if err != nil {
		t.Fatal(err)
	}
	h.Treatments = []TreatmentDay{{On: mustDate("2026-06-25"), Treatment: oxalic}}
	c, err := sampling.ParseCount("knockdown:900/5d@2026-06-30")
	if err != nil {
		t.Fatal(err)
	}
	c.Treatment = oxalic.TreatmentName
	before, after := replayed(t, h, "2026-07-01"), History(h)
	after.Counts = append(after.Counts, c)
	if b, a := before.Quantile(0.5), replayed(t, after, "2026-07-01").Quantile(0.5); !(a > 1.2*b) {
		t.Errorf("a heavy fall moved the day after it from %v to %v", b, a)
	}
	s, err := after.On(mustDate("2026-07-01"))
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Counted; got != mustDate("2026-06-25") {
		t.Errorf("the fall was taken to tell of %v", got)
	}
}

// two is a history with a roll, a treatment and a wash.
func two(t *testing.T) History {
	t.Helper()
	h := counted(t, 3, "roll:6/300@2026-05-20", "wash:2/310/2f@2026-06-25").History
	h.Treatments = []TreatmentDay{{On: mustDate("2026-06-01"), Treatment: treatment(t, "oxalic-vapour")}}
	return h
}

func treatment(t testing.TB, slug string) sampling.Treatment {
	t.Helper()
	out, err := sampling.FindTreatment(slug)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// same fails when two densities are not alike.
func same(t *testing.T, what string, a, b sampling.Density, tolerance float64) {
	t.Helper()
	for _, p := range []float64{0.025, 0.5, 0.975} {
		if x, y := a.Quantile(p), b.Quantile(p); !(math.Abs(x-y) <= tolerance*y) {
			t.Errorf("%s: quantile %v is %v and %v", what, p, x, y)
		}
	}
}

// A day in between at which one only looks changes nothing: what is forecast
// from it for later is what is known later.
func TestAStopOnTheWayChangesNothing(t *testing.T) {
	h := counted(t, 3, "wash:4/300@2026-04-20").History
	for _, stop := range []string{"2026-04-20", "2026-04-21", "2026-05-17", "2026-06-30"} {
		s, err := h.On(mustDate(stop))
		if err != nil {
			t.Fatal(err)
		}
		ahead, err := s.Forecast(mustDate("2026-07-01"))
		if err != nil {
			t.Fatal(err)
		}
		same(t, "by way of "+stop, ahead, replayed(t, h, "2026-07-01"), 1e-6)
	}
}

// What is counted or given later has no bearing on what is known today.
func TestLaterEventsAreLeftOut(t *testing.T) {
	h := two(t)
	before := replayed(t, h, "2026-06-26")
	h.Counts = append(h.Counts, mustCount(t, "wash:90/300@2026-06-27"))
	h.Treatments = append(h.Treatments, TreatmentDay{On: mustDate("2026-06-28"), Treatment: treatment(t, "oxalic-vapour")})
	h.Splits = append(h.Splits, mustDate("2026-06-27"))
	same(t, "later events", replayed(t, h, "2026-06-26"), before, 1e-12)
	if after := replayed(t, h, "2026-06-27"); !(after.Quantile(0.5) > 2*before.Quantile(0.5)) {
		t.Error("the later count was never read")
	}
}

// A treatment acts at the start of its day, after a count of that day.
func TestACountOnTheDayOfATreatmentComesBefore(t *testing.T) {
	h := counted(t, 3, "wash:9/300@2026-06-25").History
	without := replayed(t, h, "2026-06-25")
	tomorrow := replayed(t, h, "2026-06-26")
	h.Treatments = []TreatmentDay{{On: mustDate("2026-06-25"), Treatment: treatment(t, "oxalic-vapour")}}
	same(t, "that day", replayed(t, h, "2026-06-25"), without, 1e-12)
	if after := replayed(t, h, "2026-06-26"); !(after.Quantile(0.5) < 0.6*tomorrow.Quantile(0.5)) {
		t.Error("the day after shows no kill")
	}
}

// The parts of a divided colony carry what the whole had, a log-SD of 0.3
// less sure, from the day of the split on.
func TestSplitBlurs(t *testing.T) {
	h := counted(t, 3, "wash:9/300@2026-06-10").History
	whole, before := replayed(t, h, "2026-07-01"), replayed(t, h, "2026-06-19")
	h.Splits = []sampling.Date{mustDate("2026-06-20")}
	same(t, "the day before", replayed(t, h, "2026-06-19"), before, 1e-12)
	split, err := h.On(mustDate("2026-07-01"))
	if err != nil {
		t.Fatal(err)
	}
	// Of what is known, the share that the record explains gets wider.
	q := 1 - math.Pow(0.92, 21.0/30)
	unseen := h.Year.Unseen(mustDate("2026-07-01")).Density()
	without := func(d sampling.Density) (mean, variance float64) {
		mean, sd := d.LogMoments()
		m, s := unseen.LogMoments()
		square := (mean*mean + sd*sd - q*(m*m+s*s)) / (1 - q)
		mean = (mean - q*m) / (1 - q)
		return mean, square - mean*mean
	}
	mean, variance := without(whole)
	partMean, partVariance := without(split.Known)
	if !(math.Abs(partMean-mean) < 1e-6 && math.Abs(partVariance-variance-0.09) < 1e-6) {
		t.Errorf("whole %v, variance %v, part %v, %v", mean, variance, partMean, partVariance)
	}
	// Split on the day of a count: the count is of the part.
	h.Splits = []sampling.Date{mustDate("2026-06-10")}
	same(t, "split on the day of the first count", replayed(t, h, "2026-07-01"), whole, 1e-12)
}

// A fall for which the record has no treatment tells of the day the board went
// in.
func TestKnockdownWithoutItsTreatment(t *testing.T) {
	c := mustCount(t, "knockdown:200/5d@2026-06-30")
	c.Treatment = treatment(t, "oxalic-vapour").TreatmentName
	h := counted(t, 3).History
	h.Counts = []sampling.Count{c}
	for name, given := range map[string][]TreatmentDay{
		"none": nil, "another": {{On: mustDate("2026-06-24"), Treatment: treatment(t, "formic-evaporation")}},
		"long ago": {{On: mustDate("2026-05-01"), Treatment: treatment(t, "oxalic-vapour")}}, "later": {{On: mustDate("2026-07-01"), Treatment: treatment(t, "oxalic-vapour")}},
	} {
		h.Treatments = given
		s, err := h.On(mustDate("2026-07-01"))
		if err != nil {
			t.Fatal(err)
		}
		if s.Counted != mustDate("2026-06-25") {
			t.Errorf("%s: taken to tell of %v", name, s.Counted)
		}
	}
}

func TestHistoriesThatCannotBe(t *testing.T) {
	good := two(t)
	for name, change := range map[string]func(*History, *sampling.Date){
		"no day":         func(_ *History, d *sampling.Date) { *d = 0 },
		"no date":        func(h *History, _ *sampling.Date) { h.Counts[0].Date = 0 },
		"a weight alone": func(h *History, _ *sampling.Date) { h.Counts = []sampling.Count{mustCount(t, "wash:3/40g@2026-06-01")} },
		"arrivals":       func(h *History, _ *sampling.Date) { h.Arrivals = -1 },
		"rates":          func(h *History, _ *sampling.Date) { h.Rates.Survival = 0 },
		"year":           func(_ *History, d *sampling.Date) { *d += 100 * 366 },
	} {
		h, day := good, today
		h.Counts = append([]sampling.Count(nil), good.Counts...)
		change(&h, &day)
		var bad *sampling.ValueError
		if _, err := h.On(day); !errors.As(err, &bad) || bad.Remedy == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// From October to the middle of November mites per hundred bees still rise by
// what they do from late August on: they come out of the last cells, bees
// dwindle, and some are born. In yards near Göttingen the middle colony rose by
// 0.018 a day from late September to late October of 2021 (open data,
// papluta/Honeybees_AES_2021), acid given before. With not one mite born it would
// be less than half of that here.
func TestGrowthOfLateAutumn(t *testing.T) {
	from, to := mustDate("2026-10-02"), mustDate("2026-11-12")
	rate := func(daughters float64) float64 {
		h := template().History
		h.Rates.WorkerDaughters *= daughters
		h.Rates.DroneDaughters *= daughters
		h.Counts = []sampling.Count{mustCount(t, "wash:3/300@2026-10-02")}
		s, err := h.On(from)
		if err != nil {
			t.Fatal(err)
		}
		g, err := s.path.growth(from, to)
		if err != nil {
			t.Fatal(err)
		}
		return g.Shift / float64(to-from)
	}
	all, none := rate(1), rate(0)
	t.Logf("%.4f a day, with no births %.4f", all, none)
	if !(all >= 0.016 && all <= 0.028) || !(none > 0.3*all && none < 0.6*all) {
		t.Errorf("mites per bee grow by %.4f a day, with no mite born by %.4f", all, none)
	}
}
