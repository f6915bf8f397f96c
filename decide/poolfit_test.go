package decide

import (
	"math"
	"testing"

	"halfcup/sampling"
)

// The pulls made from each other are those worked out one by one, at the ends of
// the axes too, where one by one they are too small for a number.
func TestPullsMadeFromEachOther(t *testing.T) {
	scores := sampling.ScoreNodes()
	pull := make([]float64, len(scores))
	for _, mu := range []float64{-10, -3.2, -0.1, 0, 0.7, 4, 10} {
		for _, r := range []float64{leastShare, 0.2, 0.6, 0.9, mostShare} {
			layPull(pull, scores, mu, r)
			for k, z := range scores {
				want := math.Exp((2*mu*z-mu*mu-r*z*z)/(2*(1-r))) / math.Sqrt(1-r)
				if !(math.Abs(pull[k]-want) <= 1e-12*want+1e-290) {
					t.Fatalf("μ %v, r %v at %v: %v, one by one %v", mu, r, z, pull[k], want)
				}
			}
		}
	}
}
