package say

import (
	"strings"
	"testing"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func on(t *testing.T, s string) sampling.Date {
	t.Helper()
	d, err := sampling.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Rows that begin with an alarm keep it apart from the call.
func TestBrief(t *testing.T) {
	for _, c := range []struct {
		s    decide.Standing
		want string
	}{
		{decide.Standing{Call: decide.Treat}, "TREAT"},
		{decide.Standing{Call: decide.WhenSupersOff}, "TREAT; supers off first"},
		{decide.Standing{Call: decide.Treat, Jump: true}, "TREAT: jump! eggs? then treat"},
		{decide.Standing{Call: decide.WhenSupersOff, Jump: true}, "TREAT: jump! eggs? supers off"},
	} {
		if got := (Standing{Standing: c.s}).Brief(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// A colony that is not opened in winter is told no day, and one
// that is to be treated once is told when no brood is left.
func TestWinterWords(t *testing.T) {
	nov := on(t, "2026-11-12")
	for _, c := range []struct {
		s         decide.Standing
		want, row string
	}{
		{decide.Standing{Call: decide.Leave, Because: decide.WinterCount, Due: nov + 109, DueFor: decide.DueFirstFly}, "fine. Leave it shut.", "fine; leave it shut"},
		{decide.Standing{Call: decide.Leave, Because: decide.WinterFall, ChanceOverAct: 0.4, Due: nov + 109, DueFor: decide.DueFirstFly}, "leave it shut, and count it first in spring.", "leave shut; count first"},
		{decide.Standing{Call: decide.Treat, Because: decide.WinterCount, TreatFrom: nov + 15}, "treat once, when no brood is sealed: from about 27 November.", "treat once, from 27 Nov"},
		{decide.Standing{Call: decide.Treat, Because: decide.WinterPlan, TreatFrom: nov}, "treat once by your plan, while there is no brood.", "treat once, by your plan"},
		{decide.Standing{Call: decide.Treat, Because: decide.WinterFall}, "treat once, but some brood may be sealed by now: see halfcup fits.", "treat"},
		{decide.Standing{Call: decide.UnderTreatment, Because: decide.Settling, DueFor: decide.DueFirstFly, Course: decide.Course{Treatment: sampling.Treatment{Called: "oxalic trickle"}}}, "treated with oxalic trickle. Leave it shut; next count in spring, over 15 °C and with pollen coming in.", "treated; leave it shut"},
	} {
		c.s.Colony, c.s.Day = "elm", nov
		s := Standing{Standing: c.s}
		if got := s.First(); got != "elm, 12 November: "+c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
		if got := s.Row(); got != c.row || show.Wide(got) > 26 {
			t.Errorf("row %q, want %q", got, c.row)
		}
	}
}

// A jump asks for eggs before it speaks of robbing, and no live hive is shut.
func TestAlarmWords(t *testing.T) {
	s := Standing{Standing: decide.Standing{Call: decide.Treat, Jump: true, Counted: on(t, "2026-07-05")}}
	eggs, robbed := strings.Index(s.Alarm(), "eggs first"), strings.Index(s.Alarm(), "robbed hive")
	if eggs < 0 || robbed < eggs || !strings.Contains(s.Alarm(), "shut it only if dead") {
		t.Errorf("%q", s.Alarm())
	}
	s.Jump, s.Drop = false, true
	if !strings.Contains(s.Alarm(), "Write it down") {
		t.Errorf("%q", s.Alarm())
	}
	s.Call = decide.UnderTreatment
	if got := s.Alarm(); got != "" {
		t.Errorf("while a treatment works: %q", got)
	}
}

// What a middle outcome of the next count leads to is said, unless it is one
// more count. Naive, "8 or more, treat; 2 or fewer, count again" leaves five
// mites without an answer.
func TestCutPointsSayTheMiddle(t *testing.T) {
	s := Standing{Cuts: []decide.CutPoint{{From: 0, To: 2, Call: decide.CountAgain}, {From: 3, To: 7, Call: decide.Leave}, {From: 8, To: -1, Call: decide.Treat}}}
	if got, want := s.cuts(), ": 8 or more, treat; 3 to 7, fine; 2 or fewer, count again"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// The line of the level fits a page of 80 columns, and is broken on one of 40.
func TestLevelFits(t *testing.T) {
	for _, known := range []float64{0.001, 0.012, 0.087, 0.31} {
		for _, sd := range []float64{0.2, 0.45, 1.2} {
			for _, line := range []float64{1, 2.6} {
				d := sampling.Prior{MedianPerHundred: 100 * known, LogSD: sd}.Density()
				s := Standing{Standing: decide.Standing{Line: decide.Threshold{Watch: line - 0.5, Act: line}, ChanceOverAct: d.Over(line / 100), ChanceOverWatch: d.Over((line - 0.5) / 100)}}
				for wide, lines := range map[int]int{80: 1, 40: 3} {
					got := strings.Split(strings.TrimSuffix(s.Level(show.Page{Width: wide}, d.Summary(0.9)), "\n"), "\n")
					if len(got) > lines {
						t.Errorf("at %d columns: %q", wide, got)
					}
					for _, line := range got {
						if n := show.Wide(line); n > wide {
							t.Errorf("%d columns of %d: %s", n, wide, line)
						}
					}
				}
			}
		}
	}
}

// One range of counts is fine. Naive, each was told by itself: "7 or more, treat;
// 4, fine; 2 or fewer, fine".
func TestCutsAreToldInOrder(t *testing.T) {
	again, fine, treat := decide.CountAgain, decide.Leave, decide.Treat
	for _, c := range []struct {
		cuts []decide.CutPoint
		want string
	}{
		{[]decide.CutPoint{{From: 0, To: 2, Call: fine}, {From: 3, To: 3, Call: again}, {From: 4, To: 4, Call: fine}, {From: 5, To: 6, Call: again}, {From: 7, To: -1, Call: treat}}, ": 7 or more, treat; 2 or fewer, fine"},
		{[]decide.CutPoint{{From: 0, To: 0, Call: again}, {From: 1, To: 1, Call: fine}, {From: 2, To: 3, Call: again}, {From: 4, To: -1, Call: treat}}, ": 4 or more, treat; 1, fine; none, count again"},
		{[]decide.CutPoint{{From: 0, To: 5, Call: fine}, {From: 6, To: 7, Call: again}, {From: 8, To: -1, Call: treat}}, ": 8 or more, treat; 5 or fewer, fine"},
		{[]decide.CutPoint{{From: 0, To: 0, Call: fine}, {From: 1, To: -1, Call: treat}}, ": 1 or more, treat; none, fine"},
		{[]decide.CutPoint{{From: 0, To: -1, Call: treat}}, ""},
	} {
		if got := (Standing{Cuts: c.cuts}).cuts(); got != c.want {
			t.Errorf("%+v: %q, want %q", c.cuts, got, c.want)
		}
	}
}

// After robbing it is said that mites came in and what to do. Naive, the row said
// nothing but that it was written.
func TestRobbingHasWords(t *testing.T) {
	s := Standing{Standing: decide.Standing{Call: decide.Leave, Because: decide.UnderLine, Counted: on(t, "2026-09-20"), Day: on(t, "2026-09-24")}}
	if s.Alarm() != "" {
		t.Errorf("without it: %q", s.Alarm())
	}
	s.Robbed = true
	if got := s.Alarm(); !strings.Contains(got, "brings mites in") || !strings.Contains(got, "small entrance") || !strings.Contains(got, "Count it and its neighbours") {
		t.Errorf("%q", got)
	}
}
