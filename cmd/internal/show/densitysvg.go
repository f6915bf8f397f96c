package show

import (
	"math"
	"slices"
)

// narrowWide is the width of a picture for a phone: its words are as large
// there as those beside it.
const narrowWide = 360

// SVG draws d as a picture of the width of a phone: the curve on a logarithmic
// axis, the marks as upright lines with their labels, the interval below. Words
// tell whoever cannot see it what there is to see. It is nil when there is no
// density to draw.
func (d Density) SVG(title, words string) []byte {
	scale, ok := d.scale()
	if !ok {
		return nil
	}
	const (
		high   = 190.0
		bottom = high - axisBelow - 2*rowHigh // of the curve
	)
	p := &picture{wide: narrowWide, high: high}
	x := axis{low: scale.low, high: scale.high, from: pagePad, to: narrowWide - pagePad, log: true}

	marks := slices.Clone(d.Marks)
	slices.SortStableFunc(marks, func(a, b Mark) int { return int(math.Copysign(1, a.Level-b.Level)) })
	top := pagePad + rowHigh*float64(len(marks))
	const columns = 120
	heights := d.columns(scale, columns)
	peak := slices.Max(heights)
	curve := []point{{x.from, bottom}}
	for i, h := range heights {
		curve = append(curve, point{x.from + (x.to-x.from)*float64(i)/(columns-1), bottom - h/peak*(bottom-top)})
	}
	curve = append(curve, point{x.to, bottom})
	p.area(curve)
	p.line(strokeKnown, curve...)

	end := math.Inf(-1)
	for _, m := range logMarks(scale.low, scale.high) {
		at, half := x.at(m.value), letter*float64(len(m.label))/2
		p.line(strokeAxis, point{at, bottom}, point{at, bottom + 4})
		if at-half > end+letter {
			p.words(min(max(at, half), narrowWide-half), bottom+rowHigh, "middle", m.label)
			end = at + half
		}
	}
	for i, m := range marks {
		s, at := strokeLine, x.at(m.Level)
		s.dashes = ""
		if m.Faint {
			s.dashes = strokeLine.dashes
		}
		// Each label in a row of its own, on the side with more room.
		row := pagePad + textSize + rowHigh*float64(i)
		p.line(s, point{at, row + 4}, point{at, bottom})
		anchor := "start"
		if at > narrowWide/2 {
			anchor = "end"
		}
		p.words(at, row, anchor, m.Label)
	}
	if !math.IsNaN(d.Low) && !math.IsNaN(d.High) {
		y := bottom + axisBelow + 4
		low, up := x.at(d.Low), x.at(d.High)
		p.line(strokeKnown, point{low, y}, point{up, y})
		p.line(strokeKnown, point{low, y - 4}, point{low, y + 4})
		p.line(strokeKnown, point{up, y - 4}, point{up, y + 4})
		if !math.IsNaN(d.Median) {
			p.disc(point{x.at(d.Median), y})
		}
	}
	p.words(narrowWide/2, high-pagePad/2, "middle", "mites per hundred bees")
	return p.bytes(title, words)
}
