package show

import (
	"bytes"
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
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
func (t TrialChart) SVG() ([]byte, error) {
	if len(t.Columns) == 0 {
		return nil, nil
	}
	rows := make([][]*plot.Plot, 3)
	for i, c := range t.Columns {
		killed, err := t.dots(i, "bees killed", c.Killed, nil)
		if err != nil {
			return nil, err
		}
		killed.Title.Text = c.Title
		regret, err := t.dots(i, "regret", c.Regret, c.Error)
		if err != nil {
			return nil, err
		}
		reliable, err := c.reliability(i == 0)
		if err != nil {
			return nil, err
		}
		for row, p := range []*plot.Plot{killed, regret, reliable} {
			rows[row] = append(rows[row], p)
		}
	}
	n := vg.Length(len(t.Columns))
	canvas := vgsvg.New(4*vg.Centimeter+5*vg.Centimeter*n, 20*vg.Centimeter)
	tiles := draw.Tiles{Rows: 3, Cols: len(t.Columns), PadX: vg.Points(10), PadY: vg.Points(12), PadTop: vg.Points(8), PadBottom: vg.Points(8), PadLeft: vg.Points(8), PadRight: vg.Points(14)}
	for i, row := range plot.Align(rows, tiles, draw.New(canvas)) {
		for j, c := range row {
			rows[i][j].Draw(c)
		}
	}
	var out bytes.Buffer
	_, err := canvas.WriteTo(&out)
	return out.Bytes(), err
}

// dots are values by name, the first name on top; only the first column tells
// the names.
func (t TrialChart) dots(column int, label string, values, errors []float64) (*plot.Plot, error) {
	p := plot.New()
	p.X.Label.Text = label
	p.X.Min = 0
	n := len(t.Names)
	var at struct {
		plotter.XYs
		plotter.XErrors
	}
	var ticks plot.ConstantTicks
	for i, name := range t.Names {
		y := float64(n - 1 - i)
		at.XYs = append(at.XYs, plotter.XY{X: values[i], Y: y})
		e := 0.0
		if errors != nil && !math.IsNaN(errors[i]) {
			e = errors[i]
		}
		at.XErrors = append(at.XErrors, struct{ Low, High float64 }{-e, e})
		name += "  " // keeps it off the axis
		if column > 0 {
			name = ""
		}
		ticks = append(ticks, plot.Tick{Value: y, Label: name})
	}
	p.Y.Tick.Marker, p.Y.Tick.Length = ticks, 0
	p.Y.Min, p.Y.Max = -0.5, float64(n)-0.5
	marks, err := plotter.NewScatter(at)
	if err != nil {
		return nil, err
	}
	marks.Shape, marks.Color, marks.Radius = draw.CircleGlyph{}, inkKnown, vg.Points(2.5)
	if errors != nil {
		bars, err := plotter.NewXErrorBars(at)
		if err != nil {
			return nil, err
		}
		bars.Color = inkPast
		p.Add(bars)
	}
	p.Add(marks)
	p.X.Min = 0
	p.X.Max = max(p.X.Max, 1)
	return p, nil
}

// reliability sets what was said against what was so.
func (c TrialColumn) reliability(first bool) (*plot.Plot, error) {
	p := plot.New()
	p.X.Label.Text = "chance told"
	if first {
		p.Y.Label.Text = "was so"
	}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 1, 0, 1
	agree, err := plotter.NewLine(plotter.XYs{{X: 0, Y: 0}, {X: 1, Y: 1}})
	if err != nil {
		return nil, err
	}
	agree.Color, agree.Dashes = color.Color(inkLine), []vg.Length{vg.Points(5), vg.Points(3)}
	p.Add(agree)
	if len(c.Said) == 0 {
		return p, nil
	}
	var xys plotter.XYs
	for i := range c.Said {
		xys = append(xys, plotter.XY{X: c.Said[i], Y: c.Was[i]})
	}
	marks, err := plotter.NewScatter(xys)
	if err != nil {
		return nil, err
	}
	marks.Shape, marks.Color, marks.Radius = draw.CircleGlyph{}, inkKnown, vg.Points(2.5)
	p.Add(marks)
	return p, nil
}
