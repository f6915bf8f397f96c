package line

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/internal/show"
	"halfcup/internal/meant"
)

// Arranged is a command line sorted into its parts. The cli package takes
// flags only before the first count and shared flags only before the command;
// we take them anywhere, and so put them where it looks.
type Arranged struct {
	Path    []*cli.Command // the command and its subcommand
	shared  []string       // shared flags as --name or --name=value
	own     []string       // the command's flags, likewise
	rest    []string       // everything that is no flag
	Help    bool
	Short   bool   // the help that fits a screen
	Page    string // the page of help that was named, "" for none
	Version bool
}

// Canonical is the line in the order in which cli reads it.
func (a Arranged) Canonical() []string {
	line := append([]string{"halfcup"}, a.shared...)
	for _, c := range a.Path {
		line = append(line, c.Name)
	}
	line = append(line, a.own...)
	line = append(line, "--")
	return append(line, a.rest...)
}

// Arrange sorts args by the flags that app and its commands define.
func Arrange(app *cli.App, args []string) (Arranged, error) {
	s := sorter{app: app, args: args, seen: map[string]bool{}}
	for s.next < len(s.args) {
		if err := s.step(); err != nil {
			return Arranged{}, err
		}
	}
	return s.out, s.complete()
}

type sorter struct {
	app       *cli.App
	args      []string
	next      int
	flagsOver bool            // "--" was seen
	seen      map[string]bool // flags already given a value
	out       Arranged
}

// fail points at part of argument i in the line as it was typed.
func (s *sorter) fail(i, offset, length int, what, remedy string) error {
	text := "halfcup"
	for j, a := range s.args {
		if j == i {
			offset += len(text) + 1
		}
		text += " " + a
	}
	if i >= len(s.args) {
		offset = len(text) + 1
	}
	return &show.Problem{Text: text, Offset: offset, Length: length, What: what, Remedy: remedy}
}

func (s *sorter) step() error {
	i, arg := s.next, s.args[s.next]
	s.next++
	switch {
	case arg == "--" && !s.flagsOver:
		s.flagsOver = true
	case !s.flagsOver && looksLikeFlag(arg):
		return s.flag(i, arg)
	case !s.flagsOver && longDash(arg) > 0:
		n := longDash(arg)
		return s.fail(i, 0, n, "this is a long dash, as text programs make of two short ones", "write --"+arg[n:])
	case arg == "help" && len(s.out.Path) == 0:
		s.out.Help = true
	case arg == "version" && len(s.out.Path) == 0:
		s.out.Version = true
	case s.out.Help && len(s.out.Path) == 0 && slices.Contains(Pages, arg):
		s.out.Page = arg
	case len(s.out.Path) == 0:
		return s.command(i, arg, s.app.Commands, "halfcup")
	case len(s.out.Path) == 1 && len(s.out.Path[0].Subcommands) > 0:
		return s.command(i, arg, s.out.Path[0].Subcommands, "halfcup "+s.out.Path[0].Name)
	default:
		s.out.rest = append(s.out.rest, arg)
	}
	return nil
}

// looksLikeFlag leaves alone the single "-" that means stdin, and numbers
// below zero.
func looksLikeFlag(arg string) bool {
	if len(arg) < 2 || arg[0] != '-' {
		return false
	}
	return !(arg[1] >= '0' && arg[1] <= '9' || arg[1] == '.')
}

// longDash is the length in bytes of the dashes arg starts with that are not
// the plain one, 0 when there are none.
func longDash(arg string) int {
	return len(arg) - len(strings.TrimLeft(arg, "–—−"))
}

func (s *sorter) command(i int, name string, from []*cli.Command, parent string) error {
	var names []string
	for _, c := range from {
		if c.HasName(name) {
			s.out.Path = append(s.out.Path, c)
			return nil
		}
		if !c.Hidden {
			names = append(names, c.Name)
		}
	}
	if line, ok := asCounts(s.args[i:]); ok && parent == "halfcup" {
		return s.fail(i, 0, len(name), "the command is missing", "write "+joined(s.args[:i], []string{"estimate"}, line))
	}
	remedy := fmt.Sprintf("%s --help lists the commands", parent)
	if s.out.Help && parent == "halfcup" {
		names = append(names, Pages...)
		remedy += ", and the pages of help"
	}
	return s.fail(i, 0, len(name), fmt.Sprintf("there is no command %q", name), meant.Question(name, names, "")+remedy)
}

func (s *sorter) flag(i int, arg string) error {
	name, value, hasValue := strings.Cut(strings.TrimLeft(arg, "-"), "=")
	def, shared := s.find(name)
	switch {
	case def == nil:
		return s.unknown(i, arg, name)
	case def == helpFlag || def == versionFlag:
		s.out.Help = s.out.Help || def == helpFlag
		s.out.Short = s.out.Short || name == helpFlag.Aliases[0]
		s.out.Version = s.out.Version || def == versionFlag
		return nil
	}
	name = def.Names()[0]
	if _, isSwitch := def.(*cli.BoolFlag); isSwitch {
		if hasValue {
			return s.fail(i, 0, len(arg), "--"+name+" is a switch and takes no value", "write --"+name+" alone, or leave it out")
		}
		s.keep("--"+name, shared)
		return nil
	}
	if !hasValue {
		if s.next >= len(s.args) || s.isKnownFlag(s.args[s.next]) {
			return s.fail(i, 0, len(arg), "--"+name+" needs a value", "write it after the flag; halfcup"+s.where()+" --help shows what it can be")
		}
		value = s.args[s.next]
		s.next++
	}
	if _, many := def.(*cli.StringSliceFlag); s.seen[name] && !many {
		return s.fail(i, 0, len(arg), "--"+name+" is given twice", "leave one of them out")
	}
	s.seen[name] = true
	s.keep("--"+name+"="+value, shared)
	return nil
}

func (s *sorter) keep(flag string, shared bool) {
	if shared {
		s.out.shared = append(s.out.shared, flag)
	} else {
		s.out.own = append(s.out.own, flag)
	}
}

// find looks a flag up among the shared ones and those of the command named
// so far.
func (s *sorter) find(name string) (def cli.Flag, shared bool) {
	if f := flagNamed(s.app.Flags, name); f != nil {
		return f, true
	}
	if len(s.out.Path) == 0 {
		return nil, false
	}
	return flagNamed(s.out.Path[len(s.out.Path)-1].Flags, name), false
}

func flagNamed(flags []cli.Flag, name string) cli.Flag {
	for _, f := range flags {
		if slices.Contains(f.Names(), name) {
			return f
		}
	}
	return nil
}

func (s *sorter) isKnownFlag(arg string) bool {
	if arg == "--" {
		return true
	}
	if !looksLikeFlag(arg) {
		return false
	}
	name, _, _ := strings.Cut(strings.TrimLeft(arg, "-"), "=")
	def, _ := s.find(name)
	return def != nil
}

// where is the command named so far, with a blank before it.
func (s *sorter) where() string {
	text := ""
	for _, c := range s.out.Path {
		text += " " + c.Name
	}
	return text
}

func (s *sorter) unknown(i int, arg, name string) error {
	length := len(arg)
	if eq := strings.IndexByte(arg, '='); eq >= 0 {
		length = eq
	}
	if len(s.out.Path) == 0 {
		var owner string
		Walk(s.app.Commands, func(c *cli.Command) {
			if owner == "" && flagNamed(c.Flags, name) != nil {
				owner = c.Name
			}
		})
		if owner != "" {
			return s.fail(i, 0, length, fmt.Sprintf("--%s belongs to a command that is not named yet", name), "write it after the command, such as halfcup "+owner+" --"+name)
		}
	}
	flags := slices.Clone(s.app.Flags)
	what := fmt.Sprintf("there is no flag %s", arg[:length])
	if len(s.out.Path) > 0 {
		flags = append(flags, s.out.Path[len(s.out.Path)-1].Flags...)
		what = fmt.Sprintf("halfcup%s has no flag %s", s.where(), arg[:length])
	}
	var names []string
	for _, f := range flags {
		names = append(names, f.Names()[0])
	}
	remedy := fmt.Sprintf("%shalfcup%s --help lists the flags", meant.Question(name, names, "--"), s.where())
	return s.fail(i, 0, length, what, remedy)
}

// complete refuses a command that still lacks its subcommand, and a count in
// several words.
func (s *sorter) complete() error {
	if err := s.wholeCounts(); err != nil {
		return err
	}
	if len(s.out.Path) != 1 || s.out.Help || len(s.out.Path[0].Subcommands) == 0 {
		return nil
	}
	var names []string
	for _, c := range s.out.Path[0].Subcommands {
		if !c.Hidden {
			names = append(names, c.Name)
		}
	}
	return s.fail(len(s.args), 0, 1, "halfcup"+s.where()+" needs to be told what to do", "write one of "+strings.Join(names, ", ")+" after it")
}
