package say

import (
	"slices"
	"strings"

	"halfcup/decide"
	"halfcup/sampling"
)

// Cautions are the lines of the one table of what could hurt people, bees or
// honey, for treatments by their slugs and for methods of counting. Whoever
// names one of them prints its cautions.
//
// Of one name they are all there are. Of several, where there is room for one
// line each, they are the first of each with the names it is for; what holds
// for every treatment is said once, at the end.
func Cautions(names ...string) []string {
	names = slices.Compact(slices.Clone(names))
	if len(names) == 1 {
		var out []string
		for _, c := range decide.Cautions(names[0]) {
			out = append(out, c.Text)
		}
		return out
	}
	var texts, general []string
	whose := map[string][]string{}
	for _, name := range names {
		for i, c := range decide.Cautions(name) {
			switch {
			case i == 0:
				if whose[c.Text] == nil {
					texts = append(texts, c.Text)
				}
				if called := calledOf(name); !slices.Contains(whose[c.Text], called) {
					whose[c.Text] = append(whose[c.Text], called)
				}
			case c.Name != name && !slices.Contains(general, c.Text):
				general = append(general, c.Text)
			}
		}
	}
	var out []string
	for _, text := range texts {
		out = append(out, Capital(strings.Join(whose[text], ", "))+": "+text)
	}
	return append(out, general...)
}

// calledOf is what a treatment or a method of counting is called in a sentence.
func calledOf(name string) string {
	if t, err := sampling.FindTreatment(name); err == nil {
		return t.Called
	}
	if m, err := sampling.ParseMethod(name); err == nil {
		return m.Title()
	}
	return name
}
