package treat

import (
	"encoding/json"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/internal/long"
	"halfcup/sampling"
)

// An invented plan of every year.
var millPlan = []string{"plan", "--today", "2026-11-26", "--treat", "03-25:oxalic-vapour*4/5d", "--treat", "07-28:formic-evaporation", "--or", "oxalic-strip", "--treat", "12-15:oxalic-trickle", "--supers", "05-01..07-20"}

// planAnswer is what the tests read of the answer.
type planAnswer struct {
	From   string  `json:"from"`
	Whence string  `json:"plan_is"`
	Unseen float64 `json:"chance_unseen"`
	After  float64 `json:"chance_unseen_counted"`
	Enough bool    `json:"counts_are_enough"`
	Steps  []struct {
		Notation string  `json:"notation"`
		Or       *string `json:"or"`
	} `json:"steps"`
	Weeks   []struct{}   `json:"weeks"`
	Counts  []struct{}   `json:"counts"`
	Minutes float64      `json:"minutes"`
	Killed  int          `json:"bees_killed"`
	Beside  []besideJSON `json:"beside"`
	Holes   []struct {
		Kind string `json:"kind"`
	} `json:"holes"`
}

func yearOfPlan(t *testing.T, args ...string) planAnswer {
	t.Helper()
	var p planAnswer
	if err := json.Unmarshal([]byte(answered(t, append(slices.Clone(args), "--format", "json")...)), &p); err != nil {
		t.Fatal(err)
	}
	return p
}

// The answer to "does mine hold, where not, what is the least": three sentences
// and never more than a page.
func TestPlanIsThreeSentencesAndAPage(t *testing.T) {
	for name, args := range map[string][]string{
		"mill":   millPlan,
		"weak":   {"plan", "--today", "2026-11-26", "--treat", "07-28:formic-evaporation", "--treat", "12-15:oxalic-trickle", "--supers", "05-01..07-20"},
		"vapour": {"plan", "--today", "2027-02-01", "--treat", "08-01:oxalic-vapour*4/5d", "--arrivals", "many", "--colonies", "40"},
		"strips": {"plan", "--today", "2027-02-01", "--treat", "04-01:amitraz-strip", "--treat", "08-05:thymol", "--treat", "12-20:oxalic-trickle", "--supers", "05-01..07-20"},
	} {
		if !long.Tests && (name == "weak" || name == "vapour") {
			continue
		}
		t.Run(name, func(t *testing.T) {
			text := body(answered(t, args...))
			lines := strings.Split(strings.TrimSpace(text), "\n")
			if len(lines) > 24 {
				t.Errorf("%d lines:\n%s", len(lines), text)
			}
			if !strings.HasPrefix(text, "Your plan ") || !strings.Contains(flowing(text), "The hole is ") {
				t.Errorf("it begins\n%s", text)
			}
			for _, l := range lines {
				if len([]rune(l)) > 80 {
					t.Errorf("wide: %s", l)
				}
			}
			for _, dose := range []string{" ml", " g ", "gram", "litre", "%"} {
				if strings.Contains(text, dose) {
					t.Errorf("%q stands in it", dose)
				}
			}
		})
	}
}

// What is written down with --save, and drawn with --plot, the scripts look at.
func TestPlanJSON(t *testing.T) {
	p := yearOfPlan(t, append(slices.Clone(millPlan), "--beside", "08-01:oxalic-vapour*4/5d, 12-15:oxalic-trickle")...)
	switch {
	case p.From != "2026-11-03" || len(p.Steps) != 3 || len(p.Weeks) != 52:
		t.Errorf("from %s, %d steps, %d weeks", p.From, len(p.Steps), len(p.Weeks))
	case !(p.Unseen > 0.05 && p.After < 0.05) || !p.Enough:
		t.Errorf("%.3f, counted %.3f", p.Unseen, p.After)
	case len(p.Counts) < 1 || len(p.Counts) > 6 || p.Killed != 0 || !(p.Minutes > 0):
		t.Errorf("%d counts", len(p.Counts))
	case len(p.Beside) != 2 || !(p.Beside[1].Unseen > p.Beside[0].Unseen) || p.Beside[0].Treatments != 6:
		t.Errorf("beside: %+v", p.Beside)
	case p.Steps[0].Notation != "12-15:oxalic-trickle" || p.Steps[2].Or == nil || *p.Steps[2].Or != "oxalic-strip":
		t.Errorf("steps: %+v", p.Steps)
	}
	// The plan names what is used when it is too hot, and supers are off.
	for _, h := range p.Holes {
		if h.Kind == "too hot" || h.Kind == "under supers" {
			t.Errorf("%+v", h)
		}
	}
}

func mustDay(s string) sampling.Date {
	d, err := sampling.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func TestPlanErrorsPointAtTheStep(t *testing.T) {
	for _, tt := range []struct{ step, mark, want string }{
		{"07-28 formic", "07-28 formic", "a day of the year and a treatment"},
		{"2026-07-28:formic-evaporation", "2026-07-28", "leave out the year"},
		{"13-01:thymol", "13-01", "not a month and a day"},
		{"02-29:thymol", "02-29", "not in every year"},
		{"07-28:formik", "formik", "is not a treatment"},
		{"03-25:oxalic-vapour*4", "4", "how far apart"},
		{"03-25:oxalic-vapour*x/5d", "x", "not a number of rounds"},
		{"03-25:oxalic-vapour*4/99d", "99d", "not a number of days"},
		{"07-28:thymol or smoke", "smoke", "is not a treatment"},
	} {
		_, err := parseStep(tt.step)
		var e *sampling.SyntaxError
		if !errors.As(err, &e) {
			t.Errorf("%s: %v", tt.step, err)
			continue
		}
		if got := e.Input[e.Offset:min(len(e.Input), e.Offset+e.Length)]; got != tt.mark || !strings.Contains(e.Problem+e.Remedy, tt.want) {
			t.Errorf("%s: %q is marked: %s: %s", tt.step, got, e.Problem, e.Remedy)
		}
	}
	for name, args := range map[string][]string{
		"none comes from this program": {"plan", "--today", "2026-11-26"},
		"no step is left":              {"plan", "--treat", "12-15:oxalic-trickle", "--or", "thymol"},
		"more than three":              {"plan", "--treat", "12-15:oxalic-trickle", "--beside", "12-15:oxalic-trickle", "--beside", "12-15:oxalic-trickle", "--beside", "12-15:oxalic-trickle"},
		"is an SVG file":               {"plan", "--treat", "12-15:oxalic-trickle", "--plot", "year.png"},
		"no colony to write":           {"plan", "--treat", "12-15:oxalic-trickle", "--save", "--today", "2026-11-26"},
	} {
		t.Chdir(t.TempDir())
		if _, err := answer(args...); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("want %q: %v", name, err)
		}
	}
}

func notations(p planAnswer) []string {
	var out []string
	for _, s := range p.Steps {
		out = append(out, s.Notation)
	}
	return out
}

func TestPlanOfTheSettings(t *testing.T) {
	t.Chdir(t.TempDir())
	write := func(text string) {
		if err := os.WriteFile("halfcup.toml", []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	write("[plan]\ntreat = [\"07-28:formic-evaporation or oxalic-strip\", \"12-15:oxalic-trickle\"]\n\n[season]\nsupers = \"05-01..07-20\"\n")
	p := yearOfPlan(t, "plan", "--today", "2026-11-26")
	if got := notations(p); len(got) != 2 || got[1] != "07-28:formic-evaporation or oxalic-strip" || p.Whence != "of your settings" {
		t.Errorf("%v, %s", got, p.Whence)
	}
	write("[plan]\ntreat = [\"07-28:formik\"]\n")
	if _, err := answer("plan"); err == nil || !strings.Contains(err.Error(), "halfcup.toml, line 2") && !strings.Contains(err.Error(), "halfcup.toml:2") {
		t.Errorf("%v", err)
	}
}

// A step is written as it is read.
func TestStepNotation(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := step{treatment: rapid.SampledFrom(sampling.Treatments()).Draw(r, "treatment"), rounds: rapid.IntRange(1, mostRoundsOfStep).Draw(r, "rounds")}
		s.on = mustDay("2023-01-01").Time().AddDate(0, 0, rapid.IntRange(0, 364).Draw(r, "day"))
		if s.rounds > 1 {
			s.every = rapid.IntRange(1, mostDaysApart).Draw(r, "every")
		}
		if rapid.Bool().Draw(r, "or") {
			or := rapid.SampledFrom(sampling.Treatments()).Draw(r, "instead")
			s.or = &or
		}
		again, err := parseStep(s.notation())
		if err != nil || again.notation() != s.notation() || !again.on.Equal(s.on) {
			r.Fatalf("%s is read as %s: %v", s.notation(), again.notation(), err)
		}
	})
}

func FuzzStep(f *testing.F) {
	for _, s := range []string{"03-25:oxalic-vapour*4/5d", "07-28:formic-evaporation or oxalic-strip", "*:/ or ", "02-29:x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := parseStep(text)
		var e *sampling.SyntaxError
		switch {
		case err == nil && (s.rounds < 1 || s.treatment.Slug == ""):
			t.Errorf("%q: %+v", text, s)
		case errors.As(err, &e) && (e.Offset < 0 || e.Offset > len(text)):
			t.Errorf("%q: the fault is at %d", text, e.Offset)
		}
	})
}
