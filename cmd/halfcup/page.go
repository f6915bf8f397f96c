package main

import (
	"fmt"
	"strings"

	"halfcup/cmd/halfcup/internal/line"
)

// page is a page of help. The program prints it and the manual has it as a
// section, so that both say the same.
type page struct {
	blocks []block
}

// block is a part of a page: a heading, a paragraph, then items or lines.
type block struct {
	heading string // "" for none
	text    string
	items   []item
	lines   []string // to be copied as they stand
}

// item is a word with what it means.
type item struct{ word, what string }

// print writes a page for people.
func (p page) print(sh *line.Shell) {
	for i, b := range p.blocks {
		if i > 0 {
			fmt.Fprintln(&sh.Out)
		}
		if b.heading != "" {
			fmt.Fprintln(&sh.Out, b.heading)
		}
		if b.text != "" {
			fmt.Fprint(&sh.Out, sh.Page.Wrap(b.text, 0))
		}
		printItems(sh, b.items)
		for _, l := range b.lines {
			fmt.Fprintln(&sh.Out, "  "+l)
		}
	}
}

// printItems writes words beside what they mean.
func printItems(sh *line.Shell, items []item) {
	const widest = 26 // a longer word gets a line of its own
	const narrowestText = 18
	column := 0
	for _, it := range items {
		if len(it.word) <= widest {
			column = max(column, len(it.word))
		}
	}
	if sh.Page.Width < column+4+narrowestText { // no room beside the words
		for _, it := range items {
			fmt.Fprint(&sh.Out, sh.Page.Hang(it.word, 2, 2), sh.Page.Wrap(it.what, 4))
		}
		return
	}
	for _, it := range items {
		lead := fmt.Sprintf("  %-*s  ", column, it.word)
		if len(it.word) > column {
			fmt.Fprintln(&sh.Out, "  "+it.word)
			lead = strings.Repeat(" ", column+4)
		}
		body := sh.Page.Wrap(it.what, column+4)
		fmt.Fprint(&sh.Out, strings.TrimRight(lead+body[min(column+4, len(body)-1):], " \n")+"\n")
	}
}
