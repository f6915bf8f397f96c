package treat

import (
	"testing"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
)

// Whole percents would put 94.9 on a line of 95, and tenths claim all of what is
// nearly all.
func TestTenths(t *testing.T) {
	for _, test := range []struct {
		r    decide.Reduction
		want string
	}{
		{decide.Reduction{Middle: 0.94, Low: 0.931, High: 0.949}, "94.0% (93.1% to 94.9%)"},
		{decide.Reduction{Middle: 0.87, Low: 0.696, High: 0.963}, "87% (70% to 96%)"},
		{decide.Reduction{Middle: 0.9999, Low: 0.9994, High: 0.99999}, "over 99.9% (99.9% to over 99.9%)"},
		{decide.Reduction{Middle: 1, Low: 0.999, High: 1}, "100% (99.9% to 100%)"},
	} {
		if got := tenths(test.r); got != test.want {
			t.Errorf("%v: %s, want %s", test.r, got, test.want)
		}
	}
}

// The rows of rounds that leave next to nothing fit a page of 80 columns.
func TestSpan(t *testing.T) {
	for _, test := range []struct {
		weak, middle, strong float64
		share, percent       string
	}{
		{0.86, 0.68, 0.54, "68 (86–54)", "68% (86%–54%)"},
		{1.53, 1.2, 0.996, "120 (153–over 99)", "120% (153%–over 99%)"},
		{0.026, 0.01, 0.002, "1 (3–under 1)", "1% (3%–under 1%)"},
		{0.01, 0.003, 0, "under 1 (weak 1)", "under 1% (weak 1%)"},
		{0.001, 0.0001, 0, "under 1", "under 1%"},
		{0.991, 0.996, 0.9999, "over 99 (weak 99)", "over 99% (weak 99%)"},
		{0.05, 0.05, 0.05, "5", "5%"},
	} {
		left := func(x float64) decide.Left { return decide.Left{Total: x, StartTotal: 1} }
		p := roundsPlan{left: []decide.Left{left(test.weak), left(test.middle), left(test.strong)}}
		of := func(l decide.Left) float64 { return l.Total / l.StartTotal }
		if got := p.span(ofHundred, of); got != test.share {
			t.Errorf("%v: %s, want %s", test, got, test.share)
		}
		if got := p.span(show.Percent, of); got != test.percent {
			t.Errorf("%v: %s, want %s", test, got, test.percent)
		}
	}
}

func TestSomeMites(t *testing.T) {
	for mites, want := range map[float64]string{0.2: "under 1", 7.4: "7", 99.6: "100", 255: "260", 1234: "1200"} {
		if got := someMites(mites); got != want {
			t.Errorf("%v mites are %s, want %s", mites, got, want)
		}
	}
}
