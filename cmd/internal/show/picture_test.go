package show

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jedib0t/go-pretty/v6/text"

	"halfcup/sampling"
)

var update = flag.Bool("update", false, "rewrite the pictures in testdata")

// golden compares got with a picture in testdata. Look at a new one before it
// is committed.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is\n%swant\n%s", name, got, want)
	}
	for _, line := range strings.Split(got, "\n") {
		if w := text.StringWidthWithoutEscSequences(line); w > 80 {
			t.Errorf("%s: a line of %d columns: %s", name, w, line)
		}
	}
}

// bump is a log-normal density around a level, on an even grid of logarithms.
func bump(median, logSD float64) Density {
	d := Density{Median: median, Low: median * math.Exp(-1.96*logSD), High: median * math.Exp(1.96*logSD)}
	for x := math.Log(0.001); x < math.Log(200); x += 0.02 {
		z := (x - math.Log(median)) / logSD
		d.Levels = append(d.Levels, math.Exp(x))
		d.Heights = append(d.Heights, math.Exp(-z*z/2))
	}
	return d
}

func TestDensityPicture(t *testing.T) {
	lines := []Mark{{Level: 2, Label: "watch 2", Faint: true}, {Level: 3, Label: "act 3"}}
	wide := bump(2.1, 0.45)
	wide.Marks = lines
	golden(t, "density", Page{Width: 80}.Density(wide))
	golden(t, "density-ascii", Page{Width: 80, ASCII: true}.Density(wide))
	golden(t, "density-color", Page{Width: 80, Color: true}.Density(wide))
	golden(t, "density-narrow", Page{Width: 40}.Density(wide))

	spike := bump(12, 0.01)
	spike.Marks = lines
	golden(t, "density-spike", Page{Width: 80}.Density(spike))

	far := bump(0.05, 0.8)
	far.Low, far.High = math.NaN(), math.NaN()
	far.Marks = []Mark{{Level: 2.9, Label: "watch 2.9", Faint: true}, {Level: 3, Label: "act 3"}, {Level: 3.1, Label: "yard 3.1"}}
	golden(t, "density-far", Page{Width: 80}.Density(far))

	if got := (Page{Width: 80}).Density(Density{Levels: []float64{1, 2}, Heights: []float64{0, 0}}); got != "" {
		t.Errorf("no density drew\n%s", got)
	}
}

// The part of the picture right of the line must be the chance of being over
// it, or the picture says something else than the figure beside it.
func TestDensityPictureKeepsArea(t *testing.T) {
	d := bump(2.1, 0.45)
	d.Marks = []Mark{{Level: 3, Label: "act 3"}}
	scale, _ := d.scale()
	total, over := 0.0, 0.0
	for i, h := range d.columns(scale, 76) {
		total += h
		if scale.level(float64(i)/75) > 3 {
			over += h
		}
	}
	want := 0.5 * math.Erfc(math.Log(3/2.1)/0.45/math.Sqrt2)
	if got := over / total; !(math.Abs(got-want) <= 0.02) {
		t.Errorf("the picture shows %.3f over the line, the figure is %.3f", got, want)
	}
}

func TestTimeChart(t *testing.T) {
	from := sampling.Day(2026, 4, 10)
	c := TimeChart{Today: sampling.Day(2026, 7, 1), Band: "8 of 10 chances", LineName: "act"}
	for day := 0; day <= 180; day += 5 {
		mid := 0.4 * math.Exp(0.016*float64(day))
		spread := math.Exp(0.25 + 0.004*float64(day))
		c.Dates = append(c.Dates, from+sampling.Date(day))
		c.Low, c.Mid, c.High = append(c.Low, mid/spread), append(c.Mid, mid), append(c.High, mid*spread)
		line := 3.0
		if day < 60 {
			line = 2
		}
		c.Line = append(c.Line, line)
	}
	golden(t, "time-plain", Page{Width: 80}.TimeChart(c))
	c.Seen = []Seen{{sampling.Day(2026, 5, 20), 0.9}, {sampling.Day(2026, 7, 1), 1.2}}
	c.Events = []Event{{sampling.Day(2026, 8, 6), "oxalic acid by vapour, first of three rounds"}, {sampling.Day(2026, 9, 20), "supers off"}}
	golden(t, "time", Page{Width: 80}.TimeChart(c))
	golden(t, "time-ascii", Page{Width: 80, ASCII: true}.TimeChart(c))
	golden(t, "time-color", Page{Width: 80, Color: true}.TimeChart(c))

	short := TimeChart{Dates: []sampling.Date{from, from + 30}, Low: []float64{0, 0}, Mid: []float64{1, 0.2}, High: []float64{2, 0.5}, Today: from, Band: "likely"}
	golden(t, "time-short", Page{Width: 60}.TimeChart(short))
	one := TimeChart{Dates: []sampling.Date{from}, Low: []float64{1}, Mid: []float64{1}, High: []float64{1}, Today: from, Band: "likely"}
	golden(t, "time-one-day", Page{Width: 60}.TimeChart(one))
	if got := (Page{Width: 80}).TimeChart(TimeChart{}); got != "" {
		t.Errorf("no days drew\n%s", got)
	}
}

func TestTable(t *testing.T) {
	table := Table{
		Columns: []Column{{Name: "colony"}, {Name: "µ per hundred", Right: true}, {Name: "95% interval", Right: true}, {Name: "what to do", Flow: true}},
		Rows: [][]string{
			{"alder", "2.1", "0.9 to 4.4", "count again: a roll of 300 bees off three frames would settle it, and costs no bee"},
			{"蜂の木", "–", "–", "no count yet"},
			{"birch", "13", "8 to 20", "treat"},
		},
	}
	golden(t, "table", Page{Width: 80}.Table(table))
	golden(t, "table-ascii", Page{Width: 60, ASCII: true}.Table(table))
	table.Rows[2][1] = Page{Color: true}.Paint(Known, "13")
	golden(t, "table-color", Page{Width: 80, Color: true}.Table(table))
}
