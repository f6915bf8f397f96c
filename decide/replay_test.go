package decide

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// sums is a density over ln θ, θ in mites per bee, by plain sums: cells of equal
// width, none of them on the grid of package sampling.
type sums []float64

const sumStep, sumLow, sumCells = 0.01, -13.0, 1500

func sumAt(i int) float64 { return sumLow + sumStep*float64(i) }

func sumsOf(f func(x float64) float64) sums {
	out := make(sums, sumCells)
	for i := range out {
		out[i] = f(sumAt(i))
	}
	return out
}

func (s sums) total() float64 {
	total := 0.0
	for _, p := range s {
		total += p
	}
	return total * sumStep
}

// under is the mass up to x, a cell cut straight.
func (s sums) under(x float64) float64 {
	sum := 0.0
	for i, p := range s {
		sum += p * math.Min(1, math.Max(0, (x-sumAt(i))/sumStep+0.5))
	}
	return sum * sumStep
}

func bell(x, mean, variance float64) float64 {
	return math.Exp(-(x-mean)*(x-mean)/2/variance) / math.Sqrt(2*math.Pi*variance)
}

func (s sums) blurred(shift, variance float64) sums {
	return sumsOf(func(x float64) float64 {
		sum := 0.0
		for i, p := range s {
			if z := x - sumAt(i) - shift; z*z < 80*variance {
				sum += p * bell(z, 0, variance)
			}
		}
		return sum * sumStep
	})
}

// beesChance is the negative binomial chance of y mites on bees off so many
// frames.
func beesChance(y, bees, frames, theta float64) float64 {
	k, m := 16*frames, bees*theta
	return math.Exp(logGamma(y+k) - logGamma(k) - logGamma(y+1) + k*math.Log(k/(k+m)) + y*math.Log(m/(k+m)))
}

// rollChance averages it over a recovery Beta(9, 2).
func rollChance(y, bees, theta float64) float64 {
	const parts = 400
	sum := 0.0
	for j := range parts {
		share := (float64(j) + 0.5) / parts
		sum += math.Pow(share, 8) * (1 - share) * beesChance(y, bees, 1, theta*share)
	}
	return sum / parts
}

// agree holds a density to what the sums say is under a level: chances to 1e-4,
// median and limits to 0.1 %.
func agree(t *testing.T, what string, d sampling.Density, under func(x float64) float64) {
	t.Helper()
	for _, p := range []float64{0.025, 0.5, 0.975} {
		x := math.Log(d.Quantile(p))
		if got := under(x); !(math.Abs(got-p) < 1e-4) {
			t.Errorf("%s: below the %v quantile lies %v", what, p, got)
		}
		if !(under(x-0.001) < p && under(x+0.001) > p) {
			t.Errorf("%s: quantile %v is off by more than 0.1 %%", what, p)
		}
	}
	for _, level := range []float64{0.005, 0.01, 0.02, 0.03, 0.1} {
		if got, want := d.Over(level), 1-under(math.Log(level)); !(math.Abs(got-want) < 1e-4) {
			t.Errorf("%s: over %v: %v, by sums %v", what, level, got, want)
		}
	}
}

// unrecordedBy is the chance of something unrecorded in so many days, by hand.
func unrecordedBy(days float64) float64 { return 1 - math.Pow(0.92, days/30) }

// Two counts with a course that has settled between them, and a forecast with
// mites from outside, by plain sums over the levels at both counts, the recovery
// of the roll, the eleven things the course may have done, and whether something
// happened that nobody wrote down. Only the shifts of the model are taken over.
func TestReplayAgainstNestedSums(t *testing.T) {
	h := two(t)
	h.Arrivals = 8
	first, second, later := mustDate("2026-05-20"), mustDate("2026-06-25"), mustDate("2026-08-04")
	state, err := h.On(second)
	if err != nil {
		t.Fatal(err)
	}
	p := state.path
	u := h.Year.Unseen(first)
	start := sumsOf(func(x float64) float64 {
		return bell(x, math.Log(u.MedianPerHundred/100), 1.2*1.2) * rollChance(6, 300, math.Exp(x))
	})
	total := start.total()
	for i := range start {
		start[i] /= total
	}
	// After a course with weights, all of them at once.
	unseenOn := func(day sampling.Date, x float64) float64 {
		mean, sum := math.Log(h.Year.Unseen(day).MedianPerHundred/100), 0.0
		for _, part := range p.courses[0].effect(int(day - p.start)) {
			sum += part.Weight * bell(x, mean+part.Shift, 1.2*1.2+part.Variance)
		}
		return sum
	}
	move, err := p.Move(first, second)
	if err != nil {
		t.Fatal(err)
	}
	if len(move.Courses) != 1 || len(move.Courses[0]) != 11 || !(math.Abs(move.Variance-0.16*36/30) < 1e-12) {
		t.Fatalf("%+v", move)
	}
	q := unrecordedBy(36)
	known, carried, instead := make(sums, sumCells), make(sums, sumCells), 0.0
	before := sumsOf(func(x float64) float64 { return bell(x, math.Log(u.MedianPerHundred/100), 1.2*1.2) })
	for _, part := range move.Courses[0] {
		variance := move.Variance + part.Variance
		for i, v := range start.blurred(move.Shift+part.Shift, variance) {
			known[i] += (1 - q) * part.Weight * v
		}
		for i, v := range before.blurred(move.Shift+part.Shift, variance) {
			carried[i] += (1 - q) * part.Weight * v
		}
	}
	for i := range known {
		x := sumAt(i)
		l := beesChance(2, 310, 2, math.Exp(x))
		unseen := q * unseenOn(second, x)
		instead += unseen * l * sumStep
		known[i] = (known[i] + unseen) * l
		carried[i] += unseen
	}
	total = known.total()
	for i := range known {
		known[i] /= total
	}
	agree(t, "at the second count", state.Known, known.under)
	agree(t, "without the counts", state.Carried, carried.under)
	if want := instead / total; !(math.Abs(state.UnrecordedEvent-want) < 1e-4) {
		t.Errorf("chance of an unrecorded event %v, by sums %v", state.UnrecordedEvent, want)
	}

	// Forty days on. The course has been forgotten; mites came in.
	if move, err = p.Move(second, later); err != nil {
		t.Fatal(err)
	}
	if !(move.Arrivals > 0.001) || len(move.Courses) != 0 {
		t.Fatalf("%+v", move)
	}
	q = unrecordedBy(40)
	unseen := sumsOf(func(x float64) float64 { return unseenOn(later, x) })
	// The chance of being under x: the level before the mites came in must have
	// been under e^x less what came in.
	under := func(x float64) float64 {
		moved := 0.0
		for _, z := range []float64{-0.967421566, 0, 0.967421566} {
			left := math.Exp(x) - move.Arrivals*math.Exp(z)
			if left <= 0 {
				continue
			}
			for i, v := range known {
				moved += v * sumStep / 3 * math.Erfc(-(math.Log(left)-sumAt(i)-move.Shift)/math.Sqrt(2*move.Variance)) / 2
			}
		}
		return (1-q)*moved + q*unseen.under(x)
	}
	forecast, err := state.Forecast(later)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "forecast", forecast, under)
}

// A course in progress: the fall after a round and a wash a week later weigh its
// parts, each with its own kill. By plain sums over the level before the round,
// the share of the dead mites that reach the board, the parts and the level at
// the wash.
func TestCountsOfACourseAgainstNestedSums(t *testing.T) {
	given, washed := mustDate("2026-06-25"), mustDate("2026-07-03")
	h := counted(t, 3, "wash:3/300@2026-06-20", "wash:4/300@2026-07-03").History
	vapour := treatment(t, "oxalic-vapour")
	h.Treatments = []TreatmentDay{{On: given, Treatment: vapour}}
	fall := mustCount(t, "knockdown:60/5d@2026-06-30")
	fall.Treatment, fall.Hive = vapour.TreatmentName, sampling.Hive{AdultBees: 20_000}
	none := 4.0
	fall.FallBefore = &none
	h.Counts = append(h.Counts, fall)
	state, err := h.On(washed)
	if err != nil {
		t.Fatal(err)
	}
	p := state.path

	// Up to the round.
	first := mustDate("2026-06-20")
	u := h.Year.Unseen(first)
	start := sumsOf(func(x float64) float64 {
		return bell(x, math.Log(u.MedianPerHundred/100), 1.2*1.2) * beesChance(3, 300, 1, math.Exp(x))
	})
	total := start.total()
	for i := range start {
		start[i] /= total
	}
	move, err := p.Move(first, given)
	if err != nil {
		t.Fatal(err)
	}
	q := unrecordedBy(5)
	mean := math.Log(h.Year.Unseen(given).MedianPerHundred / 100)
	atRound := start.blurred(move.Shift, move.Variance)
	for i := range atRound {
		atRound[i] = (1-q)*atRound[i] + q*bell(sumAt(i), mean, 1.2*1.2)
	}

	// The round and the wash, part by part.
	move, err = p.Move(given, washed)
	if err != nil {
		t.Fatal(err)
	}
	effect := p.courses[0].effect(int(washed - p.start))
	mean = math.Log(h.Year.Unseen(washed).MedianPerHundred / 100)
	q = unrecordedBy(float64(washed - given))
	known := make(sums, sumCells)
	weights := make([]float64, len(effect))
	for k, part := range move.Courses[0] {
		kill := vapour.KillWithBrood.Quantile((float64(min(k, 8)) + 0.5) / 9)
		middle := 1 - vapour.KillWithBrood.Quantile(0.5)
		switch k {
		case 9:
			kill = 1 - math.Pow(middle, 0.15)
		case 10:
			kill = 1 - middle*math.Exp(-2)
		}
		after := sumsOf(func(x float64) float64 {
			const parts = 400
			sum, norm := 0.0, 0.0
			for j := range parts { // Beta(18, 2)
				share := (float64(j) + 0.5) / parts
				w := math.Pow(share, 17) * (1 - share)
				m := share*kill*20_000*math.Exp(x) + 5*4
				sum += w * math.Exp(60*math.Log(m)-m-logGamma(61))
				norm += w
			}
			return sum / norm
		})
		for i := range after {
			after[i] *= atRound[i]
		}
		mass := after.total()
		moved := after.blurred(move.Shift+part.Shift, move.Variance+part.Variance)
		for i := range known {
			x := sumAt(i)
			v := part.Weight * ((1-q)*moved[i] + q*mass*bell(x, mean+effect[k].Shift, 1.2*1.2+effect[k].Variance)) * beesChance(4, 300, 1, math.Exp(x))
			known[i] += v
			weights[k] += v * sumStep
		}
	}
	total = known.total()
	for i := range known {
		known[i] /= total
	}
	agree(t, "at the wash", state.Known, known.under)
	for k, w := range weights {
		if got := state.base.weights[k]; !(math.Abs(got-w/total) < 1e-4) {
			t.Errorf("part %d weighs %v, by sums %v", k, got, w/total)
		}
	}
	// The failure has become the likeliest single part: 60 mites and 4 in 300
	// a week later are not what a kill of three quarters leaves.
	if state.base.weights[9] < 0.3 {
		t.Errorf("a course that did nothing has the chance %v", state.base.weights[9])
	}
}

// Known over Carried is the likelihood of the counts: of one count of today
// what sampling says, and put back on Carried it gives Known.
func TestLearntIsTheLikelihood(t *testing.T) {
	one := counted(t, 3, "roll:7/300")
	l, err := one.State.Learnt()
	if err != nil {
		t.Fatal(err)
	}
	want, err := one.History.Assumptions.Likelihood(one.History.Counts...)
	if err != nil {
		t.Fatal(err)
	}
	scale := l.At(0.02) / want.At(0.02)
	for _, theta := range []float64{0.003, 0.01, 0.04, 0.1} {
		if got := l.At(theta) / want.At(theta) / scale; !(math.Abs(got-1) < 1e-6) {
			t.Errorf("at %v the likelihood is %v times that of the count", theta, got)
		}
	}
	s, err := two(t).On(mustDate("2026-07-10"))
	if err != nil {
		t.Fatal(err)
	}
	again, err := s.Among(s.Carried)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "put back", again.Known, s.Known, 1e-6)
}

// Mites that come in are in every count: they act after the last one only.
func TestArrivalsActAfterTheLastCount(t *testing.T) {
	h := counted(t, 3, "wash:3/300@2026-08-01", "wash:6/300@2026-09-10").History
	with := h
	with.Arrivals = 8
	same(t, "at the count", replayed(t, with, "2026-09-10"), replayed(t, h, "2026-09-10"), 1e-12)
	if a, b := replayed(t, with, "2026-10-01").Quantile(0.5), replayed(t, h, "2026-10-01").Quantile(0.5); !(a > 1.1*b) {
		t.Errorf("three weeks on %v with and %v without mites from outside", a, b)
	}
}

// A worthless count between two others, or before the day asked, cuts the time
// in two and must change next to nothing.
func TestAWorthlessCountChangesLittle(t *testing.T) {
	for _, more := range [][]string{{}, {"wash:9/300@2026-08-01"}} {
		h := counted(t, 3, append(more, "wash:6/300@2026-06-01")...).History
		cut := counted(t, 3, append(more, "wash:6/300@2026-06-01", "wash:0/10@2026-07-01")...).History
		a, b := replayed(t, h, "2026-08-01").Quantile(0.5), replayed(t, cut, "2026-08-01").Quantile(0.5)
		tenBees, err := cut.On(mustDate("2026-07-01"))
		if err != nil {
			t.Fatal(err)
		}
		// What ten bees do tell is taken out.
		told := tenBees.Known.Quantile(0.5) / tenBees.Before.Quantile(0.5)
		if len(more) > 0 {
			told = 1
		}
		if r := b / a / told; !(r > 0.9 && r < 1.1) {
			t.Errorf("%v: the median is %v with and %v without", more, b, a)
		}
	}
}

// The belief that is given is known on the day of the answer, and goes through
// the year as that of colonies in general.
func TestAPriorOfOnesOwn(t *testing.T) {
	h := counted(t, 3).History
	h.Prior = sampling.Prior{MedianPerHundred: 3, LogSD: 0.5}
	same(t, "with no count", replayed(t, h, "2026-07-01"), h.Prior.Density(), 1e-6)
	early := h.unseen(mustDate("2026-05-15"), today).MedianPerHundred
	if want := 3 * 0.35 / h.Year.Unseen(today).MedianPerHundred; !(math.Abs(early-want) < 1e-9) {
		t.Errorf("in the middle of May %v, want %v", early, want)
	}
}

// What is known on a day does not depend on what is counted or given later, a
// round of the same treatment included. Parts added up before a blur or after
// it differ by rounding.
func TestLaterRoundsChangeNothingBefore(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		h := counted(t, 3).History
		slug := func(label string) sampling.Treatment {
			return treatment(t, rapid.SampledFrom([]string{"oxalic-vapour", "formic-evaporation", "thymol", "oxalic-strip"}).Draw(r, label))
		}
		h.Treatments = []TreatmentDay{{On: today - sampling.Date(rapid.IntRange(0, 100).Draw(r, "days ago")), Treatment: slug("first")}}
		c := Scooped(sampling.Roll, 300, 1, today-sampling.Date(rapid.IntRange(0, 60).Draw(r, "counted")))
		c.Mites = rapid.IntRange(0, 20).Draw(r, "mites")
		h.Counts = []sampling.Count{c}
		before, err := h.On(today)
		if err != nil {
			r.Fatal(err)
		}
		h.Treatments = append(h.Treatments, TreatmentDay{On: today + sampling.Date(rapid.IntRange(0, 30).Draw(r, "later")), Treatment: slug("second")})
		after, err := h.On(today)
		if err != nil {
			r.Fatal(err)
		}
		for _, p := range []float64{0.05, 0.5, 0.95} {
			if a, b := before.Known.Quantile(p), after.Known.Quantile(p); !(math.Abs(a-b) < 1e-6*b) {
				r.Fatalf("quantile %v: %v before, %v after", p, a, b)
			}
		}
	})
}

// A plan whose day has passed and that nobody confirmed acts on nothing; a
// confirmed one does. A strip that came out early stops killing.
func TestPlansAndEndsInAReplay(t *testing.T) {
	h := counted(t, 3, "wash:6/300@2026-06-01").History
	without := replayed(t, h, "2026-06-20")
	h.Treatments = []TreatmentDay{{On: mustDate("2026-06-10"), Treatment: treatment(t, "oxalic-vapour"), Planned: true}}
	same(t, "a plan that nobody confirmed", replayed(t, h, "2026-06-20"), without, 1e-12)
	h.Treatments[0].Confirmed = true
	if got := replayed(t, h, "2026-06-20").Quantile(0.5); !(got < 0.9*without.Quantile(0.5)) {
		t.Error("a confirmed plan did nothing")
	}
	h.Treatments = []TreatmentDay{{On: mustDate("2026-06-01"), Treatment: treatment(t, "thymol")}}
	whole, at := replayed(t, h, "2026-06-28").Quantile(0.5), replayed(t, h, "2026-06-08").Quantile(0.5)
	h.Ends = []TreatmentEnd{{On: mustDate("2026-06-08")}}
	if got := replayed(t, h, "2026-06-28").Quantile(0.5); !(got > 1.5*whole) {
		t.Errorf("taken out after a week it leaves %v, after four %v", got, whole)
	}
	if got := replayed(t, h, "2026-06-08").Quantile(0.5); !(math.Abs(got-at) < 1e-9*at) {
		t.Errorf("on the day it came out %v, %v if it lies on", got, at)
	}
}
