package decide

import (
	_ "embed"

	"halfcup/internal/table"
	"halfcup/sampling"
)

// CautionAbout is what a caution is about.
type CautionAbout string

// What cautions are about, in the order in which they are given.
const (
	CautionPeople  CautionAbout = "people"
	CautionQueen   CautionAbout = "queen"
	CautionBees    CautionAbout = "bees"
	CautionHoney   CautionAbout = "honey" // and supers
	CautionAfter   CautionAbout = "after" // what to do with what is left
	CautionDecides CautionAbout = "decides"
)

// Caution is one line of what could hurt somebody, bees or honey.
type Caution struct {
	Name         string // slug of a treatment, method of counting, or one of combs, phone, stings, signs, queen-caged, drone-brood
	About        CautionAbout
	Text         string // one line, at most 72 letters
	Source, Kind string
}

//go:embed cautions.csv
var cautionsCSV string

var cautionTable = readCautions()

func readCautions() []Caution {
	var out []Caution
	for _, r := range table.Read(cautionsCSV) {
		out = append(out, Caution{r["name"], CautionAbout(r["about"]), r["text"], r["source"], r["kind"]})
	}
	return out
}

// anyTreatment is the name of what holds for all of them.
const anyTreatment = "treatment"

// Cautions are those of a treatment, by its slug, with those of every
// treatment after its own; those of a method of counting; or those of combs,
// phone, stings, signs, queen-caged or drone-brood. The first is the one to
// print where there is room for one only. Any other name has none.
func Cautions(name string) []Caution {
	var out []Caution
	for _, about := range []CautionAbout{CautionPeople, CautionQueen, CautionBees, CautionHoney, CautionAfter, CautionDecides} {
		out = append(out, cautionsOf(name, about)...)
	}
	if _, err := sampling.FindTreatment(name); err != nil {
		return out
	}
	for _, about := range []CautionAbout{CautionPeople, CautionHoney, CautionDecides} {
		out = append(out, cautionsOf(anyTreatment, about)...)
	}
	return out
}

func cautionsOf(name string, about CautionAbout) []Caution {
	var out []Caution
	for _, c := range cautionTable {
		if c.Name == name && c.About == about {
			out = append(out, c)
		}
	}
	return out
}
