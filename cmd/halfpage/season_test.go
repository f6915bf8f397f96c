package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"halfcup/cmd/halfpage/internal/answer"
	"halfcup/internal/long"
)

// The invented season and what the program said of it, kept by the test of
// cmd/halfcup that plays it.
const (
	seasonRecord = "../../testdata/season/record.csv"
	seasonSheets = "../../testdata/season/sheets.md"
)

// seasonRows are the rows of the season in their order.
func seasonRows(t *testing.T) []answer.Row {
	t.Helper()
	f, err := os.Open(seasonRecord)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []answer.Row
	for _, cells := range lines[1:] {
		r := answer.Row{}
		for i, name := range lines[0] {
			if cells[i] != "" {
				r[name] = cells[i]
			}
		}
		out = append(out, r)
	}
	return out
}

// writtenBy are the rows that stood in the record on a day: those before the
// first that tells of something done later. What was planned lies ahead of the
// day on which it was written.
func writtenBy(rows []answer.Row, day string) []answer.Row {
	for i, r := range rows {
		if r["mark"] != "planned" && r["date"] > day {
			return rows[:i]
		}
	}
	return rows
}

// askPage asks the engine of the page.
func askPage(t *testing.T, b *answer.Book, question, into any) {
	t.Helper()
	q, err := json.Marshal(question)
	if err != nil {
		t.Fatal(err)
	}
	text := b.Ask(q)
	var fault answer.Problem
	if err := json.Unmarshal(text, &fault); err == nil && fault.Error != "" {
		t.Fatalf("%s: %s", q, fault.Error)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatalf("%s: %v", q, err)
	}
}

// blocks are the blocks of a sheet by the command that they begin with, a yard's
// estimates under "estimate YARD".
func blocks(sheet string) map[string][]string {
	out := map[string][]string{}
	yard := ""
	for _, b := range strings.Split(sheet, "\n```\n$ halfcup ")[1:] {
		text, _, _ := strings.Cut(b, "\n```")
		lines := strings.Split(text, "\n")
		name := lines[0]
		if of, ok := strings.CutPrefix(name, "yard --yard "); ok {
			yard = of
		}
		if strings.HasPrefix(name, "estimate ") {
			name = "estimate " + yard
		}
		out[name] = lines[1:]
	}
	return out
}

// begins is what a block of estimates says of a colony, in one line.
func begins(lines []string, colony string) string {
	said, on := "", false
	for _, l := range lines {
		if !strings.HasPrefix(l, "  ") {
			on = strings.HasPrefix(l, colony+", ")
		}
		if on {
			said += " " + strings.TrimSpace(l)
		}
	}
	return flat(said)
}

func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// The page, which has its own record and its own way to the engine, is played
// the same year: of every colony of every sheet it says what the program said, in
// the same words, and its first screen has the rows of halfcup yard. So no sheet
// has a line for the page.
func TestPageSaysWhatTheSheetsSay(t *testing.T) {
	text, err := os.ReadFile(seasonSheets)
	if err != nil {
		t.Fatal(err)
	}
	rows := seasonRows(t)
	colonies, levels, counts := 0, 0, 0
	for i, sheet := range strings.Split(string(text), "\n## ")[1:] {
		if !long.Tests && i%6 != 5 {
			continue
		}
		day := sheet[:len("2026-04-20")]
		said := blocks(sheet)
		var b answer.Book
		var opened struct{}
		askPage(t, &b, map[string]any{"do": "open", "rows": writtenBy(rows, day)}, &opened)
		for _, yard := range []string{"mill", "orchard"} {
			var first struct {
				Hives []struct{ Name, Do string }
			}
			askPage(t, &b, map[string]any{"do": "yard", "yard": yard, "day": day}, &first)
			of := said["estimate "+yard]
			living := 0
			for _, h := range first.Hives {
				want := begins(of, h.Name)
				var a struct{ First, How, Level string }
				askPage(t, &b, map[string]any{"do": "hive", "yard": yard, "hive": h.Name, "day": day}, &a)
				if want == "" {
					t.Errorf("%s: the page has %s, the sheet has not", day, h.Name)
					continue
				}
				living++
				for _, part := range []string{a.First, a.How} {
					if !strings.Contains(want, flat(part)) {
						t.Errorf("%s: the page says %q, the sheet %q", day, part, want)
					}
				}
				if strings.Contains(want, "mites per hundred bees (") {
					levels++
					if !strings.Contains(want, flat(a.Level)) {
						t.Errorf("%s: the page has %q, the sheet %q", day, a.Level, want)
					}
				}
				if a.How != "" {
					counts++
				}
				if row := rowOf(said["yard --yard "+yard], h.Name); !strings.HasSuffix(row, "  "+h.Do) {
					t.Errorf("%s: the row of the page is %q, of the yard %q", day, h.Do, row)
				}
			}
			if n := strings.Count("\n"+strings.Join(of, "\n"), "\n") - strings.Count("\n"+strings.Join(of, "\n"), "\n  "); n != living {
				t.Errorf("%s, %s: %d colonies on the page, %d on the sheet", day, yard, living, n)
			}
			colonies += living
		}
	}
	if colonies < 20 || levels == 0 || counts == 0 {
		t.Errorf("%d colonies, %d levels and %d counts compared: too few", colonies, levels, counts)
	}
	t.Logf("%d colonies, %d levels, %d advised counts", colonies, levels, counts)
}

// rowOf is the row of a colony in the table of a yard.
func rowOf(lines []string, colony string) string {
	for _, l := range lines {
		if f := strings.Fields(l); len(f) > 1 && f[1] == colony && strings.Trim(f[0], "0123456789") == "" {
			return l
		}
	}
	return ""
}
