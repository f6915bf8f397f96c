package answer

import (
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// asked is what a book answers, as the page reads it.
func asked[T any](t interface {
	Helper()
	Fatal(...any)
}, b *Book, q map[string]any) T {
	t.Helper()
	question, err := json.Marshal(q)
	if err != nil {
		t.Fatal(err)
	}
	text := b.Ask(question)
	var failed Problem
	if json.Unmarshal(text, &failed) == nil && failed.Error != "" {
		t.Fatal(q["do"], failed.Error)
	}
	var out T
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

func count(id, hive, day string, mites int) Row {
	return Row{"id": id, "date": day, "yard": "mill", "colony": hive, "event": "count", "method": "roll", "mites": fmt.Sprint(mites), "amount": "0.5cup", "frames": "1"}
}

// The rules by which the rows of two phones come together. To compare whole rows
// would lose the second of two equal counts, or keep one count twice.
func TestMerge(t *testing.T) {
	here := []Row{count("kfmb1", "elm", "2026-07-25", 3), count("kfmb2", "ash", "2026-07-25", 0)}
	undone := count("", "ash", "2026-07-25", 0)
	delete(undone, "mites")
	maps.Copy(undone, Row{"id": "kfmb3", "event": "undo", "method": "", "amount": "", "frames": "", "undo_of": "kfmb2"})
	for name, tc := range map[string]struct {
		here, there      []Row
		new, same, twins int
	}{
		"the same rows":                         {here, here, 0, 2, 0},
		"one more":                              {here, []Row{count("kfmb4", "oak", "2026-07-25", 1)}, 1, 0, 0},
		"one id, changed on the way":            {here, []Row{count("kfmb1", "elm", "2026-07-25", 8)}, 0, 1, 0},
		"the same count typed on two phones":    {here, []Row{count("wxyz9", "Elm", "2026-07-25", 3)}, 0, 0, 1},
		"another count of another phone":        {here, []Row{count("wxyz9", "elm", "2026-07-25", 4)}, 1, 0, 0},
		"a second equal count of this phone":    {here, []Row{count("kfmb7", "elm", "2026-07-25", 3)}, 1, 0, 0},
		"a table without ids":                   {here, []Row{count("", "elm", "2026-07-25", 3), count("", "elm", "2026-07-24", 3)}, 1, 1, 0},
		"a row taken back and its taking back":  {here[:1], []Row{here[1], undone}, 2, 0, 0},
		"only the taking back":                  {here, []Row{undone}, 1, 0, 0},
		"a count that here was taken back":      {append(slices.Clone(here), undone), []Row{count("wxyz1", "ash", "2026-07-25", 0)}, 1, 0, 0},
		"nothing":                               {here, nil, 0, 0, 0},
		"the same row twice in what came":       {nil, []Row{here[0], here[0]}, 1, 1, 0},
		"two phones in one file, here are none": {nil, []Row{here[0], count("wxyz9", "elm", "2026-07-25", 3)}, 1, 0, 1},
	} {
		text, err := written(tc.there)
		if err != nil {
			t.Fatal(err)
		}
		b := Book{rows: tc.here}
		m, err := b.merge(text, "")
		if err != nil {
			t.Fatal(err)
		}
		if len(m.New) != tc.new || m.Same != tc.same || len(m.Twins) != tc.twins || len(m.Unread) > 0 {
			t.Errorf("%s: %d new, %d here, %d twins, unread %q; want %d, %d, %d", name, len(m.New), m.Same, len(m.Twins), m.Unread, tc.new, tc.same, tc.twins)
		}
	}
}

// What two phones have after each took the other's rows is the same, in
// whatever order they did.
func TestMergeBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := func(device string) []Row {
			var out []Row
			for i := range rapid.IntRange(0, 5).Draw(t, device) {
				out = append(out, count(fmt.Sprint(device, i), rapid.SampledFrom([]string{"elm", "ash"}).Draw(t, "hive"), "2026-07-25", rapid.IntRange(0, 99).Draw(t, "mites")))
			}
			return out
		}
		one, two := Book{rows: rows("kfmb")}, Book{rows: rows("wxyz")}
		take := func(to, from *Book) {
			e, err := from.export("")
			if err != nil {
				t.Fatal(err)
			}
			m, err := to.merge(e.CSV, "")
			if err != nil {
				t.Fatal(err)
			}
			to.keep(m.New)
			if again, _ := to.merge(e.CSV, ""); len(again.New) > 0 {
				t.Fatalf("the same file brings %d rows twice", len(again.New))
			}
		}
		take(&one, &two)
		take(&two, &one)
		facts := func(b *Book) []string {
			var out []string
			for _, r := range b.rows {
				out = append(out, r.facts())
			}
			slices.Sort(out)
			return slices.Compact(out)
		}
		if !slices.Equal(facts(&one), facts(&two)) {
			t.Fatalf("%q\n%q", facts(&one), facts(&two))
		}
	})
}

// What is sent comes back as the same rows, and no cell of it is one that a
// spreadsheet runs.
func TestExportIsInert(t *testing.T) {
	row := Row{"id": "kfmb1", "date": "2026-07-25", "yard": "mi\u202ell", "colony": "=1+cmd|x", "event": "inspection", "note": "@sum(a1), \"'=x\""}
	b := Book{rows: []Row{row}}
	e, err := b.export("")
	if err != nil || strings.Contains(e.CSV, ",=") || strings.Contains(e.CSV, "\"@") {
		t.Fatalf("%v\n%s", err, e.CSV)
	}
	var to Book
	m, err := to.merge(e.CSV, "")
	if err != nil || len(m.New) != 1 || !maps.Equal(m.New[0], row) {
		t.Errorf("%v\n%q came back as\n%q", err, row, m.New)
	}
}

func TestCheck(t *testing.T) {
	b := Book{rows: []Row{count("kfmb1", "elm", "2026-07-25", 3)}}
	if c, err := b.check([]Row{count("", "elm", "2026-07-25", 3)}, false); err != nil || len(c.Twins) != 1 || c.Rows != nil {
		t.Errorf("an equal count is taken without asking: %+v %v", c, err)
	}
	c, err := b.check([]Row{count("", "elm", "2026-07-25", 3)}, true)
	if err != nil || len(c.Rows) != 1 || c.Rows[0]["note"] != "(again)" {
		t.Fatalf("a second count that is meant: %+v %v", c, err)
	}
	// Without its note the record would read both as one that was written twice.
	b.keep(c.Rows)
	rec, err := b.reading()
	if err != nil || len(rec.Once()) != 2 {
		t.Errorf("the second count is not counted: %v", err)
	}
	for _, tc := range []struct {
		row          Row
		column, want string
	}{
		{Row{"date": "2026-07-25", "colony": "", "event": "count"}, "colony", "the colony is missing"},
		{Row{"date": "5/7/2026", "colony": "elm", "event": "died"}, "date", "could be 5 July or 7 May"},
		{Row{"date": "2026-07-25", "colony": "elm", "event": "split"}, "pair", "parent colony is missing"},
	} {
		_, err := b.check([]Row{tc.row}, false)
		refused, _ := err.(*Refused)
		if refused == nil || refused.Column != tc.column || !strings.Contains(refused.Problem.Error, tc.want) {
			t.Errorf("%v: %+v, want %s: %s", tc.row, err, tc.column, tc.want)
		}
	}
}

// What was taken back answers no more, on this phone and after a merge.
func TestTakenBack(t *testing.T) {
	b := Book{}
	rows := []Row{{"id": "kfmb1", "date": "2026-07-01", "yard": "mill", "colony": "elm", "event": "inspection", "stand": "1"}, count("kfmb2", "elm", "2026-07-25", 30)}
	asked[Opened](t, &b, map[string]any{"do": "open", "rows": rows})
	type told struct {
		First    string `json:"first"`
		Treats   bool   `json:"treats"`
		HasLevel bool   `json:"has_level"`
	}
	ask := func() told {
		return asked[told](t, &b, map[string]any{"do": "hive", "yard": "mill", "hive": "elm", "day": "2026-07-25"})
	}
	before := ask()
	if !before.Treats {
		t.Fatalf("30 mites in half a cup: %s", before.First)
	}
	asked[Opened](t, &b, map[string]any{"do": "keep", "rows": []Row{{"id": "kfmb3", "date": "2026-07-25", "yard": "mill", "colony": "elm", "event": "undo", "undo_of": "kfmb2"}}})
	if after := ask(); after.Treats || after.HasLevel {
		t.Errorf("after it was taken back: %s", after.First)
	}
}

// A page of nonsense gets an answer, never a panic.
func FuzzAsk(f *testing.F) {
	f.Add([]byte(`{"do":"yard","day":"2026-07-25"}`))
	f.Add([]byte(`{"do":"merge","text":"date,colony,event\n2026-07-25,elm,died\n"}`))
	f.Add([]byte(`{"do":"open","settings":{"act":-1,"starts":{"spring":"13-40"}}}`))
	f.Add([]byte(`{`))
	f.Fuzz(func(t *testing.T, question []byte) {
		b := Book{rows: []Row{count("kfmb1", "elm", "2026-07-25", 3)}}
		var any map[string]any
		if out := b.Ask(question); !json.Valid(out) {
			t.Fatalf("%s is answered %s", question, out)
		} else if json.Unmarshal(out, &any) != nil {
			t.Fatalf("%s is answered %s", question, out)
		}
	})
}

// What the page shows of a yard part by part is what the program says of the
// yard at once, and a page that was open all day says what one says that opens
// now, whatever was written down meanwhile.
func TestPartsAndMemory(t *testing.T) {
	const day = "2026-07-25"
	open := &Book{}
	rows := sixty()[:24]
	late := count("kfmb90", "late", "2026-07-27", 2) // a hive that comes later than the day looked at
	rows = append(rows, late)
	asked[Opened](t, open, map[string]any{"do": "open", "rows": rows})
	for round, more := range []Row{nil, count("kfmb91", "h2", day, 9), count("kfmb92", "h3", day, 0), {"id": "kfmb93", "date": day, "yard": "mill", "colony": "h1", "event": "died"}} {
		if more != nil {
			rows = append(rows, more)
			asked[Opened](t, open, map[string]any{"do": "keep", "rows": []Row{more}})
		}
		type shown struct{ Hives []Hive }
		names := asked[shown](t, open, map[string]any{"do": "hives", "yard": "mill", "day": day})
		var parts []Hive
		for from := 0; ; {
			p := asked[Part](t, open, map[string]any{"do": "part", "yard": "mill", "day": day, "from": from})
			parts = append(parts, p.Hives...)
			if from = p.Next; from == 0 {
				break
			}
		}
		fresh := &Book{}
		asked[Opened](t, fresh, map[string]any{"do": "open", "rows": rows})
		want := asked[map[string]any](t, fresh, map[string]any{"do": "yard", "yard": "mill", "day": day})
		got := asked[map[string]any](t, open, map[string]any{"do": "yard", "yard": "mill", "day": day})
		if !reflect.DeepEqual(got, want) {
			t.Errorf("round %d: the page that was open says\n%+v\nand a fresh one\n%+v", round, got, want)
		}
		whole := asked[shown](t, open, map[string]any{"do": "yard", "yard": "mill", "day": day}).Hives
		if !slices.Equal(parts, whole) {
			t.Errorf("round %d: in parts\n%+v\nat once\n%+v", round, parts, whole)
		}
		if !slices.EqualFunc(names.Hives, whole, func(a, b Hive) bool { return a.Name == b.Name }) {
			t.Errorf("round %d: the names are %+v", round, names.Hives)
		}
	}
}
