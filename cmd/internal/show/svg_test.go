package show

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
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
	for _, text := range []string{"alder: mites ahead", "mites per hundred bees", ">day<", ">middle<", ">8 of 10 chances<", ">act<", ">counted<", ">oxalic acid, vapour<", ">12 Aug<"} {
		if !strings.Contains(string(got), text) {
			t.Errorf("the picture does not say %q", text)
		}
	}
	if strings.Contains(string(got), "NaN") {
		t.Error("the picture has points that are no numbers")
	}
	if got := (TimeChart{}).SVG("empty"); got != nil {
		t.Errorf("no days drew %d bytes", len(got))
	}
	one := TimeChart{Dates: []sampling.Date{from}, Low: []float64{1}, Mid: []float64{1}, High: []float64{1}, Today: from, Band: "likely"}
	if got := one.SVG("one day"); !strings.Contains(string(got), `stroke="`+inkKnown) {
		t.Errorf("one day is %s", got)
	}
}
