package season

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ical "github.com/emersion/go-ical"
)

// toldEvents is the JSON of the command, as any other program reads it.
type toldEvents struct {
	From   string
	Events []struct {
		Date, Kind, UID string
		Until           *string
		Colonies        []string
	}
}

// calendarOf runs the command and gives its file, as another library reads it,
// its text and its JSON.
func calendarOf(t *testing.T, args ...string) (*ical.Calendar, string, toldEvents) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "plan.ics")
	answer := run(t, append([]string{"calendar", "--ics", name, "--format", "json"}, args...)...)
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
	if err := json.Unmarshal([]byte(answer), &told); err != nil {
		t.Fatal(err)
	}
	return cal, string(data), told
}

func text(t *testing.T, p ical.Props, name string) string {
	t.Helper()
	s, err := p.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The file has every event of the answer, whole days, what is late on the day
// of writing.
func TestCalendarFileReadByOtherHands(t *testing.T) {
	cal, _, told := calendarOf(t, "--log", demo, "--today", "2026-06-20")
	if text(t, cal.Props, ical.PropVersion) != "2.0" || text(t, cal.Props, ical.PropProductID) == "" {
		t.Error("version or product is missing")
	}
	written := cal.Events()
	if len(written) != len(told.Events) || len(written) < 10 {
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
		first, last := max(e.Date, told.From), max(e.Date, told.From)
		if e.Until != nil {
			last = max(last, *e.Until)
		}
		start, err := v.DateTimeStart(time.UTC)
		if err != nil || start.Format(time.DateOnly) != first {
			t.Errorf("%s starts on %v, want %s (%v)", uid, start, first, err)
		}
		end, err := v.DateTimeEnd(time.UTC)
		if err != nil || end.AddDate(0, 0, -1).Format(time.DateOnly) != last {
			t.Errorf("%s ends on %v, want the day after %s (%v)", uid, end, last, err)
		}
		if v.Props.Get(ical.PropDateTimeStart).ValueType() != ical.ValueDate {
			t.Errorf("%s is not a whole day", uid)
		}
		if text(t, v.Props, ical.PropSummary) == "" || text(t, v.Props, ical.PropDescription) == "" || v.Props.Get(ical.PropDateTimeStamp) == nil {
			t.Errorf("%s has no summary, no description or no stamp", uid)
		}
	}
}

// Names stand in the file letter for letter, and where the hives stand does not.
func TestCalendarFileKeepsNames(t *testing.T) {
	record := filepath.Join(t.TempDir(), "names.csv")
	rows := "date,yard,colony,event,method,mites,amount\n2026-06-01,Quarry,érable,count,wash,4,300\n2026-06-01,Quarry,Östlich,count,wash,9,300\n2026-06-01,Quarry,hazel,count,wash,2,300\n"
	if err := os.WriteFile(record, []byte(rows), 0o666); err != nil {
		t.Fatal(err)
	}
	cal, file, told := calendarOf(t, "--log", record, "--today", "2026-06-20")
	if strings.Contains(strings.ToLower(file), "quarry") {
		t.Error("the file names the yard")
	}
	seen := map[string]bool{}
	for i, v := range cal.Events() {
		about := text(t, v.Props, ical.PropDescription)
		for _, name := range told.Events[i].Colonies {
			if !strings.Contains(about, name+", by ") {
				t.Errorf("%q does not tell of %s", about, name)
			}
			seen[name] = true
		}
	}
	if len(seen) != 3 {
		t.Errorf("only %v were named", seen)
	}
}

// Importing again must move events, not double them: a week later, with
// nothing counted, what is still to come has the name it had, and a higher
// sequence.
func TestCalendarFileImportedAgain(t *testing.T) {
	first, _, _ := calendarOf(t, "--log", demo, "--today", "2026-04-13")
	again, _, _ := calendarOf(t, "--log", demo, "--today", "2026-04-20")
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
	if same < len(before)-1 {
		t.Errorf("only %d of %d events kept their names", same, len(before))
	}
}

// The sheet holds every colony with its boxes, asks nothing of the network, and
// a name cannot smuggle markup into it.
func TestSheet(t *testing.T) {
	data, err := os.ReadFile(demo)
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	record, name := filepath.Join(folder, "mill.csv"), filepath.Join(folder, "sheet.html")
	if err := os.WriteFile(record, []byte(strings.ReplaceAll(string(data), ",hazel,", ",<b>hazel,")), 0o666); err != nil {
		t.Fatal(err)
	}
	for charts, pictures := range map[string]int{"all": 14, "none": 0} {
		run(t, "yard", "--log", record, "--today", "2026-07-05", "--html", name, "--charts", charts, "--urgent")
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		page, last := string(data), 0
		for _, colony := range []string{"alder", "ash", "beech", "birch", "elm", "&lt;b&gt;hazel", "hornbeam", "larch", "lime", "maple", "oak", "rowan", "spruce", "willow"} {
			at := strings.Index(page, `<span class="name">`+colony+`</span>`)
			if at <= last {
				t.Errorf("%s stands at %d, after %d", colony, at, last)
			}
			last = at
		}
		if strings.Contains(page, "<b>hazel") {
			t.Error("a name became markup")
		}
		if outside := regexp.MustCompile(`(?:src|href)\s*=|url\(|@import`).FindString(page); outside != "" {
			t.Errorf("the page reaches out: %s", outside)
		}
		if n := strings.Count(page, "<svg"); n != pictures {
			t.Errorf("%d pictures, want %d", n, pictures)
		}
		if n := strings.Count(page, `<td class="box`); n != 14*5 {
			t.Errorf("%d boxes, want five a colony", n)
		}
	}
}
