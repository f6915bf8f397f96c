package fieldlog

import (
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/gofrs/flock"

	"halfcup/sampling"
)

// rolled is a count to append.
func rolled(colony string, day, mites int) Event {
	return Event{
		Date: sampling.Day(2026, 6, day), Yard: "mill", Colony: colony, Kind: Count,
		Count: &sampling.Count{Method: sampling.Roll, Mites: mites, Amount: sampling.Amount{Value: 0.5, Unit: sampling.Cups}, Frames: 3},
	}
}

func file(t *testing.T, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "halfcup.csv")
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func content(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func mustAppend(t *testing.T, path string, events ...Event) Appended {
	t.Helper()
	a, err := Append(path, events, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestAppendCreates(t *testing.T) {
	path := filepath.Join(t.TempDir(), "halfcup.csv")
	a := mustAppend(t, path, rolled("alder", 1, 6))
	const want = "date,yard,colony,event,method,mites,amount,frames,adult_bees,brood,active,application,pair,note\n" +
		"2026-06-01,mill,alder,count,roll,6,0.5cup,3,,,,,,\n"
	if got := content(t, path); got != want || !a.Created || a.Torn != nil || a.Events[0].Line != 2 {
		t.Errorf("%+v\n%s", a, got)
	}
	if a := mustAppend(t, path, rolled("alder", 2, 6)); a.Created || a.Events[0].Line != 3 || len(a.Record.Events) != 2 {
		t.Errorf("%+v", a)
	}
}

// What is appended is written in the manner of the file, and what stood there
// is untouched.
func TestAppendManners(t *testing.T) {
	e := rolled("alder", 1, 6)
	e.BeeFrames, e.Brood, e.Note = 8.5, BroodPresent, `says "toot"; then, rain`
	for name, tc := range map[string]struct{ before, added string }{
		"semicolons mean decimal commas": {
			"date;colony;yard;event;method;mites;amount;frames;adult_bees;brood;note\n",
			`2026-06-01;alder;mill;count;roll;6;0,5cup;3;8,5f;yes;"says ""toot""; then, rain"` + "\n",
		},
		"semicolons with points": {
			"date;colony;yard;event;method;mites;amount;frames;adult_bees;brood;note\n2026-05-01;alder;mill;count;roll;6;0.5cup;;;;\n",
			`2026-06-01;alder;mill;count;roll;6;0.5cup;3;8.5f;yes;"says ""toot""; then, rain"` + "\n",
		},
		"tabs, CRLF, own column, other case": {
			"\ufeffDate\tWeather\tColony\tYard\tEvent\tMethod\tMites\tAmount\tFrames\tAdult bees\tBrood\tNote\r\n2026-05-01\twet\talder\tmill\tswarmed\t\t\t\t\t\t\t\r\n",
			"2026-06-01\t\talder\tmill\tcount\troll\t6\t0.5cup\t3\t8.5f\tyes\t\"says \"\"toot\"\"; then, rain\"\r\n",
		},
		"header without line end": {
			"date,colony,yard,event,method,mites,amount,frames,adult_bees,brood,note",
			"\n" + `2026-06-01,alder,mill,count,roll,6,0.5cup,3,8.5f,yes,"says ""toot""; then, rain"` + "\n",
		},
		"row without line end": {
			"date,colony,yard,event,method,mites,amount,frames,adult_bees,brood,note\r\n2026-05-01,alder,mill,swarmed,,,,,,,",
			"\r\n" + `2026-06-01,alder,mill,count,roll,6,0.5cup,3,8.5f,yes,"says ""toot""; then, rain"` + "\r\n",
		},
		"quoted formulas": {
			"date,colony,yard,event,method,mites,amount,frames,adult_bees,brood,note\n2026-05-01,'=1+1,'mill,swarmed,,,,,,,'=x\n",
			`2026-06-01,alder,mill,count,roll,6,0.5cup,3,8.5f,yes,"says ""toot""; then, rain"` + "\n",
		},
		"blanks only": {
			"  ",
			"\n" + strings.Join(firstColumns, ",") + "\n" + `2026-06-01,mill,alder,count,roll,6,0.5cup,3,8.5f,yes,,,,"says ""toot""; then, rain"` + "\n",
		},
	} {
		t.Run(name, func(t *testing.T) {
			path := file(t, tc.before)
			mustAppend(t, path, e)
			if got := content(t, path); got != tc.before+tc.added {
				t.Errorf("got  %q\nwant %q", got, tc.before+tc.added)
			}
		})
	}
}

// A cell that a spreadsheet would run is written as text, and read as what it
// was; one that stands in the file as it is is read as well.
func TestFormulasAreText(t *testing.T) {
	path := file(t, "date,yard,colony,event,note\n2026-05-01,mill,=1+1,inspection,@raw\n")
	e := Event{Date: sampling.Day(2026, 6, 1), Yard: "mill", Colony: "=1+1", Kind: Inspection, Note: "'=2+2"}
	a := mustAppend(t, path, e)
	if got, want := content(t, path), "2026-06-01,mill,'=1+1,inspection,''=2+2\n"; !strings.HasSuffix(got, "@raw\n"+want) {
		t.Errorf("%q", got)
	}
	wantSame(t, a.Events, []Event{e})
	if n := len(a.Record.Colonies()); n != 1 || a.Record.Events[0].Note != "@raw" {
		t.Errorf("%d colonies, note %q", n, a.Record.Events[0].Note)
	}
}

// However a last row is torn, at every byte it can be: the next rows start on
// a fresh line and are read, the rows before are read, and the torn one is
// shown unless the tear left it whole.
func TestAppendAfterTear(t *testing.T) {
	head := strings.Join(firstColumns, ",") + "\r\n2026-05-01,mill,alder,inspection,,,,,,,,,,\"two\r\nlines\"\r\n"
	torn := "2026-05-09,\"mill, upper\",Ärle,count,wash,12,41g 17.6g/100,,,,,,,\"says \"\"toot\"\"\r\nand, then,\r\nrain\"\r\n"
	after := rolled("birch", 2, 0)
	after.Note = "a \"quoted\"\nnote"
	for cut := 0; cut <= len(torn); cut++ {
		path := file(t, head+torn[:cut])
		before, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		a := mustAppend(t, path, rolled("birch", 1, 3), after)
		got, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		want := append(before.Events, rolled("birch", 1, 3), after)
		wantSame(t, got.Events, want)
		if !strings.HasPrefix(content(t, path), head+torn[:cut]) {
			t.Fatalf("cut at %d: what stood there has changed", cut)
		}
		whole := len(before.Events) == 2
		shown := false
		for _, p := range got.Problems {
			shown = shown || p.Line >= 4
		}
		if blank := strings.Trim(torn[:cut], " \r\n") == ""; !blank && whole == shown {
			t.Errorf("cut at %d: whole %v, shown %v:\n%s", cut, whole, shown, problemsOf(got.Problems))
		}
		if whole && len(before.Problems) == 0 && a.Torn != nil || !whole && cut > 0 && a.Torn == nil {
			t.Errorf("cut at %d: torn %v", cut, a.Torn)
		}
		if t.Failed() {
			t.Fatalf("cut at %d:\n%s", cut, content(t, path))
		}
	}

	// The plain way, to write at the end of whatever is there and to read with
	// encoding/csv, glues the new row to the torn one.
	glued := head + torn[:40] + "2026-06-01,mill,birch,count,roll,3,0.5cup,3,,,,,,\r\n"
	in := csv.NewReader(strings.NewReader(glued))
	in.FieldsPerRecord = -1
	rows, _ := in.ReadAll()
	for _, r := range rows {
		if len(r) == len(firstColumns) && r[2] == "birch" {
			t.Error("a plain append after a tear reads well: the test shows nothing")
		}
	}
}

func TestAppendRefuses(t *testing.T) {
	count := func(change func(*Event)) Event {
		e := rolled("alder", 1, 6)
		change(&e)
		return e
	}
	full := strings.Join(firstColumns, ",") + "\n2026-06-01,mill,alder,count,roll,6,0.5cup,3,,,,,,\n"
	for name, tc := range map[string]struct {
		before string
		event  Event
		want   string
	}{
		"duplicate":      {full, rolled("Alder", 1, 6), "line 2 says the same of alder on 2026-06-01"},
		"same, new note": {full, count(func(e *Event) { e.Note = "new" }), "line 2 says the same"},
		"no column": {"date,yard,colony,event,method,mites,amount,frames\n2026-05-01,mill,fir\n", Event{Date: sampling.Day(2026, 6, 1), Colony: "alder", Kind: Inspection, Brood: BroodPresent},
			`there is no column brood to write "yes" into`},
		"no record":    {"when,who\n", rolled("alder", 1, 6), "the first row does not name the columns"},
		"no such kind": {full, count(func(e *Event) { e.Kind = "counted" }), `"counted" is not an event`},
		"no colony":    {full, count(func(e *Event) { e.Colony = " " }), "the colony is missing"},
		"impossible": {full, count(func(e *Event) {
			e.Count = &sampling.Count{Method: sampling.Wash, Mites: 9000, Amount: sampling.Amount{Value: 300}}
		}), "more than 20 on every bee"},
		"bell":            {full, count(func(e *Event) { e.Note = "\a"; e.Date++ }), "unprintable character U+0007"},
		"not UTF-8":       {full, count(func(e *Event) { e.Colony = "\xc4rle" }), "not written in UTF-8"},
		"note like a row": {full, count(func(e *Event) { e.Date++; e.Note = "copied\n2026-06-01,mill,alder,swarmed,,,,,,,,,,\nthat was it" }), "the row is torn: this quote is never closed"},
		"split, no other": {full, Event{Date: sampling.Day(2026, 6, 1), Colony: "alder", Kind: Split}, "the parent colony is missing"},
		"nothing":         {"", Event{Colony: "alder"}, "the date is missing"},
	} {
		t.Run(name, func(t *testing.T) {
			path := file(t, tc.before)
			_, err := Append(path, []Event{rolled("elm", 9, 1), tc.event}, Options{})
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("got %v, want %s", err, tc.want)
			}
			if got := content(t, path); got != tc.before {
				t.Errorf("the record has changed:\n%s", got)
			}
		})
	}

	missing := filepath.Join(t.TempDir(), "halfcup.csv")
	if _, err := Append(missing, []Event{{}}, Options{}); err == nil {
		t.Error("an empty event is written")
	}
	if _, err := os.Stat(missing); err == nil {
		t.Error("a refused row leaves an empty file behind")
	}
}

func TestAppendAgain(t *testing.T) {
	path := file(t, "")
	e := rolled("alder", 1, 6)
	e.Note = "left side"
	mustAppend(t, path, e)
	for range 2 {
		if _, err := Append(path, []Event{e}, Options{Again: true}); err != nil {
			t.Fatal(err)
		}
	}
	other := e
	other.Note = "right side"
	if _, err := Append(path, []Event{other}, Options{Again: true}); err != nil {
		t.Fatal(err)
	}
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	var notes []string
	for _, e := range r.Events {
		notes = append(notes, e.Note)
	}
	if got := strings.Join(notes, "|"); got != "left side|left side (again)|left side (again 2)|right side" {
		t.Error(got)
	}
	if ps := r.Check(sampling.Day(2026, 7, 1)); len(ps) != 0 {
		t.Error(problemsOf(ps))
	}
	var dup *DuplicateError
	if _, err := Append(path, []Event{rolled("elm", 1, 1), rolled("elm", 1, 1)}, Options{}); !errors.As(err, &dup) || dup.Event.Line != 0 {
		t.Errorf("twice at once: %v", err)
	}
}

// A program that holds the record too long is told of, and nothing is written.
func TestAppendWaits(t *testing.T) {
	path := file(t, "")
	mustAppend(t, path, rolled("alder", 1, 6))
	before := content(t, path)
	l := flock.New(path)
	if err := l.Lock(); err != nil {
		t.Fatal(err)
	}
	_, err := Append(path, []Event{rolled("alder", 2, 6)}, Options{Wait: 30 * time.Millisecond})
	var failed *FileError
	if !errors.As(err, &failed) || !strings.Contains(failed.Problem, "another program has been writing to it") {
		t.Errorf("%v", err)
	}
	if content(t, path) != before {
		t.Error("the record has changed")
	}
	// An editor puts a new file in the place of the one that is locked, and
	// another program locks that: its turn comes first, and the row belongs
	// into the new file.
	saved := path + ".saved"
	if err := os.WriteFile(saved, []byte(before+"2026-06-01,mill,oak,swarmed,,,,,,,,,,\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	other := flock.New(saved)
	if err := other.Lock(); err != nil {
		t.Fatal(err)
	}
	done := make(chan error)
	go func() {
		_, err := Append(path, []Event{rolled("alder", 2, 6)}, Options{})
		done <- err
	}()
	time.Sleep(10 * time.Millisecond)
	if err := os.Rename(saved, path); err != nil {
		t.Fatal(err)
	}
	l.Close()
	select {
	case err := <-done:
		t.Errorf("the new file was locked, and still Append ended: %v", err)
	case <-time.After(30 * time.Millisecond):
		other.Close()
		if err := <-done; err != nil {
			t.Fatal(err)
		}
	}
	if got := content(t, path); !strings.Contains(got, "oak") || !strings.Contains(got, "2026-06-02,mill,alder") {
		t.Errorf("after a rename:\n%s", got)
	}
}
