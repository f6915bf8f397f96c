package sampling

import (
	_ "embed"
	"fmt"
	"strings"
)

// Method is a way of counting mites.
type Method string

// The methods.
const (
	Wash      Method = "wash"      // alcohol wash: bees are killed, mites rinsed off
	Roll      Method = "roll"      // sugar roll: bees live
	CO2       Method = "co2"       // carbon dioxide: bees live
	Board     Method = "board"     // natural fall on a sticky board
	Knockdown Method = "knockdown" // fall after a treatment
)

// Kind is what a method looks at.
type Kind string

// The kinds of method.
const (
	BeeSample Kind = "bees"
	Fall      Kind = "fall"
)

// Step is one instruction of how to do a count, with where it comes from.
type Step struct {
	Method           Method
	Text, Source, Of string // Of is the kind of source, such as "published"
}

// methodRow is one line of methods.csv.
type methodRow struct {
	method       Method
	kind         Kind
	kills        bool
	title        string
	names        []string
	example      string
	units        string
	source, sure string
}

//go:embed methods.csv
var methodsCSV string

//go:embed steps.csv
var stepsCSV string

var (
	methodTable = readMethods()
	stepTable   = readSteps()
)

// Methods lists every method, the bee samples first.
func Methods() []Method {
	out := make([]Method, len(methodTable))
	for i, r := range methodTable {
		out[i] = r.method
	}
	return out
}

// ParseMethod finds a method by any of its names, such as "sugar shake" for a
// roll. Capitals, blanks, hyphens and underscores make no difference. An
// unknown name is a *SyntaxError that suggests the nearest one.
func ParseMethod(s string) (Method, error) {
	for _, r := range methodTable {
		if string(r.method) == s {
			return r.method, nil // as in most tables, of many rows
		}
	}
	name := squashed(s)
	var methods, names []string
	for _, r := range methodTable {
		methods = append(methods, string(r.method))
		for _, n := range r.names {
			if squashed(n) == name {
				return r.method, nil
			}
			names = append(names, n)
		}
	}
	list := strings.Join(methods, ", ")
	problem, remedy := fmt.Sprintf("%q is not a method", s), "write one of "+list
	if near := Nearest(strings.ToLower(s), names); near != "" {
		remedy = fmt.Sprintf("did you mean %s? The methods are %s", near, list)
	}
	if s == "" {
		problem = "the method is missing"
	}
	return "", &SyntaxError{Input: s, Length: max(len(s), 1), Problem: problem, Remedy: remedy}
}

// squashed is a name without what makes no difference in it.
func squashed(s string) string { return strings.ReplaceAll(plainName(s), " ", "") }

// Names are the names a method is read by, the one it is printed by first.
func (m Method) Names() []string { return append([]string(nil), m.row().names...) }

func (m Method) row() methodRow {
	for _, r := range methodTable {
		if r.method == m {
			return r
		}
	}
	return methodRow{method: m, kind: BeeSample, title: string(m), names: []string{string(m)}, example: string(m) + ":5/300", units: "the bees, such as 300"}
}

// Kind is what the method looks at.
func (m Method) Kind() Kind { return m.row().kind }

// KillsBees reports whether the bees of the sample die.
func (m Method) KillsBees() bool { return m.row().kills }

// Title is the trade's name of the method, such as "alcohol wash".
func (m Method) Title() string { return m.row().title }

// Example is a count by the method as it is typed, such as wash:5/300.
func (m Method) Example() string { return m.row().example }

// Units is what may stand behind the stroke of such a count, in words.
func (m Method) Units() string { return m.row().units }

// Steps is how the method is done, in order.
func (m Method) Steps() []Step {
	var out []Step
	for _, s := range stepTable {
		if s.Method == m {
			out = append(out, s)
		}
	}
	return out
}

func readMethods() []methodRow {
	var out []methodRow
	for _, r := range Table(methodsCSV) {
		out = append(out, methodRow{Method(r["method"]), Kind(r["looks_at"]), r["kills"] == "yes", r["title"], strings.Split(r["names"], ";"), r["example"], r["units"], r["source"], r["kind"]})
	}
	return out
}

func readSteps() []Step {
	var out []Step
	for _, r := range Table(stepsCSV) {
		out = append(out, Step{Method(r["method"]), r["step"], r["source"], r["kind"]})
	}
	return out
}

// Nearest is the name closest to s by single-letter edits, "" when none is
// close enough to have been meant.
func Nearest(s string, names []string) string {
	best, bestDistance := "", 1+max(1, len(s)/2)
	for _, n := range names {
		if d := editDistance(s, n); d < bestDistance {
			best, bestDistance = n, d
		}
	}
	return best
}

// editDistance counts insertions, deletions, changes and swaps of neighbours
// (the optimal string alignment distance).
func editDistance(a, b string) int {
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(a)][len(b)]
}
