package count

import (
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/internal/guides"
	"halfcup/decide"
	"halfcup/sampling"
)

// Board and bees that disagree are said to. Naive: a guide that is watchful
// beside an estimate that is not far from it was called no contradiction, however
// far the bees stood from the board.
func TestBoardAndBeesThatDisagree(t *testing.T) {
	for _, c := range []struct {
		what     string
		board    string
		bees     bool
		surprise float64
		over     float64
		want     string
	}{
		{"guide says treat, bees do not", "board:40/4d", true, 0.2, 0.03, "Board and bees disagree; together they give 3% over 2."},
		{"the board is far from the bees", "board:4/4d", true, 0.01, 0.3, "Board and bees disagree"},
		{"they agree", "board:40/4d", true, 0.6, 0.7, ""},
		{"a board alone", "board:1/7d", false, 1, 0.6, "This estimate says otherwise: 60% over 2"},
		{"a board alone that fits", "board:40/4d", false, 1, 0.6, ""},
	} {
		board, err := sampling.ParseCount(c.board)
		if err != nil {
			t.Fatal(err)
		}
		e := &estimated{Question: &ask.Question{}, counts: []sampling.Count{board}}
		if c.bees {
			e.counts = append(e.counts, sampling.Count{Method: sampling.Wash})
		}
		e.ChanceOverAct, e.Line = c.over, decide.Threshold{Watch: 1, Act: 2}
		got := e.guideWords(guides.Read(8, board.FallPerDay(), c.over), board, c.surprise)
		disagrees := strings.Contains(got, "disagree") || strings.Contains(got, "otherwise")
		if disagrees != (c.want != "") || !strings.Contains(got, c.want) || strings.Contains(got, "no contradiction") {
			t.Errorf("%s: %s", c.what, got)
		}
	}
}
