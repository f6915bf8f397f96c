package decide

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"halfcup/sampling"
)

// Threshold is the line a colony is held against in one season, in mites per hundred bees by a careful wash: from Watch it deserves an eye,
// from Act a treatment.
type Threshold struct {
	Set    string  `json:"set"`
	Season Season  `json:"season"`
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

// ThresholdSet is one threshold for every season. An unknown name is a
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

// In is the threshold of a season, once the line has arrived.
func In(set []Threshold, season Season) (Threshold, bool) {
	i := slices.IndexFunc(set, func(t Threshold) bool { return t.Season == season })
	if i < 0 {
		return Threshold{}, false
	}
	return set[i], true
}

// moveDays is how many days the line takes to move between two seasons.
const moveDays = leastSeason

// Line is the line of a day. Between two seasons it moves evenly over 30 days: one
// that falls has arrived on the first day of the new season, one that rises
// starts then. A colony without brood is held against winter's line on any day,
// because all its mites sit on the bees. It is false when the set lacks a
// season of the year.
func (y Year) Line(set []Threshold, d sampling.Date, broodless bool) (Threshold, bool) {
	if y.curve == nil {
		return Threshold{}, false
	}
	if broodless {
		return In(set, Winter)
	}
	seasons := *y.seasons
	now, began := y.began(d)
	line, ok := In(set, seasons[now].Season)
	before, okBefore := In(set, seasons[(now+len(seasons)-1)%len(seasons)].Season)
	next := seasons[(now+1)%len(seasons)].Season
	after, okAfter := In(set, next)
	if !ok || !okBefore || !okAfter {
		return line, false
	}
	since, until := float64(d-began)/moveDays, float64(y.Next(next, d)-d)/moveDays
	move := func(before, now, after float64) float64 {
		at := now
		if before < now {
			at -= (now - before) * math.Max(0, 1-since)
		}
		if after < now {
			at -= (now - after) * math.Max(0, 1-until)
		}
		return at
	}
	line.Watch, line.Act = move(before.Watch, line.Watch, after.Watch), move(before.Act, line.Act, after.Act)
	return line, true
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

// ReadThresholds reads thresholds from a CSV table with the columns set,
// season, watch, act, source and kind. It wants every season of every set once,
// and a source for each row. Errors are *TableError, or come from r.
func ReadThresholds(r io.Reader) ([]Threshold, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	t := &thresholdReader{text: strings.TrimPrefix(string(text), "\ufeff"), seen: map[string][]Season{}}
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
		return nil, &TableError{1, 1, "the table has no rows", "give one row for each season"}
	}
	for _, o := range out {
		for _, s := range Seasons() {
			if !slices.Contains(t.seen[o.Set], s) {
				return nil, &TableError{1, 1, fmt.Sprintf("the set %s has no row for %s", o.Set, s), "give one row for each season"}
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
	seen map[string][]Season
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
			if was := slices.IndexFunc(row, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), "phase") }); name == "season" && was >= 0 {
				line, column := t.csv.FieldPos(was)
				return &TableError{line, t.character(line, column), "the column phase is now called season", begin}
			}
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
	out := Threshold{Set: cell("set"), Season: Season(cell("season")), Source: cell("source"), Kind: cell("kind")}
	switch {
	case out.Set == "":
		return bad("set", "the set has no name", "give every row the name of its set, such as mine")
	case !slices.Contains(Seasons(), out.Season):
		problem, remedy := unknownSeason(out.Season)
		return bad("season", fmt.Sprintf("season %q: %s", out.Season, problem), remedy)
	case slices.Contains(t.seen[out.Set], out.Season):
		return bad("season", fmt.Sprintf("the set %s has %s twice", out.Set, out.Season), "leave one row out")
	}
	t.seen[out.Set] = append(t.seen[out.Set], out.Season)
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
