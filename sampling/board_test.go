package sampling

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"halfcup/internal/long"
)

// Each pair is foretold from the other three, and hits when it lies inside
// their middle 95 % for one more yard. What was found is asserted as it was
// found.
//
// Finding: all four hit. The others leave intervals whose ends are 10 to 70
// times apart. Hits in an interval that wide bear out the width, not the use
// of a board by itself.
func TestBoardPairsLeftOutOneByOne(t *testing.T) {
	pairs := BoardPairs()
	want := []float64{0.39, -0.44, 1.78, -1.60}
	hits := 0
	for i, p := range pairs {
		others := slices.Delete(slices.Clone(pairs), i, i+1)
		median, sd := boardYards(others)
		z := math.Log(p.Ratio/median) / sd
		verdict := "miss"
		if math.Abs(z) < 1.96 {
			verdict, hits = "hit", hits+1
		}
		t.Logf("%s: %s a day for each mite per hundred; foretold %.1f (%.1f to %.1f) by the others, %+.2f log-SD: %s",
			p.Source, fmt.Sprintf("%.1f", p.Ratio), median, median*math.Exp(-1.96*sd), median*math.Exp(1.96*sd), z, verdict)
		if !(math.Abs(z-want[i]) <= 0.01) {
			t.Errorf("pair %d: %+.2f log-SD, was found at %+.2f", i+1, z, want[i])
		}
	}
	if hits != len(pairs) {
		t.Errorf("%d hits of %d", hits, len(pairs))
	}
}

// What the rules of thumb say, put on the scale of a board and held against
// the pairs (the rule's own pair left out). A rule "mites of the colony = fall
// × k" over A bees, with a share s of the mites on them, is A/(100·s·k) mites a
// day for each mite per hundred bees. The rules name neither A nor s: those
// are ours, with s a quarter in full brood, a third with less of it and one
// without (Cramp, A Practical Manual of Beekeeping: × 6, × 3 and × 1).
//
// Findings: the rules for summer, spring and autumn hit. The winter rule
// misses by a factor of forty-five: a board over no brood needs a figure of its
// own. One mite for 300, the German rule that names no season, is ten times
// the UK rule: it hits without brood and just misses in July.
func TestBoardRulesOfThumb(t *testing.T) {
	const cramp, german = "Cramp, A Practical Manual of Beekeeping", "leaflet of a north-west German association"
	for _, tc := range []struct {
		rule         string
		multiplier   float64
		bees, onBees float64
		brood        bool
		want         float64 // log-SDs of one more yard from the reading
	}{
		{"×30, May to August: " + cramp, 30, 30000, 0.25, true, 1.79},
		{"×100, spring and autumn: " + cramp, 100, 18000, 0.33, true, -1.53},
		{"×400, November to February, were it read as over brood: " + cramp, 400, 12000, 1, true, -6.37},
		{"×300 in July: " + german, 300, 30000, 0.25, true, -2.05},
		{"×300 without brood: " + german, 300, 12000, 1, false, 0.29},
	} {
		ratio := tc.bees / (100 * tc.onBees * tc.multiplier)
		fall := DefaultAssumptions().BoardBroodless
		if tc.brood {
			pairs := BoardPairs()
			pairs = slices.Delete(pairs, 2, 3) // the third is the ×30 rule itself
			fall.MedianPerDayPerHundred, fall.LogSD = boardYards(pairs)
		}
		z := math.Log(ratio/fall.MedianPerDayPerHundred) / fall.LogSD
		verdict := "hit"
		if math.Abs(z) >= 1.96 {
			verdict = "miss"
		}
		t.Logf("%s: %.2f a day for each mite per hundred, against %.1f; %+.2f log-SD: %s", tc.rule, ratio, fall.MedianPerDayPerHundred, z, verdict)
		if !(math.Abs(z-tc.want) <= 0.01) {
			t.Errorf("%s: %+.2f log-SD, was found at %+.2f", tc.rule, z, tc.want)
		}
	}
}

// What follows integrates boards and knockdowns by plain sums that share no
// code, axis or spacing with the package. The law of a factor is a list of
// weighted values; those of sums and products of two factors are made of all
// pairs of values, gathered on a logarithmic axis in steps of 2 %.

const bruteStep = 0.02

func gather(nodes []node) []node {
	low, high := math.Inf(1), math.Inf(-1)
	for _, n := range nodes {
		low, high = math.Min(low, n.v), math.Max(high, n.v)
	}
	first := math.Round(math.Log(low)/bruteStep) - 1
	bins := make([]float64, int(math.Round(math.Log(high)/bruteStep)-first)+2)
	for _, n := range nodes {
		// Over three neighbours, so that mean and spread stay what they are.
		s := math.Log(n.v)/bruteStep - first
		i := math.Round(s)
		r := s - i
		bins[int(i)-1] += n.w * r * (r - 1) / 2
		bins[int(i)] += n.w * (1 - r*r)
		bins[int(i)+1] += n.w * r * (r + 1) / 2
	}
	var out []node
	for i, w := range bins {
		if math.Abs(w) > 1e-11 {
			out = append(out, node{math.Exp((first + float64(i)) * bruteStep), w})
		}
	}
	return out
}

func combine(a, b []node, f func(x, y float64) float64) []node {
	out := make([]node, 0, len(a)*len(b))
	for _, x := range a {
		for _, y := range b {
			if w := x.w * y.w; math.Abs(w) > 1e-13 {
				out = append(out, node{f(x.v, y.v), w})
			}
		}
	}
	return gather(out)
}

func times(x, y float64) float64 { return x * y }
func plus(x, y float64) float64  { return x + y }

// bruteWide is a log-normal with nodes close enough for narrow counts.
func bruteWide(median, sd float64) []node {
	return overBell(-6, 6, 121, func(z float64) float64 { return -z * z / 2 },
		func(z float64) float64 { return median * math.Exp(sd*z) })
}

// bruteGamma is a gamma factor of mean one.
func bruteGamma(cv float64) []node {
	shape := 1 / (cv * cv)
	return overBell(-7*cv-0.5, 5*cv, 80, func(z float64) float64 { return shape * (z - math.Exp(z)) }, math.Exp)
}

// bruteFall is the likelihood of boards, knockdowns and counted washes, by the
// formulas of the package comment only.
func bruteFall(a Assumptions, counts []Count) brute {
	type factor struct {
		by    []node
		given func(v, theta float64) float64
	}
	var factors []factor
	for _, c := range counts {
		days := c.Amount.Value
		share, clumps := 1.0, []node{{1, 1}}
		if c.Cells.Of > 0 {
			share = float64(c.Cells.Counted) / float64(c.Cells.Of)
			cv := a.BoardCellsCV * math.Sqrt((1-share)/share)
			s := math.Sqrt(math.Log(1 + cv*cv))
			clumps = bruteNormal(-s*s/2, s)
		}
		fall := a.BoardBrood
		if c.Hive.Broodless {
			fall = a.BoardBroodless
		}
		adults, sd := c.Hive.AdultBees, math.Sqrt(math.Log(1+c.Hive.AdultBeesCV*c.Hive.AdultBeesCV))
		if adults == 0 {
			adults, sd = fall.Bees, a.BeesUnknownLogSD
		}
		bees := bruteWide(adults, sd)
		switch c.Method {
		case Wash:
			law := nbLaw(c.Mites, 1/(a.FrameCV*a.FrameCV))
			factors = append(factors, factor{[]node{{1, 1}}, func(_, theta float64) float64 { return law(c.Amount.Value * theta) }})
		case Board:
			law := nbLaw(c.Mites, days/(a.BoardDayCV*a.BoardDayCV))
			c := combine(bruteWide(fall.MedianPerDayPerHundred/fall.Bees, fall.LogSD), combine(bees, clumps, times), times)
			factors = append(factors, factor{c, func(v, theta float64) float64 { return law(days * share * 100 * v * theta) }})
		case Knockdown:
			kill := Beta{36, 4}
			if !c.Hive.Broodless {
				kill = Beta{9, 3}
			}
			down := combine(bruteBeta(kill), bruteBeta(a.Reach), times)
			law, added := nbLaw(c.Mites, math.Inf(1)), 0.0
			if c.FallBefore != nil {
				added = days * *c.FallBefore
			} else {
				c1 := bruteWide(days*100*fall.MedianPerDayPerHundred/fall.Bees, fall.LogSD)
				down = combine(down, combine(c1, bruteGamma(a.BoardDayCV/math.Sqrt(days)), times), plus)
			}
			factors = append(factors, factor{combine(down, bees, times), func(v, theta float64) float64 { return law(v*theta + added) }})
		}
	}
	given := func(theta float64) float64 {
		out := 1.0
		for _, f := range factors {
			sum := 0.0
			for _, n := range f.by {
				sum += n.w * f.given(n.v, theta)
			}
			out *= sum
		}
		return out
	}
	return newBrute(a, 0.02, given)
}

// A hundred boards, knockdowns and mixtures of them, with the mites drawn round
// what is expected.
func TestFallsAgainstNestedSums(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	a := DefaultAssumptions()
	for i := range long.Of(25, 100) {
		hive := Hive{Broodless: r.IntN(3) == 0}
		if r.IntN(3) > 0 {
			hive.AdultBees, hive.AdultBeesCV = float64(8000+r.IntN(30000)), 0.2*r.Float64()
		}
		theta := math.Exp(-4.4 + 0.9*r.NormFloat64())
		near := func(mean float64) int { return int(mean * math.Exp(0.4*r.NormFloat64())) }
		fall, bees := a.BoardBrood, 25000.0
		if hive.Broodless {
			fall, bees = a.BoardBroodless, 12000
		}
		board := Count{Method: Board, Amount: Amount{float64(1 + r.IntN(7)), Days}, Hive: hive}
		board.Mites = near(board.Amount.Value * 100 * theta * fall.MedianPerDayPerHundred)
		if r.IntN(2) == 0 {
			board.Cells = Cells{33, 99}
			board.Mites /= 3
		}
		knockdown := Count{Method: Knockdown, Amount: Amount{float64(2 + r.IntN(6)), Days}, Hive: hive, Treatment: TreatmentName{"oxalic acid", "vapour"}}
		knockdown.Mites = near(0.7 * bees * theta)
		if r.IntN(2) == 0 {
			before := math.Floor(100 * theta * fall.MedianPerDayPerHundred)
			knockdown.FallBefore = &before
			knockdown.Mites += int(before * knockdown.Amount.Value)
		}
		wash := Count{Method: Wash, Mites: near(300 * theta), Amount: Amount{300, Bees}}
		counts := [][]Count{{board}, {knockdown}, {board, wash}, {knockdown, wash}}[i%4]
		bruteFall(a, counts).compare(t, mustPosterior(t, a, a.Prior.Density(), counts...))
		if t.Failed() {
			t.Fatalf("case %d: %v, hive %+v, fall before %v", i, counts, hive, knockdown.FallBefore)
		}
	}
}

// Dividing the mites by the days first and reading the result as a board of
// one day is another answer: it throws away that 120 mites tell more than 24,
// and that days even out.
func TestBoardDaysAreNotScaledAway(t *testing.T) {
	a := DefaultAssumptions()
	a.BoardBrood.LogSD = 0.5 // calibrated, where it matters most
	five := mustPosterior(t, a, a.Prior.Density(), count(t, "board:120/5d")).Summary(0.95)
	naive := mustPosterior(t, a, a.Prior.Density(), count(t, "board:24/1d")).Summary(0.95)
	t.Logf("120 in 5 days: %.2f to %.2f; as 24 in one: %.2f to %.2f", five.Low, five.High, naive.Low, naive.High)
	if !(naive.High/naive.Low > 1.2*five.High/five.Low) {
		t.Error("the days made no difference")
	}
}

// Ostiguy & Sammataro (2000, Apidologie 31:707-716) counted a random third of
// the cells of boards in strata and were off by 0.4 ± 9.5 % of the whole count.
//
// Their boards' mites are not in the abstract. Thinning alone makes a third of
// N mites err by √(2/N): 9.5 % at 221 mites. So on boards of some 200 mites the
// error stated here (11.9 %) brackets theirs; on boards of 50 thinning alone is
// twice as much as theirs, so their boards held more; and on boards of a
// thousand and more only the clumps are left, 7 % as set here, below theirs.
// Strata, too, take a part of the clumps away that we leave in.
func TestThirdOfTheCells(t *testing.T) {
	a := DefaultAssumptions()
	c := Count{Method: Board, Cells: Cells{33, 99}}
	share, own, err := a.cells(c)
	if err != nil {
		t.Fatal(err)
	}
	mean, square := 0.0, 0.0
	for j, w := range own.w {
		v := math.Exp(float64(own.first+j) * gridStep)
		mean, square = mean+w*v, square+w*v*v
	}
	clumps := math.Sqrt(square/(mean*mean) - 1)
	close(t, "mean of the clumping factor", mean, 1, 1e-6)
	for _, tc := range []struct {
		mites  float64
		within bool // the stated error is at least the published one
	}{{20, true}, {50, true}, {100, true}, {221, true}, {400, true}, {1000, false}, {5000, false}} {
		thinning := math.Sqrt((1 - share) / share / tc.mites)
		stated := math.Hypot(thinning, clumps)
		t.Logf("%4.0f mites on the board: thinning %.1f %%, with clumps %.1f %% against 9.5 %%", tc.mites, 100*thinning, 100*stated)
		if (stated >= 0.095) != tc.within {
			t.Errorf("%.0f mites: stated %.3f", tc.mites, stated)
		}
	}
	close(t, "thinning of 221 mites", math.Sqrt(2.0/221), 0.095, 2e-3)
}

// Counting a third of the cells must cost something: the same fall, counted in
// full, is known better.
func TestCellsWiden(t *testing.T) {
	a := DefaultAssumptions()
	a.BoardBrood.LogSD, a.BoardDayCV = 0, 0
	part := count(t, "board:20/3d")
	part.Hive = Hive{AdultBees: 25000}
	whole := part
	part.Cells, whole.Mites = Cells{33, 99}, 60
	p, w := mustPosterior(t, a, a.Prior.Density(), part).Summary(0.95), mustPosterior(t, a, a.Prior.Density(), whole).Summary(0.95)
	if ratio := math.Log(p.High/p.Low) / math.Log(w.High/w.Low); !(ratio > 1.6) {
		t.Errorf("widths in the ratio %.2f; a third of the mites alone makes it √3", ratio)
	}
}

// The reading is in proportion to the bees, and wider where they are unknown.
func TestBoardFallOver(t *testing.T) {
	a := DefaultAssumptions()
	for _, tc := range []struct {
		hive              Hive
		median, sd, adult float64
	}{
		{Hive{AdultBees: 25000}, a.BoardBrood.MedianPerDayPerHundred, a.BoardBrood.LogSD, 25000},
		{Hive{AdultBees: 10000}, 0.4 * a.BoardBrood.MedianPerDayPerHundred, a.BoardBrood.LogSD, 10000},
		{Hive{}, a.BoardBrood.MedianPerDayPerHundred, math.Hypot(a.BoardBrood.LogSD, 0.3), 25000},
		{Hive{AdultBees: 6000, Broodless: true}, 0.15, 1, 6000},
		{Hive{Broodless: true}, 0.3, math.Hypot(1, 0.3), 12000},
	} {
		got, err := a.BoardFallOver(tc.hive)
		if err != nil {
			t.Fatal(err)
		}
		close(t, "median", got.MedianPerDayPerHundred, tc.median, 1e-12)
		close(t, "log-SD", got.LogSD, tc.sd, 1e-12)
		close(t, "bees", got.Bees, tc.adult, 1e-12)
	}
	for _, bad := range []Hive{{AdultBees: 50}, {AdultBees: 1e6}, {AdultBees: 20000, AdultBeesCV: 2}, {AdultBees: math.NaN()}} {
		if _, err := a.BoardFallOver(bad); err == nil {
			t.Errorf("%+v was read", bad)
		}
	}
	for _, bad := range []Cells{{0, 99}, {100, 99}, {3, 0}} {
		c := count(t, "board:3/3d")
		c.Cells = bad
		if _, err := a.Likelihood(c); err == nil {
			t.Errorf("%+v cells were read", bad)
		}
	}
}

// Where a third of the cells were counted, the fall is that of the whole board.
func TestFallPerDay(t *testing.T) {
	c := count(t, "board:24/36h")
	if got := c.FallPerDay(); got != 16 {
		t.Errorf("got %v", got)
	}
	c.Cells = Cells{33, 99}
	if got := c.FallPerDay(); got != 48 {
		t.Errorf("got %v", got)
	}
}
