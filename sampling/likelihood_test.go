package sampling

import (
	"slices"
	"testing"
)

// Likelihoods of single counts are kept. Whoever works with one must leave it
// as it was, and other figures must not meet it.
func TestKeptLikelihoodsStayAsTheyWere(t *testing.T) {
	a := DefaultAssumptions()
	before, after := count(t, "roll:18/300@2026-06-01"), count(t, "wash:3/300@2026-06-15")
	first, err := a.Likelihood(before)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Change(a.Prior.Density(), before, after); err != nil {
		t.Fatal(err)
	}
	again, err := a.Likelihood(before)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(first.l, again.l) {
		t.Error("a likelihood that was used is another one afterwards")
	}
	a.FrameCV *= 2
	other, err := a.Likelihood(before)
	if err != nil {
		t.Fatal(err)
	}
	if slices.Equal(first.l, other.l) {
		t.Error("frames that differ more read the same")
	}
}
