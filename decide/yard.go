package decide

import (
	"cmp"
	_ "embed"
	"math"
	"slices"

	"halfcup/sampling"
)

//go:embed yard.csv
var yardCSV string

var yardFigures = readParameters(yardCSV)

// Member is one colony of a yard on the day the yard is looked at.
type Member struct {
	// Known is what the colony's own record says of it: the density its record
	// leads to from a flat start, sampling.Flat when there is nothing in it.
	// A density that began with a prior would count what is known of colonies
	// in general twice.
	Known sampling.Density

	// Group says which colonies it is taken to be like: colonies treated of
	// late and colonies that were not are two groups. The empty name is one
	// like any other.
	Group string
}

// YardPrior is what is known of a yard before anybody looks at it.
type YardPrior struct {
	MedianPerHundred float64 `json:"median_per_hundred"` // the middle of its colonies
	LogSD            float64 `json:"log_sd"`             // of that middle
	Spread           float64 `json:"spread"`             // SD of ln θ between its colonies, the middle value
	SpreadLogSD      float64 `json:"spread_log_sd"`      // of that spread
}

// DefaultYardPrior is the prior of yard.csv.
func DefaultYardPrior() YardPrior {
	return YardPrior{yardFigure("yard_median"), yardFigure("yard_log_sd"), yardFigure("colony_log_sd"), yardFigure("colony_log_sd_sd")}
}

// GroupDays is how long after a treatment the treated colonies of a yard are
// a group of their own.
func GroupDays() int { return int(yardFigure("group_days")) }

func yardFigure(name string) float64 { return find(yardFigures, name) }

// Check reports a prior that no yard can have, as a *sampling.ValueError.
func (p YardPrior) Check() error {
	remedy := "give the median in mites per hundred, its log-SD, the spread between colonies and its log-SD, such as 1, 1.05, 0.65, 0.4"
	switch {
	case !(p.MedianPerHundred >= 0.01 && p.MedianPerHundred <= 100):
		return &sampling.ValueError{Name: "yard prior", Problem: "the median is not between 0.01 and 100 mites per hundred", Remedy: remedy}
	case !(p.LogSD >= 0.05 && p.LogSD <= 2):
		return &sampling.ValueError{Name: "yard prior", Problem: "the log-SD is not between 0.05 and 2", Remedy: remedy}
	case !(p.Spread >= 0.2 && p.Spread <= 2):
		return &sampling.ValueError{Name: "yard prior", Problem: "the spread between colonies is not between 0.2 and 2", Remedy: remedy}
	case !(p.SpreadLogSD >= 0.05 && p.SpreadLogSD <= 0.5):
		return &sampling.ValueError{Name: "yard prior", Problem: "the log-SD of the spread is not between 0.05 and 0.5", Remedy: remedy}
	}
	return nil
}

// Yard is what is known of all colonies of a yard together, under
//
//	ln θ_i ~ Normal(μ, σ²)  for the colonies i of one group,
//
// with the priors of YardPrior on μ and ln σ, integrated over both. A colony
// that was counted little is pulled toward its group, one that was never
// counted gets the forecast for its group.
type Yard struct {
	Groups []YardGroup // in the order in which the colonies name them

	members int
}

// YardGroup is the colonies that are taken to be alike.
type YardGroup struct {
	Name    string
	Members []int // places in the list of colonies

	// Others is what the yard says of each of Members without its own record,
	// Colonies what is known of it with both.
	Others, Colonies []sampling.Density

	Forecast sampling.Density // of one more colony that nobody has counted
	Typical  Range            // e^μ, in mites per hundred bees
	Spread   Range            // σ

	likelihoods []sampling.Likelihood // of each member's own record
	cells       []yardCell
}

// yardCell is one pair of μ and σ.
type yardCell struct {
	weight     float64 // given all that is known; those of a group sum to one
	population sampling.Density
	chances    []float64 // of what each member's record says
}

// NewYard puts the colonies of a yard together. Limits are at the given level.
// Errors are *sampling.ValueError or sampling.ErrNoOverlap.
func NewYard(members []Member, prior YardPrior, level float64) (*Yard, error) {
	if err := prior.Check(); err != nil {
		return nil, err
	}
	if len(members) == 0 {
		return nil, &sampling.ValueError{Name: "yard", Problem: "there is no colony in it", Remedy: "name at least one"}
	}
	y := &Yard{members: len(members)}
	for i, m := range members {
		g := slices.IndexFunc(y.Groups, func(g YardGroup) bool { return g.Name == m.Group })
		if g < 0 {
			g = len(y.Groups)
			y.Groups = append(y.Groups, YardGroup{Name: m.Group})
		}
		y.Groups[g].Members = append(y.Groups[g].Members, i)
	}
	for i := range y.Groups {
		g := &y.Groups[i]
		for _, m := range g.Members {
			g.likelihoods = append(g.likelihoods, members[m].Known.Likelihood())
		}
		if err := g.fit(prior, level); err != nil {
			return nil, err
		}
	}
	return y, nil
}

// Colonies is what is known of each colony, in the order of NewYard.
func (y *Yard) Colonies() []sampling.Density {
	return y.inOrder(func(g YardGroup) []sampling.Density { return g.Colonies })
}

// Others is what the rest of the yard says of each colony, in the order of
// NewYard: a prior for its own record, brought to this day.
func (y *Yard) Others() []sampling.Density {
	return y.inOrder(func(g YardGroup) []sampling.Density { return g.Others })
}

func (y *Yard) inOrder(of func(YardGroup) []sampling.Density) []sampling.Density {
	out := make([]sampling.Density, y.members)
	for _, g := range y.Groups {
		for j, i := range g.Members {
			out[i] = of(g)[j]
		}
	}
	return out
}

// fit finds what the colonies of a group say of μ and σ and of each other.
func (g *YardGroup) fit(prior YardPrior, level float64) error {
	table, err := fitYard(g.likelihoods, prior)
	if err != nil {
		return err
	}
	overMu, overLnSigma := table.marginals()
	g.Typical = table.mu.limits(overMu, level)
	g.Typical.Middle, g.Typical.Low, g.Typical.High = 100*g.Typical.Middle, 100*g.Typical.Low, 100*g.Typical.High
	g.Spread = table.lnSigma.limits(overLnSigma, level)

	var populations []sampling.Density
	var weights []float64
	for _, c := range table.cells {
		if c.weight > 1e-8/float64(len(table.cells)) { // the others weigh less than 1e-8 together
			g.cells = append(g.cells, c)
			populations, weights = append(populations, c.population), append(weights, c.weight)
		}
	}
	if g.Forecast, err = sampling.Blend(populations, weights); err != nil {
		return err
	}
	for i, l := range g.likelihoods {
		// This colony's own record is taken out of the weights, and then
		// multiplied by once.
		for k, c := range g.cells {
			weights[k] = c.weight / c.chances[i]
		}
		others, err := sampling.Blend(populations, weights)
		if err != nil {
			return err
		}
		d, err := others.Times(l)
		if err != nil {
			return err
		}
		g.Others, g.Colonies = append(g.Others, others), append(g.Colonies, d)
	}
	return nil
}

// Over is the chance that 0, 1, … all colonies are above a line, in mites per
// bee. Colonies of one group stand or fall together to the extent that their
// middle is unknown.
func (y *Yard) Over(line float64) []float64 {
	above := sampling.Above(line)
	total := []float64{1}
	for _, g := range y.Groups {
		over := make([]sampling.Likelihood, len(g.likelihoods))
		for j, l := range g.likelihoods {
			over[j] = l.And(above)
		}
		number := make([]float64, len(over)+1)
		for _, c := range g.cells {
			some := []float64{c.weight}
			for j, l := range over {
				p := min(max(c.population.Chance(l)/c.chances[j], 0), 1)
				some = oneMore(some, p)
			}
			for k, p := range some {
				number[k] += p
			}
		}
		total = sumOf(total, number)
	}
	return total
}

// oneMore is the law of a number after one more thing that may add one to it.
func oneMore(number []float64, p float64) []float64 {
	out := make([]float64, len(number)+1)
	for k, q := range number {
		out[k] += q * (1 - p)
		out[k+1] += q * p
	}
	return out
}

// sumOf is the law of the sum of two independent numbers.
func sumOf(a, b []float64) []float64 {
	out := make([]float64, len(a)+len(b)-1)
	for i, p := range a {
		for j, q := range b {
			out[i+j] += p * q
		}
	}
	return out
}

// ShareOver is the share of the colonies that are above a line, in mites per
// bee. The limits take in at least the level asked for, because a number of
// colonies comes in steps.
func (y *Yard) ShareOver(line, level float64) Range {
	law := y.Over(line)
	quantile := func(p float64) float64 {
		sum := 0.0
		for k, q := range law {
			sum += q
			if sum >= p {
				return float64(k) / float64(y.members)
			}
		}
		return 1
	}
	return Range{quantile(0.5), quantile((1 - level) / 2), quantile((1 + level) / 2)}
}

// Mean is what is known of the mean level of the colonies. With μ and σ given
// the colonies of a group are independent and their mean is taken as
// log-normal with its own mean and variance (Fenton 1960, IRE Trans Commun
// Syst 8:57-67).
func (y *Yard) Mean() (sampling.Density, error) {
	var parts []sampling.Density
	for _, g := range y.Groups {
		var means []sampling.Density
		var weights []float64
		for _, c := range g.cells {
			if c.weight < 1e-4/float64(len(g.cells)) {
				continue
			}
			var mean, variance float64
			for _, l := range g.likelihoods {
				d, err := c.population.Times(l)
				if err != nil {
					return sampling.Density{}, err
				}
				m := d.Mean()
				mean += m
				variance += d.Expect(func(theta float64) float64 { return (theta - m) * (theta - m) })
			}
			v := math.Log1p(variance / (mean * mean))
			means = append(means, sampling.Normal(math.Log(mean/float64(y.members))-v/2, math.Sqrt(v)))
			weights = append(weights, c.weight)
		}
		d, err := sampling.Blend(means, weights)
		if err != nil {
			return sampling.Density{}, err
		}
		parts = append(parts, d)
	}
	// The greatest part takes the others as arrivals, each level of them with
	// its chance.
	slices.SortFunc(parts, func(a, b sampling.Density) int { return cmp.Compare(b.Quantile(0.5), a.Quantile(0.5)) })
	sum := parts[0]
	for _, part := range parts[1:] {
		levels, weights := part.Curve()
		var sums []sampling.Density
		var kept []float64
		for i, w := range weights {
			if w > 1e-12 {
				sums = append(sums, sum.Plus(levels[i]/100))
				kept = append(kept, w)
			}
		}
		var err error
		if sum, err = sampling.Blend(sums, kept); err != nil {
			return sampling.Density{}, err
		}
	}
	return sum, nil
}

// ForColony is the prior under which a colony of an unknown yard is as the
// prior of a colony by itself has it, the spread between colonies unchanged.
func (p YardPrior) ForColony(colony sampling.Prior) YardPrior {
	within := p.Spread * p.Spread * math.Exp(2*p.SpreadLogSD*p.SpreadLogSD) // mean of σ²
	p.MedianPerHundred = colony.MedianPerHundred
	p.LogSD = math.Sqrt(math.Max(colony.LogSD*colony.LogSD-within, 0.05*0.05))
	return p
}
