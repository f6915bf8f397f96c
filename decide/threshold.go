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
// source for each row. Errors are *TableError.
func ReadThresholds(r io.Reader) ([]Threshold, error) {
	c := csv.NewReader(r)
	c.FieldsPerRecord = -1
	head, err := c.Read()
	if err != nil {
		return nil, tableProblem(err, "the table is empty")
	}
	at := map[string]int{}
	for _, name := range []string{"set", "phase", "watch", "act", "source", "kind"} {
		i := slices.IndexFunc(head, func(h string) bool {
			return strings.EqualFold(strings.TrimSpace(strings.TrimPrefix(h, "\ufeff")), name)
		})
		if i < 0 {
			return nil, &TableError{1, 1, "the column " + name + " is missing", "begin the table with set,phase,watch,act,source,kind"}
		}
		at[name] = i
	}
	var out []Threshold
	seen := map[string][]Phase{}
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, tableProblem(err, "the row cannot be read")
		}
		cell := func(name string) string {
			if at[name] < len(row) {
				return strings.TrimSpace(row[at[name]])
			}
			return ""
		}
		bad := func(name, problem, remedy string) error {
			line, column := c.FieldPos(min(at[name], len(row)-1))
			return &TableError{line, column, problem, remedy}
		}
		t := Threshold{Set: cell("set"), Phase: Phase(cell("phase")), Source: cell("source"), Kind: cell("kind")}
		if !slices.ContainsFunc(Phases(), func(p PhaseFacts) bool { return p.Phase == t.Phase }) {
			return nil, bad("phase", fmt.Sprintf("%q is not a phase of the season", t.Phase), "write broodless, dormant, buildup, peak or decline")
		}
		if slices.Contains(seen[t.Set], t.Phase) {
			return nil, bad("phase", fmt.Sprintf("the set %s has %s twice", t.Set, t.Phase), "leave one row out")
		}
		seen[t.Set] = append(seen[t.Set], t.Phase)
		for name, to := range map[string]*float64{"watch": &t.Watch, "act": &t.Act} {
			v, err := strconv.ParseFloat(cell(name), 64)
			if err != nil || !(v >= leastLevel && v <= mostLevel) {
				return nil, bad(name, fmt.Sprintf("%q is not a number of mites per hundred bees", cell(name)), fmt.Sprintf("write a number from %v to %v with a decimal point", leastLevel, mostLevel))
			}
			*to = v
		}
		if t.Watch > t.Act {
			return nil, bad("watch", "watch is above act", "give the lower figure as watch")
		}
		if t.Source == "" {
			return nil, bad("source", "the source is missing", "say where the figures come from, such as: my own records")
		}
		out = append(out, t)
	}
	for _, t := range out {
		for _, p := range Phases() {
			if !slices.Contains(seen[t.Set], p.Phase) {
				return nil, &TableError{1, 1, fmt.Sprintf("the set %s has no row for %s", t.Set, p.Phase), "give one row for each phase"}
			}
		}
	}
	if out == nil {
		return nil, &TableError{1, 1, "the table has no rows", "give one row for each phase"}
	}
	return out, nil
}

// The levels a line may lie at, in mites per hundred bees.
const leastLevel, mostLevel = 0.01, 100.0

func tableProblem(err error, otherwise string) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return &TableError{p.Line, p.Column, p.Err.Error(), "check the quotes and commas of this row"}
	}
	if errors.Is(err, io.EOF) {
		return &TableError{1, 1, otherwise, "begin it with set,phase,watch,act,source,kind"}
	}
	return err
}
