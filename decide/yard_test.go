package decide

import (
	"math"
	"testing"
)

// A yard says of its colonies what each says of itself, and the law of those
// over the line has the mean that their own chances add up to.
func TestYard(t *testing.T) {
	a := apiaryOf(t, colonyOf(t, "wash:9/300@2026-06-15"), colonyOf(t, "wash:1/300@2026-06-15"), Colony{History: History{Began: mustDate("2026-05-01")}})
	day := mustDate("2026-06-16")
	y, err := a.Yard(day)
	if err != nil {
		t.Fatal(err)
	}
	one, mean, sum := 0.0, 0.0, 0.0
	for k, p := range y.Over {
		sum, mean = sum+p, mean+float64(k)*p
	}
	for i, s := range y.Standings {
		single, err := a.Of(i, day)
		if err != nil {
			t.Fatal(err)
		}
		if single.ChanceOverAct != s.ChanceOverAct || single.Call != s.Call || single.Due != s.Due {
			t.Errorf("%s: %v %s %s, alone %v %s %s", s.Colony, s.ChanceOverAct, s.Call, s.Due, single.ChanceOverAct, single.Call, single.Due)
		}
		one += s.ChanceOverAct
	}
	if !(math.Abs(sum-1) < 1e-6) || !(math.Abs(mean-one) < 2e-3) {
		t.Errorf("the law sums to %v, its mean is %v, the chances add up to %v", sum, mean, one)
	}
	if y.Counted != 2 || y.JumpAlarm || y.DropAlarm {
		t.Errorf("%d counted, alarms %v %v", y.Counted, y.JumpAlarm, y.DropAlarm)
	}
	if _, _, ok := y.Beside(0.9); !ok {
		t.Error("a yard of three stands beside no other")
	}
	empty, err := a.Yard(mustDate("2020-01-01"))
	if err != nil || len(empty.Standings) != 0 || empty.ShareOver(0.9) != (Range{}) {
		t.Errorf("a yard before it began: %v, %v", empty, err)
	}
}

// Mites that rise tenfold in three weeks of June raise the alarm in a colony;
// three such colonies of four in its yard; one of four does not.
func TestYardAlarms(t *testing.T) {
	jump := func() Colony { return colonyOf(t, "wash:1/300@2026-06-01", "wash:14/300@2026-06-22") }
	calm := func() Colony { return colonyOf(t, "wash:3/300@2026-06-01", "wash:5/300@2026-06-22") }
	for _, c := range []struct {
		colonies []Colony
		jumps    int
		alarm    bool
	}{{[]Colony{jump(), calm(), calm(), calm()}, 1, false}, {[]Colony{jump(), jump(), jump(), calm()}, 3, true}} {
		for day, counted := range map[string]int{"2026-07-12": 4, "2026-07-13": 0} {
			y, err := apiaryOf(t, c.colonies...).Yard(mustDate(day))
			if err != nil {
				t.Fatal(err)
			}
			jumps, alarm := c.jumps, c.alarm
			if counted == 0 {
				jumps, alarm = 0, false
			}
			if y.Counted != counted || y.Jumps != jumps || y.JumpAlarm != alarm {
				t.Errorf("on %s: %d jumps of %d, alarm %v, want %d of %d, %v", day, y.Jumps, y.Counted, y.JumpAlarm, jumps, counted, alarm)
			}
		}
	}
}

// The day on which treating is forecast to be the lesser regret is the day a
// count is due for that, and the first day of the outlook is the standing's.
func TestTreatDayIsTheDueDay(t *testing.T) {
	a := apiaryOf(t, colonyOf(t, "wash:5/300@2026-06-15"))
	s := stands(t, a, "2026-06-15")
	days, err := s.Ahead(60)
	if err != nil {
		t.Fatal(err)
	}
	if days[0].OverAct() != s.ChanceOverAct || days[0].Act != s.Line.Act {
		t.Errorf("the outlook begins with %v, the standing has %v", days[0].OverAct(), s.ChanceOverAct)
	}
	if s.DueFor != DueForecast || s.TreatDay(days) != s.Due {
		t.Errorf("treating is the lesser regret from %s, due on %s for %s", s.TreatDay(days), s.Due, s.DueFor)
	}
}
