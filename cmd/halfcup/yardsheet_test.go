package main

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
)

// The page holds every colony and asks nothing of the network, and a name
// cannot smuggle markup into it. That it fits on paper is for
// testdata/page/check.sh, which needs a browser.
func TestSheet(t *testing.T) {
	demo, err := os.ReadFile("../../testdata/demo/mill.csv")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	record := strings.ReplaceAll(string(demo), ",hazel,", ",<b>hazel,")
	writeFile(t, "mill.csv", record)
	var stdout, stderr bytes.Buffer
	if code := run([]string{"yard", "--log", "mill.csv", "--date", "2026-07-05", "--html", "sheet.html"}, nil, &stdout, &stderr); code != line.ExitDone {
		t.Fatalf("exit %d: %s", code, &stderr)
	}
	data, err := os.ReadFile("sheet.html")
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	for _, name := range []string{"alder", "ash", "beech", "birch", "elm", "&lt;b&gt;hazel", "hornbeam", "larch", "lime", "maple", "oak", "rowan", "spruce", "willow"} {
		if !strings.Contains(page, `<td class="name">`+name+`</td>`) {
			t.Errorf("%s has no line", name)
		}
	}
	if strings.Contains(page, "<b>") {
		t.Error("a name became markup")
	}
	if outside := regexp.MustCompile(`(?:src|href)\s*=|url\(|@import`).FindString(page); outside != "" {
		t.Errorf("the page reaches out: %s", outside)
	}
	if n := strings.Count(page, "<svg"); n != 14 {
		t.Errorf("%d pictures, want one a colony", n)
	}
	if n := strings.Count(page, `class="box"`); n != 3 {
		t.Errorf("%d boxes, want one for each of the 3 looks that are due", n)
	}
}
