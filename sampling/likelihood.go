package sampling

import (
	"math"
	"sync"
	"sync/atomic"

	"halfcup/internal/numeric"
)

// law is how the mites of one count depend on u = ln θ + ln(shared factor):
// scale·e^u + add are expected, with the spread of a negative binomial of the
// given size (infinite for Poisson).
type law struct {
	scale, size, add float64
}

// sharp is the number of mites from which a Poisson likelihood is too narrow
// to be read off at the nodes alone.
const sharp = 2000

// chance is the chance of exactly y mites at u, given with e^u.
func (l law) chance(y int) func(u, eu float64) float64 {
	Y, poisson := float64(y), math.IsInf(l.size, 1)
	constant := -numeric.LogGamma(Y + 1)
	if !poisson {
		constant += numeric.LogGamma(Y+l.size) - numeric.LogGamma(l.size)
	}
	logScale, logSize := math.Log(l.scale), math.Log(l.size)
	return func(u, eu float64) float64 {
		m := l.scale * eu
		switch {
		case !poisson && l.add > 0:
			t := (m + l.add) / l.size
			return math.Exp(constant + Y*math.Log(t) - (Y+l.size)*math.Log1p(t))
		case !poisson:
			t := m / l.size
			return math.Exp(constant + Y*(u+logScale-logSize) - (Y+l.size)*math.Log1p(t))
		case l.add > 0:
			return math.Exp(constant + Y*math.Log(m+l.add) - m - l.add)
		}
		return math.Exp(constant + Y*(u+logScale) - m)
	}
}

// curve is the chance of exactly y mites at the nodes first to last.
func (l law) curve(y, first, last int) curve {
	return l.curveIn(make([]float64, last-first+1), y, first)
}

// curveIn is curve over the nodes from first on, written into values.
func (l law) curveIn(values []float64, y, first int) curve {
	c := curve{first, values}
	at := l.chance(y)
	for i := range c.values {
		x := nodeAt(first + i)
		if math.IsInf(l.size, 1) && y > sharp {
			// A mean over the neighbourhood, so that a spike between two
			// nodes is not lost.
			const parts = 16
			sum := 0.0
			for j := 1 - parts; j < parts; j++ {
				xj := x + float64(j)*gridStep/parts
				sum += (1 - math.Abs(float64(j))/parts) * at(xj, math.Exp(xj))
			}
			c.values[i] = sum / parts
			continue
		}
		c.values[i] = at(x, expAt(first+i))
	}
	return c
}

// tail is the chance of at most (Lower) or at least (Upper) y mites at e^u.
func (l law) tail(y int, eu float64, t numeric.Tail) float64 {
	return numeric.NegativeBinomial(y, l.scale*eu+l.add, l.size, t)
}

// reading is one count and what it depends on.
type reading struct {
	mites int
	law   law
	own   Kernel // a factor that is its alone, such as the bees in its scoop
}

// group is counts that share one uncertain factor: those of one method made in
// one colony on one day and in one weather share its recovery and nothing else.
type group struct {
	shared   Kernel
	readings []reading
}

// curve is the likelihood in u of all readings of the group.
func (g group) curve(first, last int) curve {
	out := curve{first, make([]float64, last-first+1)}
	for i := range out.values {
		out.values[i] = 1
	}
	for _, r := range g.readings {
		c := r.own.carry(func(first, last int) curve { return r.law.curve(r.mites, first, last) }, first, last)
		for i := range out.values {
			out.values[i] *= c.values[i]
		}
	}
	return out
}

// likelihood is the likelihood in x. It must not be written to.
func (g group) likelihood() []float64 {
	if len(g.readings) != 1 {
		return g.shared.carry(g.curve, 0, gridNodes-1).values
	}
	r := g.readings[0]
	key := countKey{r.mites, r.law, &r.own.w[0], &g.shared.w[0]}
	if l, ok := likelihoods.Load(key); ok {
		return l.([]float64)
	}
	l := g.shared.carry(g.curve, 0, gridNodes-1).values
	if likelihoodsKept.Add(1) <= mostLikelihoods {
		likelihoods.Store(key, l)
	}
	return l
}

// likelihoods keeps those of single counts that come up again and again, up to
// a number: a season of many colonies shows the same few mites over and over.
// Kernels are told apart by their place, which those kept for use again share.
var (
	likelihoods     sync.Map // countKey → []float64
	likelihoodsKept atomic.Int64
)

const mostLikelihoods = 1000

type countKey struct {
	mites       int
	law         law
	own, shared *float64
}

// carry is the mean of f at x + t over the nodes first to last.
func (k Kernel) carry(f func(first, last int) curve, first, last int) curve {
	c := f(first+k.first, last+k.first+len(k.w)-1)
	if k.isExactly() {
		return c
	}
	out := curve{first, make([]float64, last-first+1)}
	slide(out.values, k.w, c.values)
	for i, v := range out.values {
		out.values[i] = math.Max(0, v)
	}
	return out
}

// Likelihood is the likelihood of counts of one colony on one day. Counts that
// share a factor are taken together. Errors are *ValueError.
func (a Assumptions) Likelihood(counts ...Count) (Likelihood, error) {
	groups, err := a.groups(counts)
	if err != nil {
		return Likelihood{}, err
	}
	out := Likelihood{make([]float64, gridNodes)}
	for i := range out.l {
		out.l[i] = 1
	}
	for _, g := range groups {
		for i, v := range g.likelihood() {
			out.l[i] *= v
		}
	}
	return out, nil
}

// CheckCount reports why a count cannot be read with these figures, as a
// *ValueError.
func (a Assumptions) CheckCount(c Count) error {
	_, _, err := a.read(c)
	return err
}

// groups sorts counts by the factor they share, in the order they came.
func (a Assumptions) groups(counts []Count) ([]group, error) {
	var out []group
	at := map[sharing]int{}
	for _, c := range counts {
		shared, r, err := a.read(c)
		if err != nil {
			return nil, err
		}
		key := sharingOf(c)
		i, seen := at[key]
		if !seen {
			i = len(out)
			at[key] = i
			out = append(out, group{shared: shared})
		}
		out[i].readings = append(out[i].readings, r)
	}
	return out, nil
}

// sharing is what two counts must have in common to share a factor. A fall
// after a treatment shares one only with counts under the very same conditions.
type sharing struct {
	method    Method
	weather   Weather
	date      Date
	hive      Hive
	amount    Amount
	treatment TreatmentName
	before    float64
}

func sharingOf(c Count) sharing {
	s := sharing{method: c.Method, weather: c.Weather, date: c.Date}
	if c.Method.Kind() == Fall {
		s.hive = c.Hive
	}
	if c.Method == Knockdown {
		s.amount, s.treatment, s.before = c.Amount, c.Treatment, math.NaN()
		if c.FallBefore != nil {
			s.before = *c.FallBefore
		} else {
			s.before = -1
		}
	}
	return s
}

// read turns a count into the factor it shares and the rest.
func (a Assumptions) read(c Count) (Kernel, reading, error) {
	if err := c.Check(); err != nil {
		return Kernel{}, reading{}, err
	}
	if err := a.Check(); err != nil {
		return Kernel{}, reading{}, err
	}
	switch c.Method {
	case Board:
		return a.readBoard(c)
	case Knockdown:
		return a.readKnockdown(c)
	}
	return a.readBees(c)
}

// gammaSize is the size of the negative binomial that a gamma factor of mean
// one and the given CV makes of a Poisson law.
func gammaSize(cv float64) float64 {
	// Less spread than this no count shows, and the logarithms of the gamma
	// functions of so great a size have no digits left to tell it.
	if cv < 1e-4 {
		return math.Inf(1)
	}
	return 1 / (cv * cv)
}

// logSDOfCV is the SD of the logarithm of a log-normal factor with the given
// coefficient of variation.
func logSDOfCV(cv float64) float64 { return math.Sqrt(math.Log1p(cv * cv)) }

// kernels keeps the kernels that come up again and again.
var kernels sync.Map // kernelKey → Kernel

type kernelKey struct {
	law  string
	a, b float64
}

func cachedKernel(key kernelKey, make func() Kernel) Kernel {
	if k, ok := kernels.Load(key); ok {
		return k.(Kernel)
	}
	k := make()
	kernels.Store(key, k)
	return k
}

func betaKernel(b Beta) Kernel {
	return cachedKernel(kernelKey{"beta", b.Alpha, b.Beta}, func() Kernel { return newKernel(betaPoints(b)) })
}

// normalKernel is NormalKernel, kept for use again.
func normalKernel(mean, sd float64) Kernel {
	return cachedKernel(kernelKey{"normal", mean, sd}, func() Kernel { return NormalKernel(mean, sd) })
}

// meanOneKernel is the log-normal factor of mean one with the given CV.
func meanOneKernel(cv float64) Kernel {
	if cv == 0 {
		return exactly
	}
	s := logSDOfCV(cv)
	return normalKernel(-s*s/2, s)
}
