package sampling

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat"

	"halfcup/internal/numeric"
)

// Density is what is known of the infestation of one colony on one day: a
// probability density over x = ln θ, θ in mites per bee on the scale of a
// careful alcohol wash of brood-nest bees. A Density is never changed; every
// operation gives a new one. The zero Density knows nothing: it is Flat.
//
// All that happens to a colony is one of three operations. Times: a count was
// made. Moved: θ was multiplied by an uncertain factor. Plus: mites came in
// from outside.
type Density struct {
	p []float64 // at the nodes; sums to 1/gridStep
}

// filled is d, or what the zero Density stands for.
func (d Density) filled() Density {
	if d.p == nil {
		return flat
	}
	return d
}

// ErrNoOverlap says that what was known and what was counted leave no level at
// all that could give both.
var ErrNoOverlap = errors.New("these counts cannot be of one colony on one day: check the numbers, or give each its own date")

// Prior is a log-normal belief about a colony nobody has looked at: the median
// in mites per hundred bees, and the SD of its natural logarithm.
type Prior struct {
	MedianPerHundred float64 `json:"median_per_hundred"`
	LogSD            float64 `json:"log_sd"`
}

// Check reports a prior the grid cannot hold, as a *ValueError.
func (p Prior) Check() error {
	switch {
	case !(p.MedianPerHundred >= 0.01 && p.MedianPerHundred <= 100):
		return badValue("prior", "the median is not between 0.01 and 100 mites per hundred", "write it as MEDIAN,LOGSD such as 1,1.3")
	case !(p.LogSD >= 0.05 && p.LogSD <= 2):
		return badValue("prior", "the log-SD is not between 0.05 and 2", "write it as MEDIAN,LOGSD such as 1,1.3")
	}
	return nil
}

// Density is the prior on the grid.
func (p Prior) Density() Density {
	return Normal(math.Log(p.MedianPerHundred/100), p.LogSD)
}

// Normal is the density under which ln θ, θ in mites per bee, is normal with
// the given mean and an SD above 0.
func Normal(mean, sd float64) Density {
	v := make([]float64, gridNodes)
	for i := range v {
		z := (nodeAt(i) - mean) / sd
		v[i] = math.Exp(-z * z / 2)
	}
	d, err := normalised(v)
	if err != nil { // so far off the grid, or so narrow, that nothing is left of it
		clear(v)
		v[nearestNode(mean)] = 1
		d, _ = normalised(v)
	}
	return d
}

// nearestNode is the node nearest to x, one of the two ends when x lies
// outside the grid, and the first when it is not a number.
func nearestNode(x float64) int {
	s := (x - gridLow) / gridStep
	switch {
	case !(s > 0):
		return 0
	case s > gridNodes-1:
		return gridNodes - 1
	}
	return int(math.Round(s))
}

// Flat is the density that prefers no ln θ, so that after counts it is their
// likelihood.
func Flat() Density { return flat }

var flat = func() Density {
	v := make([]float64, gridNodes)
	for i := range v {
		v[i] = 1
	}
	d, _ := normalised(v)
	return d
}()

func normalised(v []float64) (Density, error) {
	sum := 0.0
	for _, f := range v {
		sum += f
	}
	if !(sum > 0) || math.IsInf(sum, 1) {
		return Density{}, ErrNoOverlap
	}
	for i := range v {
		v[i] /= sum * gridStep
	}
	return Density{v}, nil
}

// Likelihood is how well each level explains some counts, over the same grid.
// The zero Likelihood says nothing.
type Likelihood struct {
	l []float64
}

// filled is l, or what the zero Likelihood stands for.
func (l Likelihood) filled() Likelihood {
	if l.l == nil {
		return silent
	}
	return l
}

var silent = func() Likelihood {
	l := Likelihood{make([]float64, gridNodes)}
	for i := range l.l {
		l.l[i] = 1
	}
	return l
}()

// Times is the density after counts with the likelihood l. The error is
// ErrNoOverlap.
func (d Density) Times(l Likelihood) (Density, error) {
	d, l = d.filled(), l.filled()
	v := make([]float64, gridNodes)
	for i := range v {
		v[i] = d.p[i] * l.l[i]
	}
	return normalised(v)
}

// Chance is the chance of the counts with likelihood l, before they were made.
func (d Density) Chance(l Likelihood) float64 {
	return max(0, dot(d.filled().p, l.filled().l)*gridStep)
}

// Moved is the density after θ was multiplied by a factor with the law k. A
// factor that leaves nothing on the grid changes nothing.
func (d Density) Moved(k Kernel) Density {
	d = d.filled()
	out, err := normalised(k.forward(d.p))
	if err != nil { // everything went past an end of the grid
		return d
	}
	return out
}

// Plus is the density after a mites per bee came in from outside, a >= 0. The
// edges of the cells move and each keeps its mass.
func (d Density) Plus(a float64) Density {
	d = d.filled()
	if !(a > 0) {
		return d
	}
	return d.plus(a, d.cumulative())
}

// PlusOneOf is Plus when one of several numbers of mites per bee came in, each
// of them as likely.
func (d Density) PlusOneOf(amounts ...float64) Density {
	d = d.filled()
	cum := d.cumulative()
	parts, weights := make([]Density, len(amounts)), make([]float64, len(amounts))
	for i, a := range amounts {
		parts[i], weights[i] = d, 1
		if a > 0 {
			parts[i] = d.plus(a, cum)
		}
	}
	out, err := Blend(parts, weights)
	if err != nil { // none was given
		return d
	}
	return out
}

// edges are θ at the upper edges of the cells, in mites per bee.
var edges = func() []float64 {
	e := make([]float64, gridNodes)
	for i := range e {
		e[i] = math.Exp(nodeAt(i) + gridStep/2)
	}
	return e
}()

// plus is Plus for a > 0, by the cumulative chances.
func (d Density) plus(a float64, cum []float64) Density {
	mass := make([]float64, gridNodes)
	below := 0.0
	for i := range mass {
		edge := edges[i] - a
		above := 0.0
		if edge > 0 {
			above = d.cdf(cum, math.Log(edge))
		}
		mass[i] = math.Max(0, above-below)
		below = above
	}
	// The mean over a cell is the height at its node blurred by the width of
	// the cell; taking its curvature off undoes that to the fourth power of
	// the step.
	v := make([]float64, gridNodes)
	for i, m := range mass {
		curvature := mass[max(i-1, 0)] - 2*m + mass[min(i+1, gridNodes-1)]
		v[i] = math.Max(0, m-curvature/24)
	}
	out, err := normalised(v)
	if err != nil {
		return d
	}
	return out
}

// Blend is the mixture of densities with the given weights, which need not sum
// to one. Errors are *ValueError, for weights that are not one a density or
// not numbers from 0 up, and ErrNoOverlap, when no weight is above 0.
func Blend(densities []Density, weights []float64) (Density, error) {
	if len(densities) != len(weights) {
		return Density{}, badValue("weights", fmt.Sprintf("%d weights for %d densities", len(weights), len(densities)), "give one for each")
	}
	v := make([]float64, gridNodes)
	for j, d := range densities {
		w := weights[j]
		if !(w >= 0) || math.IsInf(w, 1) {
			return Density{}, badValue("weights", fmt.Sprintf("%v cannot weigh a density", w), "give numbers from 0 up")
		}
		if w == 0 {
			continue
		}
		for i, f := range d.filled().p {
			v[i] += w * f
		}
	}
	return normalised(v)
}

// cumulative is the chance of lying at or below each node, right to the fourth
// power of the step (the trapezoid rule with its end correction).
func (d Density) cumulative() []float64 {
	c := make([]float64, gridNodes)
	d.cumulate(c)
	return c
}

// cumulate writes the cumulative chances into c.
func (d Density) cumulate(c []float64) {
	d = d.filled()
	p := func(i int) float64 { return d.p[min(max(i, 0), gridNodes-1)] }
	first, last := d.span()
	first, last = max(first-1, 1), min(last+2, gridNodes-1) // the nodes at which it rises
	clear(c[:first])
	sum := 0.0
	for i := first; i <= last; i++ {
		if i < 2 || i > gridNodes-2 {
			sum += max(0, gridStep/24*(13*(p(i-1)+p(i))-p(i-2)-p(i+1)))
		} else {
			w := d.p[i-2 : i+2 : i+2]
			// Beside a peak of one node the correction outweighs the rest,
			// and no chance falls as the level rises.
			sum += max(0, gridStep/24*(13*(w[1]+w[2])-w[0]-w[3]))
		}
		c[i] = sum
	}
	for i := first; i <= last; i++ {
		c[i] /= sum
	}
	for i := last + 1; i < gridNodes; i++ {
		c[i] = 1
	}
}

// span is the first and the last node at which the density is not zero.
func (d Density) span() (first, last int) {
	d = d.filled()
	last = gridNodes - 1
	for first < last && d.p[first] == 0 {
		first++
	}
	for last > first && d.p[last] == 0 {
		last--
	}
	return first, last
}

// cdf reads the cumulative curve between nodes; it is from 0 to 1 and never
// falls.
func (d Density) cdf(cum []float64, x float64) float64 {
	s := (x - gridLow) / gridStep
	i := int(math.Floor(s))
	switch {
	case i < 0:
		return 0
	case i >= gridNodes-1:
		return 1
	}
	return d.between(cum, i, s-float64(i))
}

// between is the cumulative chance at the share s of the way from node i to
// the next: the cubic that has the density as its slope, where that rises all
// the way. Slopes of more than three times the rise would make it overshoot
// and give chances outside 0 to 1 (Fritsch & Carlson 1980, SIAM J Numer Anal
// 17:238-246), so there they are cut.
func (d Density) between(cum []float64, i int, s float64) float64 {
	d = d.filled()
	a, b := cum[i], cum[i+1]
	steepest := 3 * (b - a)
	h := hermite(a, b, min(d.p[i]*gridStep, steepest), min(d.p[i+1]*gridStep, steepest), s)
	return min(max(h, a), b) // the last digit may still stray
}

// hermite is the cubic with values a, b and slopes c, d at the two ends. It is
// a and what was gained since: near 1 the sum of two weighted chances would
// stray by a digit that the gain does not have.
func hermite(a, b, c, d, s float64) float64 {
	t := 1 - s
	return a + (s*s*(1+2*t)*(b-a) + s*t*(t*c-s*d))
}

// Over is the chance that θ is above level, in mites per bee.
func (d Density) Over(level float64) float64 {
	if !(level > 0) {
		return 1
	}
	return 1 - d.cdf(d.cumulative(), math.Log(level))
}

// Quantile is the θ, in mites per bee, that lies above a share p of the
// density, 0 < p < 1.
func (d Density) Quantile(p float64) float64 { return d.Quantiles(p)[0] }

// Quantiles is Quantile for several shares at once.
func (d Density) Quantiles(shares ...float64) []float64 {
	cum := d.cumulative()
	out := make([]float64, len(shares))
	for j, p := range shares {
		out[j] = d.quantile(cum, p)
	}
	return out
}

// quantile is one quantile, by the cumulative chances.
func (d Density) quantile(cum []float64, p float64) float64 {
	i := sort.Search(gridNodes-2, func(i int) bool { return !(cum[i+1] < p) })
	s := numeric.Root(func(s float64) float64 {
		return d.between(cum, i, s) - p
	}, 0, 1)
	if math.IsNaN(s) {
		s = 0
	}
	return math.Exp(nodeAt(i) + s*gridStep)
}

// Mean is the mean of θ in mites per bee.
func (d Density) Mean() float64 { return d.Expect(func(theta float64) float64 { return theta }) }

// Expect is the mean of a smooth function of θ, in mites per bee.
func (d Density) Expect(f func(theta float64) float64) float64 {
	d = d.filled()
	sum := 0.0
	for i, p := range d.p {
		if p > 0 {
			sum += p * f(expAt(i))
		}
	}
	return sum * gridStep
}

// LogMoments is the mean and the SD of ln θ, θ in mites per bee.
func (d Density) LogMoments() (mean, sd float64) {
	return stat.PopMeanStdDev(nodes, d.filled().p)
}

// nodes are ln θ at the nodes.
var nodes = func() []float64 {
	x := make([]float64, gridNodes)
	for i := range x {
		x[i] = nodeAt(i)
	}
	return x
}()

// Summary is a density in the figures a person reads, in mites per hundred
// bees. Low and High are the equal-tailed limits at Level.
type Summary struct {
	Median float64 `json:"median"`
	Mean   float64 `json:"mean"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Level  float64 `json:"level"`
}

// Summary puts the density into figures.
func (d Density) Summary(level float64) Summary {
	q := d.Quantiles((1-level)/2, 0.5, (1+level)/2)
	return Summary{100 * q[1], 100 * d.Mean(), 100 * q[0], 100 * q[2], level}
}

// Curve gives the density as points to draw: levels in mites per hundred, and
// the density per unit of ln θ.
func (d Density) Curve() (perHundred, density []float64) {
	d = d.filled()
	perHundred = make([]float64, gridNodes)
	for i := range perHundred {
		perHundred[i] = 100 * expAt(i)
	}
	return perHundred, append([]float64(nil), d.p...)
}

// At is the likelihood at a level in mites per bee, read between the nodes; a
// level outside the grid is read at its end.
func (l Likelihood) At(theta float64) float64 {
	l = l.filled()
	s := 0.0
	if theta > 0 {
		s = min(max((math.Log(theta)-gridLow)/gridStep, 0), gridNodes-1)
	}
	i := min(max(int(s), 2), gridNodes-4)
	w := lagrange6(s - float64(i))
	return dot(w[:], l.l[i-2:i+4])
}
