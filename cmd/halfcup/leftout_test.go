package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
)

const threeCounts = "date,colony,event,method,mites,amount\n2026-06-01,alder,count,wash,3,300\n2026-06-01,birch,count,wash,9,300\n2026-06-01,cedar,count,wash,0,300\n"

// Rows that no answer can use change nothing in the answer: it is that of the
// record without them, with exit 3 and every row told.
func TestBadRowsAreLeftOut(t *testing.T) {
	t.Chdir(t.TempDir())
	const bad = "2026-06-02,hazel,inspektion,,,\n1926-06-02,alder,count,wash,90,300\n2026-06-03,birch,count,wash,-3,300\n"
	for _, typed := range []string{"yard", "estimate --colony alder", "forecast --colony birch", "calendar"} {
		answer := func(record string) (stdout, stderr string, code int) {
			writeFile(t, "halfcup.csv", record)
			var out, errs bytes.Buffer
			code = run(append(strings.Fields(typed), "--format", "csv", "--today", "2026-06-20"), nil, &out, &errs)
			return out.String(), errs.String(), code
		}
		want, _, code := answer(threeCounts)
		if code != line.ExitDone {
			t.Fatalf("%s: exit %d", typed, code)
		}
		got, errs, code := answer(threeCounts + bad)
		if code != line.ExitBadData || got != want {
			t.Errorf("%s: exit %d\n%s\nwithout the rows:\n%s", typed, code, got, want)
		}
		for _, place := range []string{"halfcup.csv:5:18: \"inspektion\"", "halfcup.csv:6:1: this count lies 100 years back", "halfcup.csv:7:29: the number of mites is below zero"} {
			if !strings.Contains(errs, "halfcup: left out: "+place) {
				t.Errorf("%s: %s is not told\n%s", typed, place, errs)
			}
		}
	}
}

// Five are told in full, the others by their number; JSON tells them as well.
func TestManyBadRowsAreToldShortly(t *testing.T) {
	t.Chdir(t.TempDir())
	record := threeCounts
	for i := range 40 {
		record += fmt.Sprintf("2026-06-%02d,alder,inspektion,,,\n", 1+i%28)
	}
	writeFile(t, "halfcup.csv", record)
	var out, errs bytes.Buffer
	code := run([]string{"yard", "--format", "json", "--today", "2026-06-20"}, nil, &out, &errs)
	var answer struct{ Warnings []say.Warning }
	if err := json.Unmarshal(out.Bytes(), &answer); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(errs.String(), "is not an event"); code != line.ExitBadData || n != 5 || !strings.HasSuffix(errs.String(), "and 35 more: halfcup log check\n") {
		t.Errorf("exit %d\n%s", code, errs.String())
	}
	if n := strings.Count(fmt.Sprint(answer.Warnings), "Left out: "); n != 6 {
		t.Errorf("%d warnings: %q", n, answer.Warnings)
	}
}

// What writes rows ends well although others are bad, or it would be typed
// again; undo is not misled by a bad row among the last.
func TestWritingBesideBadRows(t *testing.T) {
	t.Chdir(t.TempDir())
	undo := func(record string) (errs string, code int) {
		writeFile(t, "halfcup.csv", record)
		var out, e bytes.Buffer
		code = run([]string{"undo", "--rows", "1", "--today", "2026-06-20"}, nil, &out, &e)
		return e.String(), code
	}
	head, rows, _ := strings.Cut(threeCounts, "\n")
	bad := "2026-06-02,hazel,inspektion,,,\n"
	if errs, code := undo(head + "\n" + bad + rows); code != line.ExitDone || !strings.Contains(errs, "left out: halfcup.csv:2") {
		t.Errorf("exit %d\n%s", code, errs)
	}
	if errs, code := undo(threeCounts + bad); code != line.ExitBadData || !strings.Contains(errs, "stands among the last") {
		t.Errorf("exit %d\n%s", code, errs)
	}
	if text, _ := os.ReadFile("halfcup.csv"); string(text) != threeCounts+bad {
		t.Errorf("undo changed what it refused: %s", text)
	}
}

// A colony that was renamed is known to every command by its new name, with all
// that was written before; a device that does not know the new name yet adds
// nothing twice; and what is written for a day before the change goes to it.
func TestLogRename(t *testing.T) {
	t.Chdir(t.TempDir())
	writeFile(t, "halfcup.csv", threeCounts)
	writeFile(t, "phone.csv", threeCounts)
	do := func(want int, typed string) string {
		t.Helper()
		var out, errs bytes.Buffer
		if code := run(append(strings.Fields(typed), "--today", "2026-06-20"), strings.NewReader(""), &out, &errs); code != want {
			t.Fatalf("%s: exit %d\n%s%s", typed, code, &out, &errs)
		}
		return out.String() + errs.String()
	}
	before := do(line.ExitDone, "estimate --colony birch")
	do(line.ExitDone, "log rename birch willow")
	if after := do(line.ExitDone, "estimate --colony willow"); after != strings.ReplaceAll(before, "birch", "willow") {
		t.Errorf("before:\n%s\nafter:\n%s", before, after)
	}
	if told := do(line.ExitUsage, "estimate --colony birch"); !strings.Contains(told, "it is called willow since 2026-06-20") {
		t.Error(told)
	}
	for _, typed := range []string{"yard", "log list", "calendar"} {
		if told := do(line.ExitDone, typed); !strings.Contains(told, "willow") || strings.Contains(strings.ReplaceAll(told, "it was called birch", ""), "birch") {
			t.Errorf("%s:\n%s", typed, told)
		}
	}
	if told := do(line.ExitDone, "log merge phone.csv"); !strings.Contains(told, "0 rows from phone.csv") {
		t.Error(told)
	}
	if told := do(line.ExitDone, "add wash/300 2026-06-10 birch=4"); !strings.Contains(told, "willow 4") {
		t.Error(told)
	}
	for _, typed := range []string{"log rename cedar willow", "log rename cedar Cedar", "log rename elder oak", "log rename cedar oak --date 2026-06-21", "add renamed willow"} {
		do(line.ExitUsage, typed)
	}
	do(line.ExitDone, "undo")
	do(line.ExitDone, "undo --rows 2") // the taking back too
	if told := do(line.ExitDone, "log check"); strings.Contains(told, "willow") {
		t.Error(told)
	}
}
