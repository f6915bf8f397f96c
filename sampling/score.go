package sampling

import (
	"math"
	"slices"

	"halfcup/internal/numeric"
)

// Colonies of which different things are known beforehand are compared by the
// place each takes in what is known of it: its normal score, z = Φ⁻¹(F(θ)) with
// F the distribution function of the density. Under that density z is standard
// normal, whatever its shape.
//
// Scores are kept on a grid of their own, the same for all colonies. It is fine
// enough for functions of z that are smooth over a quarter of one SD.
const (
	scoreStep  = 1.0 / 16
	scoreReach = 10 // in SDs; what lies farther out is taken to lie there
	scoreSpare = 3  // nodes beyond, for the interpolation
	scoreNodes = 2*(scoreReach*16+scoreSpare) + 1
)

// ScoreNodes are the normal scores at which functions of them are kept.
func ScoreNodes() []float64 {
	out := make([]float64, scoreNodes)
	for i := range out {
		out[i] = scoreStep * float64(i-scoreReach*16-scoreSpare)
	}
	return out
}

// Scores says where each level lies on the scale of normal scores of one
// density.
type Scores struct {
	first []int        // of the six nodes of ScoreNodes around each node of Nodes
	share [][6]float64 // of each of them
}

// filled is s, or the scores under a density that knows nothing.
func (s Scores) filled() Scores {
	if s.first == nil {
		return flat.Scores()
	}
	return s
}

// Scores is the normal score of every level under the density.
func (d Density) Scores() Scores {
	d = d.filled()
	under, over := d.Tails()
	s := Scores{make([]int, gridNodes), make([][6]float64, gridNodes)}
	for i := range under {
		// Half of what lies at a node is on either side of it, which matters
		// where the density is cut off by the end of the grid.
		z := scoreOf(math.Max(math.Min(under[i], over[i]), d.p[i]*gridStep/2))
		if under[i] < over[i] {
			z = -z
		}
		at := z/scoreStep + scoreReach*16 + scoreSpare
		node := math.Floor(at)
		s.first[i], s.share[i] = int(node)-2, lagrange6(at-node)
	}
	return s
}

// scoreOf is the normal score over which the share p lies, a half or less.
func scoreOf(p float64) float64 {
	if !(p > 0) {
		return scoreReach
	}
	return math.Min(-numeric.NormalQuantile(p), scoreReach)
}

// Mass lays what d holds, times the likelihood of l if one is given, on the
// nodes of ScoreNodes: its inner product with a smooth function of the score is
// the mean of that function. Single values may be a hair below zero.
func (s Scores) Mass(d Density, l ...Likelihood) []float64 {
	d, s = d.filled(), s.filled()
	out := make([]float64, scoreNodes)
	for i, p := range d.p {
		for _, l := range l {
			p *= l.filled().l[i]
		}
		if p == 0 {
			continue
		}
		at := out[s.first[i] : s.first[i]+6]
		for j, share := range s.share[i] {
			at[j] += share * p * gridStep
		}
	}
	return out
}

// Likelihood is a smooth function of the score, given at the nodes of
// ScoreNodes, as a likelihood of the level. Values below zero count as zero.
func (s Scores) Likelihood(f []float64) Likelihood {
	if len(f) < scoreNodes { // it is zero where nobody gave it
		f = append(slices.Clone(f), make([]float64, scoreNodes-len(f))...)
	}
	s = s.filled()
	v := make([]float64, gridNodes)
	for i := range v {
		v[i] = math.Max(0, dot(s.share[i][:], f[s.first[i]:s.first[i]+6]))
	}
	return Likelihood{v}
}
