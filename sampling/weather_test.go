package sampling

import (
	"errors"
	"math"
	"testing"
)

// Damp bees give up fewer mites: the same seven are more mites in the hive
// than on a dry day, and a roll that says nothing lies between.
func TestDampAndDryRolls(t *testing.T) {
	a := DefaultAssumptions()
	median := func(texts ...string) float64 {
		var counts []Count
		for _, s := range texts {
			counts = append(counts, count(t, s))
		}
		return mustPosterior(t, a, a.Prior.Density(), counts...).Quantile(0.5)
	}
	damp, unsaid, dry := median("roll:7/300/damp"), median("roll:7/300"), median("roll:7/300/dry")
	if !(damp > 1.2*unsaid && unsaid > 1.02*dry) {
		t.Errorf("damp %v, not said %v, dry %v", damp, unsaid, dry)
	}
	// The recovery is shared by rolls of one weather and by those only.
	if got, want := median("roll:7/300/damp", "roll:2/300/dry"), median("roll:2/300/dry", "roll:7/300/damp"); !(math.Abs(got-want) < 1e-12) {
		t.Errorf("the order matters: %v and %v", got, want)
	}
	l := func(texts ...string) Likelihood {
		var counts []Count
		for _, s := range texts {
			counts = append(counts, count(t, s))
		}
		l, err := a.Likelihood(counts...)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	apart, together := l("roll:7/300/damp").And(l("roll:2/300/dry")), l("roll:7/300/damp", "roll:2/300/dry")
	same, shared := l("roll:7/300/damp").And(l("roll:2/300/damp")), l("roll:7/300/damp", "roll:2/300/damp")
	for _, theta := range []float64{0.003, 0.01, 0.03, 0.1} {
		if !(math.Abs(apart.At(theta)-together.At(theta)) <= 1e-12*apart.At(theta)) {
			t.Errorf("at %v: damp and dry do not multiply", theta)
		}
		if math.Abs(same.At(theta)-shared.At(theta)) < 1e-3*same.At(theta) {
			t.Errorf("at %v: two damp rolls of one day do not share their recovery", theta)
		}
	}

	b := a.Clone()
	b.RollDamp, b.RollDry = Beta{}, Beta{}
	if got := mustPosterior(t, b, b.Prior.Density(), count(t, "roll:7/300/damp")).Quantile(0.5); got != unsaid {
		t.Errorf("without recoveries of their own: %v, want %v", got, unsaid)
	}
	delete(b.Recovery, Roll)
	b.RollDamp = a.RollDamp
	if got, want := mustPosterior(t, b, b.Prior.Density(), count(t, "roll:7/300/damp")).Quantile(0.5), median("wash:7/300"); !(math.Abs(got/want-1) < 1e-12) {
		t.Errorf("with a recovery of exactly one: %v, want %v", got, want)
	}
	b = a.Clone()
	b.RollDry = Beta{-1, 2}
	var e *ValueError
	if err := b.Check(); !errors.As(err, &e) {
		t.Errorf("a recovery that is none: %v", err)
	}
}

func TestPairsTeachTheirWeather(t *testing.T) {
	a := DefaultAssumptions()
	damp := pairOf(t, "roll:6/300/damp", "wash:5/300")
	plain := pairOf(t, "roll:10/300", "wash:1/300")
	out, done, err := a.Calibrated([]Pair{damp, plain})
	if err != nil {
		t.Fatal(err)
	}
	if out.RollDamp != (Beta{18, 13}) || out.Recovery[Roll] != (Beta{19, 3}) || out.RollDry != a.RollDry {
		t.Errorf("damp %v, not said %v, dry %v", out.RollDamp, out.Recovery[Roll], out.RollDry)
	}
	if len(done) != 2 || done[0].Weather != "" || done[1].Weather != Damp || done[1].RecoveryBefore != a.RollDamp {
		t.Errorf("%+v", done)
	}
	// Where the weather has no recovery of its own, the pair is one of rolls.
	a.RollDamp = Beta{}
	out, _, err = a.Calibrated([]Pair{damp, plain})
	if err != nil || out.Recovery[Roll] != (Beta{25, 8}) || out.RollDamp != (Beta{}) {
		t.Errorf("%v, %v, %v", out.Recovery[Roll], out.RollDamp, err)
	}
}
