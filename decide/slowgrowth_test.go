package decide

import (
	"math"
	"math/rand/v2"
	"testing"

	"halfcup/internal/long"
	"halfcup/sampling"
)

// growthYard is an invented yard whose mites grow, are lucky or not, and are
// washed as package decide has it, but for the growth of each colony, which is
// added. Its draws share no code with the replay but the model's own growth and
// the law of a count.
type growthYard struct {
	records []growthRecord
	added   []float64 // of each colony, a month
	yard    float64
}

func drawGrowthYard(t testing.TB, rng *rand.Rand, colonies, counts int, between float64) growthYard {
	t.Helper()
	blank := counted(t, 3).History
	days := make([]sampling.Date, counts)
	for i := range days {
		days[i] = mustDate("2026-04-20") + sampling.Date(30*i)
	}
	path, err := blank.newPath(days[0], days[len(days)-1])
	if err != nil {
		t.Fatal(err)
	}
	out := growthYard{yard: growthFigure("growth_yard") / 2 * rng.NormFloat64()}
	for range colonies {
		h, added := blank, out.yard+between*rng.NormFloat64()
		unseen := func(d sampling.Date) float64 {
			p := h.Year.Unseen(d)
			return math.Log(p.MedianPerHundred/100) + p.LogSD*rng.NormFloat64()
		}
		x := unseen(days[0])
		for i, d := range days {
			if i > 0 {
				m, err := path.Move(days[i-1], d)
				if err != nil {
					t.Fatal(err)
				}
				x += m.Shift + added + m.sd()*rng.NormFloat64()
				if rng.Float64() < unrecorded(30) {
					x = unseen(d)
				}
			}
			c := sampling.Count{Method: sampling.Wash, Amount: sampling.Amount{Value: 300, Unit: sampling.Bees}, Date: d}
			law, err := h.Assumptions.Foresee(sampling.Normal(x, 0.02), nil, c)
			if err != nil {
				t.Fatal(err)
			}
			u := rng.Float64()
			for law.Chance(c.Mites, false) < u && c.Mites < 300 {
				c.Mites++
			}
			h.Counts = append(h.Counts, c)
		}
		r, err := h.growthRecord(days[0], days[len(days)-1])
		if err != nil {
			t.Fatal(err)
		}
		out.records, out.added = append(out.records, r), append(out.added, added)
	}
	return out
}

func TestTrySlow(t *testing.T) {
	for _, between := range []float64{0, 0.3} {
		var named, false_, sum, n float64
		var bins [10][2]float64
		for seed := range long.Of(20, 200) {
			y := drawGrowthYard(t, rand.New(rand.NewPCG(uint64(seed), 7)), 20, 5, between)
			for i, p := range growthBeside(y.records, 0.9) {
				n++
				slower := 0.0
				if y.added[i] < y.yard {
					slower = 1
				}
				b := int(min(p.Slower*10, 9))
				bins[b][0] += slower
				bins[b][1]++
				if p.Slower >= 0.9 {
					named++
					sum += 1 - p.Slower
					false_ += 1 - slower
				}
			}
		}
		t.Log(between, "of", n, "named", named, "false", false_, "stated", sum, bins)
	}
}

func BenchmarkGrowthRecord(b *testing.B) {
	a := yardOf(b, 1)
	for b.Loop() {
		if _, err := a.Colonies[0].growthRecord(mustDate("2026-01-01"), mustDate("2026-12-31")); err != nil {
			b.Fatal(err)
		}
	}
}
