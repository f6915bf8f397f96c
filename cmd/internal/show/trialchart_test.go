package show

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"testing"
)

func TestTrialChart(t *testing.T) {
	chart := TrialChart{
		Names: []string{"wash", "roll"},
		Columns: []TrialColumn{
			{Title: "dry", Killed: []float64{2100, 0}, Regret: []float64{2, 1}, Error: []float64{0.1, math.NaN()}, Said: []float64{0.1, 0.9}, Was: []float64{0, 1}},
			{Title: "damp", Killed: []float64{2100, 0}, Regret: []float64{2, 3}, Error: []float64{0.1, 0.2}},
		},
	}
	svg := chart.SVG()
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, word := range []string{"dry", "damp", "wash", "roll", "bees killed", "regret", "chance told", "was so"} {
		if !bytes.Contains(svg, []byte(word)) {
			t.Errorf("the picture does not say %q", word)
		}
	}
	if bytes.Contains(svg, []byte("NaN")) {
		t.Error("the picture has a NaN in it")
	}
	if svg := (TrialChart{}).SVG(); svg != nil {
		t.Errorf("with no settings: %d bytes", len(svg))
	}
}
