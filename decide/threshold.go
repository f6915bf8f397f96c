package decide

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"halfcup/sampling"
)

// Threshold is the line a colony is held against in one phase of the season,
// in mites per hundred bees by a careful wash: from Watch it deserves an eye,
// from Act a treatment.
type Threshold struct {
	Set    string  `json:"set"`
	Phase  Phase   `json:"phase"`
	Watch  float64 `json:"watch"`
	Act    float64 `json:"act"`
	Source string  `json:"source"`
	Kind   string  `json:"kind"`
}

// DefaultThresholds is the set that is used when none is named.
const DefaultThresholds = "composite"

//go:embed thresholds.csv
var thresholdsCSV string

var thresholdTable = func() []Threshold {
	t, err := ReadThresholds(strings.NewReader(thresholdsCSV))
	if err != nil {
		panic("decide: embedded table: " + err.Error())
	}
	return t
}()

// Thresholds lists the thresholds of every set.
func Thresholds() []Threshold { return slices.Clone(thresholdTable) }

// ThresholdSet is one threshold for every phase. An unknown name is a
// *sampling.SyntaxError that suggests the nearest.
func ThresholdSet(name string) ([]Threshold, error) {
	var set []Threshold
	var names []string
	for _, t := range thresholdTable {
		if t.Set == name {
			set = append(set, t)
		}
		if !slices.Contains(names, t.Set) {
			names = append(names, t.Set)
		}
	}
	if set != nil {
		return set, nil
	}
	remedy := "use one of " + strings.Join(names, ", ") + ", or the name of a CSV file"
	if near := sampling.Nearest(name, names); near != "" {
		remedy = fmt.Sprintf("did you mean %s? The sets are %s", near, strings.Join(names, ", "))
	}
	return nil, &sampling.SyntaxError{Input: name, Length: max(len(name), 1), Problem: fmt.Sprintf("%q is not a set of thresholds", name), Remedy: remedy}
}

// In is the threshold of a phase.
func In(set []Threshold, phase Phase) (Threshold, bool) {
	i := slices.IndexFunc(set, func(t Threshold) bool { return t.Phase == phase })
	if i < 0 {
		return Threshold{}, false
	}
	return set[i], true
}

// TableError says what is wrong in a table, and where: line and column from 1,
// the column in characters.
type TableError struct {
	Line, Column    int
	Problem, Remedy string
}

func (e *TableError) Error() string {
	return fmt.Sprintf("line %d, column %d: %s: %s", e.Line, e.Column, e.Problem, e.Remedy)
}

// ReadThresholds reads thresholds from a CSV table with the columns set, phase,
// watch, act, source and kind. It wants every phase of every set once, and a
// source for each row. Errors are *TableError, or come from r.
func ReadThresholds(r io.Reader) ([]Threshold, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	t := &thresholdReader{text: strings.TrimPrefix(string(text), "\ufeff"), seen: map[string][]Phase{}}
	t.csv = csv.NewReader(strings.NewReader(t.text))
	t.csv.FieldsPerRecord = -1
	if err := t.head(); err != nil {
		return nil, err
	}
	var out []Threshold
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
		return nil, &TableError{1, 1, "the table has no rows", "give one row for each phase"}
	}
	for _, o := range out {
		for _, p := range Phases() {
			if !slices.Contains(t.seen[o.Set], p.Phase) {
				return nil, &TableError{1, 1, fmt.Sprintf("the set %s has no row for %s", o.Set, p.Phase), "give one row for each phase"}
			}
		}
	}
	return out, nil
}

var thresholdColumns = []string{"set", "phase", "watch", "act", "source", "kind"}

type thresholdReader struct {
	text string
	csv  *csv.Reader
	at   map[string]int // where each column is
	seen map[string][]Phase
}

// head reads the names of the columns.
func (t *thresholdReader) head() error {
	begin := "begin the table with " + strings.Join(thresholdColumns, ",")
	row, err := t.csv.Read()
	if errors.Is(err, io.EOF) {
		return &TableError{1, 1, "the table is empty", begin}
	}
	if err != nil {
		return t.broken(err)
	}
	t.at = map[string]int{}
	for _, name := range thresholdColumns {
		i := slices.IndexFunc(row, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), name) })
		if i < 0 {
			return &TableError{1, 1, "the column " + name + " is missing", begin}
		}
		t.at[name] = i
	}
	return nil
}

func (t *thresholdReader) threshold(row []string) (Threshold, error) {
	cell := func(name string) string {
		if t.at[name] < len(row) {
			return strings.TrimSpace(row[t.at[name]])
		}
		return ""
	}
	bad := func(name, problem, remedy string) (Threshold, error) {
		line, column := t.csv.FieldPos(min(t.at[name], len(row)-1))
		return Threshold{}, &TableError{line, t.character(line, column), problem, remedy}
	}
	out := Threshold{Set: cell("set"), Phase: Phase(cell("phase")), Source: cell("source"), Kind: cell("kind")}
	switch {
	case out.Set == "":
		return bad("set", "the set has no name", "give every row the name of its set, such as mine")
	case !slices.ContainsFunc(Phases(), func(p PhaseFacts) bool { return p.Phase == out.Phase }):
		return bad("phase", fmt.Sprintf("%q is not a phase of the season", out.Phase), "write broodless, dormant, buildup, peak or decline")
	case slices.Contains(t.seen[out.Set], out.Phase):
		return bad("phase", fmt.Sprintf("the set %s has %s twice", out.Set, out.Phase), "leave one row out")
	}
	t.seen[out.Set] = append(t.seen[out.Set], out.Phase)
	for _, level := range []struct {
		name string
		to   *float64
	}{{"watch", &out.Watch}, {"act", &out.Act}} {
		v, err := strconv.ParseFloat(cell(level.name), 64)
		if err != nil || !(v >= leastLevel && v <= mostLevel) {
			return bad(level.name, fmt.Sprintf("%q is not a number of mites per hundred bees", cell(level.name)), fmt.Sprintf("write a number from %v to %v with a decimal point", leastLevel, mostLevel))
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
	return &TableError{p.Line, t.character(p.Line, p.Column), p.Err.Error(), "check the quotes and commas of this row"}
}

// character turns a column in bytes into one in characters.
func (t *thresholdReader) character(line, column int) int {
	rest := t.text
	for range line - 1 {
		_, rest, _ = strings.Cut(rest, "\n")
	}
	return 1 + utf8.RuneCountInString(rest[:min(max(column-1, 0), len(rest))])
}

// The levels a line may lie at, in mites per hundred bees.
const leastLevel, mostLevel = 0.01, 100.0
