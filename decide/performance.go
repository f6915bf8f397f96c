package decide

import (
	"math"

	"halfcup/sampling"
)

// Performance is what a plan does at one true level.
type Performance struct {
	Level       float64 // mites per hundred bees
	ChanceTreat float64
	MeanBees    float64
}

// Perform is what the plan does in a colony of the given level, exactly: the
// chance of every total with which one goes on is carried from row to row of
// the plan as it stands, whole numbers, last row and all. Wald's own formulas
// overlook that a total jumps past its line.
func (t Tally) Perform(p StopPlan, level float64) Performance {
	return t.perform(p, level, t.mean(float64(t.Scoop), level))
}

// PerformVaried is Perform when the share of the mites that is found is not
// Recovery but as uncertain as r, the same for all scoops of a tally: no plan
// can tell a poor recovery from few mites.
func (t Tally) PerformVaried(p StopPlan, level float64, r sampling.Beta) Performance {
	out := Performance{Level: level}
	for i := range recoveryParts {
		share := r.Quantile((float64(i) + 0.5) / recoveryParts)
		q := t.perform(p, level, float64(t.Scoop)*share*level/100)
		out.ChanceTreat += q.ChanceTreat / recoveryParts
		out.MeanBees += q.MeanBees / recoveryParts
	}
	return out
}

// recoveryParts is how many equally likely recoveries stand for all of them.
const recoveryParts = 50

func (t Tally) perform(p StopPlan, level, mean float64) Performance {
	out := Performance{Level: level}
	// From this total on, every row that can treat does.
	enough := 1
	for _, r := range p {
		enough = max(enough, r.TreatAtLeast)
	}
	open := make([]float64, enough) // chance of each total below it with which one goes on
	open[0] = 1
	beyond := 0.0 // of all greater totals, until a row can treat
	next := make([]float64, enough)
	scoop := countLaw(mean, t.K, enough)
	for i, r := range p {
		clear(next)
		left := beyond
		for total, chance := range open {
			if chance == 0 {
				continue
			}
			left += chance
			if t.OneFrame && !math.IsInf(t.K, 1) {
				// What was seen tells of the frame: Gamma(K + total) over
				// K + i·mean is its factor now.
				size := t.K + float64(total)
				scoop = countLaw(mean*size/(t.K+float64(i)*mean), size, enough-total)
			}
			for y, q := range scoop.chance[:enough-total] {
				next[total+y] += chance * q
			}
			beyond += chance * scoop.atLeast[enough-total]
		}
		out.MeanBees += left * float64(t.Scoop)
		for total, chance := range next {
			switch r.At(total) {
			case StopAndTreat:
				out.ChanceTreat += chance
				next[total] = 0
			case StopAndLeave:
				next[total] = 0
			}
		}
		if r.TreatAtLeast != NoStop {
			out.ChanceTreat += beyond
			beyond = 0
		}
		open, next = next, open
	}
	return out
}

// counts is a law of counts: the chance of each count below n, and the chance
// of at least each count up to n.
type counts struct{ chance, atLeast []float64 }

// countLaw is the negative binomial law of the given mean and size, Poisson
// when the size is infinite. It starts at the likeliest count and goes to both
// sides by the ratio of neighbours, so that nothing underflows.
func countLaw(mean, size float64, n int) counts {
	poisson := math.IsInf(size, 1)
	ratio := func(y float64) float64 { // chance of y over chance of y-1
		if poisson {
			return mean / y
		}
		return (y - 1 + size) / y * mean / (size + mean)
	}
	peak := math.Floor(mean)
	if !poisson {
		peak = math.Floor(math.Max(0, mean*(size-1)/size))
	}
	logPeak := -mean
	switch {
	case poisson && peak > 0:
		logPeak = peak*math.Log(mean) - mean - logGamma(peak+1)
	case !poisson:
		logPeak = logGamma(peak+size) - logGamma(size) - logGamma(peak+1) - size*math.Log1p(mean/size)
		if peak > 0 {
			logPeak -= peak * math.Log1p(size/mean)
		}
	}
	top := int(peak)
	chance := make([]float64, max(n, top)+1)
	chance[top] = math.Exp(logPeak)
	for y := top; y > 0; y-- {
		chance[y-1] = chance[y] / ratio(float64(y))
	}
	for y := top + 1; y < len(chance); y++ {
		chance[y] = chance[y-1] * ratio(float64(y))
	}
	// The second bound is for laws wholly below n: the smallest number there is
	// times a ratio over a half rounds to itself, for ever.
	for y := len(chance); chance[y-1] > 1e-20*chance[n] && chance[y-1] > 1e-300; y++ {
		chance = append(chance, chance[y-1]*ratio(float64(y)))
	}
	atLeast := make([]float64, n+1)
	sum := 0.0
	for y := len(chance) - 1; y >= 0; y-- {
		sum += chance[y]
		if y <= n {
			atLeast[y] = sum
		}
	}
	return counts{chance[:n], atLeast}
}

func logGamma(x float64) float64 {
	v, _ := math.Lgamma(x)
	return v
}

// Fixed is the smallest sample of a fixed number of bees that errs no more
// often than alpha at Low and beta at High: treat when it holds more than
// leaveAtMost mites. It is spread over frames as the scoops of the tally are.
// No such sample up to most bees: bees is 0.
func (t Tally) Fixed(alpha, beta float64, most int) (bees, leaveAtMost int) {
	for bees = 1; bees <= most; bees++ {
		size := t.K
		if !t.OneFrame {
			size *= float64(bees) / float64(t.Scoop)
		}
		low, high := t.mean(float64(bees), t.Low), t.mean(float64(bees), t.High)
		// The right cut lies between the two means: below it the sample errs
		// at Low, above at High.
		n := int(math.Ceil(high+10*math.Sqrt(high+high*high/size))) + 2
		atLow, atHigh := countLaw(low, size, n), countLaw(high, size, n)
		for cut := 0; cut < n; cut++ {
			if atLow.atLeast[cut+1] <= alpha*(1+1e-9) {
				if 1-atHigh.atLeast[cut+1] <= beta*(1+1e-9) {
					return bees, cut
				}
				break
			}
		}
	}
	return 0, 0
}
