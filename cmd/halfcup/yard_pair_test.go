package main

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
)

// A yard whose calls hang on how much the rolls of the day found is asked for a
// pair, one far from its line is not. And in every command a roll beside washes
// that found twice as many reads higher than alone.
func TestYardAsksForAPair(t *testing.T) {
	t.Chdir(t.TempDir())
	yard := func(mites int) string {
		text := "date,yard,colony,event,method,mites,amount\n"
		for i := range 14 {
			text += fmt.Sprintf("2026-07-01,mill,hive %d,count,roll,%d,300 bees\n", i, mites)
		}
		writeFile(t, "yard.csv", text)
		var stdout, stderr bytes.Buffer
		if code := run([]string{"yard", "--log", "yard.csv", "--today", "2026-07-01"}, strings.NewReader(""), &stdout, &stderr); code != 0 {
			t.Fatalf("exit %d: %s", code, &stderr)
		}
		return strings.Join(strings.Fields(stdout.String()), " ")
	}
	const asks = "make one pair: roll hive 0 once more and wash the very same bees, about 300 of which die"
	if out := yard(7); !strings.Contains(out, asks) {
		t.Errorf("no pair is asked for:\n%s", out)
	}
	if out := yard(1); strings.Contains(out, "pair") {
		t.Errorf("a pair is asked for:\n%s", out)
	}
}

func TestEveryCommandSharesTheRollDay(t *testing.T) {
	t.Chdir(t.TempDir())
	text := "date,yard,colony,event,method,mites,amount\n"
	for i := range 6 {
		text += fmt.Sprintf("2026-07-01,mill,rolled %d,count,roll,6,300 bees\n2026-07-01,mill,washed %d,count,wash,14,300 bees\n", i, i)
	}
	writeFile(t, "beside.csv", text)
	writeFile(t, "rolls.csv", strings.ReplaceAll(text, "wash,14", "roll,14"))
	for _, args := range [][]string{{"estimate", "--colony", "rolled 0"}, {"choose", "--colony", "rolled 0"}, {"enough", "--colony", "rolled 0"}} {
		at := func(log string) float64 {
			t.Helper()
			var h struct {
				ChanceOver struct{ Act float64 } `json:"chance_over"`
			}
			answerTo(t, &h, append(args, "--log", log, "--today", "2026-07-01", "--format", "json")...)
			return h.ChanceOver.Act
		}
		if beside, alike := at("beside.csv"), at("rolls.csv"); !(beside > alike+0.02) {
			t.Errorf("%v: over the line with %.3f beside washes that found more, %.3f beside rolls that did", args, beside, alike)
		}
	}
}
