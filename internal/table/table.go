// Package table reads the tables of figures that are embedded in this program.
package table

import (
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

// Row is a row of an embedded table, its cells by the name of their column.
type Row map[string]string

// Read reads a table of figures that is embedded in this program. One that
// does not parse is a mistake of ours that no user can mend, and any test at all
// would show it: it panics. It is not for files of a user.
func Read(text string) []Row {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		panic(fmt.Sprintf("embedded table: %v", err))
	}
	var out []Row
	for _, cells := range rows[1:] {
		r := make(Row, len(cells))
		for i, name := range rows[0] {
			r[name] = cells[i]
		}
		out = append(out, r)
	}
	return out
}

// Number is the number in a column; where there is none it panics, as Read
// does.
func (r Row) Number(column string) float64 {
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		panic(fmt.Sprintf("embedded table: %s of %v: %v", column, r, err))
	}
	return v
}
