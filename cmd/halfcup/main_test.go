package main

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"halfcup/internal/long"
)

// go test ./cmd/halfcup -update writes the answers of today into the scripts
// and the README; look at the diff before it is committed.
var update = flag.Bool("update", false, "rewrite expected output")

func TestMain(m *testing.M) {
	long.Draws(8)
	testscript.Main(m, map[string]func(){"halfcup": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:           "testdata/script",
		UpdateScripts: *update,
		Setup: func(env *testscript.Env) error {
			demo, err := filepath.Abs("../../testdata/demo/mill.csv")
			env.Setenv("DEMO", demo)
			return err
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"chomp": chomp, "rounded": roundedNumbers},
	})
}

// chomp FILE takes the last line end off a file, which the scripts themselves
// cannot hold.
func chomp(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: chomp FILE")
	}
	text := strings.TrimSuffix(ts.ReadFile(args[0]), "\n")
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o666))
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
