package decide

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"halfcup/sampling"
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
		out = append(out, TreatmentDay{On: d, Treatment: w.treatment})
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
		decline := p.Next(LateSummer, s.Off-120)
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
		none, ok := p.WithoutBrood(at)
		if !ok || none.From > p.until() {
			return out
		}
		if w, ok := p.window("winter", p.Winter, none.From, none.Until); ok {
			w.Because = "no capped brood: one treatment reaches every mite"
			out = append(out, w)
		}
		at = none.Until + 1
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
	if !t.WholeColony && !t.ActsInBrood && p.Capped(start) {
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
