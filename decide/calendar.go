package decide

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfcup/sampling"
)

// EventKind is what an event of the calendar is.
type EventKind string

// The kinds.
const (
	EventSeason     EventKind = "season"
	EventSupersOn   EventKind = "supers on"
	EventSupersOff  EventKind = "supers off"
	EventLook       EventKind = "look"
	EventFollowUp   EventKind = "follow-up count"
	EventTreatment  EventKind = "treatment"
	EventWindow     EventKind = "treatment window"
	EventSummerHigh EventKind = "late-summer high"
)

// Event is something to do, or to know of, in the year of a yard.
type Event struct {
	Date, Until sampling.Date // the first and the last day; Until is zero when it is one day
	Kind        EventKind
	Yard        string
	Colonies    []string // none when it is not about particular colonies
	Because     string   // a sentence without its full stop

	// Key names the event among all of the calendar and stays when the event is
	// moved: the third look of the year remains the third look.
	Key string
}

// Kept is a colony of the calendar as it is on its first day.
type Kept struct {
	Yard, Name string
	Situation
}

// Calendar is what a year's plan is made from.
type Calendar struct {
	From sampling.Date
	Days int
	Year
	Supers   []Supers
	Colonies []Kept

	// Summer and Winter are taken to be given in the windows for which the
	// record has no plan, so that later forecasts know of them.
	Summer, Winter sampling.Treatment
}

// Days that shape the plan; all are judgements unless said.
const (
	// visitDays is how many days' looks are put into one visit, and how long a
	// colony is left alone after one. A visit waits so many days for others
	// that are due, so that nobody drives twice in a week.
	visitDays  = 14
	visitWaits = 4

	// nearby is how many days a treatment of the record may lie before a window
	// and still be the one meant for it, and a follow-up after its day.
	nearby = 7

	// betweenRounds is taken for the rounds of a treatment of mites on bees.
	betweenRounds = 5

	// winterBees is how long after late summer begins the treatments of summer
	// should be over, so that the bees of winter, raised from then on, grow up
	// with few mites: with the default season on the last of August.
	winterBees = 30

	// windowAhead is how near a window must be for a colony over the line to
	// wait for it.
	windowAhead = 60

	longestCalendar = 366
)

// Events is the plan, by day. Errors are *sampling.ValueError or come from the
// colonies' records.
func (c Calendar) Events() ([]Event, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	out := c.seasonEvents()
	for _, yard := range c.yards() {
		events, err := c.yardEvents(yard)
		if err != nil {
			return nil, err
		}
		out = append(out, events...)
	}
	slices.SortStableFunc(out, func(a, b Event) int { return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.Until, b.Until)) })
	return out, nil
}

func (c Calendar) check() error {
	switch {
	case c.From.IsZero() || c.Days < 1 || c.Days > longestCalendar:
		return &sampling.ValueError{Name: "calendar", Problem: fmt.Sprintf("it cannot run %d days from %q", c.Days, c.From), Remedy: fmt.Sprintf("give its first day, and 1 to %d days", longestCalendar)}
	}
	if err := c.Year.check(); err != nil {
		return err
	}
	for _, s := range c.Supers {
		if s.On.IsZero() || s.Off <= s.On {
			return &sampling.ValueError{Name: "supers", Problem: fmt.Sprintf("they cannot be on from %q to %q", s.On, s.Off), Remedy: "give the day they go on and the day they come off"}
		}
	}
	for _, t := range []sampling.Treatment{c.Summer, c.Winter} {
		if err := (TreatmentDay{On: c.From, Treatment: t}).check(); err != nil {
			return err
		}
	}
	return nil
}

func (c Calendar) until() sampling.Date { return c.From + sampling.Date(c.Days) }

func (c Calendar) within(d sampling.Date) bool { return d >= c.From && d <= c.until() }

func (c Calendar) supersOn(d sampling.Date) bool {
	return slices.ContainsFunc(c.Supers, func(s Supers) bool { return s.On <= d && d < s.Off })
}

// supersAfter is the next day on which supers go on, zero when none do.
func (c Calendar) supersAfter(d sampling.Date) sampling.Date {
	var next sampling.Date
	for _, s := range c.Supers {
		if s.On > d && (next.IsZero() || s.On < next) {
			next = s.On
		}
	}
	return next
}

// yards lists the yards in the order of their colonies.
func (c Calendar) yards() []string {
	var out []string
	for _, k := range c.Colonies {
		if !slices.Contains(out, k.Yard) {
			out = append(out, k.Yard)
		}
	}
	return out
}

func year(d sampling.Date) int { return d.Time().Year() }

// seasonEvents are the turns of the year, which are the same for all yards.
func (c Calendar) seasonEvents() []Event {
	var out []Event
	for _, p := range []struct {
		season  Season
		because string
	}{
		{Spring, "brood and mites grow from here on"},
		{LateSummer, "bees dwindle and mites do not: mites per hundred rise, and winter bees are raised"},
		{Winter, "hardly a cell is capped any more: nearly every mite rides on the bees"},
	} {
		if d := c.Next(p.season, c.From-1); !d.IsZero() && c.within(d) {
			out = append(out, Event{Date: d, Kind: EventSeason, Because: string(p.season) + " begins: " + p.because, Key: fmt.Sprintf("season-%s-%d", p.season, year(d))})
		}
	}
	number := map[int]int{} // of the supers of a year
	for _, s := range c.sortedSupers() {
		number[year(s.On)]++
		key := fmt.Sprintf("%d-%d", year(s.On), number[year(s.On)])
		if c.within(s.On) {
			out = append(out, Event{Date: s.On, Until: s.Off - 1, Kind: EventSupersOn, Because: "honey flow: while supers are on, the label and the law decide what may be given at all", Key: "supers-on-" + key})
		}
		if c.within(s.Off) {
			because := "supers come off"
			if next := c.supersAfter(s.Off - 1); next.IsZero() || next > s.Off+150 {
				because = "harvest: the last supers of the year come off"
			}
			out = append(out, Event{Date: s.Off, Kind: EventSupersOff, Because: because, Key: "supers-off-" + key})
		}
	}
	return out
}

func (c Calendar) sortedSupers() []Supers {
	s := slices.Clone(c.Supers)
	slices.SortFunc(s, func(a, b Supers) int { return cmp.Compare(a.On, b.On) })
	return s
}

// yardEvents is the plan of one yard.
func (c Calendar) yardEvents(yard string) ([]Event, error) {
	p := yardPlan{Calendar: c, yard: yard, counted: map[int]int{}, extra: map[int]int{}}
	var days []sampling.Date
	for _, k := range c.Colonies {
		if k.Yard != yard {
			continue
		}
		p.colonies = append(p.colonies, &planned{Kept: k})
		for _, count := range k.History.Counts {
			if count.Method != sampling.Knockdown && count.Date <= c.From && !slices.Contains(days, count.Date) {
				days = append(days, count.Date)
				p.counted[year(count.Date)]++
			}
		}
	}
	p.plannedTreatments()
	high, err := p.summerHigh()
	if err != nil {
		return nil, err
	}
	p.add(high...)
	for _, w := range p.windows() {
		if err := p.open(w); err != nil {
			return nil, err
		}
	}
	return p.events, p.looks()
}

// yardPlan is a plan in the making.
type yardPlan struct {
	Calendar
	yard     string
	colonies []*planned
	events   []Event

	counted map[int]int // looks of a year so far
	extra   map[int]int // windows of a year that only forecasts asked for
}

// planned is a colony with the treatments that are taken to come.
type planned struct {
	Kept
	due, last sampling.Date // of the looks that are laid out
}

func (p *yardPlan) add(events ...Event) {
	for _, e := range events {
		e.Yard = p.yard
		if e.Until <= e.Date {
			e.Until = 0
		}
		if p.yard != "" {
			e.Key += "-" + strings.ReplaceAll(strings.ToLower(p.yard), " ", "-")
		}
		p.events = append(p.events, e)
	}
}

func names(colonies []*planned) []string {
	var out []string
	for _, k := range colonies {
		if k.Name != "" {
			out = append(out, k.Name)
		}
	}
	return out
}

// summerHigh is when mites per hundred get high in the coming late summer: from
// the first day on which half of the colonies would be over the line if nothing
// were done in that summer, or else from when bees dwindle, until no cell is
// capped any more.
func (p *yardPlan) summerHigh() ([]Event, error) {
	decline := p.Next(LateSummer, p.From-1)
	if now := p.Season(p.From); now == LateSummer || now == Autumn {
		decline = p.From
	}
	end := p.Next(Winter, decline)
	if end.IsZero() || end > decline+200 {
		end = p.Next(Spring, decline)
	}
	end -= SettleDays
	if !p.within(decline) || end <= decline {
		return nil, nil
	}
	e := Event{Date: decline, Until: end, Kind: EventSummerHigh, Colonies: names(p.colonies), Key: fmt.Sprintf("summer-high-%d", year(end))}
	start := max(p.From, min(decline, p.Next(Summer, decline-200)))
	states := make([]State, len(p.colonies))
	for i, k := range p.colonies {
		h := k.History
		h.Treatments = slices.DeleteFunc(slices.Clone(h.Treatments), func(t TreatmentDay) bool { return t.On >= start })
		var err error
		if states[i], err = h.On(p.From); err != nil {
			return nil, err
		}
	}
	for day := start; day <= end; day += 7 {
		over := 0
		for i, k := range p.colonies {
			known, err := states[i].Forecast(day)
			if err != nil {
				return nil, err
			}
			if known.Over(k.act(day)/100) >= 0.5 {
				over++
			}
		}
		if 2*over >= len(p.colonies) {
			e.Date = day
			e.Because = fmt.Sprintf("with nothing done, %d of %d would be over the line from here on; mites per hundred rise as bees dwindle, and mites fly in from other colonies", over, len(p.colonies))
			return []Event{e}, nil
		}
	}
	e.Because = "no forecast of most colonies passes the line, but mites per hundred rise as bees dwindle, and mites fly in from other colonies (Frey & Rosenkranz 2014, J Econ Entomol 107:508-515)"
	return []Event{e}, nil
}
