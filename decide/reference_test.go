package decide

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
)

// reference reads a table of testdata/reference by column name; its comment
// lines start with #. Cells without a number are missing.
func reference(t *testing.T, name string) (rows []map[string]float64, tasks []string) {
	t.Helper()
	f, err := os.Open("../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil || len(records) < 2 {
		t.Fatal(len(records), err)
	}
	for _, record := range records[1:] {
		row := map[string]float64{}
		for i, cell := range record {
			if v, err := strconv.ParseFloat(cell, 64); err == nil {
				row[records[0][i]] = v
			}
		}
		rows, tasks = append(rows, row), append(tasks, record[0])
	}
	return rows, tasks
}
