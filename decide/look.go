package decide

import (
	"fmt"

	"halfcup/sampling"
)

// Look is an apiary as it is seen on a day: every colony replayed and put beside
// the others, and none judged yet.
type Look struct{ v *visit }

// Look sees the apiary on a day. Errors are those of On.
func (a Apiary) Look(day sampling.Date) (Look, error) {
	v, err := a.visit(day)
	return Look{v}, err
}

// Of is the standing of one colony: what On gives for it. Errors are those of On,
// and a *sampling.ValueError for a colony that does not live on the day.
func (l Look) Of(colony int) (Standing, error) {
	if !l.Lives(colony) {
		return Standing{}, &sampling.ValueError{Name: "colony " + l.v.Colonies[colony].Name, Problem: fmt.Sprintf("it does not live on %s", l.v.now.day), Remedy: "ask for a day on which it is there"}
	}
	return l.v.standing(colony)
}

// Lives reports whether a colony is there on the day.
func (l Look) Lives(colony int) bool { return l.v.now.of(colony) >= 0 }
