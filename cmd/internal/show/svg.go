package show

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"
)

// The colours of the roles on paper. Each is doubled by a shape or a word, and
// dark enough on white to be read as text.
const (
	inkKnown = "#1f5fbf"
	inkLine  = "#b45309"
	inkPast  = "#666666"
	inkText  = "#222222"
	inkGrid  = "#dddddd" // no role: it only guides the eye
)

// Sizes on paper, in the units of the picture, which are about pixels.
const (
	textSize  = 13.0
	rowHigh   = 18.0 // of a row of text
	letter    = 7.6  // a letter is about so wide; pictures have no font to measure
	pagePad   = 10.0
	axisLeft  = 52.0 // room for the figures of an upright axis
	axisBelow = 24.0 // room for those of a level one
)

// picture is an SVG being drawn. Whatever is drawn later lies on top.
type picture struct {
	body bytes.Buffer
	wide float64
	high float64
}

// bytes is the whole picture. Title is what a screen reader calls it, and words
// tell what there is to see.
func (p *picture) bytes(title, words string) []byte {
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 %s %s" width="%[1]s" height="%[2]s" font-family="sans-serif" font-size="%s" fill="%s">`+"\n",
		place(p.wide), place(p.high), place(textSize), inkText)
	fmt.Fprintf(&out, "<title>%s</title>\n<desc>%s</desc>\n", escaped(title), escaped(words))
	fmt.Fprintf(&out, `<rect width="%s" height="%s" fill="#fff"/>`+"\n", place(p.wide), place(p.high))
	out.Write(p.body.Bytes())
	out.WriteString("</svg>\n")
	return out.Bytes()
}

// place is a coordinate; a tenth of a unit is finer than anyone sees.
func place(x float64) string { return Plain(math.Round(10*x) / 10) }

// escaped is text as XML holds it. What XML cannot hold is a replacement
// character.
func escaped(s string) string {
	return xmlSigns.Replace(strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
			return utf8.RuneError
		}
		return r
	}, s))
}

var xmlSigns = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;", "\t", "&#x9;", "\n", "&#xA;", "\r", "&#xD;")

// words puts text at a place. Anchor is start, middle or end.
func (p *picture) words(x, y float64, anchor, text string) {
	p.styled(x, y, anchor, "", text)
}

func (p *picture) styled(x, y float64, anchor, style, text string) {
	if text == "" {
		return
	}
	if anchor != "start" {
		style += ` text-anchor="` + anchor + `"`
	}
	fmt.Fprintf(&p.body, `<text x="%s" y="%s"%s>%s</text>`+"\n", place(x), place(y), style, escaped(text))
}

// heading is what stands above the whole.
func (p *picture) heading(text string) {
	p.styled(pagePad, pagePad+textSize, "start", ` font-weight="bold"`, text)
}

type point struct{ x, y float64 }

// stroke is how a line is drawn.
type stroke struct {
	ink    string
	width  float64
	dashes string // lengths on and off; "" for an unbroken line
}

var (
	strokeKnown = stroke{inkKnown, 2, ""}
	strokeLine  = stroke{inkLine, 1.8, "7 4"}
	strokePast  = stroke{inkPast, 1.5, "2 4"}
	strokeEvent = stroke{inkPast, 1.2, "1 3"}
	strokeGrid  = stroke{inkGrid, 1, ""}
	strokeAxis  = stroke{inkPast, 1, ""}
)

func (p *picture) line(s stroke, points ...point) {
	if len(points) < 2 {
		return
	}
	dashes := ""
	if s.dashes != "" {
		dashes = ` stroke-dasharray="` + s.dashes + `"`
	}
	fmt.Fprintf(&p.body, `<path d="%s" fill="none" stroke="%s" stroke-width="%s"%s/>`+"\n", path(points), s.ink, place(s.width), dashes)
}

// area fills what points go around, in the colour of what is known, thinned.
func (p *picture) area(points []point) {
	fmt.Fprintf(&p.body, `<path d="%sz" fill="%s" fill-opacity=".2"/>`+"\n", path(points), inkKnown)
}

func path(points []point) string {
	var b strings.Builder
	step := "M"
	for _, at := range points {
		b.WriteString(step + place(at.x) + " " + place(at.y))
		step = "L"
	}
	return b.String()
}

// cross marks a count, disc a figure.
func (p *picture) cross(at point) {
	const arm = 4
	fmt.Fprintf(&p.body, `<path d="M%s %sl8 8m0-8l-8 8" fill="none" stroke="%s" stroke-width="1.8"/>`+"\n", place(at.x-arm), place(at.y-arm), inkText)
}

func (p *picture) disc(at point) {
	fmt.Fprintf(&p.body, `<circle cx="%s" cy="%s" r="3.5" fill="%s"/>`+"\n", place(at.x), place(at.y), inkKnown)
}

// axis maps values onto places along one side of a plot.
type axis struct {
	low, high float64
	from, to  float64 // the places of both
	log       bool
}

// at is the place of a value; one off the axis stands at its end.
func (a axis) at(v float64) float64 {
	part := (v - a.low) / (a.high - a.low)
	if a.log {
		part = logScale{a.low, a.high}.at(v)
	}
	return a.from + min(max(part, 0), 1)*(a.to-a.from)
}

// mark is a value of an axis with its label.
type mark struct {
	value float64
	label string
}

// logMarks are 1, 2 and 5 times the powers of ten.
func logMarks(low, high float64) []mark {
	var out []mark
	for _, v := range logTicks(low, high) {
		out = append(out, mark{v, tickText(v)})
	}
	return out
}

// evenMarks are a few round figures at even distances from 0 on.
func evenMarks(high float64) []mark {
	step := math.Pow(10, math.Floor(math.Log10(high)))
	for _, part := range []float64{0.1, 0.2, 0.5, 1, 2} {
		if high/(part*step) <= 5 {
			step *= part
			break
		}
	}
	var out []mark
	for i := 0.0; i*step <= high; i++ {
		out = append(out, mark{i * step, tickText(i * step)})
	}
	return out
}

var percentMarks = []mark{{0, "0%"}, {0.5, "50%"}, {1, "100%"}}

// plot is a frame with two axes on a picture.
type plot struct {
	*picture
	x, y axis
}

// frame draws the axes. A label without room beside the last one is left out.
func (p plot) frame(xs, ys []mark) {
	for _, m := range ys {
		y := p.y.at(m.value)
		p.line(strokeGrid, point{p.x.from, y}, point{p.x.to, y})
		p.words(p.x.from-6, y+textSize/3, "end", m.label)
	}
	end := math.Inf(-1)
	for _, m := range xs {
		x, half := p.x.at(m.value), letter*float64(len([]rune(m.label)))/2
		p.line(strokeAxis, point{x, p.y.from}, point{x, p.y.from + 4})
		if at := min(x, p.wide-half-1); at-half > end+letter { // the last stays on the picture
			p.words(at, p.y.from+rowHigh, "middle", m.label)
			end = at + half
		}
	}
	p.line(strokeAxis, point{p.x.from, p.y.to}, point{p.x.from, p.y.from}, point{p.x.to, p.y.from})
}

// curve draws values over their places, with gaps where there is none.
func (p plot) curve(s stroke, xs, ys []float64) {
	var run []point
	for i, y := range ys {
		if math.IsNaN(y) {
			p.line(s, run...)
			run = nil
			continue
		}
		run = append(run, point{p.x.at(xs[i]), p.y.at(y)})
	}
	if len(run) == 1 { // one day is a short dash
		run = []point{{run[0].x - 3, run[0].y}, {run[0].x + 3, run[0].y}}
	}
	p.line(s, run...)
}

// upright draws a line over the whole height.
func (p plot) upright(s stroke, value float64) {
	x := p.x.at(value)
	p.line(s, point{x, p.y.from}, point{x, p.y.to})
}

// entry is a sign of a picture with its name.
type entry struct {
	name string
	draw func(p *picture, x, y float64) // of a sign 24 wide around the height y
}

func lineEntry(name string, s stroke) entry {
	return entry{name, func(p *picture, x, y float64) { p.line(s, point{x, y}, point{x + 24, y}) }}
}

// legend names the signs in rows from a height on, and gives the height below
// them.
func (p *picture) legend(y float64, entries []entry) float64 {
	x := pagePad
	for _, e := range entries {
		wide := 30 + letter*float64(len([]rune(e.name))) + 2*letter
		if x > pagePad && x+wide > p.wide-pagePad {
			x, y = pagePad, y+rowHigh
		}
		e.draw(p, x, y+textSize/2)
		p.words(x+30, y+textSize, "start", e.name)
		x += wide
	}
	return y + rowHigh
}
