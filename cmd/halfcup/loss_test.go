package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
)

// What a colony's level costs is told wherever the level is, in estimate, its
// --explain, the yard and the sheet, from the beekeeper's own loss without mites
// where the settings have one.
func TestLossWithoutIsHeardEverywhere(t *testing.T) {
	t.Chdir(t.TempDir())
	writeFile(t, "yard.csv", "date,yard,colony,event,method,mites,amount\n2026-09-03,mill,oak,count,wash,12,300 bees\n2026-09-03,mill,elm,count,wash,1,300 bees\n")
	said := func(args ...string) string {
		t.Helper()
		var stdout, stderr bytes.Buffer
		if code := run(append(args, "--log", "yard.csv", "--today", "2026-09-03"), strings.NewReader(""), &stdout, &stderr); code != 0 {
			t.Fatalf("%v: exit %d: %s", args, code, &stderr)
		}
		if i := len(args) - 1; filepath.Ext(args[i]) == ".html" {
			return strings.Join(strings.Fields(readFile(t, args[i])), " ")
		}
		return strings.Join(strings.Fields(stdout.String()), " ")
	}
	for _, settings := range []struct{ text, want string }{
		{"", "of those with next to no mites 5 (yards"},
		{"loss_without = 0.15\n", "of those with next to no mites 15 (yards"},
	} {
		writeFile(t, "halfcup.toml", settings.text)
		for _, args := range [][]string{{"estimate", "--colony", "oak"}, {"estimate", "--colony", "oak", "--explain"}, {"yard"}, {"yard", "--html", "sheet.html"}} {
			if out := said(args...); !strings.Contains(out, settings.want) {
				t.Errorf("%v with %q does not say %q:\n%s", args, settings.text, settings.want, out)
			}
		}
		// A colony under its lines needs no such sentence.
		if out := said("estimate", "--colony", "elm"); strings.Contains(out, "next to no mites") {
			t.Errorf("elm: %s", out)
		}
	}
}
