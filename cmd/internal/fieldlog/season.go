package fieldlog

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"halfcup/decide"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

// Check lists everything that is wrong with the record on a day, by line: the
// rows that cannot be read, and what no season can have been.
func (r *Record) Check(today sampling.Date) []*Problem {
	s := newSeason(r, today)
	s.walk(r.ByDate())
	bad := append(slices.Clone(r.Problems), s.bad...)
	sortProblems(bad)
	return bad
}

// CheckRows is what Check says of some rows of the record, in a time that
// depends on how much is told of their colonies and not on the rest of the record.
func (r *Record) CheckRows(today sampling.Date, rows []Event) []*Problem {
	s := newSeason(r, today)
	of := map[Colony]bool{} // whose rows have a say in it
	asked, labels := map[int]bool{}, map[string]bool{}
	for _, e := range rows {
		asked[e.Line] = true
		of[Of(e)] = true
		if e.Pair != "" {
			labels[SameName(e.Pair)] = true
		}
		// What ended the other colony may be a row of its own only.
		of[Colony{Of(e).Yard, SameName(e.Other)}] = true
	}
	for _, c := range r.colonies { // the others are names only
		if id := (Colony{SameName(c.Yard), SameName(c.Name)}); !of[id] {
			s.colonies[id] = &colonyState{name: c.Name}
		}
	}
	places := map[int]bool{}
	for id := range of {
		for _, i := range r.byColony[id] {
			places[i] = true
		}
	}
	for i := range r.Events {
		e := &r.Events[i]
		if asked[e.Line] || len(labels) > 0 && e.Pair != "" && labels[SameName(e.Pair)] {
			places[i] = true
		}
	}
	var events []Event
	for _, i := range slices.Sorted(maps.Keys(places)) {
		events = append(events, r.Events[i])
	}
	s.walk(byDate(events))
	var bad []*Problem
	for _, p := range slices.Concat(r.Problems, s.bad) {
		if asked[p.Line] {
			bad = append(bad, p)
		}
	}
	sortProblems(bad)
	return bad
}

func newSeason(r *Record, today sampling.Date) *season {
	return &season{Record: r, today: today, colonies: map[Colony]*colonyState{}, pairs: map[string][]Event{}}
}

// walk goes through events by date.
func (s *season) walk(events []Event) {
	for _, e := range events {
		if e.counts() {
			s.colony(e) // the first mention; a split may name a parent of later rows
		}
	}
	for _, e := range events {
		if e.Gone != 0 {
			continue
		}
		s.takesBack(e)
		if e.Kind == Undo {
			continue
		}
		if e.Double != 0 {
			s.fail(e, "date", fmt.Sprintf("this row says the same as line %d", e.Double), "delete one of them, or say in its note that it happened twice").answers = "counted once"
			continue
		}
		s.event(e)
	}
	s.pairing()
}

// takesBack looks whether a row that takes back another finds it.
func (s *season) takesBack(e Event) {
	if e.UndoOf == "" {
		return
	}
	if s.took == nil {
		s.took = map[int]bool{}
		for _, e := range s.Events {
			s.took[e.Gone] = true
		}
	}
	if !s.took[e.Line] {
		s.warn(e, "undo_of", fmt.Sprintf("this row takes back %q, and no earlier row is that", e.UndoOf), "check the id; a row can take back only one that stands above it")
	}
}

// season walks through the record by date and knows the state of each colony.
type season struct {
	*Record
	today    sampling.Date
	colonies map[Colony]*colonyState
	pairs    map[string][]Event
	bad      []*Problem

	strangers int          // colonies that no row tells of
	took      map[int]bool // lines that took back another
}

// mostHints is how many of them are held against every name of the record.
const mostHints = 100

// colonyState is what is known of a colony at one point of the walk. The
// events are nil while nothing of the kind happened.
type colonyState struct {
	name      string
	first     Event         // its first row by date
	ended     *Event        // died or united
	wasEnded  bool          // at some time before
	endedOn   sampling.Date // for the first time
	supers    *Event        // the last supers-on or supers-off
	brood     *Event        // the last row about a queen that lays no eggs, or lays again
	boardIn   *Event
	treatment []Event
}

func (s *season) colony(e Event) *colonyState {
	id := Of(e)
	if s.colonies[id] == nil {
		s.colonies[id] = &colonyState{name: e.Colony, first: e}
	}
	return s.colonies[id]
}

func (s *season) fail(e Event, column, message, remedy string) *Problem {
	p := s.ProblemAt(e, column, message, remedy)
	s.bad = append(s.bad, p)
	return p
}

func (s *season) warn(e Event, column, message, remedy string) *Problem {
	p := s.fail(e, column, message, remedy)
	p.Warning = true
	return p
}

// on names an earlier row.
func on(e Event) string { return fmt.Sprintf("on %s (line %d)", e.Date, e.Line) }

func (s *season) event(e Event) {
	c := s.colony(e)
	s.oldName(e)
	s.future(e)
	if c.ended != nil && e.Date > c.ended.Date {
		if e.Kind.Begins() {
			*c = colonyState{name: c.name, first: c.first, wasEnded: c.wasEnded, endedOn: c.endedOn}
		} else {
			how := "died"
			if c.ended.Kind == United {
				how = "was united with " + c.ended.Other
			}
			s.fail(e, "date", fmt.Sprintf("%s %s %s, so there can be no %s later", e.Colony, how, on(*c.ended), e.Kind), "check both dates and the name; where a new colony came into the hive, write down the day it was hived")
		}
	}
	if e.Kind.Ends() && !c.wasEnded {
		c.wasEnded, c.endedOn = true, e.Date
	}
	switch e.Kind {
	case Died:
		c.ended = &e
	case United:
		s.united(e)
		c.ended = &e
	case Renamed:
		s.renamed(e)
	case Split:
		s.split(e)
	case SupersOn:
		c.supers = &e
	case SupersOff:
		switch {
		case c.supers == nil:
			s.fail(e, "event", fmt.Sprintf("supers came off %s that were never on", e.Colony), "write the row of the day they went on")
		case c.supers.Kind == SupersOff:
			s.fail(e, "event", fmt.Sprintf("supers came off %s already %s", e.Colony, on(*c.supers)), "delete one of the rows, or write when they went on again")
		}
		c.supers = &e
	case BroodBreak, QueenCaged, QueenReleased:
		s.broodBreak(e, c)
		c.brood = &e
	case TreatmentEnd:
		s.treatmentEnd(e, c)
	case Hived:
		s.hived(e, c)
	case BoardIn:
		c.boardIn = &e
	case Treatment:
		c.treatment = append(c.treatment, e)
	case Count:
		s.count(e, c)
		if e.Pair != "" {
			label := SameName(e.Pair)
			s.pairs[label] = append(s.pairs[label], e)
		}
	}
}

const (
	// farAhead is how many days ahead a plan is believed.
	farAhead = 400

	// farOff is how many years from today a row is believed at all: a record
	// is kept by one person. What lies further off is a slip in the century,
	// and an answer from it would be worked out day by day from there.
	farOff = 60
)

// future looks at a date as seen from today.
func (s *season) future(e Event) {
	ahead := int(e.Date - s.today)
	switch {
	case misdated(e, s.today):
		s.bad = append(s.bad, s.misdated(e, s.today))
	case ahead < 0 && e.Mark == Planned:
		s.warn(e, "mark", fmt.Sprintf("this %s was planned and nobody wrote that it was done", e.Kind), "if it was: halfcup log done; if not: halfcup undo, or plan it anew").answers = "left out"
	case ahead <= 0:
	case !slices.Contains(plannable, e.Kind):
		s.warn(e, "date", fmt.Sprintf("this %s lies %s in the future", e.Kind, days(ahead)), "check the date; only treatments, brood breaks, supers and the like can be planned").answers = leftOut
	case e.Mark == Done:
		s.warn(e, "mark", fmt.Sprintf("this %s is marked done and lies %s in the future", e.Kind, days(ahead)), "check its date, or mark it planned")
	case ahead > farAhead:
		s.warn(e, "date", fmt.Sprintf("this %s is planned %s ahead", e.Kind, days(ahead)), "check the year")
	}
}

func misdated(e Event, today sampling.Date) bool {
	off := e.Date - today
	return off > farOff*366 || -off > farOff*366
}

func (r *Record) misdated(e Event, today sampling.Date) *Problem {
	where := fmt.Sprintf("%d years back", today.Time().Year()-e.Date.Time().Year())
	if e.Date > today {
		where = fmt.Sprintf("%d years ahead", e.Date.Time().Year()-today.Time().Year())
	}
	return r.ProblemAt(e, "date", fmt.Sprintf("this %s lies %s", e.Kind, where), "check its century, and which day --today says it is")
}

// Misdated are the rows so far from today that no answer can be worked out
// from them.
func (r *Record) Misdated(today sampling.Date) []*Problem {
	var out []*Problem
	for _, e := range r.Events {
		if misdated(e, today) {
			out = append(out, r.misdated(e, today))
		}
	}
	return out
}

// Usable is the record without what no answer can use on a day, and that by
// line: the rows that cannot be read, and those that are Misdated.
func (r *Record) Usable(today sampling.Date) (*Record, []*Problem) {
	bad := r.Misdated(today)
	far := len(bad) > 0
	var kept []*Problem
	for _, p := range r.Problems {
		if p.Warning {
			kept = append(kept, p)
		} else {
			bad = append(bad, p)
		}
	}
	if bad == nil {
		return r, nil
	}
	sortProblems(bad)
	u := *r
	u.Problems = kept
	if far {
		u.Events = slices.DeleteFunc(slices.Clone(r.Events), func(e Event) bool { return misdated(e, today) })
		u.index(0)
	}
	return &u, bad
}

// Doubts is what an answer has to tell of the record it rests on, a sentence
// each: what Check calls an error, and what is left out. Where colonies are
// given it is what concerns those.
func (r *Record) Doubts(today sampling.Date, of ...Colony) []string {
	var out []string
	var ahead []*Problem
	for _, p := range r.Check(today) {
		if p.Warning && p.answers == "" || p.colony == (Colony{}) {
			continue
		}
		if len(of) > 0 && !slices.ContainsFunc(of, func(c Colony) bool {
			return p.colony == Colony{SameName(c.Yard), SameName(c.Name)}
		}) {
			continue
		}
		if p.answers == leftOut {
			ahead = append(ahead, p)
			continue
		}
		s := fmt.Sprintf("%s:%d: %s", r.Path, p.Line, p.What)
		if p.answers != "" {
			s += "; it is " + p.answers
		}
		out = append(out, s+".")
	}
	switch {
	case len(ahead) == 1:
		out = append(out, fmt.Sprintf("%s:%d: %s; it is %s.", r.Path, ahead[0].Line, ahead[0].What, leftOut))
	case len(ahead) > 1:
		out = append(out, fmt.Sprintf("%s:%d and %d more: these lie in the future and are %s.", r.Path, ahead[0].Line, len(ahead)-1, leftOut))
	}
	if more := len(out) - mostDoubts; more > 0 {
		out = append(out[:mostDoubts], fmt.Sprintf("%s: %d more doubts of this kind; halfcup log check shows them.", r.Path, more))
	}
	return out
}

// leftOut is what becomes of what cannot have happened yet.
const leftOut = "left out until that day"

// mostDoubts is how many are told one by one.
const mostDoubts = 10

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// otherColony finds the other colony of a split or a union, and complains when
// no row of the record is about it.
func (s *season) otherColony(e Event) *colonyState {
	if c := s.colonies[Colony{SameName(e.Yard), SameName(e.Other)}]; c != nil {
		return c
	}
	var names []string
	for id, c := range s.colonies {
		if s.strangers > mostHints {
			break
		}
		if id.Yard == SameName(e.Yard) && id != Of(e) {
			names = append(names, c.name)
		}
	}
	s.strangers++
	slices.Sort(names)
	remedy := meant.Remedy(e.Other, names, "If not, write a row about it first, such as an inspection", "check the name, or write a row about it first, such as an inspection")
	where := "this yard"
	if e.Yard != "" {
		where = "the yard " + e.Yard
	}
	s.fail(e, "pair", fmt.Sprintf("no row tells of a colony %s in %s", e.Other, where), remedy)
	return nil
}

func (s *season) split(e Event) {
	if c := s.colony(e); c.first.Date < e.Date && c.ended == nil && !restarted(c, e) {
		s.fail(e, "colony", fmt.Sprintf("%s cannot be new: it is in the record since %s (line %d)", e.Colony, c.first.Date, c.first.Line), "in the row of a split, colony is the new part and pair the colony it was taken from")
	}
	if parent := s.otherColony(e); parent != nil && parent.ended != nil && parent.ended.Date < e.Date {
		s.fail(e, "pair", fmt.Sprintf("%s was no more: it %s %s", e.Other, parent.ended.Kind, on(*parent.ended)), "check both dates and the name")
	}
}

// restarted reports whether a split set up the colony anew after it had ended.
func restarted(c *colonyState, e Event) bool { return c.wasEnded && c.endedOn < e.Date }

func (s *season) united(e Event) {
	if c := s.otherColony(e); c != nil && c.ended != nil && c.ended.Date < e.Date {
		s.fail(e, "pair", fmt.Sprintf("nothing can be united with %s: it %s %s", e.Other, c.ended.Kind, on(*c.ended)), "check both dates and the name")
	}
}

func (s *season) broodBreak(e Event, c *colonyState) {
	running := c.brood != nil && !c.brood.Lays()
	column := "event"
	if e.Kind == BroodBreak {
		column = "brood"
	}
	switch {
	case !e.Lays() && running:
		s.fail(e, column, fmt.Sprintf("the brood break that began %s has not ended", on(*c.brood)), "write the day she laid again as a "+again(e)+", or delete this row")
	case e.Lays() && !running:
		s.fail(e, column, "this brood break ends and never began", "write the day she stopped laying as a "+stopped(e))
	}
}

// Lays reports whether the queen lays again by a row about a brood break.
func (e Event) Lays() bool {
	return e.Kind == QueenReleased || e.Kind == BroodBreak && e.Brood == BroodPresent
}

func again(e Event) string {
	if e.Kind == BroodBreak {
		return "brood-break with brood yes"
	}
	return string(QueenReleased)
}

func stopped(e Event) string {
	if e.Kind == BroodBreak {
		return "brood-break with brood no"
	}
	return string(QueenCaged)
}

// treatmentEnd looks whether anything lay in the hive that could come out.
func (s *season) treatmentEnd(e Event, c *colonyState) {
	var lay *Event
	for i, t := range c.treatment {
		if e.Treatment.Active == "" || e.Treatment == t.Treatment {
			lay = &c.treatment[i]
		}
	}
	what := "a treatment"
	if e.Treatment.Active != "" {
		what = e.Treatment.String()
	}
	if lay == nil {
		s.fail(e, "event", fmt.Sprintf("%s of %s ends and never began", what, e.Colony), "write the row of the day it was put in, or check the name")
	}
}

// hived refuses a swarm that is put into a hive that has one.
func (s *season) hived(e Event, c *colonyState) {
	if c.first.Date < e.Date && c.ended == nil && !restarted(c, e) {
		s.warn(e, "colony", fmt.Sprintf("%s is in the record since %s (line %d), and a swarm begins a colony", e.Colony, c.first.Date, c.first.Line), "give the new colony a name of its own")
	}
}

func (s *season) count(e Event, c *colonyState) {
	if e.Count.Method.Kind() != sampling.Fall {
		return
	}
	lay := boardDays(e)
	if c.boardIn != nil && float64(e.Date-c.boardIn.Date) < lay-1 {
		s.fail(e, "amount", fmt.Sprintf("the board went in %s, %s before it came out", on(*c.boardIn), days(int(e.Date-c.boardIn.Date))), "check the days and both dates; the date of a board is the day it came out")
	}
	if e.Count.Method != sampling.Knockdown {
		return
	}
	near, far := knockdownTreatment(e, c.treatment)
	if near != nil {
		return
	}
	remedy := "write the treatment as a row of its own with the day it was given, and boards that follow each other after one treatment as one count"
	switch {
	case far == nil:
		s.fail(e, "method", fmt.Sprintf("a knockdown follows a treatment, and no treatment of %s comes before it", e.Colony), remedy)
	case e.Count.Treatment.Active != "" && e.Count.Treatment != far.Treatment:
		s.fail(e, "active", fmt.Sprintf("this knockdown names %s, and the last treatment was %s %s", e.Count.Treatment, far.Treatment, on(*far)), "check which treatment it was")
	default:
		s.fail(e, "method", fmt.Sprintf("the last treatment of %s was %s, and this board went in %s later", e.Colony, on(*far), days(int(float64(e.Date)-lay)-int(far.Date))), remedy)
	}
}

func boardDays(e Event) float64 {
	if e.Count.Amount.Unit == sampling.Hours {
		return e.Count.Amount.Value / 24
	}
	return e.Count.Amount.Value
}

// knockdownTreatment finds the treatment a knockdown followed among those of
// its colony, nil when there is none. The far one is the last before the board
// came out, whatever it was.
func knockdownTreatment(e Event, treatments []Event) (near, far *Event) {
	given := make([]decide.TreatmentDay, len(treatments))
	for i, t := range treatments {
		given[i].On, given[i].Treatment.TreatmentName = t.Date, t.Treatment
		if known, err := t.Treatment.Find(); err == nil {
			given[i].Treatment = known
		}
	}
	fall := *e.Count
	fall.Date = e.Date
	its, last := decide.TreatmentOfFall(fall, given)
	if its >= 0 {
		near = &treatments[its]
	}
	if last >= 0 {
		far = &treatments[last]
	}
	return near, far
}

// TreatmentOf finds the treatment a knockdown count of the record followed.
func (r *Record) TreatmentOf(knockdown Event) (Event, bool) {
	var given []Event
	for _, e := range r.chosen(r.byColony[Of(knockdown)]) {
		if e.Kind == Treatment {
			given = append(given, e)
		}
	}
	if near, _ := knockdownTreatment(knockdown, given); near != nil {
		return *near, true
	}
	return Event{}, false
}

// pairDays is how far apart the two counts of a pair may be: a board is set
// beside a bee sample of the same week.
const pairDays = 7

func (s *season) pairing() {
	for _, pair := range s.pairs {
		slices.SortFunc(pair, func(a, b Event) int { return cmp.Compare(a.row, b.row) })
		last := pair[len(pair)-1]
		label := fmt.Sprintf("the pair %q", last.Pair)
		if len(pair) == 1 {
			s.fail(last, "pair", label+" has one count only", "give the other count of the pair the same label, or empty the cell")
			continue
		}
		first := pair[0]
		apart := last.Date - first.Date
		if apart < 0 {
			apart = -apart
		}
		bees := first.Count.Method.Kind() == sampling.BeeSample && last.Count.Method.Kind() == sampling.BeeSample
		switch {
		case len(pair) > 2:
			var lines []string
			for _, e := range pair {
				lines = append(lines, fmt.Sprint(e.Line))
			}
			s.fail(last, "pair", fmt.Sprintf("%s has %d counts (lines %s)", label, len(pair), strings.Join(lines, ", ")), "give every two counts a label of their own")
		case Of(first) != Of(last):
			s.fail(last, "pair", fmt.Sprintf("%s ties %s to %s (line %d)", label, last.Colony, first.Colony, first.Line), "both counts of a pair are of one colony; give each pair a label of its own")
		case first.Count.Method == last.Count.Method:
			s.fail(last, "pair", fmt.Sprintf("%s compares %s with itself (line %d)", label, last.Count.Method, first.Line), "a pair is a roll and a wash of the same bees, or a board beside a bee sample")
		case bees && apart > 0:
			s.fail(last, "pair", fmt.Sprintf("%s counts bees on two days (line %d)", label, first.Line), "both counts of the same bees are made on one day; check the dates")
		case apart > pairDays:
			s.fail(last, "pair", fmt.Sprintf("the counts of %s are %s apart (line %d)", label, days(int(apart)), first.Line), fmt.Sprintf("a board belongs beside a sample of the same week; check the dates, at most %d days apart", pairDays))
		}
	}
}
