package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"iter"
	"os"
	"path/filepath"
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

// said is what a command says on a day, as lines.
func said(t *testing.T, day string, words ...string) []string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if code := run(append(words, "--today", day), strings.NewReader(""), &stdout, &stderr); code != line.ExitDone {
		t.Fatalf("%s halfcup %s: exit %d\n%s", day, strings.Join(words, " "), code, &stderr)
	}
	return strings.Split(strings.TrimRight(stdout.String(), "\n"), "\n")
}

// firstSaid is what an answer begins with, in one line: its first paragraph, and
// the level where that is a sentence alone.
func firstSaid(lines []string) string {
	var parts []string
	for _, l := range lines {
		if l == "" {
			if len(parts) > 1 || strings.Count(strings.Join(parts, " "), ". ") > 0 {
				break
			}
			continue
		}
		level := strings.HasPrefix(l, "  ") && strings.Contains(l, "mites per hundred bees (")
		if len(parts) > 0 && level {
			return strings.Join(append(parts, strings.TrimSpace(l)), " ")
		}
		parts = append(parts, strings.TrimSpace(l))
	}
	return strings.Join(parts, " ")
}

// hung is a text in lines of a page, the further ones under the first.
func hung(text string) []string {
	return strings.Split(strings.TrimRight(show.Page{Width: 80}.Hang(text, 0, 2), "\n"), "\n")
}

// plansSaid are the plans of a yard in three sentences each.
func plansSaid(t *testing.T, day, yard string) []string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if code := run([]string{"plan", "--yard", yard, "--today", day}, strings.NewReader(""), &stdout, &stderr); code == line.ExitUsage && strings.Contains(stderr.String(), "there is no plan") {
		return nil
	} else if code != line.ExitDone {
		t.Fatalf("%s plan of %s: exit %d\n%s", day, yard, code, &stderr)
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
func livingColonies(t *testing.T, day, yard string) (out []heardInYard) {
	t.Helper()
	_, text, err := asked("yard", "--yard", yard, "--today", day)
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
	var out strings.Builder
	month, sheets := 0, map[string]string{} // by day
	out.WriteString("# A season played\n\nWhat halfcup says of an invented year of fourteen colonies in two yards, one sheet a month.\nThe yards, the colonies and every figure are made up; script.txt is what was typed.\nThe page says of every colony what estimate says here, and has the rows of yard, word for\nword: TestPageSaysWhatTheSheetsSay in cmd/halfpage holds it to these sheets.\nWritten by the test TestSeasonPlayed: do not mend it by hand.\n")
	block := func(command string, lines []string) {
		fmt.Fprintf(&out, "\n```\n$ halfcup %s\n%s\n```\n", command, strings.Join(lines, "\n"))
	}
	short := !*update && !long.Tests
	for p := range play(t) {
		colony := p.sheet()
		if colony == "" {
			continue
		}
		if month++; short && month < autumn {
			continue
		}
		began := out.Len()
		fmt.Fprintf(&out, "\n## %s\n", p.day)
		for _, yard := range []string{"mill", "orchard"} {
			block("yard --yard "+yard, said(t, p.day, "yard", "--yard", yard))
			var first []string
			for _, c := range livingColonies(t, p.day, yard) {
				first = append(first, hung(firstSaid(said(t, p.day, "estimate", "--colony", c.Colony, "--no-picture")))...)
			}
			block("estimate --colony ... (how it begins)", first)
			if plans := plansSaid(t, p.day, yard); plans != nil {
				block("plan --yard "+yard+" (three sentences a plan)", plans)
			}
			text := said(t, p.day, "calendar", "--yard", yard)
			block("calendar --yard "+yard+" (first twelve lines)", text[:min(12, len(text))])
		}
		block("fits --colony "+colony, said(t, p.day, "fits", "--colony", colony))
		sheets[p.day] = out.String()[began:]
		if short {
			break
		}
	}
	record, err := os.ReadFile("halfcup.csv")
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		for name, text := range map[string][]byte{golden: []byte(out.String()), kept: record} {
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
	for day, sheet := range sheets {
		_, kept, found := strings.Cut(string(want), "\n## "+day+"\n")
		if !found {
			t.Errorf("%s has no sheet of %s", seasonSheets, day)
			continue
		}
		kept, _, _ = strings.Cut(kept, "\n## ")
		got, want := strings.Split(strings.TrimSpace(sheet), "\n")[1:], strings.Split("\n"+strings.TrimSpace(kept), "\n")
		for i := range max(len(got), len(want)) {
			if i >= len(got) || i >= len(want) || got[i] != want[i] {
				t.Errorf("%s: the sheet of %s differs in its line %d: read the difference, then -update\n got %q\nwant %q", seasonSheets, day, i+1, got[min(i, len(got)):min(i+1, len(got))], want[min(i, len(want)):min(i+1, len(want))])
				break
			}
		}
	}
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
			for _, c := range livingColonies(t, p.day, yard) {
				if counted[c.Colony] && c.Verdict.Call == "count again" && extraCounts[c.Verdict.Because] {
					extra[c.Colony] = append(extra[c.Colony], p.day+" "+c.Verdict.Because)
				}
			}
		}
	}
	if len(extra) == 0 {
		t.Error("no extra count is asked for at all: the season does not try the rule")
	}
	// Not reached for one colony of fourteen, which stands on the line twice: on
	// 18 July, and on 26 August after a treatment that left half of its mites. It
	// is said here so that it is seen when it changes.
	missed := map[string]int{"birch": 2}
	for colony, days := range extra {
		if len(days) != missed[colony] && len(days) > 1 {
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
