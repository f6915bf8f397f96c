package sampling

import "math"

// Survey reads many counts, each of a colony of its own of which the same was
// known before, by the same assumptions. It keeps what it works on, so it is
// not safe for concurrent use: make one for each goroutine.
//
// Read is Likelihood, Times, Summary and Over, worked out only at the nodes
// where the product is not negligible; they agree to twelve digits.
type Survey struct {
	a      Assumptions
	before Density
	level  float64
	lines  []float64

	after  Density
	nodes  []float64 // of the likelihood, with a margin for what blurs it
	padded []float64 // the part of it that is blurred, with zeros round it
	cum    []float64
	over   []float64
}

// Survey prepares for counts of colonies of which before is known. The limits
// are at level, and the chances are those of being over each of the lines, in
// mites per bee.
func (a Assumptions) Survey(before Density, level float64, lines ...float64) *Survey {
	return &Survey{
		a: a, before: before.filled(), level: level, lines: lines,
		after: Density{make([]float64, gridNodes)}, cum: make([]float64, gridNodes), over: make([]float64, len(lines)),
	}
}

// Read is what one count says: the summary, and the chance of being over each
// line, which holds until the next call. Errors are those of Likelihood and
// Times.
func (s *Survey) Read(c Count) (Summary, []float64, error) {
	if err := s.update(c); err != nil {
		return Summary{}, nil, err
	}
	d := s.after
	d.cumulate(s.cum)
	for i, line := range s.lines {
		s.over[i] = 1 - d.cdf(s.cum, math.Log(line))
	}
	return Summary{
		Median: 100 * d.quantile(s.cum, 0.5), Mean: 100 * d.Mean(),
		Low: 100 * d.quantile(s.cum, (1-s.level)/2), High: 100 * d.quantile(s.cum, (1+s.level)/2), Level: s.level,
	}, s.over, nil
}

// After is what is known of the colony of the last count that was read. It holds
// until the next one.
func (s *Survey) After() Density { return s.after }

// update puts what is known after the count into s.after.
func (s *Survey) update(c Count) error {
	shared, r, err := s.a.read(c)
	if err != nil {
		return err
	}
	if s.narrow(shared, r) {
		return nil
	}
	l, err := s.a.Likelihood(c)
	if err != nil {
		return err
	}
	after, err := s.before.Times(l)
	if err == nil {
		copy(s.after.p, after.p)
	}
	return err
}

const (
	// A likelihood this far below its top, on the log scale, is cut off…
	cutOff = 44
	// …and that is right as long as the top of the product is no further than
	// this below the product of the two tops.
	mostConflict = 12

	coarse = 16 // nodes between two looks when an edge is searched
)

// narrow is the product of what was known and the likelihood of one reading on
// the nodes where it is not negligible, zero elsewhere. It reports false when
// the reading is not one it can narrow down.
func (s *Survey) narrow(shared Kernel, r reading) bool {
	if r.law.add != 0 || r.mites > sharp || !r.own.isExactly() {
		return false
	}
	l := s.cut(r.law, r.mites, shared)
	lTop, pTop := 0.0, 0.0
	for _, v := range l.values {
		lTop = math.Max(lTop, v)
	}
	at := func(i int) float64 {
		if s.before.p[i] == 0 {
			return 0
		}
		return s.before.p[i] * shared.at(l, i)
	}
	// Where the product is, by looking here and there.
	top := 0.0
	var looks [gridNodes/coarse + 1]float64
	for j := range looks {
		i := min(j*coarse, gridNodes-1)
		looks[j] = at(i)
		top = math.Max(top, looks[j])
		pTop = math.Max(pTop, s.before.p[i])
	}
	if !(top > pTop*lTop*math.Exp(-mostConflict)) {
		return false
	}
	first, last := -1, -1
	for j, v := range looks {
		if v > 1e-16*top {
			if first < 0 {
				first = j
			}
			last = j
		}
	}
	from, to := max((first-1)*coarse, 0), min((last+1)*coarse, gridNodes-1)
	out, sum := s.after.p, 0.0
	clear(out[:from])
	clear(out[to+1:])
	shared.slideCurve(out[from:to+1], l, from, &s.padded)
	for i := from; i <= to; i++ {
		v := out[i] * s.before.p[i]
		if v < 0 { // interpolation can dip a hair below in steep tails
			v = 0
		}
		out[i] = v
		sum += v
	}
	for i := from; i <= to; i++ {
		out[i] /= sum * gridStep
	}
	return true
}

// cut is the curve of a count from where it rises above its cut-off to where it
// falls below it again, no further than a kernel can reach from the grid.
func (s *Survey) cut(l law, y int, reach Kernel) curve {
	lowest, highest := reach.first, gridNodes-1+reach.first+len(reach.w)-1
	peak := lowest
	if y > 0 {
		peak = int((math.Log(float64(y)/l.scale) - gridLow) / gridStep)
		peak = min(max(peak, lowest), highest)
	}
	floor := l.log(y, peak) - cutOff
	first, last := peak, peak
	for y > 0 && first > lowest && l.log(y, first) > floor {
		first = max(first-coarse, lowest)
	}
	for last < highest && l.log(y, last) > floor {
		last = min(last+coarse, highest)
	}
	if n := last - first + 1; cap(s.nodes) < n {
		s.nodes = make([]float64, n+gridNodes)
	}
	return l.curveIn(s.nodes[:last-first+1], y, first)
}

// log is the logarithm of the chance of y at a node, but for a constant.
func (l law) log(y, node int) float64 {
	m := l.scale * expAt(node)
	if math.IsInf(l.size, 1) {
		return float64(y)*nodeAt(node) - m
	}
	return float64(y)*nodeAt(node) - (float64(y)+l.size)*math.Log1p(m/l.size)
}

// at is the mean of c at node i moved by the kernel's factor; c is taken to be
// zero past its ends.
func (k Kernel) at(c curve, i int) float64 {
	from := i + k.first - c.first // of c.values, for the first weight
	if len(k.w) == 1 {
		if from < 0 || from >= len(c.values) {
			return 0
		}
		return k.w[0] * c.values[from]
	}
	low, high := max(0, -from), min(len(k.w), len(c.values)-from)
	if low >= high {
		return 0
	}
	return dot(k.w[low:high], c.values[from+low:from+high])
}

// slideCurve is at for the nodes from first on, into out.
func (k Kernel) slideCurve(out []float64, c curve, first int, padded *[]float64) {
	n := len(out) + len(k.w) - 1
	if cap(*padded) < n {
		*padded = make([]float64, n+gridNodes)
	}
	p := (*padded)[:n]
	clear(p)
	if from := first + k.first - c.first; from < 0 {
		copy(p[min(-from, n):], c.values)
	} else if from < len(c.values) {
		copy(p, c.values[from:])
	}
	slide(out, k.w, p)
}
