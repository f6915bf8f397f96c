package sampling

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
)

// Pair is two counts of one colony made to be compared, from which a
// beekeeper's own sugar rolls and boards are calibrated.
//
// Gentle is a roll or a carbon dioxide count and Reference the wash of the
// very same bees after it, which finds the mites the first count left; or
// Gentle is a board and Reference a sample of bees of the same week.
type Pair struct {
	Gentle, Reference Count

	// Colony is the colony of a board, by any name. Boards of one colony share
	// its way of dropping mites, so that ten of them do not weigh like ten
	// colonies. Empty means a colony of its own.
	Colony string
}

// PairError says that two counts make no pair.
type PairError struct {
	Index   int // which of the pairs, from 0
	Problem string
	Remedy  string
}

func (e *PairError) Error() string { return fmt.Sprintf("%s: %s", e.Problem, e.Remedy) }

func badPair(index int, problem, remedy string) *PairError {
	return &PairError{Index: index, Problem: problem, Remedy: remedy}
}

// pairDays is how far apart a board and a sample beside it may be.
const pairDays = 7

// NewPair makes a pair of two counts in the order in which they were made: a
// roll comes before the wash of its bees, for they do not live to be rolled.
// A board and the sample beside it may come in any order. The error is a
// *PairError.
func NewPair(first, second Count) (Pair, error) {
	p := Pair{Gentle: first, Reference: second}
	if second.Method == Board && first.Method.Kind() == BeeSample {
		p = Pair{Gentle: second, Reference: first}
	}
	if first.Method == Wash && second.Method.Kind() == BeeSample && second.Method != Wash {
		return Pair{}, badPair(0, fmt.Sprintf("here the wash comes before the %s, and washed bees cannot be counted again", second.Method),
			fmt.Sprintf("write the %s first, and then the wash of the same bees", second.Method))
	}
	if err := p.check(); err != nil {
		return Pair{}, err
	}
	return p, nil
}

func (p Pair) check() *PairError {
	g, r := p.Gentle, p.Reference
	for _, c := range []Count{g, r} {
		if err := c.fault(); err != nil {
			return badPair(0, err.Name+": "+err.Problem, err.Remedy)
		}
	}
	apart := g.Date - r.Date
	dated := !g.Date.IsZero() && !r.Date.IsZero()
	switch {
	case g.Method == Knockdown || r.Method == Knockdown:
		return badPair(0, "a fall after a treatment calibrates nothing: the kill differs from time to time", "pair a roll and a wash of the same bees, or a board and a sample of bees")
	case g.Method == r.Method:
		return badPair(0, fmt.Sprintf("a %s cannot be held against a %s", g.Method, r.Method), "pair a roll and a wash of the same bees, or a board and a sample of bees")
	case g.Method == Board && r.Method.Kind() != BeeSample, g.Method != Board && r.Method != Wash:
		return badPair(0, fmt.Sprintf("a %s cannot be held against a %s", g.Method, r.Method), "hold a roll or co2 count against a wash of the same bees, and a board against a sample of bees")
	case g.Method == Board && dated && max(apart, -apart) > pairDays:
		return badPair(0, fmt.Sprintf("the board and the sample are %d days apart", max(apart, -apart)), fmt.Sprintf("a board tells of bees sampled at most %d days before or after it; check the dates", pairDays))
	case g.Method != Board && dated && apart != 0:
		return badPair(0, "both counts are of the same bees, yet on two days", "check the dates")
	case g.Method != Board && g.Amount.Unit == r.Amount.Unit && g.Amount.Value != r.Amount.Value:
		return badPair(0, fmt.Sprintf("both counts are of the same bees, yet the amounts differ: %v and %v", g.Amount.Value, r.Amount.Value), "wash the very bees that were rolled, and give their number in both counts")
	}
	return nil
}

// PlainRatio is what a pair with a board says on paper, with no allowance for
// luck: mites a day for each mite per hundred bees, brought to the number of
// adult bees the board's reading is for where the pair's own is known. A count
// of none is taken as half a mite.
func (a Assumptions) PlainRatio(p Pair) float64 {
	bees, _, err := a.BeesOf(p.Reference)
	if err != nil {
		return math.NaN()
	}
	found := 1.0
	if b, ok := a.RecoveryOf(p.Reference); ok {
		found = b.Mean()
	}
	board := p.Gentle
	fall := board.FallPerDay()
	if board.Mites == 0 {
		board.Mites = 1
		fall = board.FallPerDay() / 2
	}
	if h := board.Hive; h.AdultBees > 0 {
		at := a.BoardBrood.Bees
		if h.Broodless {
			at = a.BoardBroodless.Bees
		}
		fall *= at / h.AdultBees
	}
	return fall / (100 * math.Max(float64(p.Reference.Mites), 0.5) / (bees * found))
}

// Calibration is what pairs changed in the reading of one method.
type Calibration struct {
	Method    Method
	Weather   Weather // of rolls that were marked damp or dry
	Broodless bool    // of a board: over a colony without brood
	Pairs     int

	RecoveryBefore, RecoveryAfter Beta      // of roll and co2
	FallBefore, FallAfter         BoardFall // of a board
}

// Calibrated are the assumptions after a beekeeper's own pairs, and what the
// pairs changed. The pairs may be given in any order. Errors are *PairError.
//
// A roll that brought down a mites and left b is a thinning: the recovery's
// Beta(α, β) becomes Beta(α+a, β+b). However many pairs there are, α+β is then
// scaled down to at most 60 (or what it was before), because damp days differ
// from dry ones. Pairs marked damp or dry teach the recovery of such days only.
//
// A board is calibrated by the mites a day for each mite per hundred, c. The
// logarithm of a yard's c is normal, and that of each colony is normal around
// the yard's. The likelihood of a pair is exact: the board's count and the
// sample's, over all levels of the colony. The new reading is that of one more
// colony of the yard, with the colonies' spread included: a log-normal with
// the mean and the SD of the exact law.
func (a Assumptions) Calibrated(pairs []Pair) (Assumptions, []Calibration, error) {
	a = a.Clone()
	for i, p := range pairs {
		if err := p.check(); err != nil {
			err.Index = i
			return Assumptions{}, nil, err
		}
	}
	var done []Calibration
	for _, m := range Methods() {
		if m.Kind() != BeeSample || m == Wash {
			continue
		}
		for _, w := range []Weather{"", Damp, Dry} {
			c, err := a.calibrateRecovery(m, w, pairs)
			if err != nil {
				return Assumptions{}, nil, err
			}
			if c.Pairs == 0 {
				continue
			}
			switch c.Weather {
			case Damp:
				a.RollDamp = c.RecoveryAfter
			case Dry:
				a.RollDry = c.RecoveryAfter
			default:
				a.Recovery[m] = c.RecoveryAfter
			}
			done = append(done, c)
		}
	}
	// The boards come last: a roll beside one is read with the new recovery.
	for _, broodless := range []bool{false, true} {
		c, err := a.calibrateBoard(broodless, pairs)
		if err != nil {
			return Assumptions{}, nil, err
		}
		if c.Pairs == 0 {
			continue
		}
		if broodless {
			a.BoardBroodless = c.FallAfter
		} else {
			a.BoardBrood = c.FallAfter
		}
		done = append(done, c)
	}
	return a, done, nil
}

// calibrateRecovery learns from the pairs of one method and weather. Where the
// weather has no recovery of its own, marked pairs count as not marked.
func (a Assumptions) calibrateRecovery(m Method, w Weather, pairs []Pair) (Calibration, error) {
	before, uncertain := a.RecoveryOf(Count{Method: m, Weather: w})
	c := Calibration{Method: m, Weather: w, RecoveryBefore: before}
	after := before
	for i, p := range pairs {
		of := p.Gentle.Weather
		if a.recoveryIn(of) == (Beta{}) {
			of = ""
		}
		if p.Gentle.Method != m || of != w {
			continue
		}
		if !uncertain {
			return c, badPair(i, fmt.Sprintf("the recovery of a %s was set to exactly 1, which no pair can change", m), "leave that setting out")
		}
		after.Alpha += float64(p.Gentle.Mites)
		after.Beta += float64(p.Reference.Mites)
		c.Pairs++
	}
	most := math.Max(defaultOf("calibration_most"), before.Alpha+before.Beta)
	if weight := after.Alpha + after.Beta; weight > most {
		after = Beta{after.Alpha * most / weight, after.Beta * most / weight}
	}
	c.RecoveryAfter = after
	return c, nil
}

// calibrationReach is how far from the reading before, in steps of the grid, a
// yard's own is looked for: a factor of e^8 either way.
const calibrationReach = 256

func (a Assumptions) calibrateBoard(broodless bool, pairs []Pair) (Calibration, error) {
	before := a.BoardBrood
	if broodless {
		before = a.BoardBroodless
	}
	c := Calibration{Method: Board, Broodless: broodless, FallBefore: before, FallAfter: before}

	// The likelihood of every pair, colony by colony, as a function of the
	// shift of ln c against the reading before.
	var colonies [][]shiftCurve
	at := map[string]int{}
	for i, p := range pairs {
		if p.Gentle.Method != Board || p.Gentle.Hive.Broodless != broodless {
			continue
		}
		l, err := a.shiftLikelihood(p)
		if err != nil {
			return c, pairError(i, err)
		}
		c.Pairs++
		j, known := at[p.Colony]
		if !known || p.Colony == "" {
			j = len(colonies)
			at[p.Colony] = j
			colonies = append(colonies, nil)
		}
		colonies[j] = append(colonies[j], l)
	}
	yardSD, colonySD := splitBoardSpread(before.LogSD)
	if c.Pairs == 0 || yardSD == 0 {
		return c, nil
	}
	posterior := make([]float64, 2*calibrationReach+1)
	for i := range posterior {
		z := float64(i-calibrationReach) * gridStep / yardSD
		posterior[i] = math.Exp(-z * z / 2)
	}
	between := normalKernel(0, colonySD)
	for _, colony := range colonies {
		l := between.carry(product(colony), -calibrationReach, calibrationReach)
		top := 0.0
		for i, v := range l.values {
			posterior[i] *= v
			top = math.Max(top, posterior[i])
		}
		if !(top > 0) {
			return c, ErrNoOverlap
		}
		for i := range posterior {
			posterior[i] /= top
		}
	}
	shifts := make([]float64, len(posterior))
	for i := range shifts {
		shifts[i] = float64(i-calibrationReach) * gridStep
	}
	mean, sd := stat.PopMeanStdDev(shifts, posterior)
	c.FallAfter.MedianPerDayPerHundred *= math.Exp(mean)
	c.FallAfter.LogSD = math.Hypot(sd, colonySD)
	return c, nil
}

// splitBoardSpread parts the log-SD of a board into what is common to a yard
// and what differs from colony to colony, in the proportion of the defaults.
func splitBoardSpread(sd float64) (yard, colony float64) {
	_, y := boardYards(boardPairs)
	c := defaultOf("board_colony_log_sd")
	return sd * y / math.Hypot(y, c), sd * c / math.Hypot(y, c)
}

// shiftCurve is a likelihood at the shifts first to last, in steps of the grid.
type shiftCurve func(first, last int) curve

// shiftLikelihood is the likelihood of both counts of a pair with a board, by
// the shift of ln c.
func (a Assumptions) shiftLikelihood(p Pair) (shiftCurve, error) {
	l, err := a.Likelihood(p.Reference)
	if err != nil {
		return nil, err
	}
	level, err := a.Prior.Density().Times(l)
	if err != nil {
		return nil, err
	}
	_, r, err := a.readBoard(p.Gentle)
	if err != nil {
		return nil, err
	}
	_, beesSD := a.adultBees(p.Gentle.Hive)
	blur := r.own.then(normalKernel(0, beesSD))
	return func(first, last int) curve {
		board := blur.carry(func(first, last int) curve { return r.law.curve(r.mites, first, last) }, first, last+gridNodes-1)
		out := curve{first, make([]float64, last-first+1)}
		for i := range out.values {
			out.values[i] = dot(level.p, board.values[i:i+gridNodes])
		}
		return out
	}, nil
}

// product multiplies likelihoods that share everything.
func product(factors []shiftCurve) shiftCurve {
	return func(first, last int) curve {
		out := factors[0](first, last)
		for _, f := range factors[1:] {
			for i, v := range f(first, last).values {
				out.values[i] *= v
			}
		}
		return out
	}
}

// pairError gives an error of one of a pair's counts the place of the pair.
func pairError(index int, err error) error {
	switch e := err.(type) {
	case *ValueError:
		return badPair(index, e.Name+": "+e.Problem, e.Remedy)
	case *LongBoardError:
		return badPair(index, fmt.Sprintf("%s lay more than %d days, too long to be held against anything", e.Count, MostBoardDays), "make pairs with boards of about three days")
	}
	return err
}

// WithTypicalPairs are the assumptions that n pairs of a board of three days
// and a wash of 300 bees would leave, were each to show just what is expected
// of a colony at two mites per hundred: what a beekeeper's own pairs are worth
// before any is made. Pairs made beside a colony without brood are of use
// without brood only.
func (a Assumptions) WithTypicalPairs(n int, broodless bool) (Assumptions, error) {
	const mitesPerHundred, days, bees = 2, 3, 300
	fall := a.BoardBrood
	if broodless {
		fall = a.BoardBroodless
	}
	hive := Hive{AdultBees: fall.Bees, AdultBeesCV: defaultOf("frames_of_bees_cv"), Broodless: broodless}
	pair := Pair{
		Gentle:    Count{Method: Board, Mites: int(math.Round(days * mitesPerHundred * fall.MedianPerDayPerHundred)), Amount: Amount{days, Days}, Hive: hive},
		Reference: Count{Method: Wash, Mites: mitesPerHundred * bees / 100, Amount: Amount{bees, Bees}},
	}
	pairs := make([]Pair, max(n, 0))
	for i := range pairs {
		pairs[i] = pair
	}
	out, _, err := a.Calibrated(pairs)
	return out, err
}
