package decide

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// weighed is a judgement with the count that goes with it.
type weighed struct {
	judgement
	Advised Candidate
}

func judged(t interface{ Fatal(...any) }, s Situation) weighed {
	j, err := s.judge()
	if err != nil {
		t.Fatal(err)
	}
	out := weighed{j, Candidate{Plan: ActNow}}
	if j.Call == CountAgain {
		if out.Advised, err = s.nextStep(j.Reason != Risky); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func TestEveryCall(t *testing.T) {
	for _, c := range []struct {
		name    string
		count   string
		planned sampling.Date // days ahead, 0 for none
		supers  bool
		want    Call
		why     Reason
	}{
		{"far over", "wash:20/300", 0, false, Treat, OverLine},
		{"far under", "wash:1/300", 0, false, Leave, UnderLine},
		{"near the line", "roll:8/300", 0, false, CountAgain, Risky},
		{"never counted", "", 0, false, CountAgain, NothingCounted},
		// Most of that chance comes from colonies in general.
		{"over, planned in a week", "wash:10/300", 7, false, CountAgain, InGeneral},
		{"under, planned in a week", "wash:1/300", 7, false, WaitForPlanned, UnderLine},
		{"far over, planned in a week", "wash:20/300", 7, false, WaitForPlanned, OverLine},
		{"far over, planned in eight days", "wash:20/300", 8, false, BringForward, OverLine},
		{"far over, planned in a month", "wash:20/300", 30, false, BringForward, OverLine},
		{"under, planned in two months", "wash:1/300", 60, false, Leave, UnderLine},
		{"far over, planned in two months", "wash:20/300", 60, false, BringForward, OverLine},
		{"far over, supers on", "wash:20/300", 0, true, WhenSupersOff, OverLine},
		{"far over, supers on, planned", "wash:20/300", 30, true, WhenSupersOff, OverLine},
		{"far under, supers on", "wash:1/300", 0, true, Leave, UnderLine},
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
		if j.Call != c.want || j.Reason != c.why {
			t.Errorf("%s: %s, %s, want %s, %s", c.name, j.Call, j.Reason, c.want, c.why)
		}
		if !(j.OverWatch > j.OverAct) {
			t.Errorf("%s: over watch %v, over act %v", c.name, j.OverWatch, j.OverAct)
		}
	}
}

// A plan whose day has passed acts on nothing.
func TestAPastPlanIsNone(t *testing.T) {
	s := counted(t, 3, "wash:30/300")
	want := s.Stakes()
	s.NextTreatment = today - 1
	if got := s.Stakes(); got != want {
		t.Errorf("%+v, without a plan %+v", got, want)
	}
}

func TestATreatmentPlannedForTodayIsAwaited(t *testing.T) {
	s := counted(t, 3, "wash:30/300")
	s.NextTreatment = today
	if j := judged(t, s); j.Call != WaitForPlanned {
		t.Errorf("%s", j.Call)
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
// of a schedule need one, a count that is called for is named, and enough says
// the same.
func TestJudgeProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := anySituation(r, t)
		j := judged(r, s)
		planned := !s.NextTreatment.IsZero()
		switch {
		case s.SupersOn && (j.Call == Treat || j.Call == BringForward), !s.SupersOn && j.Call == WhenSupersOff:
			r.Fatalf("supers on: %v, yet %s", s.SupersOn, j.Call)
		case planned == (j.Call == Treat) && rank(j.Call) == 2 && !s.SupersOn, !planned && (j.Call == WaitForPlanned || j.Call == BringForward):
			r.Fatalf("planned: %v, yet %s", planned, j.Call)
		case j.Call == WaitForPlanned && s.NextTreatment-today > fullExposure:
			r.Fatalf("to wait %d days", s.NextTreatment-today)
		}
		if j.Call == CountAgain && (j.Advised.Plan != LookNow || j.Reason == Risky && j.Advised.Net < s.MinWorth) {
			r.Fatalf("count again, %s: %+v", j.Reason, j.Advised)
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

// A mite more never moves the call toward leaving. A count that tells less than
// colonies in general do is asked for again whatever it says, and a mite more
// may tell enough: that is about the sample.
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
			if next, err := s.seeing(look, mites); err == nil {
				if _, why, err := next.calledToday(); err == nil && why == InGeneral {
					return
				}
			}
			r.Fatalf("%s at %d, %s at one more", fewer, mites, more)
		}
	})
}

func TestSituationsThatCannotBe(t *testing.T) {
	for name, change := range map[string]func(*Situation){
		"line":        func(s *Situation) { s.Threshold.Act = 0 },
		"miss cost":   func(s *Situation) { s.MissCost = math.NaN() },
		"least worth": func(s *Situation) { s.MinWorth = -1 },
		"cost":        func(s *Situation) { s.Costs.ExtraVisit = -1 },
		"minutes":     func(s *Situation) { s.Costs.MinutesPerFrame = math.Inf(1) },
	} {
		s := believing(t, 3, sampling.Normal(math.Log(0.02), 0.5))
		change(&s)
		var bad *sampling.ValueError
		if _, err := s.judge(); !errors.As(err, &bad) || bad.Remedy == "" {
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
