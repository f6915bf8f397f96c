package decide_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfcup/decide"
	"halfcup/sampling"
)

func given(t testing.TB, slug string, on ...string) []decide.TreatmentDay {
	var out []decide.TreatmentDay
	for _, d := range on {
		out = append(out, decide.TreatmentDay{On: day(t, d), Treatment: treatment(t, slug)})
	}
	return out
}

func course(t testing.TB, days []decide.TreatmentDay, ends ...decide.TreatmentEnd) decide.Course {
	t.Helper()
	all := decide.Courses(days, ends...)
	if len(all) != 1 {
		t.Fatalf("%d courses: %+v", len(all), all)
	}
	return all[0]
}

func TestRotation(t *testing.T) {
	courses := decide.Courses(slices.Concat(
		given(t, "fluvalinate-strip", "2026-08-10"), given(t, "oxalic-vapour", "2025-12-20"),
		given(t, "oxalic-vapour", "2025-08-01", "2025-08-06", "2025-08-11"),
		given(t, "flumethrin-strip", "2027-08-10"),
	))
	if len(courses) != 4 || courses[0].Last != day(t, "2025-08-11") || courses[0].SettledOn() != courses[0].Last+14 || courses[2].SettledOn() != day(t, "2026-08-10")+49+14 {
		t.Errorf("courses %+v", courses)
	}
	// Two names, one mode of action.
	if mode, n := decide.Repeated(courses); mode != "pyrethroid" || n != 2 {
		t.Errorf("%s %d times", mode, n)
	}
	if mode, n := decide.Repeated(nil); mode != "" || n != 0 {
		t.Errorf("no course: %s %d times", mode, n)
	}
}

// The days of a strip whose label says 10 October, put in on 25 July and taken
// out two days late. Going by the usual 56 days, as this program once did, a
// count on 20 September would be taken for one after the treatment, with the
// strips still in the hive.
func TestCourseByItsLabel(t *testing.T) {
	strips := given(t, "amitraz-strip", "2026-07-25")
	usual := course(t, strips)
	if !usual.OutUsual() || usual.OutDue() != day(t, "2026-09-19") {
		t.Errorf("usual days: out %s", usual.OutDue())
	}
	strips[0].Until = day(t, "2026-10-10")
	c := course(t, strips, decide.TreatmentEnd{On: day(t, "2026-10-12"), Slug: "amitraz-strip"})
	if c.OutUsual() || c.OutDue() != day(t, "2026-10-10") || c.SettledOn() != day(t, "2026-10-26") {
		t.Errorf("label's days: out %s, settled %s", c.OutDue(), c.SettledOn())
	}
	if from, to := c.Check(); from != day(t, "2026-08-15") || to != day(t, "2026-08-22") {
		t.Errorf("check from %s to %s", from, to)
	}
	counts := []sampling.Date{day(t, "2026-08-16"), day(t, "2026-10-29")}
	for _, step := range []struct {
		on   string
		want decide.CourseState
	}{
		{"2026-07-24", decide.CoursePlanned}, {"2026-07-25", decide.CourseRunning}, {"2026-09-20", decide.CourseRunning},
		{"2026-10-09", decide.CourseRunning}, {"2026-10-10", decide.CourseTakeOut}, {"2026-10-11", decide.CourseTakeOut},
		{"2026-10-12", decide.CourseSettling}, {"2026-10-25", decide.CourseSettling},
		{"2026-10-26", decide.CourseDueCount}, {"2026-10-28", decide.CourseDueCount}, {"2026-10-29", decide.CourseCounted},
	} {
		if got := c.State(day(t, step.on), counts); got != step.want {
			t.Errorf("%s: %s, want %s", step.on, got, step.want)
		}
	}
	if s := usual.State(day(t, "2026-12-24"), counts); s != decide.CourseTakeOut {
		t.Errorf("strips that nobody took out are %s at Christmas", s)
	}
	if s := usual.State(day(t, "2028-07-01"), counts); s != decide.CourseCounted {
		t.Errorf("strips of two years ago, counted since: %s", s)
	}
}

// The states of what is given in a day or some, of rounds and of one whose days
// in the hive are few.
func TestCourseStates(t *testing.T) {
	vapour := given(t, "oxalic-vapour", "2026-08-01", "2026-08-06", "2026-08-11", "2026-08-16")
	planned := slices.Clone(vapour)
	for i := range planned[1:] {
		planned[i+1].Planned = true
	}
	for _, c := range []struct {
		name string
		days []decide.TreatmentDay
		ends []decide.TreatmentEnd
		on   string
		want decide.CourseState
	}{
		{"between rounds", vapour, nil, "2026-08-12", decide.CourseRunning},
		{"last round", vapour, nil, "2026-08-16", decide.CourseSettling},
		{"settled", vapour, nil, "2026-08-30", decide.CourseDueCount},
		{"one round", vapour[:1], nil, "2026-08-01", decide.CourseSettling},
		{"rounds to come", planned, nil, "2026-08-04", decide.CourseRunning},
		{"a round to come today", planned[:2], nil, "2026-08-06", decide.CourseRunning},
		{"nobody confirmed", planned, nil, "2026-08-20", decide.CourseDueCount},
		{"only planned", planned[3:], nil, "2026-08-12", decide.CoursePlanned},
		{"planned for today", planned[3:], nil, "2026-08-16", decide.CoursePlanned},
		{"tray in", given(t, "formic-evaporation", "2026-08-01"), nil, "2026-08-10", decide.CourseRunning},
		{"tray due out", given(t, "formic-evaporation", "2026-08-01"), nil, "2026-08-11", decide.CourseTakeOut},
		{"everything out", given(t, "formic-evaporation", "2026-08-01"), []decide.TreatmentEnd{{On: day(t, "2026-08-08")}}, "2026-08-09", decide.CourseSettling},
		{"the first of two trays out", given(t, "formic-evaporation", "2026-08-01", "2026-08-12"), []decide.TreatmentEnd{{On: day(t, "2026-08-11")}}, "2026-08-20", decide.CourseRunning},
		{"something else out", given(t, "formic-evaporation", "2026-08-01"), []decide.TreatmentEnd{{On: day(t, "2026-08-08"), Slug: "thymol"}}, "2026-08-12", decide.CourseTakeOut},
	} {
		h := decide.History{Treatments: c.days, Ends: c.ends}
		on := day(t, c.on)
		all := h.Courses(on)
		if len(all) != 1 {
			t.Errorf("%s: %d courses", c.name, len(all))
			continue
		}
		if got := all[0].State(on, nil); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// A plan whose day has passed is no treatment. Going by dates alone it would
// have killed nine mites in ten.
func TestUnconfirmedPlans(t *testing.T) {
	plan := given(t, "oxalic-trickle", "2026-12-15", "2026-12-20")
	plan[0].Planned, plan[1].Planned = true, true
	for _, c := range []struct {
		today  string
		acting int
	}{{"2026-12-01", 2}, {"2026-12-15", 2}, {"2026-12-16", 1}, {"2026-12-21", 0}} {
		today := day(t, c.today)
		if got := decide.Acting(plan, today); len(got) != c.acting {
			t.Errorf("%s: %d act", c.today, len(got))
		}
		if got := decide.Unconfirmed(plan, today); len(got) != 2-c.acting {
			t.Errorf("%s: %d asked for", c.today, len(got))
		}
	}
	plan[0].Confirmed = true
	today := day(t, "2027-02-01")
	all := decide.History{Treatments: plan}.Courses(today)
	if len(all) != 1 || !all[0].Confirmed || all[0].Last != plan[0].On || all[0].Planned() {
		t.Errorf("confirmed: %+v", all)
	}
	if c := course(t, given(t, "oxalic-trickle", "2026-12-15")); c.Confirmed {
		t.Error("what was never planned reads as confirmed")
	}
}

// Strips of which more are put in while the first still lie are one course,
// however far apart the days; the same strips a season later are another.
func TestCoursesThatLie(t *testing.T) {
	days := given(t, "amitraz-strip", "2026-07-25", "2026-09-10", "2027-03-10")
	all := decide.Courses(days)
	if len(all) != 2 || all[0].Last != days[1].On || all[0].OutDue() != days[1].On+56 {
		t.Errorf("courses: %+v", all)
	}
}

func TestOverlapWithSupers(t *testing.T) {
	supers := decide.Supers{On: day(t, "2026-05-01"), Off: day(t, "2026-07-20")}
	for name, c := range map[string]struct {
		days []decide.TreatmentDay
		ends []decide.TreatmentEnd
		want int
	}{
		"26 days under them":    {given(t, "amitraz-strip", "2026-04-01"), nil, 26},
		"taken out before":      {given(t, "amitraz-strip", "2026-04-01"), []decide.TreatmentEnd{{On: day(t, "2026-05-01")}}, 0},
		"the last of two":       {given(t, "oxalic-vapour", "2026-04-28", "2026-05-03"), nil, 1},
		"on the day they go on": {given(t, "oxalic-vapour", "2026-05-01"), nil, 1},
		"on the day they go":    {given(t, "oxalic-vapour", "2026-07-20"), nil, 0},
		"tray":                  {given(t, "formic-evaporation", "2026-07-15"), nil, 5},
	} {
		if got := course(t, c.days, c.ends...).Overlap(supers); got != c.want {
			t.Errorf("%s: %d days, want %d", name, got, c.want)
		}
	}
	if got := course(t, given(t, "thymol", "2026-06-01")).Overlap(decide.Supers{On: day(t, "2026-05-01")}); got != 28 {
		t.Errorf("supers still on: %d days", got)
	}
}

func TestMayNotWork(t *testing.T) {
	strips := course(t, given(t, "amitraz-strip", "2026-07-25"))
	vapour := course(t, given(t, "oxalic-vapour", "2026-08-01", "2026-08-06", "2026-08-11", "2026-08-16"))
	for _, c := range []struct {
		name    string
		course  decide.Course
		on      string
		overAct float64
		want    bool
	}{
		{"too soon", strips, "2026-08-14", 0.99, false},
		{"at the check", strips, "2026-08-15", 0.99, true},
		{"at the check, unsure", strips, "2026-08-15", 0.9, false},
		{"while it settles", strips, "2026-10-01", 0.95, true},
		{"settled: a plain count", strips, "2026-10-03", 0.95, false},
		{"first half of the rounds", vapour, "2026-08-08", 0.99, false},
		{"second half", vapour, "2026-08-09", 0.99, true},
	} {
		if got := c.course.MayNotWork(day(t, c.on), c.overAct); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
	if from, _ := vapour.Check(); !from.IsZero() {
		t.Error("rounds over 15 days are to be checked")
	}
}

// What is given without brood must not be brought forward into brood; rounds
// that outlast the capped time may be.
func TestCourseNeedsNoBrood(t *testing.T) {
	for slug, want := range map[string]bool{"oxalic-trickle": true, "oxalic-vapour": true, "formic-evaporation": false, "amitraz-strip": false} {
		if got := course(t, given(t, slug, "2026-12-15")).NeedsNoBrood(); got != want {
			t.Errorf("%s: %v", slug, got)
		}
	}
	if course(t, given(t, "oxalic-vapour", "2026-08-01", "2026-08-06", "2026-08-11", "2026-08-16")).NeedsNoBrood() {
		t.Error("four rounds need no brood")
	}
}

// The usual rounds must span the capped time: the last of them after every
// cell that was capped at the first has opened.
func TestUsualRoundsSpan(t *testing.T) {
	for _, tr := range sampling.Treatments() {
		if tr.Rounds > 1 && tr.Rounds < decide.Spanning(tr.EveryDays) {
			t.Errorf("%s: %d rounds every %d days end before the last drone cell opens", tr.Slug, tr.Rounds, tr.EveryDays)
		}
	}
}

func TestAskResistance(t *testing.T) {
	for slug, want := range map[string]bool{"amitraz-strip": true, "flumethrin-strip": true, "oxalic-vapour": false, "thymol": false} {
		tr := treatment(t, slug)
		if decide.AskResistance(tr, decide.DidNot) != want || decide.AskResistance(tr, decide.Worked) || decide.AskResistance(tr, decide.CannotTell) {
			t.Errorf("%s: resistance is spoken of wrongly", slug)
		}
	}
}

// From the day a treatment was given until a count can tell what it did, and
// as long as it must still come out, some course in force bars another,
// whatever else the record holds.
func TestNoTreatmentBeforeItSettles(t *testing.T) {
	start := day(t, "2026-03-01")
	rapid.Check(t, func(r *rapid.T) {
		on := func(name string, days int) sampling.Date {
			return start + sampling.Date(rapid.IntRange(0, days).Draw(r, name))
		}
		var h decide.History
		for range rapid.IntRange(1, 6).Draw(r, "treatments") {
			d := decide.TreatmentDay{On: on("given", 300), Treatment: rapid.SampledFrom(sampling.Treatments()).Draw(r, "treatment")}
			if rapid.Bool().Draw(r, "label") {
				d.Until = d.On + sampling.Date(rapid.IntRange(0, 90).Draw(r, "until"))
			}
			d.Planned, d.Confirmed = rapid.Bool().Draw(r, "planned"), rapid.Bool().Draw(r, "confirmed")
			h.Treatments = append(h.Treatments, d)
		}
		for range rapid.IntRange(0, 4).Draw(r, "ends") {
			e := decide.TreatmentEnd{On: on("out", 400)}
			if rapid.Bool().Draw(r, "named") {
				e.Slug = rapid.SampledFrom(h.Treatments).Draw(r, "of").Treatment.Slug
			}
			h.Ends = append(h.Ends, e)
		}
		var counts []sampling.Date
		for range rapid.IntRange(0, 5).Draw(r, "counts") {
			counts = append(counts, on("counted", 500))
		}
		for today := start; today < start+500; today++ {
			courses := h.Courses(today)
			c, state, inForce := decide.InForce(courses, today, counts)
			for _, d := range h.Treatments {
				if d.On > today || d.Planned && !d.Confirmed {
					continue
				}
				// The rule by itself, without the states.
				end := d.On
				if d.Treatment.Days > 1 || !d.Until.IsZero() {
					end = max(d.Until, d.On)
					if d.Until.IsZero() {
						end = d.On + sampling.Date(d.Treatment.Days)
					}
					for _, e := range h.Ends { // it came out early
						if e.On >= d.On && (e.Slug == "" || e.Slug == d.Treatment.Slug) {
							end = min(end, e.On)
						}
					}
				}
				if today < end+14 && !(inForce && state.BarsTreatment()) {
					r.Fatalf("%s of %s allows a treatment on %s: in force %v %s of %+v", d.Treatment.Slug, d.On, today, inForce, state, c)
				}
			}
			for _, c := range courses {
				if c.SettledOn() < c.Last+14 || c.OutDue() < c.Last || len(c.Rounds) == 0 || c.Rounds[0] != c.First || c.Rounds[len(c.Rounds)-1] != c.Last {
					r.Fatalf("%+v", c)
				}
				if s := c.State(today, counts); s == decide.CourseCounted && !slices.ContainsFunc(counts, func(d sampling.Date) bool { return d >= c.SettledOn() && d <= today }) {
					r.Fatalf("counted without a count: %+v", c)
				}
			}
		}
	})
}
