package decide

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfcup/internal/long"
	"halfcup/sampling"
)

// The cut points begin at no mites, follow each other without a gap, end open,
// and move from leaving to treating; and they are the calls that the counts get
// when they are really made and put into the record.
func TestCutPointsAgainstCountsMade(t *testing.T) {
	for _, c := range []struct {
		act     float64
		counts  []string
		look    string // with a place for the mites
		planned sampling.Date
	}{
		{3, []string{"roll:8/300"}, "wash:%d/0.5cup/2f", 0},
		{3, []string{"roll:8/300"}, "roll:%d/0.5cup/1f", 0},
		{2, []string{"wash:2/100"}, "roll:%d/120ml/3f", 20},
		{2, []string{"wash:5/300@2026-05-10"}, "roll:%d/0.5cup/3f", 0},
		{1, nil, "roll:%d/0.5cup/3f", 0},
		{3, nil, "wash:%d/40ml", 10},
		{2, []string{"board:30/3d@2026-06-20"}, "board:%d/3d", 0},
	} {
		look, err := sampling.ParseCount(fmt.Sprintf(c.look, 0))
		if err != nil {
			t.Fatal(err)
		}
		look.Date = today
		plan := func(s Situation) Situation {
			if c.planned > 0 {
				s.NextTreatment = today + c.planned
			}
			return s
		}
		s := plan(counted(t, c.act, c.counts...))
		candidate, err := s.appraise(look)
		if err != nil {
			t.Fatal(err)
		}
		cuts, err := s.CutPoints(candidate)
		if err != nil {
			t.Fatal(err)
		}
		if cuts[0].From != 0 || cuts[len(cuts)-1].To != -1 || !cuts[len(cuts)-1].Call.Treats() {
			t.Errorf("%s after %v: %v", c.look, c.counts, cuts)
		}
		for i, cut := range cuts {
			made := []int{cut.From, cut.From + 1, cut.To}
			if i > 0 && (cut.From != cuts[i-1].To+1 || rank(cut.Call) <= rank(cuts[i-1].Call)) {
				t.Errorf("%s after %v: %v", c.look, c.counts, cuts)
			}
			if cut.To < 0 {
				made = []int{cut.From, cut.From + 1, cut.From + 20}
			}
			for _, mites := range made {
				if cut.To >= 0 && mites > cut.To {
					continue
				}
				s := plan(counted(t, c.act, append(slices.Clone(c.counts), fmt.Sprintf(c.look, mites))...))
				if call, _, err := s.calledToday(); err != nil || call != cut.Call {
					t.Errorf("%s after %v: %d mites made %s, the card says %v (%v)", c.look, c.counts, mites, call, cut, err)
				}
			}
		}
	}
}

// Counts that the sample cannot hold end the card, they do not break it.
func TestCutPointsOfAFewBees(t *testing.T) {
	s := believing(t, 3, sampling.Normal(math.Log(1e-4), 0.5))
	s.State.Counted, s.MinWorth = today, 0
	candidate, err := s.appraise(Scooped(sampling.Wash, 5, 1, today))
	if err != nil {
		t.Fatal(err)
	}
	cuts, err := s.CutPoints(candidate)
	if err != nil || cuts[0].From != 0 || cuts[len(cuts)-1].To != -1 {
		t.Errorf("%v, %v", cuts, err)
	}
	if call, err := s.callAt(candidate.Count, 1_000_000); err != nil || call != Treat {
		t.Errorf("a million mites: %s, %v", call, err)
	}
	var bad *sampling.ValueError
	if _, err := s.CutPoints(Candidate{Plan: ActNow}); !errors.As(err, &bad) {
		t.Errorf("cut points without a count: %v", err)
	}
}

// The spare rule: with dry bees and the default figures a sample that kills
// bees is never advised, over a grid of beliefs, counts, lines and schedules.
func TestDryBeesAreSpared(t *testing.T) {
	looks := 0
	for _, act := range []float64{1, 2, 3, 5} {
		for _, median := range []float64{0.002, 0.01, 0.02, 0.03, 0.05} {
			for _, sd := range []float64{0.4, 0.8, 1.3} {
				for _, planned := range []sampling.Date{0, 20} {
					for _, mites := range []int{-1, 3, 8} {
						var counts []sampling.Count
						if mites >= 0 {
							counts = append(counts, mitesIn(sampling.Roll, mites))
						}
						s := believing(t, act, sampling.Normal(math.Log(median), sd), counts...)
						s.State.Counted = today
						if planned > 0 {
							s.NextTreatment = today + planned
						}
						j := judged(t, s)
						if j.Advised.Lethal() {
							t.Errorf("act %v, belief %v ± %v, planned %d, roll %d: %+v", act, median, sd, planned, mites, j.Advised)
						}
						if j.Call == CountAgain {
							looks++
						}
					}
				}
			}
		}
	}
	if looks < 80 {
		t.Errorf("only %d looks advised", looks)
	}
}

// When a roll is out of the question a wash can be advised, and then only
// because it is worth more than the best look that kills none. With no bee to
// be killed none is even offered.
func TestDampBeesCanBeWashed(t *testing.T) {
	washed := 0
	for _, missCost := range []float64{DefaultMissCost, 10} {
		for _, act := range []float64{1, 2, 3, 5} {
			for _, median := range []float64{0.005, 0.015, 0.03, 0.05} {
				for _, sd := range []float64{0.8, 0.5, 1.3}[:long.Of(1, 3)] {
					s := believing(t, act, sampling.Normal(math.Log(median), sd), mitesIn(sampling.CO2, int(200*median)))
					s.MissCost, s.Without = missCost, []sampling.Method{sampling.Roll}
					j := judged(t, s)
					candidates, err := s.Candidates()
					if err != nil {
						t.Fatal(err)
					}
					for _, c := range candidates {
						if c.Plan != ActNow && c.Count.Method == sampling.Roll {
							t.Errorf("a roll of damp bees: %+v", c)
						}
						if c.Plan == LookNow && j.Advised.Lethal() && !c.Lethal() && c.Net >= j.Advised.Net {
							t.Errorf("advised %+v, yet %+v kills none", j.Advised, c)
						}
					}
					if j.Advised.Lethal() {
						washed++
					}
					s.Without = append(s.Without, sampling.Wash)
					if candidates, err = s.Candidates(); err != nil {
						t.Fatal(err)
					}
					if j := judged(t, s); j.Advised.Killed > 0 || slices.ContainsFunc(candidates, Candidate.Lethal) {
						t.Errorf("no kill: %+v", j.Advised)
					}
				}
			}
		}
	}
	if washed < 3 {
		t.Errorf("a wash was advised %d times", washed)
	}
}

// mitesIn is a scoop of 300 bees off one frame, made today, with some mites.
func mitesIn(m sampling.Method, mites int) sampling.Count {
	c := Scooped(m, 300, 1, today)
	c.Mites = mites
	return c
}

// Nobody has counted: look, gently, whatever the figures say.
func TestNeverCounted(t *testing.T) {
	for _, act := range []float64{0.2, 3, 40} {
		s := counted(t, act)
		s.MinWorth = 3
		if j := judged(t, s); j.Call != CountAgain || j.Advised.Plan != LookNow || j.Advised.Lethal() {
			t.Errorf("act %v: %s, %+v", act, j.Call, j.Advised)
		}
	}
}

// What is weighed, what it kills, takes and costs.
func TestCandidates(t *testing.T) {
	s := counted(t, 3, "roll:8/300")
	candidates, err := s.Candidates()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for i, c := range candidates {
		if i > 0 && c.Net > candidates[i-1].Net {
			t.Errorf("%+v comes after %+v", c, candidates[i-1])
		}
		if !(math.Abs(c.Net-(c.Worth-s.Costs.Of(c.Effort))) <= 1e-12) {
			t.Errorf("net of %+v", c)
		}
		seen[string(c.Plan)+" "+string(c.Count.Method)]++
	}
	want := map[string]int{"look roll": 2, "look wash": 2, "look board": 2, "stop and act now ": 1}
	for name, n := range want {
		if seen[name] != n {
			t.Errorf("%s: %d, want %d", name, seen[name], n)
		}
	}
	if len(seen) != len(want) {
		t.Errorf("%v", seen)
	}
	s.Without = []sampling.Method{sampling.Roll, sampling.Wash}
	for _, look := range s.looks() {
		if look.Method == sampling.Roll || look.Method == sampling.Wash {
			t.Errorf("offered %v", look)
		}
	}
}

func TestEffortByHand(t *testing.T) {
	board := sampling.Count{Method: sampling.Board, Amount: sampling.Amount{Value: 3, Unit: sampling.Days}, Date: today}
	for _, c := range []struct {
		count sampling.Count
		want  Effort
		cost  float64
	}{
		{Scooped(sampling.Wash, 300, 1, today), Effort{300, 14, 1}, 0.128},
		{Scooped(sampling.Roll, 300, 3, today), Effort{0, 20, 1}, 0.04},
		{Scooped(sampling.CO2, 100, 2, today), Effort{0, 13, 1}, 0.026},
		{board, Effort{0, 10, 2}, 0.05},
	} {
		e := DefaultCosts().Effort(c.count)
		if e != c.want || !(math.Abs(DefaultCosts().Of(e)-c.cost) <= 1e-12) {
			t.Errorf("%v: %+v costs %v, want %+v and %v", c.count, e, DefaultCosts().Of(e), c.want, c.cost)
		}
	}
	if got := DefaultCosts().Of(Effort{}); got != 0 {
		t.Errorf("nothing costs %v", got)
	}
}

// The gentler of two that net the same comes first, and equal to the best
// gentle one is not enough for one that kills.
func TestSpareAtATie(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		var candidates []Candidate
		for range rapid.IntRange(1, 6).Draw(r, "candidates") {
			candidates = append(candidates, Candidate{Plan: LookNow, Net: float64(rapid.IntRange(-2, 2).Draw(r, "net")), Effort: Effort{Killed: rapid.SampledFrom([]int{0, 300}).Draw(r, "killed")}})
		}
		advised := spare(append(candidates, Candidate{Plan: ActNow}))
		for _, c := range candidates {
			if c.Net > advised.Net || c.Net == advised.Net && advised.Lethal() && !c.Lethal() {
				r.Fatalf("advised %+v of %+v", advised, candidates)
			}
		}
	})
}

// The short way to the next step ends where the long one does, whatever is
// known and allowed, and a look is never worth more than to know exactly what
// it measures.
func TestNextStepIsTheBestOfAll(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anySituation(r, t)
		all, err := s.Candidates()
		if err != nil {
			r.Fatal(err)
		}
		now := slices.DeleteFunc(slices.Clone(all), func(c Candidate) bool { return c.Plan != LookNow })
		usual := slices.DeleteFunc(slices.Clone(now), func(c Candidate) bool { return small(c.Count) })
		for due, want := range map[bool]Candidate{false: spare(all), true: spare(usual)} {
			got, err := s.nextStep(due)
			if err != nil {
				r.Fatal(err)
			}
			// At a tie either will do.
			if !(math.Abs(got.Net-want.Net) <= 1e-9) || got.Lethal() != want.Lethal() {
				r.Fatalf("due %v: %+v, want %+v", due, got, want)
			}
		}
		least := s.leastCost()
		for _, c := range now {
			if s.Costs.Of(c.Effort) < least {
				r.Fatalf("%+v costs less than %v", c, least)
			}
			p, err := s.prospect(c.Count)
			if err != nil {
				r.Fatal(err)
			}
			if most := newOffer(p, s.Stakes()).perfect(); c.Worth > most+1e-9 {
				r.Fatalf("%+v is worth more than %v", c, most)
			}
		}
	})
}

// Naive: a look that is due after a treatment is sized by what the treatment is
// believed to have done, and a hundred bees would confirm any firm belief.
func TestDueLookIsNoSmallSample(t *testing.T) {
	s := believing(t, 2, sampling.Normal(math.Log(0.006), 0.3))
	s.AnySize = true
	all, err := s.Candidates()
	if err != nil {
		t.Fatal(err)
	}
	naive := spare(slices.DeleteFunc(all, func(c Candidate) bool { return c.Plan != LookNow }))
	if j := judged(t, s); ScoopedBees(naive.Count) != 100 || j.Call != CountAgain || ScoopedBees(j.Advised.Count) < 300 {
		t.Errorf("%s: %v, sized by belief alone %v", j.Call, j.Advised.Count, naive.Count)
	}
}

// appraise puts a value on making a count today.
func (s Situation) appraise(c sampling.Count) (Candidate, error) {
	p, err := s.prospect(c)
	if err != nil {
		return Candidate{}, err
	}
	return s.candidate(c, newOffer(p, s.Stakes())), nil
}

// spare picks the best candidate under the spare rule: one that kills bees only
// when it is worth more than the best that kills none.
func spare(candidates []Candidate) Candidate {
	var gentle, lethal Candidate
	for _, c := range candidates {
		best := &gentle
		if c.Lethal() {
			best = &lethal
		}
		if best.Plan == "" || c.Net > best.Net {
			*best = c
		}
	}
	if lethal.Plan != "" && lethal.Net > gentle.Net {
		return lethal
	}
	return gentle
}
