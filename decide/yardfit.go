package decide

import (
	"math"

	"halfcup/sampling"
)

// yardTable is the posterior of μ and ln σ of one group on a grid.
//
// The grid is laid where the posterior is: on a fixed one fine enough for two
// colonies, two hundred would fall between two nodes. Sums over evenly spaced
// nodes of a bell are right to 1e-7 already when the step is one SD of it, and
// these steps are shorter.
type yardTable struct {
	mu, lnSigma axis
	cells       []yardCell // lnSigma by lnSigma within mu by mu
}

const (
	roughNodes   = 9 // on both axes, while looking for the place
	muNodes      = 25
	lnSigmaNodes = 15

	priorReach = 5    // SDs of the prior that are looked at
	negligible = 1e-9 // of the highest node: beyond it the posterior is cut off
	maxLooks   = 8
)

func fitYard(likelihoods []sampling.Likelihood, prior YardPrior) (yardTable, error) {
	mu := axisOver(math.Log(prior.MedianPerHundred/100), priorReach*prior.LogSD)
	lnSigma := axisOver(math.Log(prior.Spread), priorReach*prior.SpreadLogSD)
	for range maxLooks {
		t, err := newYardTable(mu.with(roughNodes), lnSigma.with(roughNodes), likelihoods, prior)
		if err != nil {
			return yardTable{}, err
		}
		overMu, overLnSigma := t.marginals()
		nextMu, nextLnSigma := t.mu.around(overMu), t.lnSigma.around(overLnSigma)
		settled := nextMu.width() > 0.75*mu.width() && nextLnSigma.width() > 0.75*lnSigma.width()
		mu, lnSigma = nextMu, nextLnSigma
		if settled {
			break
		}
	}
	return newYardTable(mu.with(muNodes), lnSigma.with(lnSigmaNodes), likelihoods, prior)
}

func newYardTable(mu, lnSigma axis, likelihoods []sampling.Likelihood, prior YardPrior) (yardTable, error) {
	t := yardTable{mu: mu, lnSigma: lnSigma}
	highest := math.Inf(-1)
	for i := range mu.nodes {
		for j := range lnSigma.nodes {
			m, s := mu.at(i), lnSigma.at(j)
			zm := (m - math.Log(prior.MedianPerHundred/100)) / prior.LogSD
			zs := (s - math.Log(prior.Spread)) / prior.SpreadLogSD
			c := yardCell{
				weight:     -(zm*zm + zs*zs) / 2, // its logarithm, for now
				population: sampling.Normal(m, math.Exp(s)),
				chances:    make([]float64, len(likelihoods)),
			}
			for k, l := range likelihoods {
				c.chances[k] = c.population.Chance(l)
				c.weight += math.Log(c.chances[k])
			}
			highest = math.Max(highest, c.weight)
			t.cells = append(t.cells, c)
		}
	}
	if math.IsInf(highest, -1) {
		return yardTable{}, sampling.ErrNoOverlap
	}
	sum := 0.0
	for k := range t.cells {
		t.cells[k].weight = math.Exp(t.cells[k].weight - highest)
		sum += t.cells[k].weight
	}
	for k := range t.cells {
		t.cells[k].weight /= sum
	}
	return t, nil
}

// marginals is the weight of each node of the two axes.
func (t yardTable) marginals() (overMu, overLnSigma []float64) {
	overMu, overLnSigma = make([]float64, t.mu.nodes), make([]float64, t.lnSigma.nodes)
	for k, c := range t.cells {
		overMu[k/t.lnSigma.nodes] += c.weight
		overLnSigma[k%t.lnSigma.nodes] += c.weight
	}
	return overMu, overLnSigma
}

// axis is evenly spaced nodes.
type axis struct {
	low, high float64
	nodes     int
}

func axisOver(middle, reach float64) axis { return axis{low: middle - reach, high: middle + reach} }

func (a axis) with(nodes int) axis { return axis{a.low, a.high, nodes} }

func (a axis) width() float64 { return a.high - a.low }

func (a axis) step() float64 { return a.width() / float64(a.nodes-1) }

func (a axis) at(i int) float64 { return a.low + float64(i)*a.step() }

// around is the part of the axis on which weights matter, and one step more on
// both sides.
func (a axis) around(weights []float64) axis {
	highest := 0.0
	for _, w := range weights {
		highest = math.Max(highest, w)
	}
	first, last := len(weights), 0
	for i, w := range weights {
		if w > negligible*highest {
			first, last = min(first, i), max(last, i)
		}
	}
	return axis{low: a.at(max(first-1, 0)), high: a.at(min(last+1, a.nodes-1))}
}

// limits reads the median and equal-tailed limits of e^x off weights at the
// nodes. Between nodes the logarithm of the weights is a cubic, which for a
// bell is all but exact.
func (a axis) limits(weights []float64, level float64) Range {
	const parts = 16
	log := func(i int) float64 { return math.Log(math.Max(weights[min(max(i, 0), a.nodes-1)], 1e-300)) }
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
		return math.Exp(a.low + (float64(i)+part)*a.step()/parts)
	}
	return Range{quantile(0.5), quantile((1 - level) / 2), quantile((1 + level) / 2)}
}
