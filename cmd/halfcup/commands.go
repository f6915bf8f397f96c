package main

import "github.com/urfave/cli/v2"

// commands lists every command. To add one, write a file with a function that
// returns it and put the function here.
var commands = []func(*shell) *cli.Command{
	estimateCommand,
	enoughCommand,
	chooseCommand,
	tallyCommand,
	calibrateCommand,
	batchCommand,
	sourcesCommand,
	completionCommand,
	manCommand,
	roundsCommand,
	workedCommand,
	logCommand,
	forecastCommand,
	calendarCommand,
	yardCommand,
	trialCommand,
}

// The groups of the help, in the order they are shown.
const (
	groupCount    = "count"
	groupTreat    = "treat"
	groupSeason   = "season"
	groupChecking = "checking"
	groupProgram  = "program" // about the program itself; these read no settings
)

var groups = []string{groupCount, groupTreat, groupSeason, groupChecking, groupProgram}
