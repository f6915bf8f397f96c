package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/sampling"
)

// Each shell asks the program itself what could come next, so that completion
// knows whatever the program knows. The script hands over the words typed so
// far; the last one is the one being typed.
var completionScripts = map[string]string{
	"bash": `# halfcup completion for bash: eval "$(halfcup completion bash)"
_halfcup() {
    local IFS=$'\n' line="${COMP_LINE:0:COMP_POINT}" words
    IFS=' ' read -r -a words <<<"$line"
    [[ "$line" == *' ' ]] && words+=('')
    COMPREPLY=($(halfcup completion words -- "${words[@]:1}" 2>/dev/null))
    # bash takes a colon for a break between words
    local last="${words[-1]}"
    if [[ "$last" == *:* ]]; then COMPREPLY=("${COMPREPLY[@]#"${last%:*}:"}"); fi
}
complete -o nospace -F _halfcup halfcup
`,
	"zsh": `#compdef halfcup
# halfcup completion for zsh: eval "$(halfcup completion zsh)"
_halfcup() {
    local -a found
    found=("${(@f)$(halfcup completion words -- "${(@)words[2,CURRENT]}" 2>/dev/null)}")
    compadd -S '' -a found
}
compdef _halfcup halfcup
`,
	"fish": `# halfcup completion for fish: halfcup completion fish | source
complete -c halfcup -f -a '(halfcup completion words -- (commandline -opc)[2..-1] (commandline -ct) 2>/dev/null)'
`,
}

func completionCommand(sh *shell) *cli.Command {
	print := func(name string) *cli.Command {
		return &cli.Command{
			Name:      name,
			Usage:     "print the completion script for " + name,
			UsageText: "halfcup completion " + name,
			Action: func(c *cli.Context) error {
				if err := takesNothing(c); err != nil {
					return err
				}
				_, err := sh.out.WriteString(completionScripts[name])
				return err
			},
		}
	}
	return &cli.Command{
		Name:        "completion",
		Category:    groupProgram,
		Usage:       "let the shell complete commands, flags and methods",
		Description: "Prints a script for your shell. bash: eval \"$(halfcup completion bash)\" in ~/.bashrc; zsh: the same with zsh in ~/.zshrc; fish: halfcup completion fish | source in config.fish.",
		Subcommands: []*cli.Command{
			print("bash"), print("zsh"), print("fish"),
			{
				Name:   "words",
				Hidden: true,
				Usage:  "print what could stand for the last of the words given",
				Action: func(c *cli.Context) error {
					for _, w := range complete(sh.app, c.Args().Slice()) {
						fmt.Fprintln(&sh.out, w)
					}
					return nil
				},
			},
		},
	}
}

// complete lists what could stand for the last of words.
func complete(app *cli.App, words []string) []string {
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
	if len(s.out.path) > 0 {
		c := s.out.path[len(s.out.path)-1]
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
	if len(s.out.path) > 0 {
		flags = append(flags[:len(flags):len(flags)], s.out.path[len(s.out.path)-1].Flags...)
	}
	var out []string
	for _, f := range flags {
		out = append(out, "--"+f.Names()[0])
	}
	return out
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
