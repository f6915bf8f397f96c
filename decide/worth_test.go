package decide

import (
	"math"
	"testing"

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
		if alone.Switch != c.Switch || math.Abs(alone.Worth-c.Worth) > 1e-12 || math.Abs(alone.ChangesCall-c.ChangesCall) > 1e-12 {
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
