package decide

import (
	_ "embed"
	"fmt"
	"math"

	"halfcup/sampling"
)

//go:embed pool.csv
var poolCSV string

var poolFigures = readParameters(poolCSV)

func poolFigure(name string) float64 { return find(poolFigures, name) }

// Member is one colony of a yard on the day the yard is looked at.
type Member struct {
	// Carried is what would be known of it had nobody counted, and Known what
	// its own record makes of that: the same path with the counts. A colony
	// that was never counted has the same density twice.
	//
	// A colony that was rolled on the day whose recovery the yard shares has
	// one Known for each value that recovery may have, the others have one
	// altogether.
	Carried sampling.Density
	Known   []sampling.Density

	// Chances is, for a colony with a Known for each value, the chance of its
	// record at each, up to a factor common to all: the product of the chances
	// of its counts before each was made.
	Chances []float64
}

// counted reports whether the record tells anything.
func (m Member) counted() bool {
	if len(m.Known) > 1 {
		return true
	}
	const rounding = 1e-10
	known, carried := m.Known[0].Mass(), m.Carried.Mass()
	for i, p := range known {
		if math.Abs(p-carried[i]) > rounding {
			return true
		}
	}
	return false
}

// YardPrior is what is known of yards before anybody looks at one: the share of
// the spread between colonies that lies between yards. Of the logarithm of its
// odds, Share is the median and ShareLogitSD the SD; with an SD of 0 the share
// is known. It is kept between 0.02 and 0.98.
type YardPrior struct {
	Share        float64 `json:"share"`
	ShareLogitSD float64 `json:"share_logit_sd"`
}

const leastShare, mostShare = 0.02, 0.98

// DefaultYardPrior is the prior of pool.csv.
func DefaultYardPrior() YardPrior {
	return YardPrior{poolFigure("yard_share"), poolFigure("yard_share_logit_sd")}
}

// Check reports a prior that no yard can have, as a *sampling.ValueError.
func (p YardPrior) Check() error {
	const remedy = "give the share and the SD of its log odds, such as 0.6, 0.8"
	switch {
	case !(p.Share >= leastShare && p.Share <= mostShare):
		return &sampling.ValueError{Name: "yard prior", Problem: fmt.Sprintf("the share between yards is not between %v and %v", leastShare, mostShare), Remedy: remedy}
	case !(p.ShareLogitSD >= 0 && p.ShareLogitSD <= 2):
		return &sampling.ValueError{Name: "yard prior", Problem: "the SD of the log odds is not between 0 and 2", Remedy: remedy}
	}
	return nil
}

// Pool is what is known of all colonies of a yard together.
//
// Colonies of one yard are alike in where they stand within what is known of
// each beforehand. With F the distribution function of a colony's Carried and
// z = Φ⁻¹(F(θ)) its normal score,
//
//	z ~ Normal(μ, 1−r) for the colonies, μ ~ Normal(0, r) for their yard,
//
// and r, the share of the spread that lies between yards, has the prior of
// YardPrior; μ and r are summed over. Whatever r is, z by itself is standard
// normal: a colony without counted neighbours is what its own record makes of
// it. A colony that was treated has its own F and stands in the same yard as
// one that was not. One that was counted little is pulled toward where the
// others stand, and one that was never counted goes there.
type Pool struct {
	members []Member
	counted []bool
	scores  []sampling.Scores
	fit     poolFit

	colonies, others []sampling.Density
	neighbours       []sampling.Likelihood
	recovery         []float64            // the chance of each value
	parts            [][]sampling.Density // of each colony, at each value of the recovery, or one where it does not tell
}

// NewPool puts the colonies of a yard together. The weights are those of the
// values of a recovery that the colonies share, before anybody counted; none
// when they share none. Errors are *sampling.ValueError or
// sampling.ErrNoOverlap.
func NewPool(members []Member, weights []float64, prior YardPrior) (*Pool, error) {
	if err := prior.Check(); err != nil {
		return nil, err
	}
	if len(weights) == 0 {
		weights = []float64{1}
	}
	if err := checkMembers(members, weights); err != nil {
		return nil, err
	}
	p := &Pool{members: members}
	for _, m := range members {
		p.counted = append(p.counted, m.counted())
	}
	if len(members) == 1 {
		return p, p.alone(weights)
	}
	for _, m := range members {
		p.scores = append(p.scores, m.Carried.Scores())
	}
	var err error
	if p.fit, err = fitPool(p, weights, prior); err != nil {
		return nil, err
	}
	p.recovery = p.fit.recoveries()
	return p, p.conclude()
}

// alone is the yard of one colony, which the sums would leave as it is.
func (p *Pool) alone(weights []float64) error {
	m := p.members[0]
	total := 0.0
	for s, w := range weights {
		if len(m.Known) > 1 {
			w *= m.Chances[s]
		}
		p.recovery = append(p.recovery, w)
		total += w
	}
	for s := range p.recovery {
		p.recovery[s] /= total
	}
	known := m.Known[0]
	if len(m.Known) > 1 {
		var err error
		if known, err = sampling.Blend(m.Known, p.recovery); err != nil {
			return err
		}
	}
	p.colonies, p.others, p.parts = []sampling.Density{known}, []sampling.Density{m.Carried}, [][]sampling.Density{m.Known}
	p.neighbours = []sampling.Likelihood{sampling.LikelihoodOf(func(float64) float64 { return 1 })}
	return nil
}

func checkMembers(members []Member, weights []float64) error {
	if len(members) == 0 {
		return &sampling.ValueError{Name: "yard", Problem: "there is no colony in it", Remedy: "name at least one"}
	}
	if !proper(weights) {
		return &sampling.ValueError{Name: "shared recovery", Problem: fmt.Sprintf("%v are no weights", weights), Remedy: "give a number from 0 up for each value, one of them above 0"}
	}
	for i, m := range members {
		name := fmt.Sprintf("colony %d of the yard", i+1)
		switch {
		case len(m.Known) == 1 && len(m.Chances) <= 1:
		case len(m.Known) != len(weights) || len(m.Chances) != len(weights):
			return &sampling.ValueError{Name: name, Problem: fmt.Sprintf("it has %d densities and %d chances for %d values of the shared recovery", len(m.Known), len(m.Chances), len(weights)), Remedy: "give one of each for every value, or one density altogether"}
		case !proper(m.Chances):
			return &sampling.ValueError{Name: name, Problem: fmt.Sprintf("its counts cannot have the chances %v", m.Chances), Remedy: "check the counts of that day"}
		}
	}
	return nil
}

// proper reports whether these are numbers from 0 up, not all of them 0.
func proper(weights []float64) bool {
	sum := 0.0
	for _, w := range weights {
		if !(w >= 0) {
			return false
		}
		sum += w
	}
	return sum > 0 && !math.IsInf(sum, 1)
}

// conclude reads off the fit what is known of each colony.
func (p *Pool) conclude() error {
	whole := p.fit.others(all) // for colonies that say nothing themselves
	for i, m := range p.members {
		pull := whole
		if p.counted[i] {
			pull = p.fit.others(i)
		}
		l := p.scores[i].Likelihood(pull)
		others, err := m.Carried.Times(l)
		if err != nil {
			return err
		}
		parts := make([]sampling.Density, len(m.Known))
		for k, known := range m.Known {
			// With a Known for each value of the recovery, what the others say
			// depends on the value as well.
			of := l
			if len(m.Known) > 1 {
				of = p.scores[i].Likelihood(p.fit.othersAt(i, k, p.fit.rows[i][k]))
			}
			if parts[k], err = known.Times(of); err != nil {
				if len(m.Known) == 1 || p.recovery[k] > 0 {
					return err
				}
				parts[k] = known
			}
		}
		colony := parts[0]
		if len(parts) > 1 {
			if colony, err = sampling.Blend(parts, p.recovery); err != nil {
				return err
			}
		}
		p.colonies, p.parts = append(p.colonies, colony), append(p.parts, parts)
		p.others = append(p.others, others)
		p.neighbours = append(p.neighbours, l)
	}
	return nil
}

// with is what would be known of a colony were its record another, one that
// shares the recovery as those of the yard do.
func (p *Pool) with(colony int, m Member) (sampling.Density, error) {
	parts, chances := make([]sampling.Density, len(m.Known)), make([]float64, len(m.Known))
	for k, known := range m.Known {
		row := newPoolRow(p.scores[colony].Mass(known))
		pull := p.fit.othersAt(colony, k, row)
		parts[k] = known
		if chances[k] = row.under(pull) * m.Chances[k]; chances[k] == 0 {
			continue
		}
		var err error
		if parts[k], err = known.Times(p.scores[colony].Likelihood(pull)); err != nil {
			return known, err
		}
	}
	if !proper(chances) {
		return m.Carried, sampling.ErrNoOverlap
	}
	return sampling.Blend(parts, chances)
}

// Colonies is what is known of each colony, in the order of NewPool.
func (p *Pool) Colonies() []sampling.Density { return p.colonies }

// Others is what is known of each colony without its own record: its Carried
// and what the rest of the yard says. It is a prior of this day for the
// likelihood of its record and for counts that are still to be made.
func (p *Pool) Others() []sampling.Density { return p.others }

// Neighbours is what the rest of the yard says of each colony, as a likelihood
// like that of one more count: what Others has and Carried has not. When the
// colony itself was rolled on the day whose recovery is shared, the rest of the
// yard also says how to read that roll; that is in Colonies alone.
func (p *Pool) Neighbours() []sampling.Likelihood { return p.neighbours }

// Pooled reports for each colony whether a neighbour was counted. If none was,
// it stands alone.
func (p *Pool) Pooled() []bool {
	counted := 0
	for _, c := range p.counted {
		if c {
			counted++
		}
	}
	out := make([]bool, len(p.members))
	for i, c := range p.counted {
		out[i] = counted > 1 || counted == 1 && !c
	}
	return out
}

// Recovery is the chance of each value of the shared recovery, given all that
// was counted.
func (p *Pool) Recovery() []float64 { return p.recovery }

// At is what is known of each colony were the shared recovery its value s. Of
// colonies that did not share it that is taken to be what is known of them.
func (p *Pool) At(s int) []sampling.Density {
	var out []sampling.Density
	for _, parts := range p.parts {
		out = append(out, parts[min(s, len(parts)-1)])
	}
	return out
}

// Share is what is known of the share of the spread that lies between yards,
// with limits at the given level. One colony alone tells nothing of it: ok is
// false.
func (p *Pool) Share(level float64) (r Range, ok bool) {
	if len(p.members) <= 1 {
		return Range{}, false
	}
	_, overOdds := p.fit.marginals()
	l := p.fit.odds.limits(overOdds, level)
	return Range{logistic(l.Middle), logistic(l.Low), logistic(l.High)}, true
}

// Standing is where the yard stands beside other yards: μ, in SDs of a colony
// nobody has looked at. At 0 it is as colonies in general are at that time and
// after those treatments, above it higher. It is not told of one colony alone:
// ok is false.
func (p *Pool) Standing(level float64) (r Range, ok bool) {
	if len(p.members) <= 1 {
		return Range{}, false
	}
	overMu, _ := p.fit.marginals()
	return p.fit.mu.limits(overMu, level), true
}

// Over is the chance that 0, 1, … all colonies are above their lines, in mites
// per bee, one a colony. Colonies stand or fall together to the extent that
// where the yard stands, and the recovery they share, is unknown. The error is
// a *sampling.ValueError.
func (p *Pool) Over(lines []float64) ([]float64, error) {
	if len(lines) != len(p.members) {
		return nil, &sampling.ValueError{Name: "lines", Problem: fmt.Sprintf("%d lines for %d colonies", len(lines), len(p.members)), Remedy: "give one for each"}
	}
	if len(lines) == 1 {
		over := p.colonies[0].Over(lines[0])
		return []float64{1 - over, over}, nil
	}
	// The chances of each colony, by its Known and by cell.
	over := make([][][]float64, len(p.members))
	for i, m := range p.members {
		above := sampling.Above(lines[i])
		for k, known := range m.Known {
			over[i] = append(over[i], p.fit.given(newPoolRow(p.scores[i].Mass(known, above)), i, k))
		}
	}
	total := make([]float64, len(lines)+1)
	number := make([]float64, len(lines)+1)
	for c, weights := range p.fit.weights {
		for s, weight := range weights {
			if weight < smallWeight {
				continue
			}
			clear(number)
			number[0] = weight
			for i := range p.members {
				addOne(number[:i+2], min(max(over[i][min(s, len(over[i])-1)][c], 0), 1))
			}
			for k, q := range number {
				total[k] += q
			}
		}
	}
	return total, nil
}

// smallWeight is the weight of a cell that may be left out: a thousand of them
// weigh less than 1e-7.
const smallWeight = 1e-10

// addOne changes the law of a number into that after one more thing that may
// add one to it with the chance p. The last place is free before.
func addOne(number []float64, p float64) {
	for k := len(number) - 1; k > 0; k-- {
		number[k] = number[k]*(1-p) + number[k-1]*p
	}
	number[0] *= 1 - p
}

// ShareOver is the share of the colonies that are above their lines, in mites
// per bee, one a colony. The limits take in at least the level asked for,
// because a number of colonies comes in steps. The error is a
// *sampling.ValueError.
func (p *Pool) ShareOver(lines []float64, level float64) (Range, error) {
	law, err := p.Over(lines)
	if err != nil {
		return Range{}, err
	}
	return sharesOf(law, level), nil
}

// sharesOf are the quantiles of the law of a number of colonies, as shares of
// all of them.
func sharesOf(law []float64, level float64) Range {
	quantile := func(q float64) float64 {
		sum := 0.0
		for k, chance := range law {
			if sum += chance; sum >= q {
				return float64(k) / float64(len(law)-1)
			}
		}
		return 1
	}
	return Range{quantile(0.5), quantile((1 - level) / 2), quantile((1 + level) / 2)}
}

// Mean is what is known of the mean level of the colonies. With μ, r and the
// recovery given the colonies are independent and their mean is taken as
// log-normal with its own mean and variance (Fenton 1960, IRE Trans Commun
// Syst 8:57-67). The mean of one colony is that colony.
func (p *Pool) Mean() (sampling.Density, error) {
	if len(p.members) == 1 {
		return p.colonies[0], nil
	}
	first := sampling.LikelihoodOf(func(theta float64) float64 { return theta })
	second := first.And(first)
	var moments [2][][][]float64 // by colony, by its Known, by cell
	for i, m := range p.members {
		for power, l := range []sampling.Likelihood{first, second} {
			var of [][]float64
			for k, known := range m.Known {
				of = append(of, p.fit.given(newPoolRow(p.scores[i].Mass(known, l)), i, k))
			}
			moments[power] = append(moments[power], of)
		}
	}
	var means []sampling.Density
	var weights []float64
	n := float64(len(p.members))
	for c, chances := range p.fit.weights {
		for s, weight := range chances {
			if weight < 1e-4/float64(len(p.fit.weights)) {
				continue
			}
			var mean, variance float64
			for i := range p.members {
				k := min(s, len(p.members[i].Known)-1)
				m := moments[0][i][k][c]
				mean += m
				variance += math.Max(moments[1][i][k][c]-m*m, 0)
			}
			v := math.Log1p(variance / (mean * mean))
			means = append(means, sampling.Normal(math.Log(mean/n)-v/2, math.Sqrt(v)))
			weights = append(weights, weight)
		}
	}
	return sampling.Blend(means, weights)
}
