package sampling

import "testing"

// Pairs teach most where least is known: a board more than a roll, a roll of
// which many pairs were made less than one of which none was, and a wash
// nothing.
func TestTeaching(t *testing.T) {
	a := DefaultAssumptions()
	teaching := func(a Assumptions, s string) Teaching {
		t.Helper()
		c, err := ParseCount(s)
		if err != nil {
			t.Fatal(err)
		}
		out, ok, err := a.Teaching(c)
		if err != nil || !ok {
			t.Fatal(s, ok, err)
		}
		return out
	}
	learns := func(x Teaching) float64 { return x.Now*x.Now - x.Then*x.Then }
	board, roll := teaching(a, "board:20/3d"), teaching(a, "roll:7/300")
	if !(learns(board) > learns(roll) && learns(roll) > 0) {
		t.Errorf("a board learns %.3f, a roll %.3f", learns(board), learns(roll))
	}
	var pairs []Pair
	for range 8 {
		p, err := NewPair(Count{Method: Roll, Mites: 8, Amount: Amount{300, Bees}}, Count{Method: Wash, Mites: 3, Amount: Amount{300, Bees}})
		if err != nil {
			t.Fatal(err)
		}
		pairs = append(pairs, p)
	}
	after, _, err := a.Calibrated(pairs)
	if err != nil {
		t.Fatal(err)
	}
	if again := teaching(after, "roll:7/300"); !(again.Now < roll.Now && learns(again) < learns(roll)/2) {
		t.Errorf("after eight pairs a roll learns %.4f, before them %.4f", learns(again), learns(roll))
	}
	wash, _ := ParseCount("wash:7/300")
	if _, ok, _ := a.Teaching(wash); ok {
		t.Error("a pair teaches a wash")
	}
}
