package sampling

import "math"

// Nodes are the levels at which densities and likelihoods are kept, in mites
// per bee, rising evenly on the log axis.
func Nodes() []float64 {
	out := make([]float64, gridNodes)
	for i := range out {
		out[i] = expAt(i)
	}
	return out
}

// Mass is the chance that lies at each node of Nodes; it sums to one.
func (d Density) Mass() []float64 {
	d = d.filled()
	out := make([]float64, gridNodes)
	for i, p := range d.p {
		out[i] = p * gridStep
	}
	return out
}

// Under is the chance that θ is at most level, in mites per bee.
func (d Density) Under(level float64) float64 {
	if !(level > 0) {
		return 0
	}
	return d.cdf(d.cumulative(), math.Log(level))
}

// Tails is the chance that θ lies under each node of Nodes, and over it. Each
// side is summed up from its own end, so that a small chance keeps its digits.
func (d Density) Tails() (under, over []float64) {
	d = d.filled()
	mirrored := Density{make([]float64, gridNodes)}
	for i, p := range d.p {
		mirrored.p[gridNodes-1-i] = p
	}
	from := mirrored.cumulative()
	over = make([]float64, gridNodes)
	for i := range over {
		over[i] = from[gridNodes-1-i]
	}
	return d.cumulative(), over
}

// LikelihoodOf is the likelihood with the value f at each level, in mites per
// bee. What is not a number above 0 counts as 0.
func LikelihoodOf(f func(theta float64) float64) Likelihood {
	v := make([]float64, gridNodes)
	for i := range v {
		if x := f(expAt(i)); x > 0 {
			v[i] = x
		}
	}
	return Likelihood{v}
}

// leastSure is the share of its peak under which a density is no longer sure
// of its digits: blurs and sums leave rounding there.
const leastSure = 1e-14

// Learnt is what made known out of carried, as a likelihood whose highest
// value is one: known over carried. Carried is the same path without the
// counts. Levels that carried all but rules out take the value of the nearest
// level that it does not, for there the ratio is one of rounding errors. The
// error is ErrNoOverlap, when known lies only on such levels.
func Learnt(known, carried Density) (Likelihood, error) {
	known, carried = known.filled(), carried.filled()
	top := 0.0
	for _, p := range carried.p {
		top = max(top, p)
	}
	v, highest := make([]float64, gridNodes), 0.0
	first, last := -1, -1
	for i, p := range carried.p {
		if !(p > leastSure*top) {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
		v[i] = known.p[i] / p
		highest = max(highest, v[i])
	}
	if first < 0 || !(highest > 0) || math.IsInf(highest, 1) {
		return Likelihood{}, ErrNoOverlap
	}
	for i := range v {
		switch {
		case i < first:
			v[i] = v[first]
		case i > last:
			v[i] = v[last]
		case !(carried.p[i] > leastSure*top): // a gap between two parts of a mixture
			v[i] = v[i-1]
		}
	}
	for i := range v {
		v[i] /= highest
	}
	return Likelihood{v}, nil
}
