package show

import (
	"fmt"
	"math"
	"strings"
)

// PlanChart is what a plan of sampling does at each true level: how often it
// ends in a treatment, and how many bees it takes. The slices are as long as
// Levels, which rise and are above 0.
type PlanChart struct {
	Levels []float64 // mites per hundred bees
	Treats []float64 // chance of treating
	Bees   []float64 // bees taken on average

	Low, High float64 // the levels the plan is to tell apart
	FixedBees float64 // of the fixed sample that errs no more often; NaN when there is none
}

const (
	planRows = 11 // one for every tenth, and both ends
	beesRows = 4
)

// PlanChart draws c at most 80 columns wide, with levels on a logarithmic axis:
// the chance of treating above, the bees below. It draws nothing when there are
// fewer than two levels.
func (p Page) PlanChart(c PlanChart) string {
	if p.NoPicture {
		return ""
	}
	if len(c.Levels) < 2 {
		return ""
	}
	g := p.glyphs()
	scale := logScale{c.Levels[0], c.Levels[len(c.Levels)-1]}
	wide := min(p.Width, pictureWide) - chartMargin - 2
	left := chartMargin + 1
	column := func(level float64) int { return left + nearestCell(scale.at(level)*float64(wide-1)) }
	base := 1 + planRows // the axis; the first row holds the names of the levels
	cv := newCanvas(p, left+wide, base+2+1+beesRows+1)

	for i, label := range []string{"100%", "50%", "0%"} {
		y := 1 + i*(planRows-1)/2
		cv.text(chartMargin-1-len(label), y, label)
	}
	for y := 1; y < base; y++ {
		cv.put(chartMargin, y, g.line, Past)
	}
	for x := chartMargin; x < left+wide; x++ {
		cv.put(x, base, g.base, Past)
	}
	for _, t := range logTicks(scale.low, scale.high) {
		label := tickText(t)
		if x := column(t) - len(label)/2; cv.free(x, base+1, len(label)) {
			cv.put(column(t), base, g.tick, Past)
			cv.text(x, base+1, label)
		}
	}
	for i, m := range []Mark{{Level: c.Low, Label: "low " + Plain(c.Low)}, {Level: c.High, Label: "high " + Plain(c.High)}} {
		x := column(m.Level)
		cv.placeLabel(m.Label, x, 1, i == 0)
		for y := 1; y < base; y++ {
			cv.put(x, y, g.faint, Line)
		}
	}

	most := c.mostBees()
	floor := base + 2 + beesRows // the last row of the bees
	label := Fixed(most, 0)
	cv.text(chartMargin-1-len(label), floor-beesRows+1, label)
	cv.text(chartMargin-1-len("bees"), floor, "bees")
	for x := left; x < left+wide; x++ {
		level := scale.level(float64(x-left) / float64(wide-1))
		y := 1 + int(math.Round((1-between(c.Levels, c.Treats, level))*(planRows-1)))
		cv.put(x, y, g.dot, Known)
		eighths := max(int(math.Round(between(c.Levels, c.Bees, level)/most*beesRows*8)), 1)
		for y := floor; eighths > 0; y-- {
			cv.put(x, y, g.part[min(eighths, 8)-1], Past)
			eighths -= 8
		}
	}
	cv.cells = cv.cells[:floor+1]
	return "chance of treating, over the true mites per hundred bees\n" + cv.String() +
		p.Wrap(p.Paint(Known, string(g.dot))+" chance of treating; "+p.Paint(Past, string(g.part[7]))+" bees taken on average", left)
}

// between is a value at a level, by straight lines over the logarithm.
func between(levels, values []float64, level float64) float64 {
	for i := 1; i < len(levels); i++ {
		if level <= levels[i] || i == len(levels)-1 {
			part := math.Log(level/levels[i-1]) / math.Log(levels[i]/levels[i-1])
			return values[i-1] + min(max(part, 0), 1)*(values[i]-values[i-1])
		}
	}
	return math.NaN()
}

// SVG draws the chart as a picture to keep or print: the chance of treating
// above, the bees below. It is nil when there are fewer than two levels.
func (c PlanChart) SVG(title string) []byte {
	if len(c.Levels) < 2 {
		return nil
	}
	p := &picture{wide: 720, high: 560}
	p.heading(title)
	entries := []entry{
		lineEntry("the plan", strokeKnown),
		lineEntry(fmt.Sprintf("low %s and high %s", Plain(c.Low), Plain(c.High)), strokeLine),
	}
	most := c.mostBees()
	fixed := !math.IsNaN(c.FixedBees)
	if fixed {
		most = max(most, c.FixedBees)
		entries = append(entries, lineEntry("a fixed sample that errs no more often", strokePast))
	}
	top := p.legend(pagePad+rowHigh+4, entries)
	x := axis{low: c.Levels[0], high: c.Levels[len(c.Levels)-1], from: axisLeft, to: p.wide - 2*pagePad, log: true}
	levels := logMarks(x.low, x.high)
	foot := p.high - pagePad - axisBelow - rowHigh
	middle := (top + foot) / 2

	p.words(pagePad, top+textSize, "start", "chance of treating")
	chance := plot{p, x, axis{low: 0, high: 1, from: middle - axisBelow, to: top + rowHigh + 4}}
	chance.frame(levels, percentMarks)
	p.words(pagePad, middle+rowHigh+textSize, "start", "bees taken, on average")
	bees := plot{p, x, axis{low: 0, high: 1.1 * most, from: foot, to: middle + 2*rowHigh + 4}}
	bees.frame(levels, evenMarks(1.1*most))
	for _, f := range []plot{chance, bees} {
		f.upright(strokeLine, c.Low)
		f.upright(strokeLine, c.High)
	}
	chance.curve(strokeKnown, c.Levels, c.Treats)
	bees.curve(strokeKnown, c.Levels, c.Bees)
	if fixed {
		bees.curve(strokePast, []float64{x.low, x.high}, []float64{c.FixedBees, c.FixedBees})
	}
	p.words(x.to, p.high-pagePad, "end", "true mites per hundred bees")

	words := ""
	for _, level := range []float64{c.Low, c.High} {
		words += fmt.Sprintf("At %s mites per hundred bees the plan treats with a chance of %s and takes %.0f bees on average. ",
			Plain(level), Percent(between(c.Levels, c.Treats, level)), between(c.Levels, c.Bees, level))
	}
	if fixed {
		words += fmt.Sprintf("A fixed sample that errs no more often takes %.0f bees.", c.FixedBees)
	}
	return p.bytes(title, strings.TrimSpace(words))
}

// mostBees is the highest point of the bees.
func (c PlanChart) mostBees() float64 {
	most := 0.0
	for _, b := range c.Bees {
		most = max(most, b)
	}
	return most
}
