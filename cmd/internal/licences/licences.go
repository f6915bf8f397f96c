// Package licences holds the terms under which the code linked into halfcup,
// and into the page for the phone, may be passed on. Most of them ask to go with
// a built program.
package licences

import (
	_ "embed"
	"strings"
)

//go:embed modules.csv
var modules string

//go:embed licences.txt
var text string

// Data is the attribution that the open data ask for wherever they, or what was
// made from them, are passed on.
const Data = `The washes in testdata/open, and the figures in testdata/reference that were worked out from them (washes, yards and efficacy in their names), are from Aurell D, Bruckner S, Steury TD, Williams GR (2025) Treating newly split Apis mellifera honey bee colonies with organic miticides, Journal of Economic Entomology, doi 10.1093/jee/toaf126; data doi 10.5281/zenodo.15733143, licence CC BY 4.0 (https://creativecommons.org/licenses/by/4.0/). Changed: columns chosen, colonies renumbered, yards lettered, treatments named by active ingredient.`

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
