package show

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"halfcup/sampling"
)

func TestSVG(t *testing.T) {
	from := sampling.Day(2026, 7, 1)
	c := TimeChart{
		Today: from, Band: "8 of 10 chances", LineName: "act",
		Seen:   []Seen{{from, 1.2}, {from + 3, 0}},
		Events: []Event{{from + 36, "oxalic acid, vapour"}},
	}
	for day := range 61 {
		mid := 1.2 * math.Exp(0.02*float64(day))
		if day > 36 {
			mid *= 0.5
		}
		spread := math.Exp(0.3 + 0.006*float64(day))
		c.Dates = append(c.Dates, from+sampling.Date(day))
		c.Low, c.Mid, c.High = append(c.Low, mid/spread), append(c.Mid, mid), append(c.High, mid*spread)
		c.Line = append(c.Line, 3-float64(day/31))
	}
	c.Line[0] = math.NaN()
	got := c.SVG("alder: mites ahead")
	again := c.SVG("alder: mites ahead")
	if !bytes.Equal(got, again) {
		t.Error("the same chart gives two pictures")
	}
	// It is XML, and says what its axes, curves and events are.
	for d := xml.NewDecoder(bytes.NewReader(got)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, text := range []string{"alder: mites ahead", "mites per hundred bees", ">day<", ">most likely<", ">8 of 10 chances<", ">act<", ">counted<", ">oxalic acid, vapour<", ">12 Aug<"} {
		if !strings.Contains(string(got), text) {
			t.Errorf("the picture does not say %q", text)
		}
	}
	if strings.Contains(string(got), "NaN") {
		t.Error("the picture has points that are no numbers")
	}
	// No day is cut at the edge, the last of the axis neither.
	last := c
	last.Dates, last.Line, last.Low, last.Mid, last.High = c.Dates[:57], c.Line[:57], c.Low[:57], c.Mid[:57], c.High[:57]
	for _, m := range regexp.MustCompile(`<text x="([0-9.]+)" [^>]*text-anchor="middle">([^<]*)<`).FindAllStringSubmatch(string(last.SVG("to the mark"))+string(last.TileSVG("to the mark")), -1) {
		x, _ := strconv.ParseFloat(m[1], 64)
		if wide := 720.0; m[2] == "26 Aug" && x+letter*float64(len(m[2]))/2 > wide {
			t.Errorf("%q stands at %v of %v", m[2], x, wide)
		}
	}
	if got := (TimeChart{}).SVG("empty"); got != nil {
		t.Errorf("no days drew %d bytes", len(got))
	}
	// Who cannot see it is told what it shows.
	for _, text := range []string{"<title>alder: mites ahead</title>", "<desc>On 1 July 2026: 1.2 mites per hundred bees, 8 of 10 chances from 0.89 to 1.6. On 30 August 2026: ", "6 August 2026: oxalic acid, vapour.</desc>"} {
		if !strings.Contains(string(got), text) {
			t.Errorf("the picture does not tell %q", text)
		}
	}
	// A name is text, never markup.
	if got := c.SVG(`<b>&"`); bytes.Contains(got, []byte("<b>")) || !bytes.Contains(got, []byte("<title>&lt;b&gt;&amp;")) {
		t.Errorf("a name became markup: %.200s", got)
	}
	one := TimeChart{Dates: []sampling.Date{from}, Low: []float64{1}, Mid: []float64{1}, High: []float64{1}, Today: from, Band: "likely"}
	if got := one.SVG("one day"); !strings.Contains(string(got), `stroke="`+inkKnown) {
		t.Errorf("one day is %s", got)
	}
}

// Names at the foot of events that lie close together stand above one another.
func TestEventNamesKeepApart(t *testing.T) {
	p := &picture{wide: 720, high: 220}
	f := plot{p, axis{low: 0, high: 100, from: 50, to: 700}, axis{low: 0, high: 1, from: 200, to: 20}}
	f.events([]Event{{10, "oxalic acid, vapour"}, {12, "formic acid"}, {60, "thymol"}, {99, "supers off"}})
	got := p.body.String()
	for _, text := range []string{`y="194">oxalic acid`, `y="176">formic acid`, `y="194">thymol`, `text-anchor="end">supers off`} {
		if !strings.Contains(got, text) {
			t.Errorf("no %s in\n%s", text, got)
		}
	}
}

// What carries meaning can be read on white: WCAG 2.2 asks for a contrast of 4.5
// of text, and 3 of lines.
func TestInksStandOutOnPaper(t *testing.T) {
	for _, ink := range []string{inkKnown, inkLine, inkPast, inkText} {
		if got := contrast(t, ink); !(got >= 4.5) {
			t.Errorf("%s has a contrast of %.2f on white", ink, got)
		}
	}
	if got := contrast(t, "#d96b00"); got >= 4.5 { // the orange of old
		t.Errorf("a light orange has a contrast of %.2f", got)
	}
}

// contrast is that of a colour on white by the formula of WCAG 2.2.
func contrast(t *testing.T, ink string) float64 {
	t.Helper()
	var rgb [3]uint8
	if _, err := fmt.Sscanf(ink, "#%02x%02x%02x", &rgb[0], &rgb[1], &rgb[2]); err != nil {
		t.Fatal(err)
	}
	light := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		c := float64(rgb[i]) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		light += weight * c
	}
	return 1.05 / (light + 0.05)
}

func TestEvenMarks(t *testing.T) {
	for high, want := range map[float64]string{1.05: "0 0.5 1", 750: "0 200 400 600", 550: "0 200 400", 99: "0 20 40 60 80", 2205: "0 500 1000 1500 2000"} {
		var got []string
		for _, m := range evenMarks(high) {
			got = append(got, m.label)
		}
		if s := strings.Join(got, " "); s != want {
			t.Errorf("up to %v: %s, want %s", high, s, want)
		}
	}
}
