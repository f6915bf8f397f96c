package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
)

// planHeard is what is read of a plan.
type planHeard struct {
	For   []struct{ Colony string }
	Steps []struct {
		Notation, First, Treatment, Group, Sentence string
		Objections                                  []string
	}
	Unseen float64 `json:"chance_unseen"`
}

func (p planHeard) who() string {
	var out []string
	for _, k := range p.For {
		out = append(out, k.Colony)
	}
	return strings.Join(out, " ")
}

func (p planHeard) what() string {
	var out []string
	for _, s := range p.Steps {
		out = append(out, s.Notation)
	}
	return strings.Join(out, " ")
}

// plansHeard are the plans of the record on a day.
func plansHeard(t *testing.T, args ...string) (plans []planHeard, without string) {
	t.Helper()
	_, text, err := asked(append([]string{"plan"}, args...)...)
	if err != nil {
		t.Fatal(err)
	}
	var several struct {
		Plans   []planHeard
		Without []struct{ Colony string }
	}
	var one planHeard
	for _, into := range []any{&several, &one} {
		if err := json.Unmarshal(text, into); err != nil {
			t.Fatal(err)
		}
	}
	if several.Plans == nil {
		return []planHeard{one}, ""
	}
	for _, k := range several.Without {
		without += k.Colony + " "
	}
	return several.Plans, strings.TrimSpace(without)
}

// invented rows: one yard in which not all colonies get the same.
const plannedRows = `date,yard,colony,event,method,mites,amount,active,application,until,mark
2025-08-20,mill,elm,treatment,,,,amitraz,strip,,
2025-10-01,mill,elm,treatment-end,,,,amitraz,strip,,
2026-04-05,mill,elm,inspection,,,,,,,
2026-04-05,mill,oak,inspection,,,,,,,
2026-04-05,mill,ash,inspection,,,,,,,
2026-04-05,mill,fir,inspection,,,,,,,
2026-07-24,mill,elm,treatment,,,,amitraz,strip,2026-09-12,planned
2026-07-28,mill,oak,treatment,,,,formic acid,evaporation,,planned
2026-07-28,mill,ash,treatment,,,,formic acid,evaporation,,planned
`

// What is planned for one colony is no part of the plan of another.
//
// Naive, the planned rows of a record are one plan, whosever they are: of elm's
// strips and oak's acid it says "two at once", of a colony that gets both, and
// that such a colony is safer than any in the yard.
func TestPlansOfTheRecordAreOfTheirColonies(t *testing.T) {
	t.Chdir(t.TempDir())
	writeFile(t, "halfcup.csv", plannedRows)
	const day = "2026-04-20"
	naive, _ := plansHeard(t, "--today", day, "--treat", "07-24:amitraz-strip", "--treat", "07-28:formic-evaporation")
	if s := fmt.Sprint(naive[0].Steps[1].Objections); !strings.Contains(s, "two at once") {
		t.Fatalf("the plan of both says %s: it no longer shows the fault", s)
	}
	plans, without := plansHeard(t, "--today", day)
	if len(plans) != 2 || without != "fir" {
		t.Fatalf("%d plans, none for %q", len(plans), without)
	}
	for i, want := range []struct{ who, what string }{{"elm", "07-24:amitraz-strip"}, {"oak ash", "07-28:formic-evaporation"}} {
		p := plans[i]
		if p.who() != want.who || p.what() != want.what || strings.Contains(fmt.Sprint(p.Steps[0].Objections), "two at once") {
			t.Errorf("plan %d is %s of %s: %v", i, p.what(), p.who(), p.Steps)
		}
		if !(p.Unseen > naive[0].Unseen) {
			t.Errorf("%s: %.3f unseen, of a colony that gets both %.3f", p.who(), p.Unseen, naive[0].Unseen)
		}
		for _, name := range strings.Fields(want.who) {
			if own, _ := plansHeard(t, "--today", day, "--colony", name); len(own) != 1 || own[0].who() != name || own[0].what() != want.what || own[0].Unseen != p.Unseen {
				t.Errorf("%s alone: %+v", name, own)
			}
		}
	}
	text := strings.Join(strings.Fields(strings.Join(said(t, []string{"--today", day}, "plan"), " ")), " ")
	for _, want := range []string{"The plan of elm at mill (24 July amitraz strips) ", "The plan of oak and ash at mill (28 July formic acid) ", "Nothing is planned for fir."} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
}

// The calendar, fits and the plan tell of the same days, and what they say of a
// treatment on its day is the same: elm had amitraz the year before, so that the
// same group follows.
//
// Naive, the plan takes itself to have been followed the year before too, and
// warns of oak and ash of what nobody gave them.
func TestPlanOfTheRecordIsThatOfTheCalendar(t *testing.T) {
	t.Chdir(t.TempDir())
	writeFile(t, "halfcup.csv", plannedRows)
	const day = "2026-04-20"
	var calendar struct {
		Events []struct {
			Kind   string
			Duties []struct{ Kind, Colony, Date, Treatment string }
		}
	}
	_, text, err := asked("calendar", "--yard", "mill", "--today", day)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &calendar); err != nil {
		t.Fatal(err)
	}
	var ofCalendar, ofPlan []string
	for _, e := range calendar.Events {
		for _, d := range e.Duties {
			if d.Kind == "planned treatment" {
				ofCalendar = append(ofCalendar, d.Colony+" "+d.Date+" "+d.Treatment)
			}
		}
	}
	plans, _ := plansHeard(t, "--today", day)
	for _, p := range plans {
		for _, s := range p.Steps {
			for _, k := range p.For {
				ofPlan = append(ofPlan, k.Colony+" "+s.First+" "+s.Treatment)
			}
			again := slices.ContainsFunc(s.Objections, func(o string) bool { return strings.HasPrefix(o, "the same group") })
			if again != (p.who() == "elm") {
				t.Errorf("%s: %v", p.who(), s.Objections)
			}
			_, text, err := asked("fits", "--colony", p.For[0].Colony, "--today", s.First)
			if err != nil {
				t.Fatal(err)
			}
			var fits struct {
				Treatments []struct{ Treatment, Group, Sentence string }
			}
			if err := json.Unmarshal(text, &fits); err != nil {
				t.Fatal(err)
			}
			for _, f := range fits.Treatments {
				if f.Treatment == s.Treatment && (f.Group != s.Group || f.Sentence != s.Sentence) {
					t.Errorf("%s on %s: fits says %s, %q; the plan %s, %q", p.who(), s.First, f.Group, f.Sentence, s.Group, s.Sentence)
				}
			}
		}
	}
	slices.Sort(ofCalendar)
	slices.Sort(ofPlan)
	if len(ofPlan) != 3 || !slices.Equal(ofCalendar, ofPlan) {
		t.Errorf("the calendar has %q, the plans %q", ofCalendar, ofPlan)
	}
}

// What is done stays in the plan of its year, on the day it was done and until
// the day of its label.
//
// Naive, only what is still planned is the plan: the year whose treatments are
// all given has none, and one of two reads as half a plan.
func TestPlanKeepsWhatIsDone(t *testing.T) {
	t.Chdir(t.TempDir())
	writeFile(t, "halfcup.csv", plannedRows)
	var stdout, stderr bytes.Buffer
	if code := run([]string{"log", "done", "elm", "--today", "2026-07-26"}, strings.NewReader(""), &stdout, &stderr); code != 0 {
		t.Fatal(stderr.String())
	}
	before, _ := plansHeard(t, "--today", "2026-04-20", "--colony", "elm")
	after, _ := plansHeard(t, "--today", "2026-07-27", "--colony", "elm")
	if after[0].what() != "07-24:amitraz-strip" || after[0].Unseen != before[0].Unseen {
		t.Errorf("%s, %.4f; before %.4f", after[0].what(), after[0].Unseen, before[0].Unseen)
	}
	for _, name := range []string{"--beside", "--plot"} {
		stderr.Reset()
		value := map[string]string{"--beside": "12-15:oxalic-trickle", "--plot": "year.svg"}[name]
		if code := run([]string{"plan", name, value, "--today", "2026-04-20"}, strings.NewReader(""), &stdout, &stderr); code == 0 || !strings.Contains(stderr.String(), "name a colony with --colony") {
			t.Errorf("%s: exit %d: %s", name, code, &stderr)
		}
	}
}
