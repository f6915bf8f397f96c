package decide

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"halfcup/sampling"
)

// EventKind is what an event of the calendar is.
type EventKind string

// The kinds that no single colony has; the others are kinds of duties.
const (
	EventSeason    EventKind = "season"
	EventSupersOn  EventKind = "supers on"
	EventSupersOff EventKind = "supers off"
	EventCheck     EventKind = "check of all colonies"
	EventAfter     EventKind = "count after a treatment" // that is still planned
	EventWindow    EventKind = "treatment window"
)

// Event is a line of the calendar: something to do or to know of, at one
// colony or several.
type Event struct {
	Date, Until sampling.Date // the first and the last day; Until is zero when it is one day
	Kind        EventKind
	Duties      []Duty    // what it stands for, by day and colony; none of what no colony has to do
	Season      Season    // that begins
	Window      WindowOf  // of a treatment window
	Why         DueReason // of a check

	// Key names the event among all of the calendar and stays when it moves.
	Key string
}

// WindowOf is which of the times of the year a treatment can do its work in.
type WindowOf string

// The windows. Between them supers are on, or the mites sit in cells.
const (
	BeforeSupers  WindowOf = "before the supers"
	BetweenSupers WindowOf = "between two harvests"
	AfterSupers   WindowOf = "after the harvest" // while the winter bees are raised
	WithoutBrood  WindowOf = "without brood"
)

// Colonies are the colonies of the event, each once, in the order of its duties.
func (e Event) Colonies() []string {
	var out []string
	for _, d := range e.Duties {
		if !slices.Contains(out, d.Colony) {
			out = append(out, d.Colony)
		}
	}
	return out
}

// last is the last day of the event.
func (e Event) last() sampling.Date { return max(e.Date, e.Until) }

const (
	// oneVisit is within how many days what is due is one line of the calendar.
	oneVisit = 6

	// monthlyRows is how many lines a month has, where what is alike can be
	// brought together.
	monthlyRows = 4

	longestCalendar = 366
)

// Calendar is what there is to do from a day on, and the turns of the year, in
// order of their days; what is late stands first, on its own day. A colony has
// one count in it, the next; from then on the calendar has the checks of the
// year and the counts after planned treatments, because which further counts
// are worth making follows from the one before. Errors are those of On, or a
// *sampling.ValueError for days that cannot be.
func (a Apiary) Calendar(from sampling.Date, days int) ([]Event, error) {
	if from.IsZero() || days < 1 || days > longestCalendar {
		return nil, &sampling.ValueError{Name: "calendar", Problem: fmt.Sprintf("it cannot run %d days from %q", days, from), Remedy: fmt.Sprintf("give its first day, and 1 to %d days", longestCalendar)}
	}
	standings, err := a.On(from)
	if err != nil {
		return nil, err
	}
	until := from + sampling.Date(days)
	var duties, after []Duty
	for _, s := range standings {
		for _, d := range s.Duties() {
			if d.Day <= until {
				duties = append(duties, d)
			}
		}
		after = append(after, s.afterPlanned(until)...)
	}
	out := append(together(duties, ""), together(after, EventAfter)...)
	if len(a.Colonies) > 0 {
		out = append(out, a.yearEvents(standings, out, from, until)...)
	}
	slices.SortStableFunc(out, func(a, b Event) int { return cmp.Compare(a.Date, b.Date) })
	return keyed(thinned(out, from)), nil
}

// afterPlanned are the counts that tell what planned treatments did, where they
// come after the next count of the colony.
func (s Standing) afterPlanned(until sampling.Date) []Duty {
	var out []Duty
	for _, c := range s.now.History.Courses(s.Day) {
		on := c.SettledOn()
		if !s.now.History.Year.Flying(on) {
			on = s.now.History.Year.winterEnds(on)
		}
		if c.First > s.Day && on > s.Due && on <= until {
			out = append(out, Duty{Kind: DutyCount, Colony: s.Colony, Day: on, Treatment: c.Treatment, Why: DueSettled})
		}
	}
	return out
}

// sameWork reports whether two duties can be one line of the calendar. Counts can,
// whatever they are for.
func sameWork(a, b Duty) bool { return a.Kind == b.Kind && a.Treatment.Slug == b.Treatment.Slug }

// together makes one event of what is alike and due within one visit; its kind
// is that of the duties when none is given.
func together(duties []Duty, kind EventKind) []Event {
	slices.SortStableFunc(duties, func(a, b Duty) int {
		return cmp.Or(cmp.Compare(a.Kind.Rank(), b.Kind.Rank()),
			cmp.Compare(a.Treatment.Slug, b.Treatment.Slug), cmp.Compare(a.Day, b.Day))
	})
	var out []Event
	for _, d := range duties {
		e := Event{Date: d.Day, Kind: EventKind(d.Kind), Duties: []Duty{d}}
		if kind != "" {
			e.Kind = kind
		}
		if i := len(out) - 1; i >= 0 && sameWork(out[i].Duties[0], d) && d.Day <= out[i].Date+oneVisit {
			out[i] = out[i].with(e)
			continue
		}
		out = append(out, e)
	}
	return out
}

// with is an event and a later one of the same kind as one.
func (e Event) with(later Event) Event {
	e.Duties = append(slices.Clip(e.Duties), later.Duties...)
	if later.last() > e.Date {
		e.Until = max(e.Until, later.last())
	}
	return e
}

// thinned brings events together: all that are late and alike, and in a month
// with too many lines the nearest ones of a kind.
func thinned(events []Event, from sampling.Date) []Event {
	mergeable := func(a, b Event) bool { return len(a.Duties) > 0 && len(b.Duties) > 0 && a.Kind == b.Kind }
	join := func(i, j int) {
		events[i] = events[i].with(events[j])
		events = slices.Delete(events, j, j+1)
	}
	for i := 0; i < len(events); i++ {
		for j := i + 1; j < len(events); j++ {
			if events[j].Date < from && mergeable(events[i], events[j]) && sameWork(events[i].Duties[0], events[j].Duties[0]) {
				join(i, j)
				j--
			}
		}
	}
	month := func(d sampling.Date) string { return max(d, from).Time().Format("2006-01") }
	for {
		rows := map[string]int{}
		for _, e := range events {
			rows[month(e.Date)]++
		}
		first, second := -1, -1
		for i, e := range events {
			if rows[month(e.Date)] <= monthlyRows || e.Date < from {
				continue
			}
			for j := i + 1; j < len(events); j++ {
				near := first < 0 || events[j].Date-e.Date < events[second].Date-events[first].Date
				if month(events[j].Date) == month(e.Date) && mergeable(e, events[j]) && near {
					first, second = i, j
				}
			}
		}
		if first < 0 {
			return events
		}
		join(first, second)
	}
}

// keyed gives every event of duties its key: the first of a kind in a year
// keeps it when it moves, and what comes after it takes its place when it is
// done.
func keyed(events []Event) []Event {
	count := map[string]int{}
	for i := range events {
		e := &events[i]
		if e.Key != "" {
			continue
		}
		key := keyOf(string(e.Kind), e.Duties[0].Treatment.Slug, e.last().Time().Year())
		count[key]++
		e.Key = fmt.Sprintf("%s-%d", key, count[key])
	}
	return events
}

func keyOf(kind, name string, year int) string {
	return fmt.Sprintf("%s-%d", strings.ReplaceAll(strings.TrimSuffix(kind+"-"+name, "-"), " ", "-"), year)
}

// yearEvents are the turns of the year: seasons, supers, the checks that no
// forecast takes away, and the times in which a treatment can do its work.
// Others are the events of the colonies.
func (a Apiary) yearEvents(standings []Standing, others []Event, from, until sampling.Date) []Event {
	year, supers := a.Colonies[0].Year, a.Colonies[0].Supers
	var out []Event
	add := func(e Event) {
		if e.Date >= from && e.Date <= until {
			out = append(out, e)
		}
	}
	for _, season := range Seasons() {
		if on := year.Next(season, from-1); !on.IsZero() {
			add(Event{Date: on, Kind: EventSeason, Season: season, Key: keyOf("season", string(season), on.Time().Year())})
		}
	}
	for _, s := range supers.Times {
		add(Event{Date: s.On, Kind: EventSupersOn, Key: keyOf("supers on", s.On.Time().Format("01"), s.On.Time().Year())})
		if !s.Off.IsZero() {
			add(Event{Date: s.Off, Kind: EventSupersOff, Key: keyOf("supers off", s.Off.Time().Format("01"), s.Off.Time().Year())})
		}
	}
	last := from
	for _, s := range standings {
		last = max(last, s.Due)
	}
	for on := last; on < until; {
		first := check{}
		for _, c := range fixedChecks(year, supers, on) {
			if c.from > on && (first.from.IsZero() || c.from < first.from) {
				first = c
			}
		}
		if first.from.IsZero() {
			break
		}
		// The count after a planned treatment is a count of these days too.
		if !slices.ContainsFunc(others, func(e Event) bool {
			return e.Kind == EventAfter && e.Date >= first.from && e.Date <= first.to && len(e.Colonies()) == len(standings)
		}) {
			add(Event{Date: first.from, Until: first.to, Kind: EventCheck, Why: first.why, Key: keyOf("check", string(first.why), first.from.Time().Year())})
		}
		on = first.to
	}
	for _, w := range windows(year, supers, from, until) {
		// The window says that they come off.
		out = append(slices.DeleteFunc(out, func(e Event) bool { return e.Kind == EventSupersOff && e.Date == w.Date && w.Window == AfterSupers }), w)
	}
	return out
}

// windows are the times in which a treatment can do its work: before the
// supers go on, between two harvests, after the last while the winter bees are
// raised, and while there is no brood. No two of them share a day.
func windows(year Year, supers SupersPlan, from, until sampling.Date) []Event {
	var out []Event
	add := func(of WindowOf, first, last sampling.Date) {
		if n := len(out); n > 0 {
			first = max(first, out[n-1].last()+1)
		}
		if first <= last && last >= from && first <= until {
			out = append(out, Event{Date: max(first, from), Until: last, Kind: EventWindow, Window: of, Key: keyOf("window", string(of), last.Time().Year())})
		}
	}
	var winters []Window
	for d := from - 1; d <= until; {
		w, ok := year.WithoutBrood(d)
		if !ok {
			break
		}
		winters = append(winters, w)
		d = w.Until + 2
	}
	type open struct {
		of          WindowOf
		first, last sampling.Date
	}
	var opens []open
	for _, w := range winters {
		opens = append(opens, open{WithoutBrood, w.From, w.Until})
	}
	for i, s := range supers.Times {
		end := year.next(s.Off-120, time.August, 31)
		first, of := year.lately(s.On, time.March, 1), BeforeSupers
		if i > 0 {
			if before := supers.Times[i-1].Off; !before.IsZero() && before > first {
				first, of = before, BetweenSupers
			}
		}
		if first > s.On-200 {
			opens = append(opens, open{of, first, s.On - 1})
		}
		if i+1 < len(supers.Times) {
			end = min(end, supers.Times[i+1].On-1)
		}
		between := i+1 < len(supers.Times) && supers.Times[i+1].On-s.Off < 120
		if !s.Off.IsZero() && !between && s.Off <= end {
			opens = append(opens, open{AfterSupers, s.Off, end})
		}
	}
	slices.SortStableFunc(opens, func(a, b open) int { return cmp.Compare(a.first, b.first) })
	for _, o := range opens {
		add(o.of, o.first, o.last)
	}
	return out
}
