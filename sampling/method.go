package sampling

import (
	_ "embed"
	"fmt"
	"strings"

	"halfcup/internal/meant"
	"halfcup/internal/table"
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
	problem := fmt.Sprintf("%q is not a method", s)
	remedy := meant.Remedy(strings.ToLower(s), names, "The methods are "+list, "write one of "+list)
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
	for _, r := range table.Read(methodsCSV) {
		out = append(out, methodRow{Method(r["method"]), Kind(r["looks_at"]), r["kills"] == "yes", r["title"], strings.Split(r["names"], ";"), r["example"], r["units"], r["source"], r["kind"]})
	}
	return out
}

func readSteps() []Step {
	var out []Step
	for _, r := range table.Read(stepsCSV) {
		out = append(out, Step{Method(r["method"]), r["step"], r["source"], r["kind"]})
	}
	return out
}
