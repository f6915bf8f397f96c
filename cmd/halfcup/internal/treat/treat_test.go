package treat

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
	"pgregory.net/rapid"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/decide"
	"halfcup/sampling"
)

// answer runs a command of this group.
func answer(args ...string) (string, error) {
	p := line.Program{Commands: []func(*line.Shell) []*cli.Command{Commands}, Welcome: func(*line.Shell) {}, Help: func(*line.Shell, line.Arranged) {}}
	var stdout, stderr bytes.Buffer
	if code := p.Run(args, strings.NewReader(""), &stdout, &stderr); code != line.ExitDone {
		return stdout.String(), fmt.Errorf("exit %d: %s", code, stderr.String())
	}
	return stdout.String(), nil
}

func answered(t *testing.T, args ...string) string {
	t.Helper()
	out, err := answer(args...)
	if err != nil {
		t.Fatalf("%v: %v", args, err)
	}
	return out
}

// body is an answer without the notes below it.
func body(out string) string {
	text, _, _ := strings.Cut(out, "\nnote: ")
	return strings.TrimRight(text, "\n")
}

// flowing is a text as if its lines had not been broken.
func flowing(s string) string { return strings.Join(strings.Fields(s), " ") }

// named are the treatments that a text names.
func named(text string) []sampling.Treatment {
	text = strings.ToLower(flowing(text))
	var out []sampling.Treatment
	for _, t := range sampling.Treatments() {
		if strings.Contains(text, t.Called) || strings.Contains(text, t.Slug) {
			out = append(out, t)
		}
	}
	return out
}

// drawRecord is a record of one or two colonies of a yard with what may happen in a
// year.
func drawRecord(r *rapid.T) string {
	b := strings.Builder{}
	b.WriteString("date,yard,colony,event,method,mites,amount,frames,adult_bees,brood,active,application,note\n")
	first, _ := sampling.ParseDate("2026-03-01")
	for _, colony := range []string{"elm", "oak"}[:rapid.IntRange(1, 2).Draw(r, "colonies")] {
		day := first
		fmt.Fprintf(&b, "%s,mill,%s,count,wash,%d,300,1,,,,,invented\n", day, colony, rapid.IntRange(0, 30).Draw(r, "mites"))
		for range rapid.IntRange(0, 5).Draw(r, "rows") {
			day += sampling.Date(rapid.IntRange(1, 60).Draw(r, "days on"))
			switch rapid.SampledFrom([]string{"count", "treatment", "supers", "break"}).Draw(r, "event") {
			case "count":
				fmt.Fprintf(&b, "%s,mill,%s,count,wash,%d,300,1,,,,,\n", day, colony, rapid.IntRange(0, 30).Draw(r, "mites"))
			case "treatment":
				t := rapid.SampledFrom(sampling.Treatments()).Draw(r, "treatment")
				fmt.Fprintf(&b, "%s,mill,%s,treatment,,,,,,,%s,%s,\n", day, colony, t.Active, t.Application)
			case "supers":
				fmt.Fprintf(&b, "%s,mill,%s,supers-on,,,,,,,,,\n", day, colony)
			case "break":
				fmt.Fprintf(&b, "%s,mill,%s,brood-break,,,,,,no,,,\n", day, colony)
			}
		}
	}
	return b.String()
}

// For any record: whenever an answer names a treatment its caution is printed,
// no line is wider than a page, and what fits is told in twelve lines.
func TestWhatIsNamedIsCautioned(t *testing.T) {
	file := filepath.Join(t.TempDir(), "record.csv")
	told := 0
	rapid.Check(t, func(r *rapid.T) {
		if err := os.WriteFile(file, []byte(drawRecord(r)), 0o666); err != nil {
			r.Fatal(err)
		}
		today, _ := sampling.ParseDate("2026-03-02")
		today += sampling.Date(rapid.IntRange(0, 330).Draw(r, "today"))
		args := strings.Fields(rapid.SampledFrom([]string{"fits --colony elm", "fits --colony elm --temperature 31", "fits --colony elm --temperature 20 --brood no", "worked --colony elm", "worked --yard mill"}).Draw(r, "command"))
		out, err := answer(append(args, "--log", file, "--today", today.String())...)
		if err != nil {
			if args[0] == "fits" {
				r.Fatal(err)
			}
			return // no treatment, or none that was counted
		}
		for _, tr := range named(body(out)) {
			told++
			if want := decide.Cautions(tr.Slug)[0].Text; !strings.Contains(flowing(out), want) {
				r.Fatalf("%v names %s without %q:\n%s", args, tr.Slug, want, out)
			}
		}
		fitsPage(r, args, out)
	})
	if told == 0 {
		t.Error("no answer named a treatment")
	}
}

type failing interface{ Fatalf(string, ...any) }

func fitsPage(t failing, args []string, out string) {
	for _, l := range strings.Split(out, "\n") {
		if len([]rune(l)) > 80 && !strings.Contains(l, "/") { // a path has no place to break
			t.Fatalf("%v: %d letters: %s", args, len([]rune(l)), l)
		}
	}
	if n := len(strings.Split(body(out), "\n")); args[0] == "fits" && n > 12 {
		t.Fatalf("%v: %d lines\n%s", args, n, out)
	}
}

// How long an answer may be, besides its notes and rules.
func TestShortAnswers(t *testing.T) {
	for args, most := range map[string]struct{ lines, words int }{
		"rounds":                                         {23, 190},
		"rounds oxalic-trickle --brood no":               {18, 110},
		"rounds formic-evaporation":                      {9, 85},
		"rounds coumaphos-strip":                         {8, 50},
		"fits roll:12/300 --supers on":                   {12, 135},
		"worked --before roll:18/300 --after roll:3/300": {11, 90},
		"worked --falls 310/2d@2026-08-01,140/2d@2026-08-06,60/2d@2026-08-11 --treatment oxalic-vapour": {17, 130},
		"worked --killed 1880 --follow-up 120 --treatment amitraz-strip":                                {8, 75},
		"worked --jar 45/60": {5, 50},
	} {
		out := answered(t, append(strings.Fields(args), "--today", "2026-07-25")...)
		text := body(out)
		words := 0
		for _, w := range strings.Fields(text) {
			if !strings.HasPrefix(w, "─") {
				words++
			}
		}
		if lines := len(strings.Split(text, "\n")); lines > most.lines || words > most.words {
			t.Errorf("%s: %d lines, %d words, want at most %d and %d\n%s", args, lines, words, most.lines, most.words, text)
		}
		fitsPage(t, strings.Fields(args), out)
		first, _, _ := strings.Cut(text, "\n")
		if !strings.ContainsAny(first, ".:") {
			t.Errorf("%s begins with %q", args, first)
		}
		for _, word := range []string{"posterior", "prior", "Beta(", "Garwood", "log-SD", "regret", "credible", "one more look", "the middle"} {
			if strings.Contains(out, word) {
				t.Errorf("%s says %q", args, word)
			}
		}
	}
}

// No dose, no product and no strength of an acid stands in a text of the tables
// or in an answer. A treatment is called by its ingredient.
func TestNoDose(t *testing.T) {
	dose := regexp.MustCompile(`(?i)\d[\d.,]* ?(g|mg|kg|ml|l|litres?|grams?|drops)\b|\d ?% (of )?(oxalic|formic|lactic|thymol|acid|solution)|\b(one|two|\d+) strips\b|®|™`)
	check := func(where, text string) {
		if found := dose.FindString(text); found != "" {
			t.Errorf("%s says %q: %s", where, found, text)
		}
	}
	told := 0
	for _, s := range decide.Sources() {
		if strings.HasPrefix(s.Name, "fits_") || strings.HasPrefix(s.Name, "caution_") || strings.HasPrefix(s.Name, "trial_") {
			check(s.Name, s.What)
			told++
		}
	}
	if told < 60 {
		t.Errorf("only %d texts", told)
	}
	for _, tr := range sampling.Treatments() {
		first := strings.Fields(tr.Called)[0]
		if !strings.Contains(tr.Active, first) {
			t.Errorf("%s is called %q, which is not its ingredient %q", tr.Slug, tr.Called, tr.Active)
		}
		rounds := answered(t, "rounds", tr.Slug)
		check(tr.Slug, body(rounds))
		for _, c := range decide.Cautions(tr.Slug) {
			if !strings.Contains(flowing(rounds), c.Text) {
				t.Errorf("rounds %s does not say %q", tr.Slug, c.Text)
			}
		}
	}
	check("fits", answered(t, "fits", "--today", "2026-07-25"))
}

// The target is that of the ingredient. Held against 90 % formic acid that did
// what it does would not have worked, and held against 68 % strips that did
// not would have.
func TestTargetByIngredient(t *testing.T) {
	for _, c := range []struct {
		treatment, after string
		want, naive      decide.Answer
	}{
		{"formic-evaporation", "wash:4/300@2026-09-01", decide.Worked, decide.CannotTell},
		{"amitraz-strip", "wash:4/300@2026-10-25", decide.CannotTell, decide.Worked},
	} {
		args := []string{"worked", "--before", "wash:30/300@2026-07-30", "--after", c.after, "--treatment", c.treatment, "--treated", "2026-08-01", "--today", "2026-10-26", "--format", "json"}
		for target, want := range map[string]decide.Answer{"": c.want, "0.9": c.naive} {
			run := args
			if target != "" {
				run = append(slices.Clone(args), "--target", target)
			}
			var got struct {
				Answer      decide.Answer `json:"answer"`
				LowPercent  float64       `json:"low_percent"`
				HighPercent float64       `json:"high_percent"`
			}
			if err := json.Unmarshal([]byte(answered(t, run...)), &got); err != nil {
				t.Fatal(err)
			}
			if got.Answer != want {
				t.Errorf("%s, target %q: %s, want %s (%v to %v)", c.treatment, target, got.Answer, want, got.LowPercent, got.HighPercent)
			}
		}
	}
}

// Without brood a round takes its kill, two rounds 1-(1-e)², and what rounds
// promise is that.
func TestPromised(t *testing.T) {
	tr, err := sampling.FindTreatment("oxalic-vapour")
	if err != nil {
		t.Fatal(err)
	}
	day, _ := sampling.ParseDate("2026-12-15")
	for n := 1; n <= 2; n++ {
		a := worked{treatment: &tr}
		for i := range n {
			a.course.Rounds = append(a.course.Rounds, day+sampling.Date(7*i))
		}
		a.course.First, a.course.Last = day, a.course.Rounds[n-1]
		got, ok := a.promised()
		kills := decide.KillRange(tr.KillNoBrood)
		for i, v := range []float64{got.Low, got.Middle, got.High} {
			if want := 1 - math.Pow(1-kills[i], float64(n)); !ok || !(math.Abs(v-want) <= 1e-9) {
				t.Errorf("%d rounds: %v, want %v", n, v, want)
			}
		}
	}
	strips, _ := sampling.FindTreatment("amitraz-strip")
	if _, ok := (&worked{treatment: &strips, course: decide.Course{Rounds: []sampling.Date{day}}}).promised(); ok {
		t.Error("the model of rounds promises something of strips")
	}
}

// A forecast that is no weather is asked back, never guessed.
func TestFahrenheitIsAsked(t *testing.T) {
	for typed, want := range map[string]string{"88": "°F? | 31", "51": "°F? | 11", "150": "no weather", "-40": "no weather", "1e2": "not a number"} {
		_, err := answer("fits", "--temperature="+typed)
		for _, part := range strings.Split(want, " | ") {
			if err == nil || !strings.Contains(err.Error(), part) {
				t.Errorf("%s: %v, want %q", typed, err, part)
			}
		}
	}
}
