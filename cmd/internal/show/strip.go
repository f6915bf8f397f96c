package show

import (
	"math"
	"slices"
)

// Strip is a few figures of one kind on a common axis, one a row.
type Strip struct {
	Rows []StripRow
	Log  bool   // a logarithmic axis; otherwise shares from 0 to 1, written in percent
	Unit string // what is on the axis
}

// StripRow is one figure, with the interval round it.
type StripRow struct {
	Name      string
	Middle    float64
	Low, High float64 // NaN when there is no interval
	Past      bool    // what held before, or one of many seen: drawn in grey
}

// Strip draws s at most 80 columns wide. It draws nothing without rows, and on
// a logarithmic axis leaves out what is not above zero.
func (p Page) Strip(s Strip) string {
	if p.NoPicture {
		return ""
	}
	rows := slices.Clone(s.Rows)
	if s.Log {
		rows = slices.DeleteFunc(rows, func(r StripRow) bool { return !(r.Middle > 0) })
	}
	if len(rows) == 0 {
		return ""
	}
	g := p.glyphs()
	names := 0
	for _, r := range rows {
		names = max(names, width(r.Name))
	}
	left := 2 + names + 2
	wide := max(min(p.Width, pictureWide)-left-2, 20)
	at, ticks, label := s.axis(rows)
	column := func(v float64) int {
		return left + nearestCell(min(max(at(v), 0), 1)*float64(wide-1))
	}
	c := newCanvas(p, left+wide+2, len(rows)+2)
	for y, r := range rows {
		role, dot := Known, g.dot
		if r.Past {
			role, dot = Past, g.pastDot
		}
		c.text(2, y, r.Name)
		if !math.IsNaN(r.Low) && !math.IsNaN(r.High) {
			from, to := column(r.Low), column(r.High)
			for x := from; x <= to; x++ {
				c.put(x, y, g.base, role)
			}
			c.put(from, y, g.left, role)
			c.put(to, y, g.right, role)
		}
		c.put(column(r.Middle), y, dot, role)
	}
	base := len(rows)
	for i := range wide {
		c.put(left+i, base, g.base, Past)
	}
	for _, t := range ticks {
		text := label(t)
		x := min(column(t)-len(text)/2, left+wide+2-len(text))
		if c.free(x, base+1, len(text)) {
			c.put(column(t), base, g.tick, Past)
			c.text(x, base+1, text)
		}
	}
	if left+width(s.Unit) <= p.Width {
		return c.String() + p.Hang(s.Unit, left, left)
	}
	return c.String() + p.Hang(s.Unit, 2, 2)
}

// axis maps figures onto 0 to 1.
func (s Strip) axis(rows []StripRow) (at func(float64) float64, ticks []float64, label func(float64) string) {
	if !s.Log {
		return func(v float64) float64 { return v }, []float64{0, 0.25, 0.5, 0.75, 1},
			func(v float64) string { return Plain(100*v) + "%" }
	}
	low, high := math.Inf(1), 0.0
	for _, r := range rows {
		for _, v := range []float64{r.Low, r.Middle, r.High} {
			if v > 0 && !math.IsInf(v, 1) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	scale := logScale{low / 1.3, high * 1.3}
	return scale.at, logTicks(scale.low, scale.high), tickText
}
