package decide

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// apiaryOf is a yard of colonies with the defaults.
func apiaryOf(t testing.TB, colonies ...Colony) Apiary {
	t.Helper()
	year, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	lines, err := ThresholdSet(DefaultThresholds)
	if err != nil {
		t.Fatal(err)
	}
	for i := range colonies {
		c := &colonies[i]
		c.Assumptions, c.Year, c.Rates = sampling.DefaultAssumptions(), year, DefaultRates()
		if c.Name == "" {
			c.Name = fmt.Sprintf("colony %d", i+1)
		}
	}
	return Apiary{Rules: Rules{Lines: lines, MissCost: DefaultMissCost, MinWorth: DefaultMinWorth, Costs: DefaultCosts()}, Colonies: colonies}
}

// colonyOf is a colony with some counts, each with its date.
func colonyOf(t testing.TB, counts ...string) Colony {
	t.Helper()
	var c Colony
	for _, text := range counts {
		count := mustCount(t, text)
		c.Counts = append(c.Counts, count)
		if c.Began.IsZero() || count.Date < c.Began {
			c.Began = count.Date
		}
	}
	return c
}

// stands is the only colony of an apiary on a day.
func stands(t testing.TB, a Apiary, day string) Standing {
	t.Helper()
	s, err := a.Of(0, mustDate(day))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// One day inside and one day outside of every figure that decides a call.
func TestCallsByTheDay(t *testing.T) {
	high, low := "wash:30/300@2026-06-15", "wash:1/300@2026-06-15"
	oxalic := treatment(t, "oxalic-vapour")
	for name, c := range map[string]struct {
		colony Colony
		day    string
		call   Call
		why    Reason
	}{
		"fresh for a week":                       {colonyOf(t, high), "2026-06-22", Treat, OverLine},
		"far over the line on the 8th day":       {colonyOf(t, high), "2026-06-23", Treat, OverLine},
		"over it on the 8th day":                 {colonyOf(t, "wash:11/300@2026-06-15"), "2026-06-23", CountAgain, OldCount},
		"well before it is due":                  {colonyOf(t, low), "2026-07-14", Leave, UnderLine},
		"on the day it is due":                   {colonyOf(t, low), "2026-07-15", CountAgain, DueNow},
		"not yet stale":                          {colonyOf(t, high), "2026-07-29", Treat, OverLine},
		"stale":                                  {colonyOf(t, high), "2026-07-30", CountAgain, Stale},
		"never counted":                          {Colony{History: History{Began: mustDate("2026-06-01")}}, "2026-06-15", CountAgain, NothingCounted},
		"a board in late July":                   {colonyOf(t, "board:2/3d@2026-07-20"), "2026-07-20", CountAgain, BoardAlone},
		"a board in June":                        {colonyOf(t, "board:0/7d@2026-06-20"), "2026-06-20", Leave, UnderLine},
		"no mite in 254 bees":                    {colonyOf(t, "wash:0/254@2026-06-15"), "2026-06-15", CountAgain, SmallSample},
		"one mite in 100 bees":                   {colonyOf(t, "wash:1/100@2026-06-15"), "2026-06-15", CountAgain, SmallSample},
		"no mite in 255 bees":                    {colonyOf(t, "wash:0/255@2026-06-15"), "2026-06-15", Leave, UnderLine},
		"three mites in April":                   {colonyOf(t, "roll:3/300@2026-04-12"), "2026-04-12", Leave, UnderLine},      // over the line with 7 in 100, by the count alone with 18
		"seven mites in July":                    {colonyOf(t, "roll:7/300@2026-07-01"), "2026-07-01", CountAgain, InGeneral}, // with 29 in 100, by the count alone with 42
		"sick bees seen":                         {withSigns(colonyOf(t, low), "2026-06-15"), "2026-06-15", CountAgain, SickBees},
		"under treatment":                        {treated(colonyOf(t, high), oxalic, "2026-06-16"), "2026-06-16", UnderTreatment, Settling},
		"rounds to come":                         {treated(colonyOf(t, high), oxalic, "2026-06-16", "2026-06-21"), "2026-06-18", UnderTreatment, Running},
		"settling":                               {treated(colonyOf(t, high), oxalic, "2026-06-16"), "2026-06-29", UnderTreatment, Settling},
		"settled":                                {treated(colonyOf(t, high), oxalic, "2026-06-16"), "2026-06-30", CountAgain, AfterCourse},
		"winter, nothing known":                  {colonyOf(t, "wash:3/300@2026-09-20"), "2026-12-15", Treat, WinterPlan},
		"winter, counted in November":            {colonyOf(t, "wash:0/300@2026-11-10"), "2026-12-15", Leave, WinterCount},
		"winter, counted in September":           {colonyOf(t, "wash:0/300@2026-09-30"), "2026-12-01", Treat, WinterPlan},
		"winter, no mite on the board":           {broodless(colonyOf(t, "board:0/7d@2026-12-14")), "2026-12-15", Leave, WinterFall},
		"winter, no mite after a few in October": {broodless(colonyOf(t, "wash:3/300@2026-10-02", "board:0/7d@2026-12-14")), "2026-12-15", CountAgain, SecondWeek},
		"winter, 8 days after a mite":            {broodless(colonyOf(t, "wash:1/300@2026-10-02", "board:1/7d@2026-12-07")), "2026-12-15", CountAgain, SecondWeek},
		"winter, 22 days after none":             {broodless(colonyOf(t, "wash:1/300@2026-10-02", "board:0/7d@2026-12-07")), "2026-12-29", Leave, WinterFall},
		"winter, 22 days after a mite":           {broodless(colonyOf(t, "wash:1/300@2026-10-02", "board:1/7d@2026-12-07")), "2026-12-29", Treat, WinterFall},
		"brood again, nothing known":             {colonyOf(t, "wash:3/300@2026-09-20"), "2027-02-16", CountAgain, Stale},
		"mites fell, far under the line":         {colonyOf(t, "wash:9/300@2026-06-12", "wash:0/300@2026-09-06"), "2026-09-06", Leave, UnderLine},
		"one mite where next to none were due":   {treated(colonyOf(t, "wash:1/300@2027-04-05", "wash:0/300@2026-10-30"), treatment(t, "oxalic-trickle"), "2026-12-20"), "2027-04-05", Leave, UnderLine},
		"winter, many on the board":              {broodless(colonyOf(t, "board:40/7d@2026-12-14")), "2026-12-15", Treat, WinterFall},
	} {
		s := stands(t, apiaryOf(t, c.colony), c.day)
		if s.Call != c.call || s.Because != c.why {
			t.Errorf("%s: %s, %s (over %.2f, due %s by %s), want %s, %s", name, s.Call, s.Because, s.ChanceOverAct, s.Due, s.DueFor, c.call, c.why)
		}
	}
}

func broodless(c Colony) Colony {
	for i := range c.Counts {
		c.Counts[i].Hive.Broodless = true
	}
	return c
}

func withSigns(c Colony, day string) Colony {
	c.Signs = mustDate(day)
	return c
}

func treated(c Colony, t sampling.Treatment, days ...string) Colony {
	for _, d := range days {
		c.Treatments = append(c.Treatments, TreatmentDay{On: mustDate(d), Treatment: t})
	}
	return c
}

// When the next count is due, by every rule that can come first.
func TestDueDays(t *testing.T) {
	supers := func(c Colony, times ...Supers) Colony {
		c.Supers = SupersPlan{Known: true, Times: times}
		return c
	}
	flow := Supers{mustDate("2026-05-01"), mustDate("2026-07-10")}
	for name, c := range map[string]struct {
		colony Colony
		day    string
		due    string
		why    DueReason
	}{
		"a month while bees fly":         {colonyOf(t, "wash:0/300@2026-05-20"), "2026-05-21", "2026-06-19", DueAge},
		"three weeks in late summer":     {colonyOf(t, "wash:0/300@2026-08-01"), "2026-08-02", "2026-08-22", DueAge},
		"before the supers go on":        {supers(colonyOf(t, "wash:0/300@2026-03-10"), flow), "2026-03-11", "2026-04-03", DueSpring},
		"after the supers come off":      {supers(colonyOf(t, "wash:0/300@2026-06-25"), flow), "2026-06-26", "2026-07-17", DueMidsummer},
		"in the second half of July":     {colonyOf(t, "wash:0/300@2026-07-10"), "2026-07-11", "2026-07-31", DueMidsummer},
		"after a call to treat":          {colonyOf(t, "wash:30/300@2026-06-15"), "2026-06-16", "2026-06-22", DueTreat},
		"for the first time":             {Colony{History: History{Began: mustDate("2026-06-01")}}, "2026-06-15", "2026-06-01", DueFirst},
		"in spring, when it is winter":   {colonyOf(t, "wash:0/300@2026-10-20"), "2026-12-01", "2027-03-01", DueFirstFly},
		"when the treatment has settled": {treated(colonyOf(t, "wash:30/300@2026-06-15"), treatment(t, "oxalic-vapour"), "2026-06-16"), "2026-06-17", "2026-06-30", DueSettled},
		"at the check of long strips":    {treated(colonyOf(t, "wash:30/300@2026-07-15"), treatment(t, "amitraz-strip"), "2026-07-16"), "2026-07-17", "2026-08-06", DueCheck},
		"in spring, when it was missed":  {colonyOf(t, "wash:0/300@2026-09-10"), "2027-01-20", "2027-03-01", DueFirstFly},
		"missed for two winters":         {colonyOf(t, "wash:0/300@2025-09-10"), "2027-01-20", "2027-03-01", DueFirstFly},
		"no check while no bee flies":    {treated(colonyOf(t, "wash:0/300@2026-10-20"), treatment(t, "amitraz-strip"), "2026-12-30"), "2026-12-31", "2027-03-10", DueSettled},
		"when the last of two settled":   {treated(treated(colonyOf(t, "wash:30/300@2026-06-15"), treatment(t, "thymol"), "2026-06-16"), treatment(t, "oxalic-vapour"), "2026-06-20"), "2026-06-21", "2026-07-28", DueSettled},
	} {
		s := stands(t, apiaryOf(t, c.colony), c.day)
		if s.Due != mustDate(c.due) || s.DueFor != c.why {
			t.Errorf("%s: %s by %s, want %s by %s (call %s, %s)", name, s.Due, s.DueFor, c.due, c.why, s.Call, s.Because)
		}
	}
}

// Naive: the next count is reckoned from the day one asks, so that it is never
// late, or from the course that happens to be told of among several that
// overlap. It follows from the record: asked on two days between which nothing
// was written down, it is the same, and what is past is overdue. Only the check
// of a course that was not made lapses with its days, and what was missed before
// a winter waits for the end of that.
func TestDueDoesNotMove(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := anyColony(r, t)
		begun := c.Counts[0].Date
		for range rapid.IntRange(0, 3).Draw(r, "courses") {
			slug := rapid.SampledFrom([]string{"oxalic-vapour", "formic-evaporation", "thymol", "amitraz-strip"}).Draw(r, "course")
			d := TreatmentDay{On: begun + sampling.Date(rapid.IntRange(-60, 120).Draw(r, "on")), Treatment: treatment(t, slug)}
			if rapid.Bool().Draw(r, "labelled") {
				d.Until = d.On + sampling.Date(rapid.IntRange(0, 80).Draw(r, "until"))
			}
			c.Treatments = append(c.Treatments, d)
			if rapid.Bool().Draw(r, "out") {
				c.Ends = append(c.Ends, TreatmentEnd{On: d.On + sampling.Date(rapid.IntRange(0, 80).Draw(r, "ended"))})
			}
		}
		a := apiaryOf(t, c)
		last := a.Colonies[0].recorded(mustDate("2027-12-31"))
		for _, e := range c.Ends {
			last = max(last, e.On)
		}
		first := last + sampling.Date(rapid.IntRange(0, 60).Draw(r, "first"))
		second := first + sampling.Date(rapid.IntRange(0, 60).Draw(r, "second"))
		one, err := a.Of(0, first)
		if err != nil {
			r.Fatal(err)
		}
		two, err := a.Of(0, second)
		if err != nil {
			r.Fatal(err)
		}
		if one.DueFor == DueCheck && two.Due > one.Due {
			return
		}
		if year := a.Colonies[0].Year; one.Due < second {
			for d := one.Due; d <= second; d++ {
				if year.Flying(d) {
					continue
				}
				for ; !year.Flying(d); d++ {
				}
				one.Due, one.DueFor = d, DueFirstFly
			}
		}
		if one.Due != two.Due || one.DueFor != two.DueFor {
			r.Fatalf("asked on %s: %s by %s (%s), on %s: %s by %s (%s)", first, one.Due, one.DueFor, one.Call, second, two.Due, two.DueFor, two.Call)
		}
		if want := max(0, int(second-two.Due)); two.Overdue != want {
			r.Fatalf("%d days late on %s, due %s", two.Overdue, second, two.Due)
		}
	})
}

// A call to count again says what to count, also on a later day on which no
// count would be worth its cost any more by itself.
func TestCountAgainSaysWhat(t *testing.T) {
	a := apiaryOf(t, colonyOf(t, "roll:0/0.5cup/1f@2026-04-01", "roll:1/0.5cup/1f@2026-05-01", "roll:0/0.5cup/1f@2026-05-31",
		"roll:0/0.5cup/1f@2026-06-30", "roll:9/0.5cup/1f@2026-07-30", "roll:6/0.5cup/1f@2026-07-30", "roll:4/0.5cup/1f@2026-07-30"))
	a.MissCost, a.MinWorth = 1, 0
	s := stands(t, a, "2026-08-06")
	if net := advisedNet(t, s.now); s.Because != Risky || net > 0 {
		t.Fatalf("%s, %s, a count worth %v: the test shows nothing", s.Call, s.Because, net)
	}
	if s.Call != CountAgain || s.Advised.Plan != LookNow || s.Advised.Count.Check() != nil {
		t.Errorf("%s: %s %s", s.Call, s.Advised.Plan, s.Advised.Count)
	}
}

// advisedNet is the highest net worth of a count.
func advisedNet(t *testing.T, s Situation) float64 {
	t.Helper()
	all, err := s.Candidates()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		if c.Plan == LookNow {
			return c.Net
		}
	}
	return math.Inf(-1)
}

// anyColony is a colony with up to four counts and some treatments.
func anyColony(r *rapid.T, t *testing.T) Colony {
	var texts []string
	day := mustDate("2026-03-15") + sampling.Date(rapid.IntRange(0, 200).Draw(r, "begin"))
	for range rapid.IntRange(1, 4).Draw(r, "counts") {
		texts = append(texts, fmt.Sprintf("%s:%d/300@%s", rapid.SampledFrom([]string{"wash", "roll"}).Draw(r, "method"), rapid.IntRange(0, 20).Draw(r, "mites"), day))
		day += sampling.Date(rapid.IntRange(1, 40).Draw(r, "gap"))
	}
	c := colonyOf(t, texts...)
	if rapid.Bool().Draw(r, "treated") {
		slug := rapid.SampledFrom([]string{"oxalic-vapour", "formic-evaporation", "amitraz-strip"}).Draw(r, "slug")
		c.Treatments = append(c.Treatments, TreatmentDay{On: day, Treatment: treatment(t, slug)})
	}
	return c
}

// All colonies together and one by itself come to the same.
func TestOfIsOn(t *testing.T) {
	a := apiaryOf(t, colonyOf(t, "roll:3/300@2026-06-10"), colonyOf(t, "roll:14/300@2026-06-12"), Colony{History: History{Began: mustDate("2026-05-01")}})
	day := mustDate("2026-06-20")
	all, err := a.On(day)
	if err != nil || len(all) != 3 {
		t.Fatalf("%d standings, %v", len(all), err)
	}
	for i, want := range all {
		got, err := a.Of(i, day)
		if err != nil || got.Call != want.Call || got.Due != want.Due || got.ChanceOverAct != want.ChanceOverAct || got.Advised.Count != want.Advised.Count {
			t.Errorf("%s: %+v, %v", want.Colony, got, err)
		}
	}
}

// A colony that is gone has no standing, and what went wrong says where.
func TestApiaryErrors(t *testing.T) {
	gone := colonyOf(t, "roll:3/300@2026-06-10")
	gone.Gone = mustDate("2026-06-15")
	a := apiaryOf(t, gone, colonyOf(t, "roll:3/300@2026-06-10"))
	all, err := a.On(mustDate("2026-06-20"))
	if err != nil || len(all) != 1 || all[0].Colony != "colony 2" {
		t.Errorf("%v, %v", all, err)
	}
	var bad *sampling.ValueError
	if _, err := a.Of(0, mustDate("2026-06-20")); !errors.As(err, &bad) {
		t.Errorf("asked of a dead colony: %v", err)
	}
	a.Colonies[1].Counts[0].Amount.Value = -1
	var where *ColonyError
	if _, err := a.On(mustDate("2026-06-20")); !errors.As(err, &where) || where.Colony != "colony 2" {
		t.Errorf("a count that cannot be: %v", err)
	}
	a.MissCost = 0
	if _, err := a.On(mustDate("2026-06-20")); !errors.As(err, &bad) {
		t.Errorf("no cost of a miss: %v", err)
	}
}

// Supers decide what treating comes to, wherever they are written down.
func TestSupersDecideTheCall(t *testing.T) {
	high := colonyOf(t, "wash:30/300@2026-06-20")
	for name, c := range map[string]struct {
		supers SupersPlan
		call   Call
		state  SupersState
	}{
		"nobody says":    {SupersPlan{}, Treat, SupersUnknown},
		"on":             {SupersPlan{Known: true, Times: []Supers{{mustDate("2026-05-01"), mustDate("2026-07-20")}}}, WhenSupersOff, SupersOn},
		"off again":      {SupersPlan{Known: true, Times: []Supers{{mustDate("2026-05-01"), mustDate("2026-06-20")}}}, Treat, SupersOff},
		"never come off": {SupersPlan{Known: true, Times: []Supers{{On: mustDate("2026-05-01")}}}, WhenSupersOff, SupersOn},
		"said to be off": {SupersPlan{Known: true, Times: []Supers{{On: mustDate("2026-05-01")}}}.Overridden(mustDate("2026-06-20"), false), Treat, SupersOff},
		"said to be on":  {SupersPlan{}.Overridden(mustDate("2026-06-20"), true), WhenSupersOff, SupersOn},
	} {
		k := high
		k.Supers = c.supers
		if s := stands(t, apiaryOf(t, k), "2026-06-20"); s.Call != c.call || s.Supers != c.state {
			t.Errorf("%s: %s with supers %s, want %s with %s", name, s.Call, s.Supers, c.call, c.state)
		}
	}
}

// A colony that is alone in its yard is what its own record makes of it, and
// neighbours that show nothing leave it so: counts of a yard pull, its size
// does not.
func TestYardOfOneIsTheColonyAlone(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := anyColony(r, t)
		a := apiaryOf(t, c)
		day := a.Colonies[0].recorded(mustDate("2027-12-31")) + sampling.Date(rapid.IntRange(0, 40).Draw(r, "days"))
		want, err := a.Colonies[0].History.On(day)
		if err != nil {
			r.Fatal(err)
		}
		never := Colony{History: History{Began: a.Colonies[0].Began}}
		for name, a := range map[string]Apiary{"alone": a, "beside one never counted": apiaryOf(t, c, never)} {
			s, err := a.Of(0, day)
			if err != nil {
				r.Fatal(err)
			}
			for _, p := range []float64{0.05, 0.5, 0.95} {
				if got, want := s.Known.Quantile(p), want.Known.Quantile(p); !(math.Abs(got/want-1) <= 1e-6) {
					r.Fatalf("%s: quantile %v at %v, by its own record %v", name, p, got, want)
				}
			}
			if got, want := s.ChanceOverAct, want.Known.Over(s.Line.Act/100); !(math.Abs(got-want) <= 1e-6) {
				r.Fatalf("%s: over the line with a chance of %v, by its own record %v", name, got, want)
			}
		}
	})
}

// What its neighbours show never turns a colony's own call to treat into one to
// leave it: where they disagree the call is to count again.
func TestNeighboursNeverTurnTreatIntoLeave(t *testing.T) {
	treats, turned := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		day := mustDate("2026-04-20") + sampling.Date(rapid.IntRange(0, 180).Draw(r, "day"))
		count := func(mites int) string { return fmt.Sprintf("wash:%d/300@%s", mites, day) }
		c := colonyOf(t, count(rapid.IntRange(2, 14).Draw(r, "mites")))
		yard := []Colony{c}
		for range rapid.IntRange(1, 6).Draw(r, "neighbours") {
			yard = append(yard, colonyOf(t, count(rapid.IntRange(0, 3).Draw(r, "theirs"))))
		}
		later := day + sampling.Date(rapid.IntRange(0, 12).Draw(r, "days"))
		own, err := apiaryOf(t, c).Of(0, later)
		if err != nil {
			r.Fatal(err)
		}
		if !own.Call.Treats() {
			return
		}
		treats++
		among, err := apiaryOf(t, yard...).Of(0, later)
		if err != nil {
			r.Fatal(err)
		}
		if among.Call != own.Call {
			turned++
		}
		if !among.Call.Treats() && among.Call != CountAgain {
			r.Fatalf("alone %s, %s; among its neighbours %s, %s", own.Call, own.Because, among.Call, among.Because)
		}
	})
	t.Logf("%d calls to treat, %d of them turned into counting again", treats, turned)
}

// A treatment of the broodless time stays where it is planned: beside brood
// another one is needed. In winter what is planned in these weeks is waited for.
func TestPlannedTreatments(t *testing.T) {
	planned := func(c Colony, slug string, days ...string) Colony {
		for _, d := range days {
			c.Treatments = append(c.Treatments, TreatmentDay{On: mustDate(d), Treatment: treatment(t, slug), Planned: true})
		}
		return c
	}
	high, low := "wash:30/300@2026-09-15", "wash:0/300@2026-06-20"
	for name, c := range map[string]struct {
		colony    Colony
		day       string
		call      Call
		asPlanned bool // it is to be treated, and not only may wait
	}{
		"formic acid in five days":          {planned(colonyOf(t, high), "formic-evaporation", "2026-09-20"), "2026-09-15", WaitForPlanned, true},
		"a winter trickle beside brood":     {planned(colonyOf(t, high), "oxalic-trickle", "2026-12-10"), "2026-09-15", Treat, false},
		"formic acid in three weeks":        {planned(colonyOf(t, high), "formic-evaporation", "2026-10-05"), "2026-09-15", BringForward, false},
		"few mites, planned in three weeks": {planned(colonyOf(t, low), "formic-evaporation", "2026-07-11"), "2026-06-20", WaitForPlanned, false},
		"few mites, planned a day later":    {planned(colonyOf(t, low), "formic-evaporation", "2026-07-12"), "2026-06-20", Leave, false},
		"few mites, planned in August":      {planned(colonyOf(t, "wash:0/300@2026-07-20"), "formic-evaporation", "2026-08-02"), "2026-07-20", Leave, false},
		"winter, planned in nine days":      {planned(colonyOf(t, "wash:3/300@2026-09-20"), "oxalic-trickle", "2026-12-19"), "2026-12-10", WaitForPlanned, true},
		"winter, planned in a month":        {planned(colonyOf(t, "wash:3/300@2026-09-20"), "oxalic-trickle", "2027-01-12"), "2026-12-10", Treat, false},
	} {
		if s := stands(t, apiaryOf(t, c.colony), c.day); s.Call != c.call || s.AsPlanned() != c.asPlanned {
			t.Errorf("%s: %s, %s, as planned %v, want %s", name, s.Call, s.Because, s.AsPlanned(), c.call)
		}
	}
}

// The days to come without arrivals are those of a yard into which no mites
// come, in all their digits: arrivals act on nothing that was counted. Naive:
// only the colony asked about is spared, and not its neighbours, of which it is
// known too.
func TestUnvisited(t *testing.T) {
	differ := false
	rapid.Check(t, func(r *rapid.T) {
		var yard []Colony
		for range rapid.IntRange(1, 3).Draw(r, "colonies") {
			c := anyColony(r, t)
			c.Arrivals = rapid.SampledFrom([]float64{0, 2, 30}).Draw(r, "arrivals")
			yard = append(yard, c)
		}
		a := apiaryOf(t, yard...)
		asked := yard[0].recorded(mustDate("2027-12-31")) + sampling.Date(rapid.IntRange(0, 60).Draw(r, "days"))
		alone := Apiary{Rules: a.Rules, Colonies: slices.Clone(a.Colonies)}
		for i := range alone.Colonies {
			alone.Colonies[i].Arrivals = 0
		}
		outlook := func(a Apiary) (s Standing, days []Outlook) {
			s, err := a.Of(0, asked)
			if err == nil {
				days, err = s.Ahead(30)
			}
			if err != nil {
				r.Fatal(err)
			}
			return s, days
		}
		s, visited := outlook(a)
		_, want := outlook(alone)
		got, err := s.Unvisited(30)
		if err != nil || !reflect.DeepEqual(got, want) {
			r.Fatalf("%v\n%v\n%v", err, got, want)
		}
		differ = differ || !reflect.DeepEqual(visited, want)
	})
	if !differ {
		t.Error("arrivals changed nothing: the test shows nothing")
	}
}
