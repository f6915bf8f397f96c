package show

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestProblemLayout(t *testing.T) {
	for _, test := range []struct {
		name string
		p    Problem
		want string
	}{
		{"typed", Problem{Text: "wash:5", Offset: 6, Length: 1, What: "the amount is missing", Remedy: "say it after a stroke"},
			"error: the amount is missing\n  wash:5\n        ^\nfix: say it after a stroke\n"},
		{"in a file", Problem{File: "yard.csv", Line: 3, Column: 4, Text: "a;b;x", Offset: 4, Length: 1, What: "x"},
			"error: yard.csv:3:4: x\n  a;b;x\n      ^\n"},
		{"a tab is one blank, so the mark stays below", Problem{Text: "a\tb", Offset: 2, Length: 1, What: "x"},
			"error: x\n  a b\n    ^\n"},
		{"wide characters take two columns", Problem{Text: "蜂:蟎/300", Offset: 4, Length: 3, What: "x"},
			"error: x\n  蜂:蟎/300\n     ^^\n"},
		{"a mark that joins the letter before takes none", Problem{Text: "e\u0301x", Offset: 3, Length: 1, What: "x"},
			"error: x\n  e\u0301x\n   ^\n"},
		{"control characters are written out", Problem{Text: "\x1b[2Jx", Offset: 4, Length: 1, What: "bad \a bell"},
			"error: bad \\x07 bell\n  \\x1b[2Jx\n         ^\n"},
		{"so are marks that turn the text round", Problem{Text: "a\u202eb", Offset: 1, Length: 3, What: "x"},
			"error: x\n  a\\u202eb\n   ^^^^^^\n"},
		{"and broken UTF-8", Problem{Text: "a\xffb", Offset: 1, Length: 1, What: "x"},
			"error: x\n  a\\xffb\n   ^^^^\n"},
		{"a place past the end", Problem{Text: "ab", Offset: 9, Length: 9, What: "x"},
			"error: x\n  ab\n    ^\n"},
		{"an empty line", Problem{File: "f", Line: 1, What: "x"}, "error: f:1: x\n"},
	} {
		if got := test.p.Layout("error: "); got != test.want {
			t.Errorf("%s:\n%swant:\n%s", test.name, got, test.want)
		}
	}
}

func TestLongLineKeepsTheFaultInSight(t *testing.T) {
	// Cutting such a line one letter at a time and measuring again takes an hour.
	long := strings.Repeat("a", 200_000) + "FAULT" + strings.Repeat("b", 200_000)
	line, mark := pointAt(long, 200_000, 5, pointWidth)
	if width(line) > pointWidth {
		t.Errorf("line is %d wide", width(line))
	}
	if at := strings.Index(mark, "^"); []rune(line)[at] != 'F' || strings.Count(mark, "^") != 5 {
		t.Errorf("the mark is not below the fault:\n%s\n%s", line, mark)
	}
}

// Whatever the bytes: one line, nothing unprintable, and a mark that starts
// where the fault starts.
func TestPointAtProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := string(rapid.SliceOfN(rapid.Byte(), 0, 120).Draw(t, "text"))
		offset := rapid.IntRange(-2, 130).Draw(t, "offset")
		length := rapid.IntRange(-2, 130).Draw(t, "length")
		most := rapid.IntRange(36, pointWidth).Draw(t, "most")
		line, mark := pointAt(s, offset, length, most)
		if strings.ContainsAny(line+mark, "\n\r\t\x1b") || !utf8.ValidString(line) {
			t.Fatalf("%q gives %q", s, line)
		}
		if width(line) > most+1 || width(mark) > most+1 || !strings.Contains(mark, "^") {
			t.Fatalf("%q: %d columns, mark %q", s, width(line), mark)
		}
	})
}
