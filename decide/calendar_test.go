package decide

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// dutyWords are the duties of the first colony on a day, without its next
// count.
func dutyWords(t *testing.T, c Colony, day string) string {
	t.Helper()
	var out []string
	for _, d := range stands(t, apiaryOf(t, c), day).Duties() {
		if d.Kind == DutyCount || d.Kind == DutyTreat {
			continue
		}
		words := fmt.Sprintf("%s %s", d.Kind, d.Day)
		if d.Of > 0 {
			words += fmt.Sprintf(" %d/%d", d.Round, d.Of)
		}
		out = append(out, words)
	}
	return strings.Join(out, "; ")
}

// One day inside and one day outside of what decides a duty.
func TestDutiesByTheDay(t *testing.T) {
	vapour, strip := treatment(t, "oxalic-vapour"), treatment(t, "amitraz-strip")
	low := func() Colony { return colonyOf(t, "wash:1/300@2026-06-15") }
	rounds := func(planned bool, days ...string) Colony {
		c := low()
		for i, d := range days {
			c.Treatments = append(c.Treatments, TreatmentDay{On: mustDate(d), Treatment: vapour, Planned: planned || i > 0})
		}
		return c
	}
	strips := low()
	strips.Treatments = []TreatmentDay{{On: mustDate("2026-08-01"), Treatment: strip, Until: mustDate("2026-09-12")}}
	taken := strips
	taken.Ends = []TreatmentEnd{{On: mustDate("2026-09-10")}}
	supers := strips
	supers.Supers = SupersPlan{Known: true, Times: []Supers{{On: mustDate("2026-09-11"), Off: mustDate("2026-09-30")}}}
	late := supers
	late.Supers = SupersPlan{Known: true, Times: []Supers{{On: mustDate("2026-09-12"), Off: mustDate("2026-09-30")}}}
	lies := low()
	lies.InHive = InHive{Board: mustDate("2026-06-20"), QueenCaged: mustDate("2026-06-21"), DroneFrame: mustDate("2026-06-01")}
	for name, c := range map[string]struct {
		colony    Colony
		day, want string
	}{
		"nothing to do":                  {low(), "2026-06-20", ""},
		"a plan of tomorrow":             {rounds(true, "2026-07-01"), "2026-06-30", "planned treatment 2026-07-01 1/1"},
		"a plan of today":                {rounds(true, "2026-07-01"), "2026-07-01", "planned treatment 2026-07-01 1/1"},
		"a plan of yesterday":            {rounds(true, "2026-07-01"), "2026-07-02", "confirm 2026-07-01"},
		"only the first of planned ones": {rounds(true, "2026-07-01", "2026-07-06"), "2026-06-30", "planned treatment 2026-07-01 1/2"},
		"the next round":                 {rounds(false, "2026-07-01", "2026-07-06", "2026-07-11"), "2026-07-06", "next round 2026-07-06 2/3; next round 2026-07-11 3/3"},
		"a round that was missed":        {rounds(false, "2026-07-01", "2026-07-06", "2026-07-11"), "2026-07-07", "next round 2026-07-06 2/3; next round 2026-07-11 2/2"},
		"strips on the day they go in":   {strips, "2026-08-01", "check 2026-08-22; take out 2026-09-12"},
		"strips the day before":          {strips, "2026-07-31", "planned treatment 2026-08-01 1/1"},
		"strips that lie too long":       {strips, "2026-09-20", "take out 2026-09-12"},
		"strips taken out":               {taken, "2026-09-20", ""},
		"supers on over strips":          {supers, "2026-08-30", "supers over a treatment 2026-09-11; take out 2026-09-12"},
		"supers on as the strips go out": {late, "2026-08-30", "take out 2026-09-12"},
		"what lies in the hive":          {lies, "2026-06-21", "drone frame out 2026-06-22; board out 2026-06-23; queen out 2026-07-12"},
	} {
		if got := dutyWords(t, c.colony, c.day); got != c.want {
			t.Errorf("%s: %s\nwant %s", name, got, c.want)
		}
	}
}

// Late is no day on the day itself and one the day after.
func TestLate(t *testing.T) {
	d := Duty{Day: mustDate("2026-07-01")}
	for day, want := range map[string]int{"2026-06-30": 0, "2026-07-01": 0, "2026-07-02": 1} {
		if got := d.Late(mustDate(day)); got != want {
			t.Errorf("on %s: %d", day, got)
		}
	}
}

// anyYard is a yard of one to four colonies with courses, plans and supers.
func anyYard(r *rapid.T, t *testing.T) Apiary {
	var colonies []Colony
	var supers SupersPlan
	if rapid.Bool().Draw(r, "supers known") {
		supers = SupersPlan{Known: true, Times: []Supers{{On: mustDate("2026-05-01"), Off: mustDate("2026-07-20")}, {On: mustDate("2027-05-01"), Off: mustDate("2027-07-20")}}}
	}
	for range rapid.IntRange(1, 3).Draw(r, "colonies") {
		c := anyColony(r, t)
		c.Supers = supers
		if rapid.Bool().Draw(r, "planned") {
			on := mustDate("2026-03-01") + sampling.Date(rapid.IntRange(0, 400).Draw(r, "planned on"))
			c.Treatments = append(slices.Clone(c.Treatments), TreatmentDay{On: on, Treatment: treatment(t, "oxalic-vapour"), Planned: true})
		}
		colonies = append(colonies, c)
	}
	return apiaryOf(t, colonies...)
}

// Every colony that is due by the last day is in the calendar once, on its due
// day, and no other is.
func TestCalendarHasEveryDueColonyOnce(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		a := anyYard(r, t)
		from := mustDate("2026-04-01") + sampling.Date(rapid.IntRange(0, 300).Draw(r, "from"))
		days := rapid.IntRange(1, 366).Draw(r, "days")
		events, err := a.Calendar(from, days)
		if err != nil {
			r.Fatal(err)
		}
		listed := map[string][]sampling.Date{}
		keys := map[string]bool{}
		var windows []Event
		last := sampling.Date(0)
		for _, e := range events {
			if e.Key == "" || keys[e.Key] {
				r.Fatalf("key %q of %s", e.Key, e.Kind)
			}
			keys[e.Key] = true
			if e.Date < last || e.Date > from+sampling.Date(days) {
				r.Fatalf("%s on %s, after %s", e.Kind, e.Date, last)
			}
			last = e.Date
			if e.Kind == EventWindow {
				windows = append(windows, e)
			}
			for _, d := range e.Duties {
				if d.Day < e.Date || d.Day > e.last() {
					r.Fatalf("%s of %s on %s is not within %s to %s", d.Kind, d.Colony, d.Day, e.Date, e.last())
				}
				if e.Kind == EventKind(DutyCount) || e.Kind == EventKind(DutyCheck) {
					listed[d.Colony] = append(listed[d.Colony], d.Day)
				}
			}
		}
		for i := 1; i < len(windows); i++ {
			if windows[i].Date <= windows[i-1].last() {
				r.Fatalf("windows %s to %s and %s to %s", windows[i-1].Date, windows[i-1].Until, windows[i].Date, windows[i].Until)
			}
		}
		standings, err := a.On(from)
		if err != nil {
			r.Fatal(err)
		}
		for _, s := range standings {
			got := listed[s.Colony]
			if within := s.Due <= from+sampling.Date(days); within != (len(got) == 1) || len(got) > 1 || within && got[0] != s.Due {
				r.Fatalf("%s is due on %s and listed on %v", s.Colony, s.Due, got)
			}
		}
	})
}

// Windows by a hand-made year: supers on 1 May and off on 20 July.
func TestTreatmentWindows(t *testing.T) {
	a := apiaryOf(t, colonyOf(t, "wash:1/300@2026-03-10"))
	a.Colonies[0].Supers = SupersPlan{Known: true, Times: []Supers{{On: mustDate("2026-05-01"), Off: mustDate("2026-07-20")}}}
	got := func(from string) string {
		events, err := a.Calendar(mustDate(from), 365)
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, e := range events {
			if e.Kind == EventWindow {
				out = append(out, fmt.Sprintf("%s %s..%s", e.Window, e.Date, e.Until))
			}
		}
		return strings.Join(out, "; ")
	}
	winter, _ := a.Colonies[0].Year.WithoutBrood(mustDate("2026-11-01"))
	last := fmt.Sprintf("without brood %s..%s", winter.From, winter.Until)
	for from, want := range map[string]string{
		"2026-04-30": "before the supers 2026-04-30..2026-04-30; after the harvest 2026-07-20..2026-08-31; " + last,
		"2026-05-01": "after the harvest 2026-07-20..2026-08-31; " + last,
		"2026-08-31": "after the harvest 2026-08-31..2026-08-31; " + last,
		"2026-09-01": last,
	} {
		if got := got(from); got != want {
			t.Errorf("from %s: %s\nwant %s", from, got, want)
		}
	}
}

// Lines of a month are brought together, what is late into one, and days stay.
func TestThinned(t *testing.T) {
	var events []Event
	from := mustDate("2026-06-10")
	for i, day := range []string{"2026-05-01", "2026-06-01", "2026-06-10", "2026-06-17", "2026-06-20", "2026-06-27", "2026-06-30", "2026-07-08"} {
		d := Duty{Kind: DutyCount, Colony: fmt.Sprint(i), Day: mustDate(day)}
		events = append(events, Event{Date: d.Day, Kind: EventKind(d.Kind), Duties: []Duty{d}})
	}
	var got []string
	for _, e := range thinned(events, from) {
		got = append(got, fmt.Sprintf("%s-%s:%s", e.Date.String()[5:], e.last().String()[5:], strings.Join(e.Colonies(), "")))
	}
	if want := "05-01-06-01:01 06-10-06-10:2 06-17-06-20:34 06-27-06-30:56 07-08-07-08:7"; strings.Join(got, " ") != want {
		t.Errorf("%v", got)
	}
}
