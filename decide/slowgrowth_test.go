package decide

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

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
			u, below := rng.Float64(), 0.0
			law.Outcomes(nil, func(mites int, chance float64, _ []float64) bool {
				c.Mites = mites
				below += chance
				return below < u && mites < 300
			})
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

// A named colony is named wrongly as often as its chance says, over yards whose
// colonies differ as growth.csv has it; and where all colonies are alike, chance
// alone names as few as is stated. Both within three binomial standard
// errors of the yards played, which are not those that the figures come from.
func TestSlowGrowthIsNamedAsStated(t *testing.T) {
	const colonies = 20
	alike, differ := long.Of(8, 40), long.Of(16, 60)
	bar := growthFigure("growth_named")
	var named, wrong, stated, variance float64
	rng := rand.New(rand.NewPCG(12, 2026))
	for range differ {
		y := drawGrowthYard(t, rng, colonies, 5, math.Abs(growthFigure("growth_between")*rng.NormFloat64()))
		for i, p := range growthBeside(y.records, 0.9) {
			if p.Slower >= bar {
				named++
				stated += 1 - p.Slower
				variance += p.Slower * (1 - p.Slower)
				if y.added[i] >= y.yard {
					wrong++
				}
			}
		}
	}
	t.Logf("%d yards whose colonies differ: %.0f colonies of %d named, %.0f of them wrongly, %.1f by their chances", differ, named, differ*colonies, wrong, stated)
	if named == 0 || !(math.Abs(wrong-stated) <= 3*math.Sqrt(variance)) {
		t.Errorf("%.0f of %.0f names are wrong, their chances say %.1f", wrong, named, stated)
	}
	for _, d := range []struct{ yards, colonies int }{{alike, colonies}, {2 * alike, 3}} {
		byChance := 0.0
		for range d.yards {
			for _, p := range growthBeside(drawGrowthYard(t, rng, d.colonies, 5, 0).records, 0.9) {
				if p.Slower >= bar {
					byChance++
				}
			}
		}
		n, share := float64(d.yards*d.colonies), namedAlone(d.colonies)
		t.Logf("%d yards of %d colonies that are alike: %.0f of %.0f named by chance alone, stated %.1f", d.yards, d.colonies, byChance, n, n*share)
		if !(math.Abs(byChance-n*share) <= 3*math.Sqrt(n*share*(1-share))) {
			t.Errorf("%d colonies: chance alone names %.0f of %.0f, stated %.1f", d.colonies, byChance, n, n*share)
		}
	}
}

// The slope of the counts alone names many more where all are alike.
func TestPlainSlopesNameTooMany(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 2026))
	plain, pooled, n := 0, 0, 0
	for range long.Of(4, 10) {
		y := drawGrowthYard(t, rng, 20, 5, 0)
		mean := 0.0
		for _, r := range y.records {
			mean += r.middle() / float64(len(y.records))
		}
		for i, p := range growthBeside(y.records, 0.9) {
			n++
			if r := y.records[i].middle(); r < mean-0.2 {
				plain++
			}
			if p.Slower >= growthFigure("growth_named") {
				pooled++
			}
		}
	}
	t.Logf("of %d colonies that are all alike, %d look a fifth slower a month by their own counts, and %d are named", n, plain, pooled)
	if !(plain > 5*pooled && plain > n/10) {
		t.Errorf("%d against %d of %d", plain, pooled, n)
	}
}

// middle is the most likely growth by the record alone.
func (r growthRecord) middle() float64 {
	best := 0
	for i, v := range r {
		if v > r[best] {
			best = i
		}
	}
	return growthNodes[best]
}

// Ranked against random slopes by lme4, on yards invented in R and on the open
// washes of 2022 (Aurell et al. 2025, J Econ Entomol, doi 10.1093/jee/toaf126)
// with the treatments hidden: their groups must come apart.
func TestGrowthAgainstMixedModel(t *testing.T) {
	type washed struct {
		History
		treatment   string
		slope, true float64
	}
	sets := map[string]map[string][]*washed{} // by set and yard
	byName := map[string]*washed{}
	blank := counted(t, 3).History
	for _, r := range TestdataTable(t, "reference", "growth.csv") {
		key := r["set"] + r["yard"] + r["colony"]
		k := byName[key]
		if k == nil {
			k = &washed{History: blank, treatment: r["treatment"], slope: r.Number("slope"), true: math.NaN()}
			if r["set"] == "open" {
				k.Year = southernSpring(t)
			} else {
				k.true = r.Number("true")
			}
			byName[key] = k
			if sets[r["set"]] == nil {
				sets[r["set"]] = map[string][]*washed{}
			}
			sets[r["set"]][r["yard"]] = append(sets[r["set"]][r["yard"]], k)
		}
		k.Counts = append(k.Counts, mustCount(t, "wash:"+r["mites"]+"/"+r["bees"]+"@"+r["date"]))
	}
	var agree []float64
	oursTrue, theirsTrue := 0.0, 0.0
	groups, theirGroups := map[string][]float64{}, map[string][]float64{}
	var openOurs, openTheirs []float64
	for set, yards := range sets {
		for _, yard := range yards {
			var records []growthRecord
			for _, k := range yard {
				first, last := k.Counts[0].Date, k.Counts[len(k.Counts)-1].Date
				r, err := k.growthRecord(first, last)
				if err != nil {
					t.Fatal(err)
				}
				records = append(records, r)
			}
			var ours, theirs, real []float64
			for i, p := range growthBeside(records, 0.9) {
				k := yard[i]
				ours, theirs, real = append(ours, math.Log(p.Factor.Middle)), append(theirs, k.slope), append(real, k.true)
				if set == "open" {
					theirGroups[k.treatment] = append(theirGroups[k.treatment], k.slope)
					groups[k.treatment] = append(groups[k.treatment], ours[i])
				}
			}
			if set == "open" {
				openOurs, openTheirs = append(openOurs, ours...), append(openTheirs, theirs...)
				continue
			}
			agree = append(agree, rankCorrelation(ours, theirs))
			oursTrue += rankCorrelation(ours, real) / 6
			theirsTrue += rankCorrelation(theirs, real) / 6
		}
	}
	open := rankCorrelation(openOurs, openTheirs)
	t.Logf("rank correlation with lme4 in six invented yards: %.2f; of ours with the truth %.2f, of lme4's %.2f; in the open washes %.2f", agree, oursTrue, theirsTrue, open)
	for _, r := range agree {
		if !(r > 0.7) {
			t.Errorf("ranks of a yard agree with lme4's by %.2f", r)
		}
	}
	if !(oursTrue > theirsTrue-0.05) {
		t.Errorf("ranks agree with the truth by %.2f, lme4's by %.2f", oursTrue, theirsTrue)
	}
	if !(open > 0.7) {
		t.Errorf("ranks of the open washes agree with lme4's by %.2f", open)
	}
	// By ranks, as the colonies would be named: how likely so low a sum is by
	// chance (Wilcoxon 1945, Biometrics Bulletin 1:80-83, by the normal law).
	treatedOurs, treatedTheirs := []float64{}, []float64{}
	for _, name := range slices.Sorted(maps.Keys(groups)) {
		z, zTheirs := rankSum(groups[name], groups["none"]), rankSum(theirGroups[name], theirGroups["none"])
		t.Logf("%-24s %2d colonies, growth a month beside the yard %.2f times; below the untreated by ranks, in standard errors: %.1f, by lme4's slopes %.1f",
			name, len(groups[name]), math.Exp(stat.Mean(groups[name], nil)), z, zTheirs)
		if name != "none" {
			treatedOurs, treatedTheirs = append(treatedOurs, groups[name]...), append(treatedTheirs, theirGroups[name]...)
		}
	}
	z, zTheirs := rankSum(treatedOurs, groups["none"]), rankSum(treatedTheirs, theirGroups["none"])
	t.Logf("all treated below the untreated: %.1f, by lme4's slopes %.1f", z, zTheirs)
	if !(z > 2.58) {
		t.Errorf("the treated do not come apart from the untreated: %.1f standard errors", z)
	}
}

// rankSum is how far the ranks of a lie below those of b, in standard errors.
func rankSum(a, b []float64) float64 {
	n, m := float64(len(a)), float64(len(b))
	wins := 0.0
	for _, x := range a {
		for _, y := range b {
			if x < y {
				wins++
			} else if x == y {
				wins += 0.5
			}
		}
	}
	return (wins - n*m/2) / math.Sqrt(n*m*(n+m+1)/12)
}

// rankCorrelation is Spearman's.
func rankCorrelation(a, b []float64) float64 {
	ranks := func(x []float64) []float64 {
		out := make([]float64, len(x))
		for i := range x {
			for j := range x {
				if x[j] < x[i] {
					out[i]++
				} else if x[j] == x[i] {
					out[i] += 0.5
				}
			}
		}
		return out
	}
	return stat.Correlation(ranks(a), ranks(b), nil)
}

func BenchmarkGrowthRecord(b *testing.B) {
	a := yardOf(b, 1)
	for b.Loop() {
		if _, err := a.Colonies[0].growthRecord(mustDate("2026-01-01"), mustDate("2026-12-31")); err != nil {
			b.Fatal(err)
		}
	}
}
