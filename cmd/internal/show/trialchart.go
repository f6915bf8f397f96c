package show

import (
	"fmt"
	"math"
	"strings"
)

// TrialColumn is how some ways of doing things did under one setting, and how
// often what was said came true. The first three slices are as long as Names
// of the chart, the other two as long as each other.
type TrialColumn struct {
	Title         string
	Killed        []float64
	Regret, Error []float64 // Error may hold NaN
	Said, Was     []float64 // chances, from 0 to 1
}

// TrialChart is a picture for every setting beside one another.
type TrialChart struct {
	Names   []string
	Columns []TrialColumn
}

// SVG draws the chart as a picture to keep or print: for every setting the bees
// killed and the regret by name, and what was said against what was so, with
// the line on which both agree. It is nil when there are no settings.
func (t TrialChart) SVG() []byte {
	if len(t.Columns) == 0 {
		return nil
	}
	const names, wide, gap = 84.0, 190.0, 44.0
	rows := rowHigh * float64(len(t.Names))
	p := &picture{wide: names + float64(len(t.Columns))*(wide+gap) + pagePad}
	top := [3]float64{pagePad + rowHigh + 6}
	top[1] = top[0] + rows + axisBelow + 2*rowHigh
	top[2] = top[1] + rows + axisBelow + 2*rowHigh
	p.high = top[2] + wide + axisBelow + rowHigh + pagePad
	killed, regret := 1.0, 1.0 // the same axis for every setting, so that they can be compared
	for _, c := range t.Columns {
		for i := range t.Names {
			killed, regret = max(killed, c.Killed[i]), max(regret, c.Regret[i]+c.err(i))
		}
	}
	var words []string
	for i, c := range t.Columns {
		x := axis{from: names + float64(i)*(wide+gap), to: names + float64(i)*(wide+gap) + wide}
		p.styled(x.from, pagePad+textSize, "start", ` font-weight="bold"`, c.Title)
		t.dots(p, x, top[0], "bees killed", killed, c.Killed, i == 0, func(int) float64 { return 0 })
		t.dots(p, x, top[1], "regret", regret, c.Regret, i == 0, c.err)
		c.reliability(p, x, top[2], i == 0)
		for j, name := range t.Names {
			words = append(words, fmt.Sprintf("%s, %s: %.0f bees killed, regret %.2f.", c.Title, name, c.Killed[j], c.Regret[j]))
		}
	}
	return p.bytes("How ways of looking after colonies did", strings.Join(words, " "))
}

// err is a standard error, 0 when there is none.
func (c TrialColumn) err(i int) float64 {
	if i >= len(c.Error) || math.IsNaN(c.Error[i]) {
		return 0
	}
	return c.Error[i]
}

// dots are values by name, the first name on top; only the first column tells
// the names.
func (t TrialChart) dots(p *picture, x axis, top float64, label string, most float64, values []float64, named bool, spread func(int) float64) {
	x.high = 1.05 * most
	f := plot{p, x, axis{low: 0, high: 1, from: top + rowHigh*float64(len(t.Names)), to: top}}
	f.frame(evenMarks(x.high), nil)
	for i, name := range t.Names {
		y := top + rowHigh*(float64(i)+0.5)
		if named {
			p.words(x.from-6, y+textSize/3, "end", name)
		}
		if e := spread(i); e > 0 {
			p.line(strokeAxis, point{x.at(values[i] - e), y}, point{x.at(values[i] + e), y})
		}
		p.disc(point{x.at(values[i]), y})
	}
	p.words((x.from+x.to)/2, f.y.from+2*rowHigh, "middle", label)
}

// reliability sets what was said against what was so.
func (c TrialColumn) reliability(p *picture, x axis, top float64, named bool) {
	x.high = 1
	f := plot{p, x, axis{low: 0, high: 1, from: top + x.to - x.from, to: top}}
	ys := percentMarks
	if !named {
		ys = nil
	}
	f.frame(percentMarks, ys)
	if named {
		p.words(x.from-6, top+textSize/3+rowHigh, "end", "was so")
	}
	f.curve(strokeLine, []float64{0, 1}, []float64{0, 1})
	for i := range c.Said {
		p.disc(point{f.x.at(c.Said[i]), f.y.at(c.Was[i])})
	}
	p.words((x.from+x.to)/2, f.y.from+2*rowHigh, "middle", "chance told")
}
