package fieldlog

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// seasonRows draws rows of a yard in which all goes wrong that can.
func seasonRows(t *rapid.T) []string {
	kinds := []string{
		"count,wash,3,300,,", "count,roll,2,300,,p1", "count,wash,4,300,,p1", "count,board,9,3d,,p2", "count,knockdown,50,2d,,",
		"inspection,,,,,", "died,,,,,", "supers-on,,,,,", "supers-off,,,,,", "hived,,,,,", "board-in,,,,,",
		"brood-break,,,,no,", "brood-break,,,,yes,", "split,,,,,OTHER", "united,,,,,OTHER",
	}
	var out []string
	for range rapid.IntRange(1, 14).Draw(t, "rows") {
		own := rapid.IntRange(0, 3).Draw(t, "colony")
		other := fmt.Sprintf("c%d", (own+rapid.IntRange(1, 4).Draw(t, "other"))%5) // c4 is a stranger
		day := sampling.Day(2026, 6, 1) + sampling.Date(rapid.IntRange(0, 80).Draw(t, "day"))
		kind := strings.ReplaceAll(rapid.SampledFrom(kinds).Draw(t, "kind"), "OTHER", other)
		out = append(out, fmt.Sprintf("%s,mill,c%d,%s", day, own, kind))
	}
	return out
}

// What is said of the rows that were added is what a check of the whole record
// says of them.
func TestCheckRowsIsAPartOfCheck(t *testing.T) {
	told := 0
	rapid.Check(t, func(t *rapid.T) {
		text := "date,yard,colony,event,method,mites,amount,brood,pair\n" + strings.Join(seasonRows(t), "\n") + "\n"
		r, err := Read("log.csv", strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Events) == 0 {
			return
		}
		added := r.Events[rapid.IntRange(0, len(r.Events)-1).Draw(t, "from"):]
		today := sampling.Day(2026, 7, 20)
		var want, got []string
		for _, p := range r.Check(today) {
			if slices.ContainsFunc(added, func(e Event) bool { return e.Line == p.Line }) {
				want = append(want, p.Error())
			}
		}
		for _, p := range r.CheckRows(today, added) {
			got = append(got, p.Error())
		}
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Fatalf("of rows from line %d on of\n%s\nit says %q, a check of all %q", added[0].Line, text, got, want)
		}
		told += len(want)
	})
	if told == 0 {
		t.Error("nothing was ever wrong: this compares nothing")
	}
}

// A record that was read before is not read again, and what another program
// wrote meanwhile is.
func TestAppendToAKnownRecord(t *testing.T) {
	for _, between := range []string{
		"",
		"2026-06-03,mill,ash,count,roll,5,0.5cup,3,,,,,,\n",
		"2026-06-03,mill,ash,count,roll,5,0.5cup,3,,,,,,\"two\nlines\"\n",
	} {
		path := file(t, strings.Join(firstColumns, ",")+"\n2026-06-01,mill,alder,count,roll,1,0.5cup,3,,,,,,\n")
		known, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		want := content(t, path) + between
		if between != "" {
			if _, err := Append(path, []Event{rolled("ash", 3, 5)}, Options{}); err != nil {
				t.Fatal(err)
			}
			if strings.Contains(between, "two") { // by hand, and longer
				path = file(t, want)
				known.Path = path
			}
		}
		a, err := Append(path, []Event{rolled("birch", 4, 2)}, Options{Known: known})
		if err != nil {
			t.Fatal(err)
		}
		want += "2026-06-04,mill,birch,count,roll,2,0.5cup,3,,,,,,\n"
		if got := content(t, path); got != want {
			t.Errorf("the record is\n%s\nwant\n%s", got, want)
		}
		fresh, err := Open(path)
		if err != nil || len(fresh.Events) != len(a.Record.Events) {
			t.Fatalf("%d events, and %d when read again: %v", len(a.Record.Events), len(fresh.Events), err)
		}
		for i := range fresh.Events {
			if !identical(fresh.Events[i], a.Record.Events[i]) {
				t.Errorf("event %d is %+v, and %+v when read again", i, a.Record.Events[i], fresh.Events[i])
			}
		}
	}
	// What was changed by hand is read anew: a known record of other rows
	// would take this for written already.
	path := file(t, strings.Join(firstColumns, ",")+"\n2026-06-01,mill,alder,count,roll,1,0.5cup,3,,,,,,\n")
	known, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	other := strings.Replace(content(t, path), "roll,1,", "roll,7,", 1)
	changed := file(t, other)
	known.Path = changed
	if _, err := Append(changed, []Event{rolled("alder", 1, 1)}, Options{Known: known}); err != nil {
		t.Errorf("the row that was changed by hand still counts: %v", err)
	}
}
