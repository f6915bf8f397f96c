package decide

import (
	"encoding/csv"
	"strconv"
	"strings"
)

// embedded reads one of this package's own tables into rows by column name.
// A table that does not parse is a mistake of ours that no user can mend, and
// any test at all would show it: it panics.
func embedded(table string) []map[string]string {
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		panic("decide: embedded table: " + err.Error())
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := make(map[string]string, len(r))
		for i, name := range rows[0] {
			m[name] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// mustNumber reads a number of an embedded table.
func mustNumber(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic("decide: embedded table: " + err.Error())
	}
	return v
}
