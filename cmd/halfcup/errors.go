package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"unicode/utf8"

	"halfcup/cmd/halfcup/internal/fieldlog"
	"halfcup/cmd/halfcup/internal/show"
	"halfcup/sampling"
)

// maxProblems is how many problems of one file are shown in full.
const maxProblems = 20

// printError writes err to w for a person to act on, and returns the exit
// code it calls for.
func printError(w io.Writer, err error) int {
	problems := flatten(err)
	code := exitDone
	for i, e := range problems {
		p, c := problemOf(e)
		code = max(code, c)
		if i < maxProblems {
			fmt.Fprint(w, p.Layout("halfcup: error: "))
		}
	}
	if more := len(problems) - maxProblems; more > 0 {
		fmt.Fprintf(w, "halfcup: error: %d more like these\n", more)
	}
	return code
}

// flatten takes joined errors apart.
func flatten(err error) []error {
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var out []error
		for _, e := range many.Unwrap() {
			out = append(out, flatten(e)...)
		}
		return out
	}
	return []error{err}
}

// problemOf turns any error into what is shown of it, with its exit code.
func problemOf(err error) (show.Problem, int) {
	var problem *show.Problem
	var syntax *sampling.SyntaxError
	var value *sampling.ValueError
	var path *fs.PathError
	var record *fieldlog.FileError
	var colony *fieldlog.ColonyError
	var column *fieldlog.ColumnError
	switch {
	case errors.As(err, &problem) && problem.File != "":
		return *problem, exitBadData
	case errors.As(err, &problem):
		return *problem, exitUsage
	case errors.As(err, &syntax):
		return show.Problem{Text: syntax.Input, Offset: syntax.Offset, Length: syntax.Length, What: syntax.Problem, Remedy: syntax.Remedy}, exitUsage
	case errors.As(err, &value):
		return show.Problem{What: value.Name + ": " + value.Problem, Remedy: value.Remedy}, exitUsage
	case errors.Is(err, sampling.ErrNoOverlap):
		return show.Problem{What: err.Error()}, exitUsage
	case errors.As(err, &record):
		return show.Problem{What: fmt.Sprintf("cannot %s %s: %s", record.Op, record.Path, record.Problem), Remedy: record.Remedy}, exitFailed
	case errors.As(err, &colony):
		return show.Problem{What: colony.Problem(), Remedy: colony.Remedy}, exitUsage
	case errors.As(err, &column):
		return show.Problem{File: column.Path, Line: 1, What: column.Problem(), Remedy: column.Remedy()}, exitBadData
	case errors.As(err, &path):
		return show.Problem{What: fmt.Sprintf("cannot %s %s: %v", path.Op, path.Path, path.Err), Remedy: "check the name, the folder and who may read or write it"}, exitFailed
	}
	return show.Problem{What: err.Error()}, exitFailed
}

// writeError says that the answer could not be written to stdout.
func writeError(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return fmt.Errorf("the answer could not be written: %w", err)
}

// tooFew says that the command was not told everything it needs. The remedy
// is an example of a whole line.
func tooFew(what, example string) error {
	return &show.Problem{What: what, Remedy: "write it like this: " + example}
}

// reportBug tells of a fault that is ours.
func reportBug(w io.Writer, args []string, cause any, stack []byte) {
	line := strings.Join(append([]string{"halfcup"}, args...), " ")
	if !utf8.ValidString(line) {
		line = fmt.Sprintf("%q", line)
	}
	fmt.Fprintf(w, "halfcup: bug: %v\n", cause)
	fmt.Fprintf(w, "This is a fault of the program, not of what you typed. Nothing you keep was changed by it.\nPlease report it with everything from here down.\n\nversion %s\n%s\n\n%s", version, line, stack)
}
