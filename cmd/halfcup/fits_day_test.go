package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Who is told to treat once, when no brood is sealed, asks what fits on that day.
//
// Naive, fits judges by today: on 12 November it had the trickle "weak beside
// sealed brood" and vapour as a maybe, and under them "Treat once, from 27 Nov".
func TestFitsIsOfTheDayThatIsCalledFor(t *testing.T) {
	const today = "2026-11-12"
	text, err := os.ReadFile(seasonRecord)
	if err != nil {
		t.Fatal(err)
	}
	head, rest, _ := strings.Cut(string(text), "\n")
	rows := slices.DeleteFunc(strings.SplitAfter(rest, "\n"), func(row string) bool { return row == "" || row[:10] > today })
	log := filepath.Join(t.TempDir(), "mill.csv")
	writeFile(t, log, head+"\n"+strings.Join(rows, ""))
	on := []string{"--colony", "beech", "--log", log, "--today", today}

	type fits struct {
		On         string `json:"treated_on"`
		Brood      bool   `json:"capped_brood"`
		Treatments []struct{ Treatment, Group string }
	}
	group := func(f fits, slug string) string {
		for _, o := range f.Treatments {
			if o.Treatment == slug {
				return o.Group
			}
		}
		return ""
	}
	var called, seen fits
	if err := hear(&called, append([]string{"fits"}, on...)...); err != nil {
		t.Fatal(err)
	}
	if err := hear(&seen, append([]string{"fits", "--brood", "yes"}, on...)...); err != nil {
		t.Fatal(err)
	}
	if called.On <= today || called.Brood || group(called, "oxalic-trickle") != "fits" {
		t.Errorf("called for: %+v", called)
	}
	if seen.On != today || !seen.Brood || group(seen, "oxalic-trickle") != "not now" {
		t.Errorf("brood was seen today: %+v", seen)
	}

	// The calendar has the same day.
	var year struct {
		Events []struct {
			Duties []dutyHeard
		}
	}
	if err := hear(&year, "calendar", "--yard", "mill", "--log", log, "--today", today); err != nil {
		t.Fatal(err)
	}
	day := ""
	for _, e := range year.Events {
		for _, d := range e.Duties {
			if d.Kind == "treat" && d.Colony == "beech" {
				day = d.Date
			}
		}
	}
	if day != called.On {
		t.Errorf("fits is of %s, and the calendar has the treatment on %q", called.On, day)
	}
}
