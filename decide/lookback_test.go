package decide

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"halfcup/sampling"
)

func given(t testing.TB, slug string, days ...string) []TreatmentDay {
	t.Helper()
	var out []TreatmentDay
	for _, d := range days {
		out = append(out, TreatmentDay{On: mustDate(d), Treatment: treatment(t, slug)})
	}
	return out
}

// yearBack is a yard of the year 2026, invented: four colonies treated alike,
// one that was not, one that died.
func yearBack(t testing.TB) Apiary {
	t.Helper()
	var all []Colony
	for i, texts := range [][]string{
		{"wash:2/300@2026-05-10", "wash:9/300@2026-07-12", "wash:2/300@2026-08-30", "wash:6/300@2026-10-01"},
		{"wash:1/300@2026-05-10", "wash:5/300@2026-07-12", "wash:1/300@2026-08-30"},
		{"roll:3/300@2026-05-10", "wash:12/300@2026-07-12", "wash:60/300@2026-08-30", "wash:65/300@2026-10-01"},
		{"wash:2/300@2026-05-10", "wash:25/300@2026-07-12", "wash:3/300@2026-08-30"},
		{"wash:1/300@2026-05-10", "wash:4/300@2026-07-12"},
	} {
		c := colonyOf(t, texts...)
		c.Name = fmt.Sprintf("c%d", i+1)
		if i < 4 {
			c.Treatments = given(t, "formic-evaporation", "2026-07-25")
		}
		all = append(all, c)
	}
	all[2].Gone, all[2].Died = mustDate("2027-02-01"), true
	return apiaryOf(t, all...)
}

// Every level is that of a replay up to its day, and not of one that ends there
// by another way.
func TestLookBackIsTheReplay(t *testing.T) {
	a := yearBack(t)
	y, err := a.LookBack(2026, mustDate("2027-05-31"), 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if len(y.Colonies) != 5 || y.To != mustDate("2026-12-31") || !y.WinterOver {
		t.Fatalf("%+v", y)
	}
	for _, k := range y.Colonies {
		for _, w := range k.Weeks {
			s, err := a.Colonies[k.Place].Told(w.Day, y.To)
			if err != nil {
				t.Fatal(err)
			}
			sum := s.Known.Summary(0.9)
			if !(math.Abs(sum.Median/w.Mid-1) <= 1e-9) || !(math.Abs(sum.Low/w.Low-1) <= 1e-9) || !(math.Abs(sum.High/w.High-1) <= 1e-9) {
				t.Fatalf("%s on %s: %v to %v, the replay has %v to %v", k.Colony, w.Day, w.Low, w.High, sum.Low, sum.High)
			}
			// The naive way: the last count as it was made stands until the next.
			if w.Known != (!s.Counted.IsZero() && w.Day-s.Counted < staleDays) {
				t.Fatalf("%s on %s: known %v, counted %s", k.Colony, w.Day, w.Known, s.Counted)
			}
		}
	}
}

func TestLookBack(t *testing.T) {
	a := yearBack(t)
	y, err := a.LookBack(2026, mustDate("2027-05-31"), 0.9)
	if err != nil {
		t.Fatal(err)
	}
	first, failed, alone := y.Colonies[0], y.Colonies[2], y.Colonies[4]
	if first.Counts != 4 || first.BeesWashed != 1200 || failed.BeesWashed != 900 {
		t.Errorf("%d counts and %v bees, %v where one was a roll", first.Counts, first.BeesWashed, failed.BeesWashed)
	}
	if first.HighestOn != mustDate("2026-07-12") || failed.HighestOn != mustDate("2026-10-01") {
		t.Errorf("highest on %s and %s", first.HighestOn, failed.HighestOn)
	}
	if l := first.Courses[0]; !(l.Left < l.Before/2) || l.LeftOn != mustDate("2026-08-30") {
		t.Errorf("%+v", l)
	}
	if !failed.Died || failed.Gone != mustDate("2027-02-01") {
		t.Errorf("%+v", failed)
	}
	c := y.Courses[0]
	if len(y.Courses) != 1 || len(c.Counted) != 4 || !slices.Equal(c.Failed, []string{"c3"}) {
		t.Errorf("%d courses, counted %v, failed in %v", len(y.Courses), c.Counted, c.Failed)
	}
	if !(c.Expected.Low < c.Expected.Middle && c.Expected.Middle < c.Expected.High && c.Expected.Low > 0.2 && c.Expected.High < 1) {
		t.Errorf("published %+v", c.Expected)
	}
	// Ranked only among colonies treated alike; the fifth stands beside all.
	if y.Ranked != 4 || !first.Alike || first.Beside != 3 || alone.Pace == nil || alone.Alike || alone.Beside != 4 {
		t.Errorf("%d ranked; %+v, %+v", y.Ranked, first, alone)
	}
	if !(math.Abs(y.Alone-4*growthFigure("growth_alone_few")) <= 1e-12) {
		t.Errorf("%v named by chance alone", y.Alone)
	}
	died, colonies := 0, 0
	for _, l := range y.Losses {
		died, colonies = died+l.Died, colonies+l.Colonies
		if !(l.Low < l.Expected && l.Expected < l.High) {
			t.Errorf("%+v", l)
		}
	}
	if last := y.Losses[len(y.Losses)-1]; died != 1 || colonies != 4 || last.Died != 1 || last.From != 3 {
		t.Errorf("%+v", y.Losses)
	}
	// c4 was at 8 per hundred in July and at less than one in May: it passed the
	// line well before anybody looked.
	if e := y.CountEarlier; !(e.Colonies >= 1 && e.Over < mustDate("2026-06-28") && e.Counted == mustDate("2026-07-12")) {
		t.Errorf("%+v", e)
	}
	if l := y.LateCourse; l.Course != 0 || l.Colonies != 2 || l.Days < 14 || l.Days > 40 {
		t.Errorf("%+v", l)
	}
}

// In the south a year runs from July to June: what was counted in March belongs
// to the summer before it.
func TestLookBackInTheSouth(t *testing.T) {
	a := yearBack(t)
	south, err := NewYear(YearSettings{Hemisphere: South})
	if err != nil {
		t.Fatal(err)
	}
	const half = 184
	for i := range a.Colonies {
		c := &a.Colonies[i]
		c.Year, c.Began = south, c.Began+half
		for j := range c.Counts {
			c.Counts[j].Date += half
		}
		for j := range c.Treatments {
			c.Treatments[j].On += half
		}
	}
	y, err := a.LookBack(2026, mustDate("2027-08-31"), 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if y.From != mustDate("2026-07-01") || y.To != mustDate("2027-06-30") || y.WinterOver || len(y.Colonies) != 5 {
		t.Errorf("from %s to %s, %d colonies", y.From, y.To, len(y.Colonies))
	}
	if k := y.Colonies[0]; k.Counts != 4 || math.IsNaN(k.Autumn) {
		t.Errorf("%+v", k)
	}
}

// A course that was given a month after its colonies had passed the line came
// late; by the day of the count before it, it came within a day.
func TestLateCourse(t *testing.T) {
	var all []Colony
	for range 3 {
		c := colonyOf(t, "wash:2/300@2026-05-10", "wash:24/300@2026-07-12", "wash:2/300@2026-09-06")
		c.Treatments = given(t, "formic-evaporation", "2026-07-13")
		all = append(all, c)
	}
	y, err := apiaryOf(t, all...).LookBack(2026, mustDate("2026-12-31"), 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if l := y.LateCourse; l.Course != 0 || l.Colonies != 3 || l.Days < 20 || l.Days > 63 {
		t.Errorf("%+v", l)
	}
}

// Between the replays growth is read off a curve: it is that of replays as near
// as they are told.
func TestGrowthBetweenReplays(t *testing.T) {
	a := yearBack(t)
	first, last := mustDate("2026-01-01"), mustDate("2026-12-31")
	for _, k := range a.Colonies {
		curve, err := k.growthRecord(first, last)
		if err != nil {
			t.Fatal(err)
		}
		fine, err := k.growthTriedBy(first, last, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		for i := range curve {
			if !(math.Abs(curve[i]-fine[i]) <= 0.03) {
				t.Errorf("%s at %v a month: %.4f, with replays nearer each other %.4f", k.Name, growthNodes[i], curve[i], fine[i])
			}
		}
	}
	c := colonyOf(t, "wash:2/300@2026-05-10", "wash:3/300@2026-05-20")
	if r, err := apiaryOf(t, c).Colonies[0].growthRecord(first, last); r != nil || err != nil {
		t.Errorf("two counts ten days apart tell of growth: %v, %v", r, err)
	}
	if r, err := k1(t).growthRecord(sampling.Date(0), last); r == nil || err != nil {
		t.Errorf("two counts two months apart tell nothing: %v", err)
	}
}

func k1(t *testing.T) Colony { return yearBack(t).Colonies[4] }
