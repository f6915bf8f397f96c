package sampling

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func pairOf(t *testing.T, first, second string) Pair {
	t.Helper()
	p, err := NewPair(count(t, first), count(t, second))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func calibrated(t *testing.T, a Assumptions, pairs ...Pair) (Assumptions, []Calibration) {
	t.Helper()
	out, done, err := a.Calibrated(pairs)
	if err != nil {
		t.Fatal(err)
	}
	return out, done
}

// The method standard's example: a first wash brings down 10 mites, another
// one more, so that 10 of 11 were found, 0.91 (Dietemann et al. 2013, J Apic
// Res 52(1)). With no belief beforehand
// the most likely recovery is that share, and the mean is Laplace's (a+1)/(n+2).
func TestRecoveryOfTheMethodStandard(t *testing.T) {
	a := DefaultAssumptions()
	a.Recovery[Roll] = Beta{1, 1}
	out, _ := calibrated(t, a, pairOf(t, "roll:10/300", "wash:1/300"))
	got := out.Recovery[Roll]
	if !(math.Abs(got.Mode()-0.909) <= 5e-4) || !(math.Abs(got.Mean()-0.846) <= 5e-4) {
		t.Errorf("mode %.4f, mean %.4f; want 0.909, 0.846", got.Mode(), got.Mean())
	}
}

func TestRecoveryUpdate(t *testing.T) {
	for _, tc := range []struct {
		name  string
		prior Beta
		pairs []Pair
		want  Beta
	}{
		{"closed form", Beta{9, 2}, []Pair{pairOf(t, "roll:12/300", "wash:2/300"), pairOf(t, "roll:5/0.5cup", "wash:1/306")}, Beta{26, 5}},
		{"no mites tell nothing", Beta{9, 2}, []Pair{pairOf(t, "roll:0/300", "wash:0/300")}, Beta{9, 2}},
		// (9+90) : (2+10) weighs 111 and is brought down to 60.
		{"at most sixty", Beta{9, 2}, []Pair{pairOf(t, "roll:90/300", "wash:10/300")}, Beta{99 * 60.0 / 111, 12 * 60.0 / 111}},
		{"never less than before", Beta{90, 10}, []Pair{pairOf(t, "roll:80/300", "wash:20/300")}, Beta{85, 15}},
	} {
		a := DefaultAssumptions()
		a.Recovery[Roll] = tc.prior
		out, done := calibrated(t, a, tc.pairs...)
		got := out.Recovery[Roll]
		close(t, tc.name+" alpha", got.Alpha, tc.want.Alpha, 1e-12)
		close(t, tc.name+" beta", got.Beta, tc.want.Beta, 1e-12)
		if len(done) != 1 || done[0].Method != Roll || done[0].Pairs != len(tc.pairs) || done[0].RecoveryBefore != tc.prior || done[0].RecoveryAfter != got {
			t.Errorf("%s: report %+v", tc.name, done)
		}
		if a.Recovery[Roll] != tc.prior {
			t.Errorf("%s: the assumptions given were changed", tc.name)
		}
	}
}

// With very many mites, bees that were counted, no differences between days
// and frames and a belief about the level too wide to matter, each pair shows
// its colony's ln c without error. The yard's mean is then the textbook normal
// update: precisions add.
func TestBoardCalibrationTendsToTheNormalUpdate(t *testing.T) {
	a := DefaultAssumptions()
	a.FrameCV, a.BoardDayCV, a.Prior = 0, 0, Prior{30, 2}
	fall := a.BoardBrood
	yard, colony := splitBoardSpread(fall.LogSD)
	shifts := []float64{0.9, -0.2, 0.6, 0.1}
	var pairs []Pair
	sum := 0.0
	for i, s := range shifts {
		const bees, mites, days = 2000, 1500, 14 // 75 mites per hundred: absurd, but exact
		p := Pair{
			Gentle:    Count{Method: Board, Mites: int(days * 75 * fall.MedianPerDayPerHundred * math.Exp(s)), Amount: Amount{days, Days}, Hive: Hive{AdultBees: fall.Bees}},
			Reference: Count{Method: Wash, Mites: mites, Amount: Amount{bees, Bees}},
		}
		pairs = append(pairs, p)
		sum += s
		out, _ := calibrated(t, a, pairs...)
		n := float64(i + 1)
		precision := 1/(yard*yard) + n/(colony*colony)
		mean, sd := sum/(colony*colony)/precision, math.Sqrt(1/precision+colony*colony)
		if got := math.Log(out.BoardBrood.MedianPerDayPerHundred / fall.MedianPerDayPerHundred); !(math.Abs(got-mean) <= 2e-3) {
			t.Errorf("%d pairs: shift %.4f, want %.4f", i+1, got, mean)
		}
		close(t, "log-SD", out.BoardBrood.LogSD, sd, 2e-3)
	}
}

// bruteBoardPairs is the yard's and the predictive law by plain sums over the
// yard, each colony, its bees and its level, sharing no code or grid with the
// package.
func bruteBoardPairs(a Assumptions, pairs []Pair) (shift, sd float64) {
	yard, colony := splitBoardSpread(a.BoardBrood.LogSD)
	byColony := map[string][]Pair{}
	for _, p := range pairs {
		byColony[p.Colony] = append(byColony[p.Colony], p)
	}
	given := func(c float64, p Pair) float64 { // both counts, given the colony's factor on the median
		wash := nbLaw(p.Reference.Mites, 1/(a.FrameCV*a.FrameCV))
		days := p.Gentle.Amount.Value
		board := nbLaw(p.Gentle.Mites, days/(a.BoardDayCV*a.BoardDayCV))
		beesSD := math.Sqrt(math.Log(1 + p.Gentle.Hive.AdultBeesCV*p.Gentle.Hive.AdultBeesCV))
		sum := 0.0
		for _, bees := range bruteNormal(math.Log(p.Gentle.Hive.AdultBees/a.BoardBrood.Bees), beesSD) {
			for i := range 90 {
				x := math.Log(1e-5) + (float64(i)+0.5)*0.153
				z := (x - math.Log(a.Prior.MedianPerHundred/100)) / a.Prior.LogSD
				theta := math.Exp(x)
				sum += bees.w * math.Exp(-z*z/2) * wash(p.Reference.Amount.Value*theta) * board(days*100*theta*a.BoardBrood.MedianPerDayPerHundred*bees.v*c)
			}
		}
		return sum
	}
	// The likelihood of a colony depends on ln c alone: tabulate it there, at
	// steps that both the yard's and the colony's nodes fall on.
	const step = 0.1
	table := map[string][]float64{}
	for name, ps := range byColony {
		for k := -90; k <= 90; k++ {
			l := 1.0
			for _, p := range ps {
				l *= given(math.Exp(float64(k)*step), p)
			}
			table[name] = append(table[name], l)
		}
	}
	var total, mean, square float64
	for k := -45; k <= 45; k++ {
		s := float64(k) * step
		w := math.Exp(-s * s / (2 * yard * yard))
		for name := range byColony {
			inner := 0.0
			for j := -45; j <= 45; j++ {
				e := float64(j) * step
				inner += math.Exp(-e*e/(2*colony*colony)) * table[name][k+j+90]
			}
			w *= inner * 1e3
		}
		total, mean, square = total+w, mean+w*s, square+w*s*s
	}
	mean, square = mean/total, square/total
	return mean, math.Sqrt(square - mean*mean + colony*colony)
}

func TestBoardCalibrationAgainstNestedSums(t *testing.T) {
	a := DefaultAssumptions()
	pair := func(colony, board, wash string, bees float64) Pair {
		p := pairOf(t, board, wash)
		p.Colony, p.Gentle.Hive = colony, Hive{AdultBees: bees, AdultBeesCV: 0.2}
		return p
	}
	for _, pairs := range [][]Pair{
		{pair("oak", "board:40/3d", "wash:6/300", 25000)},
		{pair("oak", "board:0/2d", "wash:0/300", 14000)},
		{pair("oak", "board:40/3d", "wash:6/300", 25000), pair("elm", "board:9/4d", "wash:11/280", 18000), pair("ash", "board:160/3d", "wash:3/310", 40000)},
		{pair("oak", "board:40/3d", "wash:6/300", 25000), pair("oak", "board:65/3d", "wash:8/300", 25000), pair("elm", "board:12/3d", "wash:6/300", 20000)},
	} {
		out, _ := calibrated(t, a, pairs...)
		shift, sd := bruteBoardPairs(a, pairs)
		close(t, "median", out.BoardBrood.MedianPerDayPerHundred, a.BoardBrood.MedianPerDayPerHundred*math.Exp(shift), 1e-3)
		close(t, "log-SD", out.BoardBrood.LogSD, sd, 1e-3)
	}
}

// The plain average of the pairs' ratios, as one would do it on paper, is
// another answer: it forgets what was known before, takes a wash of six mites
// for the truth, and has no answer when the wash found none.
func TestPairRatiosAveragedAreAnotherAnswer(t *testing.T) {
	a := DefaultAssumptions()
	out, _ := calibrated(t, a, pairOf(t, "board:40/3d", "wash:6/300"), pairOf(t, "board:200/3d", "wash:2/300"))
	naive := math.Sqrt((40.0 / 3 / 2) * (200.0 / 3 / (2.0 / 3)))
	if got := out.BoardBrood.MedianPerDayPerHundred; !(got < 0.9*naive && got > a.BoardBrood.MedianPerDayPerHundred) {
		t.Errorf("calibrated %.3g, plain average %.3g", got, naive)
	}
	none, _ := calibrated(t, a, pairOf(t, "board:40/3d", "wash:0/300"))
	if got := none.BoardBrood.MedianPerDayPerHundred; !(got > a.BoardBrood.MedianPerDayPerHundred && got < 100) {
		t.Errorf("with no mites in the wash: %v", got)
	}
}

// Ten boards of one colony do not weigh like ten colonies.
func TestBoardsOfOneColonyShareIt(t *testing.T) {
	var one, many []Pair
	for i := range 6 {
		p := pairOf(t, "board:90/3d", "wash:6/300")
		p.Colony = "oak"
		one = append(one, p)
		p.Colony = string(rune('a' + i))
		many = append(many, p)
	}
	a := DefaultAssumptions()
	single, _ := calibrated(t, a, one...)
	several, _ := calibrated(t, a, many...)
	if !(single.BoardBrood.LogSD > several.BoardBrood.LogSD+0.05) {
		t.Errorf("log-SD of one colony %v, of six %v", single.BoardBrood.LogSD, several.BoardBrood.LogSD)
	}
	_, colony := splitBoardSpread(a.BoardBrood.LogSD)
	if several.BoardBrood.LogSD < colony {
		t.Error("pairs of other colonies cannot tell a colony's own way better than colonies differ")
	}
}

func TestCalibrationKeepsBroodApart(t *testing.T) {
	a := DefaultAssumptions()
	p := pairOf(t, "board:4/10d", "wash:6/300")
	p.Gentle.Hive.Broodless = true
	out, done := calibrated(t, a, p)
	if out.BoardBrood != a.BoardBrood || out.BoardBroodless == a.BoardBroodless || len(done) != 1 || !done[0].Broodless {
		t.Errorf("%+v", done)
	}
}

// A roll beside a board is read with the recovery that the other pairs taught.
func TestBoardBesideACalibratedRoll(t *testing.T) {
	a := DefaultAssumptions()
	board := pairOf(t, "board:40/3d", "roll:6/300")
	alone, _ := calibrated(t, a, board)
	with, _ := calibrated(t, a, board, pairOf(t, "roll:12/300", "wash:14/300"))
	if !(with.BoardBrood.MedianPerDayPerHundred < 0.95*alone.BoardBrood.MedianPerDayPerHundred) {
		t.Errorf("a poor roll means more mites, so a board that drops fewer of them: %v, %v", with.BoardBrood, alone.BoardBrood)
	}
}

func TestCalibrationProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := DefaultAssumptions()
		n := rapid.IntRange(0, 6).Draw(t, "pairs")
		var pairs []Pair
		for range n {
			p := Pair{Gentle: Count{Method: rapid.SampledFrom([]Method{Roll, CO2, Board}).Draw(t, "method"), Mites: rapid.IntRange(0, 300).Draw(t, "mites")}}
			p.Reference = Count{Method: Wash, Mites: rapid.IntRange(0, 40).Draw(t, "washed"), Amount: Amount{300, Bees}}
			p.Gentle.Amount = p.Reference.Amount
			if p.Gentle.Method == Board {
				p.Gentle.Amount = Amount{float64(rapid.IntRange(1, 10).Draw(t, "days")), Days}
				p.Gentle.Hive.Broodless = rapid.Bool().Draw(t, "broodless")
			}
			pairs = append(pairs, p)
		}
		out, done, err := a.Calibrated(pairs)
		if err != nil {
			t.Fatal(err)
		}
		if err := out.Check(); err != nil {
			t.Fatal(err)
		}
		used := 0
		for _, c := range done {
			used += c.Pairs
		}
		if used != n {
			t.Fatalf("%d pairs used of %d", used, n)
		}
		// Whatever the order, the same comes out.
		turned := slices.Clone(pairs)
		slices.Reverse(turned)
		again, _, err := a.Calibrated(turned)
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(again.BoardBrood.MedianPerDayPerHundred/out.BoardBrood.MedianPerDayPerHundred-1) <= 1e-9) || !(math.Abs(again.Recovery[Roll].Mean()-out.Recovery[Roll].Mean()) <= 1e-12) {
			t.Fatal("the order of the pairs matters")
		}
	})
}

func TestPlainRatio(t *testing.T) {
	a := DefaultAssumptions()
	p := pairOf(t, "board:40/3d", "wash:6/300")
	close(t, "board:40/3d, wash:6/300", a.PlainRatio(p), 40.0/3/2, 1e-12)
	p.Gentle.Hive.AdultBees = 50000
	close(t, "over twice the bees", a.PlainRatio(p), 40.0/3/4, 1e-12)
	p.Gentle.Cells = Cells{33, 99}
	close(t, "a third of the cells", a.PlainRatio(p), 40.0/4, 1e-12)
	close(t, "a roll", a.PlainRatio(pairOf(t, "board:40/3d", "roll:6/300")), 40.0/3/2*9/11, 1e-12)
	close(t, "none washed", a.PlainRatio(pairOf(t, "board:40/3d", "wash:0/300")), 40.0/3*6, 1e-12)
	close(t, "none fallen", a.PlainRatio(pairOf(t, "board:0/3d", "wash:6/300")), 0.5/3/2, 1e-12)
}

func TestPairErrors(t *testing.T) {
	for _, tc := range []struct{ first, second, want string }{
		{"wash:2/300", "roll:12/300", "here the wash comes before the roll, and washed bees cannot be counted again"},
		{"roll:2/300", "roll:12/300", "a roll cannot be held against a roll"},
		{"roll:2/300", "co2:12/300", "a roll cannot be held against a co2"},
		{"board:2/3d", "board:12/3d", "a board cannot be held against a board"},
		{"wash:2/300", "wash:2/300", "a wash cannot be held against a wash"},
		{"roll:12/300", "board:40/3d", ""},
		{"knockdown:310/5d", "wash:6/300", "a fall after a treatment calibrates nothing: the kill differs from time to time"},
		{"roll:12/300", "wash:2/150", "both counts are of the same bees, yet the amounts differ: 300 and 150"},
		{"roll:12/300@2026-06-01", "wash:2/300@2026-06-02", "both counts are of the same bees, yet on two days"},
		{"board:40/3d@2026-06-01", "wash:6/300@2026-06-09", "the board and the sample are 8 days apart"},
		{"board:40/3d@2026-06-08", "wash:6/300@2026-06-01", ""},
	} {
		_, err := NewPair(count(t, tc.first), count(t, tc.second))
		var p *PairError
		switch {
		case tc.want == "" && err != nil:
			t.Errorf("%s, %s: %v", tc.first, tc.second, err)
		case tc.want != "" && (!errors.As(err, &p) || p.Problem != tc.want || p.Remedy == ""):
			t.Errorf("%s, %s: %v, want %s", tc.first, tc.second, err, tc.want)
		}
	}
	a := DefaultAssumptions()
	bad := pairOf(t, "board:40/3d", "wash:6/300")
	bad.Reference.Amount = Amount{40, Grams}
	_, _, err := a.Calibrated([]Pair{pairOf(t, "roll:1/300", "wash:1/300"), bad})
	var p *PairError
	if !errors.As(err, &p) || p.Index != 1 {
		t.Errorf("%v does not say which pair", err)
	}
	delete(a.Recovery, Roll)
	if _, _, err = a.Calibrated([]Pair{pairOf(t, "roll:1/300", "wash:1/300")}); !errors.As(err, &p) {
		t.Errorf("a recovery of exactly one was calibrated: %v", err)
	}
}

// Three pairs are worth making: they take a good part of a board's width away,
// and no number of them takes away how colonies differ.
func TestWithTypicalPairs(t *testing.T) {
	a := DefaultAssumptions()
	last := a.BoardBrood.LogSD
	for n := 1; n <= 6; n++ {
		out, err := a.WithTypicalPairs(n, false)
		if err != nil {
			t.Fatal(err)
		}
		if !(out.BoardBrood.LogSD < last) || out.BoardBroodless != a.BoardBroodless {
			t.Errorf("%d pairs: %+v", n, out.BoardBrood)
		}
		last = out.BoardBrood.LogSD
		t.Logf("%d typical pairs: log-SD %.2f, was %.2f", n, last, a.BoardBrood.LogSD)
	}
}
