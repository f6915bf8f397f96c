package show

import (
	"math"
	"strings"
)

// canvas is a grid of single-column characters, each with a role.
type canvas struct {
	page  Page
	cells [][]cellOf // rows from the top
}

type cellOf struct {
	r      rune
	role   Role
	filled bool // whether a role was given
}

func newCanvas(p Page, width, height int) *canvas {
	c := &canvas{page: p, cells: make([][]cellOf, height)}
	for i := range c.cells {
		c.cells[i] = make([]cellOf, width)
		for j := range c.cells[i] {
			c.cells[i][j].r = ' '
		}
	}
	return c
}

// put draws a character; what lies outside is left out.
func (c *canvas) put(x, y int, r rune, role Role) {
	if y >= 0 && y < len(c.cells) && x >= 0 && x < len(c.cells[y]) {
		c.cells[y][x] = cellOf{r, role, true}
	}
}

// text draws a string of single-column characters without a role.
func (c *canvas) text(x, y int, s string) {
	for _, r := range s {
		c.put(x, y, r, Known)
		if y >= 0 && y < len(c.cells) && x >= 0 && x < len(c.cells[y]) {
			c.cells[y][x].filled = false
		}
		x++
	}
}

// free reports whether row y is blank from x to x+n, with a blank either side.
func (c *canvas) free(x, y, n int) bool {
	row := c.cells[y]
	if x < 0 || x+n > len(row) {
		return false
	}
	for i := max(x-1, 0); i < min(x+n+1, len(row)); i++ {
		if row[i].r != ' ' {
			return false
		}
	}
	return true
}

func (c *canvas) String() string {
	var b strings.Builder
	for _, row := range c.cells {
		end := len(row)
		for end > 0 && row[end-1].r == ' ' {
			end--
		}
		for i := 0; i < end; {
			// Neighbours of one role share their escape sequence.
			j := i
			for j < end && row[j].filled == row[i].filled && row[j].role == row[i].role {
				j++
			}
			var run strings.Builder
			for _, cell := range row[i:j] {
				run.WriteRune(cell.r)
			}
			if row[i].filled {
				b.WriteString(c.page.Paint(row[i].role, run.String()))
			} else {
				b.WriteString(run.String())
			}
			i = j
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// logTicks lists 1, 2 and 5 times the powers of ten from low to high.
func logTicks(low, high float64) []float64 {
	var out []float64
	for e := math.Floor(math.Log10(low)); e <= math.Log10(high); e++ {
		for _, m := range []float64{1, 2, 5} {
			if t := m * math.Pow(10, e); t >= low*(1-1e-9) && t <= high*(1+1e-9) {
				out = append(out, t)
			}
		}
	}
	return out
}

// tickText is the tick in the fewest digits; powers of ten are not exact.
func tickText(t float64) string { return Plain(math.Round(t*1e6) / 1e6) }

// nearestCell is the cell nearest to a place. One half way between two, as the
// middle of an even axis is, must not depend on the last digit of a sum.
func nearestCell(place float64) int { return int(math.Floor(place + 0.5 + 1e-9)) }

// logScale maps levels from low to high onto 0 to 1.
type logScale struct{ low, high float64 }

func (s logScale) at(level float64) float64 {
	return math.Log(level/s.low) / math.Log(s.high/s.low)
}

func (s logScale) level(part float64) float64 {
	return s.low * math.Pow(s.high/s.low, part)
}
