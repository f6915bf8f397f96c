package sampling

import (
	"fmt"
	"math"
	"slices"
)

// Change is the likelihood of the factor by which θ of one colony changed
// between two counts; known is what was known of it on the day of the first,
// without that count. The logarithm of the factor takes the place of ln θ.
//
// A factor that both counts share, the recovery of their method or how the
// colony's board reads, is the same on both sides and cancels. Where the
// methods differ each count keeps its own. Errors are *ValueError: a fall
// after a treatment is no count of what was there before or after it.
func (a Assumptions) Change(known Density, before, after Count) (Likelihood, error) {
	sharedBefore, b, err := a.readSide(before)
	if err != nil {
		return Likelihood{}, err
	}
	sharedAfter, c, err := a.readSide(after)
	if err != nil {
		return Likelihood{}, err
	}
	first, last := group{exactly, []reading{b}}, group{exactly, []reading{c}}
	level := known.p
	if before.Method == after.Method && before.Weather == after.Weather && before.Hive.Broodless == after.Hive.Broodless {
		// In u = ln θ + ln(shared factor) both counts are plain.
		level = sharedBefore.forward(level)
	} else {
		first.shared, last.shared = sharedBefore, sharedAfter
	}
	weight := slices.Clone(first.likelihood())
	for i := range weight {
		weight[i] *= level[i]
	}
	// ln of the factor at node j is a shift by j-zero nodes.
	const zero = int(-gridLow / gridStep)
	then := last.shared.carry(last.curve, -zero, 2*gridNodes-1-zero).values
	out := Likelihood{make([]float64, gridNodes)}
	for j := range out.l {
		out.l[j] = dot(weight, then[j:j+gridNodes])
	}
	return out, nil
}

func (a Assumptions) readSide(c Count) (Kernel, reading, error) {
	if c.Method == Knockdown {
		return Kernel{}, reading{}, badValue("count "+c.String(), "mites that fell under a treatment are no count of what was there before or after it", "count bees or the natural fall")
	}
	return a.read(c)
}

// Events is the likelihood of a number of mites of which perTheta·θ + add were
// expected, with a gamma factor of mean one and the given coefficient of
// variation on the whole, 0 for none. Errors are *ValueError.
func Events(mites int, perTheta, add, cv float64) (Likelihood, error) {
	switch {
	case mites < 0 || mites > maxMites:
		return Likelihood{}, badValue("mites", fmt.Sprintf("%d cannot have been counted", mites), "check the number")
	case !(perTheta > 0) || math.IsInf(perTheta, 1) || !(add >= 0) || math.IsInf(add, 1):
		return Likelihood{}, badValue("expected mites", fmt.Sprintf("%v and %v cannot be", perTheta, add), "give figures of 0 or more")
	case !(cv >= 0 && cv <= 2):
		return Likelihood{}, badValue("coefficient of variation", fmt.Sprintf("%v is not between 0 and 2", cv), "give one such as 0.25")
	}
	return Likelihood{law{perTheta, gammaSize(cv), add}.curve(mites, 0, gridNodes-1).values}, nil
}

// Through is the likelihood of θ where l was that of θ times a factor with the
// law k.
func (l Likelihood) Through(k Kernel) Likelihood {
	l, k = l.filled(), k.filled()
	back := Kernel{-(k.first + len(k.w) - 1), make([]float64, len(k.w))}
	for j, w := range k.w {
		back.w[len(k.w)-1-j] = w
	}
	return Likelihood{back.forward(l.l)}
}

// Inverse is the law of the factor 1/θ. A density moved by the inverse of
// another is that of the ratio of the two.
func (d Density) Inverse() Kernel {
	d = d.filled()
	const zero = int(-gridLow / gridStep)
	k := Kernel{zero - gridNodes + 1, make([]float64, gridNodes)}
	for i, p := range d.p {
		k.w[gridNodes-1-i] = p * gridStep
	}
	return k
}
