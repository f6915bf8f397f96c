package say

import (
	"slices"
	"strings"
	"testing"

	"halfcup/decide"
	"halfcup/sampling"
)

// One name has all its lines; among several none loses its first, and lines
// that are alike are said once.
func TestCautions(t *testing.T) {
	var slugs []string
	for _, tr := range sampling.Treatments() {
		slugs = append(slugs, tr.Slug)
		if got, want := Cautions(tr.Slug), decide.Cautions(tr.Slug); len(got) != len(want) || got[0] != want[0].Text {
			t.Errorf("%s: %q", tr.Slug, got)
		}
		if !slices.Equal(Cautions(tr.Slug), Cautions(tr.Slug, tr.Slug)) {
			t.Errorf("%s named twice is not %s named once", tr.Slug, tr.Slug)
		}
	}
	all := Cautions(append(slugs, "wash", "combs")...)
	for _, name := range append(slugs, "wash", "combs") {
		first := decide.Cautions(name)[0].Text
		if n := strings.Count(strings.Join(all, "\n"), first); n != 1 {
			t.Errorf("%s: %q is said %d times", name, first, n)
		}
	}
	for _, want := range []string{
		"Oxalic strips, amitraz strips, fluvalinate, flumethrin, coumaphos: Gloves. Write the date on the hive. Take every one out on the day.",
		"Alcohol wash: Soapy water does not burn; alcohol does: smoker, children away, lid on.",
	} {
		if !slices.Contains(all, want) {
			t.Errorf("no line is %q:\n%s", want, strings.Join(all, "\n"))
		}
	}
	if last := all[len(all)-1]; !strings.Contains(last, "inspector decide") {
		t.Errorf("it ends with %q", last)
	}
	if Cautions() != nil || Cautions("sugar") != nil {
		t.Error("cautions of nothing")
	}
}
