package show

import (
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"
)

// Wide is how many columns s takes on a page.
func Wide(s string) int { return text.StringWidthWithoutEscSequences(s) }

// Cell is s in exactly so many columns: filled up with blanks, on its left when
// it is set right, or cut with a sign that it was.
func Cell(s string, width int, right bool) string {
	s = Marked(s)
	if Wide(s) > width {
		for s != "" && Wide(s) >= width {
			r := []rune(s)
			s = string(r[:len(r)-1])
		}
		s += "…"
	}
	fill := strings.Repeat(" ", max(width-Wide(s), 0))
	if right {
		return fill + s
	}
	return s + fill
}

// Split puts one text at the left of a line and one at its right, or below each
// other where they do not fit.
func (p Page) Split(left, right string) string {
	if free := p.Width - Wide(left) - Wide(right); free >= 3 {
		return left + strings.Repeat(" ", free) + right + "\n"
	}
	return p.Wrap(left, 0) + p.Wrap(right, 0)
}
