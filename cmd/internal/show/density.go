package show

import (
	"math"
	"sort"
)

// Density is what is known of one colony, to be drawn against the lines.
type Density struct {
	Levels  []float64 // mites per hundred bees, rising
	Heights []float64 // density per unit of the logarithm of the level, at Levels
	Marks   []Mark

	Low, Median, High float64 // the interval below the axis; NaN to leave it out
}

// Mark is a level that matters, such as an action threshold.
type Mark struct {
	Level float64
	Label string // such as "act 3"
	Faint bool   // drawn broken: a line that asks for less than the others
}

// Size of the picture in rows, and the part of the peak below which a tail is
// left out.
const (
	densityRows = 7
	tailPart    = 0.01
	pictureWide = 80
)

// glyphs are the characters of the pictures, in Unicode and in ASCII.
type glyphs struct {
	part                    []rune // an eighth to eight eighths of a cell
	line, faint, base, tick rune
	left, right, middle     rune // of the interval
	band, past, dash        rune // of the chart over time
	dot, pastDot, seen      rune
	event                   rune
}

var (
	unicodeGlyphs = glyphs{[]rune("▁▂▃▄▅▆▇█"), '│', '┊', '─', '┴', '├', '┤', '●', '░', '·', '╌', '●', '○', '×', '▲'}
	asciiGlyphs   = glyphs{[]rune("...:::##"), '|', ':', '-', '+', '[', ']', 'o', ':', '.', '-', '*', 'o', 'x', '^'}
)

func (p Page) glyphs() glyphs {
	if p.ASCII {
		return asciiGlyphs
	}
	return unicodeGlyphs
}

// Density draws d at most 80 columns wide: the levels on a logarithmic axis,
// the marks as upright lines with their labels above, and the interval below.
// It draws nothing when there is no density to draw.
func (p Page) Density(d Density) string {
	scale, ok := d.scale()
	if !ok || p.NoPicture {
		return ""
	}
	g := p.glyphs()
	margin := 2
	wide := min(p.Width, pictureWide) - 2*margin
	column := func(level float64) int {
		return margin + nearestCell(scale.at(level)*float64(wide-1))
	}

	marks := append([]Mark(nil), d.Marks...)
	sort.SliceStable(marks, func(i, j int) bool { return marks[i].Level < marks[j].Level })
	labelRows := max(len(marks), 1) // enough for labels that all collide
	c := newCanvas(p, margin+wide+margin, labelRows+densityRows+4)

	// The curve.
	heights := d.columns(scale, wide)
	peak := 0.0
	for _, h := range heights {
		peak = max(peak, h)
	}
	base := labelRows + densityRows
	for i, h := range heights {
		eighths := int(math.Round(h / peak * densityRows * 8))
		for y := base - 1; eighths > 0; y-- {
			c.put(margin+i, y, g.part[min(eighths, 8)-1], Known)
			eighths -= 8
		}
	}

	// The axis.
	for i := range wide {
		c.put(margin+i, base, g.base, Past)
	}
	for _, t := range logTicks(scale.low, scale.high) {
		label := tickText(t)
		x := column(t) - len(label)/2
		if c.free(x, base+1, len(label)) {
			c.put(column(t), base, g.tick, Past)
			c.text(x, base+1, label)
		}
	}

	// The marks, over the curve: the place of the line is what matters. Labels
	// go first, so that no line cuts through one.
	top := labelRows
	for i, m := range marks {
		top = min(top, c.placeLabel(m.Label, column(m.Level), labelRows, i == 0 && len(marks) > 1))
	}
	for _, m := range marks {
		x, upright := column(m.Level), g.line
		if m.Faint {
			upright = g.faint
		}
		for y := labelRows; y < base; y++ {
			c.put(x, y, upright, Line)
		}
		for y := labelRows - 1; y > top && c.cells[y][x].r == ' '; y-- {
			c.put(x, y, upright, Line)
		}
	}

	// The interval.
	below := base + 2
	if !math.IsNaN(d.Low) && !math.IsNaN(d.High) {
		from, to := max(column(d.Low), margin), min(column(d.High), margin+wide-1)
		for x := from; x <= to; x++ {
			c.put(x, below, g.base, Known)
		}
		c.put(from, below, g.left, Known)
		c.put(to, below, g.right, Known)
		if !math.IsNaN(d.Median) {
			c.put(column(d.Median), below, g.middle, Known)
		}
		below++
	}
	c.text(margin, below, "mites per hundred bees")
	c.cells = c.cells[:below+1]
	c.cells = c.cells[top:]
	return c.String()
}

// placeLabel writes a label in the lowest free row above the picture, beside
// column x: to its left or else to its right, or the other way round. It
// returns the row.
func (c *canvas) placeLabel(label string, x, rows int, leftFirst bool) int {
	n := len([]rune(label))
	places := []int{x, x - n + 1}
	if leftFirst {
		places = []int{x - n + 1, x}
	}
	for y := rows - 1; y >= 0; y-- {
		for _, at := range places {
			if c.free(at, y, n) {
				c.text(at, y, label)
				return y
			}
		}
	}
	return rows - 1
}

// scale covers the density but for its thin tails, and every mark.
func (d Density) scale() (logScale, bool) {
	peak := 0.0
	for _, h := range d.Heights {
		peak = max(peak, h)
	}
	low, high := math.Inf(1), 0.0
	for i, h := range d.Heights {
		if h >= tailPart*peak && d.Levels[i] > 0 {
			low, high = min(low, d.Levels[i]), max(high, d.Levels[i])
		}
	}
	for _, m := range d.Marks {
		low, high = min(low, m.Level), max(high, m.Level)
	}
	// A tenth more at both ends, and never less than from 1 to 4.
	low, high = low/1.1, high*1.1
	if middle := math.Sqrt(low * high); high/low < 4 {
		low, high = middle/2, middle*2
	}
	return logScale{low, high}, peak > 0 && low > 0
}

// columns is the mean height over each of n columns of the scale.
func (d Density) columns(s logScale, n int) []float64 {
	const samples = 8
	out := make([]float64, n)
	for i := range out {
		for k := range samples {
			// Column i stands for the levels half a column to either side.
			part := (float64(i) - 0.5 + (float64(k)+0.5)/samples) / float64(n-1)
			out[i] += d.height(s.level(part)) / samples
		}
	}
	return out
}

// height is the density at a level, by straight lines between the levels given.
func (d Density) height(level float64) float64 {
	i := sort.SearchFloat64s(d.Levels, level)
	switch {
	case i == len(d.Levels) || i == 0 && level < d.Levels[0]:
		return 0
	case i == 0:
		return d.Heights[0]
	}
	part := math.Log(level/d.Levels[i-1]) / math.Log(d.Levels[i]/d.Levels[i-1])
	return d.Heights[i-1] + part*(d.Heights[i]-d.Heights[i-1])
}
