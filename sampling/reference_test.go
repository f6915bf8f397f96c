package sampling

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// refRow is one row of a committed outside reference.
type refRow struct {
	t    *testing.T
	cell map[string]string
}

// reference reads testdata/reference/name, whose comment lines start with #.
func reference(t *testing.T, name string) []refRow {
	t.Helper()
	return readTable(t, filepath.Join("..", "testdata", "reference", name))
}

func readTable(t *testing.T, path string) []refRow {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []refRow
	for _, rec := range records[1:] {
		row := refRow{t, map[string]string{}}
		for i, name := range records[0] {
			row.cell[name] = rec[i]
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatalf("%s has no rows", path)
	}
	return rows
}

func (r refRow) text(name string) string {
	r.t.Helper()
	v, ok := r.cell[name]
	if !ok {
		r.t.Fatalf("no column %s", name)
	}
	return v
}

func (r refRow) number(name string) float64 {
	r.t.Helper()
	v, err := strconv.ParseFloat(r.text(name), 64)
	if err != nil {
		r.t.Fatalf("column %s: %v", name, err)
	}
	return v
}

func (r refRow) whole(name string) int { return int(r.number(name)) }
