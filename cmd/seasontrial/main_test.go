package main

import (
	"bytes"
	"flag"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"halfcup/internal/long"
)

// go test ./cmd/seasontrial -update writes the answers of today into the script
// and the README; look at the diff before it is committed.
var update = flag.Bool("update", false, "rewrite expected output")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"seasontrial": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:           "testdata/script",
		UpdateScripts: *update,
		Cmds:          map[string]func(*testscript.TestScript, bool, []string){"rounded": roundedNumbers},
	})
}

// rounded FILE writes the file, its long numbers cut to nine digits, to the
// file called rounded: processors that multiply and add in one step differ in
// the last digits.
func roundedNumbers(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: rounded FILE")
	}
	text := longNumber.ReplaceAllStringFunc(ts.ReadFile(args[0]), func(s string) string {
		v, err := strconv.ParseFloat(s, 64)
		ts.Check(err)
		return strconv.FormatFloat(v, 'g', 9, 64)
	})
	ts.Check(os.WriteFile(ts.MkAbs("rounded"), []byte(text), 0o666))
}

var longNumber = regexp.MustCompile(`-?\d+\.\d{10,}(e[-+]?\d+)?`)

// large plays the large trials of the page too, which takes half an hour.
var large = flag.Bool("large", false, "play the large trials of the page as well")

// The seasons in the page on the trial are what the program plays. The large
// ones are played with -large only: go test ./cmd/seasontrial -run Page -large
// -update -timeout 3h writes them.
func TestPageShowsWhatIsPlayed(t *testing.T) {
	if !*update {
		long.Only(t)
	}
	const page, prompt, end, small = "../../testdata/trial/README.md", "\n$ go run ./cmd/seasontrial ", "\n```\n", "-colonies 20 "
	data, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	parts := strings.Split(string(data), prompt)
	if len(parts) < 2 {
		t.Fatal("the page shows no season")
	}
	for i, part := range parts[1:] {
		line, rest, _ := strings.Cut(part, "\n")
		_, after, _ := strings.Cut(rest, end)
		if !strings.HasPrefix(line, small) && !*large {
			continue
		}
		var stdout, stderr bytes.Buffer
		if code := run(strings.Fields(line), &stdout, &stderr); code != 0 {
			t.Fatalf("exit %d: %s", code, &stderr)
		}
		parts[i+1] = line + "\n" + strings.TrimSuffix(stdout.String(), "\n") + end + after
	}
	switch want := strings.Join(parts, prompt); {
	case want == string(data):
	case *update:
		if err := os.WriteFile(page, []byte(want), 0o666); err != nil {
			t.Fatal(err)
		}
	default:
		t.Errorf("the page does not show these seasons; go test ./cmd/seasontrial -update writes them\n%s", want)
	}
}

// A figure without a source, or with a kind nobody has explained, is a figure
// nobody can check.
func TestEveryFigureHasASource(t *testing.T) {
	var out, stderr bytes.Buffer
	if code := run([]string{"--sources"}, &out, &stderr); code != 0 {
		t.Fatalf("exit %d: %s", code, &stderr)
	}
	rows := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(rows) < 20 {
		t.Fatalf("%d figures", len(rows)-1)
	}
	kind := regexp.MustCompile(`,(published|common practice|computed|second-hand|judgement|memory)$`)
	for _, r := range rows[1:] {
		if !kind.MatchString(r) {
			t.Errorf("no kind of source in %s", r)
		}
	}
}
