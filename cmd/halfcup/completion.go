package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

// Each shell asks the program itself what could come next, so that completion
// knows whatever the program knows. The script hands over the words typed so
// far; the last one is the one being typed. The answer has a word a line, with
// a tab and what it means behind it. A word that ends with a colon or = is not
// complete, so that no blank is set behind it; ::files stands for file names.
var completionScripts = map[string]string{
	"bash": `# halfcup completion for bash: eval "$(halfcup completion bash)"
_halfcup() {
    local line="${COMP_LINE:0:COMP_POINT}" typed last word what
    IFS=' ' read -r -a typed <<<"$line"
    [[ "$line" == *' ' ]] && typed+=('')
    last="${typed[-1]}"
    COMPREPLY=()
    while IFS=$'\t' read -r word what; do
        if [[ "$word" == '::files' ]]; then
            compopt -o filenames
            while IFS= read -r word; do COMPREPLY+=("$word"); done < <(compgen -f -- "${last#*=}")
            continue
        fi
        [[ "$word" == *: || "$word" == *= ]] && compopt -o nospace
        # bash takes a colon and = for breaks between words
        if [[ "$last" == *[:=]* ]]; then word="${word#"${last%[:=]*}"}"; word="${word#[:=]}"; fi
        COMPREPLY+=("$word")
    done < <(halfcup completion words -- "${typed[@]:1}" 2>/dev/null)
}
complete -F _halfcup halfcup
`,
	"zsh": `#compdef halfcup
# halfcup completion for zsh: eval "$(halfcup completion zsh)"
_halfcup() {
    local -a whole begun
    local word what
    while IFS=$'\t' read -r word what; do
        case "$word" in
            ::files) [[ "$PREFIX" == --*=* ]] && compset -P '*='; _files ;;
            *:|*=) begun+=("$word") ;;
            *) whole+=("${word//:/\\:}:$what") ;;
        esac
    done < <(halfcup completion words -- "${(@)words[2,CURRENT]}" 2>/dev/null)
    (( ${#whole} )) && _describe -t halfcup 'halfcup' whole
    (( ${#begun} )) && compadd -S '' -- $begun
}
compdef _halfcup halfcup
`,
	"fish": `# halfcup completion for fish: halfcup completion fish | source
function __halfcup
    for found in (halfcup completion words -- (commandline -opc)[2..-1] (commandline -ct) 2>/dev/null)
        if string match -q '::files*' -- $found
            __fish_complete_path (string replace -r '^--[^=]*=' '' -- (commandline -ct))
        else
            echo $found
        end
    end
end
complete -c halfcup -f -a '(__halfcup)'
`,
	"powershell": `# halfcup completion for PowerShell: halfcup completion powershell | Out-String | Invoke-Expression
Register-ArgumentCompleter -Native -CommandName halfcup -ScriptBlock {
    param($word, $line, $cursor)
    $typed = @($line.CommandElements | Select-Object -Skip 1 | ForEach-Object { $_.ToString() })
    if ($word -eq '') { $typed += '""' }
    halfcup completion words -- @typed | ForEach-Object {
        $found, $what = $_ -split "` + "`" + `t", 2
        if ($found -eq '::files') {
            [Management.Automation.CompletionCompleters]::CompleteFilename($word)
        } else {
            if (-not $what) { $what = $found }
            [Management.Automation.CompletionResult]::new($found, $found, 'ParameterValue', $what)
        }
    }
}
`,
}

// shells are those there is a script for, in the order they are listed.
var shells = []string{"bash", "zsh", "fish", "powershell"}

func completionCommand(sh *line.Shell) *cli.Command {
	command := &cli.Command{
		Name:        "completion",
		Category:    line.GroupProgram,
		Usage:       "let the shell complete commands, flags, values and methods",
		Description: "Prints a script for your shell. bash: eval \"$(halfcup completion bash)\" in ~/.bashrc; zsh: the same with zsh in ~/.zshrc; fish: halfcup completion fish | source in config.fish; PowerShell: halfcup completion powershell | Out-String | Invoke-Expression in $PROFILE.",
	}
	for _, name := range shells {
		command.Subcommands = append(command.Subcommands, &cli.Command{
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
		})
	}
	command.Subcommands = append(command.Subcommands, &cli.Command{
		Name:   "words",
		Hidden: true,
		Usage:  "print what could stand for the last of the words given",
		Action: func(c *cli.Context) error {
			typed := c.Args().Slice()
			if n := len(typed); n > 0 && typed[n-1] == `""` {
				typed[n-1] = "" // older PowerShells drop an empty word, so that ours is quoted
			}
			for _, w := range line.Complete(sh.App, typed) {
				fmt.Fprintf(&sh.Out, "%s\t%s\n", w.Word, w.What)
			}
			return nil
		},
	})
	return command
}
