package main

import (
	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
)

func manCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:        "man",
		Category:    line.GroupProgram,
		Usage:       "print the manual page",
		UsageText:   "halfcup man",
		Description: "Writes the page in troff, for the man command: halfcup man > halfcup.1; man ./halfcup.1",
		Action: func(c *cli.Context) error {
			if err := line.TakesNothing(c); err != nil {
				return err
			}
			page, err := sh.App.ToManWithSection(1)
			if err != nil {
				return err
			}
			_, err = sh.Out.WriteString(page)
			return err
		},
	}
}
