package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/show"
	"halfcup/internal/long"
)

// The season played is an invented year of fourteen colonies in two yards.
const (
	seasonScript = "../../testdata/season/script.txt"
	seasonSheets = "../../testdata/season/sheets.md"
	seasonRecord = "../../testdata/season/record.csv" // what the script writes, for the page to read
	autumn       = 6                                  // the sheet after the summer's treatments
)

// played is one line of the script.
type played struct {
	day   string
	words []string
	slip  bool // it has to be refused
}

// sheet is the colony that the reader of a day asks about, "" on other days.
func (p played) sheet() string {
	if p.words[0] == "sheet" {
		return p.words[1]
	}
	return ""
}

func readSeason(t *testing.T) []played {
	t.Helper()
	text, err := os.ReadFile(seasonScript)
	if err != nil {
		t.Fatal(err)
	}
	var out []played
	for l := range strings.Lines(string(text)) {
		l, slip := strings.CutPrefix(strings.TrimSpace(l), "! ")
		if l == "" || strings.HasPrefix(l, "#") {
			continue
		}
		words := strings.Fields(l)
		if len(words) < 2 {
			t.Fatalf("%s: %q is no line of the season", seasonScript, l)
		}
		out = append(out, played{words[0], words[1:], slip})
	}
	return out
}

// play types the season line by line into a record of its own directory, and
// gives each line once it is typed.
func play(t *testing.T) iter.Seq[played] {
	t.Helper()
	script := readSeason(t)
	t.Chdir(t.TempDir())
	return func(yield func(played) bool) {
		for _, p := range script {
			if p.sheet() == "" {
				var stdout, stderr bytes.Buffer
				want := line.ExitDone
				if p.slip {
					want = line.ExitUsage
				}
				if code := run(append(p.words, "--today", p.day), strings.NewReader(""), &stdout, &stderr); code != want {
					t.Fatalf("%s halfcup %s: exit %d, want %d\n%s", p.day, strings.Join(p.words, " "), code, want, &stderr)
				}
			}
			if !yield(p) {
				return
			}
		}
	}
}

// said is what a command says of a record on a day, as lines.
func said(t *testing.T, on []string, words ...string) []string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if code := run(append(words, on...), strings.NewReader(""), &stdout, &stderr); code != line.ExitDone {
		t.Fatalf("halfcup %s %s: exit %d\n%s", strings.Join(words, " "), strings.Join(on, " "), code, &stderr)
	}
	return strings.Split(strings.TrimRight(stdout.String(), "\n"), "\n")
}

// firstSaid is what an answer begins with, in one line: its first paragraph and
// the level.
func firstSaid(lines []string) string {
	i := slices.Index(append(lines, ""), "")
	parts := slices.Clone(lines[:i])
	for ; i < len(lines) && lines[i] == ""; i++ {
	}
	if i < len(lines) && strings.Contains(lines[i], "mites per hundred bees (") {
		parts = append(parts, lines[i])
	}
	return strings.Join(strings.Fields(strings.Join(parts, " ")), " ")
}

// hung is a text in lines of a page, the further ones under the first.
func hung(text string) []string {
	return strings.Split(strings.TrimRight(show.Page{Width: 80}.Hang(text, 0, 2), "\n"), "\n")
}

// plansSaid are the plans of a yard in three sentences each.
func plansSaid(t *testing.T, on []string, yard string) []string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if code := run(append([]string{"plan", "--yard", yard}, on...), strings.NewReader(""), &stdout, &stderr); code == line.ExitUsage && strings.Contains(stderr.String(), "there is no plan") {
		return nil
	} else if code != line.ExitDone {
		t.Fatalf("plan of %s %s: exit %d\n%s", yard, strings.Join(on, " "), code, &stderr)
	}
	var out []string
	for l := range strings.Lines(stdout.String()) {
		for _, end := range []string{"COUNT ", "ALSO ", "STEPS ", "The label, the law"} {
			if strings.HasPrefix(l, end) {
				return out
			}
		}
		out = append(out, strings.TrimRight(l, "\n"))
	}
	return out
}

// livingColonies are the colonies of a yard in which there still is one to
// count, by name.
func livingColonies(t *testing.T, on []string, yard string) (out []heardInYard) {
	t.Helper()
	_, text, err := asked(append([]string{"yard", "--yard", yard}, on...)...)
	if err != nil {
		t.Fatal(err)
	}
	var in struct{ Colonies []heardInYard }
	if err := json.Unmarshal(text, &in); err != nil {
		t.Fatal(err)
	}
	for _, c := range in.Colonies {
		if c.Verdict != nil {
			out = append(out, c)
		}
	}
	return out
}

type heardInYard struct {
	Colony  string
	Verdict *struct{ Call, Because string }
}

// A year is played month by month, and what the program says of every colony is
// kept on one sheet a month, for a person to read. Without the long tests it is
// played to autumn, and only that sheet is compared.
func TestSeasonPlayed(t *testing.T) {
	golden, err := filepath.Abs(seasonSheets)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := filepath.Abs(seasonRecord)
	if err != nil {
		t.Fatal(err)
	}
	type day struct {
		day, colony, log string
		sheet            strings.Builder
	}
	var days []*day
	month := 0
	short := !*update && !long.Tests
	for p := range play(t) {
		colony := p.sheet()
		if colony == "" {
			continue
		}
		if month++; short && month < autumn {
			continue
		}
		record, err := os.ReadFile("halfcup.csv")
		if err != nil {
			t.Fatal(err)
		}
		// The record as it stands goes on; the sheets are made side by side.
		d := &day{day: p.day, colony: colony, log: p.day + ".csv"}
		if d.log, err = filepath.Abs(d.log); err != nil {
			t.Fatal(err)
		}
		writeFile(t, d.log, string(record))
		days = append(days, d)
		if short {
			break
		}
	}
	t.Run("sheets", func(t *testing.T) {
		for _, d := range days {
			t.Run(d.day, func(t *testing.T) {
				t.Parallel()
				writeSheet(t, &d.sheet, []string{"--today", d.day, "--log", d.log}, d.colony)
			})
		}
	})
	if t.Failed() {
		return
	}
	record, err := os.ReadFile("halfcup.csv")
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		text := "# A season played\n\nWhat halfcup says of an invented year of fourteen colonies in two yards, one sheet a month.\nThe yards, the colonies and every figure are made up; script.txt is what was typed.\nThe page says of every colony what estimate says here, and has the rows of yard, word for\nword: TestPageSaysWhatTheSheetsSay in cmd/halfpage holds it to these sheets.\nWritten by the test TestSeasonPlayed: do not mend it by hand.\n"
		for _, d := range days {
			text += fmt.Sprintf("\n## %s\n", d.day) + d.sheet.String()
		}
		for name, text := range map[string][]byte{golden: []byte(text), kept: record} {
			if err := os.WriteFile(name, text, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		return
	}
	if want, err := os.ReadFile(kept); err != nil || !bytes.HasPrefix(want, record) || !short && len(want) != len(record) {
		t.Errorf("%s is not what the script writes (%v): -update", seasonRecord, err)
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range days {
		_, kept, found := strings.Cut(string(want), "\n## "+d.day+"\n")
		if !found {
			t.Errorf("%s has no sheet of %s", seasonSheets, d.day)
			continue
		}
		kept, _, _ = strings.Cut(kept, "\n## ")
		got, want := strings.Split(strings.TrimSpace(d.sheet.String()), "\n"), strings.Split(strings.TrimSpace(kept), "\n")
		for i := range max(len(got), len(want)) {
			if i >= len(got) || i >= len(want) || got[i] != want[i] {
				t.Errorf("%s: the sheet of %s differs in its line %d: read the difference, then -update\n got %q\nwant %q", seasonSheets, d.day, i+1, got[min(i, len(got)):min(i+1, len(got))], want[min(i, len(want)):min(i+1, len(want))])
				break
			}
		}
	}
}

// writeSheet writes what is said of every colony of a record on a day.
func writeSheet(t *testing.T, out *strings.Builder, on []string, colony string) {
	t.Helper()
	block := func(command string, lines []string) {
		fmt.Fprintf(out, "\n```\n$ halfcup %s\n%s\n```\n", command, strings.Join(lines, "\n"))
	}
	for _, yard := range []string{"mill", "orchard"} {
		block("yard --yard "+yard, said(t, on, "yard", "--yard", yard))
		var first []string
		for _, c := range livingColonies(t, on, yard) {
			first = append(first, hung(firstSaid(said(t, on, "estimate", "--colony", c.Colony, "--no-picture")))...)
		}
		block("estimate --colony ... (how it begins)", first)
		if plans := plansSaid(t, on, yard); plans != nil {
			block("plan --yard "+yard+" (three sentences a plan)", plans)
		}
		text := said(t, on, "calendar", "--yard", yard)
		block("calendar --yard "+yard+" (first twelve lines)", text[:min(12, len(text))])
	}
	block("fits --colony "+colony, said(t, on, "fits", "--colony", colony))
}

// extraCounts are the reasons of a count that is asked for beyond those that
// are due: the call of the very day on which the colony was counted.
var extraCounts = map[string]bool{
	"risky": true, "board alone": true, "small sample": true, "clash": true,
	"colonies in general": true, "neighbours disagree": true, "signs": true, "second week": true,
}

// People stop listening to a program that always wants one more count: in the
// season no colony gets more than one beyond those that are due.
//
// Naive, every count between the lines asks for the next: the colonies near the
// line would be sent to again each time that they are counted.
func TestSeasonAsksForFewExtraCounts(t *testing.T) {
	long.Only(t) // it asks about every colony on every day that anything was counted
	extra := map[string][]string{}
	for p := range play(t) {
		if p.words[0] != "add" || !counts(p.words[1]) || p.slip {
			continue
		}
		for _, yard := range []string{"mill", "orchard"} {
			if p.words[2] != "--yard" || p.words[3] != yard {
				continue
			}
			counted := map[string]bool{}
			for _, w := range p.words[4:] {
				name, _, _ := strings.Cut(w, "=")
				counted[name] = true
			}
			for _, c := range livingColonies(t, []string{"--today", p.day}, yard) {
				if counted[c.Colony] && c.Verdict.Call == "count again" && extraCounts[c.Verdict.Because] {
					extra[c.Colony] = append(extra[c.Colony], p.day+" "+c.Verdict.Because)
				}
			}
		}
	}
	if len(extra) == 0 {
		t.Error("no extra count is asked for at all: the season does not try the rule")
	}
	for colony, days := range extra {
		if len(days) > 1 {
			t.Errorf("%s is counted once more %d times: %s", colony, len(days), strings.Join(days, ", "))
		}
	}
}

// counts reports whether the first word of an addition is a way of counting.
func counts(word string) bool {
	method, _, _ := strings.Cut(word, "/")
	switch method {
	case "wash", "roll", "co2", "board", "knockdown":
		return true
	}
	return false
}
