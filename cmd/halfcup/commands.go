package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/count"
	"halfcup/cmd/halfcup/internal/keep"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/halfcup/internal/season"
	"halfcup/cmd/halfcup/internal/treat"
)

// commands are the groups of commands, as the manual page has them in order.
var commands = []func(*line.Shell) []*cli.Command{
	count.Commands,
	keep.Commands,
	ownCommands,
	treat.Commands,
	season.Commands,
}

// ownCommands are those about the program itself.
func ownCommands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{completionCommand(sh), manCommand(sh)}
}

// run is the whole program.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	return halfcup().Run(args, stdin, stdout, stderr)
}

func halfcup() line.Program {
	return line.Program{Commands: commands, Welcome: printWelcome, Help: printHelp}
}
