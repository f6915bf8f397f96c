package main

import (
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// floors are the packages of the program from the ground up; below them lie
// cmd/internal, which every program here may use, and the libraries. A package uses only what lies on a floor
// below its own, so that no group of commands leans on another and nothing
// refers upward.
var floors = [][]string{
	{"line"},
	{"ask"},
	{"count", "treat", "season", "keep"},
}

// The house stands: see floors.
func TestNothingRefersUpward(t *testing.T) {
	const own = "halfcup/cmd/halfcup/internal/"
	floorOf := map[string]int{}
	for i, names := range floors {
		for _, name := range names {
			floorOf[name] = i
		}
	}
	files, err := filepath.Glob("internal/*/*.go")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, file := range files {
		name := filepath.Base(filepath.Dir(file))
		floor, ok := floorOf[name]
		if !ok {
			t.Errorf("%s: its package has no floor", file)
			continue
		}
		seen[name] = true
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, spec := range f.Imports {
			path, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			if below, ok := strings.CutPrefix(path, own); ok && floorOf[below] >= floor {
				t.Errorf("%s uses %s, which does not lie below it", file, below)
			}
		}
	}
	if len(seen) != len(floorOf) {
		t.Errorf("only %v have files, of %v", seen, floorOf)
	}
}
