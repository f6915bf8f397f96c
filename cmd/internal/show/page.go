// Package show lays out what the commands answer: wrapped text, plain tables,
// small pictures for the terminal and as SVG, JSON and CSV. What it writes and
// draws was worked out elsewhere.
package show

import (
	"io"
	"os"
	"strconv"
	"strings"

	"golang.org/x/term"
)

// Widths of a page. Prose is never set wider than people read easily.
const (
	defaultWidth = 80
	narrowest    = 40
	widest       = 100
)

// Page is what text is written on: a terminal, or a file or pipe.
type Page struct {
	Width int  // columns
	Color bool // whether roles are painted; always doubled by a word or shape
	ASCII bool // whether nothing but ASCII can be shown

	NoPicture bool // whether pictures are left out, as for a screen reader

	terminal bool
}

// NewPage is the page for what w is: a terminal has its own width, and may
// have colour; anything else is 80 columns wide and plain. COLUMNS, when the
// environment holds a number there, is the width that the user prefers to either
// (POSIX.1-2017, 8.3). What reads a pipe or a file is taken to speak as the locale
// says, like a terminal.
func NewPage(w io.Writer) Page {
	p := Page{Width: defaultWidth}
	f, ok := w.(*os.File)
	if !ok {
		return p
	}
	p.ASCII = !speaksUnicode(os.Getenv)
	columns := 0
	if p.terminal = term.IsTerminal(int(f.Fd())); p.terminal {
		columns, _, _ = term.GetSize(int(f.Fd())) // one that has no size says 0
	}
	if wanted, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && wanted > 0 {
		columns = wanted
	}
	if columns > 0 {
		p.Width = min(max(columns, narrowest), widest)
	}
	p.SetColor("auto")
	return p
}

// speaksUnicode reads the locale the way the C library does: the first of the
// three that is set decides. A machine that says nothing is taken to speak
// it.
func speaksUnicode(getenv func(string) string) bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := strings.ToLower(getenv(name)); v != "" {
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return true
}

// SetColor turns colour on ("always"), off ("never"), or leaves it to the
// environment and the terminal ("auto"): off when NO_COLOR is set to anything
// (no-color.org), else on when FORCE_COLOR is (force-color.org), else on for a
// terminal whose TERM is not dumb.
func (p *Page) SetColor(when string) {
	switch {
	case when != "auto":
		p.Color = when == "always"
	case os.Getenv("NO_COLOR") != "":
		p.Color = false
	case os.Getenv("FORCE_COLOR") != "":
		p.Color = true
	default:
		p.Color = p.terminal && os.Getenv("TERM") != "dumb"
	}
}

// Role is what a piece of text stands for; colours follow roles.
type Role int

const (
	Known  Role = iota // what is known, now and ahead: blue
	Line               // a threshold: brick
	Past               // what is over: grey
	Strong             // a heading or the word that matters: bold, no colour
)

// ink is of the 256 colours that terminals share. Nobody knows what they are
// written on, so that each keeps a contrast of 4.5 on white and on black (WCAG
// 2.1, 1.4.3); few of the 256 do.
var ink = map[Role]string{Known: "38;5;63", Line: "38;5;131", Past: "38;5;243", Strong: "1"}

// Paint colours s by its role, if the page has colour.
func (p Page) Paint(r Role, s string) string {
	if !p.Color || s == "" {
		return s
	}
	return "\x1b[" + ink[r] + "m" + s + "\x1b[0m"
}

// Wrap breaks prose into lines that fit the page, each after indent blanks.
// Line breaks in s start a new paragraph. The result ends with a line break.
func (p Page) Wrap(s string, indent int) string {
	return p.Hang(s, indent, indent)
}

// Hang is Wrap with a first line that starts at another column than the rest.
func (p Page) Hang(s string, first, rest int) string {
	var b strings.Builder
	for i, paragraph := range strings.Split(strings.TrimRight(s, "\n"), "\n") {
		at := rest
		if i == 0 {
			at = first
		}
		line := strings.Repeat(" ", at)
		used := at
		empty := true
		for _, word := range strings.Fields(paragraph) {
			w := unpaintedWidth(word)
			if !empty && used+1+w > p.Width {
				b.WriteString(line + "\n")
				line, used, empty = strings.Repeat(" ", rest), rest, true
			}
			if !empty {
				line += " "
				used++
			}
			line += word
			used += w
			empty = false
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}

// ToASCII writes the few signs of our own text that are not ASCII in ASCII.
// Names and notes of the beekeeper are left as they are.
func ToASCII(s string) string { return asciiSigns.Replace(s) }

var asciiSigns = strings.NewReplacer("–", "-", "…", "...", "±", "+-", "×", "x", "µ", "u", "≥", ">=", "≤", "<=")

// Beside sets a text beside its label, which is padded to so many columns; what
// does not fit on the line goes below the text.
func (p Page) Beside(label string, wide int, s string, indent int) string {
	pad := max(wide-Wide(label), 1)
	body := p.Hang(s, indent+wide, indent+wide)
	return strings.Repeat(" ", indent) + label + strings.Repeat(" ", pad) + strings.TrimLeft(body, " ")
}
