package show

import (
	"fmt"
	"math"
	"strings"
	"time"

	"halfcup/sampling"
)

// TimeChart is a level over days: what is likely, the middle of it, and the
// line it is held against. All slices are as long as Dates, which rise. Levels
// may be 0, never NaN but in Line.
type TimeChart struct {
	Dates          []sampling.Date
	Low, Mid, High []float64 // mites per hundred bees
	Line           []float64 // the threshold of each day; NaN or nil for none
	Today          sampling.Date
	Band           string // what Low to High is, such as "8 of 10 chances"
	LineName       string // such as "act"

	Seen   []Seen  // counts that were made
	Events []Event // what happens on a day, told below the chart

	// Frame is the axes of charts that are to be held beside each other; the
	// zero Frame for those of the chart's own days and levels.
	Frame Frame
}

// Frame is the ends of both axes of a chart.
type Frame struct {
	First, Last sampling.Date
	Low, High   float64 // mites per hundred bees
}

// Around is the least frame that holds charts, of which at least one must have
// levels; ok is false when none has.
func Around(charts []TimeChart) (f Frame, ok bool) {
	for _, t := range charts {
		scale, drawn := t.scale()
		if !drawn {
			continue
		}
		first, last := t.Dates[0], t.Dates[len(t.Dates)-1]
		if !ok {
			f, ok = Frame{first, last, scale.low, scale.high}, true
		}
		f = Frame{min(f.First, first), max(f.Last, last), min(f.Low, scale.low), max(f.High, scale.high)}
	}
	return f, ok
}

// Seen is one count, as a level.
type Seen struct {
	Date  sampling.Date
	Level float64
}

// Event is something that happens on a day, such as a treatment.
type Event struct {
	Date  sampling.Date
	Label string
}

const (
	chartRows   = 12
	chartMargin = 6 // columns for the figures of the level axis
)

// TimeChart draws t at most 80 columns wide, with levels on a logarithmic axis
// and a legend below. Days before Today are drawn as past. It draws nothing
// when there are no days.
func (p Page) TimeChart(t TimeChart) string {
	if p.NoPicture {
		return ""
	}
	scale, ok := t.scale()
	if !ok {
		return ""
	}
	g := p.glyphs()
	wide := min(p.Width, pictureWide) - chartMargin - 2
	first, last := t.Dates[0], t.Dates[len(t.Dates)-1]
	span := max(int(last-first), 1)
	column := func(d sampling.Date) int {
		return chartMargin + 1 + int(math.Round(float64(int(d-first)*(wide-1))/float64(span)))
	}
	row := func(level float64) int { // levels off the axis stand at its end
		part := min(max(scale.at(level), 0), 1)
		return chartRows - 1 - nearestCell(part*(chartRows-1))
	}
	c := newCanvas(p, chartMargin+1+wide, chartRows+3)

	// The axes.
	for y := range chartRows {
		c.put(chartMargin, y, g.line, Past)
	}
	for x := chartMargin; x < chartMargin+1+wide; x++ {
		c.put(x, chartRows, g.base, Past)
	}
	for _, tick := range logTicks(scale.low, scale.high) {
		if label := tickText(tick); c.cells[row(tick)][chartMargin-2].r == ' ' {
			c.text(chartMargin-1-len(label), row(tick), label)
		}
	}
	for _, tick := range dateTicks(first, last) {
		if x := column(tick.date); c.free(x, chartRows+1, len(tick.label)) {
			c.put(x, chartRows, g.tick, Past)
			c.text(x, chartRows+1, tick.label)
		}
	}

	// Column by column, so that no day is drawn twice and none is left out.
	for x := chartMargin + 1; x < chartMargin+1+wide; x++ {
		day := float64(x-chartMargin-1) * float64(span) / float64(max(wide-1, 1))
		past := float64(first)+day < float64(t.Today)
		low, mid, high := t.at(t.Low, day), t.at(t.Mid, day), t.at(t.High, day)
		band, dot, role := g.band, g.dot, Known
		if past {
			band, dot, role = g.past, g.pastDot, Past
		}
		for y := row(high); y <= row(low); y++ {
			c.put(x, y, band, role)
		}
		if line := t.at(t.Line, day); !math.IsNaN(line) {
			c.put(x, row(line), g.dash, Line)
		}
		c.put(x, row(mid), dot, role)
	}
	for _, s := range t.Seen {
		c.put(column(s.Date), row(s.Level), g.seen, Strong)
	}
	for _, e := range t.Events {
		c.put(column(e.Date), chartRows+2, g.event, Strong)
	}
	if len(t.Events) == 0 {
		c.cells = c.cells[:chartRows+2]
	}
	return "mites per hundred bees\n" + c.String() + p.legend(t, g)
}

// legend names every sign that was drawn, and the events with their days.
func (p Page) legend(t TimeChart, g glyphs) string {
	parts := []string{
		p.Paint(Known, string(g.dot)) + " most likely",
		p.Paint(Known, string(g.band)) + " " + t.Band,
	}
	if t.Line != nil {
		parts = append(parts, p.Paint(Line, string(g.dash))+" "+t.LineName)
	}
	if t.Dates[0] < t.Today {
		parts = append(parts, p.Paint(Past, string(g.pastDot)+" "+string(g.past))+" past")
	}
	if len(t.Seen) > 0 {
		parts = append(parts, string(g.seen)+" counted")
	}
	out := p.Wrap(strings.Join(parts, "; "), chartMargin+1)
	for _, e := range t.Events {
		out += p.Hang(fmt.Sprintf("%c %s: %s", g.event, Day(e.Date), e.Label), chartMargin+1, chartMargin+3)
	}
	return out
}

// at is the value some days after the first, by straight lines; NaN when the
// slice holds none.
func (t TimeChart) at(values []float64, day float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	for i := 1; i < len(t.Dates); i++ {
		a, b := float64(t.Dates[i-1]-t.Dates[0]), float64(t.Dates[i]-t.Dates[0])
		if day <= b {
			return values[i-1] + (values[i]-values[i-1])*(day-a)/(b-a)
		}
	}
	return values[len(values)-1]
}

// scale covers the band and the line. Where nothing is likely, levels may be 0;
// the axis then starts a factor of a thousand below its top.
func (t TimeChart) scale() (logScale, bool) {
	if t.Frame != (Frame{}) {
		return logScale{t.Frame.Low, t.Frame.High}, len(t.Dates) > 0
	}
	low, high := math.Inf(1), 0.0
	for _, values := range [][]float64{t.Low, t.Mid, t.High, t.Line} {
		for _, v := range values {
			if v > 0 && !math.IsInf(v, 0) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	if high == 0 || len(t.Dates) == 0 {
		return logScale{}, false
	}
	low = max(low, high/1000)
	low, high = low/1.1, high*1.1
	if middle := math.Sqrt(low * high); high/low < 4 {
		low, high = middle/2, middle*2
	}
	return logScale{low, high}, true
}

type dateTick struct {
	date  sampling.Date
	label string
}

// dateTicks marks the first of every month, or for short spans every week.
func dateTicks(first, last sampling.Date) []dateTick {
	var out []dateTick
	if last-first <= 45 {
		for d := first; d <= last; d += 7 {
			out = append(out, dateTick{d, d.Time().Format("2 Jan")})
		}
		return out
	}
	for m := first.Time(); ; {
		m = time.Date(m.Year(), m.Month()+1, 1, 0, 0, 0, 0, time.UTC)
		d := sampling.DateOf(m)
		if d > last {
			return out
		}
		out = append(out, dateTick{d, m.Format("Jan")})
	}
}
