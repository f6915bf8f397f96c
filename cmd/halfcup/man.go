package main

import "github.com/urfave/cli/v2"

func manCommand(sh *shell) *cli.Command {
	return &cli.Command{
		Name:        "man",
		Category:    groupProgram,
		Usage:       "print the manual page",
		UsageText:   "halfcup man",
		Description: "Writes the page in troff, for the man command: halfcup man > halfcup.1; man ./halfcup.1",
		Action: func(c *cli.Context) error {
			if err := takesNothing(c); err != nil {
				return err
			}
			page, err := sh.app.ToManWithSection(1)
			if err != nil {
				return err
			}
			_, err = sh.out.WriteString(page)
			return err
		},
	}
}
