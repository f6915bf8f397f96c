// Package table reads CSV tables by column name: those that are embedded in
// the libraries, and in tests those of testdata.
package table

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
)

// Read is the rows of a table, each by the names in the first row. Lines that
// start with # are remarks. Errors are those of encoding/csv; a table without
// its first row has none.
func Read(r io.Reader) ([]map[string]string, error) {
	in := csv.NewReader(r)
	in.Comment = '#'
	records, err := in.ReadAll()
	if err != nil || len(records) == 0 {
		return nil, err
	}
	rows := make([]map[string]string, len(records)-1)
	for i, record := range records[1:] {
		rows[i] = make(map[string]string, len(record))
		for j, name := range records[0] {
			rows[i][name] = record[j]
		}
	}
	return rows, nil
}

// Embedded is the rows of a table that a library brings with it. One that does
// not parse is a mistake of ours that no user can mend, and any test at all
// would show it: it panics.
func Embedded(text string) []map[string]string {
	rows, err := Read(strings.NewReader(text))
	if err != nil {
		panic("embedded table: " + err.Error())
	}
	return rows
}

// Number is a number of an embedded table; anything else panics as there.
func Number(cell string) float64 {
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		panic("embedded table: " + err.Error())
	}
	return v
}
