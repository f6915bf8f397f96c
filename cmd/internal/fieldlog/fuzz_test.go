package fieldlog

import (
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"halfcup/sampling"
)

// seeds are records that once were hard to read, or look as if they would be.
func seeds(t testing.TB) []string {
	problems, err := os.ReadFile("testdata/problems.csv")
	if err != nil {
		t.Fatal(err)
	}
	header := strings.Join(firstColumns, ",") + "\n"
	return []string{
		"", "\ufeff", plain, string(problems), header,
		strings.ReplaceAll(plain, "\n", "\r\n"), strings.ReplaceAll(plain, "\n", "\r"),
		strings.ReplaceAll(plain, ",", ";"), strings.ReplaceAll(plain, ",", "\t"),
		header + "2026-05-01,mill,alder,inspection,,,,,,,,,,\"torn",
		header + "2026-05-01,mill,alder,inspection,,,,,,,,,,\"torn\n2026-05-02,mill,alder,swarmed,,,,,,,,,,\n",
		header + "2026-05-01,mill,alder,count,roll,3",
		header + "\x00\x00\x00\x00\x00\x00",
		"date,colony,event\n2026-05-01,\"\"\"\",swarmed\n\"2026-05-01\"x,a,died\n",
		"dat" + strings.Repeat("\x04", 20000) + "e,yard,colony\n2026-05-01,mill,alder\n", // shown as one line
		"note,event,colony,date\n\"a\nb\",died,alder,2026-05-01\n",
	}
}

// Whatever the file holds, reading it ends, and every problem points at a
// place that is there.
func FuzzRead(f *testing.F) {
	for _, s := range seeds(f) {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := Read("log.csv", strings.NewReader(text))
		var bad *FormatError
		if err != nil && !errors.As(err, &bad) {
			t.Fatal(err)
		}
		var problems []*Problem
		if bad != nil {
			problems = bad.Problems
		} else {
			problems = r.Check(sampling.Day(2026, 7, 1))
		}
		for i, p := range problems {
			if p.Offset < 0 || p.Length < 0 || p.Offset+p.Length > len(p.Text) || p.What == "" || p.Remedy == "" {
				t.Errorf("%+v", p)
			}
			if i < 3 {
				p.Layout("")
			}
		}
		if r == nil {
			return
		}
		// Nothing that is written is passed over in silence: every row with
		// something in it is an event or a problem.
		lines := map[int]bool{}
		for _, e := range r.Events {
			lines[e.Line] = true
		}
		for _, p := range r.Problems {
			lines[p.Line] = true
		}
		for i := r.header.Next; i < len(r.data) && r.header.Cells != nil && r.unread <= maxUnread; {
			w := r.rules.Next(r.data, i, nil)
			i = w.Next
			if w.Blank() {
				continue
			}
			first, _ := r.place(w.Start)
			last, _ := r.place(w.End)
			seen := false
			for n := first; n <= last; n++ {
				seen = seen || lines[n]
			}
			if !seen {
				t.Errorf("line %d is passed over", first)
			}
		}
	})
}

// What is appended to any record reads back the same, and what stood there
// still reads as it did.
func FuzzRoundTrip(f *testing.F) {
	for i, s := range seeds(f) {
		f.Add(s, "alder", "two\nlines, \"quoted\"", uint8(i))
	}
	f.Add("", "Ärle; 2", " \t;", uint8(200))
	f.Add("", "'=1+1", "''@x", uint8(3))
	f.Fuzz(func(t *testing.T, text, colony, note string, what uint8) {
		before, err := parse("log.csv", text)
		if err != nil {
			return
		}
		e := Event{Date: sampling.Day(2026, time.Month(1+what%12), 3), Yard: "mill", Colony: colony, Note: note, Kind: kinds[int(what)%len(kinds)]}
		switch e.Kind {
		case Count:
			fall := float64(what) / 8
			e.Pair = colony
			e.Count = &sampling.Count{Method: sampling.Knockdown, Mites: int(what), Amount: sampling.Amount{Value: 1.5, Unit: sampling.Days}, FallBefore: &fall}
			if what%2 == 0 {
				e.Count.Method, e.Count.Cells, e.Count.FallBefore = sampling.Board, sampling.Cells{Counted: 1, Of: 3}, nil
			}
		case Treatment:
			e.Treatment = sampling.TreatmentName{Active: "oxalic acid", Application: "trickle"}
			e.Until, e.Mark = e.Date+sampling.Date(what), Planned
		case Undo:
			e.UndoOf = "h" + strconv.Itoa(int(what))
		case TreatmentEnd:
			e.Treatment, e.Mark = sampling.TreatmentName{Active: "thymol", Application: "evaporation"}, Done
		case Split, United:
			e.Other = note
		case BroodBreak:
			e.Brood, e.BeeFrames = BroodAbsent, float64(what)/16
		}
		if what%3 == 0 {
			e.Stand, e.Observer, e.ID, e.By = strconv.Itoa(int(what)), colony, "p12.3", "phone"
		}
		before, err = before.fitting([]Event{e})
		if err != nil {
			return
		}
		added, after, err := compose(before, []Event{e}, true)
		if err != nil {
			return
		}
		again, err := parse("log.csv", before.data+added)
		if err != nil {
			t.Fatal(err)
		}
		n := len(before.Events)
		wantSame(t, again.Events[:n], before.Events)
		wantSame(t, again.Events[n:], after.Events[n:])
		if len(again.Events) != n+1 {
			t.Fatalf("%d events, want %d", len(again.Events), n+1)
		}
		got, want := again.Events[n].Cells(), e.Cells()
		delete(got, "note") // gets a mark when it is written again
		delete(want, "note")
		for c := range want {
			if got[c] != want[c] {
				t.Errorf("%s: got %q, want %q", c, got[c], want[c])
			}
		}
	})
}
