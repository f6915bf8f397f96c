package sampling

import "math"

// Teaching is what a few more pairs would do for the reading of one method.
type Teaching struct {
	Method    Method
	Weather   Weather // of rolls that were marked damp or dry
	Broodless bool    // of a board

	// Now and Then are how unsure the reading is, on the log scale (a standard
	// deviation): as it is, and after so many typical pairs more.
	Now, Then float64
}

// Teaching is what three typical pairs would do for counts like one: a roll that
// brings down as many of twelve mites as such rolls do, or a board beside a
// wash. ok is false for a wash, which is what the others are held against, and
// for the fall after a treatment, which nothing calibrates.
func (a Assumptions) Teaching(c Count) (t Teaching, ok bool, err error) {
	t = Teaching{Method: c.Method, Weather: c.Weather, Broodless: c.Hive.Broodless}
	switch {
	case c.Method == Board:
		fall := func(a Assumptions) float64 {
			if c.Hive.Broodless {
				return a.BoardBroodless.LogSD
			}
			return a.BoardBrood.LogSD
		}
		after, err := a.WithTypicalPairs(typicalPairs, c.Hive.Broodless)
		if err != nil {
			return t, false, err
		}
		t.Weather, t.Now, t.Then = "", fall(a), fall(after)
		return t, true, nil
	case c.Method == Wash || c.Method.Kind() != BeeSample:
		return t, false, nil
	}
	before, uncertain := a.RecoveryOf(c)
	if !uncertain {
		return t, false, nil
	}
	if a.recoveryIn(c.Weather) == (Beta{}) {
		t.Weather = ""
	}
	const mites = 12
	down := int(math.Round(mites * before.Mean()))
	pairs := make([]Pair, typicalPairs)
	for i := range pairs {
		pairs[i] = Pair{
			Gentle:    Count{Method: c.Method, Weather: c.Weather, Mites: down, Amount: Amount{300, Bees}},
			Reference: Count{Method: Wash, Mites: mites - down, Amount: Amount{300, Bees}},
		}
	}
	after, _, err := a.Calibrated(pairs)
	if err != nil {
		return t, false, err
	}
	then, _ := after.RecoveryOf(c)
	t.Broodless, t.Now, t.Then = false, before.SD()/before.Mean(), then.SD()/then.Mean()
	return t, true, nil
}
