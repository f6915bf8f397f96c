package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/rows"
)

const openWashes = "../../testdata/open/washes-2022.csv"

// batchOf runs batch over a table on stdin.
func batchOf(table string, args ...string) (out, errs string, code int) {
	var stdout, stderr bytes.Buffer
	code = run(append([]string{"batch", "-", "--method", "wash", "--date", "2026-06-20"}, args...), strings.NewReader(table), &stdout, &stderr)
	return stdout.String(), stderr.String(), code
}

func records(t *testing.T, text string) []map[string]string {
	t.Helper()
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[strings.TrimPrefix(name, "hc_")] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func readFile(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// The exact limits of every open wash, against R: testdata/reference/washes.R.
func TestBatchAgainstR(t *testing.T) {
	out, errs, code := batchOf(readFile(t, openWashes), "--no-call", "--level", "0.95")
	if code != line.ExitDone || errs != "halfcup: stdin: method wash, mites from the column \"mites\", bees from the column \"bees\", no frames, date from the column \"date\"\n" {
		t.Fatal(code, errs)
	}
	got := records(t, out)
	want := records(t, readFile(t, filepath.Join("..", "..", "testdata", "reference", "washes-rows.csv")))
	if len(got) != 437 || len(want) != 437 {
		t.Fatalf("%d rows, R has %d", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if g["colony"] != w["colony"] || g["mites"] != w["mites"] || g["bees"] != w["bees"] {
			t.Fatalf("row %d is %v, R has %v", i+1, g, w)
		}
		for name, of := range map[string]string{"per_hundred": "per_hundred", "interval_low": "low", "interval_high": "high"} {
			a, errA := strconv.ParseFloat(g[name], 64)
			b, errB := strconv.ParseFloat(w[of], 64)
			if errA != nil || errB != nil || !(math.Abs(a-b) <= 1e-12*math.Abs(b)) {
				t.Errorf("row %d: %s is %v, R says %v", i+1, name, g[name], w[of])
			}
		}
	}
}

// Rows are independent: two halves give the bytes of one run, and so does one
// processor.
func TestBatchIsAMap(t *testing.T) {
	table := readFile(t, openWashes)
	lines := strings.SplitAfter(table, "\n")
	head, rows := lines[0], lines[1:]
	whole, _, code := batchOf(table)
	if code != line.ExitDone {
		t.Fatal(code)
	}
	_, second, _ := strings.Cut(mustBatch(t, head+strings.Join(rows[200:], "")), "\n")
	if halves := mustBatch(t, head+strings.Join(rows[:200], "")) + second; halves != whole {
		t.Error("two halves differ from the whole")
	}
	many := head + strings.Repeat(strings.Join(rows, ""), 12) // several chunks
	_, body, _ := strings.Cut(whole, "\n")
	if got := mustBatch(t, many); got != strings.SplitAfter(whole, "\n")[0]+strings.Repeat(body, 12) {
		t.Error("the order is not kept over many chunks")
	}
}

func mustBatch(t *testing.T, table string, args ...string) string {
	t.Helper()
	out, errs, code := batchOf(table, args...)
	if code != line.ExitDone {
		t.Fatal(errs)
	}
	return out
}

// Every row says what estimate and choose say of that count alone.
func TestBatchSaysWhatTheCommandsSay(t *testing.T) {
	out := mustBatch(t, "method,mites,bees,frames,date\nwash,0,300,,\nroll,7,300,3,2026-08-20\nwash,9,280,1,2026-04-01\nroll,3,0.5cup,,\nco2,12,350,,\nboard,36,3d,,\nwash,40,310,2,2026-12-01\n", "--format", "json")
	for _, line := range strings.Split(strings.TrimSpace(out), "\n") {
		var row struct {
			Input                   map[string]string
			Median, Low, High, Mean float64
			ChanceOverAct           float64  `json:"chance_over_act"`
			IntervalHigh            *float64 `json:"interval_high"`
			Call                    string
		}
		if err := json.Unmarshal([]byte(line), &row); err != nil {
			t.Fatal(err)
		}
		in := row.Input
		count := in["method"] + ":" + in["mites"] + "/" + in["bees"]
		if in["frames"] != "" {
			count += "/" + in["frames"] + "f"
		}
		today := in["date"]
		if today == "" {
			today = "2026-06-20"
		}
		var est struct {
			Estimate   struct{ Median, Low, High, Mean float64 }
			ChanceOver struct{ Act float64 } `json:"chance_over"`
			Counts     []struct{ Interval *struct{ High float64 } }
		}
		var chosen struct{ Verdict struct{ Call string } }
		answerTo(t, &est, "estimate", count, "--today", today, "--format", "json")
		answerTo(t, &chosen, "choose", count, "--today", today, "--format", "json")
		for _, f := range [][2]float64{{row.Median, est.Estimate.Median}, {row.Low, est.Estimate.Low}, {row.High, est.Estimate.High}, {row.Mean, est.Estimate.Mean}} {
			if !(math.Abs(f[0]/f[1]-1) <= 1e-9) {
				t.Errorf("%s: %+v, estimate says %+v", count, row, est.Estimate)
			}
		}
		if !(math.Abs(row.ChanceOverAct-est.ChanceOver.Act) <= 1e-11) || row.Call != chosen.Verdict.Call {
			t.Errorf("%s: %v and %q, the commands say %v and %q", count, row.ChanceOverAct, row.Call, est.ChanceOver.Act, chosen.Verdict.Call)
		}
		if (row.IntervalHigh == nil) != (est.Counts[0].Interval == nil) || row.IntervalHigh != nil && !(math.Abs(*row.IntervalHigh/est.Counts[0].Interval.High-1) <= 1e-12) {
			t.Errorf("%s: interval up to %v", count, row.IntervalHigh)
		}
	}
}

func answerTo(t *testing.T, into any, args ...string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if code := run(args, nil, &stdout, &stderr); code != line.ExitDone {
		t.Fatal(args, stderr.String())
	}
	if err := json.Unmarshal(stdout.Bytes(), into); err != nil {
		t.Fatal(err)
	}
}

// However wild the table, every row is either written or told of, what is
// written is a table again, and nothing panics.
func FuzzBatch(f *testing.F) {
	for _, s := range []string{
		"mites,bees\n5,300\n", "mites,bees\n5,300\nx,300\n5\n,\n", "mites,bees\n\"5,300\n", "\ufeffBees ,MITES\n300,5\n",
		"mites,bees,note\n1,100,\"a, b\"\n", "mites;bees\n1;2\n", "", "method,mites,bees,frames,date\nroll,7,0.5cup,3,2026-08-01\n",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, table string) {
		rejects := filepath.Join(t.TempDir(), "rejects.csv")
		out, errs, code := batchOf(table, "--no-call", "--rejects", rejects)
		if code == line.ExitUsage || code == line.ExitFailed {
			t.Fatalf("%q: exit %d, %s", table, code, errs)
		}
		if out == "" || strings.Contains(table, "hc_") {
			return // the head could not be read, or holds columns that are written anew
		}
		sep := out[strings.Index(out, "hc_")-1]
		again := csv.NewReader(strings.NewReader(out))
		again.Comma = rune(sep)
		written, err := again.ReadAll()
		if err != nil {
			t.Fatalf("%q gives %q: %v", table, out, err)
		}
		told := strings.TrimPrefix(readFile(t, rejects), "line,column,problem,remedy")
		in := rows.NewReader(strings.NewReader(table), sep)
		found := -1
		for {
			row, err := in.Next(nil)
			if err != nil {
				break
			}
			if found++; found > 0 && row.Fault == rows.Whole && len(row.Cells) != len(written[0])-12 && !strings.Contains(told, ", the head") {
				t.Fatalf("%q: line %d is not told", table, row.Line)
			}
		}
		if code == line.ExitDone && found != len(written)-1 || code != line.ExitDone && told == "" {
			t.Fatalf("%q: %d rows, %d written, exit %d\n%s", table, found, len(written)-1, code, told)
		}
	})
}

// One stray quote does not swallow the table: the row in which it opens is
// told and kept as it stands, and every row behind it is read. The plain way,
// to hand the table to encoding/csv, loses them all.
func TestBatchStrayQuote(t *testing.T) {
	const bad = `wash,7,300,"wet`
	var table strings.Builder
	table.WriteString("method,mites,bees,note\nwash,1,300,\n" + bad + "\n")
	for i := range 5000 {
		fmt.Fprintf(&table, "wash,%d,300,dry\n", i%9)
	}
	rejects := filepath.Join(t.TempDir(), "rejects.csv")
	text, errs, code := batchOf(table.String(), "--no-call", "--rejects", rejects)
	if n := strings.Count(text, "\n"); code != line.ExitBadData || n != 5002 || !strings.Contains(errs, "1 row could not be read") {
		t.Errorf("exit %d, %d lines\n%s", code, n, errs)
	}
	if got := readFile(t, rejects); !strings.Contains(got, "\n3,12,this quote is never closed") || !strings.Contains(got, strings.ReplaceAll(bad, `"`, `""`)) {
		t.Errorf("%s", got)
	}
	naive := csv.NewReader(strings.NewReader(table.String()))
	if all, _ := naive.ReadAll(); len(all) > 2 {
		t.Error("encoding/csv reads this too: the test shows nothing")
	}
}

// What goes wrong leaves the file that stood there.
func TestBatchKeepsTheOldFile(t *testing.T) {
	t.Chdir(t.TempDir())
	table := "mites,bees\n1,300\nx,300\n"
	for name, args := range map[string][]string{
		"strict": {"batch", "in.csv", "out.csv", "--strict"}, "no such column": {"batch", "in.csv", "out.csv", "--column", "mites=varroa"},
		"empty": {"batch", "empty.csv", "out.csv"}, "gone": {"batch", "gone.csv", "out.csv"}, "no folder for the rejects": {"batch", "in.csv", "out.csv", "--rejects", "gone/r.csv"},
	} {
		writeFile(t, "in.csv", table)
		writeFile(t, "empty.csv", "")
		writeFile(t, "out.csv", "old\n")
		var stdout, stderr bytes.Buffer
		if code := run(args, strings.NewReader(""), &stdout, &stderr); code == line.ExitDone || readFile(t, "out.csv") != "old\n" {
			t.Errorf("%s: exit %d, out.csv is %q", name, code, readFile(t, "out.csv"))
		}
		if all, _ := filepath.Glob(".*part"); all != nil {
			t.Errorf("%s: %v is left behind", name, all)
		}
	}
}

// No output takes the place of what the line reads.
func TestOutputsWriteOverNothing(t *testing.T) {
	t.Chdir(t.TempDir())
	const record = "date,colony,event,method,mites,amount\n2026-06-01,alder,count,wash,3,300\n"
	if err := os.Symlink("halfcup.csv", "link.html"); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"yard", "--html", "halfcup.csv"}, {"yard", "--html", "link.html"}, {"yard", "--html", "halfcup.toml"},
		{"batch", "survey.csv", "halfcup.csv"}, {"batch", "survey.csv", "--rejects", "halfcup.csv"}, {"batch", "survey.csv", "survey.csv"},
		{"batch", "survey.csv", "halfcup.toml"}, {"batch", "survey.csv", "same.csv", "--rejects", "./same.csv"},
		{"forecast", "wash:3/300", "--plot", "halfcup.csv"}, {"calendar", "--ics", "halfcup.csv"}, {"tally", "--plot", "halfcup.toml"},
	} {
		writeFile(t, "halfcup.csv", record)
		writeFile(t, "halfcup.toml", "level = 0.9\n")
		writeFile(t, "survey.csv", "mites,bees\n1,300\n")
		var stdout, stderr bytes.Buffer
		code := run(append(args, "--today", "2026-06-02"), strings.NewReader(""), &stdout, &stderr)
		if code != line.ExitUsage || readFile(t, "halfcup.csv") != record || readFile(t, "halfcup.toml") != "level = 0.9\n" || readFile(t, "survey.csv") != "mites,bees\n1,300\n" {
			t.Errorf("%v: exit %d\n%s", args, code, stderr.String())
		}
	}
}

// Two columns of one name, and cells that a spreadsheet would run.
func TestBatchColumnsAndFormulas(t *testing.T) {
	if _, errs, code := batchOf("mites,bees,Mites \n1,300,2\n"); code != line.ExitBadData || !strings.Contains(errs, "the columns 1 and 3 have one name") {
		t.Errorf("exit %d\n%s", code, errs)
	}
	text := mustBatch(t, "mites,bees,note\n1,300,=1+1\n2,300,-3.5\n3,300,-\n", "--no-call")
	for i, want := range []string{"1,300,'=1+1,", "2,300,-3.5,", "3,300,-,"} {
		if got := strings.Split(text, "\n")[i+1]; !strings.HasPrefix(got, want) {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

// Nothing is guessed: what the table does not say and the line does not either
// is refused, and a column that may hold it is named, by whole words. To look for
// letters takes Notes for a column of mites.
func TestBatchGuessesNothing(t *testing.T) {
	for _, tc := range []struct{ args, head, want string }{
		{"", "mites,bees,date", "no column method"},
		{"", "method,mites,bees", "no column date"},
		{"--method wash", "mites,bees", "no column date"},
		{"--column date=-", "method,mites,bees,date", "no column date"},
		{"", "method,Varroa count,bees,date,Notes", `did you mean --column "mites=Varroa count"?`},
		{"", "method,mites,Bees in sample,date", `did you mean --column "bees=Bees in sample"?`},
		{"", "Sampling method,mites,bees,date", `did you mean --column "method=Sampling method"?`},
	} {
		var stdout, stderr bytes.Buffer
		code := run(strings.Fields("batch - --today 2026-06-20 "+tc.args), strings.NewReader(tc.head+"\n"), &stdout, &stderr)
		if code != line.ExitBadData || stdout.Len() > 0 || !strings.Contains(stderr.String(), tc.want) {
			t.Errorf("%s %s: exit %d\n%s", tc.head, tc.args, code, stderr.String())
		}
	}
	var stdout, stderr bytes.Buffer
	if run(strings.Fields("batch -"), strings.NewReader("method,Notes,bees,date\n"), &stdout, &stderr); strings.Contains(stderr.String(), "did you mean") {
		t.Errorf("Notes are no mites: %s", stderr.String())
	}
}

// A figure in the ways that people and their programs write it.
func TestBatchReadsWhatPeopleWrite(t *testing.T) {
	const head = "date,method,mites,bees\n"
	answer := func(row string) []string {
		_, rest, _ := strings.Cut(mustBatch(t, head+row+"\n", "--no-call"), "\n")
		cells := strings.Split(strings.TrimSpace(rest), ",")
		return cells[len(cells)-12:]
	}
	for row, same := range map[string]string{
		"2026-06-20,wash,5.0,300": "2026-06-20,wash,5,300", "2026-06-20,wash,5,300 bees": "2026-06-20,wash,5,300", "20.6.2026,wash,5,300": "2026-06-20,wash,5,300",
		"20/6/2026,Alcohol wash,5,300.0": "2026-06-20,wash,5,300", "2026-06-20 00:00:00,wash,5,0.5 cup": "2026-06-20,wash,5,0.5cup", "2026-06-20,wash,5,½ cup": "2026-06-20,wash,5,0.5cup",
	} {
		if got, want := answer(row), answer(same); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s is read as %v, %s as %v", row, got, same, want)
		}
	}
	for _, row := range []string{"2026-06-20,wash,,300", "2026-06-20,wash,NA,300", "2026-06-20,wash,5,NaN", "2026-06-20,wash,n/a,"} {
		if got := strings.Join(answer(row), ""); got != "" {
			t.Errorf("%s is answered: %s", row, got)
		}
	}
	out, errs, code := batchOf("date;method;mites;bees\n20.6.2026;wash;5;0,5 cup\n5/6/2026;wash;5;300\n6/5/2026;wash;5;300\n", "--no-call", "--digits", "3")
	if code != line.ExitBadData || strings.Count(out, "\n") != 2 || !strings.Contains(errs, "could be 5 June or 6 May") || !strings.Contains(errs, "so are 2 rows in all") {
		t.Errorf("exit %d\n%s%s", code, out, errs)
	}
}

// What the program asks of weighed bees and of boards can stand in columns of its
// own or be said of all rows; a row says what the command says of its count. Of
// other counts those columns are not read.
func TestBatchWeighedAndBoards(t *testing.T) {
	const head = "date,method,mites,bees,Grams per 100,adult bees,brood\n"
	for row, typed := range map[string]string{
		"2026-06-20,wash,5,41g,17.6,,":           "wash:5/41g --grams-per-100 17.6",
		"2026-06-20,wash,5,41 g 17.6 g/100,12,,": "wash:5/41g --grams-per-100 17.6",
		"2026-06-20,wash,5,41g,,,":               "wash:5/41g --grams-per-100 13",
		"2026-06-20,board,12,3d,,20000,no":       "board:12/3d --adult-bees 20000 --brood no",
		"2026-06-20,board,12,3d,,9f,":            "board:12/3d --frames-of-bees 9 --brood yes",
		"2026-06-20,board,12,3 days,,,":          "board:12/3d --adult-bees 15000 --brood yes",
		"2026-06-20,wash,5,300,,many,8 combs":    "wash:5/300",
	} {
		out := mustBatch(t, head+row+"\n", "--grams-per-100", "13", "--adult-bees", "15000", "--brood", "yes")
		got := records(t, out)[0]
		var est struct {
			Estimate struct{ Median, High float64 }
			Verdict  struct{ Call string }
		}
		answerTo(t, &est, append([]string{"estimate", "--today", "2026-06-20", "--format", "json"}, strings.Fields(typed)...)...)
		for name, want := range map[string]float64{"median": est.Estimate.Median, "high": est.Estimate.High} {
			if v, err := strconv.ParseFloat(got[name], 64); err != nil || !(math.Abs(v/want-1) <= 1e-9) {
				t.Errorf("%s: %s is %v, of %s it is %v", row, name, got[name], typed, want)
			}
		}
		if got["call"] != est.Verdict.Call {
			t.Errorf("%s: %q, of %s it is %q", row, got["call"], typed, est.Verdict.Call)
		}
	}
	for row, want := range map[string]string{
		"2026-06-20,wash,5,41g,99,,":    `"99" is not the weight of a hundred bees`,
		"2026-06-20,board,5,3d,,18,":    "no colony has 18 adult bees",
		"2026-06-20,board,5,3d,,,maybe": `"maybe" does not say whether there was brood`,
		"2026-06-20,wash,5,1.000,,,":    "bees come in whole numbers",
		"2026-06-20,wash,1.000,900,,,":  `"1.000" can be read two ways`,
	} {
		if out, errs, code := batchOf(head+row+"\n", "--no-call"); code != line.ExitBadData || strings.Count(out, "\n") != 1 || !strings.Contains(errs, want) {
			t.Errorf("%s: exit %d, want %s\n%s%s", row, code, want, out, errs)
		}
	}
}

// A day over 12 anywhere in the column settles how all its dates are read, as in
// the record, and stderr says so; a column that speaks for both orders settles
// nothing. The plain way, to settle it by the rows so far, reads the second table
// in two ways. The mark at the start of the table is kept.
func TestBatchOrderOfDates(t *testing.T) {
	t.Chdir(t.TempDir())
	read := func(dates ...string) (lines []string, errs string, code int) {
		writeFile(t, "in.csv", "\ufeffdate,mites,bees\n"+strings.Join(dates, ",3,300\n")+",3,300\n")
		var stdout, stderr bytes.Buffer
		code = run([]string{"batch", "in.csv", "--method", "wash", "--no-call"}, strings.NewReader(""), &stdout, &stderr)
		return strings.Split(strings.TrimSpace(stdout.String()), "\n"), stderr.String(), code
	}
	answer := func(l string) string { _, rest, _ := strings.Cut(l, ","); return rest }
	want, _, _ := read("2026-08-05", "2026-08-13")
	got, errs, code := read("5/8/2026", "13/8/2026")
	if code != line.ExitDone || !strings.Contains(errs, `the column "date" (day, month, year)`) {
		t.Errorf("exit %d\n%s", code, errs)
	}
	if !strings.HasPrefix(got[0], "\ufeffdate,mites") || answer(got[1]) != answer(want[1]) || answer(got[2]) != answer(want[2]) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	got, errs, code = read("13/8/2026", "5/8/2026", "8/13/2026")
	if code != line.ExitBadData || len(got) != 3 || !strings.Contains(errs, `"5/8/2026" could be 5 August or 8 May`) {
		t.Errorf("exit %d, %d lines\n%s", code, len(got), errs)
	}
}

// BenchmarkBatch is a survey of field-like counts, per row.
func BenchmarkBatch(b *testing.B) {
	var table strings.Builder
	table.WriteString("method,mites,bees\n")
	for i := range b.N {
		fmt.Fprintf(&table, "%s,%d,%d\n", []string{"wash", "roll"}[i%2], i*i%61, 220+i*7%180)
	}
	b.ReportAllocs()
	b.ResetTimer()
	if _, errs, code := batchOf(table.String(), "--no-call"); code != line.ExitDone {
		b.Fatal(errs)
	}
}
