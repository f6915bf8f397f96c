package say

import (
	"math"
	"unicode"
	"unicode/utf8"

	"halfcup/cmd/internal/show"
)

// Percent is a level that was asked for, in all its digits.
func Percent(level float64) string { return show.Plain(math.Round(level*1e8)/1e6) + "%" }

// Took is the share of the mites that a treatment took. Where more were found
// than before it took none. Only a bare count can say 100%: none was found.
func Took(share float64) string {
	switch {
	case share <= 0:
		return "none"
	case share == 1:
		return "100%"
	}
	return show.Percent(share)
}

// Capital is s with a capital first letter. It is for our own words: a name is
// written as its owner writes it.
func Capital(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if first == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(first)) + s[size:]
}

// Said is a pointer to v, or nil for the zero value: what was not said.
func Said[T comparable](v T) *T {
	var none T
	if v == none {
		return nil
	}
	return &v
}
