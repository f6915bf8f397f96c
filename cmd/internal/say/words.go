package say

import (
	"math"
	"strings"

	"halfcup/cmd/internal/show"
)

// Percent is a level that was asked for, in all its digits.
func Percent(level float64) string { return show.Plain(math.Round(level*1e8)/1e6) + "%" }

// Capital is s with a capital first letter.
func Capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// Said is nil for what was not said.
func Said[T comparable](v T) *T {
	var none T
	if v == none {
		return nil
	}
	return &v
}
