package decide

import (
	_ "embed"
	"math"
	"slices"

	"gonum.org/v1/gonum/interp"

	"halfcup/sampling"
)

// The figures behind the comparison of growth.
//
//go:embed growth.csv
var growthCSV string

var growthFigures = readParameters(growthCSV)

func growthFigure(name string) float64 { return find(growthFigures, name) }

// SlowEnough is how likely a colony's mites must have grown slower before it is
// named.
func SlowEnough() float64 { return growthFigure("growth_named") }

// namedAlone is the share of so many colonies that are named by chance alone
// when all are alike.
func namedAlone(colonies int) float64 {
	if colonies < 5 {
		return growthFigure("growth_alone_few")
	}
	return growthFigure("growth_alone")
}

// The record of a colony is replayed with mites that grow faster or slower than
// the model has it, each by an amount that is added to the growth of ln θ in 30
// days with brood. Between the replays the log of the chance of the record is
// smooth.
const (
	growthReach = 1.8  // either way, a month
	growthTried = 0.3  // from replay to replay
	growthStep  = 0.05 // of the grid on which growths are compared

	// leastGrowthDays is how far apart the first and the last count of a year
	// must lie to tell of growth.
	leastGrowthDays = 21
)

// growthNodes are the growths that are compared.
var growthNodes = func() []float64 {
	n := int(math.Round(growthReach / growthStep))
	out := make([]float64, 2*n+1)
	for i := range out {
		out[i] = float64(i-n) * growthStep
	}
	return out
}()

// growthRecord is what the record of a colony says of its own growth: the
// chance of its counts at each of growthNodes, the highest as one; nil when it
// says nothing.
type growthRecord []float64

// growthRecord asks the record of growth between the first and the last count
// of some days. The level at the first of them tells nothing of it.
//
// It is the replay of Told, once for each growth: in every step from count to
// count the days with brood add their part to its shift, and the chance of each
// count before it was made is kept. What may have happened that nobody wrote
// down, and how well treatments worked, is allowed for as it is everywhere.
func (h History) growthRecord(first, last sampling.Date) (growthRecord, error) {
	return h.growthTriedBy(first, last, growthTried)
}

func (h History) growthTriedBy(first, last sampling.Date, apart float64) (growthRecord, error) {
	h.Treatments, h.Ahead = Acting(h.Treatments, last), leastAhead
	days, err := h.countDays(last, last)
	if err != nil {
		return nil, err
	}
	began := slices.IndexFunc(days, func(d countDay) bool { return d.on >= first })
	if began < 0 || days[len(days)-1].on < days[began].on+leastGrowthDays {
		return nil, nil
	}
	s, err := h.begin(last, days)
	if err != nil {
		return nil, err
	}
	for _, d := range days[:began+1] {
		if err := s.count(d); err != nil {
			return nil, err
		}
	}
	var at, logs []float64
	var beliefs []belief
	for g := -growthReach; g < growthReach+apart/2; g += apart {
		at, logs, beliefs = append(at, g), append(logs, 0), append(beliefs, s.base)
	}
	for _, d := range days[began+1:] {
		st, err := s.step(d.on, false)
		if err != nil {
			return nil, err
		}
		shift, months := st.growth.Shift, float64(s.path.broodDays(s.from, d.on))/daysAMonth
		var l []sampling.Likelihood
		for k, g := range at {
			st.growth.Shift = shift + g*months
			before := st.blend(st.expected(beliefs[k]))
			if l == nil {
				if before, l, err = s.likelihoods(before, d); err != nil {
					return nil, err
				}
			} else if len(l) > 1 {
				before = s.path.in(before, s.path.active(d.on))
			}
			logs[k] += math.Log(before.chance(l))
			if beliefs[k], err = before.times(l...); err != nil {
				return nil, err
			}
		}
		s.from, s.unions = d.on, unionsFrom(s.unions, d.on)
	}
	var between interp.NaturalCubic
	if err := between.Fit(at, logs); err != nil {
		return nil, err
	}
	out := make(growthRecord, len(growthNodes))
	for i, g := range growthNodes {
		out[i] = between.Predict(min(max(g, at[0]), at[len(at)-1]))
	}
	return fromLogs(out), nil
}

// broodDays is how many days from one to another have capped brood at their
// start: on others mites do not breed.
func (p *Path) broodDays(from, to sampling.Date) int {
	n := 0
	for d := from; d < to; d++ {
		if p.CappedBrood(d) {
			n++
		}
	}
	return n
}

// Pace is how a colony's mites grew beside those of the colonies it is set
// beside, from its own record.
type Pace struct {
	// Factor is what its mites grew in a month with brood, as a multiple of what
	// those of a typical colony of the others did. It is pulled toward one the
	// less the record tells.
	Factor Range

	// Slower is the chance that its mites grew slower than those of a typical
	// colony.
	Slower float64
}

// growthBeside sets the growth of colonies beside each other, of which each record
// says what growthRecord has: g ~ Normal(μ, τ) between colonies, and both are
// summed over. It gives the growth of every colony, of one whose record says
// nothing too: that one is like the others. Of fewer than two colonies whose
// record says something nothing can be told.
//
// Where colonies do not differ, τ is small and every chance near a half; the
// chance is right on average over yards that differ as growth.csv has it.
func growthBeside(records []growthRecord, level float64) []Pace {
	counted := 0
	for _, r := range records {
		if r != nil {
			counted++
		}
	}
	if counted < 2 {
		return nil
	}
	laws := growthLaws()
	n := len(growthNodes)
	// The chance of each record for every middle and spread.
	chances := make([][][]float64, len(records))
	for i, r := range records {
		if r != nil {
			chances[i] = laws.chances(r)
		}
	}
	weights := make([][]float64, len(laws.spreads))
	top := math.Inf(-1)
	for t := range weights {
		weights[t] = make([]float64, n)
		for m, mu := range growthNodes {
			z := mu / growthFigure("growth_yard")
			log := math.Log(laws.weights[t]) - z*z/2
			for _, c := range chances {
				if c != nil {
					log += math.Log(c[t][m])
				}
			}
			weights[t][m] = log
			top = max(top, log)
		}
	}
	total := 0.0
	for _, w := range weights {
		for m := range w {
			w[m] = math.Exp(w[m] - top)
			total += w[m]
		}
	}
	out := make([]Pace, len(records))
	for i, r := range records {
		apart := make([]float64, 2*n-1) // the law of a colony's growth less the middle
		for t, w := range weights {
			for m, weight := range w {
				if weight < 1e-9*total {
					continue
				}
				scale := weight / total
				if r != nil {
					scale /= chances[i][t][m]
				}
				laws.add(apart, r, t, m, scale)
			}
		}
		out[i] = growthOf(apart, level)
	}
	return out
}

// growthOf reads the law of a difference of growth.
func growthOf(apart []float64, level float64) Pace {
	middle := len(apart) / 2
	quantile := func(q float64) float64 {
		below := 0.0
		for i, p := range apart {
			if below+p >= q && p > 0 {
				// Each node stands for the step around it.
				return math.Exp((float64(i-middle) - 0.5 + (q-below)/p) * growthStep)
			}
			below += p
		}
		return math.Inf(1)
	}
	g := Pace{Factor: Range{quantile(0.5), quantile((1 - level) / 2), quantile((1 + level) / 2)}}
	for i, p := range apart {
		switch {
		case i < middle:
			g.Slower += p
		case i == middle:
			g.Slower += p / 2
		}
	}
	g.Slower = min(g.Slower, 1)
	return g
}

// growthLaw are normal laws between colonies on growthNodes.
type growthLaw struct {
	spreads, weights []float64   // standard deviations and what is known of them beforehand
	bells            [][]float64 // of each spread: the law by steps from the middle on
}

// growthLaws are laid once: a spread of none, and from it on to where nothing is
// likely any more.
var growthLaws = func() func() growthLaw {
	const step, nodes = 0.075, 13
	l := growthLaw{}
	for t := range nodes {
		spread := step * float64(t)
		z := spread / growthFigure("growth_between")
		weight := math.Exp(-z * z / 2)
		bell := []float64{1}
		if t == 0 {
			weight /= 2 // the end of the sum
		} else {
			sum := 0.0
			bell = nil
			for k := 0; float64(k)*growthStep < 4.5*spread; k++ {
				x := float64(k) * growthStep / spread
				bell = append(bell, math.Exp(-x*x/2))
				sum += bell[k]
				if k > 0 {
					sum += bell[k]
				}
			}
			for k := range bell {
				bell[k] /= sum
			}
		}
		l.spreads, l.weights, l.bells = append(l.spreads, spread), append(l.weights, weight), append(l.bells, bell)
	}
	return func() growthLaw { return l }
}()

// chances is the chance of a record for every spread and middle.
func (l growthLaw) chances(r growthRecord) [][]float64 {
	out := make([][]float64, len(l.bells))
	for t, bell := range l.bells {
		out[t] = make([]float64, len(r))
		for m := range r {
			sum := bell[0] * r[m]
			for k := 1; k < len(bell); k++ {
				// Beyond the grid the record says what it says at its end.
				sum += bell[k] * (r[max(m-k, 0)] + r[min(m+k, len(r)-1)])
			}
			out[t][m] = max(sum, 1e-300)
		}
	}
	return out
}

// add adds to the law of the difference from the middle what is known of a
// colony with a spread and a middle, so many times.
func (l growthLaw) add(apart []float64, r growthRecord, t, m int, scale float64) {
	at := func(i int) float64 {
		if r == nil {
			return 1
		}
		return r[min(max(i, 0), len(r)-1)]
	}
	middle := len(apart) / 2
	for k, p := range l.bells[t] {
		if k > middle {
			break
		}
		apart[middle+k] += scale * p * at(m+k)
		if k > 0 {
			apart[middle-k] += scale * p * at(m-k)
		}
	}
}
