package season

import (
	"bytes"
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/show"
	"halfcup/internal/long"
)

const demo = "../../../../testdata/demo/mill.csv"

// run is a line of the program with the commands of this group.
func run(t *testing.T, args ...string) string {
	t.Helper()
	p := line.Program{Commands: []func(*line.Shell) []*cli.Command{Commands}}
	var stdout, stderr bytes.Buffer
	if code := p.Run(args, strings.NewReader(""), &stdout, &stderr); code != line.ExitDone {
		t.Fatalf("%v: exit %d: %s", args, code, &stderr)
	}
	return stdout.String()
}

func asked[T any](t *testing.T, args ...string) T {
	t.Helper()
	var out T
	if err := json.Unmarshal([]byte(run(t, append(args, "--format", "json")...)), &out); err != nil {
		t.Fatalf("%v: %v", args, err)
	}
	return out
}

type toldCalendar struct {
	Events []struct {
		Date string
	}
}

var picture = regexp.MustCompile(`(?s)\nmites per hundred bees\n.*?\n\n`)

// How long an answer may be, on any day of the demonstration.
func TestAnswersStayShort(t *testing.T) {
	for _, day := range []string{"2026-07-25", "2027-01-10", "2026-05-11", "2026-08-03", "2026-09-21"}[:long.Of(2, 5)] {
		shared := []string{"--log", demo, "--today", day}
		living := demoYard(t, day).colonies
		for _, args := range [][]string{{"yard"}, {"yard", "--curves", "--urgent"}, {"calendar"}, {"forecast", "--colony", "oak"}} {
			text := run(t, append(args, shared...)...)
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
				for _, k := range living {
					if rows := regexp.MustCompile(`(?m)^ ?\d+ `+k.name+` `).FindAllString(body, -1); len(rows) != 1 {
						t.Errorf("yard %s: %d rows of %s", day, len(rows), k.name)
					}
				}
				if lines > len(living)+16 {
					t.Errorf("yard %s: %d lines for %d colonies", day, lines, len(living))
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

// At every width the level and the chance of a colony are written as the rest of
// the program writes them, none of them cut, and no row is wider than the page.
func TestYardWidths(t *testing.T) {
	for _, day := range []string{"2026-05-11", "2026-06-20", "2026-07-25", "2026-12-10"} {
		y := demoYard(t, day)
		for _, width := range []int{40, 72, 76, 80, 100} {
			var b bytes.Buffer
			(&yardView{yard: y}).print(&b, show.Page{Width: width})
			text := strings.Join(strings.Fields(b.String()), " ")
			if strings.ContainsAny(text, "<>") {
				t.Errorf("%s at %d: a chance in signs:\n%s", day, width, b.String())
			}
			for _, k := range y.colonies {
				level, over := k.levelWords(y.level)
				if !strings.Contains(text, level) || over != "–" && !strings.Contains(text, over) {
					t.Errorf("%s at %d: %s and %s of %s are not told", day, width, level, over, k.name)
				}
			}
			for _, l := range strings.Split(b.String(), "\n") {
				if width >= narrow && show.Wide(l) > width {
					t.Errorf("%s at %d: %d columns: %q", day, width, show.Wide(l), l)
				}
			}
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
