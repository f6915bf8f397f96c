package show

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// No cell that is written is one that a spreadsheet runs, and each comes back
// as it was. Naive: one that begins with an apostrophe by itself does not.
func TestInertComesBack(t *testing.T) {
	for cell, want := range map[string]string{
		"=1+1": "'=1+1", "'=1+1": "''=1+1", "@x": "'@x", "+1 mite": "'+1 mite", "-cmd|x": "'-cmd|x", "\tx": "'\tx", "\rx": "'\rx",
		"-4": "-4", "+0.5": "+0.5", "--": "--", "=": "=", "": "", "'": "'", "'ash": "'ash", "ash": "ash", "- 3": "'- 3",
	} {
		if got := Inert(cell); got != want {
			t.Errorf("%q is written %q, want %q", cell, got, want)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		cell := strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"'", "=", "+", "-", "@", "\t", "\r", "1", "a", " ", "é"}), 0, 6).Draw(r, "cell"), "")
		if got := Inert(cell); Runs(got) || FromInert(got) != cell {
			r.Fatalf("%q is written %q and read %q", cell, got, FromInert(got))
		}
	})
}

// Marks stand in a record as they are, and written out in every other table.
func TestTablesAreMarked(t *testing.T) {
	for record, want := range map[bool]string{false: "name\n'=al\\u202eder\n", true: "name\n'=al\u202eder\n"} {
		var b strings.Builder
		if err := (CSV{Head: []string{"name"}, Rows: [][]any{{"=al\u202eder"}}, Record: record}).Write(&b); err != nil || b.String() != want {
			t.Errorf("%v %q", err, b.String())
		}
	}
}
