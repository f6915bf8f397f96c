package rows

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"

	"halfcup/internal/long"
)

func all(t *testing.T, r *Reader) (out []Placed) {
	t.Helper()
	for {
		p, err := r.Next(nil)
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
}

func lay(p Placed) string {
	s := fmt.Sprintf("%d fault %d:", p.Line, p.Fault)
	for _, c := range p.Cells {
		s += fmt.Sprintf(" %q", c.Text)
	}
	return s
}

func threeCells(r Row) bool { return r.Fault == Whole && len(r.Cells) == 3 && r.Cells[0].Text != "" }

// A table that comes byte by byte is the same table.
func TestReaderInPieces(t *testing.T) {
	const table = "\ufeffa,b,c\r\n1,\"two\r\nlines\",3\n\n4,\"open,6\n7,8,9\r10,\"x\"y,12\n,,\nlast,\"q\"\"q\", z "
	want := []string{`1 fault 0: "a" "b" "c"`, `2 fault 0: "1" "two\nlines" "3"`, `5 fault 1: "4" "open,6"`, `6 fault 0: "7" "8" "9"`, `7 fault 2: "10" "x"`, `8 fault 0: "" "" ""`, `9 fault 0: "last" "q\"q" "z"`}
	for name, in := range map[string]io.Reader{
		"at once": strings.NewReader(table), "by bytes": iotest.OneByteReader(strings.NewReader(table)), "with its end": iotest.DataErrReader(strings.NewReader(table)),
	} {
		r := NewReader(in, ',')
		r.Whole, r.Begins = threeCells, threeCells
		got := all(t, r)
		for i := range max(len(got), len(want)) {
			if i >= len(got) || i >= len(want) || lay(got[i]) != want[i] {
				t.Fatalf("%s: row %d\n got %v\nwant %v", name, i, got, want)
			}
		}
		if line, column := got[1].Column(got[1].Cells[2].Start); line != 3 || column != 8 {
			t.Errorf("%s: the third cell stands at %d:%d", name, line, column)
		}
		if got[2].Raw != `4,"open,6` {
			t.Errorf("%s: raw %q", name, got[2].Raw)
		}
	}
	broken := errors.New("the disk is gone")
	r := NewReader(io.MultiReader(strings.NewReader("a\nb\n"), iotest.ErrReader(broken)), ',')
	for range 2 {
		if _, err := r.Next(nil); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := r.Next(nil); !errors.Is(err, broken) {
		t.Errorf("%v", err)
	}
}

// again gives a line so many times.
type again struct {
	line string
	left int
	rest []byte
}

func (a *again) Read(p []byte) (int, error) {
	if len(a.rest) == 0 {
		if a.left == 0 {
			return 0, io.EOF
		}
		some := min(a.left, 20_000)
		a.left -= some
		a.rest = bytes.Repeat([]byte(a.line), some)
	}
	n := copy(p, a.rest)
	a.rest = a.rest[n:]
	return n, nil
}

// Behind a stray quote memory stays flat, whether rows come or none: of a table
// far longer than the longest row less than half is ever held.
func TestReaderMemory(t *testing.T) {
	const most = 6 * LongestRow
	size := long.Of(8, 12) * LongestRow // a reader that kept it all would be found out by either
	for name, line := range map[string]string{"rows": "1,2,dry\n", "no rows": "rain\n", "one line": "rain ", "commas": ",,,,,,,,"} {
		lines := size / len(line)
		in := io.MultiReader(strings.NewReader("a,b,c\n1,2,\"wet\n"), &again{line: line, left: lines})
		r := NewReader(in, ',')
		r.Whole, r.Begins = threeCells, threeCells
		var now, before runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		rows, peak := 0, uint64(0)
		for {
			if _, err := r.Next(nil); err != nil {
				break
			}
			if rows++; rows%100_000 == 0 {
				runtime.GC()
				runtime.ReadMemStats(&now)
				peak = max(peak, now.HeapAlloc)
			}
		}
		runtime.GC()
		runtime.ReadMemStats(&now)
		peak = max(peak, now.HeapAlloc)
		if peak > before.HeapAlloc+most {
			t.Errorf("%s: %d MB", name, (peak-before.HeapAlloc)>>20)
		}
		if want := map[string]int{"rows": 2 + lines, "no rows": 2 + lines, "one line": 3, "commas": 3}[name]; rows != want {
			t.Errorf("%s: %d rows, want %d", name, rows, want)
		}
	}
}

// However wild the table, its rows in a row are all of it, and reading it in
// pieces gives the same.
func FuzzReader(f *testing.F) {
	f.Add("a,b,c\n1,\"2\n3\n4,5,6\n")
	f.Add("\"\"\",\r\"\n\"x\"y,\n")
	f.Fuzz(func(t *testing.T, table string) {
		rules := Rules{Sep: ',', Whole: threeCells, Begins: threeCells}
		for i := 0; i < len(table); {
			r := rules.Next(table, i, nil)
			if r.Next <= i || r.End < i || r.End > r.Next || r.Reach < r.Next || r.Next > len(table) {
				t.Fatalf("%q: row at %d: %+v", table, i, r)
			}
			i = r.Next
		}
		one, pieces := NewReader(strings.NewReader(table), ','), NewReader(iotest.OneByteReader(strings.NewReader(table)), ',')
		one.Rules, pieces.Rules = rules, rules
		a, b := all(t, one), all(t, pieces)
		if len(a) != len(b) {
			t.Fatalf("%q: %d rows, in pieces %d", table, len(a), len(b))
		}
		for i := range a {
			if lay(a[i]) != lay(b[i]) || a[i].Raw != b[i].Raw {
				t.Fatalf("%q: row %d is %s, in pieces %s", table, i, lay(a[i]), lay(b[i]))
			}
		}
	})
}
