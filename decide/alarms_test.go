package decide

import (
	"fmt"
	"testing"
	"time"

	"halfcup/sampling"
)

func alarmsOf(t *testing.T, h History, on string) (State, Alarms) {
	t.Helper()
	s, err := h.On(mustDate(on))
	if err != nil {
		t.Fatal(err)
	}
	a, err := s.Alarms(1.5)
	if err != nil {
		t.Fatal(err)
	}
	return s, a
}

// One to twelve mites in 300 bees within 23 days is more than mites breed at
// any time from May to the middle of September, three to six is not. The
// biology: mites double in three to four weeks at most.
func TestJump(t *testing.T) {
	for month := time.May; month <= time.September; month++ {
		for _, dayOfMonth := range []int{1, 15, 23} {
			first := sampling.Day(2026, month, dayOfMonth)
			if first > mustDate("2026-09-15") {
				continue
			}
			for _, c := range []struct {
				from, to int
				want     bool
			}{{1, 12, true}, {3, 6, false}} {
				h := counted(t, 3, fmt.Sprintf("wash:%d/300@%s", c.from, first), fmt.Sprintf("wash:%d/300@%s", c.to, first+23)).History
				if _, a := alarmsOf(t, h, (first + 23).String()); a.Jump != c.want || a.Drop {
					t.Errorf("%d to %d from %s: %+v", c.from, c.to, first, a)
				}
			}
		}
	}
}

// A rise with an ordinary cause is no jump: a break in the brood, from which the
// mites come out on to the bees, a swarm five weeks ago, the end of brood.
func TestNoJumpWithAnOrdinaryCause(t *testing.T) {
	h := counted(t, 3, "wash:1/300@2026-07-01", "wash:14/300@2026-07-24").History
	if _, a := alarmsOf(t, h, "2026-07-24"); !a.Jump {
		t.Fatalf("%+v: no jump to begin with", a)
	}
	for name, change := range map[string]func(*History){
		"a caged queen": func(h *History) {
			h.Happenings = []Happening{{Kind: QueenCaged, On: mustDate("2026-06-25"), To: mustDate("2026-07-20")}}
		},
		"no queen yet": func(h *History) { h.Happenings = []Happening{{Kind: Queenless, On: mustDate("2026-07-10")}} },
		"a break before": func(h *History) {
			h.Happenings = []Happening{{Kind: QueenCaged, On: mustDate("2026-06-01"), To: mustDate("2026-06-20")}}
		},
		"a swarm": func(h *History) { h.Splits = []sampling.Date{mustDate("2026-06-20")} },
		"the end of brood": func(h *History) {
			h.Counts = counted(t, 3, "wash:1/300@2026-10-06", "wash:14/300@2026-10-29").History.Counts
		},
	} {
		quiet := h
		change(&quiet)
		if _, a := alarmsOf(t, quiet, "2026-10-29"); a.Jump {
			t.Errorf("%s: %+v", name, a)
		}
	}
	long := h
	long.Splits = []sampling.Date{mustDate("2026-06-10")}
	if _, a := alarmsOf(t, long, "2026-07-24"); !a.Jump {
		t.Errorf("a split more than five weeks ago: %+v", a)
	}
}

// A small colony of mites that rises fast stays far under the line: nothing to
// be alarmed about.
func TestNoJumpUnderTheWatchLine(t *testing.T) {
	h := counted(t, 3, "wash:0/600@2026-05-20", "wash:0/600@2026-05-27", "wash:3/600/3f@2026-06-03").History
	if _, a := alarmsOf(t, h, "2026-06-03"); a.Jump {
		t.Errorf("%+v", a)
	}
}

// Mites from outside are no part of what the record foretells; the alarm is for
// just those. It stays on the days after, and the first count raises none.
func TestAlarmsStay(t *testing.T) {
	h := counted(t, 3, "wash:1/300@2026-08-01", "wash:14/300@2026-08-24").History
	_, at := alarmsOf(t, h, "2026-08-24")
	if _, later := alarmsOf(t, h, "2026-09-10"); later != at || !at.Jump {
		t.Errorf("%+v on its day, %+v two weeks later", at, later)
	}
	h.Counts = h.Counts[1:]
	if s, a := alarmsOf(t, h, "2026-08-24"); a != (Alarms{Rise: 1, Fall: 1}) || s.UnrecordedEvent != 0 {
		t.Errorf("the first count: %+v, %v", a, s.UnrecordedEvent)
	}
}

// The fewest of which the binomial law, summed term by term, gives so many or
// more a chance under 1 %: of 14 counted 4 at 6 % (0.0080; for 3 it is 0.0478)
// and 2 at 1 % (0.0084).
func TestYardAlarm(t *testing.T) {
	for counted, want := range map[int][2]int{1: {2, 2}, 2: {2, 2}, 5: {3, 2}, 10: {4, 2}, 14: {4, 2}, 20: {5, 3}, 40: {7, 3}} {
		least := func(alarm func(int, int) bool) int {
			n := 0
			for n <= counted && !alarm(n, counted) {
				n++
			}
			return n
		}
		if got := [2]int{least(YardAlarm), least(YardDrop)}; got != want {
			t.Errorf("%d counted: %v, want %v", counted, got, want)
		}
	}
}

// Ten points: a count of ten bees leaves most to colonies in general, one of
// three hundred does not; after months even that does.
func TestLeansOnPrior(t *testing.T) {
	for _, c := range []struct {
		on     string
		counts []string
		want   bool
	}{
		{"2026-07-01", nil, true},
		{"2026-07-01", []string{"wash:0/10"}, true},
		{"2026-07-01", []string{"wash:9/300"}, false},
		{"2026-07-01", []string{"wash:3/600/3f"}, false},
		{"2027-05-01", []string{"wash:9/300"}, true},
	} {
		s, err := counted(t, 3, c.counts...).History.On(mustDate(c.on))
		if err != nil {
			t.Fatal(err)
		}
		if got := s.LeansOnPrior(2); got != c.want {
			t.Errorf("%v on %s: %v", c.counts, c.on, got)
		}
	}
}
