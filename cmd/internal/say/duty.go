package say

import (
	"fmt"
	"strings"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// DueFor is why a count is due, in at most 26 letters.
func DueFor(why decide.DueReason) string {
	switch why {
	case decide.DueFirst:
		return "never counted"
	case decide.DueAge:
		return "last count is getting old"
	case decide.DueForecast:
		return "may be over the line then"
	case decide.DueBackIn:
		return "by your own days"
	case decide.DueNeighbour:
		return "a neighbour is in trouble"
	case decide.DueRobbing:
		return "robbing brings mites in"
	case decide.DueBoard:
		return "board: a second week"
	case decide.DueSettled:
		return "see what treatment left"
	case decide.DueCheck:
		return "does the treatment work?"
	case decide.DueTreat:
		return "if not treated by then"
	case decide.DueAgain:
		return "one more count decides"
	case decide.DueSpring:
		return "check before the supers"
	case decide.DueMidsummer:
		return "check before winter bees"
	case decide.DueArrivals:
		return "check after the summer"
	case decide.DueFirstFly:
		return "over 15 °C, pollen coming"
	}
	return string(why)
}

// DutyWords is what a duty is about, in at most 26 letters where the names of
// treatments are no longer than those of the table.
func DutyWords(d decide.Duty) string {
	switch d.Kind {
	case decide.DutyCount, decide.DutyCheck:
		return DueFor(d.Why)
	case decide.DutyTakeOut, decide.DutyTreatment, decide.DutySupers, decide.DutyConfirm:
		return treatmentWords(d.Treatment)
	case decide.DutyRound:
		return fmt.Sprintf("%s %d of %d", treatmentWords(d.Treatment), d.Round, d.Of)
	case decide.DutyTreat:
		return "halfcup fits says how"
	case decide.DutyBoardOut:
		return "a board tells most early"
	case decide.DutyQueenOut:
		return "her brood has hatched"
	case decide.DutyDroneOut:
		return "before the drones hatch"
	}
	return ""
}

// treatmentWords is a treatment in the words of a beekeeper, without a comma.
func treatmentWords(t sampling.Treatment) string { return t.Active + " " + t.Application }

// DutyName is a duty as the first word of a line, at most 13 letters.
func DutyName(k decide.DutyKind) string {
	switch k {
	case decide.DutyConfirm:
		return "given?"
	case decide.DutyTreatment:
		return "planned"
	case decide.DutyDroneOut:
		return "drones out"
	case decide.DutySupers:
		return "no supers yet"
	}
	return string(k)
}

// Some names some colonies in at most so many letters: all of them, or as many
// as there is room for and how many more there are.
func Some(names []string, all, width int) string {
	if len(names) == all && all > 3 {
		return fmt.Sprintf("all %d", all)
	}
	out := ""
	for n := len(names); n > 0; n-- {
		out = show.List(names[:n])
		if more := len(names) - n; more > 0 {
			out = fmt.Sprintf("%s and %d more", strings.Join(names[:n], ", "), more)
		}
		if show.Wide(out) <= width {
			return out
		}
	}
	if len(names) == 1 {
		return out
	}
	return fmt.Sprintf("%d colonies", len(names))
}
