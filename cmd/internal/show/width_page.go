//go:build page

package show

import "unicode/utf8"

// On the page on a phone there is no terminal: nothing is laid out in columns,
// and the tables of their widths are spared.
func runeWidth(rune) int          { return 1 }
func stringWidth(s string) int    { return utf8.RuneCountInString(s) }
func unpaintedWidth(s string) int { return utf8.RuneCountInString(s) }
