package decide

import (
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"halfcup/sampling"
)

// Every set has every phase once, and every row says where it comes from and
// how sure it is.
func TestThresholdSetsAreComplete(t *testing.T) {
	kinds := []string{"published", "common practice", "computed", "judgement", "second-hand", "memory"}
	for _, name := range []string{"composite", "flat-2", "flat-3"} {
		set, err := ThresholdSet(name)
		if err != nil {
			t.Fatal(err)
		}
		if len(set) != len(Phases()) {
			t.Errorf("%s has %d rows", name, len(set))
		}
		for _, p := range Phases() {
			r, ok := In(set, p.Phase)
			if !ok {
				t.Errorf("%s has no %s", name, p.Phase)
			}
			if r.Source == "" || !slices.Contains(kinds, r.Kind) || !(r.Watch > 0 && r.Watch < r.Act) {
				t.Errorf("%s, %s: %+v", name, p.Phase, r)
			}
		}
	}
	if n := len(Thresholds()); n != 3*len(Phases()) {
		t.Errorf("%d thresholds in all", n)
	}
	if _, ok := In(nil, Peak); ok {
		t.Error("an empty set has a row")
	}
}

// flat-2 is common practice; flat-3 is the standard figure named by Jack et al.
// 2023, Front Ecol Evol 11:1102457; composite is a judgement, stricter in spring
// and autumn, and its rows name the papers behind them.
func TestThresholdFigures(t *testing.T) {
	for _, want := range []struct {
		set        string
		phase      Phase
		watch, act float64
	}{
		{"composite", Broodless, 1, 3}, {"composite", Dormant, 1, 2}, {"composite", Buildup, 1, 2}, {"composite", Peak, 2, 3}, {"composite", Decline, 1, 2},
		{"flat-2", Broodless, 1, 2}, {"flat-2", Dormant, 1, 2}, {"flat-2", Buildup, 1, 2}, {"flat-2", Peak, 1, 2}, {"flat-2", Decline, 1, 2},
		{"flat-3", Broodless, 1.5, 3}, {"flat-3", Dormant, 1.5, 3}, {"flat-3", Buildup, 1.5, 3}, {"flat-3", Peak, 1.5, 3}, {"flat-3", Decline, 1.5, 3},
	} {
		set, err := ThresholdSet(want.set)
		if err != nil {
			t.Fatal(err)
		}
		if got, _ := In(set, want.phase); got.Watch != want.watch || got.Act != want.act {
			t.Errorf("%s, %s: watch %v, act %v, want %v and %v", want.set, want.phase, got.Watch, got.Act, want.watch, want.act)
		}
	}
}

func TestThresholdSetNearestName(t *testing.T) {
	for name, want := range map[string]string{
		"flat2":     "did you mean flat-2?",
		"composit":  "did you mean composite?",
		"something": "use one of composite, flat-2, flat-3",
		"":          "use one of composite, flat-2, flat-3",
	} {
		_, err := ThresholdSet(name)
		var syntax *sampling.SyntaxError
		if !errors.As(err, &syntax) || !strings.Contains(syntax.Remedy, want) {
			t.Errorf("%q: %v, want %q", name, err, want)
		}
	}
}

const ownTable = `set,phase,watch,act,source,kind
mine,broodless,1,3,my own records,judgement
mine,dormant,1,2,my own records,judgement
mine,buildup,1,2,my own records,judgement
mine,peak,2,3.5,my own records,judgement
mine,decline,1,2,my own records,judgement
`

func TestReadThresholds(t *testing.T) {
	for name, table := range map[string]string{
		"plain":           ownTable,
		"byte order mark": "\ufeff" + ownTable,
		"quoted head":     "\ufeff" + strings.Replace(ownTable, "set,", `"set",`, 1),
		"line ends":       strings.ReplaceAll(ownTable, "\n", "\r\n"),
		"capitals":        strings.Replace(ownTable, "set,phase", "Set, PHASE ", 1),
		"more columns":    strings.ReplaceAll(ownTable, "\n", ",more\n"),
	} {
		set, err := ReadThresholds(strings.NewReader(table))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		want := Threshold{"mine", Peak, 2, 3.5, "my own records", "judgement"}
		if got, _ := In(set, Peak); got != want {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestReadThresholdsThatAreWrong(t *testing.T) {
	swap := func(old, with string) string { return strings.Replace(ownTable, old, with, 1) }
	for _, c := range []struct {
		name, table  string
		line, column int
		problem      string
	}{
		{"empty", "", 1, 1, "the table is empty"},
		{"no rows", "set,phase,watch,act,source,kind\n", 1, 1, "the table has no rows"},
		{"no column", swap("phase", "season"), 1, 1, "the column phase is missing"},
		{"no set", swap("mine,peak", ",peak"), 5, 1, "the set has no name"},
		{"phase", swap("peak", "summer"), 5, 6, `"summer" is not a phase`},
		{"phase after letters of two bytes", swap("mine,peak", "höfe,summer"), 5, 6, `"summer" is not a phase`},
		{"twice", swap("peak", "dormant"), 5, 6, "the set mine has dormant twice"},
		{"missing phase", swap("mine,peak,2,3.5,my own records,judgement\n", ""), 1, 1, "no row for peak"},
		{"word", swap("3.5", "few"), 5, 13, `"few" is not a number`},
		{"comma", swap("3.5", `"3,5"`), 5, 13, `"3,5" is not a number`},
		{"negative", swap("3.5", "-3"), 5, 13, `"-3" is not a number`},
		{"not a number", swap("3.5", "NaN"), 5, 13, `"NaN" is not a number`},
		{"infinite", swap("3.5", "Inf"), 5, 13, `"Inf" is not a number`},
		{"both levels", swap("2,3.5", "x,y"), 5, 11, `"x" is not a number`},
		{"watch above act", swap("2,3.5", "4,3.5"), 5, 11, "watch is above act"},
		{"no source", swap("3.5,my own records", "3.5,"), 5, 17, "the source is missing"},
		{"no kind", swap("3.5,my own records,judgement", "3.5,my own records,"), 5, 32, "the kind is missing"},
		{"short row", swap("mine,peak,2,3.5,my own records,judgement", "mine,peak,2"), 5, 11, `"" is not a number`},
		{"open quote", swap("mine,peak", `"mine,peak`), 6, 43, `quote`},
		{"quote in a field", swap("mine,peak", `mi"ne,peak`), 5, 3, `quote`},
	} {
		_, err := ReadThresholds(strings.NewReader(c.table))
		var bad *TableError
		if !errors.As(err, &bad) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if bad.Line != c.line || bad.Column != c.column || !strings.Contains(bad.Problem, c.problem) || bad.Remedy == "" {
			t.Errorf("%s: %v, want line %d, column %d, %q", c.name, bad, c.line, c.column, c.problem)
		}
	}
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, io.ErrClosedPipe }

func TestReadThresholdsFromABrokenReader(t *testing.T) {
	if _, err := ReadThresholds(brokenReader{}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("%v", err)
	}
}

// Whatever is in a file, it is read whole and right or refused with its place.
func FuzzReadThresholds(f *testing.F) {
	f.Add(ownTable)
	f.Add("\ufeff" + strings.ReplaceAll(ownTable, "\n", "\r\n"))
	f.Add("set,phase,watch,act,source,kind\n\"a\nb\",peak,1,2,ö,x\n")
	f.Add("kind\n")
	f.Add(`"`)
	f.Fuzz(func(t *testing.T, table string) {
		set, err := ReadThresholds(strings.NewReader(table))
		if err != nil {
			var bad *TableError
			if !errors.As(err, &bad) || bad.Line < 1 || bad.Column < 1 || bad.Problem == "" || bad.Remedy == "" || set != nil {
				t.Errorf("%v, %d rows", err, len(set))
			}
			return
		}
		for _, r := range set {
			if !(r.Watch >= leastLevel && r.Watch <= r.Act && r.Act <= mostLevel) || r.Source == "" || r.Set == "" {
				t.Errorf("%+v", r)
			}
		}
		if len(set)%len(Phases()) != 0 || len(set) == 0 {
			t.Errorf("%d rows", len(set))
		}
	})
}
