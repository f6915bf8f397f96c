package fieldlog

import (
	"os"
	"slices"
	"strings"
	"testing"

	"halfcup/sampling"
)

// A hand-made record of a few columns is given those that it lacks, whatever
// separates its cells; what stood there still does.
func TestAppendAddsColumns(t *testing.T) {
	strips := Event{Date: sampling.Day(2026, 8, 1), Colony: "alder", Kind: Treatment, Treatment: sampling.TreatmentName{Active: "amitraz", Application: "strip"}, Until: sampling.Day(2026, 9, 20)}
	for name, tc := range map[string]struct{ before, after string }{
		"commas": {
			"date,colony,event,queen\n2026-05-01,alder,swarmed,\"blue, 2025\"\n\n",
			"date,colony,event,queen,active,application,until\n2026-05-01,alder,swarmed,\"blue, 2025\",,,\n\n2026-08-01,alder,treatment,,amitraz,strip,2026-09-20\n",
		},
		"a mark, semicolons, CRLF, no line end": {
			"\ufeffdate;colony;event\r\n2026-05-01;alder;swarmed",
			"\ufeffdate;colony;event;active;application;until\r\n2026-05-01;alder;swarmed;;;\r\n2026-08-01;alder;treatment;amitraz;strip;2026-09-20\r\n",
		},
		"the head alone": {
			"date,colony,event,active,application",
			"date,colony,event,active,application,until\n2026-08-01,alder,treatment,amitraz,strip,2026-09-20\n",
		},
	} {
		t.Run(name, func(t *testing.T) {
			path := file(t, tc.before)
			if err := os.Chmod(path, 0o600); err != nil {
				t.Fatal(err)
			}
			a, err := Append(path, []Event{strips}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			wantSame(t, a.Events, []Event{strips})
			if got := content(t, path); got != tc.after {
				t.Errorf("got  %q\nwant %q", got, tc.after)
			}
			if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
				t.Error("its rights have changed", err)
			}
			if _, err := Append(path, []Event{rolled("birch", 1, 6)}, Options{}); err != nil {
				t.Error("a second row:", err)
			}
		})
	}
}

// Where a row could come to mean something else by new columns, none is added.
func TestAppendAddsNoColumnsToDoubt(t *testing.T) {
	for _, before := range []string{
		"date,colony,event\n2026-05-01,alder,swarmed,planned\n",
		"date,colony,event\n2026-05-01,alder\n",
		"date,colony,event,note\n2026-05-01,alder,swarmed,\"torn\n",
	} {
		path := file(t, before)
		_, err := Append(path, []Event{rolled("alder", 1, 6)}, Options{})
		if err == nil || !strings.Contains(err.Error(), "there is no column") {
			t.Errorf("%q: %v", before, err)
		}
		if got := content(t, path); got != before {
			t.Errorf("the record has changed: %q", got)
		}
	}
}

// goneLines are the lines that were taken back.
func goneLines(r *Record) []int {
	var out []int
	for _, e := range r.Events {
		if e.Gone != 0 {
			out = append(out, e.Line)
		}
	}
	return out
}

// What is taken back stays in the file and counts no more; to take back the
// taking back brings it back.
func TestUndo(t *testing.T) {
	path := file(t, "")
	write := func(events ...Event) []Event {
		t.Helper()
		a, err := Append(path, events, Options{Device: "h"})
		if err != nil {
			t.Fatal(err)
		}
		return a.Events
	}
	write(rolled("alder", 1, 6), rolled("birch", 1, 2))
	write(rolled("alder", 9, 12), rolled("birch", 9, 3))
	undo := func() []Event {
		t.Helper()
		r, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		var back []Event
		for _, e := range r.LastAddition() {
			back = append(back, Event{Date: e.Date, Yard: e.Yard, Colony: e.Colony, Kind: Undo, UndoOf: r.Key(e)})
		}
		return write(back...)
	}
	undo()
	r, _ := Open(path)
	if got := goneLines(r); !slices.Equal(got, []int{4, 5}) {
		t.Fatalf("gone are %v", got)
	}
	if n := len(r.Once()); n != 2 {
		t.Errorf("%d events count", n)
	}
	if got := r.Events[0].ID + " " + r.Events[3].ID + " " + r.Events[4].UndoOf; got != "h1.1 h2.2 h2.1" {
		t.Errorf("ids are %s", got)
	}
	write(rolled("alder", 9, 12)) // the same again is no double of what is gone
	undo()
	undo() // of the undo
	r, _ = Open(path)
	if got := goneLines(r); !slices.Equal(got, []int{4, 5, 9}) {
		t.Errorf("after taking back the taking back, gone are %v", got)
	}
	if ps := r.Check(sampling.Day(2026, 9, 21)); len(ps) > 0 {
		t.Error(problemsOf(ps))
	}
}

// A record without ids takes rows back by what they say, the one that stands
// above and not one that is written later.
func TestUndoWithoutIDs(t *testing.T) {
	r := read(t, plain)
	e := r.Events[0]
	key := r.Key(e)
	head, rest, _ := strings.Cut(plain, "\n")
	first, _, _ := strings.Cut(rest, "\n")
	text := head + ",undo_of\n"
	for _, row := range strings.Split(strings.TrimSuffix(rest, "\n"), "\n") {
		text += row + ",\n"
	}
	n := strings.Count(text, "\n")
	text += e.Date.String() + ",," + "03,undo" + strings.Repeat(",", 10) + "," + key + "\n" + first + ",\n"
	r = read(t, text)
	if got := goneLines(r); len(got) != 1 || got[0] != e.Line {
		t.Errorf("gone are %v of %d\n%s", got, n, problemsOf(r.Problems))
	}
}

// A colony that only stands in rows that were taken back is not there.
func TestUndoneColony(t *testing.T) {
	r := read(t, "date,colony,event,id,undo_of\n2026-05-01,alder,inspection,h1,\n2026-05-01,adler,inspection,h2,\n2026-05-01,adler,undo,h3,h2\n2026-05-02,alder,undo,h4,h99\n")
	if cs := r.Colonies(); len(cs) != 1 {
		t.Errorf("colonies are %v", cs)
	}
	if _, err := r.History("", "adler"); err == nil {
		t.Error("it has a history")
	}
	ps := r.Check(sampling.Day(2026, 9, 21))
	if len(ps) != 1 || !strings.Contains(ps[0].What, `takes back "h99"`) {
		t.Error(problemsOf(ps))
	}
}

// What was done takes the place of what was planned, on its day by itself and
// on another by its id.
func TestConfirmed(t *testing.T) {
	r := read(t, strings.Join([]string{
		"date,colony,event,active,application,mark,id,undo_of",
		"2026-12-19,alder,treatment,oxalic acid,trickle,planned,h1,",
		"2026-12-19,birch,treatment,oxalic acid,trickle,planned,h2,",
		"2026-12-19,elm,treatment,oxalic acid,trickle,planned,h3,",
		"2026-12-19,alder,treatment,oxalic acid,trickle,done,h4,",
		"2026-12-21,birch,treatment,oxalic acid,trickle,done,h5,h2",
		"",
	}, "\n"))
	if got := goneLines(r); !slices.Equal(got, []int{2, 3}) {
		t.Errorf("gone are %v", got)
	}
	ps := r.Check(sampling.Day(2026, 12, 24))
	if len(ps) != 1 || !strings.Contains(ps[0].What, "planned and nobody wrote that it was done") || ps[0].Line != 4 {
		t.Error(problemsOf(ps))
	}
	if ps := r.Check(sampling.Day(2026, 12, 19)); len(ps) != 1 || !strings.Contains(ps[0].What, "marked done and lies") {
		t.Error(problemsOf(ps)) // that of the 21st
	}
}

// A queen caged and released is a brood break by two other names.
func TestQueenCaged(t *testing.T) {
	for text, want := range map[string]string{
		"2026-07-01,alder,queen-caged,\n2026-07-22,alder,queen-released,\n":   "",
		"2026-07-01,alder,brood-break,no\n2026-07-22,alder,queen-released,\n": "",
		"2026-07-22,alder,queen-released,\n":                                  "ends and never began",
		"2026-07-01,alder,queen-caged,\n2026-07-22,alder,queen-caged,\n":      "has not ended",
	} {
		r := read(t, "date,colony,event,brood\n"+text)
		got := problemsOf(r.Check(sampling.Day(2026, 9, 1)))
		if (want == "") != (got == "") || !strings.Contains(got, want) {
			t.Errorf("%q: %s", text, got)
		}
	}
}
