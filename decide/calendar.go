package decide

import (
	"cmp"
	"fmt"
	"math"
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

// Supers is a time with honey supers on, from the day On to the day before Off.
type Supers struct{ On, Off sampling.Date }

// Kept is a colony of the calendar as it is on its first day.
type Kept struct {
	Yard, Name string
	Situation
}

// Calendar is what a year's plan is made from.
type Calendar struct {
	From sampling.Date
	Days int
	Season
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

	// winterBees is how long after decline begins the treatments of summer
	// should be over, so that the bees of winter, raised from then on, grow up
	// with few mites: with the default season on the last of August.
	winterBees = 30

	// windowAhead is how near a window must be for a colony over the line to
	// wait for it.
	windowAhead = 60

	longestCalendar = 366
)

// window is a time in which a treatment can do its work.
type window struct {
	Event
	treatment sampling.Treatment
	rounds    []sampling.Date
}

// ends is the last day of the treatment in the window.
func (w window) ends() sampling.Date {
	last := w.rounds[len(w.rounds)-1]
	if w.treatment.Days > 1 {
		last += sampling.Date(w.treatment.Days)
	}
	return last
}

func (w window) days() []TreatmentDay {
	var out []TreatmentDay
	for _, d := range w.rounds {
		out = append(out, TreatmentDay{d, w.treatment})
	}
	return out
}

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
	case len(c.phases) == 0:
		return &sampling.ValueError{Name: "season", Problem: "none is given", Remedy: "make one with NewSeason"}
	}
	for _, s := range c.Supers {
		if s.On.IsZero() || s.Off <= s.On {
			return &sampling.ValueError{Name: "supers", Problem: fmt.Sprintf("they cannot be on from %q to %q", s.On, s.Off), Remedy: "give the day they go on and the day they come off"}
		}
	}
	for _, t := range []sampling.Treatment{c.Summer, c.Winter} {
		if err := (TreatmentDay{c.From, t}).check(); err != nil {
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
		phase   Phase
		because string
	}{
		{Buildup, "brood and mites grow from here on"},
		{Decline, "bees dwindle and mites do not: mites per hundred rise, and winter bees are raised"},
		{Broodless, "no cell is capped: every mite rides on the bees"},
	} {
		if d := c.Next(p.phase, c.From-1); !d.IsZero() && c.within(d) {
			out = append(out, Event{Date: d, Kind: EventSeason, Because: string(p.phase) + " begins: " + p.because, Key: fmt.Sprintf("season-%s-%d", p.phase, year(d))})
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

// plannedTreatments are the rounds of the days to come that the record has.
// They are numbered with those of the year that are past.
func (p *yardPlan) plannedTreatments() {
	type round struct {
		slug string
		on   sampling.Date
	}
	given := map[round][]*planned{}
	var order []round
	for _, k := range p.colonies {
		for _, t := range k.History.Treatments {
			r := round{t.Treatment.Slug, t.On}
			if given[r] == nil {
				order = append(order, r)
			}
			given[r] = append(given[r], k)
		}
	}
	slices.SortStableFunc(order, func(a, b round) int { return cmp.Compare(a.on, b.on) })
	number := map[string]int{}
	for _, r := range order {
		name := fmt.Sprintf("%s-%d", r.slug, year(r.on))
		number[name]++
		if !p.within(r.on) {
			continue
		}
		t, err := sampling.FindTreatment(r.slug)
		if err != nil {
			continue // a treatment of the caller's own has no name to show
		}
		e := Event{Date: r.on, Kind: EventTreatment, Colonies: names(given[r]), Because: t.TreatmentName.String() + ", as planned in the record", Key: fmt.Sprintf("treatment-%s-%d", name, number[name])}
		if t.Days > 1 {
			e.Until = r.on + sampling.Date(t.Days)
		}
		if p.supersOn(r.on) {
			e.Because += "; supers are on that day, so look at the label"
		}
		p.add(e)
	}
}

// windows are the times of the year in which a treatment can do its work: after
// the harvest, and without brood.
func (p *yardPlan) windows() []window {
	var out []window
	for i, s := range p.sortedSupers() {
		next := sampling.Date(math.MaxInt32)
		if i+1 < len(p.Supers) {
			next = p.sortedSupers()[i+1].On
		}
		if next <= s.Off+150 {
			continue // not the last supers of the year
		}
		decline := p.Next(Decline, s.Off-120)
		if w, ok := p.window("summer", p.Summer, s.Off+1, decline+winterBees); ok {
			how := fmt.Sprintf("a treatment that lies in the hive for %d days outlasts it", w.treatment.Days)
			switch {
			case w.treatment.ActsInBrood:
				how = "a treatment that reaches into the cells needs no rounds"
			case !w.treatment.WholeColony:
				how = fmt.Sprintf("%d rounds every %d days outlast it", len(w.rounds), betweenRounds)
			}
			w.Because = "supers are off and there is capped brood: " + how + ", and winter bees then grow up with few mites"
			out = append(out, w)
		}
	}
	for at := p.From - 60; ; {
		start := p.Next(Broodless, at)
		if start.IsZero() || start > p.until() {
			return out
		}
		end := p.Next(Buildup, start)
		if dormant := p.Next(Dormant, start); !dormant.IsZero() && dormant < end {
			end = dormant
		}
		if w, ok := p.window("winter", p.Winter, start, end-1); ok {
			w.Because = "no capped brood: one treatment reaches every mite"
			out = append(out, w)
		}
		at = start
	}
}

// window is a window from a day on, when any of it is still to come.
func (p *yardPlan) window(name string, t sampling.Treatment, from, until sampling.Date) (window, bool) {
	w := window{treatment: t, Event: Event{Kind: EventWindow, Key: fmt.Sprintf("window-%s-%d", name, year(from))}}
	w.Date, w.Until = from, until
	start := max(from, p.From)
	if start > max(until, from) || start > p.until() {
		return w, false
	}
	w.rounds = p.roundsFrom(t, start)
	w.Until = max(w.Until, w.ends())
	return w, true
}

// roundsFrom is the days of a treatment: rounds that outlast the capped brood,
// one where no cell is capped or the treatment does not need them.
func (p *yardPlan) roundsFrom(t sampling.Treatment, start sampling.Date) []sampling.Date {
	rounds := 1
	if !t.WholeColony && !t.ActsInBrood && (History{Season: p.Season}).CappedBrood(start) {
		rounds = Spanning(betweenRounds)
	}
	var out []sampling.Date
	for i := range rounds {
		out = append(out, start+sampling.Date(i*betweenRounds))
	}
	return out
}

// open puts a window into the plan for the colonies that have no treatment of
// their own in it, and takes it to be used.
func (p *yardPlan) open(w window) error {
	var without []*planned
	for _, k := range p.colonies {
		own := slices.ContainsFunc(k.History.Treatments, func(t TreatmentDay) bool { return t.On >= w.Date-nearby && t.On <= w.Until })
		if !own {
			without = append(without, k)
		}
	}
	if len(without) == 0 {
		return nil
	}
	over := 0
	for _, k := range without {
		known, err := k.State.Forecast(w.rounds[0])
		if err != nil {
			return err
		}
		if known.Over(k.act(w.rounds[0])/100) >= 0.5 {
			over++
		}
	}
	for _, k := range without {
		if err := k.plan(w.days()); err != nil {
			return err
		}
	}
	e := w.Event
	e.Colonies = names(without)
	if e.Colonies != nil {
		e.Because += fmt.Sprintf("; by forecast %d of %d would be over the line by then", over, len(without))
	}
	p.add(e)
	return nil
}

// plan adds treatments to come and replays the record with them.
func (k *planned) plan(days []TreatmentDay) error {
	k.History.Treatments = append(slices.Clone(k.History.Treatments), days...)
	var err error
	k.State, err = k.History.On(k.State.Day)
	return err
}

// summerHigh is when mites per hundred get high in the coming late summer: from
// the first day on which half of the colonies would be over the line if nothing
// were done in that summer, or else from when bees dwindle, until no cell is
// capped any more.
func (p *yardPlan) summerHigh() ([]Event, error) {
	decline := p.Next(Decline, p.From-1)
	if p.Phase(p.From) == Decline {
		decline = p.From
	}
	end := p.Next(Broodless, decline)
	if end.IsZero() || end > decline+200 {
		end = p.Next(Buildup, decline)
	}
	end -= SettleDays
	if !p.within(decline) || end <= decline {
		return nil, nil
	}
	e := Event{Date: decline, Until: end, Kind: EventSummerHigh, Colonies: names(p.colonies), Key: fmt.Sprintf("summer-high-%d", year(end))}
	start := max(p.From, min(decline, p.Next(Peak, decline-200)))
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

// looks lays out the visits. Each colony is due on the next look of its own
// judgement; the colonies of a yard that are due in one week are seen together.
// A look that is still to come is taken to show what the forecast expects, and
// the one after it follows from that.
func (p *yardPlan) looks() error {
	for _, k := range p.colonies {
		j, err := k.Judge()
		if err != nil {
			return err
		}
		k.due = max(j.NextLook, p.From)
		if !k.counted() {
			k.due = p.warm(k.due)
		}
		k.due = k.aroundTreatments(k.due, p.From, p.From)
	}
	for {
		first := p.until() + 1
		for _, k := range p.colonies {
			first = min(first, k.due)
		}
		if first > p.until() {
			return nil
		}
		visit := p.together(first)
		var due []*planned
		for _, k := range p.colonies {
			rested := k.last.IsZero() || k.last+visitDays-visitWaits <= visit
			if k.due <= visit || k.due < visit+visitDays && rested && k.settled(visit) == visit {
				due = append(due, k)
			}
		}
		e, err := p.look(visit, due)
		if err != nil {
			return err
		}
		p.add(e)
		for _, k := range due {
			k.last = visit
			if err := p.seen(k, visit); err != nil {
				return err
			}
		}
	}
}

// together is the day of a visit that may wait some days for others, but not
// into the days in which a count cannot tell what a treatment did.
func (p *yardPlan) together(first sampling.Date) sampling.Date {
	visit := first
	for _, k := range p.colonies {
		if first > p.From && k.due <= first+visitWaits {
			visit = max(visit, k.due)
		}
	}
	for _, k := range p.colonies {
		if k.due <= visit && k.settled(visit) != visit {
			return first
		}
	}
	return visit
}

// warm moves a look out of the cold, when nobody takes bees from a hive that
// can wait.
func (p *yardPlan) warm(day sampling.Date) sampling.Date {
	if phase := p.Phase(day); phase == Broodless || phase == Dormant {
		return p.Next(Buildup, day)
	}
	return day
}

// look is the event of a visit.
func (p *yardPlan) look(day sampling.Date, due []*planned) (Event, error) {
	p.counted[year(day)]++
	e := Event{Date: day, Kind: EventLook, Colonies: names(due), Key: fmt.Sprintf("look-%d-%d", year(day), p.counted[year(day)])}
	var settled []*planned
	for _, k := range due {
		if k.settlesOn(day) {
			settled = append(settled, k)
		}
	}
	if settled != nil {
		e.Kind = EventFollowUp
		e.Because = "the cells that were capped during the treatment have opened: a count now tells whether it worked"
		if len(settled) < len(due) {
			e.Because += " in " + strings.Join(names(settled), ", ")
		}
		return e, nil
	}
	if slices.ContainsFunc(due, func(k *planned) bool { return k.nextTreatment(day) == day+1 }) {
		e.Because = "before the treatment, so that a count after it can tell whether it worked"
		return e, nil
	}
	if !slices.ContainsFunc(due, func(k *planned) bool { return k.counted() }) {
		e.Because = "nobody has counted yet"
		return e, nil
	}
	highest, chance := "", -1.0
	for _, k := range due {
		known, err := k.State.Forecast(day)
		if err != nil {
			return e, err
		}
		if over := known.Over(k.act(day) / 100); over > chance {
			highest, chance = k.Name, over
		}
	}
	if highest == "" {
		highest = "the colony"
	}
	e.Because = fmt.Sprintf("by forecast the chance of being over the line is then %s in %s, the highest", percent(chance), highest)
	if len(due) == 1 {
		e.Because = fmt.Sprintf("by forecast the chance of being over the line is then %s", percent(chance))
	}
	return e, nil
}

// settled moves a day out of the time in which a count cannot tell what a
// treatment did.
func (k *planned) settled(day sampling.Date) sampling.Date {
	for _, c := range Courses(k.History.Treatments) {
		if c.First <= day && day < c.SettledOn() {
			day = c.SettledOn()
		}
	}
	return day
}

// settlesOn reports whether a treatment can be judged from this day on.
func (k *planned) settlesOn(day sampling.Date) bool {
	return slices.ContainsFunc(Courses(k.History.Treatments), func(c Course) bool {
		return c.SettledOn() <= day && day < c.SettledOn()+nearby
	})
}

// nextTreatment is the next day of a treatment after a day, zero when none is
// planned.
func (k *planned) nextTreatment(day sampling.Date) sampling.Date {
	var next sampling.Date
	for _, t := range k.History.Treatments {
		if t.On > day && (next.IsZero() || t.On < next) {
			next = t.On
		}
	}
	return next
}

// seen takes a look to have shown what was expected, and finds the next one.
func (p *yardPlan) seen(k *planned, day sampling.Date) error {
	s, err := k.expectedLook(day)
	if err != nil {
		return err
	}
	s.SupersOn, s.NextTreatment = p.supersOn(day), k.nextTreatment(day)
	k.Situation = s
	call := s.choice(s.Stakes().Regret(s.State.Known))
	switch waits := !s.NextTreatment.IsZero() && s.NextTreatment-day <= windowAhead; {
	case call.treats() && waits:
		k.due = day + latestLook
	case call.treats() && s.SupersOn:
		k.due = day + visitDays
	case call.treats():
		if err := p.extraWindow(k, day); err != nil {
			return err
		}
		k.due = k.settled(day + 1)
	default:
		if k.due, err = s.nextLook(Judgement{Verdict: Verdict{Call: call}}); err != nil {
			return err
		}
	}
	k.due = k.aroundTreatments(p.warm(max(k.due, day+visitDays)), day, day+visitDays)
	return nil
}

// aroundTreatments puts a look on the day before a treatment that it would
// come after, or else on the first day on which that can be judged: a count on
// either side tells whether it worked. day is that of the last look, earliest
// the first one on which another makes sense.
func (k *planned) aroundTreatments(due, day, earliest sampling.Date) sampling.Date {
	for _, c := range Courses(k.History.Treatments) {
		switch before := c.First - 1; {
		case c.First > due || c.SettledOn() <= day:
		case before >= earliest:
			due = before
		default:
			due = min(due, c.SettledOn())
		}
	}
	return k.settled(due)
}

// expectedLook is the colony after a roll that shows what is expected of it.
func (k *planned) expectedLook(day sampling.Date) (Situation, error) {
	s := k.Situation
	known, err := s.State.Forecast(day)
	if err != nil {
		return s, err
	}
	c := Scooped(sampling.Roll, 300, 3, day)
	recovery := 1.0
	if b, ok := s.History.Assumptions.Recovery[c.Method]; ok {
		recovery = b.Mean()
	}
	s.Threshold.Act = s.act(day)
	s.State.Day, s.State.Before, s.State.Known, s.State.Counts = day, known, known, nil
	s.History.Counts = slices.Clone(s.History.Counts)
	mites := min(int(math.Round(300*recovery*known.Quantile(0.5))), 3000)
	if s, err = s.seeing(c, mites); err != nil {
		return s, err
	}
	c.Mites = mites
	s.History.Counts = append(s.History.Counts, c)
	return s, nil
}

// extraWindow is a treatment that only the forecast of a colony asks for.
func (p *yardPlan) extraWindow(k *planned, day sampling.Date) error {
	w := window{treatment: p.Summer}
	w.rounds = p.roundsFrom(p.Summer, day+1)
	w.Event = Event{Date: day + 1, Until: w.ends(), Kind: EventWindow, Colonies: names([]*planned{k})}
	if on := p.supersAfter(day); !on.IsZero() && on <= w.Until {
		w.Until = max(on-1, w.Date)
		w.Because = fmt.Sprintf("by forecast the colony is over the line, and supers go on on %s: the label and the law decide what can still be given", on)
	} else {
		w.Because = "by forecast the colony is over the line and no treatment is near; do it only if the count bears it out"
	}
	if i := slices.IndexFunc(p.events, func(e Event) bool { return e.Kind == EventWindow && e.Date == w.Date && e.Because == w.Because }); i >= 0 {
		p.events[i].Colonies = append(p.events[i].Colonies, w.Colonies...)
	} else {
		p.extra[year(w.Date)]++
		w.Key = fmt.Sprintf("window-extra-%d-%d", year(w.Date), p.extra[year(w.Date)])
		p.add(w.Event)
	}
	return k.plan(w.days())
}
