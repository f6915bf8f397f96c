package show

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// Problem is one thing that is wrong in what was typed or in a file, and how
// to mend it. Readers of files return it, several joined with errors.Join.
type Problem struct {
	File         string // "" when it was typed
	Line, Column int    // both from 1; 0 when not known. The column counts characters.

	Text           string // the line at fault, "" when there is none to show
	Offset, Length int    // the part at fault, in bytes of Text

	What   string // what is wrong, a clause without a full stop
	Remedy string // what to write or do instead; may be ""
}

// Place is file:line:column as far as it is known.
func (p *Problem) Place() string {
	s := p.File
	for _, n := range []int{p.Line, p.Column} {
		if s == "" || n <= 0 {
			break
		}
		s += fmt.Sprintf(":%d", n)
	}
	return s
}

func (p *Problem) Error() string {
	s := p.What
	if place := p.Place(); place != "" {
		s = place + ": " + s
	}
	if p.Remedy != "" {
		s += ": " + p.Remedy
	}
	return s
}

// Layout is the problem as it is printed: what is wrong, the text, a mark
// under the part at fault, and the remedy. What is wrong and the remedy are a line
// each, for whoever searches a file of them.
func (p *Problem) Layout(prefix string) string {
	return p.layout(prefix, pointWidth, func(s string) string { return s + "\n" })
}

// LayoutOn is Layout broken between words where w is a terminal.
func (p *Problem) LayoutOn(w io.Writer, prefix string) string {
	page := NewPage(w)
	if !page.terminal {
		return p.Layout(prefix)
	}
	return p.layout(prefix, min(pointWidth, page.Width-4), func(s string) string { return page.Hang(s, 0, 2) })
}

func (p *Problem) layout(prefix string, room int, set func(string) string) string {
	what := prefix
	if place := p.Place(); place != "" {
		what += Printable(place) + ": "
	}
	out := set(what + Printable(p.What))
	if p.Text != "" {
		line, mark := pointAt(p.Text, p.Offset, p.Length, room)
		out += "  " + line + "\n  " + mark + "\n"
	}
	if p.Remedy != "" {
		out += set("fix: " + Printable(p.Remedy))
	}
	return out
}

// pointWidth is how much of a long line is shown around the fault.
const pointWidth = 76

// pointAt gives the line as it can be printed and, for below it, carets under
// its bytes offset to offset+length. Both are cut to so many columns, pointWidth
// at most.
func pointAt(s string, offset, length, most int) (line, mark string) {
	offset = min(max(offset, 0), len(s))
	end := min(offset+max(length, 1), len(s))
	before, fault, after := Printable(lastOf(s[:offset])), Printable(firstOf(s[offset:end])), Printable(firstOf(s[end:]))

	// A line too long for the screen loses its far ends first.
	room := most - min(width(fault), most/2)
	if width(before)+width(fault)+width(after) > most {
		fault = cutRight(fault, most/2)
		before = cutLeft(before, room*2/3)
		after = cutRight(after, most-width(before)-width(fault))
	}
	return before + fault + after, strings.Repeat(" ", width(before)) + strings.Repeat("^", max(width(fault), 1))
}

// nearBytes is more than pointWidth columns take, so that a line of megabytes
// is not gone through to show a part of it.
const nearBytes = 8 * pointWidth

func firstOf(s string) string {
	if len(s) <= nearBytes {
		return s
	}
	n := nearBytes
	for n > 0 && !utf8.RuneStart(s[n]) {
		n--
	}
	return s[:n]
}

func lastOf(s string) string {
	if len(s) <= nearBytes {
		return s
	}
	n := len(s) - nearBytes
	for n < len(s) && !utf8.RuneStart(s[n]) {
		n++
	}
	return s[n:]
}

func width(s string) int { return stringWidth(s) }

// cutRight shortens s to at most n columns, with an ellipsis in place of what
// was cut off. It counts rune by rune, which is never too few, and once: a
// broken record can be one line of many thousand characters.
func cutRight(s string, n int) string {
	if width(s) <= n {
		return s
	}
	room := n - 1
	for i, r := range s {
		if room -= runeWidth(r); room < 0 {
			return s[:i] + "…"
		}
	}
	return s
}

func cutLeft(s string, n int) string {
	if width(s) <= n {
		return s
	}
	room := n - 1
	for i := len(s); i > 0; {
		r, size := utf8.DecodeLastRuneInString(s[:i])
		if room -= runeWidth(r); room < 0 {
			return "…" + s[i:]
		}
		i -= size
	}
	return s
}

// Marked writes out the characters that have no shape and turn or hide what
// stands around them: marks of the direction of writing and those of no width.
// A name that holds one looks like another name. They are written as JSON
// escapes them, so that JSON stays what it was.
func Marked(s string) string {
	if strings.IndexFunc(s, isMark) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		switch hi, lo := utf16.EncodeRune(r); {
		case !isMark(r):
			b.WriteRune(r)
		case hi != utf8.RuneError:
			fmt.Fprintf(&b, `\u%04x\u%04x`, hi, lo)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
	}
	return b.String()
}

func isMark(r rune) bool {
	return r >= 0x80 && unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp)
}

// Printable makes foreign text safe to put on a terminal and to count columns
// in: a tab becomes a blank, and anything else that has no shape of its own
// (control characters, marks that turn the direction of writing, broken
// UTF-8) is written out as an escape.
func Printable(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == '\t':
			b.WriteByte(' ')
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case unicode.IsPrint(r):
			b.WriteRune(r)
		case r < 0x80:
			fmt.Fprintf(&b, `\x%02x`, r)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
		i += size
	}
	return b.String()
}
