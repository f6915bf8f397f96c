package sampling

import (
	"errors"
	"math"
	"testing"
)

func counts(t *testing.T, texts ...string) []Count {
	t.Helper()
	var out []Count
	for _, s := range texts {
		out = append(out, count(t, s))
	}
	return out
}

// chanceOf is the chance of counts before any was made.
func chanceOf(t *testing.T, a Assumptions, d Density, cs ...Count) float64 {
	t.Helper()
	l, err := a.Likelihood(cs...)
	if err != nil {
		t.Fatal(err)
	}
	return d.Chance(l)
}

// What a further count will show must be what the likelihood of all counts
// together says: P(next | made) = P(made, next)/P(made). The two are computed
// on different axes: Foresee on that of the method, Likelihood on that of θ.
func TestForesee(t *testing.T) {
	a := DefaultAssumptions()
	prior := a.Prior.Density()
	for _, c := range []struct {
		made []string
		next string
	}{
		{nil, "wash:0/300"},
		{nil, "roll:0/0.5cup/2f"},
		{[]string{"roll:4/300"}, "roll:0/300/3f"},                          // shares its recovery with the one made
		{[]string{"roll:4/300", "roll:12/0.5cup"}, "roll:0/200"},           // and with both
		{[]string{"roll:4/300"}, "wash:0/300"},                             // shares nothing
		{[]string{"wash:2/300", "roll:9/300"}, "co2:0/0.5cup/2f"},          // three methods
		{[]string{"board:40/3d", "wash:3/300"}, "board:0/3d"},              // a board and its reading
		{[]string{"wash:0/300", "wash:1/300", "wash:0/300"}, "wash:0/300"}, // the fourth of four
	} {
		made, next := counts(t, c.made...), count(t, c.next)
		p, err := a.Foresee(prior, made, next)
		if err != nil {
			t.Fatal(err)
		}
		theta := func(theta float64) float64 { return theta }
		over := func(theta float64) float64 { return 1 / (1 + math.Pow(0.02/theta, 8)) } // smooth, about θ > 0.02
		functions := [][]float64{p.Carry(theta), p.Carry(over)}
		chanceMade := chanceOf(t, a, prior, made...)
		total, low := 0.0, 0.0
		sums := make([]float64, len(functions))
		p.Outcomes(functions, func(y int, chance float64, parts []float64) bool {
			next.Mites = y
			if y < 20 || (y%50 == 0 && y <= 300) {
				all := append(append([]Count(nil), made...), next)
				if want := chanceOf(t, a, prior, all...) / chanceMade; !(math.Abs(chance-want) <= 1e-9) {
					t.Errorf("%v, then %s: chance %v, want %v", c.made, next, chance, want)
				}
				if chance > 1e-9 { // nodes that weigh 1e-16 of the most are left out
					after := mustPosterior(t, a, prior, all...)
					close(t, next.String()+": mean", parts[0]/chance, after.Mean(), 1e-6)
					close(t, next.String()+": about over", parts[1]/chance, after.Expect(over), 1e-6)
				}
			}
			low += chance
			if y < 30 && (!(math.Abs(p.Chance(y, false)-low) <= 1e-9) || !(math.Abs(p.Chance(y, true)-(1-low+chance)) <= 1e-6)) {
				t.Errorf("%v, then %s: at most %v, at least %v, want %v and %v", c.made, next, p.Chance(y, false), p.Chance(y, true), low, 1-low+chance)
			}
			total += chance
			for j, v := range parts {
				sums[j] += v
			}
			return y < 20_000 && (y < 200 || chance > 1e-12)
		})
		// The tail past the last outcome is what is missing.
		if !(math.Abs(total-1) <= 1e-6) {
			t.Errorf("%v, then %s: the chances sum to %v", c.made, c.next, total)
		}
		// No count changes what is expected on average (the law of total
		// expectation).
		before := prior
		if len(made) > 0 {
			before = mustPosterior(t, a, prior, made...)
		}
		for j, want := range []float64{before.Mean(), before.Expect(over)} {
			close(t, c.next+": mean", p.Mean(functions[j]), want, 1e-6)
			close(t, c.next+": sum over outcomes", sums[j], want, 1e-4)
		}
	}
}

// The same by nested sums that share nothing with the package: two rolls of a
// day, the chance of each second one after the first.
func TestForeseeAgainstNestedSums(t *testing.T) {
	a := DefaultAssumptions()
	first, next := count(t, "roll:5/300"), count(t, "roll:0/200/2f")
	p, err := a.Foresee(a.Prior.Density(), []Count{first}, next)
	if err != nil {
		t.Fatal(err)
	}
	size := 1 / (a.FrameCV * a.FrameCV)
	rhos := bruteBeta(a.Recovery[Roll])
	levels := overBell(-9, 5, 400, func(z float64) float64 { return -z * z / 2 },
		func(z float64) float64 { return math.Exp(math.Log(a.Prior.MedianPerHundred/100) + a.Prior.LogSD*z) })
	made := nbLaw(first.Mites, size)
	p.Outcomes(nil, func(y int, chance float64, _ []float64) bool {
		then := nbLaw(y, 2*size)
		both, before := 0.0, 0.0
		for _, theta := range levels {
			for _, rho := range rhos {
				w := theta.w * rho.w * made(300*rho.v*theta.v)
				before += w
				both += w * then(200*rho.v*theta.v)
			}
		}
		if want := both / before; !(math.Abs(chance-want) <= 1e-6) {
			t.Errorf("%d mites: chance %v, want %v", y, chance, want)
		}
		return y < 25
	})
	// Taken as if the second roll had a recovery of its own, the chance of many
	// mites comes out too high.
	naive, err := a.Foresee(mustPosterior(t, a, a.Prior.Density(), first), nil, next)
	if err != nil {
		t.Fatal(err)
	}
	if shared, fresh := p.Chance(10, true), naive.Chance(10, true); !(fresh > 1.03*shared) {
		t.Errorf("ten or more: %v with a shared recovery, %v with a fresh one", shared, fresh)
	}
}

// Only the bees and the frames may differ for what was carried to stay good.
func TestInstead(t *testing.T) {
	a := DefaultAssumptions()
	made := counts(t, "roll:4/300")
	p, err := a.Foresee(a.Prior.Density(), made, count(t, "roll:0/300"))
	if err != nil {
		t.Fatal(err)
	}
	for text, same := range map[string]bool{"roll:0/100/3f": true, "roll:0/600": true, "roll:0/0.5cup": false, "wash:0/300": false, "roll:0/300@2026-08-06": false, "roll:0/9g": false} {
		next := count(t, text)
		got, ok := p.Instead(next)
		if ok != same {
			t.Errorf("%s: %v, want %v", text, ok, same)
		}
		if ok {
			want, err := a.Foresee(a.Prior.Density(), made, next)
			if err != nil {
				t.Fatal(err)
			}
			for y := range 12 {
				close(t, text, got.Chance(y, true), want.Chance(y, true), 1e-12)
			}
		}
	}
}

func TestWeigh(t *testing.T) {
	a := DefaultAssumptions()
	prior := a.Prior.Density()

	one, evidence, err := a.Weigh(prior, counts(t, "wash:6/300"))
	if err != nil {
		t.Fatal(err)
	}
	close(t, "median before", evidence[0].MedianBefore, 1, 1e-6)
	close(t, "median after", evidence[0].MedianAfter, 100*one.Quantile(0.5), 1e-12)
	if evidence[0].Surprise != 1 {
		t.Errorf("a count alone surprises: %v", evidence[0].Surprise)
	}

	// Counts that agree, and a third that does not.
	cs := counts(t, "wash:3/300", "roll:4/300", "wash:40/300")
	all, evidence, err := a.Weigh(prior, cs)
	if err != nil {
		t.Fatal(err)
	}
	want := mustPosterior(t, a, prior, cs...)
	sameQuantiles(t, "all", all, want.Quantile, 1e-12)
	for i, e := range evidence {
		if e.Count != cs[i] {
			t.Errorf("evidence %d is of %v", i, e.Count)
		}
		if i > 0 && e.MedianBefore != evidence[i-1].MedianAfter {
			t.Errorf("%v starts from %v, the one before ends at %v", e.Count, e.MedianBefore, evidence[i-1].MedianAfter)
		}
		if e.Surprise < evidence[2].Surprise { // a small chance is a great surprise
			t.Errorf("%v surprises less than %v: %v and %v", cs[2], e.Count, evidence[2].Surprise, e.Surprise)
		}
	}
	if !(evidence[2].Surprise < 0.01) {
		t.Errorf("40 mites beside 3 and 4 surprise only to %v", evidence[2].Surprise)
	}
	if _, evidence, err = a.Weigh(prior, cs[:2]); err != nil || evidence[0].Surprise < 0.3 || evidence[1].Surprise < 0.3 {
		t.Errorf("3 and 4 mites surprise: %+v, %v", evidence, err)
	}

	// Surprise by its definition: twice the smaller tail of the last count,
	// given the others.
	given := chanceOf(t, a, prior, cs[:2]...)
	few := 0.0
	for y := range 41 {
		c := cs[2]
		c.Mites = y
		few += chanceOf(t, a, prior, cs[0], cs[1], c) / given
	}
	last := chanceOf(t, a, prior, cs...) / given
	_, evidence, _ = a.Weigh(prior, cs)
	if want := 2 * math.Min(few, 1-few+last); !(math.Abs(evidence[2].Surprise-want) <= 1e-8) {
		t.Errorf("surprise %v, want %v", evidence[2].Surprise, want)
	}
}

func TestWeighErrors(t *testing.T) {
	a := DefaultAssumptions()
	var value *ValueError
	if _, _, err := a.Weigh(a.Prior.Density(), counts(t, "wash:4/41g")); !errors.As(err, &value) {
		t.Errorf("a weight without the weight of 100 bees: %v", err)
	}
	if _, err := a.Foresee(a.Prior.Density(), counts(t, "wash:4/300"), count(t, "wash:4/41g")); !errors.As(err, &value) {
		t.Errorf("a weight without the weight of 100 bees: %v", err)
	}
	a.FrameCV = 0
	far := counts(t, "wash:0/100000", "wash:2000/100")
	if _, _, err := a.Weigh(a.Prior.Density(), far); !errors.Is(err, ErrNoOverlap) {
		t.Errorf("counts that cannot be: %v", err)
	}
	if _, err := a.Foresee(a.Prior.Density(), far, count(t, "wash:1/300")); !errors.Is(err, ErrNoOverlap) {
		t.Errorf("after counts that cannot be: %v", err)
	}
}
