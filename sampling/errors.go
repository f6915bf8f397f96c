package sampling

import "fmt"

// SyntaxError says what is wrong in a piece of text a person typed, where, and
// how to mend it. Input[Offset:Offset+Length] is the part at fault, in bytes.
type SyntaxError struct {
	Input          string
	Offset, Length int
	Problem        string // what is wrong, a clause without a full stop
	Remedy         string // what to write instead
}

func (e *SyntaxError) Error() string { return fmt.Sprintf("%s: %s", e.Problem, e.Remedy) }

// within moves an error found in a part of a longer text to its place there.
func (e *SyntaxError) within(whole string, offset int) *SyntaxError {
	moved := *e
	moved.Input, moved.Offset = whole, e.Offset+offset
	return &moved
}

// ValueError says that a figure given to the library cannot be used.
type ValueError struct {
	Name    string // what the figure is, such as "recovery of roll"
	Problem string
	Remedy  string
}

func (e *ValueError) Error() string { return fmt.Sprintf("%s: %s: %s", e.Name, e.Problem, e.Remedy) }

func badValue(name, problem, remedy string) *ValueError {
	return &ValueError{Name: name, Problem: problem, Remedy: remedy}
}
