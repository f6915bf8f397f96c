package sampling

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Date is a calendar day, counted in days from 0001-01-01, so that two dates
// subtract to whole days and no clock or time zone is ever asked. The zero
// Date means "not said".
type Date int

const dateLayout = "2006-01-02"

// DateOf is the day on which the calendar of t stands, in t's own zone.
func DateOf(t time.Time) Date {
	return Day(t.Year(), t.Month(), t.Day())
}

// Day is the given calendar day. Days and months outside their range carry
// over, as in time.Date.
func Day(year int, month time.Month, day int) Date {
	t := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	// Unix seconds, not a Duration: a Duration overflows after 292 years.
	const toUnix = 719162 // days from 0001-01-01 to 1970-01-01
	return Date(floorDiv(t.Unix(), 86400) + toUnix)
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// ParseDate reads a day written as 2026-08-06. Any other order of year, month
// and day is refused, because 05/06/2026 is two different days to two people.
// The error is a *SyntaxError.
func ParseDate(s string) (Date, error) {
	if d, ok := plainDate(s); ok {
		return d, nil
	}
	t, err := time.Parse(dateLayout, s)
	if err != nil {
		e := &SyntaxError{Input: s, Length: max(len(s), 1), Problem: fmt.Sprintf("%q is not a date", s), Remedy: "write year-month-day, such as 2026-08-06"}
		switch {
		case s == "":
			e.Problem = "the date is missing"
		case looksLikeISO(s):
			e.Problem = fmt.Sprintf("there is no such day as %s", s)
			e.Remedy = "check the month and the day"
		}
		return 0, e
	}
	if t.Year() < 1900 {
		return 0, &SyntaxError{Input: s, Length: 4, Problem: fmt.Sprintf("the year %d is too long ago for a bee record", t.Year()), Remedy: "check the year"}
	}
	return DateOf(t), nil
}

// plainDate reads a day that every month has, as most have that are read.
func plainDate(s string) (Date, bool) {
	if len(s) != len(dateLayout) || s[4] != '-' || s[7] != '-' {
		return 0, false
	}
	number := func(s string) (n int) {
		for i := range len(s) {
			if s[i] < '0' || s[i] > '9' {
				return -1
			}
			n = 10*n + int(s[i]-'0')
		}
		return n
	}
	year, month, day := number(s[:4]), number(s[5:7]), number(s[8:])
	if year < 1900 || month < 1 || month > 12 || day < 1 || day > 28 {
		return 0, false
	}
	return Day(year, time.Month(month), day), true
}

func looksLikeISO(s string) bool {
	if len(s) != len(dateLayout) {
		return false
	}
	return strings.IndexFunc(s[:4]+s[5:7]+s[8:], func(r rune) bool { return r < '0' || r > '9' }) < 0 && s[4] == '-' && s[7] == '-'
}

// Time is midnight UTC of the day.
func (d Date) Time() time.Time { return time.Date(1, 1, 1+int(d), 0, 0, 0, 0, time.UTC) }

// Apart is how many days lie between two dates, whichever comes first.
func (d Date) Apart(o Date) int { return int(max(d-o, o-d)) }

// IsZero reports whether no date was said.
func (d Date) IsZero() bool { return d == 0 }

// String is the day as 2026-08-06, or "" when none was said.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return d.Time().Format(dateLayout)
}

// MarshalJSON writes the day as a string, and null when none was said.
func (d Date) MarshalJSON() ([]byte, error) {
	if d.IsZero() {
		return []byte("null"), nil
	}
	return json.Marshal(d.String())
}
