package main

import "github.com/urfave/cli/v2"

func (y *yardReading) writeSheet(string) error                    { return nil }
func (sh *shell) compareSeasons(*cli.Context, *yardReading) error { return nil }
func (sh *shell) yardPlan(*cli.Context) error                     { return nil }
