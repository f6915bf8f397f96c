package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/sampling"
)

// reviewed writes an invented yard of twenty colonies, washed on six days, into
// a record. In tree 01 mites grow least, in tree 20 most.
func reviewed(t *testing.T, name string) {
	t.Helper()
	var rec strings.Builder
	rec.WriteString("date,yard,colony,event,method,mites,amount,active,application,note\n")
	for i := range 20 {
		colony := fmt.Sprintf("tree %02d", i+1)
		for k := range 6 {
			mites := 3 * math.Exp((-0.15+0.06*float64(i))*float64(k))
			day := sampling.Day(2026, 4, 20) + sampling.Date(30*k)
			fmt.Fprintf(&rec, "%s,mill,%s,count,wash,%d,300,,,invented\n", day, colony, int(math.Round(mites)))
		}
		for _, day := range []string{"2026-10-01", "2026-10-08"} {
			fmt.Fprintf(&rec, "%s,mill,%s,treatment,,,,oxalic acid,vapour,\n", day, colony)
		}
		fmt.Fprintf(&rec, "2026-08-27,mill,%s,treatment,,,,formic acid,evaporation,\n", colony)
	}
	writeFile(t, name, rec.String())
}

// A review of twenty colonies is two screens of fifty lines in all at most,
// nothing wider than 80 columns, and names only some of the five slowest, the
// slowest first, with how far that can be trusted.
func TestReviewOfTwentyColonies(t *testing.T) {
	t.Chdir(t.TempDir())
	reviewed(t, "mill.csv")
	asked := []string{"review", "--log", "mill.csv", "--today", "2026-12-31"}
	var stdout, stderr bytes.Buffer
	if code := run(asked, nil, &stdout, &stderr); code != line.ExitDone {
		t.Fatalf("exit %d\n%s", code, &stderr)
	}
	text := strings.TrimRight(stdout.String(), "\n")
	lines := strings.Split(text, "\n")
	if len(lines) > 50 {
		t.Errorf("%d lines", len(lines))
	}
	rows := 0
	for _, l := range lines {
		if utf8.RuneCountInString(l) > 80 {
			t.Errorf("too wide: %s", l)
		}
		if strings.HasPrefix(l, "tree ") {
			rows++
		}
	}
	if rows != 20 {
		t.Errorf("%d rows for 20 colonies", rows)
	}
	t.Log("\n" + text)
	stdout.Reset()
	if code := run(append(asked, "--format", "json"), nil, &stdout, &stderr); code != line.ExitDone {
		t.Fatalf("exit %d\n%s", code, &stderr)
	}
	var year struct {
		Slow  []string `json:"slow"`
		Wrong float64  `json:"slow_wrong_expected"`
		Next  []string `json:"next_year"`
	}
	if err := json.Unmarshal(stdout.Bytes(), &year); err != nil {
		t.Fatal(err)
	}
	if n := len(year.Slow); n == 0 || n > 5 || year.Slow[0] != "tree 01" || year.Slow[n-1] > "tree 05" {
		t.Errorf("slow: %v", year.Slow)
	}
	if !(year.Wrong > 0 && year.Wrong < 0.2*float64(len(year.Slow))) || len(year.Next) != 3 {
		t.Errorf("%+v", year)
	}
	if !strings.Contains(text, "no proof of resistance") || !strings.Contains(text, "chance alone would name") {
		t.Error("how far the names can be trusted is not told")
	}
}
