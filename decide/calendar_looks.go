package decide

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halfcup/sampling"
)

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
	if p.Season(day) == Winter {
		return p.Next(Spring, day)
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
	case call.Treats() && waits:
		k.due = day + latestLook
	case call.Treats() && s.SupersOn:
		k.due = day + visitDays
	case call.Treats():
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
