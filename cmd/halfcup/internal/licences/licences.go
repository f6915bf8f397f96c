// Package licences holds the terms under which the code linked into halfcup may
// be passed on. Most of them ask that they go with a built program.
package licences

import (
	_ "embed"
	"strings"
)

//go:embed modules.csv
var modules string

//go:embed licences.txt
var text string

// Module is one module that is linked into the program.
type Module struct {
	Path    string `json:"module"`
	Licence string `json:"licence"` // SPDX identifier
	Note    string `json:"note"`    // what its terms ask for beyond their text, or which of two was chosen; "" for none

	files []string // where its terms stand, in its own folder
}

// Modules lists the modules in order of their paths, Go itself first.
func Modules() []Module {
	var out []Module
	for line := range strings.Lines(modules) {
		cells := strings.Split(strings.TrimSpace(line), ";")
		if len(cells) == 4 && cells[0] != "module" {
			out = append(out, Module{cells[0], cells[1], cells[3], strings.Fields(cells[2])})
		}
	}
	return out
}

// Text is a list of the modules and then the terms of each in full, to go with
// a built program.
func Text() string { return text }
