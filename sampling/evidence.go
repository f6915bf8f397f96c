package sampling

import (
	"math"
	"slices"

	"halfcup/internal/numeric"
)

// Evidence is what one count of several did: the median before and after it,
// in mites per hundred bees, the counts taken in the order given.
type Evidence struct {
	Count        Count
	MedianBefore float64
	MedianAfter  float64

	// Surprise is the chance, given everything else, of a count at least so
	// far out on its side, doubled for the two sides. 1 when it is alone.
	Surprise float64
}

// Weigh multiplies a density by counts of one day and tells what each did.
// Errors are *ValueError or ErrNoOverlap.
func (a Assumptions) Weigh(before Density, counts []Count) (Density, []Evidence, error) {
	d := before
	evidence := make([]Evidence, len(counts))
	for i, c := range counts {
		l, err := a.Likelihood(counts[:i+1]...)
		if err != nil {
			return Density{}, nil, err
		}
		next, err := before.Times(l)
		if err != nil {
			return Density{}, nil, err
		}
		evidence[i] = Evidence{c, 100 * d.Quantile(0.5), 100 * next.Quantile(0.5), 1}
		d = next
	}
	if len(counts) < 2 {
		return d, evidence, nil
	}
	for i, c := range counts {
		others := append(append([]Count(nil), counts[:i]...), counts[i+1:]...)
		p, err := a.Foresee(before, others, c)
		if err != nil {
			return Density{}, nil, err
		}
		evidence[i].Surprise = p.Surprise(c.Mites)
	}
	return d, evidence, nil
}

// Prospect is a count that could still be made: what it would show, and what
// would then be known. It works in u, the level as the method sees it, where
// earlier and later counts of the method multiply, so that a second sugar roll
// of the same day is not taken to have a recovery of its own.
type Prospect struct {
	a     Assumptions
	count Count
	d     Density // everything known, without the counts that share the factor
	past  curve   // likelihood in u of the counts that do
	key   Kernel  // the shared factor
	next  reading
	all   carried
}

// carried is a function of θ times what is known, brought to the scale on
// which the next count is made.
type carried []float64

// Foresee prepares for a count like next (its mites do not matter) of a colony
// of which before was known and counts were made on the same day. Errors are
// *ValueError or ErrNoOverlap.
func (a Assumptions) Foresee(before Density, counts []Count, next Count) (Prospect, error) {
	shared, r, err := a.read(next)
	if err != nil {
		return Prospect{}, err
	}
	key := sharingOf(next)
	var same, others []Count
	for _, c := range counts {
		if sharingOf(c) == key {
			same = append(same, c)
		} else {
			others = append(others, c)
		}
	}
	l, err := a.Likelihood(others...)
	if err != nil {
		return Prospect{}, err
	}
	d, err := before.Times(l)
	if err != nil {
		return Prospect{}, err
	}
	groups, err := a.groups(same)
	if err != nil {
		return Prospect{}, err
	}
	p := Prospect{a: a, count: next, d: d, key: shared, next: r}
	past := group{}
	if len(groups) > 0 {
		past = groups[0]
	} else {
		// Nothing can yet bring out the far tails of what is known.
		p.d = Density{slices.Clone(d.filled().p)}
		trim(p.d.p)
	}
	p.past = past.curve(0, gridNodes-1)
	p.all = p.carry(func(float64) float64 { return 1 })
	total := 0.0
	for _, v := range p.all {
		total += v
	}
	if !(total > 0) {
		return Prospect{}, ErrNoOverlap
	}
	// Scale the past so that p.all is a density.
	for i := range p.past.values {
		p.past.values[i] /= total * gridStep
	}
	for i := range p.all {
		p.all[i] /= total * gridStep
	}
	return p, nil
}

// Instead is the prospect of another count in place of the one it was made for.
// Everything carried stays good for it, which saves most of the work. That is so
// when only the bees and the frames differ; ok is false when it is not so.
func (p Prospect) Instead(next Count) (other Prospect, ok bool) {
	if sharingOf(next) != sharingOf(p.count) {
		return Prospect{}, false
	}
	_, r, err := p.a.read(next)
	if err != nil || !r.own.equals(p.next.own) {
		return Prospect{}, false
	}
	p.count, p.next = next, r
	return p, true
}

// Carry brings a function of θ (mites per bee) to the scale of the count, as
// Mean and Outcomes need it.
func (p Prospect) Carry(f func(theta float64) float64) []float64 { return p.carry(f) }

func (p Prospect) carry(f func(theta float64) float64) carried {
	v := make([]float64, gridNodes)
	for i, q := range p.d.p {
		if q > 0 {
			v[i] = q * f(expAt(i))
		}
	}
	v = p.key.slideSigned(v)
	for i := range v {
		v[i] *= p.past.values[i]
	}
	trim(v)
	return p.next.own.slideSigned(v)
}

// trim sets to zero what is next to nothing beside the highest value of a
// curve, so that no time is spent on it.
func trim(c []float64) {
	first, last := support(c)
	clear(c[:min(first, len(c))])
	clear(c[min(last+1, len(c)):])
}

// Mean is the mean of the carried function over everything that could be.
func (p Prospect) Mean(f []float64) float64 {
	sum := 0.0
	for _, v := range f {
		sum += v
	}
	return sum * gridStep
}

// MeanOfLeast is the mean of the smaller of two carried functions at every
// level on the scale of the count: what is left when that is known exactly and
// the better is chosen.
func (p Prospect) MeanOfLeast(f, g []float64) float64 {
	sum := 0.0
	for i, v := range f {
		sum += min(v, g[i])
	}
	return sum * gridStep
}

// Outcomes walks through the possible counts 0, 1, 2, … For each it calls
// visit with the count's chance and, for every carried function, the chance
// times its mean given that count. It stops when visit says so.
func (p Prospect) Outcomes(functions [][]float64, visit func(mites int, chance float64, parts []float64) bool) {
	// Nodes that weigh next to nothing for all functions are left out.
	first, last := support(p.all)
	for _, f := range functions {
		a, b := support(f)
		first, last = min(first, a), max(last, b)
	}
	rows := [][]float64{p.all[first : last+1]}
	for _, f := range functions {
		rows = append(rows, f[first:last+1])
	}
	// The chance of y mites at every node, by the ratio from y to y+1. It is
	// worked out afresh now and then, because far from its peak it is too small
	// for a number at first.
	const afresh = 64
	l := p.next.law
	var at, grow []float64 // grow is the part of the ratio that changes with the node
	parts := make([]float64, len(rows))
	for y := 0; ; y++ {
		if y%afresh == 0 {
			chance := l.chance(y)
			at, grow = make([]float64, len(rows[0])), make([]float64, len(rows[0]))
			for i := range at {
				m := l.scale*expAt(first+i) + l.add
				at[i], grow[i] = chance(nodeAt(first+i), expAt(first+i)), m
				if !math.IsInf(l.size, 1) {
					grow[i] = m / (l.size + m)
				}
			}
			// At a level that expects fewer mites the chance only falls from
			// here on.
			spent := 0
			for spent < len(at)-1 && l.scale*expAt(first+spent)+l.add < float64(y) && weighs(at[spent], rows, spent) < 1e-18 {
				spent++
			}
			first, at, grow = first+spent, at[spent:], grow[spent:]
			for j := range rows {
				rows[j] = rows[j][spent:]
			}
		}
		for j, f := range rows {
			parts[j] = dot(at, f) * gridStep
		}
		parts[0] = max(0, parts[0])
		if !visit(y, parts[0], parts[1:]) {
			return
		}
		ratio := 1 / float64(y+1)
		if !math.IsInf(l.size, 1) {
			ratio *= float64(y) + l.size
		}
		for i := range at {
			at[i] *= grow[i] * ratio
		}
	}
}

// weighs is the most that a node adds to any row.
func weighs(chance float64, rows [][]float64, node int) float64 {
	most := 0.0
	for _, f := range rows {
		most = max(most, f[node], -f[node])
	}
	return chance * most
}

// support is the first and the last node at which a curve is not negligible
// beside its highest value; the first lies past the last when it is all zero.
func support(c []float64) (first, last int) {
	top := 0.0
	for _, v := range c {
		top = max(top, v, -v)
	}
	negligible := func(v float64) bool { return max(v, -v) <= 1e-18*top }
	last = len(c) - 1
	for last > 0 && negligible(c[last]) {
		last--
	}
	for first < len(c)-1 && negligible(c[first]) {
		first++
	}
	return first, last
}

// Chance is the chance of at most (or, with atLeast, at least) so many mites.
func (p Prospect) Chance(mites int, atLeast bool) float64 {
	tail := numeric.Lower
	if atLeast {
		tail = numeric.Upper
	}
	sum := 0.0
	for i, v := range p.all {
		if v > 0 {
			sum += v * p.next.law.tail(mites, expAt(i), tail)
		}
	}
	return min(max(sum*gridStep, 0), 1)
}

// Surprise is twice the smaller of the chances of so many mites or more and so
// many or fewer, at most one.
func (p Prospect) Surprise(mites int) float64 {
	return math.Min(1, 2*math.Min(p.Chance(mites, false), p.Chance(mites, true)))
}
