package fieldlog

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halfcup/internal/long"
	"halfcup/sampling"
)

// broken leaves a record as an Append of events leaves it that is killed when
// it has written so many bytes of them.
func broken(t *testing.T, path string, events []Event, bytes int) (whole bool) {
	t.Helper()
	before, err := Open(path)
	if errors.Is(err, os.ErrNotExist) {
		before, err = Read(path, strings.NewReader(""))
	}
	if err != nil {
		t.Fatal(err)
	}
	text, _, err := compose(before, events, false)
	if err != nil {
		t.Fatal(err)
	}
	in := intent{at: len(before.data), digest: digestOf(before.data), text: text}
	if err := writeSynced(intentPath(path), in.encode()); err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o644)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(text[:min(bytes, len(text))]); err != nil {
		t.Fatal(err)
	}
	return bytes >= len(text)
}

func three() []Event {
	e := rolled("cherry", 4, 2)
	e.Note = "a \"quoted\"\nnote"
	return []Event{rolled("alder", 2, 0), rolled("birch", 3, 1), e}
}

// Killed at any byte (one in five, without the long tests), an append of three rows leaves all of them or none, and
// the same line typed again completes it. The plain way, one write of all
// rows, leaves one or two of them, and then refuses the line as a double.
func TestAllOrNone(t *testing.T) {
	for name, before := range map[string]string{"a new record": "", "a record": plain, "no line end": strings.TrimSuffix(plain, "\n")} {
		t.Run(name, func(t *testing.T) {
			partly, step := 0, long.Of(5, 1)
			if name == "no line end" {
				step = 11
			}
			for at := 0; ; at += step {
				path := filepath.Join(t.TempDir(), "halfcup.csv")
				if before != "" {
					path = file(t, before)
				}
				first := read(t, before)
				whole := broken(t, path, three(), at)
				r, err := Open(path)
				if err != nil {
					t.Fatalf("at %d: %v", at, err)
				}
				n := len(r.Events) - len(first.Events)
				if n != 0 && n != 3 || (n == 3) != whole {
					t.Fatalf("at %d: %d of 3 rows are there", at, n)
				}
				if len(r.Problems) != len(first.Problems) {
					t.Fatalf("at %d: %s", at, problemsOf(r.Problems))
				}
				naive, err := Read("log.csv", strings.NewReader(content(t, path)))
				if err != nil {
					partly++ // half of the names of the columns
				} else if n := len(naive.Events) - len(first.Events); n == 1 || n == 2 {
					partly++
				}
				if a := mustAppend(t, path, three()...); len(a.Events) != 3 {
					t.Fatalf("at %d: %d rows told", at, len(a.Events))
				}
				r, err = Open(path)
				if err != nil {
					t.Fatal(err)
				}
				wantSame(t, r.Events, append(first.Events, three()...))
				if !strings.HasPrefix(content(t, path), before) {
					t.Fatalf("at %d: what stood there has changed", at)
				}
				if _, err := os.Stat(intentPath(path)); err == nil {
					t.Fatalf("at %d: the intent is left behind", at)
				}
				if whole {
					break
				}
			}
			if partly == 0 {
				t.Error("no kill leaves a part of the rows: the test shows nothing")
			}
		})
	}
}

// Another row after a kill: what broke off is gone, what was whole stays.
func TestAnotherRowAfterAKill(t *testing.T) {
	for _, at := range []int{0, 1, 60, 1 << 20} {
		path := file(t, plain)
		whole := broken(t, path, three(), at)
		mustAppend(t, path, rolled("elm", 9, 1))
		r, err := Open(path)
		if err != nil || len(r.Problems) != 0 {
			t.Fatal(err, problemsOf(r.Problems))
		}
		want := 8
		if whole {
			want = 11
		}
		if len(r.Events) != want {
			t.Errorf("at %d: %d rows, want %d", at, len(r.Events), want)
		}
	}
}

// What a person did to a record after a kill is left alone, whatever it is.
func TestNothingOfAPersonIsCutOff(t *testing.T) {
	for name, edit := range map[string]func(string) string{
		"a row behind":      func(s string) string { return s + "\n2026-07-20,mill,03,inspection,,,,,,,,,,\n" },
		"the row completed": func(s string) string { return s + ",,,,,,,,by hand\n" },
		"a row before": func(s string) string {
			return strings.Replace(s, "2026-05-02,mill,03,count,roll,2", "2026-05-02,mill,03,count,roll,3", 1)
		},
		"cut by the keeper":  func(s string) string { return s[:len(s)-5] + "X" },
		"all new":            func(string) string { return plain + "2026-07-20,mill,03,inspection,,,,,,,,,,\n" },
		"an older copy back": func(string) string { return plain[:len(plain)-50] + "\n" },
	} {
		path := file(t, plain)
		broken(t, path, three(), 70)
		edited := edit(content(t, path))
		if err := os.WriteFile(path, []byte(edited), 0o644); err != nil {
			t.Fatal(err)
		}
		if r, err := Open(path); err != nil || r.data != edited {
			t.Errorf("%s: the reader passes over something: %v", name, err)
		}
		mustAppend(t, path, rolled("elm", 9, 1))
		if !strings.HasPrefix(content(t, path), edited) {
			t.Errorf("%s: something was cut off", name)
		}
	}
	// An intent that is itself broken off means nothing was written yet.
	path := file(t, plain)
	broken(t, path, three(), 70)
	all, err := os.ReadFile(intentPath(path))
	if err != nil {
		t.Fatal(err)
	}
	for n := range all {
		if _, ok := decodeIntent(all[:n]); ok {
			t.Errorf("an intent of %d of %d bytes is believed", n, len(all))
		}
	}
}

// A line written twice counts once, and is told. With two counts of 7 in 300
// instead of one an answer would be surer than it may be.
func TestWrittenTwice(t *testing.T) {
	const row = "2026-06-01,alder,count,wash,7,300,\n"
	r := read(t, "date,colony,event,method,mites,amount,note\n"+row+row+"2026-06-01,alder,count,wash,7,300,other side\n"+row)
	history, err := r.History("", "alder")
	if err != nil || len(history) != 2 || len(r.Once()) != 2 || len(r.Events) != 4 {
		t.Errorf("%d in the history, %d once, %d in all: %v", len(history), len(r.Once()), len(r.Events), err)
	}
	doubts := strings.Join(r.Doubts(sampling.Day(2026, 6, 2), Colony{"", "alder"}), "\n")
	if doubts != "log.csv:3: this row says the same as line 2; it is counted once.\nlog.csv:5: this row says the same as line 2; it is counted once." {
		t.Error(doubts)
	}
	if got := r.Doubts(sampling.Day(2026, 6, 2), Colony{"", "birch"}); got != nil {
		t.Errorf("told of another colony: %v", got)
	}
}

func TestDoubts(t *testing.T) {
	const head = "date,colony,event,method,mites,amount\n"
	for name, tc := range map[string]struct{ rows, want string }{
		"cut short":      {"2026-06-01,alder,count,wash,3,30", "log.csv:2: the last row has no line end, so this cell may be cut short; it is counted as it stands."},
		"in the future":  {"2026-06-03,alder,count,wash,3,300\n", "log.csv:2: this count lies 1 day in the future; it is left out until that day."},
		"several":        {"2026-06-03,alder,count,wash,3,300\n2026-06-04,alder,count,wash,3,300\n", "log.csv:2 and 1 more: these lie in the future and are left out until that day."},
		"after the end":  {"2026-05-01,alder,died,,,\n2026-06-01,alder,count,wash,3,300\n", "log.csv:3: alder died on 2026-05-01 (line 2), so there can be no count later."},
		"nothing wrong":  {"2026-06-01,alder,count,wash,3,300\n", ""},
		"a plan is fine": {"2026-06-20,alder,supers-on,,,\n", ""},
	} {
		if got := strings.Join(read(t, head+tc.rows).Doubts(sampling.Day(2026, 6, 2)), "\n"); got != tc.want {
			t.Errorf("%s:\n got %s\nwant %s", name, got, tc.want)
		}
	}
}

// One slip in the century is named by its line; a record of fifty years is
// honest.
func TestCentury(t *testing.T) {
	r := read(t, "date,colony,event\n1976-06-01,alder,inspection\n1926-06-01,alder,inspection\n2126-06-01,alder,inspection\n2026-06-01,alder,inspection\n")
	bad := r.Misdated(sampling.Day(2026, 6, 2))
	if len(bad) != 2 || bad[0].Place() != "log.csv:3:1" || bad[0].What != "this inspection lies 100 years back" || bad[1].Line != 4 || bad[0].Warning {
		t.Errorf("%v", bad)
	}
}

// What a record may hold is bounded in words, and no such file takes long.
func TestBounds(t *testing.T) {
	const head = "date,yard,colony,event,note\n"
	start := time.Now()
	rows := long.Of(50_000, 500_000)
	for name, tc := range map[string]struct{ text, want string }{
		"a long note":      {head + "2026-06-01,mill,alder,inspection," + strings.Repeat("x", 100<<10) + "\n", "this cell is longer than 65536 letters"},
		"an endless note":  {head + "2026-06-01,mill,alder,inspection,\"" + strings.Repeat("2026-06-01 rain\n", long.Of(100_000, 500_000)), "this row is longer than 1 megabyte"},
		"commas":           {head + strings.Repeat(",", long.Of(2_000_000, 20_000_000)), "more than 1000 cells"},
		"a long name":      {head + "2026-06-01,mill," + strings.Repeat("e\u0301", 61) + ",inspection,\n", "this name has 61 letters, and a name has at most 60"},
		"nothing but rows": {head + strings.Repeat("x\n", rows), fmt.Sprintf("%d more rows cannot be read", rows-1000)},
	} {
		r, err := Read("log.csv", strings.NewReader(tc.text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if told := problemsOf(r.Problems); !strings.Contains(told, tc.want) {
			t.Errorf("%s: %.300s", name, told)
		}
	}
	if _, err := Read("log.csv", strings.NewReader(head+strings.Repeat("\n", maxLines))); err == nil || !strings.Contains(err.Error(), "more than 1000000 lines") {
		t.Errorf("%v", err)
	}
	if took := time.Since(start); took > 30*time.Second {
		t.Errorf("took %v", took)
	}
	if got := letters(strings.Repeat("e\u0301", 60)); got != 60 {
		t.Errorf("60 letters with accents are %d", got)
	}
}

// Twenty thousand rows of one colony and day: every look at them is near to
// linear, where comparing each with each takes minutes.
func TestManyRowsOfADay(t *testing.T) {
	var b strings.Builder
	b.WriteString(strings.Join(firstColumns, ",") + "\n")
	for i := range 20_000 {
		b.WriteString("2026-06-01,mill,Hive 12,count,wash,3,300,,,,,,,n" + strings.Repeat("i", i%50) + "\n")
	}
	path := file(t, b.String())
	start := time.Now()
	mustAppend(t, path, rolled("Hive 12", 2, 1))
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(r.Check(sampling.Day(2026, 6, 3))); n != 20_000-50 {
		t.Errorf("%d doubles", n)
	}
	if took := time.Since(start); took > 15*time.Second {
		t.Errorf("took %v", took)
	}
}
