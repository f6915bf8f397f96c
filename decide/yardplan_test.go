package decide_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/sampling"
)

// The chance of a yard's high colonies being among eight sampled, worked out
// from binomial coefficients: 1 - C(N-H,8)/C(N,8).
func TestFindsOne(t *testing.T) {
	for _, c := range []struct {
		yard, high int
		percent    float64
	}{{20, 2, 65}, {20, 4, 90}, {40, 4, 61}, {40, 8, 86}} {
		near(t, "percent", 100*decide.FindsOne(c.yard, c.high, 8), c.percent, 0.5)
	}
	// Naive: with replacement.
	if got, naive := decide.FindsOne(20, 4, 8), 1-math.Pow(0.8, 8); got-naive < 0.06 {
		t.Errorf("%v without replacement, %v with", got, naive)
	}
	for _, c := range []struct {
		yard, high, sampled int
		want                float64
	}{{14, 0, 8, 0}, {14, 3, 0, 0}, {14, 1, 14, 1}, {14, 14, 1, 1}, {1, 1, 1, 1}, {14, 20, 1, 1}, {14, 1, 99, 1}, {14, -1, -1, 0}} {
		near(t, "chance", decide.FindsOne(c.yard, c.high, c.sampled), c.want, 1e-12)
	}
}

// Every choice of colonies, one by one, in small yards.
func TestFindsOneByCounting(t *testing.T) {
	for yard := 1; yard <= 9; yard++ {
		for high := 0; high <= yard; high++ {
			for sampled := 0; sampled <= yard; sampled++ {
				all, found := 0, 0
				for set := range 1 << yard {
					size, hit := 0, false
					for i := range yard {
						if set>>i&1 == 1 {
							size++
							hit = hit || i < high
						}
					}
					if size == sampled {
						all++
						if hit {
							found++
						}
					}
				}
				near(t, "chance", decide.FindsOne(yard, high, sampled), float64(found)/float64(all), 1e-12)
			}
		}
	}
}

// Lee et al. 2010, J Econ Entomol 103:1039-1050, advise eight colonies of about
// 300 bees each in a yard of any size. With the differences between colonies of
// 47 untreated ones in September (k = 2.3 to 2.5) and 3 mites per hundred, the
// textbook formula (1/m + 1/k)/C² gives 8.7, and C = 0.26 for eight.
func TestColoniesNeededForTheMean(t *testing.T) {
	plan := decide.YardPlan{Colonies: 100_000, LevelPerHundred: 3, Precision: 0.25, ColonyCV: 1 / math.Sqrt(2.3)}
	if n, ok := plan.Needed(300); n != 9 || !ok {
		t.Errorf("%d colonies, want the 8.7 of the formula rounded up", n)
	}
	near(t, "precision of eight", plan.Reached(8, 300), 0.26, 0.005)
	for _, c := range []struct {
		k    float64
		want float64
	}{{1.2, 15}, {0.8, 22}} {
		plan.ColonyCV = 1 / math.Sqrt(c.k)
		n, _ := plan.Needed(300)
		near(t, "colonies", float64(n), c.want, 1)
	}

	// The differences between colonies alone, CV 0.73, in yards of any size:
	// 8.5 colonies, 4 of 5, 5 of 10, 6 of 20 and 8 of 40 by the usual
	// correction n/(1 + n/N). So many bees that nothing else matters.
	for yard, want := range map[int]int{5: 4, 10: 5, 20: 6, 40: 8, 100_000: 9} {
		plan := decide.YardPlan{Colonies: yard, LevelPerHundred: 100, Precision: 0.25, ColonyCV: 0.73}
		if n, ok := plan.Needed(1_000_000); n != want || !ok {
			t.Errorf("%d of %d colonies, want %d", n, yard, want)
		}
	}
	// Naive: without the correction a small yard can never be known.
	small := decide.DefaultYardPlan(5, 3)
	if n, ok := small.Needed(300); !ok || n > 5 {
		t.Errorf("%d of 5 colonies, %v", n, ok)
	}
	if n := (0.73*0.73 + 0.25*0.25 + 1./9) / (0.25 * 0.25); n < 11 {
		t.Errorf("%v without the correction: the test shows nothing", n)
	}
	// Nothing but the chance in each sample is left when all are sampled.
	near(t, "all of five", small.Reached(5, 300), math.Sqrt((1./9+0.25*0.25)/5), 1e-12)
	// A yard with hardly a mite in it needs more than there is.
	if n, ok := decide.DefaultYardPlan(3, 0.1).Needed(100); ok {
		t.Errorf("%d of 3 colonies reach the precision", n)
	}
}

func TestNeededIsTheFewest(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		p := decide.DefaultYardPlan(rapid.IntRange(1, 300).Draw(r, "colonies"), rapid.Float64Range(0.1, 10).Draw(r, "level"))
		p.Precision = rapid.Float64Range(0.05, 0.6).Draw(r, "precision")
		bees := rapid.IntRange(50, 900).Draw(r, "bees")
		n, ok := p.Needed(bees)
		if ok && p.Reached(n, bees) > p.Precision*(1+1e-6) {
			r.Fatalf("%d colonies reach %v", n, p.Reached(n, bees))
		}
		if n > 1 && n-1 <= p.Colonies && p.Reached(n-1, bees) <= p.Precision*(1-1e-6) {
			r.Fatalf("%d colonies would do", n-1)
		}
		if more, _ := p.Needed(bees + 50); more > n {
			r.Fatalf("more bees need more colonies: %d, %d", n, more)
		}
	})
}

func TestYardPlanErrors(t *testing.T) {
	for _, change := range []func(*decide.YardPlan){
		func(p *decide.YardPlan) { p.Colonies = 0 },
		func(p *decide.YardPlan) { p.LevelPerHundred = math.NaN() },
		func(p *decide.YardPlan) { p.Precision = 0 },
		func(p *decide.YardPlan) { p.ColonyCV = -1 },
		func(p *decide.YardPlan) { p.FrameCV = math.Inf(1) },
	} {
		p := decide.DefaultYardPlan(14, 2)
		if err := p.Check(); err != nil {
			t.Fatal(err)
		}
		change(&p)
		var value *sampling.ValueError
		if err := p.Check(); !errors.As(err, &value) {
			t.Errorf("%+v: error %v", p, err)
		}
	}
}
