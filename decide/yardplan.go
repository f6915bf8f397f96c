package decide

import (
	"fmt"
	"math"

	"halfcup/sampling"
)

// FindsOne is the chance that sampled colonies, picked without looking, hold at
// least one of the high ones of a yard (hypergeometric). It takes a high colony
// that is sampled as found. Numbers that do not fit a yard are brought to their
// nearest end.
func FindsOne(yard, high, sampled int) float64 {
	if yard < 1 {
		return 0
	}
	high = min(max(high, 0), yard)
	return Search{Prevalence: float64(high) / float64(yard), Sensitivity: 1, Population: yard}.Chance(sampled)
}

// YardPlan asks how many colonies of a yard to sample for a wanted precision of
// the mean.
type YardPlan struct {
	Colonies        int     // in the yard
	LevelPerHundred float64 // the mean that is expected
	Precision       float64 // standard error wanted, as a share of the mean
	ColonyCV        float64 // between colonies
	FrameCV         float64 // from frame to frame, one frame a sample
}

// DefaultYardPlan is the plan for a yard of so many colonies with the figures
// of the tables, for a mean at the given level.
func DefaultYardPlan(colonies int, levelPerHundred float64) YardPlan {
	return YardPlan{
		Colonies: colonies, LevelPerHundred: levelPerHundred, Precision: 0.25,
		ColonyCV: poolFigure("colony_cv"), FrameCV: sampling.DefaultAssumptions().FrameCV,
	}
}

// Check reports a plan that cannot be, as a *sampling.ValueError.
func (p YardPlan) Check() error {
	switch {
	case p.Colonies < 1 || p.Colonies > 100_000:
		return &sampling.ValueError{Name: "yard", Problem: fmt.Sprintf("no yard has %d colonies", p.Colonies), Remedy: "give the number of its colonies, such as 14"}
	case !(p.LevelPerHundred >= 0.01 && p.LevelPerHundred <= 100):
		return &sampling.ValueError{Name: "level", Problem: fmt.Sprintf("a mean of %v mites per hundred is out of range", p.LevelPerHundred), Remedy: "give a figure from 0.01 to 100"}
	case !(p.Precision >= 0.01 && p.Precision <= 1):
		return &sampling.ValueError{Name: "precision", Problem: fmt.Sprintf("%v is out of range", p.Precision), Remedy: "give a share of the mean from 0.01 to 1, such as 0.25"}
	case !(p.ColonyCV >= 0 && p.ColonyCV <= 5):
		return &sampling.ValueError{Name: "colony CV", Problem: fmt.Sprintf("%v is out of range", p.ColonyCV), Remedy: "give a coefficient of variation from 0 to 5, such as 0.73"}
	case !(p.FrameCV >= 0 && p.FrameCV <= 5):
		return &sampling.ValueError{Name: "frame CV", Problem: fmt.Sprintf("%v is out of range", p.FrameCV), Remedy: "give a coefficient of variation from 0 to 5, such as 0.25"}
	}
	return nil
}

// Reached is the precision that samples of so many bees from so many colonies
// reach: the standard error of the mean as a share of it.
//
// With m mites expected in a sample the variance of the mean is, as a share of
// its square, (1/m + frame CV² + colony CV²) / colonies: the textbook formula
// for a fixed precision of clumped counts, n = (1/m + 1/k)/C², with k parted
// into frames and colonies. The differences between colonies shrink as the
// sampled ones become the whole yard (finite population correction), the
// chance within each sample does not.
func (p YardPlan) Reached(colonies, bees int) float64 {
	within, between := p.parts(bees)
	n := float64(colonies)
	left := 1 - n/float64(p.Colonies)
	return math.Sqrt((within + between*left) / n)
}

// Needed is the fewest colonies whose samples of so many bees reach the
// precision; false when not even all of them do.
func (p YardPlan) Needed(bees int) (int, bool) {
	within, between := p.parts(bees)
	wanted := p.Precision * p.Precision
	n := (within + between) / (wanted + between/float64(p.Colonies))
	colonies := max(int(math.Ceil(n-1e-9)), 1)
	return colonies, colonies <= p.Colonies
}

// parts is the variance of one sample within its colony and between colonies,
// as shares of the squared mean.
func (p YardPlan) parts(bees int) (within, between float64) {
	return 100/(p.LevelPerHundred*float64(bees)) + p.FrameCV*p.FrameCV, p.ColonyCV * p.ColonyCV
}
