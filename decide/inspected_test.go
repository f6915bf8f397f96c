package decide

import "testing"

// A call to treat once in winter waits for the brood to end, and says from when:
// beside capped brood one treatment misses the mites in it. Naive, the call of
// the first day without flight was "treat, while there is no brood", two weeks
// before the brood of the same model ends.
func TestWinterTreatmentWaitsForBrood(t *testing.T) {
	a := apiaryOf(t, colonyOf(t, "wash:12/300@2026-10-10"))
	early, late := stands(t, a, "2026-11-14"), stands(t, a, "2026-12-10")
	for _, s := range []Standing{early, late} {
		if s.Call != Treat || s.Because != WinterCount {
			t.Fatalf("%s: %s, %s", s.Day, s.Call, s.Because)
		}
		var treat Duty
		for _, d := range s.Duties() {
			if d.Kind == DutyTreat {
				treat = d
			}
		}
		if treat.Day != s.TreatFrom || s.TreatFrom < s.Day {
			t.Errorf("%s: treat on %s, and no brood from %s", s.Day, treat.Day, s.TreatFrom)
		}
		if s.Situation().State.CappedBrood(s.TreatFrom) {
			t.Errorf("%s: brood is capped on %s", s.Day, s.TreatFrom)
		}
	}
	if early.TreatFrom <= early.Day || late.TreatFrom != late.Day {
		t.Errorf("asked on %s: from %s; asked on %s: from %s", early.Day, early.TreatFrom, late.Day, late.TreatFrom)
	}
}

// What is written down of other things, days after a count, calls nobody back
// earlier: days only blur what is known. Naive, the supers taken off six days
// after a wash of 5 turned "count by 8 August" into "was due on 27 July".
func TestRowsBringNoCountForward(t *testing.T) {
	c := colonyOf(t, "wash:1/300@2026-05-12", "wash:5/300@2026-07-20")
	c.Supers = SupersPlan{Known: true, Times: []Supers{{On: mustDate("2026-05-03"), Off: mustDate("2026-07-26")}}}
	before := stands(t, apiaryOf(t, c), "2026-07-21")
	for _, day := range []string{"2026-07-26", "2026-07-27"} {
		c.Happenings = []Happening{{Kind: Requeened, On: mustDate(day)}}
		if s := stands(t, apiaryOf(t, c), day); s.Call == CountAgain || s.Due < before.Due-7 {
			t.Errorf("%s: %s (%s), due %s, but %s before", day, s.Call, s.Because, s.Due, before.Due)
		}
	}
}

// Nobody is sent back within a week of a count that called for nothing.
func TestNobodyComesBackWithinAWeek(t *testing.T) {
	for _, mites := range []string{"4", "5", "6", "7"} {
		s := stands(t, apiaryOf(t, colonyOf(t, "wash:"+mites+"/300@2026-07-18")), "2026-07-18")
		if s.Call == Leave && s.Due < s.Counted+7 {
			t.Errorf("%s mites: count by %s", mites, s.Due)
		}
	}
}

// Where mites fell and nothing in the record explains it, the next count is two
// weeks away, whatever the gap of the season.
func TestUnexplainedFallIsCountedSoon(t *testing.T) {
	s := stands(t, apiaryOf(t, colonyOf(t, "wash:9/300@2026-06-12", "wash:0/300@2026-09-06")), "2026-09-06")
	if !s.Drop || s.Call != Leave || s.Due != mustDate("2026-09-20") {
		t.Errorf("drop %v, %s (%s), due %s", s.Drop, s.Call, s.Because, s.Due)
	}
}
