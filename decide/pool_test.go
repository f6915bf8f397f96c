package decide_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/internal/long"
	"halfcup/internal/table"
	"halfcup/sampling"
)

// washLikelihood is the likelihood of a wash of so many counted bees, off one frame.
func washLikelihood(t testing.TB, a sampling.Assumptions, mites int, bees float64) sampling.Likelihood {
	t.Helper()
	l, err := a.Likelihood(sampling.Count{Method: sampling.Wash, Mites: mites, Amount: sampling.Amount{Value: bees, Unit: sampling.Bees}})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func times(t testing.TB, d sampling.Density, l sampling.Likelihood) sampling.Density {
	t.Helper()
	d, err := d.Times(l)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// washedMember is a colony of which carried was known and that was washed since.
func washedMember(t testing.TB, carried sampling.Density, mites int, bees float64) decide.Member {
	t.Helper()
	return decide.Member{Carried: carried, Known: []sampling.Density{times(t, carried, washLikelihood(t, sampling.DefaultAssumptions(), mites, bees))}}
}

func uncounted(carried sampling.Density) decide.Member {
	return decide.Member{Carried: carried, Known: []sampling.Density{carried}}
}

// sharedRecovery is the five quantiles of Beta(9, 2) that stand for a recovery
// a yard shares, each with the same weight.
func sharedRecovery() (values, weights []float64) {
	for _, p := range []float64{0.1, 0.3, 0.5, 0.7, 0.9} {
		values, weights = append(values, sampling.Beta{Alpha: 9, Beta: 2}.Quantile(p)), append(weights, 1)
	}
	return values, weights
}

// rolledMember is a colony rolled on the day whose recovery the yard shares. A
// roll that finds the share ρ is a wash of ρ times the bees.
func rolledMember(t testing.TB, carried sampling.Density, mites int, bees float64) decide.Member {
	t.Helper()
	m := decide.Member{Carried: carried}
	values, _ := sharedRecovery()
	for _, rho := range values {
		l := washLikelihood(t, sampling.DefaultAssumptions(), mites, rho*bees)
		m.Known = append(m.Known, times(t, carried, l))
		m.Chances = append(m.Chances, carried.Chance(l))
	}
	return m
}

func newPool(t testing.TB, members []decide.Member, weights []float64) *decide.Pool {
	t.Helper()
	p, err := decide.NewPool(members, weights, decide.DefaultYardPrior())
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func blend(t testing.TB, densities []sampling.Density, weights []float64) sampling.Density {
	t.Helper()
	d, err := sampling.Blend(densities, weights)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func lines(members []decide.Member, line float64) []float64 {
	return slices.Repeat([]float64{line}, len(members))
}

func over(t testing.TB, p *decide.Pool, lines []float64) []float64 {
	t.Helper()
	law, err := p.Over(lines)
	if err != nil {
		t.Fatal(err)
	}
	return law
}

func numbers(t testing.TB, text string) []float64 {
	t.Helper()
	var out []float64
	for _, f := range strings.Fields(text) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// poolMember is a colony of the reference table.
func poolMember(t testing.TB, row table.Row) decide.Member {
	t.Helper()
	var parts []sampling.Density
	var weights []float64
	for _, part := range strings.Fields(row["before"]) {
		f := numbers(t, strings.ReplaceAll(part, ":", " "))
		parts, weights = append(parts, sampling.Normal(math.Log(f[1]/100), f[2])), append(weights, f[0])
	}
	carried := blend(t, parts, weights)
	switch row["how"] {
	case "wash":
		return washedMember(t, carried, int(row.Number("mites")), row.Number("bees"))
	case "roll":
		return rolledMember(t, carried, int(row.Number("mites")), row.Number("bees"))
	}
	return uncounted(carried)
}

// The same model by nested sums in scipy (testdata/reference/pool.py), for
// yards of one, two, three and fourteen colonies of which different things were
// known before, with and without a recovery they share.
func TestPoolAgainstSums(t *testing.T) {
	colonies := decide.TestdataTable(t, "reference", "pool-colonies.csv")
	compared := 0
	for _, want := range decide.TestdataTable(t, "reference", "pool.csv") {
		t.Run(want["yard"], func(t *testing.T) {
			var members []decide.Member
			var rows []table.Row
			for _, row := range colonies {
				if row["yard"] == want["yard"] {
					members, rows = append(members, poolMember(t, row)), append(rows, row)
				}
			}
			var weights []float64
			if want["recovery"] != "" {
				_, weights = sharedRecovery()
			}
			p, err := decide.NewPool(members, weights, decide.YardPrior{Share: want.Number("share"), ShareLogitSD: want.Number("share_logit_sd")})
			if err != nil {
				t.Fatal(err)
			}
			relative := func(what string, got, want, tolerance float64) {
				t.Helper()
				if !(math.Abs(got/want-1) <= tolerance) {
					t.Errorf("%s: %v, want %v", what, got, want)
				}
			}
			read := func(what string, d sampling.Density, row table.Row, prefix string) {
				t.Helper()
				relative(what+" median", d.Quantile(0.5), row.Number(prefix+"median"), 1e-3)
				relative(what+" low", d.Quantile(0.025), row.Number(prefix+"low"), 1e-3)
				relative(what+" high", d.Quantile(0.975), row.Number(prefix+"high"), 1e-3)
				near(t, what+" over 2", d.Over(0.02), row.Number(prefix+"over_2"), 1e-4)
			}
			for i, row := range rows {
				read("colony "+row["colony"], p.Colonies()[i], row, "")
				read("others of "+row["colony"], p.Others()[i], row, "others_")
				if len(members[i].Known) == 1 {
					read("colony with its neighbours "+row["colony"], times(t, members[i].Known[0], p.Neighbours()[i]), row, "")
				}
				compared++
			}
			law := over(t, p, lines(members, 0.02))
			for k, v := range numbers(t, want["over"]) {
				near(t, fmt.Sprint("chance of ", k, " over"), law[k], v, 1e-4)
			}
			for s, v := range numbers(t, want["recovery"]) {
				near(t, fmt.Sprint("recovery ", s), p.Recovery()[s], v, 1e-4)
			}
			limits := func(what string, r decide.Range, want string) {
				t.Helper()
				v := numbers(t, want)
				near(t, what, r.Middle, v[0], 1e-3)
				near(t, what+" low", r.Low, v[1], 1e-3)
				near(t, what+" high", r.High, v[2], 1e-3)
			}
			if standing, ok := p.Standing(0.95); ok {
				share, _ := p.Share(0.95)
				limits("standing", standing, want["standing"])
				limits("share", share, want["share_is"])
			} else if len(members) > 1 {
				t.Error("no standing is told")
			}
			if v := numbers(t, want["mean"]); v != nil {
				// The log-normal shape of the mean costs up to 3 % at the limits
				// of two colonies; with more colonies less.
				mean, err := p.Mean()
				if err != nil {
					t.Fatal(err)
				}
				for i, q := range []float64{0.025, 0.5, 0.975} {
					relative(fmt.Sprint("mean at ", q), mean.Quantile(q), v[i], 0.03)
				}
			}
		})
	}
	if compared != 46 {
		t.Errorf("compared %d colonies, want 46", compared)
	}
}

// Maximum likelihood by lme4::glmer (testdata/reference/yards.R) fits ln θ ~
// Normal(m, σ²) to the open washes of a yard and visit. With the same normal law
// known of every colony beforehand, ours is that model with m and σ read off
// the standing and the share: m = c + s·μ and σ = s·√(1−r). Both priors are made
// so wide that they say little, and the frame-to-frame blur, which lme4 has not,
// is taken out. What is left is that we give the middle of a skew posterior and
// not its peak: less than half a standard error.
func TestPoolAgainstMaximumLikelihood(t *testing.T) {
	washes := decide.TestdataTable(t, "open", "washes-2022.csv")
	colonies := decide.TestdataTable(t, "reference", "yards-colonies.csv")
	sharp := sampling.DefaultAssumptions()
	sharp.FrameCV = 0
	const c, s = -4.605170185988091, 2.5
	carried := sampling.Normal(c, s)
	compared := 0
	for _, ml := range decide.TestdataTable(t, "reference", "yards.csv") {
		if ml["yard"] == "all" {
			continue
		}
		name := ml["yard"] + " " + ml["visit"]
		var members []decide.Member
		for _, w := range washes {
			if w["yard"] == ml["yard"] && w["visit"] == ml["visit"] {
				known := times(t, carried, washLikelihood(t, sharp, int(w.Number("mites")), w.Number("bees")))
				members = append(members, decide.Member{Carried: carried, Known: []sampling.Density{known}})
			}
		}
		p, err := decide.NewPool(members, nil, decide.YardPrior{Share: 0.85, ShareLogitSD: 2})
		if err != nil {
			t.Fatal(err)
		}
		standing, _ := p.Standing(0.95)
		share, _ := p.Share(0.95)
		m, sigma := c+s*standing.Middle, s*math.Sqrt(1-share.Middle)
		if off := (m - ml.Number("mu")) / ml.Number("se_mu"); !(math.Abs(off) <= 0.5) {
			t.Errorf("%s: the middle is %.2f standard errors off maximum likelihood", name, off)
		}
		if off := (sigma - ml.Number("sigma")) / ml.Number("se_sigma"); !(math.Abs(off) <= 0.5) {
			t.Errorf("%s: sigma is %.2f standard errors off maximum likelihood", name, off)
		}
		each := p.Colonies()
		for _, row := range colonies {
			if row["yard"] != ml["yard"] || row["visit"] != ml["visit"] {
				continue
			}
			d := each[0]
			each = each[1:]
			// Fixing m and σ moves the pulled rates of the lowest colonies most:
			// by up to a seventh of their own width.
			low, high := math.Log(row.Number("low")), math.Log(row.Number("high"))
			if off := (math.Log(d.Quantile(0.5)) - math.Log(row.Number("median"))) / ((high - low) / (2 * 1.96)); !(math.Abs(off) <= 0.15) {
				t.Errorf("%s %s: median %v, with m and sigma fixed %v: %.2f of its SD", name, row["colony"], d.Quantile(0.5), row["median"], off)
			}
			compared++
		}
	}
	if compared != 437 {
		t.Errorf("compared %d colonies, want all 437 washes", compared)
	}
}

// drawCarried is what may be known of a colony before it was counted: a bell,
// or a mixture as a course of treatment or a long gap leaves it.
func drawCarried(r *rapid.T, t testing.TB) sampling.Density {
	var parts []sampling.Density
	var weights []float64
	for range rapid.IntRange(1, 3).Draw(r, "parts") {
		median := rapid.Float64Range(0.1, 5).Draw(r, "median per hundred")
		parts = append(parts, sampling.Normal(math.Log(median/100), rapid.Float64Range(0.5, 1.5).Draw(r, "log-SD")))
		weights = append(weights, rapid.Float64Range(0.05, 1).Draw(r, "weight"))
	}
	return blend(t, parts, weights)
}

// drawYard is a yard of a few colonies, some of them not counted, with counts
// from none to more mites than bees.
func drawYard(r *rapid.T, t testing.TB) []decide.Member {
	members := make([]decide.Member, rapid.IntRange(1, 5).Draw(r, "colonies"))
	for i := range members {
		carried := drawCarried(r, t)
		switch rapid.IntRange(0, 3).Draw(r, "how") {
		case 0:
			members[i] = uncounted(carried)
		case 1:
			members[i] = rolledMember(t, carried, rapid.IntRange(0, 30).Draw(r, "mites"), 300)
		default:
			members[i] = washedMember(t, carried, rapid.IntRange(0, 40).Draw(r, "mites"), rapid.SampledFrom([]float64{30, 100, 300}).Draw(r, "bees"))
		}
	}
	return members
}

// sameDensity holds two densities to the same median, limits and chance.
func sameDensity(t interface {
	Helper()
	Fatalf(string, ...any)
}, what string, got, want sampling.Density, tolerance float64) {
	t.Helper()
	for _, p := range []float64{0.025, 0.5, 0.975} {
		if a, b := got.Quantile(p), want.Quantile(p); !(math.Abs(a/b-1) <= tolerance) {
			t.Fatalf("%s: the %v point is %v, want %v", what, p, a, b)
		}
	}
	if a, b := got.Over(0.02), want.Over(0.02); !(math.Abs(a-b) <= tolerance) {
		t.Fatalf("%s: chance over %v, want %v", what, a, b)
	}
}

// sumsGoodTo is what the sums over a yard are good to, in a part of a level and
// in chances: of 7000 yards drawn the limit that lay furthest off was off by 1.4
// parts in ten million.
const sumsGoodTo = 5e-7

// A colony none of whose neighbours was counted is what its own record makes of
// it, whatever was known before, whatever share of the spread lies between
// yards. It does not come about by leaving the sums out: they are done for the
// neighbour.
func TestPoolOfOne(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		carried := drawCarried(r, t)
		// A record of two counts with a gap: what lies between may have been
		// ordinary growth or something nobody wrote down.
		known := times(t, carried, washLikelihood(t, sampling.DefaultAssumptions(), rapid.IntRange(0, 40).Draw(r, "mites"), 300))
		if rapid.Bool().Draw(r, "gap") {
			step := sampling.NormalKernel(rapid.Float64Range(-1, 1).Draw(r, "growth"), 0.6)
			weights := []float64{0.8, 0.2}
			known = blend(t, []sampling.Density{known.Moved(step), carried}, weights)
			carried = blend(t, []sampling.Density{carried.Moved(step), carried}, weights)
			known = times(t, known, washLikelihood(t, sampling.DefaultAssumptions(), rapid.IntRange(0, 20).Draw(r, "later"), 300))
		}
		m := decide.Member{Carried: carried, Known: []sampling.Density{known}}
		prior := decide.YardPrior{Share: rapid.Float64Range(0.02, 0.98).Draw(r, "share"), ShareLogitSD: rapid.SampledFrom([]float64{0, 0.8}).Draw(r, "SD")}
		for _, members := range [][]decide.Member{{m}, {m, uncounted(drawCarried(r, t))}} { // the first without sums, the second with
			p, err := decide.NewPool(members, nil, prior)
			if err != nil {
				r.Fatal(err)
			}
			sameDensity(r, "colony", p.Colonies()[0], known, sumsGoodTo)
			sameDensity(r, "without its record", p.Others()[0], carried, sumsGoodTo)
			if p.Pooled()[0] {
				r.Fatalf("said to be pooled in a yard of %d", len(members))
			}
			if len(members) == 2 && !p.Pooled()[1] {
				r.Fatal("the neighbour is not said to be pooled")
			}
		}
		p, err := decide.NewPool([]decide.Member{m}, nil, prior)
		if err != nil {
			r.Fatal(err)
		}
		if got, want := over(t, p, []float64{0.02})[1], known.Over(0.02); !(math.Abs(got-want) <= 1e-6) {
			r.Fatalf("chance over %v, want %v", got, want)
		}
	})
}

// The order of the colonies changes nothing.
func TestPoolIsExchangeable(t *testing.T) {
	_, weights := sharedRecovery()
	rapid.Check(t, func(r *rapid.T) {
		members := drawYard(r, t)
		order := rapid.Permutation(slices.Collect(func(yield func(int) bool) {
			for i := range members {
				if !yield(i) {
					return
				}
			}
		})).Draw(r, "order")
		var turned []decide.Member
		for _, i := range order {
			turned = append(turned, members[i])
		}
		a, b := newPool(t, members, weights), newPool(t, turned, weights)
		for place, i := range order {
			sameDensity(r, "colony", b.Colonies()[place], a.Colonies()[i], 1e-9)
			sameDensity(r, "others", b.Others()[place], a.Others()[i], 1e-9)
		}
		law := over(t, b, lines(members, 0.02))
		for k, p := range over(t, a, lines(members, 0.02)) {
			if !(math.Abs(p-law[k]) <= 1e-9) {
				r.Fatalf("chance of %d over: %v and %v", k, p, law[k])
			}
		}
	})
}

// A colony nobody counted tells nothing: with it or without it the others are
// the same. Beside one colony alone, which needs no sums, it shows what the sums
// are good to.
func TestUncountedColonyTellsNothing(t *testing.T) {
	_, weights := sharedRecovery()
	rapid.Check(t, func(r *rapid.T) {
		members := drawYard(r, t)
		a, b := newPool(t, members, weights), newPool(t, append(slices.Clone(members), uncounted(drawCarried(r, t))), weights)
		tolerance := 1e-9
		if len(members) == 1 {
			tolerance = sumsGoodTo
		}
		for i := range members {
			sameDensity(r, "colony", b.Colonies()[i], a.Colonies()[i], tolerance)
			sameDensity(r, "others", b.Others()[i], a.Others()[i], tolerance)
		}
	})
}

// With the share between yards known, a colony nobody counted lies between
// where it would be had all its neighbours shown the fewest mites of any and
// the most. Beside one neighbour the mean of its normal score is that share of
// the neighbour's, as the mean of one of two normals with that correlation is.
// The same is not true of medians: where the neighbour's record is skewed and
// its middle near nothing, a greater share can move a median less.
func TestUncountedColonyLiesBetween(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		draw := func() sampling.Density {
			return sampling.Normal(math.Log(rapid.Float64Range(0.005, 0.03).Draw(r, "median")), rapid.Float64Range(0.9, 1.4).Draw(r, "log-SD"))
		}
		mine, theirs := draw(), draw()
		mites := rapid.SliceOfN(rapid.IntRange(0, 40), 1, 4).Draw(r, "mites")
		pool := func(share float64, mites ...int) []sampling.Density {
			members := []decide.Member{uncounted(mine)}
			for _, n := range mites {
				members = append(members, washedMember(t, theirs, n, 300))
			}
			p, err := decide.NewPool(members, nil, decide.YardPrior{Share: share})
			if err != nil {
				r.Fatal(err)
			}
			return p.Colonies()
		}
		median := func(mites ...int) float64 { return pool(0.6, mites...)[0].Quantile(0.5) }
		all := func(n int) []int { return slices.Repeat([]int{n}, len(mites)) }
		const rounding = 1 + 1e-6
		got := median(mites...)
		if low, high := median(all(slices.Min(mites))...), median(all(slices.Max(mites))...); !(got*rounding >= low && got <= high*rounding) {
			r.Fatalf("at %v, not between %v and %v", got, low, high)
		}
		for _, share := range []float64{0.1, 0.3, 0.6, 0.9} {
			both := pool(share, mites[0])
			if got, want := meanScore(mine, both[0]), share*meanScore(theirs, both[1]); !(math.Abs(got-want) <= 1e-6) {
				r.Fatalf("with a share of %v a mean score of %v, want %v", share, got, want)
			}
		}
	})
}

// meanScore is the mean of the normal score of a colony within what was carried.
func meanScore(carried, known sampling.Density) float64 {
	sum, mass := 0.0, 0.0
	for i, m := range carried.Scores().Mass(known) {
		sum, mass = sum+m*sampling.ScoreNodes()[i], mass+m
	}
	return sum / mass
}

// Records that contradict everything known and each other still give densities.
func TestPoolOfExtremes(t *testing.T) {
	_, weights := sharedRecovery()
	carried := []sampling.Density{
		sampling.Normal(math.Log(0.01), 1.2), sampling.Normal(math.Log(0.001), 0.4), sampling.Normal(math.Log(0.05), 0.3),
		blend(t, []sampling.Density{sampling.Normal(math.Log(0.0001), 0.5), sampling.Normal(math.Log(0.03), 0.5)}, []float64{0.95, 0.05}),
	}
	for share := range 3 {
		prior := decide.YardPrior{Share: []float64{0.6, 0.02, 0.98}[share], ShareLogitSD: []float64{0.8, 0, 0}[share]}
		for i, c := range carried {
			members := []decide.Member{
				washedMember(t, c, 0, 30_000), washedMember(t, carried[(i+1)%4], 300, 300), washedMember(t, carried[0], 0, 30_000),
				rolledMember(t, c, 0, 3000), uncounted(carried[(i+2)%4]), rolledMember(t, carried[3], 300, 300),
			}
			p, err := decide.NewPool(members, weights, prior)
			if err != nil {
				if prior.Share > 0.9 && errors.Is(err, sampling.ErrNoOverlap) {
					continue // they cannot be of yards that are so alike
				}
				t.Fatal(err)
			}
			law := over(t, p, lines(members, 0.02))
			sum := 0.0
			for _, v := range law {
				sum += v
			}
			near(t, "sum of the law of the number", sum, 1, 1e-6)
			mean, err := p.Mean()
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range append(slices.Concat(p.Colonies(), p.Others()), mean) {
				mass := 0.0
				for _, m := range d.Mass() {
					if !(m >= 0) {
						t.Fatalf("a mass of %v", m)
					}
					mass += m
				}
				near(t, "mass", mass, 1, 1e-9)
				if q := d.Quantile(0.5); !(q > 0) {
					t.Errorf("a median of %v", q)
				}
			}
		}
	}
}

// A treated colony stands where it stands among treated colonies, so the yard
// needs no groups. Naive: pooled on the scale of the level itself, as if all had
// begun alike, the treated ones speak for a colony that was not treated.
func TestTreatedNeighbours(t *testing.T) {
	untreated := sampling.Normal(math.Log(0.023), 1.2)
	treated := blend(t, []sampling.Density{sampling.Normal(math.Log(0.0015), 1.1), sampling.Normal(math.Log(0.017), 1.2)}, []float64{0.75, 0.25})
	var apart, alike []decide.Member
	for _, mites := range []int{15, 22, 18, 12} {
		apart = append(apart, washedMember(t, untreated, mites, 300))
		alike = append(alike, washedMember(t, untreated, mites, 300))
	}
	for range 6 {
		apart = append(apart, washedMember(t, treated, 1, 300))
		alike = append(alike, washedMember(t, untreated, 1, 300))
	}
	apart, alike = append(apart, uncounted(untreated), uncounted(treated)), append(alike, uncounted(untreated), uncounted(untreated))
	got, naive := newPool(t, apart, nil).Colonies(), newPool(t, alike, nil).Colonies()
	if a, b := got[10].Quantile(0.5), naive[10].Quantile(0.5); !(a > 2*b) {
		t.Errorf("untreated and not counted: %v, all taken for alike %v", a, b)
	}
	if a, b := got[11].Quantile(0.5), naive[11].Quantile(0.5); !(a < b/2) {
		t.Errorf("treated and not counted: %v, all taken for alike %v", a, b)
	}
	// Low counts of treated colonies are no surprise and speak for no low yard.
	alone := newPool(t, append(slices.Clone(apart[:4]), apart[10]), nil).Colonies()[4]
	if a, b := got[10].Quantile(0.5), alone.Quantile(0.5); !(math.Abs(math.Log(a/b)) < 0.35) {
		t.Errorf("untreated and not counted: %v, without the treated neighbours %v", a, b)
	}
}

// The naive ways to read a yard give other answers.
func TestNaiveYards(t *testing.T) {
	carried := sampling.Normal(math.Log(0.01), 1.2)
	var members []decide.Member
	bare := 0.0
	counts := []int{14, 11, 9, 16, 12, 2, 20, 8}
	for i, mites := range counts {
		bees := 300.0
		if i == 5 {
			bees = 100
		}
		members = append(members, washedMember(t, carried, mites, bees))
		bare += float64(mites) / bees / float64(len(counts)+1)
	}
	members = append(members, uncounted(carried))
	y := newPool(t, members, nil)

	// Each colony alone: two mites in 100 bees mean more in a yard where the
	// others have four or five per hundred.
	if got, naive := y.Colonies()[5].Over(0.02), members[5].Known[0].Over(0.02); !(got > naive+0.15) {
		t.Errorf("chance over of the small count: %v in the yard, %v alone", got, naive)
	}
	// And a colony nobody counted is not one of colonies in general.
	if got, naive := y.Colonies()[8].Over(0.02), carried.Over(0.02); !(got > naive+0.3) {
		t.Errorf("chance over of the colony not counted: %v in the yard, %v alone", got, naive)
	}
	// The mean of the bare figures takes the colony not counted for clean.
	mean, err := y.Mean()
	if err != nil {
		t.Fatal(err)
	}
	if got := mean.Quantile(0.5); !(got > bare*1.05) {
		t.Errorf("yard mean %v, of the bare figures %v", got, bare)
	}
	// The share over the line is not the share of the bare figures, and the
	// colonies being uncertain it has limits.
	share, err := y.ShareOver(lines(members, 0.04), 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if !(share.Low < share.Middle && share.Middle < share.High) {
		t.Errorf("share over: %+v", share)
	}
	// Each colony has its own line; the number expected over them is the sum of
	// their chances.
	own := make([]float64, len(members))
	expected, sum := 0.0, 0.0
	for i := range own {
		own[i] = 0.01 + 0.005*float64(i)
		expected += y.Colonies()[i].Over(own[i])
	}
	for k, p := range over(t, y, own) {
		sum += float64(k) * p
	}
	near(t, "expected number over lines of their own", sum, expected, 1e-5)
}

// On a damp day all rolls find little. Naive: with a recovery for each roll the
// errors would cancel, and the number over the line seem surer than it is; and
// one wash beside the rolls would say nothing of them.
func TestRollsOfOneDay(t *testing.T) {
	_, weights := sharedRecovery()
	carried := sampling.Normal(math.Log(0.023), 1.2)
	var together, apart []decide.Member
	for range 10 {
		m := rolledMember(t, carried, 6, 300)
		blurred := make([]float64, len(m.Known))
		for s := range blurred {
			blurred[s] = weights[s] * m.Chances[s]
		}
		together = append(together, m)
		apart = append(apart, decide.Member{Carried: carried, Known: []sampling.Density{blend(t, m.Known, blurred)}})
	}
	spread := func(members []decide.Member) float64 {
		var m, q float64
		for k, p := range over(t, newPool(t, members, weights), lines(members, 0.025)) {
			m += p * float64(k)
			q += p * float64(k*k)
		}
		return math.Sqrt(q - m*m)
	}
	if a, b := spread(together), spread(apart); !(a > 1.1*b) {
		t.Errorf("SD of the number over: %v, with a recovery for each roll %v", a, b)
	}

	// Five more colonies were washed, and show twice as many mites.
	for range 5 {
		together, apart = append(together, washedMember(t, carried, 14, 300)), append(apart, washedMember(t, carried, 14, 300))
	}
	one, many := newPool(t, together, weights), newPool(t, apart, weights)
	if a := one.Recovery(); !(a[0] > 0.25 && a[4] < 0.15) {
		t.Errorf("the recovery is %v", a)
	}
	if a, b := one.Colonies()[0].Quantile(0.5), many.Colonies()[0].Quantile(0.5); !(a > 1.04*b) {
		t.Errorf("a rolled colony is at %v, with a recovery for each roll at %v", a, b)
	}
}

// Yards drawn from the prior and counted: limits hold what they say.
func TestYardsFromThePrior(t *testing.T) {
	long.Only(t)
	const colonies, line, yards = 14, 0.02, 600
	prior := decide.DefaultYardPrior()
	values, weights := sharedRecovery()
	centres, sds := []float64{math.Log(0.023), math.Log(0.005)}, []float64{1.2, 0.8}
	var mutex sync.Mutex
	var held, shareHeld, bareHeld int
	one := func(seed uint64) {
		r := rand.New(rand.NewPCG(7, seed))
		logit := math.Log(prior.Share/(1-prior.Share)) + prior.ShareLogitSD*r.NormFloat64()
		share := 1 / (1 + math.Exp(-logit))
		mu := math.Sqrt(share) * r.NormFloat64()
		rho := values[r.IntN(len(values))]
		members := make([]decide.Member, colonies)
		truth := make([]float64, colonies)
		number := 0
		for i := range members {
			z := mu + math.Sqrt(1-share)*r.NormFloat64()
			truth[i] = math.Exp(centres[i%2] + sds[i%2]*z)
			if truth[i] > line {
				number++
			}
			carried := sampling.Normal(centres[i%2], sds[i%2])
			switch i % 3 {
			case 0:
				members[i] = uncounted(carried)
			case 1:
				members[i] = washedMember(t, carried, poisson(r, 100*truth[i]*frameFactor(r)), 100)
			case 2:
				members[i] = rolledMember(t, carried, poisson(r, 300*rho*truth[i]*frameFactor(r)), 300)
			}
		}
		y := newPool(t, members, weights)
		in := 0
		for i, d := range y.Colonies() {
			if q := d.Quantiles(0.05, 0.95); q[0] <= truth[i] && truth[i] <= q[1] {
				in++
			}
		}
		range90, err := y.ShareOver(lines(members, line), 0.9)
		if err != nil {
			t.Error(err)
		}
		standing, _ := y.Standing(0.9)
		mutex.Lock()
		defer mutex.Unlock()
		held += in
		if got := float64(number) / colonies; range90.Low <= got && got <= range90.High {
			shareHeld++
		}
		// Naive: a colony not counted is where the yard stands.
		if z := (math.Log(truth[0]) - centres[0]) / sds[0]; standing.Low <= z && z <= standing.High {
			bareHeld++
		}
	}
	var wait sync.WaitGroup
	for worker := range uint64(2) {
		wait.Go(func() {
			for i := range uint64(yards / 2) {
				one(2*i + worker)
			}
		})
	}
	wait.Wait()
	// 14 colonies of one yard share where it stands and so are not 14 trials:
	// the SD of the share held is near 0.6 %.
	if p := float64(held) / float64(yards*colonies); !(p >= 0.88 && p <= 0.92) {
		t.Errorf("the 90 %% limits hold %.2f %% of the colonies", 100*p)
	}
	if p := float64(shareHeld) / float64(yards); !(p >= 0.86) {
		t.Errorf("the 90 %% limits hold the share over the line in %.2f %% of the yards", 100*p)
	}
	if p := float64(bareHeld) / float64(yards); !(p <= 0.8) {
		t.Errorf("where the yard stands holds %.2f %% of the colonies not counted: the test shows nothing", 100*p)
	}
}

// frameFactor is a gamma of mean one and CV 0.25, which has the shape 16.
func frameFactor(r *rand.Rand) float64 {
	sum := 0.0
	for range 16 {
		sum += r.ExpFloat64()
	}
	return sum / 16
}

func poisson(r *rand.Rand, mean float64) int {
	if mean > 500 { // e^-mean would be lost
		return int(math.Max(0, math.Round(mean+math.Sqrt(mean)*r.NormFloat64())))
	}
	n, p, limit := 0, r.Float64(), math.Exp(-mean)
	for p > limit {
		n++
		p *= r.Float64()
	}
	return n
}

func TestPoolErrors(t *testing.T) {
	carried := sampling.Normal(math.Log(0.01), 1.2)
	good, rolled := uncounted(carried), rolledMember(t, carried, 3, 300)
	_, weights := sharedRecovery()
	fewer := rolled
	fewer.Chances = rolled.Chances[:2]
	never := rolled
	never.Chances = make([]float64, 5)
	for _, c := range []struct {
		name    string
		members []decide.Member
		weights []float64
		change  func(*decide.YardPrior)
	}{
		{"empty", nil, nil, nil},
		{"nothing known", []decide.Member{{Carried: carried}}, nil, nil},
		{"five for one", []decide.Member{rolled}, nil, nil},
		{"chances missing", []decide.Member{fewer}, weights, nil},
		{"impossible", []decide.Member{never}, weights, nil},
		{"no weight", []decide.Member{good}, []float64{0, 0}, nil},
		{"weight that is none", []decide.Member{good}, []float64{math.NaN()}, nil},
		{"no share", []decide.Member{good}, nil, func(p *decide.YardPrior) { p.Share = 0 }},
		{"a share of more than all", []decide.Member{good}, nil, func(p *decide.YardPrior) { p.Share = math.NaN() }},
		{"a wild share", []decide.Member{good}, nil, func(p *decide.YardPrior) { p.ShareLogitSD = 3 }},
	} {
		prior := decide.DefaultYardPrior()
		if c.change != nil {
			c.change(&prior)
		}
		_, err := decide.NewPool(c.members, c.weights, prior)
		var value *sampling.ValueError
		if !errors.As(err, &value) || value.Remedy == "" {
			t.Errorf("%s: error %v", c.name, err)
		}
	}
	var value *sampling.ValueError
	if _, err := newPool(t, []decide.Member{good}, nil).Over(nil); !errors.As(err, &value) {
		t.Errorf("no lines: error %v", err)
	}
}

func benchmarkPool(b *testing.B, colonies int) {
	_, weights := sharedRecovery()
	var members []decide.Member
	untreated := sampling.Normal(math.Log(0.023), 1.2)
	treated := blend(b, []sampling.Density{sampling.Normal(math.Log(0.0015), 1.1), sampling.Normal(math.Log(0.017), 1.2)}, []float64{0.75, 0.25})
	for i := range colonies {
		carried := untreated
		if i%3 == 0 {
			carried = treated
		}
		switch i % 10 {
		case 8:
			members = append(members, washedMember(b, carried, i%23, 300))
		case 9:
			members = append(members, uncounted(carried))
		default:
			members = append(members, rolledMember(b, carried, i%23, 300))
		}
	}
	own := lines(members, 0.02)
	b.Run("pool", func(b *testing.B) {
		for b.Loop() {
			newPool(b, members, weights)
		}
	})
	p := newPool(b, members, weights)
	b.Run("over", func(b *testing.B) {
		for b.Loop() {
			over(b, p, own)
		}
	})
	b.Run("mean", func(b *testing.B) {
		for b.Loop() {
			if _, err := p.Mean(); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkPoolOf1(b *testing.B)   { benchmarkPool(b, 1) }
func BenchmarkPoolOf30(b *testing.B)  { benchmarkPool(b, 30) }
func BenchmarkPoolOf200(b *testing.B) { benchmarkPool(b, 200) }
