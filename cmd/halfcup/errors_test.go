package main

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"halfcup/cmd/halfcup/internal/line"
)

// Every message has a file in testdata/errors: the command that makes it and
// the exit code on the first two lines (", with an answer" behind it when stdout
// holds one), files it needs, and what is printed. testdata/errors/README.md
// lists them all.
func TestErrors(t *testing.T) {
	for _, e := range errorFiles(t) {
		t.Run(e.name, func(t *testing.T) {
			args, err := splitWords(strings.TrimPrefix(e.command, "$ halfcup"))
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join("testdata", "errors", e.name+".txtar")
			if path, err = filepath.Abs(path); err != nil {
				t.Fatal(err)
			}
			t.Chdir(t.TempDir())
			for _, f := range e.archive.Files {
				if f.Name == "stderr" {
					continue
				}
				if err := os.MkdirAll(filepath.Dir(f.Name), 0o777); err != nil {
					t.Fatal(err)
				}
				writeFile(t, f.Name, string(f.Data))
			}
			var stdout, stderr bytes.Buffer
			if code := run(args, strings.NewReader(""), &stdout, &stderr); code != e.code {
				t.Errorf("exit %d, want %d", code, e.code)
			}
			if (stdout.Len() > 0) != e.answered {
				t.Errorf("an answer: %v, and on stdout: %q", e.answered, stdout.String())
			}
			want := &e.archive.Files[len(e.archive.Files)-1].Data
			switch {
			case stderr.String() == string(*want):
			case *update:
				*want = stderr.Bytes()
				if err := os.WriteFile(path, txtar.Format(e.archive), 0o666); err != nil {
					t.Fatal(err)
				}
			default:
				t.Errorf("printed:\n%s\nwant:\n%s", stderr.String(), *want)
			}
			// A message says what is wrong and how to mend it, and never more
			// than a screen of it.
			if !regexp.MustCompile(`(?m)^halfcup: (error|left out): .+`).Match(stderr.Bytes()) || !regexp.MustCompile(`(?m)^fix: .+`).Match(stderr.Bytes()) {
				t.Errorf("it lacks the cause or the mend:\n%s", stderr.String())
			}
		})
	}
}

type errorFile struct {
	name, command string
	code          int
	answered      bool           // all the same: "exit 3, with an answer"
	archive       *txtar.Archive // its last file is stderr
}

func errorFiles(t *testing.T) []errorFile {
	paths, err := filepath.Glob("testdata/errors/*.txtar")
	if err != nil || len(paths) == 0 {
		t.Fatal("no files of errors", err)
	}
	var out []errorFile
	for _, p := range paths {
		a, err := txtar.ParseFile(p)
		if err != nil {
			t.Fatal(err)
		}
		head := strings.Split(string(a.Comment), "\n")
		if len(head) < 2 || !strings.HasPrefix(head[0], "$ halfcup") || !strings.HasPrefix(head[1], "exit ") || len(a.Files) == 0 || a.Files[len(a.Files)-1].Name != "stderr" {
			t.Fatalf("%s: want a line with the command, one with the exit code, files, and stderr last", p)
		}
		exit, answered := strings.CutSuffix(strings.TrimPrefix(head[1], "exit "), ", with an answer")
		code, err := strconv.Atoi(exit)
		if err != nil {
			t.Fatalf("%s: %v", p, err)
		}
		out = append(out, errorFile{strings.TrimSuffix(filepath.Base(p), ".txtar"), head[0], code, answered, a})
	}
	return out
}

// The README of the folder lists every file of errors, with what it shows.
func TestErrorsAreListed(t *testing.T) {
	const path, from = "testdata/errors/README.md", "| message | exit | made by |\n|---|---|---|\n"
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, _, found := strings.Cut(string(data), from)
	if !found {
		t.Fatal("the table of messages is missing")
	}
	var table strings.Builder
	for _, e := range errorFiles(t) {
		message, _, _ := strings.Cut(string(e.archive.Files[len(e.archive.Files)-1].Data), "\n")
		message = strings.ReplaceAll(strings.TrimPrefix(strings.TrimPrefix(message, "halfcup: error: "), "halfcup: left out: "), "|", `\|`)
		fmt.Fprintf(&table, "| [%s](%s.txtar) | %d | `%s` |\n", message, e.name, e.code, strings.ReplaceAll(strings.TrimPrefix(e.command, "$ "), "|", `\|`))
	}
	want := before + from + table.String()
	switch {
	case want == string(data):
	case *update:
		if err := os.WriteFile(path, []byte(want), 0o666); err != nil {
			t.Fatal(err)
		}
	default:
		t.Error("the table of messages is not up to date: go test ./cmd/halfcup -update writes it")
	}
}

// Of two faults on one line it is always the same one that is told.
func TestTheSameErrorEveryTime(t *testing.T) {
	for command, first := range map[string]string{
		"choose roll:7/300 --watch x --act y": "--watch x",
		"tally --low x --high y":              "--low x",
		"calendar --watch x --act y":          "--watch x",
	} {
		for range 20 { // the order of a map would show in one of them
			var stderr bytes.Buffer
			run(strings.Fields(command), nil, io.Discard, &stderr)
			if !strings.Contains(stderr.String(), "\n  "+first+"\n") {
				t.Fatalf("%s: %s", command, &stderr)
			}
		}
	}
}

// What stdout itself answers is told like any other fault.
func TestAnswersThatCannotBeWritten(t *testing.T) {
	for err, want := range map[error]string{
		syscall.ENOSPC: "halfcup: error: the answer could not be written: the disk is full\nfix: make room, or write to another place\n",
		syscall.EPIPE:  "halfcup: error: the answer could not be written: whatever reads it has stopped\nfix: let it read to the end, or write into a file\n",
	} {
		for _, typed := range []string{"estimate wash:5/300", "man", "batch - --method wash --date 2026-06-20", "--help", "--version"} {
			var stderr bytes.Buffer
			code := run(strings.Fields(typed), strings.NewReader("mites,bees\n5,300\n"), failingWriter{&fs.PathError{Op: "write", Path: "/dev/stdout", Err: err}}, &stderr)
			if code != line.ExitFailed || stderr.String() != want {
				t.Errorf("%s: exit %d\n%swant:\n%s", typed, code, &stderr, want)
			}
		}
	}
}

type failingWriter struct{ err error }

func (w failingWriter) Write([]byte) (int, error) { return 0, w.err }
