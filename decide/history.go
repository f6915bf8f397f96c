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

	// Prior is what is known of the colony on the day of the answer before any
	// count, in place of colonies in general at that time of the year; the zero
	// value for those.
	Prior sampling.Prior

	// Began is the day of the first row about the colony, of any kind; zero
	// takes the first count, treatment or happening.
	Began sampling.Date

	Counts     []sampling.Count // each with its date
	Treatments []TreatmentDay   // given and planned
	Ends       []TreatmentEnd   // days on which what lay in the hive came out
	Happenings []Happening
	Splits     []sampling.Date // days the colony was divided or made by division, swarmed or was united

	// Arrivals is the mites a day that come in from other colonies, see
	// Arrivals. They act on the days after the last count only: a count has
	// them in it.
	Arrivals float64

	AdultBees float64 // on BeesOn; 0 when nobody knows
	BeesOn    sampling.Date

	// Ahead is how many days past the asked day forecasts may reach, at least
	// leastAhead; 0 for more than a year. A shorter time is quicker.
	Ahead int
}

const (
	// ahead is how many days past the asked day a path reaches, for forecasts,
	// and leastAhead the fewest it does.
	ahead      = 500
	leastAhead = 100

	// splitLogSD is how unlike the two parts of a divided colony may be.
	splitLogSD = 0.3

	// longestBoard is how many days of boards that follow each other without a
	// gap are still read as one board.
	longestBoard = 10
)

// On replays the history up to a day. Later counts are left out; treatments
// planned for later only matter for forecasts, and a plan whose day has passed
// and that nobody confirmed acts on nothing. Errors are *sampling.ValueError,
// *sampling.SyntaxError or sampling.ErrNoOverlap.
//
// It begins with what is known of colonies in general on the day of the first
// row, moves that from count to count, and multiplies by what each count says.
// Between two counts, something may have happened that nobody wrote down: then
// the colony is as one that nobody has looked at.
func (h History) On(day sampling.Date) (State, error) { return h.Told(day, day) }

// Told is On with the counts made up to a later day as well, as far as they tell
// of the first: the fall after a treatment tells of the moment before it.
func (h History) Told(day, by sampling.Date) (State, error) {
	if day.IsZero() {
		return State{}, &sampling.ValueError{Name: "day", Problem: "none is given", Remedy: "say for which day the answer is wanted"}
	}
	h.Treatments = Acting(h.Treatments, day)
	days, err := h.countDays(day, max(day, by))
	if err != nil {
		return State{}, err
	}
	s, err := h.begin(day, days)
	if err != nil {
		return State{}, err
	}
	for _, d := range days {
		if err := s.count(d); err != nil {
			return State{}, err
		}
	}
	return s, s.settle()
}

// begin is the state before the first count, for an answer about a day.
func (h History) begin(day sampling.Date, days []countDay) (State, error) {
	s := State{Day: day, history: h, from: h.first(day, days)}
	s.began = s.from
	var err error
	if s.path, err = h.newPath(s.from, day); err != nil {
		return State{}, err
	}
	s.base = certain(h.unseen(s.from, day).Density())
	s.carried = s.base
	s.united, err = h.unions(s.path, s.from, day)
	s.unions = s.united
	return s, err
}

// first is the day a replay begins.
func (h History) first(day sampling.Date, counts []countDay) sampling.Date {
	first := day
	if len(counts) > 0 {
		first = counts[0].on
	}
	if !h.Began.IsZero() {
		first = min(first, h.Began)
	}
	for _, t := range h.Treatments {
		first = min(first, t.On)
	}
	for _, on := range h.Splits {
		first = min(first, on)
	}
	for _, e := range h.Happenings {
		first = min(first, e.On)
	}
	return first
}

func (h History) newPath(first, day sampling.Date) (*Path, error) {
	reach := sampling.Date(ahead)
	if h.Ahead != 0 {
		reach = sampling.Date(max(h.Ahead, leastAhead))
	}
	plan := PathPlan{
		First: first, Last: day + reach,
		Year: h.Year, Rates: h.Rates, Treatments: h.Treatments, Ends: h.Ends, Happenings: h.Happenings,
		Arrivals: h.Arrivals, AdultBees: h.AdultBees, BeesOn: h.BeesOn,
	}
	if plan.AdultBees != 0 && plan.BeesOn < first {
		plan.BeesOn = first
	}
	return NewPath(plan)
}

// countDay is the counts that tell of one day.
type countDay struct {
	on     sampling.Date
	counts []sampling.Count
}

// countDays sorts the counts made up to a day by the day they tell of, up to
// the last. The fall after a treatment tells of the moment before it.
func (h History) countDays(last, made sampling.Date) ([]countDay, error) {
	var counts []sampling.Count
	for _, c := range h.Counts {
		if c.Date.IsZero() {
			return nil, &sampling.ValueError{Name: "count " + c.String(), Problem: "it has no date", Remedy: "add the day, such as " + c.String() + "@2026-08-06"}
		}
		if c.Date <= made {
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
		if on <= last {
			out = append(out, countDay{on, cs})
		}
	}
	slices.SortFunc(out, func(a, b countDay) int { return int(a.on - b.on) })
	return out, nil
}

// oneBoard reads boards that follow each other without a gap as one, so that a
// board looked at twice tells as much as the same board looked at once.
func oneBoard(counts []sampling.Count) []sampling.Count {
	var out []sampling.Count
	for _, c := range counts {
		if c.Method == sampling.Board {
			i := slices.IndexFunc(out, func(o sampling.Count) bool {
				return o.Method == sampling.Board && sameHive(o.Hive, c.Hive) && o.Cells == c.Cells &&
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
