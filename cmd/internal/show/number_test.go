package show

import (
	"math"
	"reflect"
	"testing"

	"halfcup/sampling"
)

// Rounding must not disagree with the digits shown: each crossover, and the
// number just below it.
func TestLevel(t *testing.T) {
	below := func(x float64) float64 { return math.Nextafter(x, 0) }
	for _, test := range []struct {
		x    float64
		want string
	}{
		{0, "0.00"}, {0.004, "0.00"}, {0.34, "0.34"}, {2.1, "2.1"}, {13, "13"}, {126.4, "126"},
		{below(0.995), "0.99"}, {0.995, "1.0"}, {below(9.95), "9.9"}, {9.95, "10"}, {9.96, "10"},
		{-0.001, "0.00"}, {math.NaN(), "–"}, {math.Inf(1), "no limit"},
	} {
		if got := Level(test.x); got != test.want {
			t.Errorf("Level(%v) = %s, want %s", test.x, got, test.want)
		}
	}
}

func TestLevelsShareDigitsThatFollowTheSpread(t *testing.T) {
	for _, test := range []struct {
		low, high float64
		xs        []float64
		want      []string
	}{
		{0.11, 0.93, []float64{0.11, 0.34, 0.93}, []string{"0.11", "0.34", "0.93"}},
		{0.9, 4.5, []float64{0.9, 2.1, 4.5}, []string{"0.9", "2.1", "4.5"}},
		{8, 20, []float64{8.2, 13.04, 20}, []string{"8", "13", "20"}},
		{0.035, 1.12, []float64{0.035, 0.24, 1.12}, []string{"0.04", "0.24", "1.12"}},
		{0, 1.23, []float64{0, 0.5, 1.23}, []string{"0.0", "0.5", "1.2"}},
		{0.001, 1.23, []float64{0.001, 1.23}, []string{"0.00", "1.23"}},
		// crossovers: a spread of 10 asks for whole mites, of 1 for tenths
		{0, 10, []float64{3.14}, []string{"3"}},
		{0, math.Nextafter(10, 0) - 1e-6, []float64{3.14}, []string{"3.1"}},
		{0, 1, []float64{0.314}, []string{"0.3"}},
		{0, 0.999, []float64{0.314}, []string{"0.31"}},
		{0, 0.0001, []float64{0.00005}, []string{"0.000"}},
		{2, 2, []float64{2}, []string{"2.00"}},
		{0, math.Inf(1), []float64{0, math.Inf(1), math.NaN()}, []string{"0.00", "no limit", "–"}},
	} {
		if got := Levels(test.low, test.high, test.xs...); !reflect.DeepEqual(got, test.want) {
			t.Errorf("Levels(%v, %v, %v) = %v, want %v", test.low, test.high, test.xs, got, test.want)
		}
	}
}

func TestPlainAndFixed(t *testing.T) {
	for _, test := range []struct{ got, want string }{
		{Plain(0.3), "0.3"}, {Plain(1e7), "10000000"}, {Plain(1e-7), "0.0000001"}, {Plain(2), "2"}, {Plain(math.Copysign(0, -1)), "0"},
		{Fixed(12.5, 0), "12"}, {Fixed(math.Nextafter(12.5, 13), 0), "13"}, {Fixed(0.04, 1), "0.0"}, {Fixed(0.06, 1), "0.1"}, {Fixed(2, 2), "2.00"},
		{Fixed(-0.4, 0), "0"}, {Fixed(-0.004, 2), "0.00"}, {Fixed(-0.006, 2), "-0.01"}, {Fixed(math.Copysign(0, -1), 0), "0"}, {Fixed(100, 0), "100"},
		{Fixed(math.NaN(), 2), "–"}, {Fixed(math.Inf(1), 2), "no limit"}, {Fixed(math.Inf(-1), 0), "no limit"},
	} {
		if test.got != test.want {
			t.Errorf("got %q, want %q", test.got, test.want)
		}
	}
}

func TestDigits(t *testing.T) {
	below := func(x float64) float64 { return math.Nextafter(x, 0) }
	for _, test := range []struct {
		x           float64
		n, decimals int
		want        string
	}{
		// mites: two digits and whole
		{0, 2, 0, "0"}, {below(0.5), 2, 0, "0"}, {0.5, 2, 0, "1"}, {7.4, 2, 0, "7"}, {9.6, 2, 0, "10"}, {38.2, 2, 0, "38"},
		{99.4, 2, 0, "99"}, {99.5, 2, 0, "100"}, {below(105), 2, 0, "100"}, {105, 2, 0, "110"}, {114.6, 2, 0, "110"}, {255, 2, 0, "260"}, {994, 2, 0, "990"}, {995, 2, 0, "1000"}, {1234, 2, 0, "1200"},
		// figures that were worked out: three
		{14.213, 3, 6, "14.2"}, {14.96, 3, 6, "15"}, {3, 3, 6, "3"}, {0.31249, 3, 6, "0.312"}, {0.00123456, 3, 6, "0.00123"}, {0.0000123456, 3, 6, "0.000012"}, {0.999501, 3, 6, "1"}, {9.996, 3, 6, "10"}, {1234, 3, 6, "1230"}, {-2.345678, 3, 6, "-2.35"},
		// mean numbers of colonies: two, and no more than tenths
		{0.04, 2, 1, "0"}, {0.06, 2, 1, "0.1"}, {0.96, 2, 1, "1"}, {1.44, 2, 1, "1.4"}, {9.94, 2, 1, "9.9"}, {9.96, 2, 1, "10"}, {12.4, 2, 1, "12"},
		{math.NaN(), 2, 0, "–"}, {math.Inf(1), 2, 0, "no limit"}, {-0.2, 2, 0, "0"},
	} {
		if got := Digits(test.x, test.n, test.decimals); got != test.want {
			t.Errorf("Digits(%v, %d, %d) = %s, want %s", test.x, test.n, test.decimals, got, test.want)
		}
	}
}

func TestPercent(t *testing.T) {
	below := func(x float64) float64 { return math.Nextafter(x, 0) }
	for _, test := range []struct {
		p    float64
		want string
	}{
		{0.234, "23%"}, {0, "under 1%"}, {1e-300, "under 1%"}, {0.0049, "under 1%"}, {0.005, "1%"},
		{0.994, "99%"}, {below(0.995), "99%"}, {0.996, "over 99%"}, {1, "over 99%"}, {1 + 1e-12, "over 99%"}, {-1e-12, "under 1%"},
		// shares of more than all, and of less than none
		{1.3, "130%"}, {-0.86, "-86%"},
		{math.NaN(), "–"}, {math.Inf(1), "no limit"}, {math.Inf(-1), "no limit"},
	} {
		if got := Percent(test.p); got != test.want {
			t.Errorf("Percent(%v) = %s, want %s", test.p, got, test.want)
		}
	}
}

func TestWords(t *testing.T) {
	for _, test := range []struct{ got, want string }{
		{OfHundred(0.23, "colonies with this count", "over the line"), "of 100 colonies with this count, 23 are over the line"},
		{OfHundred(0.01, "colonies", "over"), "of 100 colonies, 1 is over"},
		{OfHundred(0.004, "colonies", "over"), "of 1000 colonies, 4 are over"},
		{OfHundred(0, "colonies", "over"), "of 1000 colonies, fewer than 1 is over"},
		{OfHundred(0.997, "colonies", "over"), "of 1000 colonies, 997 are over"},
		{OfHundred(1, "colonies", "over"), "of 1000 colonies, more than 999 are over"},
		{Many(1, "mite", "mites"), "1 mite"}, {Many(0, "mite", "mites"), "0 mites"},
		{List(nil), ""}, {List([]string{"a"}), "a"}, {List([]string{"a", "b", "c"}), "a, b and c"},
		{Day(sampling.Day(2026, 8, 6)), "6 August 2026"}, {Day(0), "an unknown day"},
		{FromToday(10, 10), "today"}, {FromToday(10, 11), "tomorrow"}, {FromToday(10, 9), "yesterday"},
		{FromToday(10, 22), "in 12 days"}, {FromToday(10, 7), "3 days ago"},
		{ToASCII("0.9–2 ± 1 … ×"), "0.9-2 +- 1 ... x"},
	} {
		if test.got != test.want {
			t.Errorf("got %q, want %q", test.got, test.want)
		}
	}
}

func TestPage(t *testing.T) {
	p := Page{Width: 20}
	if got, want := p.Wrap("of 100 colonies with this count, 23 are over\nnext", 2), "  of 100 colonies\n  with this count,\n  23 are over\n  next\n"; got != want {
		t.Errorf("wrapped\n%swant\n%s", got, want)
	}
	if got, want := p.Hang("note: a longunbreakablewordthatdoesnotfit b", 0, 6), "note: a\n      longunbreakablewordthatdoesnotfit\n      b\n"; got != want {
		t.Errorf("wrapped\n%swant\n%s", got, want)
	}
	// Colour takes no room.
	painted := Page{Width: 20, Color: true}
	if got, want := painted.Wrap(painted.Paint(Line, "0123456789")+" 012345678", 0), painted.Paint(Line, "0123456789")+" 012345678\n"; got != want {
		t.Errorf("wrapped %q want %q", got, want)
	}
	if got := p.Paint(Line, "act"); got != "act" {
		t.Errorf("painted without colour: %q", got)
	}
}

func TestColorChoice(t *testing.T) {
	for _, test := range []struct {
		when, noColor, term string
		terminal, want      bool
	}{
		{"auto", "", "xterm", true, true},
		{"auto", "", "xterm", false, false},
		{"auto", "1", "xterm", true, false},
		{"auto", "0", "xterm", true, false}, // set to anything, says no-color.org
		{"auto", "", "dumb", true, false},
		{"always", "1", "dumb", false, true},
		{"never", "", "xterm", true, false},
	} {
		t.Setenv("NO_COLOR", test.noColor)
		t.Setenv("TERM", test.term)
		t.Setenv("FORCE_COLOR", "")
		p := Page{terminal: test.terminal}
		if p.SetColor(test.when); p.Color != test.want {
			t.Errorf("%+v: colour %v", test, p.Color)
		}
	}
	t.Setenv("TERM", "dumb")
	t.Setenv("FORCE_COLOR", "1")
	for noColor, want := range map[string]bool{"": true, "1": false} {
		t.Setenv("NO_COLOR", noColor)
		var p Page
		if p.SetColor("auto"); p.Color != want {
			t.Errorf("FORCE_COLOR with NO_COLOR %q: colour %v", noColor, p.Color)
		}
	}
}

func TestLocale(t *testing.T) {
	for _, test := range []struct {
		env  map[string]string
		want bool
	}{
		{nil, true},
		{map[string]string{"LANG": "en_GB.UTF-8"}, true},
		{map[string]string{"LANG": "de_DE.utf8", "LC_ALL": "C"}, false},
		{map[string]string{"LC_CTYPE": "C.UTF-8", "LANG": "C"}, true},
		{map[string]string{"LANG": "fr_FR.ISO-8859-1"}, false},
	} {
		if got := speaksUnicode(func(name string) string { return test.env[name] }); got != test.want {
			t.Errorf("%v: %v", test.env, got)
		}
	}
}
