package sampling

import (
	"errors"
	"math"
	"testing"
)

// at is the value of a likelihood at a multiple of the grid's step.
func (l Likelihood) at(x float64) float64 { return l.l[int(math.Round((x-gridLow)/gridStep))] }

// With level and frames out of the way, the mites after among all mites are
// binomial (Lehmann 1986, Testing Statistical Hypotheses): a closed form.
func TestChangeIsBinomialGivenTheTotal(t *testing.T) {
	a := DefaultAssumptions()
	a.FrameCV = 0
	for _, c := range []struct{ before, after string }{
		{"wash:18/300", "wash:3/300"}, {"wash:9/300", "wash:1/150"}, {"wash:12/300", "wash:0/300"},
		{"roll:30/200", "roll:6/300"}, // one recovery on both sides cancels
	} {
		b, y := count(t, c.before), count(t, c.after)
		l, err := a.Change(Flat(), b, y)
		if err != nil {
			t.Fatal(err)
		}
		want := func(r float64) float64 {
			odds := y.Amount.Value / b.Amount.Value * math.Exp(r)
			return float64(y.Mites)*math.Log(odds) - float64(y.Mites+b.Mites)*math.Log1p(odds)
		}
		for _, r := range []float64{-4, -2, -1, 0.5} {
			got := math.Log(l.at(r) / l.at(-1.5))
			if !(math.Abs(got-(want(r)-want(-1.5))) <= 1e-6) {
				t.Errorf("%s to %s at %v: %.9f, want %.9f", c.before, c.after, r, got, want(r)-want(-1.5))
			}
		}
	}
}

// Nested sums over the level and the recoveries, on their own axes, with the
// negative binomial for the frames.
func TestChangeAgainstNestedSums(t *testing.T) {
	a := DefaultAssumptions()
	nb := func(c Count, mean float64) float64 {
		size := float64(max(c.Frames, 1)) / (a.FrameCV * a.FrameCV)
		y := float64(c.Mites)
		lg := func(x float64) float64 { v, _ := math.Lgamma(x); return v }
		return math.Exp(lg(y+size) - lg(size) - lg(y+1) + y*math.Log(mean/(mean+size)) - size*math.Log1p(mean/size))
	}
	overRecovery := func(m Method, f func(rho float64) float64) float64 {
		b, ok := a.Recovery[m]
		if !ok {
			return f(1)
		}
		const n = 400
		sum, total := 0.0, 0.0
		for i := range n {
			rho := (float64(i) + 0.5) / n
			w := math.Pow(rho, b.Alpha-1) * math.Pow(1-rho, b.Beta-1)
			sum, total = sum+w*f(rho), total+w
		}
		return sum / total
	}
	for _, c := range []struct{ before, after string }{
		{"wash:18/300", "wash:3/300"}, {"roll:7/300/2f", "roll:1/280/3f"},
		{"roll:12/300", "wash:2/300"}, {"wash:9/300", "co2:0/250"},
	} {
		b, y := count(t, c.before), count(t, c.after)
		l, err := a.Change(a.Prior.Density(), b, y)
		if err != nil {
			t.Fatal(err)
		}
		brute := func(r float64) float64 {
			sum := 0.0
			for x := -11.0; x < 1; x += 0.04 {
				z := (x - math.Log(a.Prior.MedianPerHundred/100)) / a.Prior.LogSD
				first := func(rho float64) float64 { return nb(b, b.Amount.Value*rho*math.Exp(x)) }
				second := func(rho float64) float64 { return nb(y, y.Amount.Value*rho*math.Exp(x+r)) }
				var both float64
				if b.Method == y.Method {
					both = overRecovery(b.Method, func(rho float64) float64 { return first(rho) * second(rho) })
				} else {
					both = overRecovery(b.Method, first) * overRecovery(y.Method, second)
				}
				sum += math.Exp(-z*z/2) * both
			}
			return sum
		}
		scale := brute(-1.5)
		for _, r := range []float64{-5, -3, -2, -0.5, 1} {
			close(t, c.before+" to "+c.after, l.at(r)/l.at(-1.5), brute(r)/scale, 1e-4)
		}
	}
}

// The naive interval takes mites as if they fell one by one; frames differ, so
// the true one is wider, and bees off more frames narrow it.
func TestChangeKnowsFramesAndRecovery(t *testing.T) {
	spread := func(a Assumptions, before, after string) float64 {
		l, err := a.Change(Flat(), count(t, before), count(t, after))
		if err != nil {
			t.Fatal(err)
		}
		d, err := Flat().Times(l)
		if err != nil {
			t.Fatal(err)
		}
		_, sd := d.LogMoments()
		return sd
	}
	a := DefaultAssumptions()
	bare := a.Clone()
	bare.FrameCV = 0
	naive, one, three := spread(bare, "wash:40/300", "wash:20/300"), spread(a, "wash:40/300", "wash:20/300"), spread(a, "wash:40/300/3f", "wash:20/300/3f")
	if !(naive < three && three < one && one > 1.4*naive) {
		t.Errorf("spread: bare %.3f, three frames %.3f, one frame %.3f", naive, three, one)
	}
	if same, mixed := spread(a, "roll:40/300", "roll:20/300"), spread(a, "roll:40/300", "wash:20/300"); !(math.Abs(same-one) <= 1e-6) || mixed < 1.01*same {
		t.Errorf("spread: rolls %.4f, washes %.4f, roll and wash %.4f", same, one, mixed)
	}
	// A board reads sixteen-fold in either direction, but it is the same board.
	if board := spread(a, "board:400/3d", "board:40/3d"); board > 0.5 {
		t.Errorf("two boards of one colony: spread %.3f", board)
	}
}

func TestChangeRefusesFallsUnderATreatment(t *testing.T) {
	a := DefaultAssumptions()
	var e *ValueError
	if _, err := a.Change(Flat(), count(t, "wash:9/300"), count(t, "knockdown:90/3d")); !errors.As(err, &e) {
		t.Errorf("a knockdown as a count after: %v", err)
	}
}

func TestEvents(t *testing.T) {
	for _, c := range []struct {
		mites             int
		perTheta, add, cv float64
	}{{7, 300, 0, 0}, {7, 300, 2, 0}, {40, 25000, 12, 0.25}, {0, 300, 1, 0.25}, {12, 300, 0, 0.4}} {
		l, err := Events(c.mites, c.perTheta, c.add, c.cv)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []float64{-6, -4, -3} {
			mean, y := c.perTheta*math.Exp(x)+c.add, float64(c.mites)
			lg := func(x float64) float64 { v, _ := math.Lgamma(x); return v }
			want := y*math.Log(mean) - mean - lg(y+1)
			if c.cv > 0 {
				k := 1 / (c.cv * c.cv)
				want = lg(y+k) - lg(k) - lg(y+1) + y*math.Log(mean/(mean+k)) + k*math.Log(k/(mean+k))
			}
			close(t, "chance", l.at(x), math.Exp(want), 1e-9)
		}
	}
	for _, bad := range []struct {
		mites             int
		perTheta, add, cv float64
	}{{-1, 1, 0, 0}, {1, 0, 0, 0}, {1, math.NaN(), 0, 0}, {1, 1, -1, 0}, {1, 1, 0, math.NaN()}} {
		var e *ValueError
		if _, err := Events(bad.mites, bad.perTheta, bad.add, bad.cv); !errors.As(err, &e) {
			t.Errorf("Events(%v): %v", bad, err)
		}
	}
}

func TestThroughAndInverse(t *testing.T) {
	mean, sd := Normal(-6, 0.6).Moved(Normal(-2, 0.8).Inverse()).LogMoments()
	close(t, "mean of the ratio", mean, -4, 1e-9)
	close(t, "sd of the ratio", sd, 1, 1e-9)

	l := Likelihood{Normal(-3, 0.6).p}
	d, err := Flat().Times(l.Through(NormalKernel(0.37, 0.8)))
	if err != nil {
		t.Fatal(err)
	}
	mean, sd = d.LogMoments()
	close(t, "mean through a factor", mean, -3.37, 1e-7)
	close(t, "sd through a factor", sd, 1, 1e-7)
}
