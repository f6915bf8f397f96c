package keep

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"halfcup/sampling"
)

var (
	weekdays = []string{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"}
	months   = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}
)

// which is the day of several years that a word such as 14jun means.
type which int

const (
	past    which = iota // the last one, today at the latest
	nearest              // for what may be planned
	coming               // the next one, today at the earliest
)

// readDay reads today, yesterday, tomorrow, a day of the week (the last one),
// 14jun, jun14, 14jun2026 or 2026-06-14. Any other word is no day: isDay is
// false. 6/7 is two days to two people and an error.
func readDay(s string, today sampling.Date, w which) (d sampling.Date, isDay bool, err error) {
	word := strings.ToLower(s)
	switch word {
	case "today":
		return today, true, nil
	case "yesterday":
		return today - 1, true, nil
	case "tomorrow":
		return today + 1, true, nil
	}
	if i := placeOf(word, weekdays); i >= 0 {
		back := (int(today.Time().Weekday()) - i + 7) % 7
		return today - sampling.Date(back), true, nil
	}
	if len(word) == len("2026-06-14") && word[4] == '-' {
		d, err := sampling.ParseDate(s)
		return d, true, err
	}
	if parts := strings.FieldsFunc(word, func(r rune) bool { return r == '/' || r == '.' }); len(parts) >= 2 && len(parts) <= 3 && strings.Trim(word, "0123456789/.") == "" && len(word) > len(strings.Join(parts, "")) {
		return 0, true, &sampling.SyntaxError{Input: s, Length: len(s), Problem: fmt.Sprintf("%s is two days to two people", s), Remedy: "write the month as a word, such as 6jul, or 2026-07-06"}
	}
	day, month, year, ok := dayOfMonth(word)
	if !ok {
		return 0, false, nil
	}
	at := func(year int) (sampling.Date, bool) {
		d := sampling.Day(year, month, day)
		return d, d.Time().Day() == day
	}
	none := &sampling.SyntaxError{Input: s, Length: len(s), Problem: fmt.Sprintf("there is no such day as %s", s), Remedy: "check the day of the month"}
	if year != 0 {
		if d, ok := at(year); ok {
			return d, true, nil
		}
		return 0, true, none
	}
	best, found := sampling.Date(0), false
	for y := today.Time().Year() - 4; y <= today.Time().Year()+4; y++ { // a leap day within
		d, ok := at(y)
		off := d - today
		if !ok || w == past && off > 0 || w == coming && off < 0 {
			continue
		}
		if !found || d.Apart(today) < best.Apart(today) {
			best, found = d, true
		}
	}
	if !found {
		return 0, true, none
	}
	return best, true, nil
}

// placeOf is the place of a word among names, which may be cut to three letters
// or more; -1 when it is none of them.
func placeOf(word string, names []string) int {
	for i, n := range names {
		if len(word) >= 3 && strings.HasPrefix(n, word) || word == "sept" && n == "september" {
			return i
		}
	}
	return -1
}

// dayOfMonth reads 14jun, jun14 and 14jun2026.
func dayOfMonth(word string) (day int, month time.Month, year int, ok bool) {
	letter := strings.IndexFunc(word, unicode.IsLetter)
	if letter < 0 {
		return 0, 0, 0, false
	}
	before, rest := word[:letter], word[letter:]
	end := strings.IndexFunc(rest, func(r rune) bool { return !unicode.IsLetter(r) })
	if end < 0 {
		end = len(rest)
	}
	i := placeOf(rest[:end], months)
	after := rest[end:]
	if i < 0 {
		return 0, 0, 0, false
	}
	if before == "" && len(after) <= 2 {
		before, after = after, ""
	}
	day, err := strconv.Atoi(before)
	if err != nil || day < 1 || day > 31 || len(before) > 2 {
		return 0, 0, 0, false
	}
	if after != "" {
		if year, err = strconv.Atoi(after); err != nil || len(after) != 4 {
			return 0, 0, 0, false
		}
	}
	return day, time.Month(i + 1), year, true
}
