package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/internal/long"
	"halfcup/sampling"
)

// messySurvey is an invented survey as many hands write one, and the same counts
// in the notation of the program, a line each; a row that no person could read
// has "" there. The recipe is this function; the seed makes it the same every
// time.
func messySurvey(n int) (messy string, clean []string, readable int) {
	rnd := rand.New(rand.NewPCG(22, 3))
	pick := func(of ...string) string { return of[rnd.IntN(len(of))] }
	var b strings.Builder
	b.WriteString("\ufeffHive;Visited;Technique;Varroa found;Sample taken;Remarks\r\n")
	for i := range n {
		d := sampling.Day(2026, time.April, 1+rnd.IntN(180))
		mites, bees := rnd.IntN(40), 200+rnd.IntN(200)
		method, amount := "wash", fmt.Sprint(bees)
		named, wrote := method, amount
		count := fmt.Sprint(mites)
		day := d.String()
		note := pick("", "dry", "queen seen", `"wet; windy"`)
		person := true
		switch i % 20 { // more than half of the rows are clean
		case 0: // a spreadsheet's numbers
			count, wrote = count+".0", wrote+".0"
		case 1: // amounts in words
			wrote += pick(" bees", "bees", " Bees")
		case 2: // volumes
			amount, wrote = "0.5cup", pick("½ cup", "0,5 cup", "0.5cup", "0.5 cups")
		case 3: // names of the trade
			method = pick("wash", "roll")
			named = map[string]string{"wash": pick("Alcohol wash", "ALCOHOL WASH", "wash"), "roll": pick("Sugar roll", "sugar shake", "Sugar Roll")}[method]
		case 4: // dates with points
			day = d.Time().Format(pick("2.1.2006", "02.01.2006"))
		case 5: // dates with strokes, and a time of day
			day = d.Time().Format(pick("02/01/2006", "2/1/2006", "2006-01-02 15:04:05"))
		case 6: // nothing was noted
			person = false
			if rnd.IntN(2) == 0 {
				count = pick("", "NA", "NaN")
			} else {
				wrote = pick("", "NA", "n/a")
			}
		case 7: // a quote that is never closed, a note of two lines, and words for a number
			switch rnd.IntN(3) {
			case 0:
				note = `"snow 3"" deep` // closed nowhere; a person reads the row all the same
			case 1:
				note = "\"first line\nsecond line\""
			default:
				count, person = pick("a few", "many", "lost"), false
			}
		}
		clean = append(clean, "")
		if person {
			readable++
			clean[i] = fmt.Sprintf("%s,%s,%d,%s", d, method, mites, amount)
		}
		fmt.Fprintf(&b, "h%05d;%s;%s;%s;%s;%s\r\n", i, day, named, count, wrote, note)
	}
	return b.String(), clean, readable
}

// Of the rows of a messy survey that a person could read, 97 in a hundred are
// read, and not one for what it does not say. The order of its dates nobody says:
// the column itself does.
func TestBatchMessySurvey(t *testing.T) {
	t.Chdir(t.TempDir())
	messy, clean, readable := messySurvey(long.Of(2000, 10_000))
	writeFile(t, "survey.csv", messy)
	var stdout, stderr bytes.Buffer
	code := run([]string{"batch", "survey.csv", "--no-call", "--column", "date=Visited", "--column", "method=Technique", "--column", "mites=Varroa found", "--column", "bees=Sample taken"}, strings.NewReader(""), &stdout, &stderr)
	out, errs := stdout.String(), stderr.String()
	if code != line.ExitBadData {
		t.Fatalf("exit %d\n%s", code, errs)
	}
	table := "date,method,mites,bees\n"
	var at []int
	for i, row := range clean {
		if row != "" {
			table += row + "\n"
			at = append(at, i)
		}
	}
	want := map[string]string{} // the answer by hive
	for i, l := range strings.Split(strings.TrimSpace(mustBatch(t, table, "--no-call")), "\n")[1:] {
		want[fmt.Sprintf("h%05d", at[i])] = strings.ReplaceAll(strings.Join(strings.Split(l, ",")[4:], ";"), ".", ",")
	}
	read, wrong := 0, 0
	_, body, _ := strings.Cut(out, "\n")
	for _, l := range strings.Split(strings.ReplaceAll(strings.ReplaceAll(body, "wet; windy", ""), "first line\n", ""), "\n") {
		cells := strings.Split(l, ";")
		if len(cells) < 12 {
			continue
		}
		answer := strings.Join(cells[len(cells)-12:], ";")
		switch {
		case strings.Trim(answer, ";") == "":
		case answer == want[cells[0]]:
			read++
		default:
			if wrong++; wrong < 5 {
				t.Errorf("%s, want %s", l, want[cells[0]])
			}
		}
	}
	t.Logf("%d of %d readable rows are read, %d for what they do not say", read, readable, wrong)
	if wrong > 0 || !(float64(read) >= 0.97*float64(readable)) {
		t.Errorf("%d of %d readable rows are read, %d wrongly\n%s", read, readable, wrong, errs)
	}
}
