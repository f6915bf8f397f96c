package decide

import (
	_ "embed"
	"math"
	"slices"

	"halfcup/internal/numeric"
	"halfcup/sampling"
)

//go:embed efficacy.csv
var efficacyCSV string

var efficacyTable = readParameters(efficacyCSV)

// JarTargetPercent is the kill of exposed mites in a jar test below which
// resistance is suspected.
func JarTargetPercent() float64 { return efficacy("jar_target") }

func efficacy(name string) float64 { return find(efficacyTable, name) }

// Pair is the counts of one colony before and after a treatment, or after
// only, with the zero Count before.
type Pair struct {
	Before, After sampling.Count

	SettledOn   sampling.Date // first day on which the count after can tell, with brood; zero when not known
	CappedBrood bool          // there was capped brood during the treatment
	Happenings  []Happening
}

// Comparison is what was counted to judge a treatment.
type Comparison struct {
	Assumptions sampling.Assumptions
	Year        Year
	Rates       Rates

	// Treated are the colonies with the treatment, Controls such without.
	// Controls take the place of the model of mite growth. Where no colony was
	// counted before, the treated are held against the controls after, which
	// takes equal starts.
	Treated, Controls []Pair

	Level  float64 // of the limits, such as 0.9
	Target float64 // the share of mites the treatment should kill
}

// Efficacy is how far a treatment brought mites down in a typical colony of
// those counted, against what they would have been without it.
type Efficacy struct {
	Reduction
	Answer  Answer
	Reached float64     // chance that the treatment did what was asked
	Bare    []Reduction // of each treated pair by itself

	// SettledOn is the first day on which the counts after could have been
	// made, when one of them was made earlier: mites still sat in cells that
	// were capped during the treatment, and nothing can be told. It is zero
	// otherwise.
	SettledOn sampling.Date

	// Growth is the factor by which mites per bee would have changed untreated,
	// by the model: the middle of the pairs; NaN when it was not used.
	Growth float64

	// Totals is the reduction from all mites and bees together by Henderson &
	// Tilton or, without counts before, by Abbott; NaN without controls.
	Totals float64
}

// Judge compares the counts. Errors are *sampling.ValueError and
// sampling.ErrNoOverlap.
func (c Comparison) Judge() (Efficacy, error) {
	if err := c.check(); err != nil {
		return Efficacy{}, err
	}
	out := Efficacy{Growth: math.NaN(), Totals: math.NaN()}
	for _, p := range c.Treated {
		if p.Before == (sampling.Count{}) {
			continue
		}
		bare, err := bareReduction(c.Assumptions, p, c.Level)
		if err != nil {
			return Efficacy{}, err
		}
		out.Bare = append(out.Bare, bare)
	}
	treated, growth, err := c.changes(c.Treated)
	if err != nil {
		return Efficacy{}, err
	}
	controls, _, err := c.changes(c.Controls)
	if err != nil {
		return Efficacy{}, err
	}
	left, err := c.left(treated, controls, growth.sd)
	if err != nil {
		return Efficacy{}, err
	}
	out.Reduction = c.limits(left)
	out.Answer = out.Reduction.Answer(c.Target)
	if growth.known {
		out.Growth = math.Exp(growth.shift)
	}
	if out.Totals, err = c.totals(); err != nil {
		return Efficacy{}, err
	}
	out.Reached = 1 - left.Over(1-c.Target)
	if out.SettledOn = c.tooEarly(); !out.SettledOn.IsZero() {
		out.Answer = CannotTell
	}
	return out, nil
}

func (c Comparison) limits(left sampling.Density) Reduction {
	q := left.Quantiles(0.5, (1-c.Level)/2, (1+c.Level)/2)
	return reductionOf(q[0], q[1], q[2])
}

// paired reports whether colonies were counted before the treatment.
func (c Comparison) paired() bool { return c.Treated[0].Before != (sampling.Count{}) }

// tooEarly is the day on which the cells of the treatment had opened in all
// colonies with capped brood, if one was counted before it. Mites in cells met
// nothing; until they are out a count credits the treatment with them.
func (c Comparison) tooEarly() sampling.Date {
	var settled sampling.Date
	early := false
	for _, p := range c.Treated {
		on := p.SettledOn
		if on.IsZero() && !p.Before.Date.IsZero() {
			on = p.Before.Date + SettleDays // the treatment came later still
		}
		if p.CappedBrood && !on.IsZero() && !p.After.Date.IsZero() {
			settled = max(settled, on)
			early = early || p.After.Date < on
		}
	}
	if !early {
		return 0
	}
	return settled
}

// growth is what the model says of untreated colonies between the counts.
type growth struct {
	known     bool
	shift, sd float64 // of ln mites per bee
}

// changes gives the likelihood of what was left of the mites in each colony,
// against no treatment where the model can tell how they would have grown.
func (c Comparison) changes(pairs []Pair) ([]sampling.Likelihood, growth, error) {
	prior := c.Assumptions.Prior.Density()
	var out []sampling.Likelihood
	var g growth
	for i, p := range pairs {
		if p.Before == (sampling.Count{}) {
			l, err := c.Assumptions.Likelihood(p.After)
			if err != nil {
				return nil, g, err
			}
			out = append(out, l)
			continue
		}
		var move Move
		known := len(c.Controls) == 0 && !p.Before.Date.IsZero() && p.After.Date > p.Before.Date
		if known {
			var err error
			if move, err = c.untreated(&p); err != nil {
				return nil, g, err
			}
			// The guess at growth is one guess: its error does not shrink with
			// the number of colonies.
			g.known, g.sd = true, math.Max(g.sd, math.Sqrt(move.Variance))
		}
		g.shift += (move.Shift - g.shift) / float64(i+1)
		l, err := c.Assumptions.Change(prior, p.Before, p.After)
		if err != nil {
			return nil, g, err
		}
		out = append(out, l.Through(sampling.NormalKernel(move.Shift, 0)))
	}
	return out, g, nil
}

// untreated is how mites per bee would have moved between the counts. A board
// sees mites, not mites per bee: where the bees are not known the season's
// are put over both boards.
func (c Comparison) untreated(p *Pair) (Move, error) {
	path, err := NewPath(PathPlan{First: p.Before.Date, Last: p.After.Date, Year: c.Year, Rates: c.Rates, Happenings: p.Happenings})
	if err != nil {
		return Move{}, err
	}
	if p.Before.Hive.AdultBees == 0 && p.After.Hive.AdultBees == 0 {
		p.Before.Hive.AdultBees = path.AdultBees(p.Before.Date)
		p.After.Hive.AdultBees = path.AdultBees(p.After.Date)
	}
	return path.Move(p.Before.Date, p.After.Date)
}

// spreads is the grid over how far the change differs between colonies, in
// SDs of its logarithm.
const (
	spreadNodes = 9
	spreadReach = 2.5
)

// left is what is known of the share left in a typical colony. One treated
// colony by itself speaks for itself. Several are taken as drawn from a normal
// law of the logarithm, with a spread that they share with the controls and
// that is averaged over.
func (c Comparison) left(treated, controls []sampling.Likelihood, growthSD float64) (sampling.Density, error) {
	prior := sampling.Normal(math.Log(efficacy("left_median")), efficacy("left_log_sd"))
	unknown := sampling.NormalKernel(0, growthSD)
	if len(treated) == 1 && len(controls) == 0 {
		d, err := sampling.Flat().Times(treated[0])
		if err != nil {
			return d, err
		}
		return prior.Times(d.Moved(unknown).Likelihood())
	}
	untreated := sampling.Normal(0, efficacy("change_log_sd"))
	if !c.paired() {
		untreated = c.Assumptions.Prior.Density()
	}
	var parts []sampling.Density
	var logWeights []float64
	for i := range spreadNodes {
		z := spreadReach * (2*float64(i)/(spreadNodes-1) - 1)
		between := sampling.NormalKernel(0, efficacy("colony_spread_median")*math.Exp(z*efficacy("colony_spread_log_sd")))
		d, logWeight, err := typical(sampling.Flat(), treated, between)
		if err != nil {
			return d, err
		}
		if len(controls) > 0 {
			u, logChance, err := typical(untreated, controls, between)
			if err != nil {
				return d, err
			}
			logWeight += logChance
			d = d.Moved(u.Inverse())
		}
		l := d.Moved(unknown).Likelihood()
		logWeight += math.Log(prior.Chance(l)) - z*z/2
		if d, err = prior.Times(l); err != nil {
			return d, err
		}
		parts, logWeights = append(parts, d), append(logWeights, logWeight)
	}
	return sampling.Blend(parts, fromLogs(logWeights))
}

// fromLogs is weights from their logarithms, the greatest as one.
func fromLogs(logs []float64) []float64 {
	top := slices.Max(logs)
	out := make([]float64, len(logs))
	for i, l := range logs {
		out[i] = math.Exp(l - top)
	}
	return out
}

// typical is the middle of a group of colonies that differ by the factor
// between, with the log of the chance of their counts.
func typical(d sampling.Density, colonies []sampling.Likelihood, between sampling.Kernel) (sampling.Density, float64, error) {
	logChance := 0.0
	for _, l := range colonies {
		l = l.Through(between)
		logChance += math.Log(d.Chance(l))
		var err error
		if d, err = d.Times(l); err != nil {
			return d, 0, err
		}
	}
	return d, logChance, nil
}

// totals is the reduction of the treated against the controls as if all bees
// of a group were one sample.
func (c Comparison) totals() (float64, error) {
	if len(c.Controls) == 0 {
		return math.NaN(), nil
	}
	var rates [4]float64
	for g, pairs := range [][]Pair{c.Treated, c.Controls} {
		for side := range 2 {
			var mites, amount float64
			for _, p := range pairs {
				count := [2]sampling.Count{p.Before, p.After}[side]
				if count == (sampling.Count{}) {
					continue
				}
				if count.Method != c.Treated[0].After.Method {
					return math.NaN(), nil // not on one scale
				}
				a, err := amountOf(c.Assumptions, count)
				if err != nil {
					return 0, err
				}
				mites, amount = mites+float64(count.Mites), amount+a
			}
			rates[2*g+side] = mites / amount
		}
	}
	if !c.paired() {
		return Abbott(rates[1], rates[3]), nil
	}
	return HendersonTilton(rates[0], rates[1], rates[2], rates[3]), nil
}

// mostNeeded is more mites than any bee sample shows.
const mostNeeded = 2000

// BeforeNeeded is the fewest mites that, counted before in every colony, would
// have shown with none after that the treatment worked, everything else as it
// was: a count of fewer cannot, however well the treatment did. It is 0 when
// no number would do, or when nothing was counted before.
func (c Comparison) BeforeNeeded() (int, error) {
	if err := c.check(); err != nil || !c.paired() {
		return 0, err
	}
	controls, _, err := c.changes(c.Controls)
	if err != nil {
		return 0, err
	}
	shown := func(mites int) bool {
		pair := c.Treated[0]
		pair.Before.Mites, pair.After.Mites = mites, 0
		one, growth, e := c.changes([]Pair{pair})
		if e != nil {
			err = e
			return false
		}
		all := make([]sampling.Likelihood, len(c.Treated))
		for i := range all {
			all[i] = one[0]
		}
		left, e := c.left(all, controls, growth.sd)
		if e != nil {
			err = e
			return false
		}
		return c.limits(left).Answer(c.Target) == Worked
	}
	least, found := numeric.First(0, shown, func(mites int) bool { return err != nil || mites >= mostNeeded })
	if !found {
		least = 0
	}
	return least, err
}

func (c Comparison) check() error {
	fail := func(name, problem, remedy string) error {
		return &sampling.ValueError{Name: name, Problem: problem, Remedy: remedy}
	}
	switch {
	case len(c.Treated) == 0:
		return fail("counts", "there is no count of a treated colony", "give its counts before and after")
	case !(c.Level > 0 && c.Level < 1):
		return fail("level", "it is not between 0 and 1", "use a level such as 0.9")
	case !(c.Target > 0 && c.Target < 1):
		return fail("target", "it is not between 0 and 1", "give the share of mites to be rid of, such as 0.9")
	case !c.paired() && len(c.Controls) == 0:
		return fail("counts", "nothing was counted before, and no untreated colony after", "give a count before the treatment, or counts of untreated colonies")
	}
	for _, p := range append(append([]Pair(nil), c.Treated...), c.Controls...) {
		if (p.Before != (sampling.Count{})) != c.paired() {
			return fail("counts", "some colonies were counted before and some were not", "give both counts of every colony, or only the counts after")
		}
		if c.paired() && !p.Before.Date.IsZero() && !p.After.Date.IsZero() && p.After.Date <= p.Before.Date {
			return fail("counts", p.After.String()+" is not later than "+p.Before.String(), "give the count before the treatment first")
		}
	}
	return nil
}
