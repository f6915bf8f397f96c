package decide

import (
	"math"
	"slices"

	"halfcup/sampling"
)

// poolFit is what the colonies of a yard say together of where it stands, μ,
// of the share r of the spread that lies between yards, and of the recovery
// they share: a grid of cells, each a pair of μ and r, with a weight for each
// value of the recovery.
//
// A record's chance in a cell is the mean of the cell's pull, the density of
// the normal score in that yard over that in yards in general,
//
//	exp((2μz − μ² − r·z²) / (2(1−r))) / √(1−r),
//
// over what the record knows. All of it is done on the common scale of normal
// scores, where the pulls are the same for all colonies.
type poolFit struct {
	rows     [][]poolRow // of each colony, one for each Known; none when it was never counted
	first    []int       // of each colony, where its rows are in the log chances of a cell
	recovery []float64   // the log chance of each value of the shared recovery before anybody counted
	prior    YardPrior

	poolGrid
	cells   []poolCell
	weights [][]float64   // of each cell and value of the recovery; they sum to one
	without [][][]float64 // the same of each colony, its own record left out; nil when it has none
}

// poolCell is one pair of μ and r.
type poolCell struct {
	mu, odds int       // where it is on the axes
	pull     []float64 // over the normal scores
	chances  []float64 // the log chance of each row
	joint    []float64 // of each value of the recovery, the log weight up to a constant
}

// poolGrid is the axes of the cells: μ, and the log odds of r.
//
// The grid is laid where the posterior is: on a fixed one fine enough for two
// colonies, two hundred would fall between two nodes. Sums over evenly spaced
// nodes of a bell are right to 1e-7 already when the step is one SD of it, and
// these steps are shorter. The posterior of μ can be wide and yet what one level
// of one colony says of μ narrow, with an SD of √(r(1−r)); no step is to be
// longer than that either.
type poolGrid struct{ mu, odds axis }

const (
	roughNodes = 9 // on both axes, while looking for the place
	muNodes    = 41
	mostNodes  = 145 // of μ, for a yard about which little is known; enough for the extremes of r
	oddsNodes  = 15

	muReach    = 10   // where the prior of μ is cut off, in SDs
	oddsReach  = 5    // and that of the log odds
	negligible = 1e-9 // of the highest cell: beyond it a cell does not matter
	maxLooks   = 8
)

// poolRow is one density of a colony on the nodes of the normal scores, the
// ends left out where there is nothing.
type poolRow struct {
	first int
	mass  []float64
	log   float64 // the log chance of its record given the recovery, up to a constant
}

func newPoolRow(mass []float64) poolRow {
	// The tail of a record weighs in a yard that lies far from it, which is
	// nothing beside the others with the record and not without it.
	const nothing = 1e-60
	first, last := 0, len(mass)-1
	for first < last && math.Abs(mass[first]) < nothing {
		first++
	}
	for last > first && math.Abs(mass[last]) < nothing {
		last--
	}
	return poolRow{first: first, mass: mass[first : last+1]}
}

// under is the mean of a pull over the row.
func (r poolRow) under(pull []float64) float64 {
	pull = pull[r.first : r.first+len(r.mass)]
	var a, b, c, d float64
	i := 0
	for ; i+4 <= len(pull); i += 4 {
		m := r.mass[i : i+4 : i+4]
		w := pull[i : i+4 : i+4]
		a += m[0] * w[0]
		b += m[1] * w[1]
		c += m[2] * w[2]
		d += m[3] * w[3]
	}
	for ; i < len(pull); i++ {
		a += r.mass[i] * pull[i]
	}
	return math.Max(a+b+c+d, 0)
}

func fitPool(p *Pool, weights []float64, prior YardPrior) (poolFit, error) {
	f := poolFit{prior: prior, rows: make([][]poolRow, len(p.members))}
	total := 0.0
	for _, w := range weights {
		total += w
	}
	for _, w := range weights {
		f.recovery = append(f.recovery, math.Log(w/total))
	}
	rows := 0
	for i, m := range p.members {
		f.first = append(f.first, rows)
		if !p.counted[i] {
			continue
		}
		for k, known := range m.Known {
			row := newPoolRow(p.scores[i].Mass(known))
			if len(m.Known) > 1 {
				row.log = math.Log(m.Chances[k])
			}
			f.rows[i] = append(f.rows[i], row)
		}
		rows += len(f.rows[i])
	}
	mu, odds := axisOver(0, muReach), axisOver(logit(prior.Share), oddsReach*prior.ShareLogitSD)
	odds.low, odds.high = math.Max(odds.low, logit(leastShare)), math.Min(odds.high, logit(mostShare))
	for range maxLooks {
		f.lay(poolGrid{mu.with(roughNodes), odds.with(roughNodes)})
		nextMu, nextOdds, err := f.place()
		if err != nil {
			return poolFit{}, err
		}
		settled := nextMu.width() > 0.75*mu.width() && nextOdds.width() >= 0.75*odds.width()
		mu, odds = nextMu, nextOdds
		if settled {
			break
		}
	}
	odds = odds.with(oddsNodes)
	finest := 1.0
	for j := range odds.nodes {
		r := logistic(odds.at(j))
		finest = math.Min(finest, math.Sqrt(r*(1-r)))
	}
	nodes := math.Ceil(mu.width()/(0.9*finest)) + 1
	f.lay(poolGrid{mu.with(int(math.Min(math.Max(nodes, muNodes), mostNodes))), odds})
	return f, f.settle()
}

func logit(p float64) float64 { return math.Log(p / (1 - p)) }

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// lay makes the cells of a grid, with what the records say of each. Most of them
// come to nothing: their pulls, megabytes for every yard, are not kept, and made
// only at the scores that some record has.
func (f *poolFit) lay(g poolGrid) {
	f.poolGrid = g
	f.cells = f.cells[:0]
	scores := sampling.ScoreNodes()
	from, to := f.reach()
	pull, rows := make([]float64, len(scores)), 0
	for _, of := range f.rows {
		rows += len(of)
	}
	room := make([]float64, g.mu.nodes*g.odds.nodes*(rows+len(f.recovery)))
	next := func(n int) []float64 {
		out := room[:n:n]
		room = room[n:]
		return out
	}
	for i := range g.mu.nodes {
		for j := range g.odds.nodes {
			c := poolCell{mu: i, odds: j, chances: next(rows)[:0], joint: next(len(f.recovery))}
			mu, r := g.mu.at(i), logistic(g.odds.at(j))
			layPull(pull[from:to], scores[from:to], mu, r)
			log := -mu*mu/(2*r) - math.Log(r)/2
			if sd := f.prior.ShareLogitSD; sd > 0 {
				z := (g.odds.at(j) - logit(f.prior.Share)) / sd
				log -= z * z / 2
			}
			f.weigh(&c, pull, log)
			f.cells = append(f.cells, c)
		}
	}
}

// pullRun is how many values of a pull are made from each other.
const pullRun = 16

// pullAt is the pull of a cell at a score.
func pullAt(z, mu, r float64) float64 {
	return math.Exp(((2*z-mu)*mu-r*z*z)/(2*(1-r))) / math.Sqrt(1-r)
}

// layPull writes the pull of a cell at evenly spaced scores. From score to score
// it is multiplied by a factor, and that by another that stays the same; each run
// begins anew at its higher end, so that neither rounding nor what is too small
// for a number adds up.
func layPull(pull, scores []float64, mu, r float64) {
	step := 0.0 // of a single score
	if len(scores) > 1 {
		step = scores[1] - scores[0]
	}
	bend := math.Exp(-r * step * step / (1 - r))
	for from := 0; from < len(pull); from += pullRun {
		to := min(from+pullRun, len(pull)) - 1
		k, by, h := from, 1, step
		if scores[from]+scores[to] < 2*mu/r { // it rises
			k, by, h = to, -1, -step
		}
		value := pullAt(scores[k], mu, r)
		factor := math.Exp((2*mu - r*(2*scores[k]+h)) * h / (2 * (1 - r)))
		for range to - from + 1 {
			pull[k] = value
			value *= factor
			factor *= bend
			k += by
		}
	}
}

// weigh finds how well the records agree with a cell of a pull, whose prior has
// the given logarithm.
func (f *poolFit) weigh(c *poolCell, pull []float64, prior float64) {
	for s, log := range f.recovery {
		c.joint[s] = prior + log
	}
	for i, rows := range f.rows {
		for _, row := range rows {
			c.chances = append(c.chances, math.Log(row.under(pull))+row.log)
		}
		if len(rows) > 0 {
			for s := range c.joint {
				c.joint[s] += c.chances[f.row(i, s)]
			}
		}
	}
}

// reach are the scores between which the records lie.
func (f *poolFit) reach() (from, to int) {
	from = len(sampling.ScoreNodes())
	for _, rows := range f.rows {
		for _, row := range rows {
			from, to = min(from, row.first), max(to, row.first+len(row.mass))
		}
	}
	return min(from, to), to
}

// row is where in the log chances of a cell that of a counted colony's record
// is, given the value of the recovery.
func (f *poolFit) row(colony, s int) int { return f.first[colony] + min(s, len(f.rows[colony])-1) }

// all stands for all colonies where one could be left out.
const all = -1

// log is the log weight of a cell and value of the recovery, up to a constant,
// with the record of one colony left out or with all. Where that record is
// impossible it is that of the impossible too.
func (f *poolFit) log(c poolCell, s, without int) float64 {
	if without == all || math.IsInf(c.joint[s], -1) {
		return c.joint[s]
	}
	return c.joint[s] - c.chances[f.row(without, s)]
}

// leaveOut is all, and every colony that was counted.
func (f *poolFit) leaveOut() []int {
	out := []int{all}
	for i, rows := range f.rows {
		if len(rows) > 0 {
			out = append(out, i)
		}
	}
	return out
}

// matters reports of each cell whether it has weight for any colony.
func (f *poolFit) matters() []bool {
	out := make([]bool, len(f.cells))
	logs := make([]float64, len(f.cells))
	for _, without := range f.leaveOut() {
		highest := math.Inf(-1)
		for i, c := range f.cells {
			logs[i] = math.Inf(-1)
			for s := range c.joint {
				logs[i] = math.Max(logs[i], f.log(c, s, without))
			}
			highest = math.Max(highest, logs[i])
		}
		for i, l := range logs {
			out[i] = out[i] || l > highest+math.Log(negligible)
		}
	}
	return out
}

// place is the parts of the axes on which cells matter.
func (f *poolFit) place() (mu, odds axis, err error) {
	overMu, overOdds := make([]bool, f.mu.nodes), make([]bool, f.odds.nodes)
	some := false
	for i, matters := range f.matters() {
		if matters {
			overMu[f.cells[i].mu], overOdds[f.cells[i].odds], some = true, true, true
		}
	}
	if !some {
		return mu, odds, sampling.ErrNoOverlap
	}
	return f.mu.around(overMu), f.odds.around(overOdds), nil
}

// settle drops the cells that do not matter, makes the pulls of the others, and
// turns logarithms into weights.
func (f *poolFit) settle() error {
	kept := f.cells[:0]
	for i, matters := range f.matters() {
		if matters {
			kept = append(kept, f.cells[i])
		}
	}
	if f.cells = kept; len(kept) == 0 {
		return sampling.ErrNoOverlap
	}
	scores := sampling.ScoreNodes()
	pulls := make([]float64, len(kept)*len(scores))
	for i := range kept {
		c := &kept[i]
		c.pull, pulls = pulls[:len(scores):len(scores)], pulls[len(scores):]
		layPull(c.pull, scores, f.mu.at(c.mu), logistic(f.odds.at(c.odds)))
	}
	f.without = make([][][]float64, len(f.rows))
	for _, without := range f.leaveOut() {
		weights := f.weightsOf(without)
		if without == all {
			f.weights = weights
		} else {
			f.without[without] = weights
		}
	}
	return nil
}

func (f *poolFit) weightsOf(without int) [][]float64 {
	highest := math.Inf(-1)
	for _, c := range f.cells {
		for s := range c.joint {
			highest = math.Max(highest, f.log(c, s, without))
		}
	}
	out := make([][]float64, len(f.cells))
	sum := 0.0
	for i, c := range f.cells {
		out[i] = make([]float64, len(c.joint))
		for s := range c.joint {
			out[i][s] = math.Exp(f.log(c, s, without) - highest)
			sum += out[i][s]
		}
	}
	for _, of := range out {
		for s := range of {
			of[s] /= sum
		}
	}
	return out
}

// leaving is the weights of the cells with the record of one colony left out, or
// with all.
func (f *poolFit) leaving(colony int) [][]float64 {
	if colony == all || f.without[colony] == nil {
		return f.weights
	}
	return f.without[colony]
}

// others is what all colonies but one say, or all, as a pull.
func (f *poolFit) others(without int) []float64 {
	weights := f.leaving(without)
	out := make([]float64, len(f.cells[0].pull))
	for i, c := range f.cells {
		sum := 0.0
		for _, w := range weights[i] {
			sum += w
		}
		axpy(out, sum, c.pull)
	}
	return out
}

// othersAt is what all colonies but one say when the shared recovery has its
// value s, as a pull times the chance of that value, where a record of that colony
// leaves any.
func (f *poolFit) othersAt(without, s int, row poolRow) []float64 {
	weights := f.leaving(without)
	out := make([]float64, len(f.cells[0].pull))
	from, to := max(row.first-6, 0), min(row.first+len(row.mass)+6, len(out))
	for i, c := range f.cells {
		axpy(out[from:to], weights[i][s], c.pull[from:to])
	}
	return out
}

// axpy adds a·x to y.
func axpy(y []float64, a float64, x []float64) {
	if a == 0 {
		return
	}
	x = x[:len(y)]
	for i := range y {
		y[i] += a * x[i]
	}
}

// given is the mean in each cell of something over what is known of a colony
// by its k-th Known; of is that something times the Known.
func (f *poolFit) given(of poolRow, colony, k int) []float64 {
	out := make([]float64, len(f.cells))
	for i, c := range f.cells {
		out[i] = of.under(c.pull)
		if rows := f.rows[colony]; len(rows) > 0 {
			out[i] /= math.Exp(c.chances[f.row(colony, k)] - rows[k].log)
		}
	}
	return out
}

// recoveries is the chance of each value of the shared recovery.
func (f *poolFit) recoveries() []float64 {
	out := make([]float64, len(f.recovery))
	for _, of := range f.weights {
		for s, w := range of {
			out[s] += w
		}
	}
	return out
}

// marginals is the weight of each node of the two axes.
func (f *poolFit) marginals() (overMu, overOdds []float64) {
	overMu, overOdds = make([]float64, f.mu.nodes), make([]float64, f.odds.nodes)
	for i, c := range f.cells {
		for _, w := range f.weights[i] {
			overMu[c.mu] += w
			overOdds[c.odds] += w
		}
	}
	return overMu, overOdds
}

// axis is evenly spaced nodes, or one.
type axis struct {
	low, high float64
	nodes     int
}

func axisOver(middle, reach float64) axis { return axis{low: middle - reach, high: middle + reach} }

// with is the axis with so many nodes, or one when it has no width.
func (a axis) with(nodes int) axis {
	if a.width() == 0 {
		nodes = 1
	}
	return axis{a.low, a.high, nodes}
}

func (a axis) width() float64 { return a.high - a.low }

func (a axis) at(i int) float64 {
	if i == 0 {
		return a.low
	}
	return a.low + float64(i)*a.step()
}

func (a axis) step() float64 { return a.width() / float64(max(a.nodes-1, 1)) }

// around is the part of the axis on which nodes matter, and one step more on
// both sides.
func (a axis) around(matters []bool) axis {
	first, last := len(matters), 0
	for i, m := range matters {
		if m {
			first, last = min(first, i), max(last, i)
		}
	}
	return axis{low: a.at(max(first-1, 0)), high: a.at(min(last+1, a.nodes-1))}
}

// limits reads the median and equal-tailed limits off weights at the nodes.
// Between nodes the logarithm of the weights is a cubic, which for a bell is
// all but exact.
func (a axis) limits(weights []float64, level float64) Range {
	if a.nodes <= 1 {
		return Range{a.low, a.low, a.low}
	}
	const parts = 16
	least := 1e-12 * slices.Max(weights) // a step down to nothing would make the cubic swing
	log := func(i int) float64 { return math.Log(math.Max(weights[i], least)) }
	var sums []float64 // by parts of a step; the trapezoid rule
	sum, before := 0.0, 0.0
	for i := range a.nodes - 1 {
		first := min(max(i-1, 0), a.nodes-4)
		for j := range parts {
			x := float64(i-first) + float64(j)/parts
			value := math.Exp(-log(first)*(x-1)*(x-2)*(x-3)/6 + log(first+1)*x*(x-2)*(x-3)/2 -
				log(first+2)*x*(x-1)*(x-3)/2 + log(first+3)*x*(x-1)*(x-2)/6)
			if len(sums) > 0 {
				sum += (before + value) / 2
			}
			sums = append(sums, sum)
			before = value
		}
	}
	quantile := func(p float64) float64 {
		i := 0
		for i < len(sums)-2 && sums[i+1] < p*sum {
			i++
		}
		part := 0.0
		if sums[i+1] > sums[i] {
			part = (p*sum - sums[i]) / (sums[i+1] - sums[i])
		}
		return a.low + (float64(i)+part)*a.step()/parts
	}
	return Range{quantile(0.5), quantile((1 - level) / 2), quantile((1 + level) / 2)}
}
