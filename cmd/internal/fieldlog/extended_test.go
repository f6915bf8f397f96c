package fieldlog

import (
	"fmt"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/cmd/internal/rows"
)

// seen is all that is known of a record, as far as it can be compared.
func seen(r *Record) string {
	var b strings.Builder
	for _, e := range r.Events {
		id := e.id.Colony
		e.id = nil
		count := ""
		if e.Count != nil {
			count, e.Count = e.Count.String(), nil
		}
		fmt.Fprintf(&b, "%+v %s %v\n", e, count, id)
	}
	for _, p := range r.Problems {
		fmt.Fprintf(&b, "%+v\n", *p)
	}
	fmt.Fprintln(&b, r.colonies, r.byColony, r.byName, r.parts, r.came, r.lines, r.settled, r.last, r.unread, r.format, r.owned)
	return b.String()
}

// A record that was read on from where it was is the record read from its
// start, and the shorter one stays as it was. Naive: what a later row changes
// of an earlier one (it takes it back, confirms it, says the same, shares its
// id, closes its quote) is not seen, or is seen in the shorter record too.
func TestExtendedIsRead(t *testing.T) {
	const head = "date,yard,colony,event,mites,method,amount,note,pair,active,application,brood,mark,id,undo_of,until\n"
	lines := []string{
		"2026-07-01,mill,alder,count,3,wash,300,,,,,,,h1,,\n", "2026-07-01,mill,alder,count,3,wash,300,,,,,,,h2,,\n",
		"2026-07-01,mill,Alder ,inspection,,,,calm,,,,,,,,\n", "2026-07-01,mill,alder,inspection,,,,calm,,,,,,,,\n",
		"2026-07-03,mill,birch,treatment,,,,,,oxalic acid,vapour,,planned,h3,,\n", "2026-07-03,mill,birch,treatment,,,,,,oxalic acid,vapour,,,h3,,\n",
		"2026-07-03,mill,birch,treatment,,,,,,oxalic acid,vapour,,done,,,\n", "2026-07-03,mill,birch,undo,,,,,,,,,,h4,h1,\n",
		"2026-07-03,mill,birch,undo,,,,,,,,,,h1,h4,\n", "2026-06-20,,elm,split,,,,,alder,,,,,,,\n", "2026-06-20,mill,elm,split,,,,,alder,,,,mine,,,today\n",
		"2026-07-05,mill,ash,inspection,,,,\"a \"\"note\"\"\nof two lines\",,,,,,,,\r\n", "2026-07-05,mill,ash,inspection,,,,\"wet,,,,,,,,\n", "rain\",,,,,,,,\r",
		"2026-07-05,mill,ash,inspection,,,,,,,,,,,,", "2026-07-05,mill,ash,count,1,wash,\"0,5cup\",,,,,,,,,\n", "6/8/2026,mill,ash,inspection,,,,,,,,,my own,,,\n", "torn,mill\n", "2026-06-21,mill,elm,united,,,,,alder,,,,,,,\n", ",,\n", "\n", "\r\n",
	}
	rapid.Check(t, func(r *rapid.T) {
		var text strings.Builder
		text.WriteString(head)
		for range rapid.IntRange(0, 12).Draw(r, "rows") {
			text.WriteString(rapid.SampledFrom(lines).Draw(r, "row"))
		}
		all := text.String()
		cuts := []int{len(head), rapid.IntRange(len(head), len(all)).Draw(r, "cut"), rapid.IntRange(len(head), len(all)).Draw(r, "cut"), len(all)}
		for i, c := range cuts[:3] { // most cuts are at the end of a line
			if i > 0 && rapid.IntRange(0, 4).Draw(r, "aligned") > 0 && c < len(all) {
				end := rows.EndOfLine(all, c)
				cuts[i] = end + rows.LineEnd(all, end)
			}
		}
		cuts[1], cuts[2] = min(cuts[1], cuts[2]), max(cuts[1], cuts[2])
		record := func(n int) *Record {
			p, err := parse("x.csv", all[:n], YearFirst)
			if err != nil {
				r.Fatal(err)
			}
			return p
		}
		chain := []*Record{record(cuts[0])}
		for i, c := range cuts[1:] {
			x, err := chain[i].extended(all[cuts[i]:c])
			if err != nil {
				r.Fatal(err)
			}
			chain = append(chain, x)
		}
		aside, err := chain[1].extended(lines[0])
		if err != nil {
			r.Fatal(err)
		}
		for i, x := range chain {
			if got, want := seen(x), seen(record(cuts[i])); got != want {
				r.Fatalf("%q in steps to %v: step %d\n got %s\nwant %s", all, cuts, i, got, want)
			}
		}
		whole, err := parse("x.csv", all[:cuts[1]]+lines[0], YearFirst)
		if err != nil {
			r.Fatal(err)
		}
		if got, want := seen(aside), seen(whole); got != want {
			r.Fatalf("%q and another row\n got %s\nwant %s", all[:cuts[1]], got, want)
		}
	})
}

// Rows that nothing before them hangs on are read behind those that are there:
// nothing of a long record is copied.
func TestExtendedCopiesNothing(t *testing.T) {
	before, err := parse("x.csv", big(1000))
	if err != nil {
		t.Fatal(err)
	}
	after, err := before.extended("2026-07-01,mill,Hive 5,count,wash,5,300,,,,,,,\n")
	if err != nil || len(after.Events) != 1001 || !after.holds(before) || reflect.DeepEqual(after.byColony, before.byColony) {
		t.Errorf("%v: %d events", err, len(after.Events))
	}
}

// Many parts of one colony, and many yards with a colony of one name, take
// memory that grows with their number. Naive: each list is made anew for every
// row, so that its square is.
func TestManyOfOne(t *testing.T) {
	taken := func(rows int) uint64 {
		var b strings.Builder
		b.WriteString("date,yard,colony,event,pair\n")
		for i := range rows / 2 {
			fmt.Fprintf(&b, "2026-06-01,mill,part %d,split,alder\n2026-06-01,yard %d,alder,inspection,\n", i, i)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		r, err := parse("x.csv", b.String())
		if err != nil || len(r.Events) != rows {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	if tenth, whole := taken(3000), taken(30_000); whole > 15*tenth {
		t.Errorf("30 000 rows take %d MB, a tenth of them %d", whole>>20, tenth>>20)
	}
}
