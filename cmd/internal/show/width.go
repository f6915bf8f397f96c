//go:build !page

package show

import "github.com/jedib0t/go-pretty/v6/text"

func init() {
	// Signs such as ± and – take one column, whatever the locale.
	text.OverrideRuneWidthEastAsianWidth(false)
}

// runeWidth and stringWidth are how many columns of a terminal they take,
// unpaintedWidth that of text without its colours.
func runeWidth(r rune) int        { return text.RuneWidth(r) }
func stringWidth(s string) int    { return text.StringWidth(s) }
func unpaintedWidth(s string) int { return text.StringWidthWithoutEscSequences(s) }
