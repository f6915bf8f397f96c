package sampling

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
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

	Days int // how long a treatment of the whole colony takes to do its work, else how long it is given

	// TargetPercent is the efficacy asked of such a treatment: 90 of organic
	// acids, thymol and hop acids, 95 of synthetic ones (European Medicines
	// Agency 2008, EMA/CVMP/EWP/459883, as quoted in Dietemann et al. 2013,
	// J Apic Res 52(1)).
	TargetPercent float64

	Source, Kind string // where the kills come from, and how sure they are
}

// Kill is the kill on this occasion: cappedBrood tells whether the colony has
// capped brood.
func (t Treatment) Kill(cappedBrood bool) Beta {
	if cappedBrood {
		return t.KillWithBrood
	}
	return t.KillNoBrood
}

//go:embed treatments.csv
var treatmentsCSV string

var treatmentTable = readTreatments()

// Treatments lists every treatment the program knows.
func Treatments() []Treatment { return slices.Clone(treatmentTable) }

// FindTreatment finds a treatment by its short name (oxalic-vapour) or by its
// active ingredient and application (oxalic acid, vapour). An unknown name is
// a *SyntaxError that suggests the nearest one.
func FindTreatment(s string) (Treatment, error) {
	name := plainName(s)
	var slugs []string
	for _, t := range treatmentTable {
		if name == plainName(t.Slug) || name == plainName(t.TreatmentName.String()) {
			return t, nil
		}
		slugs = append(slugs, t.Slug)
	}
	e := &SyntaxError{Input: s, Length: max(len(s), 1), Problem: fmt.Sprintf("%q is not a treatment", s), Remedy: "write one of " + strings.Join(slugs, ", ")}
	if s == "" {
		e.Problem = "the treatment is missing"
	}
	if near := Nearest(strings.ReplaceAll(name, " ", "-"), slugs); near != "" {
		e.Remedy = fmt.Sprintf("did you mean %s? The treatments are %s", near, strings.Join(slugs, ", "))
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
	var out []Treatment
	for _, r := range Table(treatmentsCSV) {
		t := Treatment{
			TreatmentName: TreatmentName{r["active"], r["application"]},
			Slug:          r["slug"], ModeOfAction: r["mode_of_action"],
			KillNoBrood: r.beta("kill_no_brood"), KillWithBrood: r.beta("kill_with_brood"),
			ActsInBrood: r["acts_in_brood"] == "yes", WholeColony: r["whole_colony"] == "yes",
			Days: int(r.Number("days")), TargetPercent: r.Number("target_percent"),
			Source: r["source"], Kind: r["kind"],
		}
		if t.ActsInBrood {
			t.KillInCells = r.beta("kill_in_cells")
		}
		out = append(out, t)
	}
	return out
}
