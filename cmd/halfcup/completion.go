package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
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

func completionCommand(sh *line.Shell) *cli.Command {
	print := func(name string) *cli.Command {
		return &cli.Command{
			Name:      name,
			Usage:     "print the completion script for " + name,
			UsageText: "halfcup completion " + name,
			Action: func(c *cli.Context) error {
				if err := line.TakesNothing(c); err != nil {
					return err
				}
				_, err := sh.Out.WriteString(completionScripts[name])
				return err
			},
		}
	}
	return &cli.Command{
		Name:        "completion",
		Category:    line.GroupProgram,
		Usage:       "let the shell complete commands, flags and methods",
		Description: "Prints a script for your shell. bash: eval \"$(halfcup completion bash)\" in ~/.bashrc; zsh: the same with zsh in ~/.zshrc; fish: halfcup completion fish | source in config.fish.",
		Subcommands: []*cli.Command{
			print("bash"), print("zsh"), print("fish"),
			{
				Name:   "words",
				Hidden: true,
				Usage:  "print what could stand for the last of the words given",
				Action: func(c *cli.Context) error {
					for _, w := range line.Complete(sh.App, c.Args().Slice()) {
						fmt.Fprintln(&sh.Out, w)
					}
					return nil
				},
			},
		},
	}
}
