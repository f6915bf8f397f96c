package show

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// Text keeps a contrast of 4.5 on white and on black, by the formula of WCAG
// 2.1. Orange, the usual colour of a line, has 2.4 on white.
func TestInkCanBeReadOnWhiteAndOnBlack(t *testing.T) {
	contrast := func(code int) float64 {
		var r, g, b int
		switch steps := []int{0, 95, 135, 175, 215, 255}; {
		case code >= 232:
			r = 8 + 10*(code-232)
			g, b = r, r
		default:
			r, g, b = steps[(code-16)/36], steps[(code-16)/6%6], steps[(code-16)%6]
		}
		light := func(v int) float64 {
			if x := float64(v) / 255; x > 0.03928 {
				return math.Pow((x+0.055)/1.055, 2.4)
			}
			return float64(v) / 255 / 12.92
		}
		l := 0.2126*light(r) + 0.7152*light(g) + 0.0722*light(b)
		return min(1.05/(l+0.05), (l+0.05)/0.05)
	}
	if got := contrast(208); !(math.Abs(got-2.4) < 0.1) {
		t.Fatalf("the contrast of orange is taken for %.2f", got)
	}
	for role, s := range ink {
		var code int
		if n, _ := fmt.Sscanf(s, "38;5;%d", &code); n == 0 {
			continue // bold, in the ink of the terminal
		}
		if got := contrast(code); !(got >= 4.5) {
			t.Errorf("role %d: colour %d has a contrast of %.2f", role, code, got)
		}
	}
}

func TestNarrowTableIsBlocks(t *testing.T) {
	table := Table{
		Columns: []Column{{Name: "colony"}, {Name: "what to do now", Flow: true}, {Name: "mites per hundred", Right: true}, {Name: "next count"}},
		Rows: [][]string{
			{"alder", "Count again: too few bees were looked at.", "1.2", "25 July"},
			{"birch", "Treat.", "4.1", ""},
		},
	}
	want := strings.TrimLeft(`
alder
  what to do now     Count again: too
                     few bees were
                     looked at.
  mites per hundred  1.2
  next count         25 July

birch
  what to do now     Treat.
  mites per hundred  4.1
`, "\n")
	if got := (Page{Width: 40}).Table(table); got != want {
		t.Errorf("at 40 columns:\n%s", got)
	}
	for _, line := range strings.Split((Page{Width: 79}).Table(table), "\n") {
		if n := len([]rune(line)); n > 79 {
			t.Errorf("%d columns: %q", n, line)
		}
	}
	if got := (Page{Width: 80}).Table(table); !strings.Contains(got, "─") {
		t.Errorf("at 80 columns:\n%s", got)
	}
}

// A pipe is spoken to as the locale says, just like a terminal.
func TestLocaleCountsInPipes(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	for locale, want := range map[string]bool{"C": true, "en_GB.UTF-8": false} {
		t.Setenv("LC_ALL", locale)
		if p := NewPage(w); p.ASCII != want {
			t.Errorf("LC_ALL=%s: ASCII %v", locale, p.ASCII)
		}
	}
}

// COLUMNS is the width that somebody wishes for, in a pipe too; what is no number
// above zero wishes for nothing.
func TestColumnsIsHeard(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	for columns, want := range map[string]int{"": 80, "60": 60, "12": 40, "400": 100, "0": 80, "-50": 80, "wide": 80} {
		t.Setenv("COLUMNS", columns)
		if p := NewPage(w); p.Width != want {
			t.Errorf("COLUMNS=%q: %d columns wide, want %d", columns, p.Width, want)
		}
	}
}

func TestNoPicture(t *testing.T) {
	d := Density{Levels: []float64{0.5, 1, 2}, Heights: []float64{0.1, 1, 0.1}, Low: 0.6, Median: 1, High: 1.5}
	if p := (Page{Width: 80}); p.Density(d) == "" {
		t.Fatal("nothing to leave out")
	}
	if got := (Page{Width: 80, NoPicture: true}).Density(d); got != "" {
		t.Errorf("a picture:\n%s", got)
	}
}
