package show

import (
	"fmt"
	"math"
	"strings"

	"halfcup/sampling"
)

// OfHundred tells a chance by natural frequencies, which people read better
// than percentages: "of 100 colonies with this count, 23 are over the line".
// Chances near 0 and 1 are told of a thousand, and never as none or all.
func OfHundred(p float64, whom, what string) string {
	of, n := 100, math.Round(100*p)
	if n < 1 || n > 99 {
		of, n = 1000, math.Round(1000*p)
	}
	head := fmt.Sprintf("of %d %s, ", of, whom)
	switch {
	case math.IsNaN(p):
		return "nobody knows how many " + whom + " are " + what
	case n < 1:
		return head + "fewer than 1 is " + what
	case n == 1:
		return head + "1 is " + what
	case n > 999:
		return head + "more than 999 are " + what
	}
	return fmt.Sprintf("%s%.0f are %s", head, n, what)
}

// Many is n with the word for one or for more: "1 mite", "5 mites".
func Many(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

// List joins words as a sentence does: "a, b and c".
func List(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

// Day is a date as it is spoken: 6 August 2026.
func Day(d sampling.Date) string {
	if d.IsZero() {
		return "an unknown day"
	}
	return d.Time().Format("2 January 2006")
}

// FromToday is how far off a day is: "today", "tomorrow", "in 12 days",
// "3 days ago".
func FromToday(today, d sampling.Date) string {
	switch days := int(d - today); {
	case days == 0:
		return "today"
	case days == 1:
		return "tomorrow"
	case days == -1:
		return "yesterday"
	case days < 0:
		return fmt.Sprintf("%d days ago", -days)
	default:
		return fmt.Sprintf("in %d days", days)
	}
}
