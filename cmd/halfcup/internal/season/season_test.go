package season

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
	"pgregory.net/rapid"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

const demo = "../../../../testdata/demo/mill.csv"

// failer is a test, or a draw of one.
type failer interface {
	Fatalf(string, ...any)
	Errorf(string, ...any)
}

// run is a line of the program with the commands of this group, and one that
// gives away the apiary that they ask.
func run(t failer, args ...string) (string, []decide.Standing) {
	var standings []decide.Standing
	probe := func(sh *line.Shell) []*cli.Command {
		return []*cli.Command{{Name: "probe", Category: line.GroupSeason, Flags: ask.RulesFlags(), Action: func(c *cli.Context) error {
			rules, err := ask.ReadRules(sh, c)
			if err != nil {
				return err
			}
			rec, err := ask.NeedRecord(sh, "a yard")
			if err != nil {
				return err
			}
			a, _, err := rules.Apiary(rec, rec.Colonies()[0].Yard, sh.Today)
			if err != nil {
				return err
			}
			standings, err = a.On(sh.Today)
			return err
		}}}
	}
	p := line.Program{Commands: []func(*line.Shell) []*cli.Command{Commands, probe}}
	var stdout, stderr bytes.Buffer
	if code := p.Run(args, strings.NewReader(""), &stdout, &stderr); code != line.ExitDone {
		t.Fatalf("%v: exit %d: %s", args, code, &stderr)
	}
	return stdout.String(), standings
}

func asked[T any](t failer, args ...string) T {
	var out T
	text, _ := run(t, append(args, "--format", "json")...)
	if err := json.Unmarshal([]byte(text), &out); err != nil {
		t.Fatalf("%v: %v", args, err)
	}
	return out
}

// told is what every answer says of a colony.
type told struct {
	Colony     string
	ChanceOver struct{ Watch, Act float64 } `json:"chance_over"`
	Verdict    struct {
		Call    decide.Call
		Due     string
		DueFor  decide.DueReason `json:"due_for"`
		Overdue int              `json:"overdue_days"`
		Advised *struct {
			Method string
			Bees   int
			Days   float64
		}
	}
}

type toldYard struct{ Colonies []told }

type toldForecast struct {
	told
	Days []struct {
		ChanceOverAct float64 `json:"chance_over_act"`
	}
}

type toldCalendar struct {
	Events []struct {
		Date, Kind string
		Duties     []struct {
			Kind, Colony, Date string
			Late               int `json:"late_days"`
		}
	}
}

func (s told) differs(want decide.Standing) string {
	same := func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }
	v := s.Verdict
	if !same(s.ChanceOver.Act, want.ChanceOverAct) || !same(s.ChanceOver.Watch, want.ChanceOverWatch) || v.Call != want.Call ||
		v.Due != want.Due.String() || v.DueFor != want.DueFor || v.Overdue != want.Overdue {
		return fmt.Sprintf("%+v, want %v %v %s by %s (%s), %d late", s, want.ChanceOverWatch, want.ChanceOverAct, want.Call, want.Due, want.DueFor, want.Overdue)
	}
	advised := want.Advised.Plan == decide.LookNow
	if advised != (v.Advised != nil) || advised && v.Advised.Method != string(want.Advised.Count.Method) {
		return fmt.Sprintf("%+v advised, want %s %s", v.Advised, want.Advised.Plan, want.Advised.Count)
	}
	return ""
}

// drawRecord is a record of one to three colonies over a year.
func drawRecord(r *rapid.T) string {
	rows := []string{"date,yard,colony,event,method,mites,amount,active,application"}
	day := func(label string) string {
		return (sampling.Day(2026, 3, 10) + sampling.Date(rapid.IntRange(0, 270).Draw(r, label))).String()
	}
	for i := range rapid.IntRange(1, 3).Draw(r, "colonies") {
		name := []string{"érable", "oak", "Östlich"}[i]
		rows = append(rows, "2026-03-01,mill,"+name+",inspection,,,,,")
		for range rapid.IntRange(0, 3).Draw(r, "counts") {
			method := rapid.SampledFrom([]string{"wash", "roll"}).Draw(r, "method")
			rows = append(rows, fmt.Sprintf("%s,mill,%s,count,%s,%d,300,,", day("counted"), name, method, rapid.IntRange(0, 25).Draw(r, "mites")))
		}
		if rapid.Bool().Draw(r, "board") {
			rows = append(rows, fmt.Sprintf("%s,mill,%s,count,board,%d,3d,,", day("board out"), name, rapid.IntRange(0, 80).Draw(r, "fallen")))
		}
		if rapid.Bool().Draw(r, "treated") {
			how := rapid.SampledFrom([]string{"oxalic acid,vapour", "amitraz,strip", "formic acid,evaporation"}).Draw(r, "treatment")
			rows = append(rows, fmt.Sprintf("%s,mill,%s,treatment,,,,%s", day("treated on"), name, how))
		}
		if rapid.Bool().Draw(r, "supers") {
			rows = append(rows, "2026-05-01,mill,"+name+",supers-on,,,,,", "2026-07-20,mill,"+name+",supers-off,,,,,")
		}
	}
	return strings.Join(rows, "\n") + "\n"
}

// The yard, the forecast's first day and the calendar say of every colony what
// decide.Apiary says of it.
func TestCommandsAgree(t *testing.T) {
	record := filepath.Join(t.TempDir(), "bees.csv")
	draws, most := 0, 25 // each runs the program several times
	if own := flag.Lookup("rapid.checks").Value.String(); own != "100" {
		most, _ = strconv.Atoi(own)
	}
	rapid.Check(t, func(r *rapid.T) {
		if draws++; draws > most {
			return
		}
		if err := os.WriteFile(record, []byte(drawRecord(r)), 0o666); err != nil {
			r.Fatal(err)
		}
		today := sampling.Day(2026, 4, 1) + sampling.Date(rapid.IntRange(0, 300).Draw(r, "today"))
		days := rapid.IntRange(7, 366).Draw(r, "days")
		shared := []string{"--log", record, "--today", today.String()}
		_, standings := run(r, append([]string{"probe"}, shared...)...)
		yard := asked[toldYard](r, append([]string{"yard"}, shared...)...)
		if len(yard.Colonies) != len(standings) {
			r.Fatalf("%d colonies, want %d", len(yard.Colonies), len(standings))
		}
		listed := map[string][]string{}
		for _, e := range asked[toldCalendar](r, append([]string{"calendar", "--days", fmt.Sprint(days)}, shared...)...).Events {
			for _, d := range e.Duties {
				if e.Kind == string(decide.DutyCount) || e.Kind == string(decide.DutyCheck) {
					listed[d.Colony] = append(listed[d.Colony], fmt.Sprintf("%s %d", d.Date, d.Late))
				}
			}
		}
		for i, want := range standings {
			if s := yard.Colonies[i].differs(want); s != "" {
				r.Errorf("yard: %s", s)
			}
			ahead := asked[toldForecast](r, append([]string{"forecast", "--days", "7", "--colony", want.Colony}, shared...)...)
			if s := ahead.differs(want); s != "" {
				r.Errorf("forecast: %s", s)
			}
			if p := ahead.Days[0].ChanceOverAct; !(math.Abs(p-want.ChanceOverAct) < 1e-9) {
				r.Errorf("the forecast of %s begins with %v, want %v", want.Colony, p, want.ChanceOverAct)
			}
			var due []string
			if want.Due <= today+sampling.Date(days) {
				due = []string{fmt.Sprintf("%s %d", want.Due, want.Overdue)}
			}
			if got := listed[want.Colony]; fmt.Sprint(got) != fmt.Sprint(due) {
				r.Errorf("calendar: %s is due on %v, listed on %v", want.Colony, due, got)
			}
		}
	})
}

var picture = regexp.MustCompile(`(?s)\nmites per hundred bees\n.*?\n\n`)

// How long an answer may be, on any day of the demonstration.
func TestAnswersStayShort(t *testing.T) {
	for _, day := range []string{"2026-05-11", "2026-07-25", "2026-08-03", "2026-09-21", "2027-01-10"} {
		shared := []string{"--log", demo, "--today", day}
		for _, args := range [][]string{{"yard"}, {"yard", "--curves", "--urgent"}, {"calendar"}, {"forecast", "--colony", "oak"}} {
			text, _ := run(t, append(args, shared...)...)
			for _, l := range strings.Split(text, "\n") {
				if show.Wide(l) > 80 {
					t.Errorf("%v %s: %d columns in %q", args, day, show.Wide(l), l)
				}
				if strings.Contains(l, "…") {
					t.Errorf("%v %s: cut short in %q", args, day, l)
				}
			}
			body, _, _ := strings.Cut(text, "\nnote: ")
			lines := strings.Count(strings.TrimRight(body, "\n"), "\n") + 1
			switch args[0] {
			case "yard":
				_, standings := run(t, append([]string{"probe"}, shared...)...)
				for _, k := range standings {
					if rows := regexp.MustCompile(`(?m)^ ?\d+ `+k.Colony+` `).FindAllString(body, -1); len(rows) != 1 {
						t.Errorf("yard %s: %d rows of %s", day, len(rows), k.Colony)
					}
				}
				if lines > len(standings)+16 {
					t.Errorf("yard %s: %d lines for %d colonies", day, lines, len(standings))
				}
			case "calendar":
				if lines >= 40 {
					t.Errorf("calendar %s: %d lines", day, lines)
				}
			case "forecast":
				words := picture.ReplaceAllString(body, "\n")
				if n := strings.Count(strings.TrimSpace(strings.ReplaceAll(words, "\n\n", "\n")), "\n") + 1; n > 5 {
					t.Errorf("forecast %s: %d lines besides the picture:\n%s", day, n, words)
				}
			}
		}
	}
}

// A month of the calendar has at most four lines but for those that are late.
func TestCalendarMonths(t *testing.T) {
	for _, day := range []string{"2026-04-13", "2026-05-11", "2026-06-20", "2026-07-25", "2026-09-21"} {
		months := map[string]int{}
		for _, e := range asked[toldCalendar](t, "calendar", "--log", demo, "--today", day).Events {
			if e.Date >= day {
				months[e.Date[:7]]++
			}
		}
		for month, n := range months {
			if n > 5 || n > 4 && month != day[:7] {
				t.Errorf("from %s: %d lines in %s", day, n, month)
			}
		}
	}
}

// On a narrow page a colony has two lines or three, and none is wider.
func TestNarrowPages(t *testing.T) {
	y := demoYard(t, "2026-07-25")
	var b bytes.Buffer
	(&yardView{yard: y}).print(&b, show.Page{Width: 40})
	for _, l := range strings.Split(b.String(), "\n") {
		if show.Wide(l) > 60 { // lines of duties are cut to what holds their names
			t.Errorf("%d columns: %q", show.Wide(l), l)
		}
	}
	for _, k := range y.colonies {
		if !strings.Contains(b.String(), k.stand+" "+k.name+": ") {
			t.Errorf("%s has no line", k.name)
		}
		if n := show.Wide(k.Row()); n > doWide {
			t.Errorf("%s: %d letters in %q", k.name, n, k.Row())
		}
	}
}

// demoYard is the yard of the demonstration on a day.
func demoYard(t *testing.T, day string) *yard {
	t.Helper()
	var out *yard
	probe := func(sh *line.Shell) []*cli.Command {
		return []*cli.Command{{Name: "read", Category: line.GroupSeason, Flags: ask.RulesFlags(), Action: func(c *cli.Context) error {
			rules, err := ask.ReadRules(sh, c)
			if err != nil {
				return err
			}
			rec, err := ask.NeedRecord(sh, "a yard")
			if err != nil {
				return err
			}
			out, err = readYard(rules, rec, "mill", sh.Today, 0.9)
			return err
		}}}
	}
	var stderr bytes.Buffer
	p := line.Program{Commands: []func(*line.Shell) []*cli.Command{probe}}
	if code := p.Run([]string{"read", "--log", demo, "--today", day}, nil, &bytes.Buffer{}, &stderr); code != line.ExitDone {
		t.Fatalf("exit %d: %s", code, &stderr)
	}
	return out
}

// Days are compared by the date and not by the year.
func TestComparedDays(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"2026-06-20", "2025-06-20", 0}, {"2026-06-20", "2025-06-10", 10}, {"2026-06-20", "2025-07-01", 11},
		{"2026-01-03", "2024-12-30", 4}, {"2026-12-30", "2026-01-03", 4},
	} {
		a, _ := sampling.ParseDate(c.a)
		b, _ := sampling.ParseDate(c.b)
		if got := daysApart(a, b); got != c.want {
			t.Errorf("%s and %s: %d days, want %d", c.a, c.b, got, c.want)
		}
	}
}
