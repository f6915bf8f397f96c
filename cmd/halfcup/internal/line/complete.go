package line

import (
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/decide"
	"halfcup/sampling"
)

// Candidate is what could stand for the word that is being typed. A word that
// ends with a colon or = is not complete, and no blank belongs behind it.
type Candidate struct {
	Word string
	What string // what it means, "" when it says so itself
}

// FileNames stands for the names of files, which the shell knows better.
const FileNames = "::files"

// Complete lists what could stand for the last of words.
func Complete(app *cli.App, words []string) []Candidate {
	if len(words) == 0 {
		return nil
	}
	typed, before := words[len(words)-1], words[:len(words)-1]
	s := sorter{app: app, args: before, seen: map[string]bool{}}
	for s.next < len(s.args) {
		last := s.next
		if err := s.step(); err != nil && s.next >= len(s.args) && looksLikeFlag(s.args[last]) {
			return startingWith(typed, "", valuesOf(s.flagOf(s.args[last])))
		}
	}
	if name, value, found := strings.Cut(typed, "="); found && looksLikeFlag(typed) {
		return startingWith(value, name+"=", valuesOf(s.flagOf(name)))
	}
	if strings.HasPrefix(typed, "-") {
		return startingWith(typed, "", s.flags())
	}
	return startingWith(typed, "", s.words())
}

// words are the commands, pages, methods or files that fit here.
func (s *sorter) words() []Candidate {
	from := s.app.Commands
	var out []Candidate
	if len(s.out.Path) > 0 {
		c := s.out.Path[len(s.out.Path)-1]
		from = c.Subcommands
		if takesCounts(c) {
			for _, m := range sampling.Methods() {
				out = append(out, Candidate{string(m) + ":", m.Title() + ", such as " + m.Example()})
			}
		}
		if strings.HasPrefix(c.ArgsUsage, "IN") {
			out = append(out, Candidate{Word: FileNames})
		}
		if strings.Contains(c.ArgsUsage, "TREATMENT") {
			out = append(out, treatments()...)
		}
	} else if s.out.Help {
		for _, page := range Pages {
			out = append(out, Candidate{page, "a page of help"})
		}
	}
	for _, c := range from {
		if !c.Hidden {
			out = append(out, Candidate{c.Name, c.Usage})
		}
	}
	return out
}

// takesCounts reports whether counts stand behind a command.
func takesCounts(c *cli.Command) bool { return strings.Contains(c.ArgsUsage, "COUNT") }

// startingWith keeps the candidates for what is typed behind lead.
func startingWith(typed, lead string, all []Candidate) []Candidate {
	var out []Candidate
	for _, c := range all {
		switch {
		case c.Word == FileNames:
			out = append(out, c)
		case strings.HasPrefix(c.Word, typed):
			out = append(out, Candidate{lead + c.Word, c.What})
		}
	}
	return out
}

func (s *sorter) flagOf(arg string) cli.Flag {
	f, _ := s.find(strings.TrimLeft(arg, "-"))
	return f
}

// flags is every flag that fits here, with its dashes.
func (s *sorter) flags() []Candidate {
	flags := s.app.Flags
	if len(s.out.Path) > 0 {
		flags = append(flags[:len(flags):len(flags)], s.out.Path[len(s.out.Path)-1].Flags...)
	}
	var out []Candidate
	for _, f := range flags {
		if Visible(f) {
			out = append(out, Candidate{"--" + f.Names()[0], DescribeFlag(f).What})
		}
	}
	return out
}

// valuesOf is what a flag can be given, as far as that is known beforehand.
func valuesOf(f cli.Flag) []Candidate {
	if f == nil {
		return nil
	}
	d := DescribeFlag(f)
	var out []Candidate
	for _, word := range strings.Split(d.Placeholder, "|") {
		switch {
		case word == "FILE" || strings.HasPrefix(word, "FILE."):
			out = append(out, Candidate{Word: FileNames})
		case word == "METHOD":
			for _, m := range sampling.Methods() {
				out = append(out, Candidate{string(m), m.Title()})
			}
		case strings.ToUpper(word) != word:
			out = append(out, Candidate{Word: word})
		}
	}
	switch f.Names()[0] {
	case "treatment":
		out = append(out, treatments()...)
	case "thresholds":
		for i, t := range decide.Thresholds() {
			if i == 0 || out[len(out)-1].Word != t.Set {
				out = append(out, Candidate{Word: t.Set})
			}
		}
	}
	return out
}

func treatments() []Candidate {
	var out []Candidate
	for _, t := range sampling.Treatments() {
		out = append(out, Candidate{t.Slug, t.TreatmentName.String()})
	}
	return out
}
