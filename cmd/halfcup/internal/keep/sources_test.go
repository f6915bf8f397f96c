package keep

import (
	"slices"
	"testing"
)

// A figure without a source, or with a kind nobody has explained, is a figure
// nobody can check.
func TestEveryFigureHasASource(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range allSources() {
		if f.Name == "" || f.What == "" || f.Source == "" {
			t.Errorf("%+v lacks its name, its meaning or its source", f)
		}
		if !slices.Contains(sourceKinds, f.Kind) {
			t.Errorf("%s is of kind %q, which the help of sources does not explain", f.Name, f.Kind)
		}
		if seen[f.Name] {
			t.Errorf("%s is listed twice", f.Name)
		}
		seen[f.Name] = true
	}
	if len(seen) == 0 {
		t.Fatal("there are no figures")
	}
}
