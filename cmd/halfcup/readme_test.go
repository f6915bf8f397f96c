package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
)

// documents are those whose commands are run.
var documents = []string{"README.md", "DEVELOPERS.md", "testdata/tour/README.md"}

// Every command the documents show is run and has to print what they show, byte
// for byte. Blocks that are run are fenced as ```console; a line starts with "$
// halfcup" or with "$ go run ./cmd/halfcup". With -update the blocks are
// rewritten instead. The commands of one document are run one after the other in
// a folder of their own, which holds the demo yard and the tables of the tour, so
// that a command may write a record.
func TestDocumentsShowWhatHappens(t *testing.T) {
	top, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range documents {
		data, err := os.ReadFile(filepath.Join(top, name))
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		for _, folder := range []string{"testdata/demo", "testdata/tour"} {
			if err := os.CopyFS(filepath.Join(dir, folder), os.DirFS(filepath.Join(top, folder))); err != nil {
				t.Fatal(err)
			}
		}
		t.Chdir(dir)
		got, ran, err := rerun(string(data))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		t.Logf("%s: %d commands run", name, ran)
		if got == string(data) {
			continue
		}
		if *update {
			if err := os.WriteFile(filepath.Join(top, name), []byte(got), 0o666); err != nil {
				t.Fatal(err)
			}
			continue
		}
		t.Errorf("%s shows something else than the program prints; first difference:\n%s", name, firstDifference(string(data), got))
	}
}

// The Go code of the README is the example of decide, which go test compiles
// and runs.
func TestReadmeShowsTheExample(t *testing.T) {
	_, rest, _ := strings.Cut(readFile(t, "../../README.md"), "```go\n")
	shown, _, found := strings.Cut(rest, "```\n")
	_, rest, _ = strings.Cut(readFile(t, "../../decide/example_test.go"), "func Example() {\n")
	body, _, ended := strings.Cut(rest, "\t// Output:")
	if !found || !ended {
		t.Fatal("the README or decide has no example")
	}
	if want := strings.ReplaceAll("\n"+body, "\n\t", "\n")[1:]; shown != want {
		t.Errorf("the README shows another program; first difference:\n%s", firstDifference(shown, want))
	}
}

var (
	consoleBlock = regexp.MustCompile("(?ms)^```console\n(.*?)^```$")
	commandLine  = regexp.MustCompile(`^\$ (?:halfcup|go run \./cmd/halfcup)( .*)?$`)
)

// rerun is the document with the output of every command as it is now.
func rerun(document string) (out string, ran int, err error) {
	out = consoleBlock.ReplaceAllStringFunc(document, func(block string) string {
		lines := strings.Split(consoleBlock.FindStringSubmatch(block)[1], "\n")
		text := "```console\n"
		inOutput := false
		for _, row := range lines[:len(lines)-1] {
			m := commandLine.FindStringSubmatch(row)
			switch {
			case m == nil && strings.HasPrefix(row, "$ "):
				text, inOutput = text+row+"\n", false // another program: shown, not run
			case m == nil && !inOutput:
				text += row + "\n"
			case m != nil:
				args, e := splitWords(m[1])
				if e != nil {
					err = fmt.Errorf("%s: %w", row, e)
				}
				var stdout, stderr bytes.Buffer
				run(args, strings.NewReader(""), &stdout, &stderr)
				text, inOutput = text+row+"\n"+stdout.String()+stderr.String(), true
				ran++
			}
		}
		return text + "```"
	})
	return out, ran, err
}

// splitWords takes a command line apart as a shell does, with single and
// double quotes and nothing else.
func splitWords(line string) ([]string, error) {
	var words []string
	var word strings.Builder
	var quote rune
	open := false
	for i, r := range line + " " {
		switch {
		case quote == 0 && strings.ContainsRune("|<>&;$`\\*", r):
			return nil, fmt.Errorf("%q needs a shell; show it in a block that is not run", line[i:])
		case quote != 0 && r == quote:
			quote = 0
		case quote != 0:
			word.WriteRune(r)
		case r == '\'' || r == '"':
			quote, open = r, true
		case r == ' ' && open:
			words = append(words, word.String())
			word.Reset()
			open = false
		case r != ' ':
			word.WriteRune(r)
			open = true
		}
	}
	if quote != 0 {
		return nil, fmt.Errorf("a quote is not closed")
	}
	return words, nil
}

func firstDifference(want, got string) string {
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("line %d\n  shown:   %s\n  printed: %s", i+1, a[i], b[i])
		}
	}
	return "one has more lines than the other"
}

func TestRerunFindsADifference(t *testing.T) {
	document := "text\n```console\n$ go version\ngo1\n$ halfcup --version\nhalfcup 9.9.9\n```\n$ halfcup not in a block\n"
	want := strings.Replace(document, "9.9.9", line.Version, 1)
	got, ran, err := rerun(document)
	if err != nil || ran != 1 || got != want {
		t.Errorf("%d run, %v:\n%s", ran, err, got)
	}
	if _, _, err := rerun("```console\n$ halfcup man | less\n```\n"); err == nil {
		t.Error("a pipe was taken for an argument")
	}
	words, err := splitWords(` log add --note 'two words' "" x`)
	if err != nil || len(words) != 6 || words[3] != "two words" || words[4] != "" {
		t.Errorf("%q, %v", words, err)
	}
}

// DEVELOPERS.md says of every module that go.mod names why it is there, and of
// no other.
func TestDependenciesAreExplained(t *testing.T) {
	module, developers := readFile(t, "../../go.mod"), readFile(t, "../../DEVELOPERS.md")
	_, table, _ := strings.Cut(developers, "| module | why |")
	for _, m := range regexp.MustCompile(`(?m)^(?:\t|tool )(\S+)(?: v\S+)?$`).FindAllStringSubmatch(module, -1) {
		name := strings.TrimSuffix(m[1], "/cmd/staticcheck")
		if !regexp.MustCompile(`(?m)^\|.*` + regexp.QuoteMeta(name) + `[ ,]`).MatchString(table) {
			t.Errorf("DEVELOPERS.md does not say why %s is there", name)
		}
	}
	for _, row := range regexp.MustCompile(`(?m)^\| ([^|]+) \|`).FindAllStringSubmatch(table, -1) {
		for _, name := range strings.Split(row[1], ", ") {
			if !strings.Contains(module, name+" v") {
				t.Errorf("DEVELOPERS.md explains %s, which go.mod does not name", name)
			}
		}
	}
}
