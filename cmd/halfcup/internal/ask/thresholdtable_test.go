package ask

import (
	"errors"
	"io"
	"os"
	"slices"
	"strings"
	"testing"

	"halfcup/decide"
)

const ownTable = `set,season,watch,act,source,kind
mine,winter,1,3,my own records,judgement
mine,autumn,1,2,my own records,judgement
mine,spring,1,2,my own records,judgement
mine,summer,2,3.5,my own records,judgement
mine,late-summer,1,2,my own records,judgement
`

func TestParseThresholds(t *testing.T) {
	for name, table := range map[string]string{
		"plain":           ownTable,
		"byte order mark": "\ufeff" + ownTable,
		"quoted head":     "\ufeff" + strings.Replace(ownTable, "set,", `"set",`, 1),
		"line ends":       strings.ReplaceAll(ownTable, "\n", "\r\n"),
		"capitals":        strings.Replace(ownTable, "set,season", "Set, SEASON ", 1),
		"more columns":    strings.ReplaceAll(ownTable, "\n", ",more\n"),
	} {
		set, err := parseThresholds(strings.NewReader(table))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		want := decide.Threshold{Set: "mine", Season: decide.Summer, Watch: 2, Act: 3.5, Source: "my own records", Kind: "judgement"}
		if got, _ := decide.In(set, decide.Summer); got != want {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestParseThresholdsThatAreWrong(t *testing.T) {
	swap := func(old, with string) string { return strings.Replace(ownTable, old, with, 1) }
	for _, c := range []struct {
		name, table  string
		line, column int
		problem      string
	}{
		{"empty", "", 1, 1, "the table is empty"},
		{"no rows", "set,season,watch,act,source,kind\n", 1, 1, "the table has no rows"},
		{"no column", swap("season", "time"), 1, 1, "the column season is missing"},
		{"a column by its old name", swap("season", "phase"), 1, 5, "the column phase is now called season"},
		{"no set", swap("mine,summer", ",summer"), 5, 1, "the set has no name"},
		{"season", swap("summer", "sumer"), 5, 6, "there is no such season"},
		{"a season by its old name", swap("summer", "decline"), 5, 6, "decline is now called late-summer"},
		{"season after letters of two bytes", swap("mine,summer", "höfe,peak"), 5, 6, "peak is now called summer"},
		{"twice", swap("summer", "autumn"), 5, 6, "the set mine has autumn twice"},
		{"missing season", swap("mine,summer,2,3.5,my own records,judgement\n", ""), 1, 1, "no row for summer"},
		{"word", swap("3.5", "few"), 5, 15, `"few" is not a number`},
		{"comma", swap("3.5", `"3,5"`), 5, 15, `"3,5" is not a number`},
		{"negative", swap("3.5", "-3"), 5, 15, `"-3" is not a number`},
		{"not a number", swap("3.5", "NaN"), 5, 15, `"NaN" is not a number`},
		{"infinite", swap("3.5", "Inf"), 5, 15, `"Inf" is not a number`},
		{"both levels", swap("2,3.5", "x,y"), 5, 13, `"x" is not a number`},
		{"watch above act", swap("2,3.5", "4,3.5"), 5, 13, "watch is above act"},
		{"no source", swap("3.5,my own records", "3.5,"), 5, 19, "the source is missing"},
		{"no kind", swap("3.5,my own records,judgement", "3.5,my own records,"), 5, 34, "the kind is missing"},
		{"short row", swap("mine,summer,2,3.5,my own records,judgement", "mine,summer,2"), 5, 13, `"" is not a number`},
		{"open quote", swap("mine,summer", `"mine,summer`), 6, 47, `quote`},
		{"quote in a field", swap("mine,summer", `mi"ne,summer`), 5, 3, `quote`},
	} {
		_, err := parseThresholds(strings.NewReader(c.table))
		var bad *tableError
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

func TestParseThresholdsFromABrokenReader(t *testing.T) {
	if _, err := parseThresholds(brokenReader{}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("%v", err)
	}
}

// Whatever is in a file, it is read whole and right or refused with its place.
func FuzzParseThresholds(f *testing.F) {
	f.Add(ownTable)
	f.Add("\ufeff" + strings.ReplaceAll(ownTable, "\n", "\r\n"))
	f.Add("set,season,watch,act,source,kind\n\"a\nb\",summer,1,2,ö,x\n")
	f.Add("kind\n")
	f.Add(`"`)
	f.Fuzz(func(t *testing.T, table string) {
		set, err := parseThresholds(strings.NewReader(table))
		if err != nil {
			var bad *tableError
			if !errors.As(err, &bad) || bad.Line < 1 || bad.Column < 1 || bad.Problem == "" || bad.Remedy == "" || set != nil {
				t.Errorf("%v, %d rows", err, len(set))
			}
			return
		}
		for _, r := range set {
			if !(r.Watch >= 0.01 && r.Watch <= r.Act && r.Act <= 100) || r.Source == "" || r.Set == "" {
				t.Errorf("%+v", r)
			}
		}
		if len(set)%len(decide.Seasons()) != 0 || len(set) == 0 {
			t.Errorf("%d rows", len(set))
		}
	})
}

// What the program has within it passes its own reader.
func TestOwnThresholdsCanBeRead(t *testing.T) {
	f, err := os.Open("../../../../decide/thresholds.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got, err := parseThresholds(f); err != nil || !slices.Equal(got, decide.Thresholds()) {
		t.Errorf("%v\n%v", got, err)
	}
}
