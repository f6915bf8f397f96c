package show

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Number is a figure in an answer for machines: full precision, and null (an
// empty cell in CSV) where there is none.
type Number float64

// MarshalJSON writes NaN and the infinities as null: JSON has no such numbers,
// and 0 would be a lie.
func (n Number) MarshalJSON() ([]byte, error) {
	if f := float64(n); !math.IsNaN(f) && !math.IsInf(f, 0) {
		return json.Marshal(f)
	}
	return []byte("null"), nil
}

// JSON writes the object v (a struct or map) to w, indented, with the schema's
// name before its own fields and extra after them.
func JSON(w io.Writer, schema string, v any, extra map[string]any) error {
	var out bytes.Buffer
	out.WriteString(`{"schema":` + strconv.Quote(schema))
	for _, part := range []any{v, extra} {
		body, err := marshal(part)
		if err != nil {
			return err
		}
		if len(body) < 2 || body[0] != '{' {
			return fmt.Errorf("show: the answer %s is %T, not an object", schema, part)
		}
		if inner := body[1 : len(body)-1]; len(inner) > 0 {
			out.WriteByte(',')
			out.Write(inner)
		}
	}
	out.WriteByte('}')
	var pretty bytes.Buffer
	if err := json.Indent(&pretty, out.Bytes(), "", "  "); err != nil {
		return err
	}
	pretty.WriteByte('\n')
	_, err := io.WriteString(w, Marked(pretty.String()))
	return err
}

// marshal is json.Marshal without the escapes that only a web page needs.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return bytes.TrimSpace(b.Bytes()), err
}

// CSV is one table for machines: a head and rows of strings, integers,
// float64 or Number, bool, or anything with a String method.
type CSV struct {
	Head []string
	Rows [][]any

	// Record says that the table is to be read as a record again: marks that
	// have no shape stand in it as they are, and not Marked.
	Record bool
}

// Write writes the table to w by RFC 4180, but with plain line feeds.
func (t CSV) Write(w io.Writer) error {
	c := NewCSVWriter(w)
	if err := c.Write(t.Head...); err != nil {
		return err
	}
	for _, r := range t.Rows {
		record := make([]string, len(r))
		for i, v := range r {
			if record[i] = cell(v); !t.Record {
				record[i] = Marked(record[i])
			}
		}
		if err := c.Write(record...); err != nil {
			return err
		}
	}
	return c.Flush()
}

// CSVWriter writes tables for machines, in which no cell is a formula to a
// spreadsheet. FromInert takes back what that changes.
type CSVWriter struct{ to *csv.Writer }

// NewCSVWriter is a writer of tables to w.
func NewCSVWriter(w io.Writer) CSVWriter { return CSVWriter{csv.NewWriter(w)} }

// Between sets what stands between the cells, in place of a comma.
func (c CSVWriter) Between(sep byte) { c.to.Comma = rune(sep) }

// Write writes a row.
func (c CSVWriter) Write(cells ...string) error {
	cells = slices.Clone(cells)
	for i := range cells {
		cells[i] = Inert(cells[i])
	}
	return c.to.Write(cells)
}

// Flush writes what is not yet written, and tells the first error of all.
func (c CSVWriter) Flush() error {
	c.to.Flush()
	return c.to.Error()
}

func cell(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ""
		}
		return strconv.FormatFloat(v, 'g', -1, 64)
	case Number:
		return cell(float64(v))
	case bool, int, int64:
		return fmt.Sprint(v)
	}
	return fmt.Sprint(v)
}

// Runs reports whether a spreadsheet would take a cell for a formula and work
// it out. Numbers and dashes are none.
func Runs(cell string) bool {
	if len(cell) < 2 || !strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return false
	}
	_, err := strconv.ParseFloat(cell, 64)
	return err != nil && strings.Trim(cell, "-+ ") != ""
}

// Inert is the cell as text that no spreadsheet runs: an apostrophe in front
// marks it as text there. One that begins with such marks gets one more, so
// that FromInert gives back what it was.
func Inert(cell string) string {
	if Runs(strings.TrimLeft(cell, "'")) {
		return "'" + cell
	}
	return cell
}

// FromInert is the cell that Inert was given.
func FromInert(cell string) string {
	if rest, marked := strings.CutPrefix(cell, "'"); marked && Runs(strings.TrimLeft(rest, "'")) {
		return rest
	}
	return cell
}
