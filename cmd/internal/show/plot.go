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

	"halfcup/sampling"
)

// The colours of the roles on paper; each is doubled by a shape or a word.
var (
	inkKnown = color.NRGBA{R: 0x1f, G: 0x5f, B: 0xbf, A: 0xff}
	inkBand  = color.NRGBA{R: 0x1f, G: 0x5f, B: 0xbf, A: 0x38}
	inkLine  = color.NRGBA{R: 0xd9, G: 0x6b, B: 0x00, A: 0xff}
	inkPast  = color.NRGBA{R: 0x70, G: 0x70, B: 0x70, A: 0xff}
)

// SVG draws the chart as a picture to keep or print: levels on a logarithmic
// axis over days, the band, its middle, the line held against it, counts as
// crosses and events as upright lines with their names. It is nil when there
// are no days or no levels.
func (t TimeChart) SVG(title string) ([]byte, error) {
	p, err := t.plot(title)
	if p == nil || err != nil {
		return nil, err
	}
	return svgOf(12*vg.Centimeter, p)
}

// SmallSVG is SVG at half the height and without the legend, for a page with
// many of them that tells once what is what.
func (t TimeChart) SmallSVG(title string) ([]byte, error) {
	p, err := t.plot(title)
	if p == nil || err != nil {
		return nil, err
	}
	p.Legend = plot.NewLegend()
	p.X.Label.Text = ""
	return svgOf(6.5*vg.Centimeter, p)
}

// plot is nil when there is nothing to draw.
func (t TimeChart) plot(title string) (*plot.Plot, error) {
	scale, ok := t.scale()
	if !ok {
		return nil, nil
	}
	p := plot.New()
	p.Title.Text = title
	p.X.Label.Text = "day"
	p.Y.Label.Text = "mites per hundred bees"
	p.Y.Scale, p.Y.Tick.Marker = plot.LogScale{}, levelTicks{}
	p.X.Tick.Marker = dayTicks{t.Dates[0], t.Dates[len(t.Dates)-1]}
	p.X.Min, p.X.Max = float64(t.Dates[0]), float64(max(t.Dates[len(t.Dates)-1], t.Dates[0]+1))
	p.Y.Min, p.Y.Max = scale.low, scale.high
	p.Legend.Top, p.Legend.Left = true, true
	p.Legend.YOffs = -vg.Points(4)
	p.Legend.XOffs = vg.Points(6)

	points := func(levels []float64) plotter.XYs {
		var out plotter.XYs
		for i, level := range levels {
			if !math.IsNaN(level) { // the line may be missing on a day
				out = append(out, plotter.XY{X: float64(t.Dates[i]), Y: min(max(level, scale.low), scale.high)})
			}
		}
		return out
	}
	// The band: along its upper edge and back along its lower one.
	edge := points(t.High)
	for low, i := points(t.Low), len(t.Low)-1; i >= 0; i-- {
		edge = append(edge, low[i])
	}
	band, err := plotter.NewPolygon(edge)
	if err != nil {
		return nil, err
	}
	band.Color, band.LineStyle.Width = inkBand, 0
	p.Add(band)
	p.Legend.Add(t.Band, band)

	curve := func(name string, levels []float64, ink color.Color, width vg.Length, dashes ...vg.Length) error {
		xys := points(levels)
		if len(xys) == 0 {
			return nil
		}
		l, err := plotter.NewLine(xys)
		if err != nil {
			return err
		}
		l.Color, l.Width, l.Dashes = ink, width, dashes
		p.Add(l)
		p.Legend.Add(name, l)
		return nil
	}
	if err := curve("middle", t.Mid, inkKnown, vg.Points(1.5)); err != nil {
		return nil, err
	}
	if err := curve(t.LineName, t.Line, inkLine, vg.Points(1.2), vg.Points(5), vg.Points(3)); err != nil {
		return nil, err
	}
	if len(t.Seen) > 0 {
		var xys plotter.XYs
		for _, s := range t.Seen {
			xys = append(xys, plotter.XY{X: float64(s.Date), Y: min(max(s.Level, scale.low), scale.high)})
		}
		marks, err := plotter.NewScatter(xys)
		if err != nil {
			return nil, err
		}
		marks.Shape, marks.Radius = draw.CrossGlyph{}, vg.Points(3.5)
		p.Add(marks)
		p.Legend.Add("counted", marks)
	}
	for _, e := range t.Events {
		if err := addEvent(p, e, scale); err != nil {
			return nil, err
		}
	}

	return p, nil
}

// svgOf draws plots one below the other, their axes in line.
func svgOf(height vg.Length, plots ...*plot.Plot) ([]byte, error) {
	canvas := vgsvg.New(20*vg.Centimeter, height)
	margin := vg.Points(10)
	page := draw.Crop(draw.New(canvas), margin, -margin, margin, -margin)
	var grid [][]*plot.Plot
	for _, p := range plots {
		grid = append(grid, []*plot.Plot{p})
	}
	tiles := draw.Tiles{Rows: len(plots), Cols: 1, PadY: vg.Points(8)}
	for i, row := range plot.Align(grid, tiles, page) {
		plots[i].Draw(row[0])
	}
	var out bytes.Buffer
	_, err := canvas.WriteTo(&out)
	return out.Bytes(), err
}

// addEvent draws an upright line with its name at its foot.
func addEvent(p *plot.Plot, e Event, scale logScale) error {
	x := float64(e.Date)
	l, err := plotter.NewLine(plotter.XYs{{X: x, Y: scale.low}, {X: x, Y: scale.high}})
	if err != nil {
		return err
	}
	l.Color, l.Width, l.Dashes = inkPast, vg.Points(0.8), []vg.Length{vg.Points(1), vg.Points(2)}
	p.Add(l)
	name, err := plotter.NewLabels(plotter.XYLabels{XYs: plotter.XYs{{X: x, Y: scale.low}}, Labels: []string{e.Label}})
	if err != nil {
		return err
	}
	name.Offset.X, name.Offset.Y = vg.Points(3), vg.Points(4)
	p.Add(name)
	return nil
}

// levelTicks names the levels of a logarithmic axis that the terminal names,
// and marks the others between them.
type levelTicks struct{}

func (levelTicks) Ticks(low, high float64) []plot.Tick {
	var out []plot.Tick
	for _, v := range logTicks(low, high) {
		out = append(out, plot.Tick{Value: v, Label: tickText(v)})
	}
	for e := math.Floor(math.Log10(low)); e <= math.Log10(high); e++ {
		for m := 1.0; m < 10; m++ {
			if v := m * math.Pow(10, e); v >= low && v <= high {
				out = append(out, plot.Tick{Value: v})
			}
		}
	}
	return out
}

// dayTicks marks every second week, or the months as the terminal does when
// there are many.
type dayTicks struct{ first, last sampling.Date }

func (d dayTicks) Ticks(_, _ float64) []plot.Tick {
	var out []plot.Tick
	if d.last-d.first <= 120 {
		for day := d.first; day <= d.last; day += 14 {
			out = append(out, plot.Tick{Value: float64(day), Label: day.Time().Format("2 Jan")})
		}
		return out
	}
	for _, t := range dateTicks(d.first, d.last) {
		out = append(out, plot.Tick{Value: float64(t.date), Label: t.label})
	}
	return out
}
