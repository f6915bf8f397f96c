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
		if a, b := twice.Quantile(p), once.Quantile(p); math.Abs(a-b) > 1e-9*b {
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

func treatment(t *testing.T, slug string) sampling.Treatment {
	t.Helper()
	out, err := sampling.FindTreatment(slug)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// A history of two counts and a treatment by plain sums over the levels at both
// counts and over the recovery of the roll, without the grid, its kernels or
// its caches. Only the move of the path between the counts is taken over.
func TestReplayAgainstNestedSums(t *testing.T) {
	h := two(t)
	first, second := mustDate("2026-05-20"), mustDate("2026-06-25")
	state, err := h.On(second)
	if err != nil {
		t.Fatal(err)
	}
	move, err := state.path.Move(first, second)
	if err != nil {
		t.Fatal(err)
	}
	// Negative binomial chance of y mites on bees off so many frames.
	chance := func(y, bees, frames, theta float64) float64 {
		k, m := 16*frames, bees*theta
		return math.Exp(logGamma(y+k) - logGamma(k) - logGamma(y+1) + k*math.Log(k/(k+m)) + y*math.Log(m/(k+m)))
	}
	const step, low, nodes = 0.01, -10.0, 1200
	at := func(i int) float64 { return low + step*float64(i) }
	start := make([]float64, nodes) // prior times roll at the first count
	for i := range start {
		theta := math.Exp(at(i))
		roll := 0.0
		const parts = 400
		for j := range parts {
			share := (float64(j) + 0.5) / parts
			roll += math.Pow(share, 8) * (1 - share) * chance(6, 300, 1, theta*share)
		}
		z := (at(i) - math.Log(0.01)) / 1.3
		start[i] = roll * math.Exp(-z*z/2)
	}
	end := make([]float64, nodes)
	total := 0.0
	for i := range end {
		for j, p := range start {
			z := at(i) - at(j) - move.Shift
			end[i] += p * math.Exp(-z*z/2/move.Variance)
		}
		end[i] *= chance(2, 310, 2, math.Exp(at(i)))
		total += end[i]
	}
	below := func(x float64) float64 { // at or below x, cells cut straight
		sum := 0.0
		for i, p := range end {
			sum += p * math.Min(1, math.Max(0, (x-at(i))/step+0.5))
		}
		return sum / total
	}
	for _, p := range []float64{0.025, 0.5, 0.975} {
		if got := below(math.Log(state.Known.Quantile(p))); math.Abs(got-p) > 1e-4 {
			t.Errorf("below the %v quantile lies %v", p, got)
		}
		// To 0.1 % in the level: so far to either side lies another share.
		x := math.Log(state.Known.Quantile(p))
		if !(below(x-0.001) < p && below(x+0.001) > p) {
			t.Errorf("quantile %v is off by more than 0.1 %%", p)
		}
	}
	for _, level := range []float64{0.005, 0.02, 0.03} {
		if got, want := state.Known.Over(level), 1-below(math.Log(level)); math.Abs(got-want) > 1e-4 {
			t.Errorf("over %v: %v, by sums %v", level, got, want)
		}
	}
}

// same fails when two densities are not alike.
func same(t *testing.T, what string, a, b sampling.Density, tolerance float64) {
	t.Helper()
	for _, p := range []float64{0.025, 0.5, 0.975} {
		if x, y := a.Quantile(p), b.Quantile(p); math.Abs(x-y) > tolerance*y {
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
	mean, sd := whole.LogMoments()
	partMean, partSD := replayed(t, h, "2026-07-01").LogMoments()
	if math.Abs(partMean-mean) > 1e-6 || math.Abs(partSD*partSD-sd*sd-0.09) > 1e-6 {
		t.Errorf("whole %v ± %v, part %v ± %v", mean, sd, partMean, partSD)
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
