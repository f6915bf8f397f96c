package line

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"halfcup/cmd/internal/figures"
)

// Every key of the settings has its row in the table, and the other way round.
func TestSettingsAreInTheTable(t *testing.T) {
	keys := Keys()
	for _, key := range keys {
		if _, ok := figures.OfSetting(key); !ok {
			t.Errorf("the table of figures lacks the setting %s", key)
		}
	}
	for _, f := range figures.All() {
		if f.Setting != "" && !slices.Contains(keys, f.Setting) {
			t.Errorf("the settings lack %s", f.Setting)
		}
	}
}

// Every flag that is read as a number has its row: a lack of it is found only
// when somebody types the flag.
func TestNumbersAreInTheTable(t *testing.T) {
	files, err := filepath.Glob("../*/*.go")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	read := regexp.MustCompile(`line\.(?:Number|Wholes?)\(c, "([^"]+)"`)
	found := 0
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range read.FindAllStringSubmatch(string(data), -1) {
			found++
			if !slices.ContainsFunc(figures.All(), func(f figures.Figure) bool { return f.Name == m[1] }) {
				t.Errorf("%s reads --%s, which the table of figures lacks", name, m[1])
			}
		}
	}
	if found < 10 {
		t.Errorf("only %d were found: are they read in another way now?", found)
	}
}
