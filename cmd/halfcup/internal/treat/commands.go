// Package treat holds the commands about treatments: what fits a colony now,
// what rounds of one leave, whether one worked, and whether a plan for the year
// holds.
package treat

import (
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/decide"
	"halfcup/sampling"
)

// Commands are those about treatments.
func Commands(sh *line.Shell) []*cli.Command {
	return []*cli.Command{fitsCommand(sh), roundsCommand(sh), workedCommand(sh), planCommand(sh)}
}

// Answers are the answers of these commands in JSON, by the name of their
// schema: an empty one of each type.
func Answers() map[string]any {
	return map[string]any{
		"halfcup.fits/3": fitted{}, "halfcup.rounds/3": roundsJSON{}, "halfcup.worked/3": workedJSON{},
		"halfcup.worked-yard/2": workedYardAnswer{}, "halfcup.plan/3": planned{}, "halfcup.plans/1": plansJSON{},
	}
}

// sourcesOf are the figures of these names with where they come from.
func sourcesOf(names ...string) []sampling.Source {
	return slices.DeleteFunc(decide.Sources(), func(s sampling.Source) bool { return !slices.Contains(names, s.Name) })
}

// some is a pointer to n, nil for 0.
func some(n int) *int {
	if n == 0 {
		return nil
	}
	return &n
}
