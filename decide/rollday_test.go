package decide

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"halfcup/internal/table"
	"halfcup/sampling"
)

// rolledYard is an apiary of colonies with these counts, a line of words each,
// made today where they have no date.
func rolledYard(t testing.TB, records ...string) Apiary {
	t.Helper()
	var colonies []Colony
	for _, record := range records {
		counts := strings.Fields(record)
		for i, text := range counts {
			if !strings.Contains(text, "@") {
				counts[i] += "@" + today.String()
			}
		}
		colonies = append(colonies, colonyOf(t, counts...))
	}
	return apiaryOf(t, colonies...)
}

func (a Apiary) mustOn(t testing.TB, day sampling.Date) []Standing {
	t.Helper()
	out, err := a.On(day)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// The yard of the scipy reference in which rolls share a recovery and every
// colony begins from one bell, through Apiary.On: what is known of a colony
// beside its neighbours is what the nested sums say. There five values are all
// that the recovery can have, of a colony by itself as well; here it has a law
// with tails, so that what that makes of the colony alone is taken off.
func TestApiaryRollsAgainstSums(t *testing.T) {
	var colonies []Colony
	var want []table.Row
	for _, row := range TestdataTable(t, "reference", "pool-colonies.csv") {
		if row["yard"] != "roll-three" {
			continue
		}
		c := Colony{}
		var weight float64
		if _, err := fmt.Sscanf(row["before"], "%g:%g:%g", &weight, &c.Prior.MedianPerHundred, &c.Prior.LogSD); err != nil || weight != 1 {
			t.Fatal(row["before"], err)
		}
		c.Counts = []sampling.Count{{
			Method: sampling.Method(row["how"]), Mites: int(row.Number("mites")), Date: today, Frames: 1,
			Amount: sampling.Amount{Value: row.Number("bees"), Unit: sampling.Bees},
		}}
		colonies, want = append(colonies, c), append(want, row)
	}
	a := apiaryOf(t, colonies...)
	v, err := a.visit(today)
	if err != nil {
		t.Fatal(err)
	}
	members, err := a.members(v.now, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(want) != 3 || len(members[0].Known) != 5 || len(members[1].Known) != 1 {
		t.Fatalf("%d colonies", len(want))
	}
	for i, s := range a.mustOn(t, today) {
		five := members[i].Known[0]
		if len(members[i].Known) > 1 {
			if five, err = sampling.Blend(members[i].Known, members[i].Chances); err != nil {
				t.Fatal(err)
			}
		}
		for name, q := range map[string]float64{"low": 0.025, "median": 0.5, "high": 0.975} {
			got := s.Known.Quantile(q) / s.Alone.Quantile(q) * five.Quantile(q)
			if !(math.Abs(math.Log(got/want[i].Number(name))) < 0.01) {
				t.Errorf("%d: %s %.5f, by sums %.5f", i+1, name, got, want[i].Number(name))
			}
		}
		if got := s.Known.Over(0.02); !(math.Abs(got-want[i].Number("over_2")) < 0.01) {
			t.Errorf("%d: over two %.4f, by sums %.4f", i+1, got, want[i].Number("over_2"))
		}
	}
	for k, chance := range v.now.yard.Recovery() {
		var sums []float64
		for _, row := range TestdataTable(t, "reference", "pool.csv") {
			if row["yard"] == "roll-three" {
				for _, f := range strings.Fields(row["recovery"]) {
					x, err := strconv.ParseFloat(f, 64)
					if err != nil {
						t.Fatal(err)
					}
					sums = append(sums, x)
				}
			}
		}
		if !(math.Abs(chance-sums[k]) < 1e-3) {
			t.Errorf("recovery %d: %.4f, by sums %.4f", k, chance, sums[k])
		}
	}
}

// Naive: every colony reads its roll with a recovery of its own. Where washes
// stand beside rolls that found half as many mites, the rolls were poor that
// day and the rolled colonies have more than that says; where the washes are
// lower, fewer. And the number of colonies over the line is less sure.
func TestRollDayIsSharedByTheYard(t *testing.T) {
	naive := func(a Apiary) *Pool {
		var members []Member
		for i := range a.Colonies {
			alone := a
			alone.Colonies = a.Colonies[i : i+1]
			v, err := alone.visit(today)
			if err != nil {
				t.Fatal(err)
			}
			s := v.now.alone[0]
			members = append(members, Member{Carried: s.Carried, Known: []sampling.Density{s.Known}})
		}
		p, err := NewPool(members, nil, DefaultYardPrior())
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	rolls := slices.Repeat([]string{"roll:6/300"}, 8)
	poor := rolledYard(t, append(slices.Clone(rolls), slices.Repeat([]string{"wash:14/300"}, 6)...)...)
	good := rolledYard(t, append(slices.Clone(rolls), slices.Repeat([]string{"wash:4/300"}, 6)...)...)
	for _, c := range []struct {
		what  string
		a     Apiary
		least float64 // of the level by the yard over that of the naive reading
		most  float64
	}{{"washes show more", poor, 1.05, 2}, {"washes show less", good, 0.5, 0.99}} {
		ratio := c.a.mustOn(t, today)[0].Known.Quantile(0.5) / naive(c.a).Colonies()[0].Quantile(0.5)
		if !(ratio > c.least && ratio < c.most) {
			t.Errorf("%s: the level is %.3f of the naive one", c.what, ratio)
		}
	}
	y, err := rolledYard(t, rolls...).Yard(today)
	if err != nil {
		t.Fatal(err)
	}
	lines := slices.Repeat([]float64{y.Standings[0].Line.Act / 100}, 8)
	apart, err := naive(rolledYard(t, rolls...)).Over(lines)
	if err != nil {
		t.Fatal(err)
	}
	spread := func(law []float64) float64 {
		var m, q float64
		for k, p := range law {
			m, q = m+p*float64(k), q+p*float64(k*k)
		}
		return math.Sqrt(q - m*m)
	}
	if a, b := spread(y.Over), spread(apart); !(a > 1.03*b) {
		t.Errorf("SD of the number over: %.3f, naive %.3f", a, b)
	}
}

// What the record of one colony says by itself is what its readings at the five
// recoveries say together, whether the rolls were its last count or not, and
// however many days went by.
func TestRollsAtTheirRecoveriesAreTheRoll(t *testing.T) {
	for _, record := range []string{
		"roll:6/300", "roll:0/300", "roll:25/300/damp",
		"roll:6/300 wash:9/300",
		"wash:2/300@2026-05-20 roll:6/300@2026-06-12 wash:7/300@2026-06-20",
		"roll:2/300@2026-05-20 roll:6/300@2026-06-12",
	} {
		a := rolledYard(t, record, strings.Replace(record, "6/", "3/", 1))
		v, err := a.visit(today)
		if err != nil {
			t.Fatal(err)
		}
		members, err := a.members(v.now, nil)
		if err != nil {
			t.Fatal(err)
		}
		m, alone := members[0], v.now.alone[0].Known
		if len(m.Known) != len(rollRecoveries) {
			t.Fatalf("%s: %d readings", record, len(m.Known))
		}
		together, err := sampling.Blend(m.Known, m.Chances)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range []float64{0.05, 0.5, 0.95} {
			if got, want := together.Quantile(q), alone.Quantile(q); !(math.Abs(math.Log(got/want)) < 0.03) {
				t.Errorf("%s: at %v %.5f, by itself %.5f", record, q, got, want)
			}
		}
		if low, high := m.Known[0].Quantile(0.5), m.Known[4].Quantile(0.5); !(low > 1.1*high) {
			t.Errorf("%s: a poor recovery makes %.5f of it and a good one %.5f", record, low, high)
		}
	}
}

// Rolls of one colony, of different days, or read as finding all mites share
// nothing with the yard.
func TestWhatNeedNotShareARollDay(t *testing.T) {
	sure := rolledYard(t, "roll:6/300", "roll:3/300")
	for i := range sure.Colonies {
		a := sure.Colonies[i].Assumptions.Clone()
		delete(a.Recovery, sampling.Roll)
		sure.Colonies[i].Assumptions = a
	}
	for name, a := range map[string]Apiary{
		"one rolled":    rolledYard(t, "roll:6/300", "wash:3/300"),
		"two days":      rolledYard(t, "roll:6/300", "roll:3/300@2026-06-30"),
		"a sure method": sure,
	} {
		v, err := a.visit(today)
		if err != nil {
			t.Fatal(err)
		}
		if d := a.rollDay(v.now); !d.IsZero() {
			t.Errorf("%s: the rolls of %s share", name, d)
		}
	}
	later := rolledYard(t, "roll:6/300@2026-06-01 roll:4/300@2026-06-20", "roll:3/300@2026-06-01", "wash:3/300")
	v, err := later.visit(today)
	if err != nil {
		t.Fatal(err)
	}
	if d := later.rollDay(v.now); d != mustDate("2026-06-01") {
		t.Errorf("the day two colonies were rolled is %s", d)
	}
}
