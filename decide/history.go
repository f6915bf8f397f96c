package decide

import (
	"math"
	"slices"

	"halfcup/sampling"
)

// History is all that is known to have happened to one colony, in any order.
type History struct {
	Assumptions sampling.Assumptions
	Year        Year
	Rates       Rates

	Counts     []sampling.Count // each with its date
	Treatments []TreatmentDay   // given and planned
	Ends       []TreatmentEnd   // days on which what lay in the hive came out
	Happenings []Happening
	Splits     []sampling.Date // days the colony was divided or made by division
	Arrivals   float64         // mites a day that come in from other colonies

	AdultBees float64 // on BeesOn; 0 when nobody knows
	BeesOn    sampling.Date

	// Ahead is how many days past the asked day forecasts may reach, at least
	// leastAhead; 0 for more than a year. A shorter time is quicker.
	Ahead int

	// Flat starts from no belief at all, so that what comes out is the
	// likelihood of the record and not yet a posterior. A yard needs that.
	Flat bool
}

const (
	// forgotten is how long before the first count a treatment still matters:
	// what a colony is like before its first count is a belief about colonies
	// as they are found, and those have been treated at some time.
	forgotten = 60

	// ahead is how many days past the asked day a path reaches, for forecasts,
	// and leastAhead how many one that is used again still must.
	ahead      = 500
	leastAhead = 100

	// splitLogSD is how unlike the two parts of a divided colony may be.
	splitLogSD = 0.3

	// longestBoard is how many days of boards that follow each other without a
	// gap are still read as one board.
	longestBoard = 10
)

// State is what is known of a colony on one day, and how it came about.
type State struct {
	Day     sampling.Date
	Known   sampling.Density // everything up to and with Day
	Before  sampling.Density // the same without the counts of Day
	Counts  []sampling.Count // the counts of Day
	Counted sampling.Date    // the last count, zero when there is none

	// Evidence is what each count did, in the order of the days.
	Evidence []sampling.Evidence

	since   sampling.Date    // the day from which growth is unsure
	counted sampling.Density // what was known after the last count, on its day
	last    countDay         // the counts of the last counted day
	until   sampling.Density // what was known on that day without them
	path    *Path
}

// On replays the history up to a day. Later counts are left out; treatments
// planned for later only matter for forecasts. Errors are *sampling.ValueError,
// *sampling.SyntaxError or sampling.ErrNoOverlap.
func (h History) On(day sampling.Date) (State, error) { return h.Continue(State{}, day) }

// Continue is On for who has an earlier state of the colony at hand: it comes to
// the same, without doing again what is done. The earlier state must come from
// the same history but for what was added on its day or later. Forecasts may
// reach a hundred days ahead.
func (h History) Continue(earlier State, day sampling.Date) (State, error) {
	if day.IsZero() {
		return State{}, &sampling.ValueError{Name: "day", Problem: "none is given", Remedy: "say for which day the answer is wanted"}
	}
	days, err := h.countDays(day)
	if err != nil {
		return State{}, err
	}
	first := day
	if len(days) > 0 {
		first = days[0].on
	}
	start := first
	for _, t := range h.Treatments {
		if t.On >= first-forgotten {
			start = min(start, t.On)
		}
	}
	s := State{Day: day, since: first}
	reach := sampling.Date(ahead)
	if h.Ahead != 0 {
		reach = sampling.Date(max(h.Ahead, leastAhead))
	}
	plan := PathPlan{
		First: start, Last: day + reach,
		Year: h.Year, Rates: h.Rates, Treatments: h.Treatments, Happenings: h.Happenings,
		Arrivals: h.Arrivals, AdultBees: h.AdultBees, BeesOn: h.BeesOn,
	}
	if plan.AdultBees != 0 && plan.BeesOn < start {
		plan.BeesOn = start
	}
	s.path = earlier.path
	if !s.path.covers(plan, day+leastAhead) {
		if s.path, err = NewPath(plan); err != nil {
			return State{}, err
		}
	}
	if s.path == earlier.path && earlier.Day == day && earlier.tells(days) {
		return earlier, nil
	}
	s.Known = h.Assumptions.Prior.Density()
	switch {
	case h.Flat:
		s.Known = sampling.Flat()
	case start < first:
		// A belief about colonies as they are found already knows of growth;
		// what it does not know is that this one was treated.
		s.Known = s.path.Treated(start, first).Apply(s.Known)
	}
	at := first
	done, carried := earlier.take(&s, days)
	if done > 0 {
		at = days[done-1].on
	}
	for i, d := range days[done:] {
		if i > 0 || !carried {
			if s.Known, err = h.carry(s, at, d.on); err != nil {
				return State{}, err
			}
		}
		at = d.on
		s.Before, s.Counts = s.Known, d.counts
		s.last, s.until = d, s.Known
		var evidence []sampling.Evidence
		if s.Known, evidence, err = h.Assumptions.Weigh(s.Before, d.counts); err != nil {
			return State{}, err
		}
		s.Evidence = append(s.Evidence, evidence...)
		s.since, s.Counted, s.counted = d.on, d.on, s.Known
	}
	if at == day && s.Counted == day {
		return s, nil
	}
	s.Known, err = h.carry(s, at, day)
	s.Before, s.Counts = s.Known, nil
	return s, err
}

// tells reports whether these are the counts that led to the state.
func (s State) tells(days []countDay) bool {
	seen := s.Evidence
	for _, d := range days {
		for _, c := range d.counts {
			if len(seen) == 0 || seen[0].Count != c {
				return false
			}
			seen = seen[1:]
		}
	}
	return len(seen) == 0
}

// take puts what came out of the first days of a record into a state of it,
// and says how many days those are, and whether what was known has been
// carried to the day after them, on which more was counted since.
func (s State) take(into *State, days []countDay) (done int, carried bool) {
	same := func(seen []sampling.Evidence, counts []sampling.Count) bool {
		return len(seen) >= len(counts) && !slices.ContainsFunc(counts, func(c sampling.Count) bool {
			first := seen[0].Count
			seen = seen[1:]
			return first != c
		})
	}
	seen := s.Evidence
	today := len(seen) - len(s.Counts) // where the counts of s.Day begin
	for i, d := range days {
		at := len(s.Evidence) - len(seen)
		switch {
		case len(seen) == 0:
			return i, false
		case at == today && d.on == s.Day:
			into.Known, into.Evidence = s.Before, slices.Clip(s.Evidence[:today])
			return i, true
		case !same(seen, d.counts):
			return 0, false
		}
		seen = seen[len(d.counts):]
		if len(seen) == 0 {
			into.Known, into.counted, into.Evidence = s.counted, s.counted, slices.Clip(s.Evidence)
			into.last, into.until = s.last, s.until
			into.since, into.Counted = d.on, d.on
		}
	}
	if len(seen) > 0 {
		return 0, false // the state is of a later day
	}
	return len(days), false
}

// carry moves what was known on one day to a later one. The moves are cut at
// splits, whose blur comes on their day.
func (h History) carry(s State, from, to sampling.Date) (sampling.Density, error) {
	d := s.Known
	variance := 0.0
	for _, on := range h.Splits {
		if on > from && on <= to {
			variance += splitLogSD * splitLogSD
		}
	}
	m, err := s.path.Move(s.since, from, to)
	if err != nil {
		return d, err
	}
	m.Variance += variance
	if h.Flat {
		return m.Carry(d), nil
	}
	return m.Apply(d), nil
}

// Forecast is what is known now of the colony on a later day.
func (s State) Forecast(day sampling.Date) (sampling.Density, error) {
	m, err := s.path.Move(s.since, s.Day, day)
	if err != nil {
		return sampling.Density{}, err
	}
	return m.Apply(s.Known), nil
}

// CappedBrood reports whether the colony has capped brood on a day from the
// start of its record on.
func (s State) CappedBrood(day sampling.Date) bool { return s.path.CappedBrood(day) }

// Rise is the chance, by the record before it, of the counts of the last
// counted day being so high or higher, the rarest of them: small when the mites
// rose faster than they can breed. It is 1 when there was nothing before them.
func (h History) Rise(s State) (float64, error) {
	if len(s.Evidence) <= len(s.last.counts) {
		return 1, nil
	}
	least := 1.0
	for _, c := range s.last.counts {
		p, err := h.Assumptions.Foresee(s.until, nil, c)
		if err != nil {
			return 0, err
		}
		least = math.Min(least, p.Chance(c.Mites, true))
	}
	return least, nil
}

// countDay is the counts that tell of one day.
type countDay struct {
	on     sampling.Date
	counts []sampling.Count
}

// countDays sorts the counts up to a day by the day they tell of. The fall
// after a treatment tells of the moment before it.
func (h History) countDays(last sampling.Date) ([]countDay, error) {
	var counts []sampling.Count
	for _, c := range h.Counts {
		if c.Date.IsZero() {
			return nil, &sampling.ValueError{Name: "count " + c.String(), Problem: "it has no date", Remedy: "add the day, such as " + c.String() + "@2026-08-06"}
		}
		if c.Date <= last {
			counts = append(counts, c)
		}
	}
	slices.SortStableFunc(counts, func(a, b sampling.Count) int { return int(a.Date - b.Date) })
	byDay := map[sampling.Date][]sampling.Count{}
	for _, c := range oneBoard(counts) {
		on := c.Date
		if c.Method == sampling.Knockdown {
			on = h.TreatedBefore(c)
		}
		byDay[on] = append(byDay[on], c)
	}
	var out []countDay
	for on, cs := range byDay {
		out = append(out, countDay{on, cs})
	}
	slices.SortFunc(out, func(a, b countDay) int { return int(a.on - b.on) })
	return out, nil
}

// TreatedBefore is the day of the treatment whose mites a knockdown counts: the last
// one of that ingredient before the board came out, or as many days before as
// the board lay when the record has none.
func (h History) TreatedBefore(c sampling.Count) sampling.Date {
	var on sampling.Date
	for _, t := range h.Treatments {
		if t.Treatment.Active == c.Treatment.Active && t.On <= c.Date && t.On > on {
			on = t.On
		}
	}
	lay := sampling.Date(math.Ceil(c.DaysOnBoard()))
	if on.IsZero() || on < c.Date-2*lay-longestBoard {
		on = c.Date - lay
	}
	return on
}

// oneBoard reads boards that follow each other without a gap as one, so that a
// board looked at twice tells as much as the same board looked at once.
func oneBoard(counts []sampling.Count) []sampling.Count {
	var out []sampling.Count
	for _, c := range counts {
		if c.Method == sampling.Board {
			i := slices.IndexFunc(out, func(o sampling.Count) bool {
				return o.Method == sampling.Board && o.Hive == c.Hive && o.Cells == c.Cells &&
					float64(c.Date-o.Date) == math.Round(c.DaysOnBoard()) &&
					o.DaysOnBoard()+c.DaysOnBoard() <= longestBoard
			})
			if i >= 0 {
				o := out[i]
				out = slices.Delete(out, i, i+1)
				c.Mites += o.Mites
				c.Amount = sampling.Amount{Value: o.DaysOnBoard() + c.DaysOnBoard(), Unit: sampling.Days}
			}
		}
		out = append(out, c)
	}
	return out
}

// CappedBrood reports whether a colony has capped brood at the start of a day,
// by its year and what happened to it.
func (h History) CappedBrood(day sampling.Date) bool {
	c := PathPlan{Year: h.Year, Rates: h.Rates, Happenings: h.Happenings}.colony(day-runIn, day)
	return c.capped[runIn]
}
