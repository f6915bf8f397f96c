package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ical "github.com/emersion/go-ical"

	"halfcup/cmd/halfcup/internal/line"
)

// toldEvents is the JSON of the command, as any other program reads it.
type toldEvents struct {
	Events []struct {
		Date, Kind, Because, UID string
		Until                    *string
		Colonies                 []string
	}
}

// calendarOf runs the command and gives its file, as another library reads it,
// and its JSON.
func calendarOf(t *testing.T, args ...string) (*ical.Calendar, toldEvents) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "plan.ics")
	var stdout bytes.Buffer
	if code := run(append([]string{"calendar", "--ics", name, "--format", "json"}, args...), nil, &stdout, io.Discard); code != line.ExitDone {
		t.Fatalf("exit %d", code)
	}
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(strings.TrimSuffix(string(data), "\r\n"), "\r\n") {
		if len(line) > 75 || strings.ContainsAny(line, "\r\n") || !utf8.ValidString(line) {
			t.Errorf("a line of %d bytes, or a bare line end, or a broken letter, in %q", len(line), line)
		}
	}
	cal, err := ical.NewDecoder(bytes.NewReader(data)).Decode()
	if err != nil {
		t.Fatal(err)
	}
	var told toldEvents
	if err := json.Unmarshal(stdout.Bytes(), &told); err != nil {
		t.Fatal(err)
	}
	return cal, told
}

func text(t *testing.T, p ical.Props, name string) string {
	t.Helper()
	s, err := p.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestCalendarFileReadByOtherHands(t *testing.T) {
	record := filepath.Join("..", "..", "testdata", "demo", "mill.csv")
	cal, told := calendarOf(t, "--log", record, "--today", "2026-06-20")
	if text(t, cal.Props, ical.PropVersion) != "2.0" || text(t, cal.Props, ical.PropProductID) == "" {
		t.Error("version or product is missing")
	}
	written := cal.Events()
	if len(written) != len(told.Events) || len(written) < 20 {
		t.Fatalf("%d events in the file, %d in the answer", len(written), len(told.Events))
	}
	seen := map[string]bool{}
	for i, e := range told.Events {
		v := written[i]
		uid := text(t, v.Props, ical.PropUID)
		if uid != e.UID || seen[uid] {
			t.Errorf("%s: UID %s", e.UID, uid)
		}
		seen[uid] = true
		start, err := v.DateTimeStart(time.UTC)
		if err != nil || start.Format(time.DateOnly) != e.Date {
			t.Errorf("%s starts on %v, want %s (%v)", uid, start, e.Date, err)
		}
		last := e.Date
		if e.Until != nil {
			last = *e.Until
		}
		end, err := v.DateTimeEnd(time.UTC)
		if err != nil || end.AddDate(0, 0, -1).Format(time.DateOnly) != last {
			t.Errorf("%s ends on %v, want the day after %s (%v)", uid, end, last, err)
		}
		if v.Props.Get(ical.PropDateTimeStart).ValueType() != ical.ValueDate {
			t.Errorf("%s is not a whole day", uid)
		}
		about := text(t, v.Props, ical.PropDescription)
		if !strings.Contains(strings.ToLower(about), strings.ToLower(e.Because)) {
			t.Errorf("%s is about %q, want %q", uid, about, e.Because)
		}
		if text(t, v.Props, ical.PropSummary) == "" || v.Props.Get(ical.PropDateTimeStamp) == nil {
			t.Errorf("%s has no summary or no stamp", uid)
		}
	}
}

// Names stand in the file as they are written, letter for letter.
func TestCalendarFileKeepsNames(t *testing.T) {
	record := filepath.Join(t.TempDir(), "names.csv")
	writeFile(t, record, "date,colony,event,method,mites,amount\n2026-06-01,érable,count,wash,4,300\n2026-06-01,Östlich,count,wash,9,300\n2026-06-01,hazel,count,wash,2,300\n")
	cal, told := calendarOf(t, "--log", record, "--today", "2026-06-20")
	seen := map[string]bool{}
	for i, v := range cal.Events() {
		about := text(t, v.Props, ical.PropDescription)
		if !utf8.ValidString(about) {
			t.Errorf("%q is no UTF-8", about)
		}
		if len(told.Events[i].Colonies) == 0 {
			continue
		}
		names := strings.Join(told.Events[i].Colonies, ", ")
		if !strings.HasPrefix(about, names+": ") {
			t.Errorf("%q does not begin with %s", about, names)
		}
		for _, name := range told.Events[i].Colonies {
			seen[name] = true
		}
	}
	if len(seen) != 3 {
		t.Errorf("only %v were named", seen)
	}
}

// Importing again must move events, not double them: a week later, with
// nothing counted, every look that is still to come has the name it had, and a
// higher sequence.
func TestCalendarFileImportedAgain(t *testing.T) {
	record := filepath.Join("..", "..", "testdata", "demo", "mill.csv")
	first, _ := calendarOf(t, "--log", record, "--today", "2026-04-13")
	again, _ := calendarOf(t, "--log", record, "--today", "2026-04-20")
	sequence := func(e ical.Event) int {
		n, err := e.Props.Get(ical.PropSequence).Int()
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	before := map[string]int{}
	for _, e := range first.Events() {
		before[text(t, e.Props, ical.PropUID)] = sequence(e)
	}
	same := 0
	for _, e := range again.Events() {
		n, ok := before[text(t, e.Props, ical.PropUID)]
		if !ok {
			continue
		}
		same++
		if sequence(e) <= n {
			t.Errorf("%s has sequence %d after %d", text(t, e.Props, ical.PropUID), sequence(e), n)
		}
	}
	if same < len(before)-3 {
		t.Errorf("only %d of %d events kept their names", same, len(before))
	}
}

func TestCalendarExplainedToALearner(t *testing.T) {
	for _, args := range []string{"calendar --today 2026-03-10", "calendar --today 2026-08-10 --days 30"} {
		told := strings.Join(strings.Fields(explained(t, strings.Split(args, " ")...)), " ")
		if n := len(strings.Fields(told)); n == 0 || n >= 120 {
			t.Errorf("%s: %d words", args, n)
		}
		if !strings.Contains(told, "of 100 colonies") {
			t.Errorf("%s: no natural frequency in %q", args, told)
		}
		for _, term := range []string{"probability", "distribution", "variance", "deviation", "interval", "confidence", "beta", "prior", "median", "mean ", "expected", "log"} {
			if strings.Contains(strings.ToLower(told), term) {
				t.Errorf("%s: %q in %q", args, term, told)
			}
		}
	}
}
