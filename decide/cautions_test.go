package decide

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"halfcup/sampling"
)

// No treatment and no method of counting goes without a caution, for people
// and for bees; each is one line with a source, and none speaks of a dose.
func TestCautions(t *testing.T) {
	kinds := []string{"published", "common practice", "computed", "judgement", "second-hand", "memory"}
	dose := regexp.MustCompile(`\d ?(g|mg|ml|mL|l|drops|%)\b`)
	abouts := []CautionAbout{CautionPeople, CautionQueen, CautionBees, CautionHoney, CautionAfter, CautionDecides}
	for _, c := range cautionTable {
		if c.Text == "" || len([]rune(c.Text)) > 72 || dose.MatchString(c.Text) || c.Source == "" || !slices.Contains(kinds, c.Kind) || !slices.Contains(abouts, c.About) {
			t.Errorf("%d letters: %+v", len([]rune(c.Text)), c)
		}
	}
	has := func(name string, about CautionAbout) bool {
		return slices.ContainsFunc(Cautions(name), func(c Caution) bool { return c.About == about })
	}
	for _, tr := range sampling.Treatments() {
		all := Cautions(tr.Slug)
		if all[0].About != CautionPeople || all[0].Name != tr.Slug {
			t.Errorf("%s begins with %+v", tr.Slug, all[0])
		}
		for _, about := range []CautionAbout{CautionPeople, CautionBees, CautionHoney, CautionDecides} {
			if !has(tr.Slug, about) {
				t.Errorf("%s: nothing about %s", tr.Slug, about)
			}
		}
		if tr.Lies() > 0 && tr.WholeColony && tr.Slug != "thymol" && !strings.Contains(all[0].Text, "Take every one out on the day") {
			t.Errorf("%s: %q", tr.Slug, all[0].Text)
		}
	}
	for _, m := range sampling.Methods() {
		if !has(string(m), CautionBees) || len(Cautions(string(m))) < 2 {
			t.Errorf("%s: %+v", m, Cautions(string(m)))
		}
	}
	for _, name := range []string{"combs", "phone", "stings", "signs", "queen-caged", "drone-brood"} {
		if len(Cautions(name)) == 0 {
			t.Errorf("%s has none", name)
		}
	}
	if Cautions("sugar") != nil {
		t.Error("cautions of nothing")
	}
}

// The words that must not be lost, where a person stands with a smoker on the
// next hive.
func TestCautionsThatSaveSomebody(t *testing.T) {
	for name, want := range map[string][]string{
		"wash":               {"Soapy water does not burn", "smoker", "children", "queen first", "drink bottle"},
		"roll":               {"queen first", "shade"},
		"co2":                {"closed car", "not harmless", "queen"},
		"oxalic-vapour":      {"Mask for acid gas and dust", "goggles", "wind at your back", "before the phone"},
		"oxalic-trickle":     {"never twice", "goggles"},
		"formic-evaporation": {"lungs", "water at hand", "Not in heat", "queens"},
		"amitraz-strip":      {"Take every one out", "inspector"},
		"combs":              {"healthy hives only", "inspector"},
	} {
		var all string
		for _, c := range Cautions(name) {
			all += c.Text + "\n"
		}
		for _, w := range want {
			if !strings.Contains(strings.ToLower(all), strings.ToLower(w)) {
				t.Errorf("%s does not say %q:\n%s", name, w, all)
			}
		}
	}
	if first := Cautions("wash")[0].Text; !strings.HasPrefix(first, "Soapy water") {
		t.Errorf("a wash begins with %q", first)
	}
}
