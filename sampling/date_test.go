package sampling

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"
)

func TestDate(t *testing.T) {
	day := Day(2026, time.August, 6)
	if got := day.String(); got != "2026-08-06" {
		t.Errorf("prints as %s", got)
	}
	// 2028 has a leap day, and a day is a day over a change of clocks.
	if got := Day(2028, 3, 1) - Day(2028, 2, 28); got != 2 {
		t.Errorf("28 February to 1 March 2028: %d days", got)
	}
	if got := Day(2027, 3, 1) - Day(2026, 3, 1); got != 365 {
		t.Errorf("a year: %d days", got)
	}
	if got := Day(1970, 1, 1) - Day(1969, 12, 30); got != 2 {
		t.Errorf("two days over 1970: %d", got)
	}
	if got, err := ParseDate("1969-12-31"); err != nil || got.String() != "1969-12-31" {
		t.Errorf("1969-12-31 reads as %v, %v", got, err)
	}
	zone := time.FixedZone("east", 12*3600)
	if got := DateOf(time.Date(2026, 8, 6, 1, 0, 0, 0, zone)); got != day {
		t.Errorf("one in the morning far east is %v", got)
	}
	if got := day.Time(); !got.Equal(time.Date(2026, 8, 6, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("its time is %v", got)
	}
	if Date(0).String() != "" || !Date(0).IsZero() || day.IsZero() {
		t.Error("the zero date is not the one not said")
	}
	if got, err := json.Marshal([]Date{day, 0}); err != nil || string(got) != `["2026-08-06",null]` {
		t.Errorf("JSON %s, %v", got, err)
	}
}

// FuzzParseDate: never a panic, and what is read prints back as it was typed,
// for there is only one way to write a day.
func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"2026-08-06", "2028-02-29", "2026-02-30", "05/06/2026", "1899-12-31", "9999-12-31", "", "2026-8-6", "２０２６-08-06"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseDate(s)
		if err != nil {
			inside(t, s, err)
			return
		}
		if d.String() != s {
			t.Errorf("%q reads as %v", s, d)
		}
	})
}

// Every day of three centuries, and some that are none, read the quick way and
// through package time.
func TestParseDateQuickly(t *testing.T) {
	for year := 1850; year < 2150; year++ {
		for month := range 14 {
			for day := range 33 {
				text := fmt.Sprintf("%04d-%02d-%02d", year, month, day)
				got, err := ParseDate(text)
				want, wantErr := time.Parse(dateLayout, text)
				if bad := wantErr != nil || year < 1900; bad != (err != nil) || !bad && got != DateOf(want) {
					t.Fatalf("%s reads as %v, %v", text, got, err)
				}
			}
		}
	}
	for _, text := range []string{"2026-0a-06", "2026+08-06", "-026-08-06", "2026-08-+6", "2026-8-06 "} {
		if _, err := ParseDate(text); err == nil {
			t.Errorf("%q is read", text)
		}
	}
}
