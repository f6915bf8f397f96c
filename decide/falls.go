package decide

import (
	"fmt"
	"math"
	"slices"

	"halfcup/sampling"
)

// Falls is the mites that fell on the board after each of several rounds of a
// treatment of mites on adult bees.
type Falls struct {
	Assumptions sampling.Assumptions
	Year        Year
	Rates       Rates

	// Counts are the falls in order, each with the days the board lay in and
	// the day it came out. It went in on the day of the round.
	Counts []sampling.Count

	Brood      *Brood // capped all along; nil takes it from the year and the happenings
	Happenings []Happening
	AdultBees  float64  // 0 takes those of the season
	FallBefore *float64 // natural fall before the first round, mites a day; nil when nobody looked
	Arrivals   float64  // mites a day that come in from other colonies

	Level  float64 // of the limits, such as 0.9
	Target float64 // share of the mites the rounds together should kill
}

// Trend is whether rounds bring the mites of a colony down.
type Trend string

// The trends. Static means that the rounds do no more than hold the level.
const (
	Falling     Trend = "falling"
	Static      Trend = "static"
	TrendUnsure Trend = "cannot tell"
)

// Range is a figure with limits.
type Range struct{ Middle, Low, High float64 }

// RoundsSeen is what falls say of the rounds that made them.
type RoundsSeen struct {
	Days []sampling.Date // of the rounds
	Kill Range           // share of the mites on adult bees that a round killed

	Start       Range // mites of the colony at the first round
	Left        Range // mites of the colony when the last board came out
	LeftOnBees  Range // those on adult bees
	LeftOfStart Range // Left as a share of Start

	// Reduction is that of the mites of the colony 14 days after the last
	// round, against no treatment, without what came in from outside.
	Reduction
	Answer  Answer
	Reached float64 // chance that the rounds did what was asked
	Trend   Trend

	// NextRound is the share of the mites of the colony that one more round,
	// as long after the last as the rounds were apart, would take 14 days after
	// it; NextRoundMites their number.
	NextRound, NextRoundMites Range
	NextDay                   sampling.Date
}

// killNodes is the grid over the kill of a round, evenly spaced. The share that
// reaches the board, the natural fall and the mites in cells, on which less
// depends, are tried at the middles of three parts of equal chance.
const killNodes = 32

// Judge reads the falls. Its errors are *sampling.ValueError and
// sampling.ErrNoOverlap.
func (f Falls) Judge() (RoundsSeen, error) {
	run, err := f.prepare()
	if err != nil {
		return RoundsSeen{}, err
	}
	reach := [3]float64{f.Assumptions.Reach.Quantile(1.0 / 6), f.Assumptions.Reach.Quantile(3.0 / 6), f.Assumptions.Reach.Quantile(5.0 / 6)}
	var nodes []fallsNode
	for e := range killNodes {
		kill := (float64(e) + 0.5) / killNodes
		for _, c := range thirds {
			course := run.course(kill, math.Exp(efficacy("cells_log_sd")*c))
			for _, h := range reach {
				for _, natural := range run.natural {
					node, err := run.node(course, h, natural)
					if err != nil {
						return RoundsSeen{}, err
					}
					if node.logWeight > math.Inf(-1) {
						nodes = append(nodes, node)
					}
					if f.FallBefore != nil {
						break // the natural fall is known
					}
				}
			}
		}
	}
	if len(nodes) == 0 {
		return RoundsSeen{}, sampling.ErrNoOverlap
	}
	return run.sum(nodes)
}

// thirds are the middles of three parts of equal chance of a standard normal
// law.
var thirds = [3]float64{-0.967421566101701, 0, 0.967421566101701}

// fallsRun is the falls with all that does not change from node to node.
type fallsRun struct {
	Falls
	rounds, out []int // days since the first round
	every       int
	hive        colony // from runIn days before the first round on
	state       Mites  // on the first day, scaled to one mite on adult bees
	bees        float64
	natural     [3]float64       // mites a day for each on adult bees
	level       sampling.Density // mites per adult bee on the first day

	// alone is the likelihood of each fall if every mite on adult bees at the
	// start fell and nothing else; all others are shifts of it as long as
	// nothing is added from outside.
	alone []sampling.Likelihood
}

func (f Falls) prepare() (fallsRun, error) {
	run := fallsRun{Falls: f, bees: f.AdultBees, level: f.Assumptions.Prior.Density()}
	if err := f.check(); err != nil {
		return run, err
	}
	first := roundDay(f.Counts[0])
	for i, c := range f.Counts {
		run.rounds = append(run.rounds, int(roundDay(c)-first))
		run.out = append(run.out, int(c.Date-first))
		if i > 0 && run.rounds[i] <= run.rounds[i-1] {
			return run, &sampling.ValueError{Name: "falls", Problem: fmt.Sprintf("the round before the board of %s was not later than the one before", c.Date), Remedy: "give the falls in order, each with its days and the day the board came out"}
		}
	}
	last := run.rounds[len(run.rounds)-1]
	run.every = max(1, int(math.Round(float64(last)/float64(len(run.rounds)-1))))
	run.hive = f.colony(first-runIn, first+sampling.Date(last+run.every+SettleDays))
	run.state = run.hive.before(f.Rates)
	for day := -runIn; day < 0; day++ {
		run.state = run.day(run.state, day, Kill{}, 0)
	}
	run.state = run.state.times(1 / run.state.OnBees)
	if run.bees == 0 {
		run.bees = math.Exp(run.hive.logBees[runIn])
	}
	for _, c := range f.Counts {
		l, err := run.events(c, 1, 0)
		if err != nil {
			return run, err
		}
		run.alone = append(run.alone, l)
	}
	board, err := f.Assumptions.BoardFallOver(sampling.Hive{Broodless: run.state.InCells() == 0})
	if err != nil {
		return run, err
	}
	for i, z := range thirds {
		run.natural[i] = 100 * board.MedianPerDayPerHundred / board.Bees * math.Exp(z*board.LogSD)
	}
	return run, nil
}

// colony is the colony's bees and brood, by its year or as it was said.
func (f Falls) colony(start, last sampling.Date) colony {
	c := PathPlan{Year: f.Year, Rates: f.Rates, Happenings: f.Happenings}.colony(start, last)
	if f.Brood != nil {
		for i := range c.flows {
			c.flows[i] = f.Rates.flow(*f.Brood)
		}
	}
	return c
}

// day lets a day pass, counted from the first round.
func (r fallsRun) day(m Mites, day int, kill Kill, arrivals float64) Mites {
	return r.hive.day(r.Rates, m, day+runIn, kill, arrivals)
}

// roundDay is the day a board went in.
func roundDay(c sampling.Count) sampling.Date {
	return c.Date - sampling.Date(math.Round(c.DaysOnBoard()))
}

func (m Mites) times(by float64) Mites {
	m.OnBees *= by
	m.timesInCells(by)
	return m
}

func (m *Mites) timesInCells(by float64) {
	for i := range m.Worker {
		m.Worker[i] *= by
	}
	for i := range m.Drone {
		m.Drone[i] *= by
	}
}

// course is how the mites of a colony go through the rounds, for one mite on
// adult bees at the start, and arrived the same for the arrivals.
type course struct {
	kill           float64
	atRound        []float64 // on adult bees just before each round
	whileBoard     []float64 // on adult bees, summed over the days of each board
	start          float64   // in the colony before the first round
	out            Mites     // when the last board came out
	settled        float64   // in the colony 14 days after the last round
	untreated      float64   // the same without any round
	nextWithout    float64   // 14 days after one more round would be due, without it
	nextWith       float64   // and with it
	arrived        []float64
	arrivedOnBoard []float64
	arrivedOut     Mites
}

func (r fallsRun) course(kill, cells float64) course {
	start := r.state
	start.timesInCells(cells)
	c := course{kill: kill, start: start.Total(), atRound: make([]float64, len(r.rounds)), whileBoard: make([]float64, len(r.rounds))}
	c.arrived, c.arrivedOnBoard = make([]float64, len(r.rounds)), make([]float64, len(r.rounds))
	last := r.rounds[len(r.rounds)-1]
	next, end := last+r.every, r.out[len(r.out)-1]
	mites, untreated, more, arrived := start, start, start, Mites{}
	for day := 0; day <= next+SettleDays; day++ {
		if day == end {
			c.out, c.arrivedOut = mites, arrived
		}
		if day == last+SettleDays {
			c.settled, c.untreated = mites.Total(), untreated.Total()
		}
		if day == next+SettleDays {
			c.nextWithout, c.nextWith = mites.Total(), more.Total()
			break
		}
		round := Kill{}
		if i := slices.Index(r.rounds, day); i >= 0 {
			c.atRound[i], c.arrived[i] = mites.OnBees, arrived.OnBees
			round.OnBees = kill
		}
		nextRound := round
		if day == next {
			nextRound.OnBees = kill
		}
		mites = r.day(mites, day, round, 0)
		more = r.day(more, day, nextRound, 0)
		untreated = r.day(untreated, day, Kill{}, 0)
		arrived = r.day(arrived, day, round, r.Arrivals)
		for i := range r.rounds {
			if day >= r.rounds[i] && day < r.out[i] {
				c.whileBoard[i] += mites.OnBees
				c.arrivedOnBoard[i] += arrived.OnBees
			}
		}
	}
	return c
}

// fallsNode is one account of the colony and how well it explains the falls.
type fallsNode struct {
	course
	logWeight float64
	level     sampling.Density // mites per adult bee at the start, by this account
}

// node explains the falls: killed mites that reached the board, and the
// natural fall of the mites that were left and came out meanwhile.
func (r fallsRun) node(c course, reach, natural float64) (fallsNode, error) {
	n := fallsNode{course: c, level: r.level}
	for i, count := range r.Counts {
		perMite := reach * c.kill * c.atRound[i]
		add := reach * c.kill * c.arrived[i]
		if r.FallBefore != nil {
			add += *r.FallBefore * c.whileBoard[i]
		} else {
			perMite += natural * c.whileBoard[i]
			add += natural * c.arrivedOnBoard[i]
		}
		l := r.alone[i].Through(sampling.NormalKernel(math.Log(perMite), 0))
		if add > 0 {
			var err error
			if l, err = r.events(count, perMite, add); err != nil {
				return n, err
			}
		}
		n.logWeight += math.Log(n.level.Chance(l))
		if math.IsInf(n.logWeight, -1) || math.IsNaN(n.logWeight) {
			n.logWeight = math.Inf(-1)
			return n, nil
		}
		var err error
		if n.level, err = n.level.Times(l); err != nil {
			return n, err
		}
	}
	return n, nil
}

// events is the likelihood of a fall where perMite mites and add more were
// expected for each mite that was on the adult bees at the start.
func (r fallsRun) events(c sampling.Count, perMite, add float64) (sampling.Likelihood, error) {
	amount, err := amountOf(r.Assumptions, c)
	if err != nil {
		return sampling.Likelihood{}, err
	}
	share := amount / c.DaysOnBoard() // the part of the board that was counted
	return sampling.Events(c.Mites, share*r.bees*perMite, share*add, efficacy("round_cv"))
}

// sum puts the accounts together.
func (r fallsRun) sum(nodes []fallsNode) (RoundsSeen, error) {
	logs := make([]float64, len(nodes))
	for i, n := range nodes {
		logs[i] = n.logWeight
	}
	weights := fromLogs(logs)
	// Most accounts explain next to nothing.
	kept, keptWeights := nodes[:0], weights[:0]
	for i, w := range weights {
		if w > 1e-6 {
			kept, keptWeights = append(kept, nodes[i]), append(keptWeights, w)
		}
	}
	nodes, weights = kept, keptWeights

	out := RoundsSeen{NextDay: roundDay(r.Counts[len(r.Counts)-1]) + sampling.Date(r.every)}
	for _, c := range r.Counts {
		out.Days = append(out.Days, roundDay(c))
	}
	figure := func(of func(fallsNode) float64) Range {
		values := make([]float64, len(nodes))
		for i, n := range nodes {
			values[i] = of(n)
		}
		return weightedRange(values, weights, r.Level)
	}
	out.Kill = figure(func(n fallsNode) float64 { return n.kill })
	out.LeftOfStart = figure(func(n fallsNode) float64 {
		left := n.out.Total()
		if r.Arrivals > 0 {
			left += n.arrivedOut.Total() / (r.bees * n.level.Quantile(0.5))
		}
		return left / n.start
	})
	left := figure(func(n fallsNode) float64 { return n.settled / n.untreated })
	out.Reduction = reductionOf(left.Middle, left.Low, left.High)
	reached, total := 0.0, 0.0
	for i, n := range nodes {
		total += weights[i]
		if 1-n.settled/n.untreated >= r.Target {
			reached += weights[i]
		}
	}
	out.Reached = reached / total
	out.NextRound = figure(func(n fallsNode) float64 { return 1 - n.nextWith/n.nextWithout })
	out.Answer = out.Reduction.Answer(r.Target)
	switch line := efficacy("level_line"); {
	case out.LeftOfStart.High < line:
		out.Trend = Falling
	case out.LeftOfStart.Low >= line:
		out.Trend = Static
	default:
		out.Trend = TrendUnsure
	}

	mites := func(perMite, arrived func(fallsNode) float64) (Range, error) {
		parts := make([]sampling.Density, len(nodes))
		for i, n := range nodes {
			parts[i] = n.level.Moved(sampling.NormalKernel(math.Log(perMite(n)), 0)).Plus(arrived(n) / r.bees)
		}
		d, err := sampling.Blend(parts, weights)
		if err != nil {
			return Range{}, err
		}
		q := d.Quantiles(0.5, (1-r.Level)/2, (1+r.Level)/2)
		return Range{r.bees * q[0], r.bees * q[1], r.bees * q[2]}, nil
	}
	none := func(fallsNode) float64 { return 0 }
	for _, m := range []struct {
		into             *Range
		perMite, arrived func(fallsNode) float64
	}{
		{&out.Start, func(n fallsNode) float64 { return n.start }, none},
		{&out.Left, func(n fallsNode) float64 { return n.out.Total() }, func(n fallsNode) float64 { return n.arrivedOut.Total() }},
		{&out.LeftOnBees, func(n fallsNode) float64 { return n.out.OnBees }, func(n fallsNode) float64 { return n.arrivedOut.OnBees }},
		{&out.NextRoundMites, func(n fallsNode) float64 { return n.nextWithout - n.nextWith }, none},
	} {
		var err error
		if *m.into, err = mites(m.perMite, m.arrived); err != nil {
			return out, err
		}
	}
	return out, nil
}

// weightedRange is the median and the equal-tailed limits of weighted values,
// read between the middles of their weights. Equal values are one.
func weightedRange(values, weights []float64, level float64) Range {
	order := make([]int, len(values))
	total := 0.0
	for i := range order {
		order[i] = i
		total += weights[i]
	}
	slices.SortFunc(order, func(i, j int) int {
		switch {
		case values[i] < values[j]:
			return -1
		case values[i] > values[j]:
			return 1
		}
		return 0
	})
	at := func(p float64) float64 {
		before, v, cum := 0.0, values[order[0]], 0.0
		for i := 0; i < len(order); {
			next, weight := values[order[i]], 0.0
			for ; i < len(order) && values[order[i]] == next; i++ {
				weight += weights[order[i]]
			}
			middle := (cum + weight/2) / total
			if middle >= p {
				return v + (next-v)*(p-before)/(middle-before)
			}
			before, v, cum = middle, next, cum+weight
		}
		return v
	}
	return Range{at(0.5), at((1 - level) / 2), at((1 + level) / 2)}
}

func (f Falls) check() error {
	fail := func(name, problem, remedy string) error {
		return &sampling.ValueError{Name: name, Problem: problem, Remedy: remedy}
	}
	if len(f.Counts) < 2 {
		return fail("falls", "one fall alone does not tell the kill from the number of mites", "give the falls of two rounds or more")
	}
	if len(f.Counts) > maxRounds {
		return fail("falls", fmt.Sprintf("%d rounds are more than any label allows", len(f.Counts)), "give the rounds of one treatment")
	}
	for _, c := range f.Counts {
		if err := c.Check(); err != nil {
			return err
		}
		if c.Method.Kind() != sampling.Fall || c.Date.IsZero() {
			return fail("fall "+c.String(), "the day the board came out is missing", "write mites, days and that day, such as 310/2d@2026-08-01")
		}
		if c.DaysOnBoard() < 0.5 {
			return fail("fall "+c.String(), "the board lay in for less than half a day", "leave it in for a day or two")
		}
	}
	if err := f.Year.check(); err != nil {
		return err
	}
	if f.AdultBees != 0 && !(f.AdultBees >= 100 && f.AdultBees <= 200_000) {
		return fail("adult bees", fmt.Sprintf("no colony has %v", f.AdultBees), "give the number of adult bees, such as 25000")
	}
	if f.FallBefore != nil && !(*f.FallBefore >= 0 && *f.FallBefore <= 10_000) {
		return fail("fall before the treatment", fmt.Sprintf("%v mites a day cannot be", *f.FallBefore), "give the natural fall in mites a day, such as 12")
	}
	if !(f.Arrivals >= 0 && f.Arrivals <= maxArrivals) {
		return fail("arrivals", fmt.Sprintf("%v mites a day cannot arrive", f.Arrivals), "give the mites a day, such as 2")
	}
	if !(f.Level > 0 && f.Level < 1) || !(f.Target > 0 && f.Target < 1) {
		return fail("level", "level and target must lie between 0 and 1", "use a level such as 0.9")
	}
	return f.Rates.Check()
}
