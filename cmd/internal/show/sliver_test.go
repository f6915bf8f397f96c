package show

import (
	"math"
	"regexp"
	"strings"
	"testing"
)

// bell is a normal density of ln level.
func bell(middle, sd float64) Density {
	var d Density
	for x := math.Log(1e-4); x < math.Log(1e3); x += 0.03 {
		z := (x - math.Log(middle)) / sd
		d.Levels, d.Heights = append(d.Levels, math.Exp(x)), append(d.Heights, math.Exp(-z*z/2))
	}
	return d
}

func TestSliver(t *testing.T) {
	for _, c := range []struct {
		name string
		d    Density
		want string
	}{
		{"on the line", bell(2, 0.5), "··▁▂▅█│█▅▂▁··"},
		{"below", bell(0.6, 0.4), "▂▅█▆▂·│······"},
		{"above", bell(10, 0.3), "······│··▁▄█▆"},
		{"far beyond both ends", bell(0.01, 0.3), "█·····│······"},
		{"beyond the other", bell(500, 0.3), "······│·····█"},
		{"nothing", Density{}, "······│······"},
	} {
		if got := (Page{Width: 80}).Sliver(c.d, 2, 6); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	ascii := Page{Width: 80, ASCII: true}.Sliver(bell(2, 0.5), 2, 6)
	if strings.Trim(ascii, ".:#|") != "" || len(ascii) != 13 {
		t.Errorf("in ASCII: %s", ascii)
	}
	// Colour is doubled by shape: taken away, the same strip is left.
	painted := Page{Width: 80, Color: true}.Sliver(bell(2, 0.5), 2, 6)
	if !strings.Contains(painted, "\x1b[") || bare(painted) != "··▁▂▅█│█▅▂▁··" {
		t.Errorf("painted: %q", painted)
	}
}

// The parts are chances: those above the line are the chance of being over it.
func TestSliverPartsAreChances(t *testing.T) {
	d := bell(3, 0.8)
	parts := d.about(2, 6)
	sum, above := 0.0, 0.0
	for i, v := range parts {
		sum += v
		if i >= 6 {
			above += v
		}
	}
	want := 0.5 * math.Erfc((math.Log(2)-math.Log(3))/0.8/math.Sqrt2)
	if !(math.Abs(above/sum-want) <= 2e-3) {
		t.Errorf("%v above the line, want %v", above/sum, want)
	}
}

// bare is text without its colours.
func bare(s string) string { return regexp.MustCompile("\x1b\\[[0-9;]*m").ReplaceAllString(s, "") }
