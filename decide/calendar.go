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
	EventWindow    EventKind = "treatment window"
)

// Event is a line of the calendar: something to do or to know of, at one
// colony or several.
type Event struct {
	Date, Until sampling.Date // the first and the last day; Until is zero when it is one day
	Kind        EventKind
	Duties      []Duty    // what it stands for, by day and colony; none of what no colony has to do
	Season      Season    // that begins
	Why         DueReason // of a check

	// Key names the event among all of the calendar and stays when it moves.
	Key string
}

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

const (
	// oneVisit is within how many days what is due is one line of the calendar.
	oneVisit = 6

	longestCalendar = 366
)

// Calendar is what there is to do from a day on, and the turns of the year, in
// order of their days. What is late stands on its own day. A colony has one
// count in it, the next; from then on the calendar has the checks of the year,
// because which further counts are worth making follows from the one before.
// Errors are those of On, or a *sampling.ValueError for days that cannot be.
func (a Apiary) Calendar(from sampling.Date, days int) ([]Event, error) {
	if from.IsZero() || days < 1 || days > longestCalendar {
		return nil, &sampling.ValueError{Name: "calendar", Problem: fmt.Sprintf("it cannot run %d days from %q", days, from), Remedy: fmt.Sprintf("give its first day, and 1 to %d days", longestCalendar)}
	}
	standings, err := a.On(from)
	if err != nil {
		return nil, err
	}
	until := from + sampling.Date(days)
	var duties []Duty
	for _, s := range standings {
		for _, d := range s.Duties() {
			if d.Day <= until {
				duties = append(duties, d)
			}
		}
	}
	out := together(duties)
	if len(a.Colonies) > 0 {
		out = append(out, a.yearEvents(standings, from, until)...)
	}
	slices.SortStableFunc(out, func(a, b Event) int { return cmp.Compare(a.Date, b.Date) })
	return out, nil
}

// together makes one event of what is alike and due within one visit.
func together(duties []Duty) []Event {
	slices.SortStableFunc(duties, func(a, b Duty) int {
		return cmp.Or(cmp.Compare(slices.Index(dutyOrder, a.Kind), slices.Index(dutyOrder, b.Kind)),
			cmp.Compare(a.Treatment.Slug, b.Treatment.Slug), cmp.Compare(a.Day, b.Day))
	})
	var out []Event
	number := map[string]int{}
	for _, d := range duties {
		if i := len(out) - 1; i >= 0 && out[i].Kind == EventKind(d.Kind) && out[i].Duties[0].Treatment.Slug == d.Treatment.Slug && d.Day <= out[i].Date+oneVisit {
			out[i].Duties = append(out[i].Duties, d)
			if d.Day > out[i].Date {
				out[i].Until = d.Day
			}
			continue
		}
		key := fmt.Sprintf("%s-%d", strings.ReplaceAll(strings.TrimSuffix(string(d.Kind)+"-"+d.Treatment.Slug, "-"), " ", "-"), d.Day.Time().Year())
		number[key]++
		out = append(out, Event{Date: d.Day, Kind: EventKind(d.Kind), Duties: []Duty{d}, Key: fmt.Sprintf("%s-%d", key, number[key])})
	}
	return out
}

// yearEvents are the turns of the year: seasons, supers, the checks that no
// forecast takes away, and the times in which a treatment can do its work.
func (a Apiary) yearEvents(standings []Standing, from, until sampling.Date) []Event {
	year, supers := a.Colonies[0].Year, a.Colonies[0].Supers
	var out []Event
	add := func(e Event) {
		if e.Date >= from && e.Date <= until || e.Until >= from && e.Date <= until && e.Kind == EventWindow {
			e.Date = max(e.Date, from)
			out = append(out, e)
		}
	}
	for _, season := range Seasons() {
		if on := year.Next(season, from-1); !on.IsZero() {
			add(Event{Date: on, Kind: EventSeason, Season: season, Key: fmt.Sprintf("season-%s-%d", season, on.Time().Year())})
		}
	}
	for i, s := range supers.Times {
		add(Event{Date: s.On, Kind: EventSupersOn, Key: fmt.Sprintf("supers-on-%d-%d", s.On.Time().Year(), i)})
		if !s.Off.IsZero() {
			add(Event{Date: s.Off, Kind: EventSupersOff, Key: fmt.Sprintf("supers-off-%d-%d", s.Off.Time().Year(), i)})
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
		add(Event{Date: first.from, Until: first.to, Kind: EventCheck, Why: first.why, Key: fmt.Sprintf("check-%s-%d", strings.ReplaceAll(string(first.why), " ", "-"), first.from.Time().Year())})
		on = first.to
	}
	return append(out, a.windows(year, supers, from, until)...)
}

// windows are the times in which a treatment can do its work: after the
// harvest, while the winter bees are raised, and while there is no brood.
func (a Apiary) windows(year Year, supers SupersPlan, from, until sampling.Date) []Event {
	var out []Event
	add := func(name string, first, last sampling.Date) {
		if last >= from && first <= until && first < last {
			out = append(out, Event{Date: max(first, from), Until: last, Kind: EventWindow, Key: fmt.Sprintf("window-%s-%d", name, first.Time().Year())})
		}
	}
	for _, s := range supers.Times {
		end := year.next(s.Off-120, time.August, 31)
		if !s.Off.IsZero() && s.Off <= end && end-s.Off < 120 {
			add("summer", s.Off, end)
		}
	}
	for d := from; d <= until; {
		w, ok := year.WithoutBrood(d)
		if !ok {
			break
		}
		add("winter", w.From, w.Until)
		d = w.Until + 2
	}
	return out
}
