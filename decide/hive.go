package decide

import (
	"math"

	"halfcup/sampling"
)

// carriedCV is how far off the adult bees of a colony are, as a CV, when they
// are worked out from a figure of another day. A judgement: as far as those
// that were told in frames.
const carriedCV = 0.2

// HiveOn is the hive on a day for the reading of a board: capped brood by the
// colony's year and what happened to it, and adult bees by its own last figure
// as they go through that year. A colony without a figure of its own has the
// bees of an ordinary one, and that is unsure: no two are alike.
func (h History) HiveOn(day sampling.Date) sampling.Hive {
	plan := PathPlan{Year: h.Year, Rates: h.Rates, Happenings: h.Happenings, AdultBees: h.AdultBees, BeesOn: h.BeesOn}
	start, last := day-runIn, day
	if plan.AdultBees > 0 {
		start, last = min(start, plan.BeesOn), max(last, plan.BeesOn)
	}
	c := plan.colony(start, last)
	i := int(day - start)
	out := sampling.Hive{AdultBees: math.Exp(c.logBees[i]), Broodless: !c.capped[i]}
	if plan.AdultBees > 0 {
		out.AdultBeesCV = carriedCV
	} else {
		out.AdultBeesCV, out.Ordinary = math.Sqrt(math.Expm1(h.Assumptions.BeesUnknownLogSD*h.Assumptions.BeesUnknownLogSD)), true
	}
	return out
}

// Over adds to a fall what nobody said of the hive over the board: its brood,
// unless that was said, and its bees, unless the fall has them. A knockdown tells of
// the day of its treatment. Counts of bees are as they were.
func (h History) Over(c sampling.Count, broodSaid bool) sampling.Count {
	if c.Method.Kind() != sampling.Fall || broodSaid && c.Hive.AdultBees > 0 {
		return c
	}
	on := c.Date
	if c.Method == sampling.Knockdown {
		on = h.TreatedBefore(c)
	}
	hive := h.HiveOn(on)
	if broodSaid {
		hive.Broodless = c.Hive.Broodless
	}
	if c.Hive.AdultBees > 0 {
		hive.AdultBees, hive.AdultBeesCV, hive.Ordinary = c.Hive.AdultBees, c.Hive.AdultBeesCV, false
	}
	c.Hive = hive
	return c
}

// sameHive reports whether two boards lay under one hive as far as anybody
// said: what an ordinary colony has changes from day to day.
func sameHive(a, b sampling.Hive) bool {
	if a.Ordinary && b.Ordinary {
		a.AdultBees, a.AdultBeesCV = b.AdultBees, b.AdultBeesCV
	}
	return a == b
}
