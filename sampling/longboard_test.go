package sampling

import (
	"errors"
	"testing"
)

// A board of four weeks read like one of three days would say that a colony is
// nearly free of mites.
func TestLongBoardsAreNoEvidence(t *testing.T) {
	a := DefaultAssumptions()
	for text, refused := range map[string]bool{"board:30/14d": false, "board:30/337h": true, "board:30/28d": true, "board:30/336h": false} {
		c, err := ParseCount(text)
		if err != nil {
			t.Fatal(err) // it may stay in a record
		}
		_, _, err = a.Weigh(a.Prior.Density(), []Count{c})
		var long *LongBoardError
		if errors.As(err, &long) != refused || refused && long.Count != c {
			t.Errorf("%s: %v", text, err)
		}
		if err := a.CheckCount(c); errors.As(err, &long) != refused {
			t.Errorf("CheckCount of %s: %v", text, err)
		}
	}
	pair := Pair{Gentle: count(t, "board:30/20d"), Reference: count(t, "wash:6/300")}
	var e *PairError
	if _, _, err := a.Calibrated([]Pair{pair}); !errors.As(err, &e) {
		t.Errorf("a pair with a long board: %v", err)
	}
}
