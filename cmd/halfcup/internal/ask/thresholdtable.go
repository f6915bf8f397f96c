package ask

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"halfcup/cmd/internal/figures"
	"halfcup/decide"
	"halfcup/sampling"
)

// tableError says what is wrong in a table, and where: line and column from 1,
// the column in characters.
type tableError struct {
	Line, Column    int
	Problem, Remedy string
}

func (e *tableError) Error() string {
	return fmt.Sprintf("line %d, column %d: %s: %s", e.Line, e.Column, e.Problem, e.Remedy)
}

func badCell(line, column int, problem, remedy string) *tableError {
	return &tableError{Line: line, Column: column, Problem: problem, Remedy: remedy}
}

// parseThresholds reads thresholds from a CSV table with the columns set,
// season, watch, act, source and kind. It wants every season of every set once,
// and a source for each row. Errors are *tableError, or come from r.
func parseThresholds(r io.Reader) ([]decide.Threshold, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	t := &thresholdReader{text: strings.TrimPrefix(string(text), "\ufeff"), seen: map[string][]decide.Season{}}
	t.csv = csv.NewReader(strings.NewReader(t.text))
	t.csv.FieldsPerRecord = -1
	if err := t.head(); err != nil {
		return nil, err
	}
	var out []decide.Threshold
	for {
		row, err := t.csv.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, t.broken(err)
		}
		threshold, err := t.threshold(row)
		if err != nil {
			return nil, err
		}
		out = append(out, threshold)
	}
	if out == nil {
		return nil, badCell(1, 1, "the table has no rows", "give one row for each season")
	}
	for _, o := range out {
		for _, s := range decide.Seasons() {
			if !slices.Contains(t.seen[o.Set], s) {
				return nil, badCell(1, 1, fmt.Sprintf("the set %s has no row for %s", o.Set, s), "give one row for each season")
			}
		}
	}
	return out, nil
}

var thresholdColumns = []string{"set", "season", "watch", "act", "source", "kind"}

type thresholdReader struct {
	text string
	csv  *csv.Reader
	at   map[string]int // where each column is
	seen map[string][]decide.Season
}

// head reads the names of the columns.
func (t *thresholdReader) head() error {
	begin := "begin the table with " + strings.Join(thresholdColumns, ",")
	row, err := t.csv.Read()
	if errors.Is(err, io.EOF) {
		return badCell(1, 1, "the table is empty", begin)
	}
	if err != nil {
		return t.broken(err)
	}
	t.at = map[string]int{}
	for _, name := range thresholdColumns {
		i := slices.IndexFunc(row, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), name) })
		if i < 0 {
			if was := slices.IndexFunc(row, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), "phase") }); name == "season" && was >= 0 {
				line, column := t.csv.FieldPos(was)
				return badCell(line, t.character(line, column), "the column phase is now called season", begin)
			}
			return badCell(1, 1, "the column "+name+" is missing", begin)
		}
		t.at[name] = i
	}
	return nil
}

func (t *thresholdReader) threshold(row []string) (decide.Threshold, error) {
	cell := func(name string) string {
		if t.at[name] < len(row) {
			return strings.TrimSpace(row[t.at[name]])
		}
		return ""
	}
	bad := func(name, problem, remedy string) (decide.Threshold, error) {
		line, column := t.csv.FieldPos(min(t.at[name], len(row)-1))
		return decide.Threshold{}, badCell(line, t.character(line, column), problem, remedy)
	}
	out := decide.Threshold{Set: cell("set"), Season: decide.Season(cell("season")), Source: cell("source"), Kind: cell("kind")}
	var unknown *sampling.ValueError
	switch {
	case out.Set == "":
		return bad("set", "the set has no name", "give every row the name of its set, such as mine")
	case errors.As(out.Season.Check(), &unknown):
		return bad("season", fmt.Sprintf("season %q: %s", out.Season, unknown.Problem), unknown.Remedy)
	case slices.Contains(t.seen[out.Set], out.Season):
		return bad("season", fmt.Sprintf("the set %s has %s twice", out.Set, out.Season), "leave one row out")
	}
	t.seen[out.Set] = append(t.seen[out.Set], out.Season)
	for _, level := range []struct {
		name string
		to   *float64
	}{{"watch", &out.Watch}, {"act", &out.Act}} {
		bounds := figures.Named(level.name)
		v, err := strconv.ParseFloat(cell(level.name), 64)
		if err != nil || !bounds.Allows(v) {
			return bad(level.name, fmt.Sprintf("%q is not a number of mites per hundred bees", cell(level.name)), fmt.Sprintf("write a number %s with a decimal point", bounds.Span()))
		}
		*level.to = v
	}
	switch {
	case out.Watch > out.Act:
		return bad("watch", "watch is above act", "give the lower figure as watch")
	case out.Source == "":
		return bad("source", "the source is missing", "say where the figures come from, such as: my own records")
	case out.Kind == "":
		return bad("kind", "the kind is missing", "say how sure it is, such as: judgement")
	}
	return out, nil
}

// broken is a row that is no CSV.
func (t *thresholdReader) broken(err error) error {
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return err
	}
	return badCell(p.Line, t.character(p.Line, p.Column), p.Err.Error(), "check the quotes and commas of this row")
}

// character turns a column in bytes into one in characters.
func (t *thresholdReader) character(line, column int) int {
	rest := t.text
	for range line - 1 {
		_, rest, _ = strings.Cut(rest, "\n")
	}
	return 1 + utf8.RuneCountInString(rest[:min(max(column-1, 0), len(rest))])
}
