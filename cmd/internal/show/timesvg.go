package show

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halfcup/sampling"
)

// SVG draws the chart as a picture to keep or print: levels on a logarithmic
// axis over days, the band, its middle, the line held against it, counts as
// crosses and events as upright lines with their names. It is nil when there
// are no days or no levels.
func (t TimeChart) SVG(title string) []byte { return t.picture(title, 720, 400, true) }

// NarrowSVG is SVG for a phone: half as wide, so that its words stay as large
// as those beside it.
func (t TimeChart) NarrowSVG(title string) []byte {
	return t.picture(title, narrowWide, 340, true)
}

// TileSVG is a small picture without the legend, for a page with many of them,
// two beside each other, that tells once what is what.
func (t TimeChart) TileSVG(title string) []byte { return t.picture(title, narrowWide, 200, false) }

func (t TimeChart) picture(title string, wide, high float64, legend bool) []byte {
	scale, ok := t.scale()
	if !ok {
		return nil
	}
	p := &picture{wide: wide, high: high}
	p.heading(title)
	top, below := pagePad+rowHigh, axisBelow
	if legend {
		top = p.legend(top+4, t.entries())
		below += rowHigh
	}
	p.words(pagePad, top+textSize, "start", "mites per hundred bees")
	top += rowHigh + 4
	first, last := t.Dates[0], t.Dates[len(t.Dates)-1]
	if t.Frame != (Frame{}) {
		first, last = t.Frame.First, t.Frame.Last
	}
	f := plot{p,
		axis{low: float64(first), high: float64(max(last, first+1)), from: axisLeft, to: p.wide - 2*pagePad},
		axis{low: scale.low, high: scale.high, from: high - pagePad - below, to: top, log: true},
	}
	f.frame(dayMarks(first, last), f.y.spaced(logMarks(scale.low, scale.high)))
	if legend {
		p.words(f.x.to, high-pagePad, "end", "day")
	}

	days := make([]float64, len(t.Dates))
	for i, d := range t.Dates {
		days[i] = float64(d)
	}
	// The band: along its upper edge and back along its lower one.
	var edge, back []point
	for i, x := range days {
		edge = append(edge, point{f.x.at(x), f.y.at(t.High[i])})
		back = append(back, point{f.x.at(x), f.y.at(t.Low[i])})
	}
	slices.Reverse(back)
	p.area(append(edge, back...))
	f.curve(strokeLine, days, t.Line)
	f.curve(strokeKnown, days, t.Mid)
	for _, s := range t.Seen {
		p.cross(point{f.x.at(float64(s.Date)), f.y.at(s.Level)})
	}
	f.events(t.Events)
	return p.bytes(title, t.inWords())
}

// spaced leaves out marks that would stand in each other's way: where there are
// too many, only the powers of ten stay.
func (a axis) spaced(marks []mark) []mark {
	if len(marks) < 2 || math.Abs(a.from-a.to) >= textSize*float64(len(marks)-1) {
		return marks
	}
	return slices.DeleteFunc(marks, func(m mark) bool {
		power := math.Log10(m.value)
		return math.Abs(power-math.Round(power)) > 1e-9
	})
}

// events draws upright lines with their names at the foot, each in the lowest
// row that has room for it.
func (f plot) events(events []Event) {
	var ends []float64 // of each row, from the foot
	for _, e := range events {
		f.upright(strokeEvent, float64(e.Date))
		if e.Label == "" {
			continue
		}
		x, wide, anchor := f.x.at(float64(e.Date))+4, letter*float64(len([]rune(e.Label))), "start"
		begin := x
		if x+wide > f.x.to && x-8-wide > f.x.from {
			x, anchor = x-8, "end"
			begin = x - wide
		}
		row := slices.IndexFunc(ends, func(end float64) bool { return begin > end })
		if row < 0 {
			row = len(ends)
			ends = append(ends, 0)
		}
		ends[row] = begin + wide
		f.words(x, f.y.from-6-float64(row)*rowHigh, anchor, e.Label)
	}
}

// entries are the signs of the legend.
func (t TimeChart) entries() []entry {
	out := []entry{
		lineEntry("most likely", strokeKnown),
		{t.Band, func(p *picture, x, y float64) {
			p.area([]point{{x, y - 5}, {x + 24, y - 5}, {x + 24, y + 5}, {x, y + 5}})
		}},
	}
	if t.Line != nil {
		out = append(out, lineEntry(t.LineName, strokeLine))
	}
	if len(t.Seen) > 0 {
		out = append(out, entry{"counted", func(p *picture, x, y float64) { p.cross(point{x + 12, y}) }})
	}
	return out
}

// inWords tells the chart to whoever cannot see it.
func (t TimeChart) inWords() string {
	tell := func(i int) string {
		s := fmt.Sprintf("On %s: %s mites per hundred bees", Day(t.Dates[i]), Level(t.Mid[i]))
		if t.Low[i] != t.High[i] {
			s += fmt.Sprintf(", %s from %s to %s", t.Band, Level(t.Low[i]), Level(t.High[i]))
		}
		if t.Line != nil && !math.IsNaN(t.Line[i]) {
			s += fmt.Sprintf("; %s: %s", t.LineName, Level(t.Line[i]))
		}
		return s + "."
	}
	parts := []string{tell(0)}
	if last := len(t.Dates) - 1; last > 0 {
		parts = append(parts, tell(last))
	}
	for _, e := range t.Events {
		if e.Label != "" {
			parts = append(parts, fmt.Sprintf("%s: %s.", Day(e.Date), e.Label))
		}
	}
	return strings.Join(parts, " ")
}

// dayMarks names every second week, or the months as the terminal does when
// there are many.
func dayMarks(first, last sampling.Date) []mark {
	var out []mark
	if last-first <= 120 {
		for day := first; day <= last; day += 14 {
			out = append(out, mark{float64(day), day.Time().Format("2 Jan")})
		}
		return out
	}
	for _, t := range dateTicks(first, last) {
		out = append(out, mark{float64(t.date), t.label})
	}
	return out
}
