package decide

import (
	"math"

	"halfcup/sampling"
)

// Performance is what a plan does at one true level.
type Performance struct {
	Level       float64 // mites per hundred bees
	ChanceTreat float64
	ChanceOpen  float64 // that it ends with nothing settled
	MeanBees    float64
	MeanScoops  float64
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
		out.ChanceOpen += q.ChanceOpen / recoveryParts
		out.MeanBees += q.MeanBees / recoveryParts
		out.MeanScoops += q.MeanScoops / recoveryParts
	}
	return out
}

// recoveryParts is how many equally likely recoveries stand for all of them.
const recoveryParts = 50

func (t Tally) perform(p StopPlan, level, mean float64) Performance {
	out := Performance{Level: level}
	if t.Scoop < 1 {
		return out // a tally nobody filled in
	}
	// From this total on, every row that can treat does.
	enough := 1
	for _, r := range p {
		enough = max(enough, r.TreatAtLeast)
	}
	open := make([]float64, enough) // chance of each total below it with which one goes on
	open[0] = 1
	beyond := 0.0 // of all greater totals, until a row can treat
	next := make([]float64, enough)
	scoop := countLaw(mean, t.K)
	for i, r := range p {
		clear(next)
		left := beyond
		for total, chance := range open {
			if chance < unseen {
				continue
			}
			left += chance
			if t.OneFrame && !math.IsInf(t.K, 1) {
				// What was seen tells of the frame: Gamma(K + total) over
				// K + i·mean is its factor now.
				size := t.K + float64(total)
				scoop = countLaw(mean*size/(t.K+float64(i)*mean), size)
			}
			room := enough - total
			for y, q := range scoop.chance[:min(room, len(scoop.chance))] {
				next[total+y] += chance * q
			}
			beyond += chance * scoop.atLeast(room)
		}
		if left < unseen {
			break
		}
		out.MeanScoops += left
		for total, chance := range next {
			switch r.At(total) {
			case StopAndTreat:
				out.ChanceTreat += chance
				next[total] = 0
			case StopOpen:
				out.ChanceOpen += chance
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
	out.MeanBees = out.MeanScoops * float64(t.Scoop)
	return out
}

// unseen is a chance that no double-precision sum notices.
const unseen = 1e-22

// counts is a law of counts: the chance of each count, as far as it matters,
// and of each count or more.
type counts struct{ chance, upper []float64 }

// atLeast is the chance of so many or more.
func (c counts) atLeast(n int) float64 {
	if n >= len(c.upper) {
		return 0
	}
	return c.upper[n]
}

// countLaw is the negative binomial law of the given mean and size, Poisson
// when the size is infinite. It starts at the likeliest count and goes to both
// sides by the ratio of neighbours, so that nothing underflows.
func countLaw(mean, size float64) counts {
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
	chance := make([]float64, top+1, 2*top+32)
	chance[top] = math.Exp(logPeak)
	for y := top; y > 0; y-- {
		chance[y-1] = chance[y] / ratio(float64(y))
	}
	for y := top + 1; chance[y-1] > unseen; y++ {
		chance = append(chance, chance[y-1]*ratio(float64(y)))
	}
	upper := make([]float64, len(chance))
	sum := 0.0
	for y := len(chance) - 1; y >= 0; y-- {
		sum += chance[y]
		upper[y] = sum
	}
	return counts{chance, upper}
}

func logGamma(x float64) float64 {
	v, _ := math.Lgamma(x)
	return v
}

// FixedSample is a sample of so many bees, whatever they show: leave when it
// holds at most LeaveAtMost mites, else treat.
type FixedSample struct{ Bees, LeaveAtMost int }

// Fixed is the smallest sample of a fixed number of bees, up to most, that errs
// no more often than alpha at Low and beta at High. It is spread over frames as
// the scoops of the tally are.
func (t Tally) Fixed(alpha, beta float64, most int) (FixedSample, bool) {
	for bees := 1; bees <= most; bees++ {
		atLow, atHigh := t.fixedLaw(bees, t.Low), t.fixedLaw(bees, t.High)
		for cut := range len(atHigh.chance) {
			if atLow.atLeast(cut+1) <= alpha*(1+1e-9) {
				if 1-atHigh.atLeast(cut+1) <= beta*(1+1e-9) {
					return FixedSample{bees, cut}, true
				}
				break // a greater cut errs more at High
			}
		}
	}
	return FixedSample{}, false
}

// PerformFixed is what a fixed sample does in a colony of the given level.
func (t Tally) PerformFixed(f FixedSample, level float64) Performance {
	if t.Scoop < 1 {
		return Performance{Level: level} // a tally nobody filled in
	}
	return Performance{Level: level, ChanceTreat: t.fixedLaw(f.Bees, level).atLeast(f.LeaveAtMost + 1), MeanBees: float64(f.Bees), MeanScoops: 1}
}

// fixedLaw is the law of the mites in so many bees.
func (t Tally) fixedLaw(bees int, level float64) counts {
	size := t.K
	if !t.OneFrame {
		size *= float64(bees) / float64(t.Scoop)
	}
	return countLaw(t.mean(float64(bees), level), size)
}

// Reaching is the smallest number of bees at most, up to most, with which
// Wald's plan errs no more often than Alpha and Beta ask; 0 when there is none.
// With fewer the plan is cut short too early to keep its word.
func (t Tally) Reaching(most int) int {
	if t.Scoop < 1 {
		return 0 // a tally nobody filled in
	}
	for t.Max = t.Scoop; t.Max <= most && t.steps() <= mostTallySteps; t.Max += t.Scoop {
		if p := t.Wald(); t.Perform(p, t.Low).ChanceTreat <= t.Alpha && 1-t.Perform(p, t.High).ChanceTreat <= t.Beta {
			return t.Max
		}
	}
	return 0
}
