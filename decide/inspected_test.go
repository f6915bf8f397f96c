package decide

import (
	"fmt"
	"testing"

	"halfcup/sampling"
)

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

// A second week of a board that is asked for has its day, and stands in the list
// of what is due. Naive, the next count of a winter is that of the first pollen:
// the call said "a second week", and the calendar nothing before March.
func TestSecondBoardIsDue(t *testing.T) {
	for _, day := range []string{"2026-12-07", "2026-12-15"} {
		s := stands(t, apiaryOf(t, colonyOf(t, "wash:4/300@2026-10-02", "board:14/7d@2026-12-07")), day)
		if s.Because != SecondWeek {
			t.Fatalf("%s: %s (%s), over %.2f", day, s.Call, s.Because, s.ChanceOverAct)
		}
		duties := s.Duties()
		if want := mustDate("2026-12-28"); s.Due != want || s.DueFor != DueBoard || len(duties) != 1 || duties[0].Day != want || duties[0].Why != DueBoard {
			t.Errorf("%s: due %s (%s), %+v", day, s.Due, s.DueFor, duties)
		}
	}
	// When it is too late for one, spring is next.
	if s := stands(t, apiaryOf(t, colonyOf(t, "wash:4/300@2026-10-02", "board:14/7d@2026-12-07")), "2026-12-29"); s.Because == SecondWeek || s.DueFor != DueFirstFly {
		t.Errorf("%s (%s), due %s", s.Call, s.Because, s.Due)
	}
}

// A colony that was robbed, or that robbed others, is counted two weeks later,
// as its neighbours are. Naive, only the neighbours were.
func TestRobbedColonyIsCounted(t *testing.T) {
	of := func(robbed string, counts ...string) Standing {
		c := colonyOf(t, counts...)
		if robbed != "" {
			c.Robbed = mustDate(robbed)
			c.Happenings = []Happening{{Kind: Robbing, On: c.Robbed}}
		}
		return stands(t, apiaryOf(t, c), "2026-08-28")
	}
	before, after := of("", "wash:0/300@2026-08-20"), of("2026-08-24", "wash:0/300@2026-08-20")
	if before.Robbed || before.DueFor == DueRobbing || !after.Robbed || after.DueFor != DueRobbing || after.Due != mustDate("2026-09-07") || !(after.Due < before.Due) {
		t.Errorf("due %s (%s); robbed %s (%s)", before.Due, before.DueFor, after.Due, after.DueFor)
	}
	if s := of("2026-08-10", "wash:0/300@2026-08-26"); s.Robbed || s.DueFor == DueRobbing {
		t.Errorf("counted since its mites came in: due %s (%s)", s.Due, s.DueFor)
	}
}

// A colony that may be over the line waits for the treatment that is planned in
// these weeks. Naive, the plan makes it cheaper to leave than to treat today, and
// what was said was "leave it shut, and count it first in spring".
func TestWinterWaitsForWhatIsPlanned(t *testing.T) {
	trickle, err := sampling.FindTreatment("oxalic-trickle")
	if err != nil {
		t.Fatal(err)
	}
	waited := 0
	for mites := range 5 {
		c := colonyOf(t, fmt.Sprintf("roll:%d/300@2026-10-30", mites))
		bare := stands(t, apiaryOf(t, c), "2026-12-15")
		c.Treatments = []TreatmentDay{{On: mustDate("2026-12-20"), Treatment: trickle, Planned: true}}
		s := stands(t, apiaryOf(t, c), "2026-12-15")
		switch {
		case s.ChanceOverAct >= winterFine && s.Call != WaitForPlanned, s.ChanceOverAct < winterFine && s.Call != Leave, s.OpenInWinter():
			t.Errorf("%d mites, over %.2f: %s (%s)", mites, s.ChanceOverAct, s.Call, s.Because)
		case s.Call == WaitForPlanned && !s.now.Stakes().Regret(s.now.State.Known).Treats():
			waited++
		}
		if bare.Call == WaitForPlanned {
			t.Errorf("%d mites: waits for nothing", mites)
		}
	}
	if waited == 0 {
		t.Error("no colony for which leaving is the lesser regret: the test shows nothing")
	}
}
