package licences

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write licences.txt anew")

// linked are the modules that are linked into a program, with the folder of
// each.
func linked(t *testing.T, program string, env ...string) map[string]string {
	t.Helper()
	run := func(args ...string) string {
		c := exec.Command("go", args...)
		c.Env = append(os.Environ(), env...)
		out, err := c.Output()
		if err != nil {
			t.Skipf("go %v: %v", args, err) // a machine without the go command
		}
		return strings.TrimSpace(string(out))
	}
	dirs := map[string]string{"std": run("env", "GOROOT")}
	list := run("list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Dir}}{{end}}{{end}}", program)
	for line := range strings.Lines(list) {
		if path, dir, ok := strings.Cut(strings.TrimSpace(line), "\t"); ok {
			dirs[path] = dir
		}
	}
	return dirs
}

// What is linked and what is listed are the same, and the text holds the terms
// of each as they stand in its own folder. After a change of modules, mend
// modules.csv and run this test with -update.
func TestLicencesAreThoseOfWhatIsLinked(t *testing.T) {
	dirs := linked(t, "halfcup/cmd/halfcup")
	listed := map[string]bool{}
	var list, terms strings.Builder
	list.WriteString("Halfcup is built with these, each under its own terms.\n\n")
	for _, m := range Modules() {
		listed[m.Path] = true
		dir, ok := dirs[m.Path]
		if !ok {
			t.Errorf("%s is listed in modules.csv and not linked: take its row out", m.Path)
			continue
		}
		fmt.Fprintf(&list, "%s: %s", m.Path, m.Licence)
		if m.Note != "" {
			fmt.Fprintf(&list, " (%s)", m.Note)
		}
		list.WriteString("\n")
		for _, name := range m.files {
			b, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Errorf("%s: its terms are not in %s", m.Path, name)
				continue
			}
			fmt.Fprintf(&terms, "\n== %s, %s\n\n%s\n", m.Path, name, strings.TrimSpace(strings.ReplaceAll(string(b), "\r\n", "\n")))
		}
	}
	for path := range dirs {
		if !listed[path] {
			t.Errorf("%s is linked and not listed: add a row with its licence to modules.csv", path)
		}
	}
	want := list.String() + terms.String()
	if *update {
		if err := os.WriteFile("licences.txt", []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if Text() != want {
		t.Error("licences.txt is not what the modules say: run this test with -update")
	}
}

// The licences that ask for more than their text are told with what was chosen.
func TestNotes(t *testing.T) {
	for _, m := range Modules() {
		plain := slices.Contains([]string{"MIT", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0"}, m.Licence)
		if !plain && m.Note == "" {
			t.Errorf("%s is under %s: say in its note what that asks for", m.Path, m.Licence)
		}
		if len(m.files) == 0 {
			t.Errorf("%s has no file with its terms", m.Path)
		}
	}
}

// The page for the phone has the same list: nothing is linked into it that is
// not in the program too.
func TestThePageNeedsNoOther(t *testing.T) {
	program := linked(t, "halfcup/cmd/halfcup")
	page := linked(t, "halfcup/cmd/halfpage/wasm", "GOOS=js", "GOARCH=wasm")
	for path := range page {
		if program[path] == "" {
			t.Errorf("%s is linked into the page alone: its terms go with it nowhere", path)
		}
	}
	if len(page) < 3 {
		t.Errorf("only %v are linked: the test shows nothing", page)
	}
}
