package decide

import (
	"math"
	"testing"

	"halfcup/sampling"
)

func replayed(t *testing.T, h History, on string) sampling.Density {
	t.Helper()
	s, err := h.On(mustDate(on))
	if err != nil {
		t.Fatal(err)
	}
	return s.Known
}

// The naive version pools counts of different days as if of one. Mites breed
// meanwhile, so that the older count stands for more than it shows.
func TestCountsOfDifferentDaysAreNotOneDay(t *testing.T) {
	apart := counted(t, 3, "wash:3/300@2026-05-01", "wash:3/300@2026-07-01").State.Known
	pooled := counted(t, 3, "wash:3/300@2026-07-01", "wash:3/300@2026-07-01").State.Known
	if a, p := 100*apart.Quantile(0.5), 100*pooled.Quantile(0.5); !(a > 1.1*p) {
		t.Errorf("apart %.2f, pooled %.2f mites per hundred: want clearly more apart", a, p)
	}
}

// A board looked at twice tells as much as the same board looked at once.
func TestBoardLookedAtTwice(t *testing.T) {
	twice := counted(t, 3, "board:10/2d@2026-06-29", "board:14/2d@2026-07-01").State.Known
	once := counted(t, 3, "board:24/4d@2026-07-01").State.Known
	for _, p := range []float64{0.05, 0.5, 0.95} {
		if a, b := twice.Quantile(p), once.Quantile(p); math.Abs(a-b) > 1e-9*b {
			t.Errorf("quantile %v: %v looked at twice, %v once", p, a, b)
		}
	}
}

// The fall after a treatment tells of the moment before it.
func TestKnockdownTellsOfTheTimeBefore(t *testing.T) {
	h := counted(t, 3, "wash:6/300@2026-06-20").History
	oxalic, err := sampling.FindTreatment("oxalic-vapour")
	if err != nil {
		t.Fatal(err)
	}
	h.Treatments = []TreatmentDay{{mustDate("2026-06-25"), oxalic}}
	c, err := sampling.ParseCount("knockdown:900/5d@2026-06-30")
	if err != nil {
		t.Fatal(err)
	}
	c.Treatment = oxalic.TreatmentName
	before, after := replayed(t, h, "2026-07-01"), History(h)
	after.Counts = append(after.Counts, c)
	if b, a := before.Quantile(0.5), replayed(t, after, "2026-07-01").Quantile(0.5); !(a > 1.2*b) {
		t.Errorf("a heavy fall moved the day after it from %v to %v", b, a)
	}
	s, err := after.On(mustDate("2026-07-01"))
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Counted; got != mustDate("2026-06-25") {
		t.Errorf("the fall was taken to tell of %v", got)
	}
}
