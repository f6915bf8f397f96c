package sampling

import (
	"math"
	"testing"
)

// Under a normal law of ln θ the score is the standardised logarithm, and under
// any law the score of that law itself is standard normal.
func TestScores(t *testing.T) {
	d := Normal(math.Log(0.01), 1.2)
	nodes := ScoreNodes()
	z := d.Scores().Likelihood(scoreValues(func(z float64) float64 { return z + 20 }))
	for _, theta := range []float64{1e-4, 0.003, 0.01, 0.07, 0.5} {
		want := (math.Log(theta)-math.Log(0.01))/1.2 + 20
		if got := z.At(theta); !(math.Abs(got-want) < 1e-5) {
			t.Errorf("the score of %v is %v, want %v", theta, got-20, want-20)
		}
	}

	mixed, err := Blend([]Density{Normal(-6, 0.5), Normal(-3, 0.8)}, []float64{2, 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range []Density{d, mixed} {
		mass := d.Scores().Mass(d)
		for power, want := range []float64{1, 0, 1, 0, 3} {
			sum := 0.0
			for i, m := range mass {
				sum += m * math.Pow(nodes[i], float64(power))
			}
			if !(math.Abs(sum-want) < 2e-5) {
				t.Errorf("the mean of z^%d is %v, want %v", power, sum, want)
			}
		}
		// A step is laid down as Over reads it.
		sum := 0.0
		for _, m := range d.Scores().Mass(d, Above(0.02)) {
			sum += m
		}
		if want := d.Over(0.02); !(math.Abs(sum-want) < 1e-9) {
			t.Errorf("over 2 per hundred lie %v, want %v", sum, want)
		}
	}
}

// A level that the density all but rules out gets a score all the same.
func TestScoresFarOut(t *testing.T) {
	l := Normal(-9, 0.05).Scores().Likelihood(scoreValues(func(z float64) float64 { return z + 20 }))
	for i, v := range l.l {
		if !(v >= 20-scoreReach-1e-9 && v <= 20+scoreReach+1e-9) {
			t.Fatalf("the score at node %d is %v", i, v-20)
		}
		if i > 0 && v < l.l[i-1]-1e-9 {
			t.Fatalf("the score falls from %v to %v at node %d", l.l[i-1]-20, v-20, i)
		}
	}
}

func scoreValues(f func(z float64) float64) []float64 {
	out := ScoreNodes()
	for i, z := range out {
		out[i] = f(z)
	}
	return out
}
