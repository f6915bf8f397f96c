package sampling

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"

	"halfcup/internal/meant"
	"halfcup/internal/table"
)

// TreatmentName names a treatment by its active ingredient and the way it is
// given, such as oxalic acid by vapour. The zero value means "none said".
type TreatmentName struct {
	Active      string `json:"active"`
	Application string `json:"application"`
}

// String is the name in words, such as "oxalic acid, vapour".
func (n TreatmentName) String() string {
	if n.Application == "" {
		return n.Active
	}
	return n.Active + ", " + n.Application
}

// Treatment is what this program takes a treatment to do. It says nothing of
// doses: those are the label's. All kills are shares of the mites that are in
// the treatment's reach, and wide on purpose.
type Treatment struct {
	TreatmentName
	Slug         string // short name for the command line, such as "oxalic-vapour"
	Called       string // short name in a sentence, such as "oxalic vapour"
	ModeOfAction string // treatments of one group lose their force together

	// KillNoBrood and KillWithBrood are the shares of mites killed when the
	// colony has no capped brood and when it has: of the mites on adult bees,
	// or of all mites of the colony when WholeColony is set.
	KillNoBrood, KillWithBrood Beta

	// KillInCells is the share of mites killed in capped cells, for the
	// treatments that reach them; ActsInBrood says that this one does.
	ActsInBrood bool
	KillInCells Beta

	// WholeColony marks a kill quoted for mites on bees and in cells together,
	// at the end of a treatment that outlasts the capped time.
	WholeColony bool

	Source, Kind string // where the kills come from, and how sure they are

	TreatmentUse
}

// TreatmentUse is how a treatment is commonly given and what may be asked of
// it. None of it is a direction: the label, the law and the vet decide. Where
// each figure comes from is told by TreatmentFigures.
type TreatmentUse struct {
	// Days is how long it usually lies in the hive, 1 when it is given in a
	// day. The label's own days win.
	Days int

	// Rounds and EveryDays, in days, are how a treatment of the mites on adult
	// bees is usually repeated beside capped brood; 1 and 0 when it is not.
	Rounds, EveryDays int

	Warmth Warmth // the usual range of outdoor temperature

	// LabelledWithSupers says that some labels somewhere allow it while honey
	// supers are on. It never says that this one does.
	LabelledWithSupers bool

	// TargetPercent is the efficacy that regulators ask of a treatment of the
	// kind before they let it be sold.
	TargetPercent float64

	// ExpectBrood and ExpectNoBrood are what trials of that way of giving it
	// let one expect of a course, in percent of the mites of the colony, with
	// capped brood and without.
	ExpectBrood, ExpectNoBrood float64
}

// Warmth is a range of outdoor temperature in °C, the zero Warmth when the
// treatment hardly minds it.
type Warmth struct{ Cool, Warm float64 }

// Known reports whether there is a range.
func (w Warmth) Known() bool { return w != Warmth{} }

// Lies is how many days the treatment usually lies in the hive and has to be
// taken out, 0 when nothing is left in it.
func (u TreatmentUse) Lies() int {
	if u.Days > 1 {
		return u.Days
	}
	return 0
}

// ExpectPercent is what to expect of a course, in percent of the mites of the
// colony: cappedBrood tells whether the colony has capped brood.
func (u TreatmentUse) ExpectPercent(cappedBrood bool) float64 {
	if cappedBrood {
		return u.ExpectBrood
	}
	return u.ExpectNoBrood
}

// NeedsNoBrood reports whether one giving reaches nearly all mites only while
// the colony has no capped brood: it kills none in cells and is gone before
// they come out.
func (t Treatment) NeedsNoBrood() bool { return !t.ActsInBrood && !t.WholeColony }

// Synthetic reports whether the mites are known to become resistant to the
// group in the field, so that the group has to be changed and a jar test can
// tell something. Resistance to amitraz, pyrethroids and coumaphos: Rinkevich
// 2020, PLoS ONE 15(1):e0227264. None is confirmed for the organic acids,
// thymol and hop acids.
func (t Treatment) Synthetic() bool {
	switch t.ModeOfAction {
	case "formamidine", "pyrethroid", "organophosphate":
		return true
	}
	return false
}

// Kill is the kill on this occasion: cappedBrood tells whether the colony has
// capped brood.
func (t Treatment) Kill(cappedBrood bool) Beta {
	if cappedBrood {
		return t.KillWithBrood
	}
	return t.KillNoBrood
}

var (
	//go:embed treatments.csv
	treatmentsCSV string

	//go:embed treatmentuse.csv
	treatmentUseCSV string

	treatmentTable = readTreatments()
)

// Treatments lists every treatment the program knows.
func Treatments() []Treatment { return slices.Clone(treatmentTable) }

// FindTreatment finds a treatment by either short name (oxalic-strip, oxalic
// strips) or by its active ingredient and application (oxalic acid, strip). An unknown name is
// a *SyntaxError that suggests the nearest one.
func FindTreatment(s string) (Treatment, error) {
	name := plainName(s)
	var slugs []string
	for _, t := range treatmentTable {
		if name == plainName(t.Slug) || name == plainName(t.Called) || name == plainName(t.TreatmentName.String()) {
			return t, nil
		}
		slugs = append(slugs, t.Slug)
	}
	list := strings.Join(slugs, ", ")
	e := &SyntaxError{Input: s, Length: max(len(s), 1), Problem: fmt.Sprintf("%q is not a treatment", s), Remedy: meant.Remedy(strings.ReplaceAll(name, " ", "-"), slugs, "The treatments are "+list, "write one of "+list)}
	if s == "" {
		e.Problem = "the treatment is missing"
	}
	return Treatment{}, e
}

// Find looks up the treatment of that name. The application may be left out
// where the active ingredient is given in one way only.
func (n TreatmentName) Find() (Treatment, error) {
	var ways []Treatment
	var names []string
	for _, t := range treatmentTable {
		if plainName(t.Active) == plainName(n.Active) {
			ways = append(ways, t)
			names = append(names, t.Application)
		}
	}
	if len(ways) == 1 && n.Application == "" {
		return ways[0], nil
	}
	for _, t := range ways {
		if plainName(t.Application) == plainName(n.Application) {
			return t, nil
		}
	}
	if len(ways) == 0 {
		return FindTreatment(n.String())
	}
	e := &SyntaxError{Input: n.Application, Length: max(len(n.Application), 1), Remedy: "write one of " + strings.Join(names, ", ")}
	e.Problem = fmt.Sprintf("%s is not given as %q", ways[0].Active, n.Application)
	if n.Application == "" {
		e.Problem = fmt.Sprintf("how the %s was given is missing", ways[0].Active)
	}
	return Treatment{}, e
}

// plainName makes spellings that differ only in case, blanks, commas or
// hyphens the same.
func plainName(s string) string {
	words := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return strings.ContainsRune(" ,-/_", r) })
	return strings.Join(words, " ")
}

func readTreatments() []Treatment {
	use := readTreatmentUse()
	var out []Treatment
	for _, r := range table.Read(treatmentsCSV) {
		t := Treatment{
			TreatmentName: TreatmentName{r["active"], r["application"]},
			Slug:          r["slug"], Called: r["called"], ModeOfAction: r["mode_of_action"],
			KillNoBrood: betaIn(r, "kill_no_brood"), KillWithBrood: betaIn(r, "kill_with_brood"),
			ActsInBrood: r["acts_in_brood"] == "yes", WholeColony: r["whole_colony"] == "yes",
			Source: r["source"], Kind: r["kind"],
			TreatmentUse: use[r["slug"]],
		}
		if t.ActsInBrood {
			t.KillInCells = betaIn(r, "kill_in_cells")
		}
		out = append(out, t)
	}
	return out
}

func readTreatmentUse() map[string]TreatmentUse {
	out := map[string]TreatmentUse{}
	for _, r := range table.Read(treatmentUseCSV) {
		u, known := out[r["treatment"]]
		if !known {
			u.Rounds = 1
		}
		switch r["figure"] {
		case "days":
			u.Days = int(r.Number("value"))
		case "rounds":
			u.Rounds = int(r.Number("value"))
		case "every_days":
			u.EveryDays = int(r.Number("value"))
		case "cool":
			u.Warmth.Cool = r.Number("value")
		case "warm":
			u.Warmth.Warm = r.Number("value")
		case "with_supers":
			u.LabelledWithSupers = r["value"] == "label"
		case "target":
			u.TargetPercent = r.Number("value")
		case "expect_brood":
			u.ExpectBrood = r.Number("value")
		case "expect_no_brood":
			u.ExpectNoBrood = r.Number("value")
		default:
			panic("embedded table: figure " + r["figure"])
		}
		out[r["treatment"]] = u
	}
	return out
}

// TreatmentFigures lists how treatments are given and what may be asked of
// them, each figure with its source: of one treatment, by its slug, or of all
// for "".
func TreatmentFigures(slug string) []Source {
	says := map[string]string{
		"days":            "how long it usually lies in the hive",
		"rounds":          "how often it is usually given beside capped brood",
		"every_days":      "between two rounds",
		"cool":            "outdoor temperature below which it is usually not given",
		"warm":            "outdoor temperature above which it is usually not given",
		"with_supers":     "whether some labels allow it while honey supers are on",
		"target":          "efficacy asked of such a treatment before it is sold",
		"expect_brood":    "efficacy to expect of a course beside capped brood",
		"expect_no_brood": "efficacy to expect of a course without capped brood",
	}
	var out []Source
	for _, r := range table.Read(treatmentUseCSV) {
		if slug == "" || slug == r["treatment"] {
			out = append(out, Source{r["figure"] + "_" + r["treatment"], r["value"], r["unit"], r["treatment"] + ": " + says[r["figure"]], r["source"], r["kind"]})
		}
	}
	return out
}
