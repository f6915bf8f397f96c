package show

import (
	"math"
	"strings"
	"testing"
)

func TestStripPicture(t *testing.T) {
	shares := Strip{Unit: "share found", Rows: []StripRow{
		{"roll-1", 5.0 / 6, math.NaN(), math.NaN(), true}, {"roll-2", 1, math.NaN(), math.NaN(), true},
		{"before", 0.82, 0.56, 0.97, true}, {"after", 0.818, 0.67, 0.93, false},
	}}
	golden(t, "strip", Page{Width: 80}.Strip(shares))
	golden(t, "strip-ascii", Page{Width: 80, ASCII: true}.Strip(shares))
	golden(t, "strip-narrow", Page{Width: 40}.Strip(shares))
	golden(t, "strip-color", Page{Width: 80, Color: true}.Strip(shares))
	falls := Strip{Log: true, Unit: "mites a day for each mite per hundred", Rows: []StripRow{
		{"board-1", 9.5, math.NaN(), math.NaN(), true}, {"none seen", 0, math.NaN(), math.NaN(), true},
		{"before", 9.2, 1.1, 75, true}, {"after", 7.7, 2.0, 29, false},
	}}
	golden(t, "strip-log", Page{Width: 80}.Strip(falls))
	falls.Unit = "mites a day for each mite per hundred, over 34000 bees"
	for _, w := range []int{40, 50, 80} {
		var words []string
		for _, line := range strings.Split(Page{Width: w}.Strip(falls), "\n") {
			if n := Wide(line); n > w {
				t.Errorf("%d columns at %d: %q", n, w, line)
			}
			words = append(words, strings.Fields(line)...)
		}
		if all := strings.Join(words, " "); !strings.HasSuffix(all, falls.Unit) {
			t.Errorf("at %d columns the words under the axis are cut: %q", w, all)
		}
	}
	if got := (Page{Width: 80}).Strip(Strip{}); got != "" {
		t.Errorf("no rows: %q", got)
	}
}
