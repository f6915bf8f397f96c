package decide

import "halfcup/sampling"

// YardStanding is all colonies of an apiary on a day, with what is known of
// them together.
type YardStanding struct {
	Standings []Standing       // as On gives them
	Mean      sampling.Density // of the mites per bee of the colonies
	Over      []float64        // the chances that 0, 1, … all of them are over their lines

	// Counted is how many colonies were counted in the last three weeks, Jumps
	// and Drops how many of those have such an alarm; JumpAlarm and DropAlarm
	// say that these are more than chance brings.
	Counted, Jumps, Drops int
	JumpAlarm, DropAlarm  bool

	// Pair is a pair that is worth making today, nil when none is.
	Pair *PairAdvice

	pool *Pool
}

// alarmDays is how far back counts belong to one alarm of the yard.
const alarmDays = 21

// Yard is the whole yard on a day. It has no Mean and no Over when no colony
// lives. Errors are those of On.
func (a Apiary) Yard(day sampling.Date) (YardStanding, error) {
	var out YardStanding
	v, err := a.visit(day)
	if err != nil {
		return out, err
	}
	if out.Standings, err = v.standings(); err != nil || v.now.yard == nil {
		return out, err
	}
	out.pool = v.now.yard
	if out.Mean, err = out.pool.Mean(); err != nil {
		return out, err
	}
	var lines []float64
	for _, s := range out.Standings {
		lines = append(lines, s.Line.Act/100)
		if s.Counted.IsZero() || s.Age >= alarmDays {
			continue
		}
		out.Counted++
		if s.Jump {
			out.Jumps++
		}
		if s.Drop {
			out.Drops++
		}
	}
	out.Pair = v.pair()
	out.JumpAlarm, out.DropAlarm = YardAlarm(out.Jumps, out.Counted), YardDrop(out.Drops, out.Counted)
	out.Over, err = out.pool.Over(lines)
	return out, err
}

// Beside is where the yard stands beside other yards, and the share of the
// spread between colonies that lies between yards, with limits at a level. One
// colony alone tells nothing of either: ok is false.
func (y YardStanding) Beside(level float64) (standing, share Range, ok bool) {
	if y.pool == nil {
		return standing, share, false
	}
	standing, ok = y.pool.Standing(level)
	share, _ = y.pool.Share(level)
	return standing, share, ok
}

// ShareOver is the share of the colonies that are over their lines, with limits
// that take in at least the level asked for.
func (y YardStanding) ShareOver(level float64) Range {
	if len(y.Over) == 0 {
		return Range{}
	}
	return sharesOf(y.Over, level)
}
