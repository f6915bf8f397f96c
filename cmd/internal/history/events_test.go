package history

import (
	"math"
	"strings"
	"testing"
	"time"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/decide"
	"halfcup/sampling"
)

func base(t *testing.T) decide.Colony {
	t.Helper()
	year, err := decide.NewYear(decide.YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	return decide.Colony{History: decide.History{Assumptions: sampling.DefaultAssumptions(), Rates: decide.DefaultRates(), Year: year}}
}

func read(t *testing.T, rows string) *fieldlog.Record {
	t.Helper()
	rec, err := fieldlog.Read("log.csv", strings.NewReader("date,colony,event,active,application,until,mark,id,undo_of,adult_bees,method,mites,amount,weather\n"+rows))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range rec.Problems {
		t.Fatal(p)
	}
	return rec
}

func colony(t *testing.T, rows string, today sampling.Date) Colony {
	t.Helper()
	c, err := Of(read(t, rows), "", "elm", base(t), today)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func on(month time.Month, day int) sampling.Date { return sampling.Day(2026, month, day) }

// Every event of the record arrives where the answer looks for it.
func TestEventsArrive(t *testing.T) {
	c := colony(t, strings.Join([]string{
		"2026-04-20,elm,hived,,,,,,,9000,,,,",
		"2026-05-01,elm,moved,,,,,,,,,,,",
		"2026-05-20,elm,drone-frame-in,,,,,,,,,,,",
		"2026-06-10,elm,drone-brood-removed,,,,,,,,,,,",
		"2026-06-20,elm,queenless,,,,,,,,,,,",
		"2026-07-10,elm,requeened,,,,,,,,,,,",
		"2026-07-12,elm,honey-taken,,,,,,,,,,,",
		"2026-07-14,elm,robbing,,,,,,,,,,,",
		"2026-07-15,elm,signs,,,,,,,,,,,",
		"2026-07-16,elm,count,,,,,,,,roll,3,300,damp",
		"2026-07-20,elm,treatment,amitraz,strip,2026-09-01,,,,,,,,",
		"2026-08-25,elm,treatment-end,amitraz,strip,,,,,,,,,",
		"2026-09-01,elm,queen-caged,,,,,,,,,,,",
		"2026-12-19,elm,treatment,oxalic acid,trickle,,planned,,,,,,,",
		"",
	}, "\n"), on(9, 10))
	if c.Robbed != on(7, 14) || c.Signs != on(7, 15) || !c.InHive.DroneFrame.IsZero() || c.InHive.QueenCaged != on(9, 1) {
		t.Errorf("robbed %s, signs %s, in the hive %+v", c.Robbed, c.Signs, c.InHive)
	}
	if len(c.Treatments) != 2 || c.Treatments[0].Until != on(9, 1) || c.Treatments[0].Planned || !c.Treatments[1].Planned || c.Treatments[1].Confirmed {
		t.Errorf("treatments are %+v", c.Treatments)
	}
	if len(c.Ends) != 1 || c.Ends[0] != (decide.TreatmentEnd{On: on(8, 25), Slug: "amitraz-strip"}) {
		t.Errorf("ends are %+v", c.Ends)
	}
	if len(c.Counts) != 1 || c.Counts[0].Weather != sampling.Damp {
		t.Errorf("counts are %+v", c.Counts)
	}
	kinds := map[decide.HappeningKind]decide.Happening{}
	for _, h := range c.Happenings {
		kinds[h.Kind] = h
	}
	for kind, want := range map[decide.HappeningKind]decide.Happening{
		decide.Hived:             {On: on(4, 20), Kind: decide.Hived, Bees: 9000},
		decide.Moved:             {On: on(5, 1), Kind: decide.Moved},
		decide.DroneBroodRemoved: {On: on(6, 10), Kind: decide.DroneBroodRemoved},
		decide.Queenless:         {On: on(6, 20), Kind: decide.Queenless, To: on(7, 10)},
		decide.Requeened:         {On: on(7, 10), Kind: decide.Requeened},
		decide.QueenCaged:        {On: on(9, 1), Kind: decide.QueenCaged},
		decide.HoneyTaken:        {On: on(7, 12), Kind: decide.HoneyTaken},
	} {
		if kinds[kind] != want {
			t.Errorf("%s is %+v, want %+v", kind, kinds[kind], want)
		}
	}
}

// A plan acts until its day; then on nothing until somebody says that it was
// done. To read it as given because its day has passed gives another colony.
func TestPlanIsAMark(t *testing.T) {
	const plan = "2026-12-19,elm,treatment,oxalic acid,trickle,,planned,h1,,,,,,\n"
	later := on(12, 24)
	lapsed := colony(t, plan, later)
	if acting := decide.Acting(lapsed.Treatments, later); len(acting) != 0 {
		t.Errorf("acting are %+v", acting)
	}
	if asked := decide.Unconfirmed(lapsed.Treatments, later); len(asked) != 1 {
		t.Errorf("asked are %+v", asked)
	}
	if acting := decide.Acting(colony(t, plan, on(12, 1)).Treatments, on(12, 1)); len(acting) != 1 {
		t.Errorf("before its day, acting are %+v", acting)
	}
	for name, done := range map[string]string{
		"on its day":      "2026-12-19,elm,treatment,oxalic acid,trickle,,done,h2,,,,,,\n",
		"on another":      "2026-12-21,elm,treatment,oxalic acid,trickle,,done,h2,h1,,,,,\n",
		"without a mark":  "2026-12-19,elm,treatment,oxalic acid,trickle,,,h2,,,,,,\n",
		"with two in all": plan + "2026-12-19,elm,treatment,oxalic acid,trickle,,done,h2,,,,,,\n",
	} {
		c := colony(t, plan+done, later)
		if acting := decide.Acting(c.Treatments, later); len(acting) != 1 || len(c.Treatments) != 1 {
			t.Errorf("%s: %+v of %+v act", name, acting, c.Treatments)
		}
	}
	// Today's records have no mark: what lies ahead is a plan, what is past was given.
	const unmarked = "2026-12-19,elm,treatment,oxalic acid,trickle,,,,,,,,,\n"
	if c := colony(t, unmarked, on(12, 1)); !c.Treatments[0].Planned {
		t.Error("what lies ahead is not planned")
	}
	if c := colony(t, unmarked, later); c.Treatments[0].Planned {
		t.Error("what is past is planned")
	}
}

// Supers planned and not confirmed are not on, and somebody asks.
func TestPlannedSupers(t *testing.T) {
	c := colony(t, "2026-05-01,elm,supers-on,,,,planned,,,,,,,\n", on(5, 20))
	if c.Supers.Known || len(c.Unread) != 1 || !strings.Contains(c.Unread[0], "Was it done?") {
		t.Errorf("%+v, %q", c.Supers, c.Unread)
	}
	if c := colony(t, "2026-05-01,elm,supers-on,,,,planned,,,,,,,\n", on(4, 20)); c.Supers.On(on(5, 3)) != decide.SupersOn {
		t.Error("the plan is not known before its day")
	}
}

// A board is read by the bees and the brood of its season, or by the colony's
// own bees as they go through it, and by what the row says before both.
func TestBoardHasItsSeason(t *testing.T) {
	hive := func(rows string) sampling.Hive {
		return colony(t, rows, on(12, 31)).Counts[0].Hive
	}
	june := hive("2026-06-20,elm,count,,,,,,,,board,12,3d,\n")
	winter := hive("2026-12-20,elm,count,,,,,,,,board,12,3d,\n")
	if june.Broodless || !winter.Broodless || june.AdultBees < 1.5*winter.AdultBees || !(june.AdultBeesCV > 0.25) {
		t.Errorf("june %+v, winter %+v", june, winter)
	}
	own := hive("2026-06-10,elm,inspection,,,,,,,10000,,,,\n2026-06-20,elm,count,,,,,,,,board,12,3d,\n")
	year := base(t).Year
	want := 10000 * year.AdultBees(on(6, 20)) / year.AdultBees(on(6, 10))
	if own.Ordinary || !(math.Abs(own.AdultBees/want-1) < 0.1) {
		t.Errorf("own bees are %+v, want about %.0f", own, want)
	}
	if said := hive("2026-06-20,elm,count,,,,,,,15000,board,12,3d,\n"); said.AdultBees != 15000 || said.AdultBeesCV != 0 {
		t.Errorf("said bees are %+v", said)
	}
}

// A colony that was put to another brings what is known of it, and two that
// were put to each other end.
func TestUnited(t *testing.T) {
	rows := "2026-08-20,elm,count,,,,,,,,wash,1,300,,\n2026-08-20,ash,count,,,,,,,,wash,14,300,,\n"
	read := func(rows string) Colony {
		rec, err := fieldlog.Read("log.csv", strings.NewReader("date,colony,event,active,application,until,mark,id,undo_of,adult_bees,method,mites,amount,weather,pair\n"+rows))
		if err != nil {
			t.Fatal(err)
		}
		c, err := Of(rec, "", "elm", base(t), on(8, 25))
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	came := func(c Colony) (out []decide.Happening) {
		for _, h := range c.Happenings {
			if h.Kind == decide.United {
				out = append(out, h)
			}
		}
		return out
	}
	if got := came(read(rows)); got != nil {
		t.Errorf("before the union: %+v", got)
	}
	joined := came(read(rows + "2026-08-22,ash,united,,,,,,,,,,,,elm\n"))
	if len(joined) != 1 || joined[0].Came == nil || len(joined[0].Came.Counts) != 1 || joined[0].Came.Counts[0].Mites != 14 {
		t.Fatalf("%+v", joined)
	}
	if got := came(read(rows + "2026-08-22,ash,united,,,,,,,,,,,,elm\n2026-08-22,elm,united,,,,,,,,,,,,ash\n")); len(got) != 1 {
		t.Errorf("put to each other: %+v", got)
	}
}

// A swarm put into the hive of a colony that died is another colony under its
// name: on its day it is the one that lives, with nothing of the first, and the
// yard has both. Naive, all rows of a name are one colony: it had died, and was
// treated and full of mites before it was hived.
func TestAnotherColonyUnderTheName(t *testing.T) {
	rows := strings.Join([]string{
		"2026-04-15,elm,inspection,,,,,,,9000,,,,",
		"2026-05-01,elm,treatment,formic acid,evaporation,,,,,,,,,",
		"2026-05-20,elm,count,,,,,,,,roll,60,300,",
		"2026-06-02,elm,died,,,,,,,,,,,",
		"2026-07-16,elm,hived,,,,,,,,,,,",
		"2026-08-01,elm,count,,,,,,,12000,roll,6,300,",
		"2026-04-15,ash,inspection,,,,,,,,,,,",
		"",
	}, "\n")
	if c := colony(t, rows, on(8, 10)); c.Began != on(7, 16) || !c.Lives(on(8, 10)) || c.Died || len(c.Counts) != 1 || len(c.Treatments) != 0 || c.BeesOn != on(8, 1) {
		t.Errorf("the second: %+v", c.Colony)
	}
	if c := colony(t, rows, on(7, 1)); c.Began != on(4, 15) || c.Lives(on(7, 1)) || !c.Died || len(c.Counts) != 1 || len(c.Treatments) != 1 || c.BeesOn != on(4, 15) {
		t.Errorf("the first: %+v", c.Colony)
	}
	rec := read(t, rows)
	for day, want := range map[sampling.Date]string{on(7, 1): "elm gone, ash", on(8, 10): "elm (2026) gone, elm, ash"} {
		all, err := Yard(rec, "", base(t), day)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, c := range all {
			name := c.Name
			if !c.Lives(day) {
				name += " gone"
			}
			got = append(got, name)
		}
		if strings.Join(got, ", ") != want {
			t.Errorf("on %s the yard is %s, want %s", day, strings.Join(got, ", "), want)
		}
	}
}
