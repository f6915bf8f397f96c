package decide

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"halfcup/internal/long"
	"halfcup/sampling"
)

// Looks that share their carried regrets come to the same worth as each by
// itself.
func TestCandidatesByThemselves(t *testing.T) {
	s := counted(t, 2, "roll:4/0.5cup", "wash:2/100")
	candidates, err := s.Candidates()
	if err != nil {
		t.Fatal(err)
	}
	looks := 0
	for _, c := range candidates {
		if c.Plan != LookNow {
			continue
		}
		looks++
		alone, err := s.appraise(c.Count)
		if err != nil {
			t.Fatal(err)
		}
		if alone.Switch != c.Switch || !(math.Abs(alone.Worth-c.Worth) <= 1e-12) || !(math.Abs(alone.ChangesCall-c.ChangesCall) <= 1e-12) {
			t.Errorf("%v: %+v among others, %+v alone", c.Count, c.Outcome, alone.Outcome)
		}
	}
	if looks != len(s.looks()) {
		t.Errorf("%d looks, want %d", looks, len(s.looks()))
	}
}

// A prospect must not stand in for a count that depends on other factors.
func TestInsteadOnlyForTheSameFactors(t *testing.T) {
	s := counted(t, 2)
	p, err := s.prospect(Scooped(sampling.Roll, 300, 1, today))
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := p.Instead(Scooped(sampling.Roll, 100, 3, today)); !ok {
		t.Error("refused a roll of another size")
	}
	counted := Scooped(sampling.Roll, 300, 1, today)
	counted.Amount = sampling.Amount{Value: 300, Unit: sampling.Bees}
	for _, c := range []sampling.Count{
		Scooped(sampling.Wash, 300, 1, today), Scooped(sampling.Roll, 300, 1, today+1), counted,
		{Method: sampling.Board, Amount: sampling.Amount{Value: 3, Unit: sampling.Days}, Date: today},
	} {
		if _, ok := p.Instead(c); ok {
			t.Errorf("a roll stood in for %v", c)
		}
	}
}

// A textbook exercise in the value of information (after Goodwin & Wright,
// Decision Analysis for Management Judgment, from memory): one case in fifty is
// bad, acting costs 30,000, a bad case left alone 2,000,000, and a test is right
// six times in ten. Bayes by hand: perfect knowledge is worth
// 0.98 · 30,000 = 29,400, the test 29,400 - 0.02·0.4·1,970,000 -
// 0.98·0.4·30,000 = 1,880.
func TestWorthOfATestOnTwoStates(t *testing.T) {
	const bad, act, ignored, right = 0.02, 30_000.0, 2_000_000.0, 0.6
	part := func(whenBad, whenGood float64) Regret { // of a result, by its chances in the two states
		return Regret{Treat: (1 - bad) * whenGood * act, Leave: bad * whenBad * (ignored - act)}
	}
	now := part(1, 1)
	o := appraise(now, func(visit func(int, float64, Regret) bool) {
		if visit(0, bad*(1-right)+(1-bad)*right, part(1-right, right)) {
			visit(1, bad*right+(1-bad)*(1-right), part(right, 1-right))
		}
	})
	if !(math.Abs(now.Least()-29_400) <= 1e-9) {
		t.Errorf("perfect knowledge is worth %v", now.Least())
	}
	if !(math.Abs(o.Worth-1880) <= 1e-9) {
		t.Errorf("the test is worth %v", o.Worth)
	}
	// Acting is the better choice beforehand, and the test says otherwise when
	// it finds nothing: 1 - 0.404.
	if !now.Treats() || o.Switch != 1 || !(math.Abs(o.ChangesCall-0.596) <= 1e-12) {
		t.Errorf("%+v, acts now: %v", o, now.Treats())
	}
}

// The worth by cut points is what one gets by going through every count: its
// chance, the density after it, and the regret of the better choice then. The
// same sum shows that regrets after the count average to those before.
func TestWorthAgainstEveryCount(t *testing.T) {
	r := rand.New(rand.NewPCG(20, 26))
	pick := func(of ...int) int { return of[r.IntN(len(of))] }
	methods := []sampling.Method{sampling.Roll, sampling.Wash, sampling.CO2}
	for range long.Of(15, 50) {
		var past []sampling.Count
		for range r.IntN(3) {
			c := Scooped(methods[r.IntN(3)], pick(100, 200, 300), pick(1, 2, 3), today)
			c.Mites = r.IntN(12)
			past = append(past, c)
		}
		s := believing(t, 0.5+3*r.Float64(), sampling.Normal(math.Log(0.005+0.025*r.Float64()), 0.2+0.4*r.Float64()), past...)
		s.MissCost = 0.5 + 5*r.Float64()
		s.NextTreatment = today + sampling.Date(pick(5, 20, 60))
		next := Scooped(methods[r.IntN(3)], pick(50, 150, 400), pick(1, 2, 3), today)
		if r.IntN(2) == 0 {
			next.Amount = sampling.Amount{Value: float64(pick(30, 200, 312)), Unit: sampling.Bees}
		}
		c, err := s.appraise(next)
		if err != nil {
			t.Fatal(err)
		}
		now := s.Stakes().Regret(s.State.Known)
		before, err := s.History.Assumptions.Likelihood(past...)
		if err != nil {
			t.Fatal(err)
		}
		var after Regret
		least, seen := 0.0, 0.0
		for mites := 0; seen < 1-1e-9; mites++ {
			then, err := s.seeing(next, mites)
			if err != nil {
				t.Fatal(err)
			}
			l, err := s.History.Assumptions.Likelihood(then.State.Counts...)
			if err != nil {
				t.Fatal(err)
			}
			chance := s.State.Before.Chance(l) / s.State.Before.Chance(before)
			regret := s.Stakes().Regret(then.State.Known)
			after.Treat += chance * regret.Treat
			after.Leave += chance * regret.Leave
			least += chance * regret.Least()
			seen += chance
			if regret.Treats() != (c.Switch >= 0 && mites >= c.Switch) && chance > 1e-9 {
				t.Errorf("%v after %v: switch at %d, but treating is the better choice: %v at %d", next, past, c.Switch, regret.Treats(), mites)
			}
		}
		if !(math.Abs(c.Worth-(now.Least()-least)) <= 1e-8) {
			t.Errorf("%v after %v: worth %v, over every count %v", next, past, c.Worth, now.Least()-least)
		}
		if !(math.Abs(after.Treat-now.Treat) <= 1e-8) || !(math.Abs(after.Leave-now.Leave) <= 1e-8) {
			t.Errorf("%v after %v: regrets %+v average to %+v", next, past, now, after)
		}
	}
}

// The naive version takes the recovery of a second sugar roll of the day as
// fresh, although the same damp spoils both, and so makes too much of it.
func TestASecondRollSharesTheRecovery(t *testing.T) {
	s := counted(t, 3, "roll:7/300/3f")
	roll, stakes := Scooped(sampling.Roll, 300, 3, today), s.Stakes()
	appraise := func(before sampling.Density, counts []sampling.Count) float64 {
		p, err := s.History.Assumptions.Foresee(before, counts, roll)
		if err != nil {
			t.Fatal(err)
		}
		return newOffer(p, stakes).appraise().Worth
	}
	honest, naive := appraise(s.State.Before, s.State.Counts), appraise(s.State.Known, nil)
	if !(naive > 1.03*honest) {
		t.Errorf("worth %.4f, with a fresh recovery %.4f: want clearly more", honest, naive)
	}
}

// Worth is never negative nor above that of perfect knowledge, and at no cost
// more bees off as many frames are never worth less.
func TestWorthProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anySituation(r, t)
		s.Costs = Costs{}
		m := rapid.SampledFrom([]sampling.Method{sampling.Roll, sampling.Wash, sampling.CO2}).Draw(r, "method")
		frames := rapid.IntRange(1, 5).Draw(r, "frames")
		few, many := rapid.IntRange(40, 400).Draw(r, "bees"), rapid.IntRange(0, 400).Draw(r, "more bees")
		a, err := s.appraise(Scooped(m, few, frames, today))
		if err != nil {
			r.Fatal(err)
		}
		b, err := s.appraise(Scooped(m, few+many, frames, today))
		if err != nil {
			r.Fatal(err)
		}
		least := s.Stakes().Regret(s.State.Known).Least()
		for _, c := range []Candidate{a, b} {
			if c.Worth < 0 || c.Worth > least+1e-12 || c.ChangesCall < 0 || c.ChangesCall > 1 || c.Net != c.Worth {
				r.Fatalf("%v: %+v, perfect knowledge %v", c.Count, c, least)
			}
		}
		if b.Worth < a.Worth-1e-9 {
			r.Fatalf("%d bees are worth %v, %d bees %v", few, a.Worth, few+many, b.Worth)
		}
	})
}

// Days that are all alike make the fall on a board Poisson, whose chance of no
// mite is too small for a number at high levels. The walk over its counts must
// still meet every one of them, and end.
func TestWorthOfAPoissonFall(t *testing.T) {
	s := believing(t, 3, sampling.Normal(math.Log(0.02), 1.3))
	s.History.Assumptions.BoardDayCV = 0
	board := sampling.Count{Method: sampling.Board, Amount: sampling.Amount{Value: 7, Unit: sampling.Days}, Date: today}
	p, err := s.prospect(board)
	if err != nil {
		t.Fatal(err)
	}
	total, counts := 0.0, 0
	p.Outcomes(nil, func(_ int, chance float64, _ []float64) bool {
		total += chance
		counts++
		return total < 1-1e-4 && counts < 200_000
	})
	if !(total >= 1-1e-4 && total < 1+1e-9) {
		t.Errorf("%d counts have a chance of %v together", counts, total)
	}
	c, err := s.appraise(board)
	if err != nil || !(c.Worth > 0 && c.Switch > 100) {
		t.Errorf("%+v, %v", c, err)
	}
}
