package show

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
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

	most := 0.0
	for _, b := range c.Bees {
		most = max(most, b)
	}
	floor := base + 2 + beesRows // the last row of the bees
	label := fmt.Sprintf("%.0f", most)
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
func (c PlanChart) SVG(title string) ([]byte, error) {
	if len(c.Levels) < 2 {
		return nil, nil
	}
	chance, err := c.panel("chance of treating", "the plan", c.Treats, 0, 1)
	if err != nil {
		return nil, err
	}
	chance.Title.Text = title
	most := 0.0
	for _, b := range c.Bees {
		most = max(most, b)
	}
	fixed := !math.IsNaN(c.FixedBees)
	if fixed {
		most = max(most, c.FixedBees)
	}
	bees, err := c.panel("bees taken, on average", "the plan", c.Bees, 0, 1.1*most)
	if err != nil {
		return nil, err
	}
	bees.X.Label.Text = "true mites per hundred bees"
	bees.Legend.Top, bees.Legend.YOffs = false, vg.Points(4) // below the curve, which never comes down to 0
	if fixed {
		l, err := plotter.NewLine(plotter.XYs{{X: c.Levels[0], Y: c.FixedBees}, {X: c.Levels[len(c.Levels)-1], Y: c.FixedBees}})
		if err != nil {
			return nil, err
		}
		l.Color, l.Width, l.Dashes = inkPast, vg.Points(1.2), []vg.Length{vg.Points(2), vg.Points(3)}
		bees.Add(l)
		bees.Legend.Add("a fixed sample that errs no more often", l)
	}
	return svgOf(16*vg.Centimeter, chance, bees)
}

// panel draws one curve over the levels, with the two that are to be told apart.
func (c PlanChart) panel(axis, name string, values []float64, low, high float64) (*plot.Plot, error) {
	p := plot.New()
	p.Y.Label.Text = axis
	p.X.Scale, p.X.Tick.Marker = plot.LogScale{}, levelTicks{}
	p.X.Min, p.X.Max = c.Levels[0], c.Levels[len(c.Levels)-1]
	p.Y.Min, p.Y.Max = low, high
	p.Y.Tick.Marker = plainTicks{}
	p.Legend.Top, p.Legend.Left = true, true
	p.Legend.XOffs, p.Legend.YOffs = vg.Points(6), -vg.Points(4)
	xys := make(plotter.XYs, len(c.Levels))
	for i := range xys {
		xys[i] = plotter.XY{X: c.Levels[i], Y: values[i]}
	}
	curve, err := plotter.NewLine(xys)
	if err != nil {
		return nil, err
	}
	curve.Color, curve.Width = inkKnown, vg.Points(1.5)
	p.Add(curve)
	p.Legend.Add(name, curve)
	for _, level := range []float64{c.Low, c.High} {
		l, err := plotter.NewLine(plotter.XYs{{X: level, Y: low}, {X: level, Y: high}})
		if err != nil {
			return nil, err
		}
		l.Color, l.Width, l.Dashes = inkLine, vg.Points(1), []vg.Length{vg.Points(5), vg.Points(3)}
		p.Add(l)
		if level == c.Low {
			p.Legend.Add(strings.Join([]string{"low", Plain(c.Low), "and high", Plain(c.High)}, " "), l)
		}
	}
	return p, nil
}

// plainTicks are the usual ticks, without zeros behind the point.
type plainTicks struct{}

func (plainTicks) Ticks(low, high float64) []plot.Tick {
	ticks := plot.DefaultTicks{}.Ticks(low, high)
	for i, t := range ticks {
		if t.Label != "" {
			ticks[i].Label = tickText(t.Value)
		}
	}
	return ticks
}
