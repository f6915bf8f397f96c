package fieldlog

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// A date is read as the one day it can be, or not at all.
func TestOrderDate(t *testing.T) {
	for _, tc := range []struct {
		order      Order
		text, want string // a day, or a part of why not
	}{
		{"", "2026-08-06", "2026-08-06"}, {"", "2026-8-6", "2026-08-06"}, {"", "2026/08/06", "2026-08-06"}, {MonthFirst, "2026.8.6", "2026-08-06"},
		{"", "6.8.2026", "2026-08-06"}, {"", "06.08.2026", "2026-08-06"}, {MonthFirst, "6.8.2026", "2026-06-08"},
		{"", "25/6/2026", "2026-06-25"}, {"", "6/25/2026", "2026-06-25"}, {"", "7/7/2026", "2026-07-07"},
		{"", "5/6/2026", "could be 5 June or 6 May"}, {DayFirst, "5/6/2026", "2026-06-05"}, {MonthFirst, "5-6-2026", "2026-05-06"},
		{DayFirst, "6/25/2026", "no day in the order day, month, year"}, {MonthFirst, "25/6/2026", "no day in the order month"},
		{DayFirst, "5/6/26", "2026-06-05"}, {YearFirst, "26-6-5", "2026-06-05"}, {"", "5/6/26", "which number is the year"}, {"", "6.8.26", "which number is the year"},
		{"", "2026-08-06 00:00:00", "2026-08-06"}, {"", "6.8.2026 14:30", "2026-08-06"}, {"", "2026-08-06T14:30", "2026-08-06"}, {"", "6.8.2026 at noon", "is not a date"},
		{"", "31/2/2026", "no such day"}, {"", "30.2.2026", "no such day"}, {"", "1.2/2026", "is not a date"}, {"", "6.8.1726", "is not a date"}, {"", "", "missing"},
	} {
		d, err := tc.order.Date(tc.text)
		if got := d.String(); err != nil && !strings.Contains(err.Error(), tc.want) || err == nil && got != tc.want {
			t.Errorf("%q in the order %q: %q, %v; want %s", tc.text, tc.order, got, err, tc.want)
		}
	}
}

// In whatever order a file has its dates, they are read as what was meant or
// refused, and all are read once one of them has a day over 12. To read them one
// by one, as each could be, takes half of them for other days or none.
func TestDatesOfAFile(t *testing.T) {
	layouts := map[Order]string{DayFirst: "02/01/2006", MonthFirst: "1/2/2006", YearFirst: "2006/1/2"}
	rapid.Check(t, func(t *rapid.T) {
		order := rapid.SampledFrom([]Order{DayFirst, MonthFirst, YearFirst}).Draw(t, "order")
		days := rapid.SliceOfN(rapid.IntRange(0, 364), 1, 20).Draw(t, "days")
		text, settled := "date,colony,event,note\n", order == YearFirst
		var want []sampling.Date
		for i, n := range days {
			d := sampling.Day(2026, time.January, 1+n)
			settled = settled || d.Time().Day() > 12
			want = append(want, d)
			text += fmt.Sprintf("%s,c%d,inspection,\"1/2/2026, 25/12/2026\"\n", d.Time().Format(layouts[order]), i)
		}
		r, err := Read("log.csv", strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range r.Events {
			if e.Date != want[e.Line-2] {
				t.Fatalf("line %d is read as %s, meant is %s\n%s", e.Line, e.Date, want[e.Line-2], text)
			}
		}
		if settled && len(r.Events) != len(want) {
			t.Fatalf("%d of %d are read\n%s", len(r.Events), len(want), text)
		}
		said, err := parse("log.csv", text, order)
		if err != nil || len(said.Events) != len(want) {
			t.Fatalf("the order was said, and %d of %d are read: %v", len(said.Events), len(want), err)
		}
	})
	mixed := read(t, "date,colony,event\n25/6/2026,a,died\n6/25/2026,b,died\n5/6/2026,c,died\n")
	if len(mixed.Events) != 2 || len(mixed.Problems) != 1 {
		t.Errorf("of a mixed file %d are read", len(mixed.Events))
	}
}

func TestSpreadsheetFiles(t *testing.T) {
	for text, want := range map[string]string{"PK\x03\x04\x14": "spreadsheet's own file", "\xff\xfed\x00": "UTF-16"} {
		if _, err := Read("yard.xlsx", strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}
