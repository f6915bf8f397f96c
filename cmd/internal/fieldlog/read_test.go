package fieldlog

import (
	"bytes"
	"encoding/csv"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/cmd/internal/rows"
	"halfcup/sampling"
)

var update = flag.Bool("update", false, "rewrite expected output")

// read parses a record that must be one.
func read(t *testing.T, text string) *Record {
	t.Helper()
	r, err := Read("log.csv", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// lay writes events as one line each, to compare and to show.
func lay(events []Event) []string {
	out := []string{}
	for _, e := range events {
		c := e.Cells()
		var cells []string
		for _, name := range columnNames {
			cells = append(cells, c[name])
		}
		out = append(out, fmt.Sprintf("%q", cells))
	}
	return out
}

func wantSame(t *testing.T, got, want []Event) {
	t.Helper()
	g, w := lay(got), lay(want)
	for i := 0; i < max(len(g), len(w)); i++ {
		switch {
		case i >= len(g):
			t.Errorf("row %d is lost: %s", i, w[i])
		case i >= len(w):
			t.Errorf("row %d is too many: %s", i, g[i])
		case g[i] != w[i]:
			t.Errorf("row %d\n got %s\nwant %s", i, g[i], w[i])
		}
	}
}

func problemsOf(ps []*Problem) string {
	var b strings.Builder
	for _, p := range ps {
		prefix := ""
		if p.Warning {
			prefix = "warning: "
		}
		b.WriteString(p.Layout(prefix))
	}
	return b.String()
}

const plain = `date,yard,colony,event,method,mites,amount,frames,adult_bees,brood,active,application,pair,note
2026-05-02,mill,03,count,roll,2,0.5cup,3,,yes,,,,
2026-05-02,mill,Ärle,inspection,,,,,8.5f,yes,,,,"queen seen, says ""toot""
then rain"
2026-06-01,mill,03,count,wash,4,41g 17.6g/100,,18000,,,,,
2026-07-01,mill,03,treatment,,,,,,,oxalic acid,vapour,,
2026-07-04,mill,03,count,knockdown,210,3d 2.5/day,,,no,oxalic acid,vapour,,
2026-07-08,mill,03,count,board,12,36h 33/99,,,,,,,
2026-07-09,mill,Ärle 2,split,,,,,,,,,Ärle,
`

// The same record in every manner of writing reads as the same events.
func TestReadManners(t *testing.T) {
	want := read(t, plain)
	if len(want.Problems) > 0 || len(want.Events) != 7 {
		t.Fatalf("%d events\n%s", len(want.Events), problemsOf(want.Problems))
	}
	rows, err := csv.NewReader(strings.NewReader(plain)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rewrite := func(sep rune, change func(rows [][]string)) string {
		copied := make([][]string, len(rows))
		for i := range rows {
			copied[i] = slices.Clone(rows[i])
		}
		if change != nil {
			change(copied)
		}
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		w.Comma = sep
		if err := w.WriteAll(copied); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	decimalCommas := func(rows [][]string) {
		for _, r := range rows[1:] {
			r[6], r[8] = strings.ReplaceAll(r[6], ".", ","), strings.ReplaceAll(r[8], ".", ",")
		}
	}
	turned := func(rows [][]string) {
		for _, r := range rows {
			slices.Reverse(r)
		}
	}
	quoted := func(s string) string {
		var b strings.Builder
		for _, r := range rows {
			for i, c := range r {
				if i > 0 {
					b.WriteString(" , ")
				}
				b.WriteString(`"` + strings.ReplaceAll(c, `"`, `""`) + `"`)
			}
			b.WriteString("\n")
		}
		return b.String()
	}
	for name, text := range map[string]string{
		"line ends CRLF":     strings.ReplaceAll(plain, "\n", "\r\n"),
		"line ends CR":       strings.ReplaceAll(plain, "\n", "\r"),
		"byte order mark":    "\ufeff" + plain,
		"semicolons":         rewrite(';', nil),
		"decimal commas":     rewrite(';', decimalCommas),
		"tabs":               rewrite('\t', nil),
		"tabs, commas":       rewrite('\t', decimalCommas),
		"columns turned":     rewrite(',', turned),
		"everything quoted":  quoted(plain),
		"column names":       strings.Replace(plain, "date,yard,colony,event", "DATE,Yard, Colony ,Event", 1),
		"adult bees":         strings.Replace(plain, "adult_bees", "Adult bees", 1),
		"empty rows":         strings.Replace(plain, "2026-06-01", "\n,,,,,,,,,,,,,\n2026-06-01", 1),
		"blank first":        "\n  \n" + plain,
		"cells too many":     strings.Replace(plain, "yes,,,,\n", "yes,,,,,,\n", 1),
		"no final line end":  strings.TrimSuffix(plain, "\n"),
		"words in any case":  strings.NewReplacer("count", "Count", "vapour", "Vapour", "yes", "YES", "roll", "ROLL").Replace(plain),
		"units apart":        strings.NewReplacer("0.5cup", "0.5 cup", "41g ", "41 g  ").Replace(plain),
		"columns of her own": rewrite(',', func(rows [][]string) { rows[0][1] = "yard"; addColumn(rows, "weather", "sunny; warm") }),
	} {
		t.Run(name, func(t *testing.T) {
			got := read(t, text)
			wantSame(t, got.Events, want.Events)
			if len(got.Problems) > 0 {
				t.Error(problemsOf(got.Problems))
			}
		})
	}
}

func addColumn(rows [][]string, name, value string) {
	for i := range rows {
		cell := value
		if i == 0 {
			cell = name
		}
		rows[i] = slices.Insert(rows[i], 2, cell)
	}
}

func TestReadFields(t *testing.T) {
	r := read(t, strings.Replace(plain, "date,yard", "date,Weather,yard", 1))
	if len(r.Events) != 0 {
		t.Errorf("a column too many in the header reads as %v", lay(r.Events))
	}
	r = read(t, plain)
	first, second, weighed, treated, fell, board, split := r.Events[0], r.Events[1], r.Events[2], r.Events[3], r.Events[4], r.Events[5], r.Events[6]
	if first.Colony != "03" || first.Date != sampling.Day(2026, 5, 2) || first.Line != 2 {
		t.Errorf("first: %+v", first)
	}
	if c := first.Count; c.Method != sampling.Roll || c.Mites != 2 || c.Amount != (sampling.Amount{Value: 0.5, Unit: sampling.Cups}) || c.Frames != 3 || c.Date != first.Date || c.Hive.Broodless {
		t.Errorf("roll: %+v", c)
	}
	if second.BeeFrames != 8.5 || second.AdultBees != 0 || second.Brood != BroodPresent || second.Note != "queen seen, says \"toot\"\nthen rain" {
		t.Errorf("inspection: %+v", second)
	}
	if c := weighed.Count; c.GramsPer100 != 17.6 || c.Amount.Unit != sampling.Grams || c.Hive.AdultBees != 18000 || weighed.Line != 5 {
		t.Errorf("weighed: %+v on line %d", c, weighed.Line)
	}
	if treated.Treatment != (sampling.TreatmentName{Active: "oxalic acid", Application: "vapour"}) {
		t.Errorf("treatment: %+v", treated)
	}
	if c := board.Count; c.Cells != (sampling.Cells{Counted: 33, Of: 99}) || c.Amount != (sampling.Amount{Value: 36, Unit: sampling.Hours}) {
		t.Errorf("board: %+v", c)
	}
	if c := fell.Count; *c.FallBefore != 2.5 || !c.Hive.Broodless || c.Treatment != treated.Treatment {
		t.Errorf("knockdown: %+v", c)
	}
	if split.Other != "Ärle" || split.Pair != "" || split.Colony != "Ärle 2" {
		t.Errorf("split: %+v", split)
	}
	if r.Cell(weighed, "amount") != "41g 17.6g/100" || r.Cell(weighed, "weather") != "" {
		t.Error("cells are not found")
	}
}

// Every complaint, with its place, the line, the mark and the remedy. The
// record is testdata/problems.csv; what is said of it stands in problems.txt.
func TestProblems(t *testing.T) {
	r, err := Open("testdata/problems.csv")
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "testdata/problems.txt", problemsOf(r.Check(sampling.Day(2026, 9, 1))))
	if len(r.Events) == 0 {
		t.Error("the good rows among the bad ones are gone")
	}
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is not what is said now:\n%s", path, got)
	}
}

// A file that is no record is refused as a whole.
func TestNoRecord(t *testing.T) {
	for _, tc := range []struct{ text, want string }{
		{"when,colony,what\n", "log.csv:1:1: there is no column date"},
		{"when,who,what\n", "log.csv:1:1: the first row does not name the columns of a record: put this row first: date,yard"},
		{"dote,colony,event\n", `rename the column "dote" to date`},
		{"date,colony,event,Date\n", "log.csv:1:19: there are two columns date"},
		{"2026-05-02,mill,03,count\n", "the first row does not name the columns"},
		{"date,colony,\"event\n", "a quote in the first row is never closed"},
		{"\xff\xfed\x00a\x00t\x00e\x00", "the file is written in UTF-16"},
	} {
		_, err := Read("log.csv", strings.NewReader(tc.text))
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%q: %v", tc.text, err)
		}
	}
	for _, empty := range []string{"", "\ufeff", "\n\n", "  \n"} {
		r := read(t, empty)
		if r.Events != nil || r.Problems != nil || r.Columns() != nil {
			t.Errorf("%q is not an empty record", empty)
		}
	}
}

// A column whose name is nearly right is pointed at: its cells would be
// silently ignored.
func TestNearlyAColumn(t *testing.T) {
	r := read(t, "date,colony,event,method,mite,amount,note\n")
	if len(r.Problems) != 1 || !r.Problems[0].Warning || !strings.Contains(r.Problems[0].Error(), `log.csv:1:26: the column "mite" is kept but not read, and there is no column mites`) {
		t.Error(problemsOf(r.Problems))
	}
}

// Whatever encoding/csv writes and reads, we read as the same cells.
func TestScanAgainstEncodingCSV(t *testing.T) {
	cells := rapid.SliceOfN(rapid.StringMatching(`([a-z0-9 ",;é-]|\n|\t){0,12}`), 2, 5)
	rapid.Check(t, func(t *rapid.T) {
		sep := rapid.SampledFrom([]rune{',', ';', '\t'}).Draw(t, "sep")
		table := rapid.SliceOfN(cells, 1, 6).Draw(t, "rows")
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		w.Comma = sep
		w.UseCRLF = rapid.Bool().Draw(t, "crlf")
		if err := w.WriteAll(table); err != nil {
			t.Fatal(err)
		}
		data := b.String()
		in := csv.NewReader(strings.NewReader(data))
		in.Comma, in.FieldsPerRecord = sep, -1
		want, err := in.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		var got [][]string
		rules := rows.Rules{Sep: byte(sep)}
		for i := 0; i < len(data); {
			r := rules.Next(data, i, nil)
			var texts []string
			for _, c := range r.Cells {
				texts = append(texts, c.Text)
			}
			got = append(got, texts)
			i = r.Next
		}
		for i := range want {
			for j := range want[i] {
				if i >= len(got) || j >= len(got[i]) {
					t.Fatalf("cell %d of row %d is missing in %q", j, i, data)
				}
				// Outer blanks mean nothing to us unless they are quoted.
				if g, w := got[i][j], want[i][j]; g != w && g != strings.Trim(w, " \t") {
					t.Fatalf("cell %d of row %d: got %q, want %q", j, i, g, w)
				}
			}
			if len(got[i]) != len(want[i]) {
				t.Fatalf("row %d: got %q, want %q", i, got[i], want[i])
			}
		}
		if len(got) != len(want) {
			t.Fatalf("got %d rows, want %d", len(got), len(want))
		}
	})
}

// A row torn inside a quoted note does not swallow the rows behind it. The
// plain way, to hand the file to encoding/csv, loses them.
func TestTornQuote(t *testing.T) {
	const text = "date,colony,event,note\n" +
		"2026-05-01,alder,inspection,fine\n" +
		"2026-05-02,alder,inspection,\"left the li\n" +
		"2026-05-03,alder,inspection,\"with \"\"quotes\"\" and\na line\"\n" +
		"2026-05-04,birch,inspec\n" +
		"2026-05-05,birch,inspection,\"torn, too\n" +
		"2026-05-06,birch,inspection,\n"
	r := read(t, text)
	var lines []int
	for _, e := range r.Events {
		lines = append(lines, e.Line)
	}
	if !slices.Equal(lines, []int{2, 4, 8}) {
		t.Errorf("events on lines %v, want 2, 4 and 8", lines)
	}
	golden(t, "testdata/torn.txt", problemsOf(r.Problems))

	naive := csv.NewReader(strings.NewReader(text))
	naive.FieldsPerRecord, naive.LazyQuotes = -1, true
	rows, _ := naive.ReadAll()
	if len(rows) == 7 {
		t.Error("encoding/csv reads this too: the test shows nothing")
	}
}

// A note may look like the record it stands in, as long as no line of it is a
// whole row.
func TestNoteLikeARow(t *testing.T) {
	r := read(t, "date,colony,event,note\n2026-05-02,alder,inspection,\"copied:\n2026-05-01,alder,inspec\n2026-05-01 was cold\"\n")
	if len(r.Events) != 1 || len(r.Problems) != 0 || !strings.HasSuffix(r.Events[0].Note, "cold") {
		t.Errorf("%q\n%s", lay(r.Events), problemsOf(r.Problems))
	}
}

func TestHistory(t *testing.T) {
	r := read(t, "date,yard,colony,event\n"+
		"2026-05-03,mill,Alder,inspection\n2026-05-01,Mill,alder,inspection\n2026-05-02,ford,alder,inspection\n"+
		"2026-05-02,ford,e\u0301rable,inspection\n")
	got, err := r.History("MILL", "ALDER")
	if err != nil || len(got) != 2 || got[0].Line != 3 || got[1].Line != 2 {
		t.Errorf("by date: %v %v", lay(got), err)
	}
	if got, err := r.History("", "\u00e9rable"); err != nil || len(got) != 1 {
		t.Errorf("the composed name does not find the decomposed one: %v", err)
	}
	for _, tc := range []struct{ yard, colony, want string }{
		{"", "alder", `2 yards have a colony alder: say which with --yard: "mill", "ford"`},
		{"", "alde", "there is no colony alde in the record: did you mean alder?"},
		{"mill", "xyzzy", "there is no colony xyzzy in the yard mill: check the name"},
	} {
		if _, err := r.History(tc.yard, tc.colony); err == nil || !strings.Contains(strings.ToLower(err.Error()), tc.want) {
			t.Errorf("%s/%s: %v", tc.yard, tc.colony, err)
		}
	}
	if n := len(r.Colonies()); n != 3 {
		t.Errorf("%d colonies, want 3", n)
	}
}

func TestTreatmentOf(t *testing.T) {
	r := read(t, "date,colony,event,method,mites,amount,active,application\n"+
		"2026-08-01,alder,treatment,,,,oxalic acid,vapour\n"+
		"2026-08-06,alder,count,knockdown,310,5d,,\n"+
		"2026-08-06,alder,treatment,,,,oxalic acid,vapour\n"+
		"2026-08-09,alder,count,knockdown,90,3d,,\n"+
		"2026-08-01,birch,treatment,,,,thymol,\n"+
		"2026-08-20,birch,count,knockdown,40,2d,,\n"+
		"2026-10-20,birch,count,knockdown,4,2d,,\n")
	for line, want := range map[int]int{3: 2, 5: 4, 7: 6, 8: 0} {
		for _, e := range r.Events {
			if e.Line == line {
				if got, _ := r.TreatmentOf(e); got.Line != want {
					t.Errorf("knockdown of line %d: treatment of line %d, want %d", line, got.Line, want)
				}
			}
		}
	}
}
