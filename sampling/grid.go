package sampling

import (
	"math"
	"slices"
	"sync"
)

// The grid: x = ln θ, θ in mites per bee on the scale of a careful alcohol
// wash, from 1.1e-7 to 54 mites per bee. Curves are kept as their values at
// the nodes. For a smooth curve that dies away at both ends the plain sum over
// nodes is exact far beyond any need as long as its SD is a step or more, and
// the sharpest curve a field count gives (2000 mites on bees all counted, no
// frame-to-frame differences) has an SD of 0.022.
const (
	gridNodes = 640
	gridStep  = 1.0 / 32
	gridLow   = -16.0
)

// nodeAt is ln θ at node i, which may lie outside the grid.
func nodeAt(i int) float64 { return gridLow + float64(i)*gridStep }

// nodeExp holds e^x at the nodes and for a margin on both sides of the grid,
// because a likelihood is needed past the edges when it is blurred.
var nodeExp = func() []float64 {
	t := make([]float64, gridNodes+2*gridMargin)
	for i := range t {
		t[i] = math.Exp(nodeAt(i - gridMargin))
	}
	return t
}()

const gridMargin = 2 * gridNodes

// expAt is e^x at node i.
func expAt(i int) float64 {
	if j := i + gridMargin; j >= 0 && j < len(nodeExp) {
		return nodeExp[j]
	}
	return math.Exp(nodeAt(i))
}

// curve is a function of ln θ by its values at nodes first, first+1, …
type curve struct {
	first  int
	values []float64
}

// Kernel is the law of the logarithm of an uncertain factor, laid on the grid:
// weight w[j] for a shift by (first+j) steps.
//
// It is made from a cloud of weighted points, each shared out over its six
// nearest nodes with the weights of Lagrange's interpolation. Blurring with it
// is then right to the sixth power of the step whatever the law, a bare shift
// and laws with a spike included.
//
// The zero Kernel is the factor 1.
type Kernel struct {
	first int
	w     []float64
}

// filled is k, or what the zero Kernel stands for.
func (k Kernel) filled() Kernel {
	if k.w == nil {
		return Kernel{0, []float64{1}}
	}
	return k
}

// point is one weighted value of the logarithm of a factor.
type point struct{ t, w float64 }

// furthest is the longest shift that a kernel is told: it moves anything off
// the grid, and a longer one would only take room.
const furthest = gridNodes*gridStep + 1

// newKernel lays points on the grid and scales the weights to a sum of one.
func newKernel(points []point) Kernel {
	low, high, total := math.Inf(1), math.Inf(-1), 0.0
	for i := range points {
		p := &points[i]
		p.t = min(max(p.t, -furthest), furthest)
		low, high, total = math.Min(low, p.t), math.Max(high, p.t), total+p.w
	}
	first := int(math.Floor(low/gridStep)) - 2
	k := Kernel{first, make([]float64, int(math.Floor(high/gridStep))+3-first+1)}
	for _, p := range points {
		s := p.t / gridStep
		i := math.Floor(s)
		share := lagrange6(s - i)
		at := k.w[int(i)-2-first:]
		for j, l := range share {
			at[j] += l * p.w / total
		}
	}
	return k
}

// lagrange6 is the weights of nodes -2 to 3 for the value at r in [0, 1).
func lagrange6(r float64) [6]float64 {
	a, b, c, d, e, f := r+2, r+1, r, r-1, r-2, r-3
	return [6]float64{
		-b * c * d * e * f / 120,
		a * c * d * e * f / 24,
		-a * b * d * e * f / 12,
		a * b * c * e * f / 12,
		-a * b * c * d * f / 24,
		a * b * c * d * e / 120,
	}
}

// exactly is the kernel of the certain factor one, which changes nothing.
var exactly = Kernel{0, []float64{1}}

func (k Kernel) isExactly() bool { return k.first == 0 && len(k.w) == 1 }

func (k Kernel) equals(l Kernel) bool { return k.first == l.first && slices.Equal(k.w, l.w) }

// NormalKernel is the law of a factor whose logarithm is normal. A zero SD is
// a bare shift. A mean or an SD that is not a number counts as 0, and an SD is
// at most 10.
func NormalKernel(mean, sd float64) Kernel {
	if math.IsNaN(mean) {
		mean = 0
	}
	if sd = min(sd, 10); !(sd > 1e-9) {
		sd = 0
	}
	if sd == 0 {
		if mean == 0 {
			return exactly
		}
		return newKernel([]point{{mean, 1}})
	}
	if sd >= 2*gridStep {
		// A bell so wide is as good read off at the nodes.
		first := int(math.Ceil((mean - 8*sd) / gridStep))
		k := Kernel{first, make([]float64, int(math.Floor((mean+8*sd)/gridStep))-first+1)}
		sum := 0.0
		for j := range k.w {
			z := (float64(first+j)*gridStep - mean) / sd
			k.w[j] = math.Exp(-z * z / 2)
			sum += k.w[j]
		}
		for j := range k.w {
			k.w[j] /= sum
		}
		return k
	}
	step := math.Min(gridStep, sd) / 4
	n := int(math.Ceil(8 * sd / step))
	points := make([]point, 0, 2*n+1)
	for i := -n; i <= n; i++ {
		z := float64(i) * step / sd
		points = append(points, point{mean + z*sd, math.Exp(-z * z / 2)})
	}
	return newKernel(points)
}

// betaPoints is the law of the logarithm of a beta factor. On the logit axis
// every beta law is a smooth bell, so that an even spacing there is exact even
// for laws with a spike at one.
func betaPoints(b Beta) []point {
	peak := math.Log(b.Alpha / b.Beta)
	sd := math.Sqrt(1/b.Alpha + 1/b.Beta)
	return bell(peak, math.Min(0.05, sd/6), func(z float64) float64 {
		return -b.Alpha*math.Log1p(math.Exp(-z)) - b.Beta*math.Log1p(math.Exp(z))
	}, func(z float64) float64 { return -math.Log1p(math.Exp(-z)) })
}

// gammaPoints is the law of the logarithm of a gamma factor of mean one and
// the given shape, which is a smooth bell as it stands.
func gammaPoints(shape float64) []point {
	return bell(0, math.Min(0.05, 1/math.Sqrt(shape)/6), func(t float64) float64 {
		return shape * (t - math.Exp(t))
	}, func(t float64) float64 { return t })
}

// bell lays evenly spaced points under a density with one peak, given by its
// logarithm, and places each at the logarithm of the factor. They reach out to
// where it has fallen to 2e-16 of the peak: two counts that contradict each
// other are reconciled far out in the tails.
func bell(peak, step float64, logDensity, factor func(float64) float64) []point {
	const reach = 36
	top := logDensity(peak)
	points := []point{{factor(peak), 1}}
	for _, direction := range []float64{-1, 1} {
		for i := 1; ; i++ {
			z := peak + direction*float64(i)*step
			l := logDensity(z) - top
			if !(l > -reach) {
				break
			}
			points = append(points, point{factor(z), math.Exp(l)})
		}
	}
	return points
}

// then is the law of the product of two independent factors.
func (k Kernel) then(l Kernel) Kernel {
	if k.isExactly() {
		return l
	}
	if l.isExactly() {
		return k
	}
	out := Kernel{k.first + l.first, make([]float64, len(k.w)+len(l.w)-1)}
	for i, a := range k.w {
		for j, b := range l.w {
			out.w[i+j] += a * b
		}
	}
	return out
}

// forward is the density of x + t: the curve moved and blurred. Past its ends
// the curve is taken to go on at its last value, which is right both for a
// density that has died away and for one that is flat.
func (k Kernel) forward(c []float64) []float64 {
	out := k.slideSigned(c)
	for i, v := range out {
		out[i] = math.Max(0, v) // interpolation can dip a hair below in steep tails
	}
	return out
}

// scratch is room to work in that slideSigned uses again.
var scratch = sync.Pool{New: func() any { return new([]float64) }}

// slideSigned is forward for a curve that may be below zero.
func (k Kernel) slideSigned(c []float64) []float64 {
	k = k.filled()
	if k.isExactly() {
		return append([]float64(nil), c...)
	}
	// Pad once, turn the kernel round once: the sum is then one straight run.
	reach := k.first + len(k.w) - 1
	room := scratch.Get().(*[]float64)
	defer scratch.Put(room)
	*room = slices.Grow((*room)[:0], len(c)+2*len(k.w))[:len(c)+2*len(k.w)-1]
	w, padded := (*room)[:len(k.w)], (*room)[len(k.w):]
	for j, v := range k.w {
		w[len(w)-1-j] = v
	}
	low, high := min(max(reach, 0), len(padded)), min(max(reach+len(c), 0), len(padded))
	for i := range padded[:low] {
		padded[i] = c[0]
	}
	copy(padded[low:high], c[min(max(-reach, 0), len(c)):])
	for i := high; i < len(padded); i++ {
		padded[i] = c[len(c)-1]
	}
	// Where there is nothing but zeros to sum, the sum is zero.
	first, last := 0, len(padded)-1
	for first < last && padded[first] == 0 {
		first++
	}
	for first < last && padded[last] == 0 {
		last--
	}
	out := make([]float64, len(c))
	edge := func(from, to int) {
		for i := from; i < to; i++ {
			a, b := max(i, first), min(i+len(w), last+1)
			out[i] = dot(w[a-i:b-i], padded[a:b])
		}
	}
	// The runs that lie between the first and the last are whole.
	start, end := max(0, first-len(w)+1), min(last, len(c)-1)+1
	whole, past := max(start, first), min(end, last+2-len(w))
	if whole >= past {
		edge(start, end)
		return out
	}
	edge(start, whole)
	slide(out[whole:past], w, padded[whole:past+len(w)-1])
	edge(past, end)
	return out
}

// slide puts into out[i] the inner product of w and the run of c that starts at
// i; c holds len(out)+len(w)-1 values. It works out four neighbours at a time,
// because they share all but three of the values they read: twice as fast as
// one by one.
func slide(out, w, c []float64) {
	i := 0
	for ; i+4 <= len(out); i += 4 {
		next := c[i+3 : i+3+len(w)]
		c0, c1, c2 := c[i], c[i+1], c[i+2]
		var s0, s1, s2, s3 float64
		for j, v := range w {
			c3 := next[j]
			s0 += v * c0
			s1 += v * c1
			s2 += v * c2
			s3 += v * c3
			c0, c1, c2 = c1, c2, c3
		}
		out[i], out[i+1], out[i+2], out[i+3] = s0, s1, s2, s3
	}
	for ; i < len(out); i++ {
		out[i] = dot(w, c[i:i+len(w)])
	}
}

// dot is the inner product, in four running sums so that the processor need
// not wait for each addition.
func dot(a, b []float64) float64 {
	b = b[:len(a)]
	var s0, s1, s2, s3 float64
	i := 0
	for ; i+4 <= len(a); i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	for ; i < len(a); i++ {
		s0 += a[i] * b[i]
	}
	return s0 + s1 + s2 + s3
}
