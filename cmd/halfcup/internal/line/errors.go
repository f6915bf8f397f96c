package line

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"unicode/utf8"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// Within moves an error found in a part of s to its place in s.
func Within(s string, offset int, err error) error {
	e, ok := err.(*sampling.SyntaxError)
	if !ok {
		return err
	}
	moved := *e
	moved.Input, moved.Offset = s, e.Offset+offset
	return &moved
}

// maxProblems is how many problems of one file are shown in full.
const maxProblems = 20

// printError writes err to w for a person to act on, and returns the exit
// code it calls for.
func printError(w io.Writer, err error) int {
	problems := flatten(err)
	code := ExitDone
	for i, e := range problems {
		p, c := problemOf(e)
		code = max(code, c)
		if i < maxProblems {
			fmt.Fprint(w, p.LayoutOn(w, "halfcup: error: "))
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
	var unwritten *outputError
	var record *fieldlog.FileError
	var colony *fieldlog.ColonyError
	var column *fieldlog.ColumnError
	switch {
	case errors.As(err, &problem) && problem.File != "":
		return *problem, ExitBadData
	case errors.As(err, &problem):
		return *problem, ExitUsage
	case errors.As(err, &syntax):
		return show.Problem{Text: syntax.Input, Offset: syntax.Offset, Length: syntax.Length, What: syntax.Problem, Remedy: syntax.Remedy}, ExitUsage
	case errors.As(err, &value):
		return show.Problem{What: value.Name + ": " + value.Problem, Remedy: value.Remedy}, ExitUsage
	case errors.Is(err, sampling.ErrNoOverlap):
		return show.Problem{What: err.Error(), Remedy: "check the counts and their days: what was found on one is as good as impossible by the rest"}, ExitUsage
	case errors.As(err, &unwritten):
		what, remedy := inWords(unwritten.err)
		if unwritten.done != "" {
			return show.Problem{What: unwritten.done + ", but the answer could not be written: " + what, Remedy: "do not write it again; " + remedy}, ExitFailed
		}
		return show.Problem{What: "the answer could not be written: " + what, Remedy: remedy}, ExitFailed
	case errors.As(err, &record):
		return show.Problem{What: fmt.Sprintf("cannot %s %s: %s", record.Op, record.Path, record.Problem), Remedy: record.Remedy}, ExitFailed
	case errors.As(err, &colony):
		return show.Problem{What: colony.Problem(), Remedy: colony.Remedy}, ExitUsage
	case errors.As(err, &column):
		return show.Problem{File: column.Path, Line: 1, What: column.Problem(), Remedy: column.Remedy()}, ExitBadData
	case errors.As(err, &path):
		what, remedy := inWords(path)
		return show.Problem{What: fmt.Sprintf("cannot %s %s: %s", path.Op, path.Path, what), Remedy: remedy}, ExitFailed
	}
	return show.Problem{What: err.Error()}, ExitFailed
}

// inWords is what the system said of a file, and what to do about it.
func inWords(err error) (what, remedy string) {
	folder := ""
	var path *fs.PathError
	if errors.As(err, &path) {
		err, folder = path.Err, filepath.Dir(path.Path)
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if _, missing := os.Stat(folder); missing != nil {
			return "its folder is not there", "make the folder, or name another place"
		}
		return "there is no such file", "check the name and the folder"
	case errors.Is(err, syscall.EISDIR):
		return "it is a folder", "name a file in it"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "that is not allowed", "allow it, or name another file"
	case errors.Is(err, syscall.ENOSPC):
		return "the disk is full", "make room, or write to another place"
	case errors.Is(err, syscall.EPIPE):
		return "whatever reads it has stopped", "let it read to the end, or write into a file"
	}
	return err.Error(), "check the file and the disk it is on"
}

// outputError says that the answer could not be written to stdout.
type outputError struct {
	err  error
	done string // what was done all the same
}

func (e *outputError) Error() string { return "the answer could not be written: " + e.err.Error() }

func (e *outputError) Unwrap() error { return e.err }

// WriteError says that the answer could not be written, and why.
func WriteError(err error) error { return &outputError{err: err} }

// TooFew says that the command was not told everything it needs. The remedy
// is an example of a whole line.
func TooFew(what, example string) error {
	return &show.Problem{What: what, Remedy: "write it like this: " + example}
}

const bugReport = "This is a fault of the program, not of what you typed. " +
	"Nothing you keep was changed by it.\nPlease report it with everything from here down.\n\nversion %s\n%s\n\n%s"

// reportBug tells of a fault that is ours.
func reportBug(w io.Writer, args []string, cause any, stack []byte) {
	line := strings.Join(append([]string{"halfcup"}, args...), " ")
	if !utf8.ValidString(line) {
		line = fmt.Sprintf("%q", line)
	}
	fmt.Fprintf(w, "halfcup: bug: %v\n", cause)
	fmt.Fprintf(w, bugReport, Version, line, stack)
}
