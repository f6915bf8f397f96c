package decide

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"halfcup/internal/table"
)

// TestdataTable reads a table below testdata; its comment lines start with #.
func TestdataTable(t testing.TB, path ...string) []table.Row {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(append([]string{"..", "testdata"}, path...)...))
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	for line := range strings.Lines(string(data)) {
		if !strings.HasPrefix(line, "#") {
			text.WriteString(line)
		}
	}
	rows := table.Read(text.String())
	if len(rows) == 0 {
		t.Fatalf("%v has no rows", path)
	}
	return rows
}

// figures are the numbers of a table of testdata/reference; a cell without one
// is NaN.
func figures(t testing.TB, name string) []map[string]float64 {
	t.Helper()
	var out []map[string]float64
	for _, r := range TestdataTable(t, "reference", name) {
		m := map[string]float64{}
		for column, cell := range r {
			m[column] = math.NaN()
			if v, err := strconv.ParseFloat(cell, 64); err == nil {
				m[column] = v
			}
		}
		out = append(out, m)
	}
	return out
}
