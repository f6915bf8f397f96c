package decide

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

func judged(t testing.TB, s Situation) Judgement {
	t.Helper()
	j, err := s.Judge()
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func TestEveryCall(t *testing.T) {
	for _, c := range []struct {
		name    string
		count   string
		planned sampling.Date // days ahead, 0 for none
		supers  bool
		want    Call
		because string
	}{
		{"far over", "wash:20/300", 0, false, Treat, "leaving it would on average cost more"},
		{"far under", "wash:1/300", 0, false, Leave, "more likely be needless"},
		{"near the line", "roll:8/300", 0, false, CountAgain, "worth more than it costs"},
		{"never counted", "", 0, false, CountAgain, "nobody has counted yet"},
		{"over, planned in a week", "wash:10/300", 7, false, WaitForPlanned, "the planned treatment is 7 days away"},
		{"under, planned in a week", "wash:1/300", 7, false, WaitForPlanned, "7 days away"},
		{"far over, planned in a month", "wash:20/300", 30, false, BringForward, "too much to wait the 30 days"},
		{"under, planned in two months", "wash:1/300", 60, false, Leave, ""},
		{"far over, planned in two months", "wash:20/300", 60, false, BringForward, "60 days"},
		{"far over, supers on", "wash:20/300", 0, true, WhenSupersOff, "the label and the law"},
		{"far over, supers on, planned", "wash:20/300", 30, true, WhenSupersOff, "the label and the law"},
		{"far under, supers on", "wash:1/300", 0, true, Leave, ""},
	} {
		var counts []string
		if c.count != "" {
			counts = append(counts, c.count)
		}
		s := counted(t, 3, counts...)
		s.SupersOn = c.supers
		if c.planned > 0 {
			s.NextTreatment = today + c.planned
		}
		j := judged(t, s)
		if j.Call != c.want || !strings.Contains(j.Because, c.because) {
			t.Errorf("%s: %s, because %s", c.name, j.Call, j.Because)
		}
		// The reason has the chance in it.
		if !strings.Contains(j.Because, percent(j.OverAct)) {
			t.Errorf("%s: no chance in %q", c.name, j.Because)
		}
		if !(j.OverWatch > j.OverAct) {
			t.Errorf("%s: over watch %v, over act %v", c.name, j.OverWatch, j.OverAct)
		}
	}
}

func TestATreatmentPlannedForTodayIsAwaited(t *testing.T) {
	s := counted(t, 3, "wash:30/300")
	s.NextTreatment = today
	if j := judged(t, s); j.Call != WaitForPlanned || j.NextLook != today+SettleDays {
		t.Errorf("%s, next look in %d days", j.Call, j.NextLook-today)
	}
}

func TestPercentClaimsNoCertainty(t *testing.T) {
	for p, want := range map[float64]string{0: "under 1%", 0.0099: "under 1%", 0.01: "1%", 0.236: "24%", 0.99: "99%", 0.9901: "over 99%", 1: "over 99%"} {
		if got := percent(p); got != want {
			t.Errorf("%v: %s, want %s", p, got, want)
		}
	}
}

// rank orders calls from leaving to treating.
func rank(c Call) int {
	switch {
	case c.Treats():
		return 2
	case c == CountAgain:
		return 1
	}
	return 0
}

// Whatever is known: with supers on no treatment is advised outright, the words
// of a schedule need one, the next look lies in its bounds, and enough and
// choose say the same.
func TestJudgeProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anySituation(r, t)
		j, err := s.Judge()
		if err != nil {
			r.Fatal(err)
		}
		planned := !s.NextTreatment.IsZero()
		switch {
		case s.SupersOn && (j.Call == Treat || j.Call == BringForward), !s.SupersOn && j.Call == WhenSupersOff:
			r.Fatalf("supers on: %v, yet %s", s.SupersOn, j.Call)
		case planned == (j.Call == Treat) && rank(j.Call) == 2 && !s.SupersOn, !planned && (j.Call == WaitForPlanned || j.Call == BringForward):
			r.Fatalf("planned: %v, yet %s", planned, j.Call)
		case j.Call == WaitForPlanned && s.NextTreatment-today > fullExposure:
			r.Fatalf("to wait %d days", s.NextTreatment-today)
		}
		ahead := j.NextLook - today
		switch {
		case j.Call == CountAgain:
			if ahead != 0 || j.Advised.Plan != LookNow || j.Advised.Net < s.MinWorth {
				r.Fatalf("count again in %d days: %+v", ahead, j.Advised)
			}
		case j.Call == Treat || j.Call == BringForward:
			if ahead != SettleDays {
				r.Fatalf("%s, next look in %d days", j.Call, ahead)
			}
		case planned && j.NextLook > s.NextTreatment:
			if j.NextLook != s.NextTreatment+SettleDays || s.NextTreatment-today >= latestLook {
				r.Fatalf("next look in %d days, treatment in %d", ahead, s.NextTreatment-today)
			}
		case ahead < soonestLook || ahead > latestLook:
			r.Fatalf("%s, next look in %d days", j.Call, ahead)
		}
		if j.Advised.Lethal() && s.without(sampling.Wash) {
			r.Fatalf("advised %+v", j.Advised)
		}
		e, err := s.Enough()
		if err != nil {
			r.Fatal(err)
		}
		if e.Call.OK != (j.Call != CountAgain) || e.Call.OK && len(e.Call.More) > 0 {
			r.Fatalf("%s, yet enough: %+v", j.Call, e.Call)
		}
	})
}

// A mite more never moves the call toward leaving.
func TestAMiteMoreNeverSpeaksForLeaving(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anySituation(r, t)
		look := Scooped(rapid.SampledFrom([]sampling.Method{sampling.Roll, sampling.Wash, sampling.CO2}).Draw(r, "look"), 300, rapid.IntRange(1, 3).Draw(r, "look frames"), today)
		mites := rapid.IntRange(0, 25).Draw(r, "look mites")
		fewer, err := s.callAt(look, mites)
		if err != nil {
			r.Fatal(err)
		}
		more, err := s.callAt(look, mites+1)
		if err != nil {
			r.Fatal(err)
		}
		if rank(more) < rank(fewer) {
			r.Fatalf("%s at %d, %s at one more", fewer, mites, more)
		}
	})
}

// The next look is the first day on which treating is forecast to be the lesser
// regret, and no later than the bound of the season.
func TestNextLookByForecast(t *testing.T) {
	s := counted(t, 3, "roll:4/300/3f")
	j := judged(t, s)
	if ahead := j.NextLook - today; j.Call != Leave || ahead <= soonestLook || ahead >= latestLook {
		t.Fatalf("%s, next look in %d days: this case is meant to lie between", j.Call, ahead)
	}
	stakes := s.Stakes()
	for d := today + soonestLook; d <= j.NextLook; d++ {
		then, err := s.State.Forecast(d)
		if err != nil {
			t.Fatal(err)
		}
		if stakes.Regret(then).Treats() != (d == j.NextLook) {
			t.Errorf("treating is the lesser regret in %d days: %v", d-today, d != j.NextLook)
		}
	}
	if ahead := judged(t, counted(t, 3, "wash:0/300")).NextLook - today; ahead != latestLook {
		t.Errorf("next look at a clean colony in %d days", ahead)
	}
	// The line that holds later in the year counts, not that of today.
	for _, season := range Seasons() {
		s.Lines = append(s.Lines, Threshold{Season: season, Watch: 1, Act: 1})
	}
	if sooner := judged(t, s).NextLook; sooner >= j.NextLook {
		t.Errorf("in %d days by a lower line, in %d by the higher", sooner-today, j.NextLook-today)
	}
}

func TestNextLookInWinter(t *testing.T) {
	s := counted(t, 3, "wash:0/300@2026-11-20")
	var err error
	if s.State, err = s.History.On(mustDate("2026-12-01")); err != nil {
		t.Fatal(err)
	}
	if ahead := judged(t, s).NextLook - s.State.Day; ahead != latestInPause {
		t.Errorf("next look in %d days", ahead)
	}
}

// After a treatment of several rounds the look waits for the last of them, also
// for one still to come, but not for the treatment of another season.
func TestNextLookAfterRounds(t *testing.T) {
	oxalic, err := sampling.FindTreatment("oxalic-vapour")
	if err != nil {
		t.Fatal(err)
	}
	formic, err := sampling.FindTreatment("formic-evaporation")
	if err != nil {
		t.Fatal(err)
	}
	h := counted(t, 3, "wash:1/300").History
	for name, c := range map[string]struct {
		given []TreatmentDay
		want  sampling.Date
	}{
		"one round":              {[]TreatmentDay{{On: today - 5, Treatment: oxalic}}, -5 + SettleDays},
		"in any order":           {[]TreatmentDay{{On: today - 3, Treatment: oxalic}, {On: today - 10, Treatment: oxalic}}, -3 + SettleDays},
		"a round to come":        {[]TreatmentDay{{On: today - 5, Treatment: oxalic}, {On: today + 2, Treatment: oxalic}, {On: today + 9, Treatment: oxalic}}, 9 + SettleDays},
		"another one to come":    {[]TreatmentDay{{On: today - 5, Treatment: oxalic}, {On: today + 2, Treatment: formic}}, -5 + SettleDays},
		"one of another season":  {[]TreatmentDay{{On: today - 5, Treatment: oxalic}, {On: today + 40, Treatment: oxalic}}, -5 + SettleDays},
		"settled, thus forecast": {[]TreatmentDay{{On: today - SettleDays, Treatment: oxalic}}, latestLook},
	} {
		h.Treatments = c.given
		s := counted(t, 3, "wash:1/300")
		s.History = h
		if s.State, err = h.On(today); err != nil {
			t.Fatal(err)
		}
		if got := judged(t, s).NextLook - today; got != c.want {
			t.Errorf("%s: in %d days, want %d", name, got, c.want)
		}
	}
}

func TestSituationsThatCannotBe(t *testing.T) {
	for name, change := range map[string]func(*Situation){
		"line":        func(s *Situation) { s.Threshold.Act = 0 },
		"miss cost":   func(s *Situation) { s.MissCost = math.NaN() },
		"least worth": func(s *Situation) { s.MinWorth = -1 },
		"past":        func(s *Situation) { s.NextTreatment = today - 1 },
		"cost":        func(s *Situation) { s.Costs.ExtraVisit = -1 },
		"minutes":     func(s *Situation) { s.Costs.MinutesPerFrame = math.Inf(1) },
	} {
		s := believing(t, 3, sampling.Normal(math.Log(0.02), 0.5))
		change(&s)
		var bad *sampling.ValueError
		if _, err := s.Judge(); !errors.As(err, &bad) || bad.Remedy == "" {
			t.Errorf("%s: judged with %v", name, err)
		}
		if _, err := s.Enough(); !errors.As(err, &bad) {
			t.Errorf("%s: enough with %v", name, err)
		}
		if _, err := s.Candidates(); !errors.As(err, &bad) {
			t.Errorf("%s: weighed with %v", name, err)
		}
	}
}
