package decide

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

func TestRegretByHand(t *testing.T) {
	for _, c := range []struct {
		perHundred, days float64
		treat, leave     float64
	}{
		{3, 30, 0, 0},                // at the line either choice is right
		{6, 30, 0, 3},                // twice the line, left for good
		{12, 30, 0, 3},               // no more than in full
		{3 * math.Sqrt2, 30, 0, 1.5}, // half a doubling
		{6, 10, 0, 1},                // a third of a month
		{6, 90, 0, 3},                // never more than a month
		{6, 0, 0, 0},                 // treated today anyway
		{1.5, 30, 1, 0},              // half the line, treated for nothing
		{0.1, 30, 1, 0},
		{3 / math.Sqrt2, 10, 0.5, 0}, // waiting has no bearing on a needless treatment
	} {
		s := Stakes{Act: 3, MissCost: 3, DaysExposed: c.days}
		treat, leave := s.Treat(c.perHundred/100), s.Leave(c.perHundred/100)
		if !(math.Abs(treat-c.treat) <= 1e-12) || !(math.Abs(leave-c.leave) <= 1e-12) {
			t.Errorf("%v per hundred, %v days: treat %v, leave %v, want %v and %v", c.perHundred, c.days, treat, leave, c.treat, c.leave)
		}
	}
}

// The line is an economic injury level: the density at which the damage costs
// what its control does (Stern et al. 1959, Hilgardia 29:81-101). Worked example
// of North Carolina State extension: control for 20 dollars an acre, a crop of
// 500, and 800 insects that take a tenth of it, so 20·800/(500·0.1) = 320 an
// acre. Held against the line at that level, for every density known for sure,
// the lesser regret is the lesser cost.
func TestTheLineIsAnEconomicInjuryLevel(t *testing.T) {
	const control, insects, value, taken = 20.0, 800.0, 500.0, 0.1
	level := control * insects / (value * taken)
	if level != 320 {
		t.Fatalf("%v an acre", level)
	}
	s := Stakes{Act: level / 100, MissCost: DefaultMissCost, DaysExposed: fullExposure}
	for perAcre := 10.0; perAcre < 1000; perAcre += 10 {
		damage := value * taken * perAcre / insects
		theta := perAcre / 1e4
		r := Regret{s.Treat(theta), s.Leave(theta)}
		if perAcre == level {
			if r.Treat > 1e-12 || r.Leave > 1e-12 {
				t.Errorf("at the level: %+v", r)
			}
			continue
		}
		if r.Treats() != (damage > control) {
			t.Errorf("%v an acre does %v of damage: %+v", perAcre, damage, r)
		}
	}
}

// The naive version holds a point estimate against the line. It is wrong both
// ways: a count a little under the line can be reason enough to treat, since a
// miss costs more and a roll misses mites, and a count over it can be reason to
// wait, on few bees or shortly before a treatment.
func TestAPointEstimateIsNotACall(t *testing.T) {
	for _, c := range []struct {
		count string
		act   float64
		point float64
		days  sampling.Date
		over  bool
	}{
		{"roll:5/300", 2, 5.0 / 300, 0, true},
		{"wash:1/30", 3, 1.0 / 30, 0, false},
		{"wash:10/300", 3, 10.0 / 300, 5, false},
	} {
		s := counted(t, c.act, c.count)
		if c.days > 0 {
			s.NextTreatment = today + c.days
		}
		naive := 100*c.point >= c.act
		if r := s.Stakes().Regret(s.State.Known); r.Treats() != c.over || r.Treats() == naive {
			t.Errorf("%s at %v: %+v, by the point estimate treat: %v", c.count, c.act, r, naive)
		}
	}
}

func TestStakesThatCannotBe(t *testing.T) {
	good := Stakes{Act: 3, MissCost: 3, DaysExposed: 30}
	if err := good.check(); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*Stakes){
		"act": func(s *Stakes) { s.Act = 0 }, "act, high": func(s *Stakes) { s.Act = 101 }, "act, none": func(s *Stakes) { s.Act = math.NaN() },
		"miss cost": func(s *Stakes) { s.MissCost = 0 }, "miss cost, high": func(s *Stakes) { s.MissCost = math.Inf(1) },
		"next treatment": func(s *Stakes) { s.DaysExposed = -1 },
	} {
		s := good
		change(&s)
		var bad *sampling.ValueError
		if err := s.check(); !errors.As(err, &bad) || bad.Remedy == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// At any level one of the two choices is free of regret, both are bounded, and
// a longer wait never lowers the regret of leaving.
func TestRegretProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := Stakes{
			Act: rapid.Float64Range(leastLevel, mostLevel).Draw(r, "act"), MissCost: rapid.Float64Range(0.1, 100).Draw(r, "miss cost"),
			DaysExposed: rapid.Float64Range(0, 90).Draw(r, "days"),
		}
		theta := math.Exp(rapid.Float64Range(-16, 4).Draw(r, "ln theta"))
		treat, leave := s.Treat(theta), s.Leave(theta)
		if treat < 0 || treat > 1 || leave < 0 || leave > s.MissCost || math.Min(treat, leave) != 0 {
			r.Fatalf("treat %v, leave %v", treat, leave)
		}
		longer := s
		longer.DaysExposed += rapid.Float64Range(0, 60).Draw(r, "longer")
		if longer.Leave(theta) < leave || longer.Treat(theta) != treat {
			r.Fatalf("%v days: leave %v, %v days: leave %v", s.DaysExposed, leave, longer.DaysExposed, longer.Leave(theta))
		}
	})
}

// The same in a situation: the later the planned treatment, the more speaks
// against leaving.
func TestALaterTreatmentMakesLeavingNoBetter(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anySituation(r, t)
		last := -1.0
		for days := sampling.Date(0); days < 40; days += 3 {
			s.NextTreatment = today + days
			now := s.Stakes().Regret(s.State.Known).Leave
			if now < last {
				r.Fatalf("%v %d days before the treatment, less than sooner", now, days)
			}
			last = now
		}
		s.NextTreatment = 0
		if s.Stakes().Regret(s.State.Known).Leave < last {
			r.Fatal("less with no treatment planned")
		}
	})
}
