package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/internal/long"
)

// Names that look like others, and names that a spreadsheet would run.
const (
	turned  = "al\u202eder\u200b"
	yardOf  = "mi\u2066ll"
	formula = "=1+cmd|alder"
)

// shapeless are the marks in a text that turn or hide what stands around them.
func shapeless(s string) (found []string) {
	for _, r := range s {
		if r >= 0x80 && unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp) {
			found = append(found, string(r))
		}
	}
	return found
}

// wildRecord is a record of such names, in all kinds of rows.
func wildRecord(t *testing.T, third string) string {
	t.Helper()
	quoted := func(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }
	var b strings.Builder
	b.WriteString("date,yard,colony,event,method,mites,amount,active,application,pair,note,mark,stand,observer\n")
	for _, name := range []string{turned, formula, third} {
		for _, row := range []string{
			"2026-05-20,Y,N,count,wash,3,300,,,,T,,1,O", "2025-06-20,Y,N,count,wash,5,300,,,,,,,O", "2026-06-01,Y,N,treatment,,,,formic acid,evaporation,,T,,,",
			"2026-06-20,Y,N,count,wash,9,300,,,,T,,,", "2026-06-20,Y,N,count,roll,6,300,,,,,,,", "2026-08-20,Y,N,treatment,,,,oxalic acid,vapour,,,planned,,", "2026-06-19,Y,N,inspection,,,,,,,T,,,",
		} {
			b.WriteString(strings.NewReplacer("Y", quoted(yardOf), "N", quoted(name), "T", quoted("@sum\u2067 of "+name), "O", quoted("E\u200fva")).Replace(row) + "\n")
		}
	}
	b.WriteString("2026-06-20," + yardOf + ",st\u202cart,split,,,,,," + turned + ",,,,\n")
	b.WriteString("2026-06-20," + yardOf + ",st\u202carx,inspektion,,,,,," + turned + ",,,,\n") // cannot be read
	return b.String()
}

// Every command says such names with what is wrong with them, in text, JSON and
// CSV, on stdout and stderr, and in the files it writes. Without the long tests
// only the first line of a command is asked in all three. Naive: only the table
// of a yard does. Only the rows of the record and the beekeeper's own table come
// back as they are, as they are there to be read again.
func TestMarksAreWrittenOut(t *testing.T) {
	lines := map[string][][]string{
		"estimate": {{"--colony", turned, "--yard", yardOf}, {"--colony", turned, "wash:3/300"}, {"--colony", "al\u202edre"}}, "enough": {{"--colony", turned}}, "choose": {{"--colony", turned}}, "tally": {{"--colony", turned, "2/100", "0/100"}},
		"fits": {{"--colony", turned}, {"--yard", yardOf}}, "rounds": {{"--colony", turned}}, "worked": {{"--colony", turned}, {"--yard", yardOf}, {"--yard", yardOf, "--treated", "2026-06-01"}},
		"plan":     {{"--colony", turned, "2026-08-01:formic-evaporation", "--plot", "plan.svg"}, {"2026-08-01:formic-evaporation", "nonsense\u202e"}},
		"forecast": {{"--colony", turned, "--plot", "ahead.svg"}},
		"calendar": {{"--yard", yardOf, "--ics", "year.ics"}, {}},
		"yard":     {{yardOf, "--html", "yard.html"}, {}, {"--compare"}, {yardOf, "--plan"}, {"mi\u2066lk"}},
		"add":      {{yardOf, turned + "=3", "birch=4"}, {yardOf, "al\u202edr=3"}},
		"undo":     {{}, {"--rows", "1"}},
		"log add":  {{"--yard", yardOf, "--colony", turned, "--note", "no\u202ate", "wash:1/300"}, {"--yard", yardOf, "--colony", formula, "--event", "inspection", "--note", "=2+2\u200e"}, {"--event", "united", "--colony", turned, "--pair", "ce\u2069dar"}},
		"log done": {{"--colony", turned}, {"--yard", yardOf, "--date", "2026-08-20"}}, "log list": {{}, {"--colony", turned}, {"--treatments"}}, "log check": {{}},
		"log merge": {{"other.csv"}}, "log rename": {{turned, "al\u202eder", "--yard", yardOf}, {turned, formula, "--yard", yardOf}}, "calibrate": {{"--pair", "roll:2/300,wash:4/300", "--colony", turned, "--save"}, {}},
		"batch":   {{"table.csv", "--rejects", "rejects.csv"}},
		"sources": {{}}, "review": {{}}, "completion": {{"bash"}}, "man": {{}}, "log": {{}},
	}
	kept := map[string]bool{"log list": true, "log add": true, "add": true, "log done": true, "log rename": true, "undo": true, "log merge": true, "batch": true} // tables that are read again
	for _, c := range halfcup().App(&line.Shell{}).Commands {
		names := []string{c.Name}
		if c.Name == "log" {
			for _, sub := range c.Subcommands {
				names = append(names, "log "+sub.Name)
			}
		}
		for _, name := range names {
			if lines[name] == nil {
				t.Errorf("nothing is asked of %s", name)
			}
		}
	}
	record := wildRecord(t, "birch")
	said := 0
	for command, all := range lines {
		for i, args := range all {
			formats := []string{"text", "json", "csv"}
			if i > 0 && !long.Tests {
				formats = formats[i%3:][:1]
			}
			for _, format := range formats {
				t.Chdir(t.TempDir())
				writeFile(t, "halfcup.csv", record)
				writeFile(t, "other.csv", strings.ReplaceAll(record, "2026-05-20", "2026-05-21"))
				writeFile(t, "table.csv", "na\u202eme,method,mites,bees\n"+turned+",wash,3,300\n"+turned+",wash,x\u202e,300\n")
				typed := append(append(strings.Fields(command), args...), "--format", format, "--today", "2026-06-25")
				var out, errs bytes.Buffer
				run(typed, strings.NewReader(""), &out, &errs)
				texts := map[string]string{"stdout": out.String(), "stderr": errs.String()}
				if format == "csv" && kept[command] {
					delete(texts, "stdout")
				}
				files, err := os.ReadDir(".")
				if err != nil {
					t.Fatal(err)
				}
				for _, f := range files {
					if ending := filepath.Ext(f.Name()); ending != ".csv" && ending != "" {
						text, err := os.ReadFile(f.Name())
						if err != nil {
							t.Fatal(err)
						}
						texts[f.Name()] = string(text)
					}
				}
				for where, text := range texts {
					if found := shapeless(text); found != nil {
						t.Errorf("%q: %s holds %q\n%s", typed, where, found, text)
					}
					said += strings.Count(text, `al\u202eder`)
				}
			}
		}
	}
	if said < 100 {
		t.Errorf("the name is said %d times: the test shows nothing", said)
	}
}

// The rows that are listed are a record again: the same events, whatever their
// names and notes are, and no cell of it is one that a spreadsheet runs.
func TestListedRowsAreARecord(t *testing.T) {
	t.Chdir(t.TempDir())
	writeFile(t, "halfcup.csv", wildRecord(t, "'=bir\"ch"))
	var out, errs bytes.Buffer
	run([]string{"log", "list", "--format", "csv", "--today", "2026-06-25"}, nil, &out, &errs)
	want, err := fieldlog.Open("halfcup.csv")
	if err != nil {
		t.Fatal(err)
	}
	got, err := fieldlog.Read("listed.csv", bytes.NewReader(out.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Events) != len(want.Events) || len(want.Problems) != 1 {
		t.Fatalf("%d events, want %d\n%s", len(got.Events), len(want.Events), errs.String())
	}
	for i, e := range want.ByDate() {
		if g := got.Events[i]; !fieldlog.SameFact(g, e) || g.Colony != e.Colony || g.Yard != e.Yard || g.Note != e.Note || g.Observer != e.Observer {
			t.Errorf("%+v\ncame back as\n%+v", e, g)
		}
	}
	if !strings.Contains(out.String(), ",'"+formula+",") || strings.Contains(out.String(), ","+formula) {
		t.Errorf("a formula is not written as text\n%s", out.String())
	}
}

// What batch writes of a table is the same when it is run on it again, and so
// are the rows that could not be read.
func TestBatchWritesNoFormula(t *testing.T) {
	t.Chdir(t.TempDir())
	writeFile(t, "table.csv", "=na,method,mites,bees,note\n=1+1,wash,3,300,-\n'=1+1,wash,4,300,-4\n@x,wash,many,300,\"+a\"\n")
	var last string
	for _, in := range []string{"table.csv", "out.csv", "again.csv"} {
		to := map[string]string{"table.csv": "out.csv", "out.csv": "again.csv", "again.csv": "third.csv"}[in]
		var out, errs bytes.Buffer
		run([]string{"batch", in, to, "--rejects", "rejects-" + to, "--date", "2026-06-01"}, nil, &out, &errs)
		text, err := os.ReadFile(to)
		if err != nil {
			t.Fatalf("%v\n%s", err, errs.String())
		}
		if got := string(text); !strings.HasPrefix(got, "'=na,") || strings.Contains(got, "\n=") || last != "" && got != last {
			t.Errorf("%s is\n%s\nand was\n%s", to, got, last)
		}
		last = string(text)
	}
	rejects, err := os.ReadFile("rejects-out.csv")
	if err != nil || !strings.Contains(string(rejects), "'=na") || !strings.Contains(string(rejects), "'@x") || !strings.Contains(string(rejects), "'+a") {
		t.Errorf("%v\n%s", err, rejects)
	}
}
