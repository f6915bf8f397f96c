package sampling

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A survey reads a count as the single steps do, whatever the count and
// whatever was known, where the two contradict each other too.
func TestSurveyIsTheSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := DefaultAssumptions()
		a.FrameCV = rapid.SampledFrom([]float64{0, 0.1, 0.25, 1}).Draw(t, "frame CV")
		c := Count{
			Method: rapid.SampledFrom([]Method{Wash, Roll, CO2}).Draw(t, "method"),
			Mites:  rapid.IntRange(0, 400).Draw(t, "mites"),
			Amount: Amount{float64(rapid.IntRange(20, 2000).Draw(t, "bees")), Bees},
			Frames: rapid.IntRange(0, 5).Draw(t, "frames"),
		}
		if rapid.Bool().Draw(t, "scooped") {
			c.Amount = Amount{120, Millilitres}
		}
		before := Prior{rapid.Float64Range(0.01, 100).Draw(t, "median"), rapid.Float64Range(0.05, 2).Draw(t, "log-SD")}.Density()
		if rapid.Bool().Draw(t, "flat") {
			before = Flat()
		}
		l, err := a.Likelihood(c)
		if err != nil {
			t.Fatal(err)
		}
		want, errWant := before.Times(l)
		survey := a.Survey(before, 0.9, 0.02)
		if rapid.Bool().Draw(t, "used before") {
			_, _, _ = survey.Read(Count{Method: Roll, Mites: 3, Amount: Amount{300, Bees}})
		}
		sum, over, errGot := survey.Read(c)
		got := survey.after
		if (errWant == nil) != (errGot == nil) {
			t.Fatalf("%v: %v, want %v", c, errGot, errWant)
		}
		if errWant != nil {
			return
		}
		top := 0.0
		for _, v := range want.p {
			top = math.Max(top, v)
		}
		for i := range want.p {
			if !(math.Abs(got.p[i]-want.p[i]) <= 1e-12*top) {
				t.Fatalf("%v at node %d: %v, want %v of %v", c, i, got.p[i], want.p[i], top)
			}
		}
		full := want.Summary(0.9)
		for _, f := range [][2]float64{{sum.Median, full.Median}, {sum.Mean, full.Mean}, {sum.Low, full.Low}, {sum.High, full.High}} {
			if !(math.Abs(f[0]/f[1]-1) <= 1e-9) {
				t.Fatalf("%v: %+v, want %+v", c, sum, full)
			}
		}
		if !(math.Abs(over[0]-want.Over(0.02)) <= 1e-12) || sum.Level != 0.9 {
			t.Fatalf("%v: over %v, want %v", c, over[0], want.Over(0.02))
		}
	})
}

func TestSurveyOfOtherMethods(t *testing.T) {
	a := DefaultAssumptions()
	survey := a.Survey(a.Prior.Density(), 0.95)
	for _, text := range []string{"board:24/3d", "wash:2500/400", "roll:0/0.5cup"} {
		c, err := ParseCount(text)
		if err != nil {
			t.Fatal(err)
		}
		l, err := a.Likelihood(c)
		if err != nil {
			t.Fatal(err)
		}
		want, _ := a.Prior.Density().Times(l)
		got, _, err := survey.Read(c)
		if err != nil || !(math.Abs(got.Median/(100*want.Quantile(0.5))-1) <= 1e-12) || !(math.Abs(got.Mean/(100*want.Mean())-1) <= 1e-12) {
			t.Errorf("%s: %+v, %v, want %+v", text, got, err, want.Summary(0.95))
		}
	}
	if _, _, err := survey.Read(Count{Method: Wash, Mites: 5}); err == nil {
		t.Error("a count of no bees was read")
	}
}

// BenchmarkRow is all that one row of a survey needs, no two rows alike.
func BenchmarkRow(b *testing.B) {
	for _, m := range []Method{Wash, Roll} {
		b.Run(string(m), func(b *testing.B) {
			a := DefaultAssumptions()
			survey := a.Survey(a.Prior.Density(), 0.95, 0.02, 0.03)
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				c := Count{Method: m, Mites: i % 61, Amount: Amount{220 + float64(i%180) + float64(i%97)/97, Bees}}
				if _, _, err := survey.Read(c); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
