package line

import (
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/sampling"
)

// Complete lists what could stand for the last of words.
func Complete(app *cli.App, words []string) []string {
	if len(words) == 0 {
		return nil
	}
	typed, before := words[len(words)-1], words[:len(words)-1]
	s := sorter{app: app, args: before, seen: map[string]bool{}}
	for s.next < len(s.args) {
		last := s.next
		if err := s.step(); err != nil && s.next >= len(s.args) && looksLikeFlag(s.args[last]) {
			return startingWith(typed, valuesOf(s.flagOf(s.args[last])))
		}
	}
	if strings.HasPrefix(typed, "-") {
		return startingWith(typed, s.flagNames())
	}
	from, takesCounts := app.Commands, false
	if len(s.out.Path) > 0 {
		c := s.out.Path[len(s.out.Path)-1]
		from, takesCounts = c.Subcommands, strings.Contains(c.ArgsUsage, "COUNT")
	}
	var next []string
	for _, c := range from {
		if !c.Hidden {
			next = append(next, c.Name)
		}
	}
	if takesCounts {
		for _, m := range sampling.Methods() {
			next = append(next, string(m)+":")
		}
	}
	return startingWith(typed, next)
}

func startingWith(typed string, words []string) []string {
	var out []string
	for _, w := range words {
		if strings.HasPrefix(w, typed) {
			out = append(out, w)
		}
	}
	return out
}

func (s *sorter) flagOf(arg string) cli.Flag {
	f, _ := s.find(strings.TrimLeft(arg, "-"))
	return f
}

// flagNames is every flag that fits here, with its dashes.
func (s *sorter) flagNames() []string {
	flags := s.app.Flags
	if len(s.out.Path) > 0 {
		flags = append(flags[:len(flags):len(flags)], s.out.Path[len(s.out.Path)-1].Flags...)
	}
	var out []string
	for _, f := range flags {
		if !HiddenFlag(f) {
			out = append(out, "--"+f.Names()[0])
		}
	}
	return out
}

// HiddenFlag reports whether a flag is there only to say what took its place.
func HiddenFlag(f cli.Flag) bool {
	v, ok := f.(cli.VisibleFlag)
	return ok && !v.IsVisible()
}

// valuesOf is what a flag can be given, when that is a choice of words.
func valuesOf(f cli.Flag) []string {
	doc, ok := f.(cli.DocGenerationFlag)
	if !ok {
		return nil
	}
	_, rest, _ := strings.Cut(doc.GetUsage(), "`")
	placeholder, _, _ := strings.Cut(rest, "`")
	if !strings.Contains(placeholder, "|") {
		return nil
	}
	return strings.Split(placeholder, "|")
}
