package decide

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The worth of a pair by playing it: draw the recovery, roll a jar, decide upon
// what both then say, and see what is regretted less. It lies between nothing
// and what knowing the recovery would be worth. Naive: each colony by itself
// gains next to nothing, ten of them gain ten times that.
func TestWorthOfAPair(t *testing.T) {
	chances, found := []float64{0.3, 0.25, 0.2, 0.15, 0.1}, []float64{0.65, 0.77, 0.84, 0.89, 0.94}
	one := []Regret{{0.1, 0.9}, {0.2, 0.7}, {0.35, 0.5}, {0.5, 0.3}, {0.6, 0.2}}
	regrets := slices.Repeat([][]Regret{one}, 10)
	const mites, plays = 12, 200_000
	got := worthOfPair(regrets, chances, found, mites)

	r := rand.New(rand.NewPCG(5, 8))
	regretted := [2]float64{}
	for range plays {
		s, u := 0, r.Float64()
		for ; s < len(chances)-1 && u > chances[s]; s++ {
			u -= chances[s]
		}
		down := 0
		for range mites {
			if r.Float64() < found[s] {
				down++
			}
		}
		var before, after Regret
		for j, c := range chances {
			before.Treat, before.Leave = before.Treat+c*one[j].Treat, before.Leave+c*one[j].Leave
			w := c * math.Pow(found[j], float64(down)) * math.Pow(1-found[j], float64(mites-down))
			after.Treat, after.Leave = after.Treat+w*one[j].Treat, after.Leave+w*one[j].Leave
		}
		for i, by := range []Regret{before, after} {
			if by.Treats() {
				regretted[i] += 10 * one[s].Treat / plays
			} else {
				regretted[i] += 10 * one[s].Leave / plays
			}
		}
	}
	if played := regretted[0] - regretted[1]; !(math.Abs(got-played) < 0.02) {
		t.Errorf("worth %.4f, played %.4f", got, played)
	}
	perfect := 0.0
	for s, c := range chances {
		perfect -= 10 * c * one[s].Least()
	}
	perfect += regretted[0]
	if !(got > 0 && got < perfect+0.01) {
		t.Errorf("worth %.4f, knowing the recovery %.4f", got, perfect)
	}
	if alone := worthOfPair(regrets[:1], chances, found, mites); !(math.Abs(10*alone-got) < 1e-9) {
		t.Errorf("one colony gains %.4f, ten %.4f", alone, got)
	}
}

// A pair is advised where many calls hang on how much the rolls of the day
// found, and nowhere else.
func TestPairIsAdvisedWhereItIsWorthIt(t *testing.T) {
	near := slices.Repeat([]string{"roll:7/300"}, 14)
	sure := rolledYard(t, near...)
	for i := range sure.Colonies {
		a := sure.Colonies[i].Assumptions.Clone()
		law := a.Recovery["roll"]
		law.Alpha, law.Beta = 20*law.Alpha, 20*law.Beta
		a.Recovery["roll"] = law
		sure.Colonies[i].Assumptions = a
	}
	refused := rolledYard(t, near...)
	refused.Without = append(refused.Without, "wash")
	for name, c := range map[string]struct {
		a    Apiary
		want bool
	}{
		"many near the line":       {rolledYard(t, near...), true},
		"all far under it":         {rolledYard(t, slices.Repeat([]string{"roll:0/300"}, 14)...), false},
		"all far over it":          {rolledYard(t, slices.Repeat([]string{"roll:40/300"}, 14)...), false},
		"two colonies":             {rolledYard(t, near[:2]...), false},
		"pairs have told":          {sure, false},
		"no washes are wanted":     {refused, false},
		"rolled on an earlier day": {rolledYard(t, slices.Repeat([]string{"roll:7/300@2026-06-28"}, 14)...), false},
	} {
		y, err := c.a.Yard(today)
		if err != nil {
			t.Fatal(err)
		}
		if y.Pair != nil {
			t.Logf("%s: %+v", name, *y.Pair)
		}
		if (y.Pair != nil) != c.want {
			t.Errorf("%s: %+v", name, y.Pair)
		}
	}
}
