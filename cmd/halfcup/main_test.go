package main

import (
	"flag"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// go test ./cmd/halfcup -update writes the answers of today into the scripts
// and the README; look at the diff before it is committed.
var update = flag.Bool("update", false, "rewrite expected output")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"halfcup": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:           "testdata/script",
		UpdateScripts: *update,
	})
}
