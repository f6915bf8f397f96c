package decide

import (
	"cmp"
	"fmt"
	"slices"

	"halfcup/sampling"
)

// Replay takes a density through counts of one colony along its path. start is
// what was known before the first of them, on the day of the first (of the
// path's first day when there is none). It returns what is known as of the
// last count, and the day of that count: the day from which the path moves it
// on. Every count needs its date.
//
// A knockdown is of the mites that were there when its treatment was given, so
// it counts as of that day. A fall is read with or without brood as the path
// says. Errors are *sampling.ValueError, *sampling.SyntaxError and
// sampling.ErrNoOverlap.
func (p *Path) Replay(start sampling.Density, a sampling.Assumptions, counts []sampling.Count) (sampling.Density, sampling.Date, error) {
	type dated struct {
		on    sampling.Date
		count sampling.Count
	}
	var all []dated
	for _, c := range counts {
		on, err := p.takenOn(c)
		if err != nil {
			return sampling.Density{}, 0, err
		}
		if c.Method.Kind() == sampling.Fall {
			c.Hive.Broodless = c.Hive.Broodless || !p.CappedBrood(on)
		}
		all = append(all, dated{on, c})
	}
	slices.SortStableFunc(all, func(a, b dated) int { return cmp.Compare(a.on, b.on) })

	d, at := start, p.plan.First
	for i := 0; i < len(all); {
		on := all[i].on
		if i > 0 {
			m, err := p.Move(at, at, on)
			if err != nil {
				return d, at, err
			}
			d = m.Apply(d)
		}
		at = on
		var same []sampling.Count
		for ; i < len(all) && all[i].on == on; i++ {
			same = append(same, all[i].count)
		}
		l, err := a.Likelihood(same...)
		if err != nil {
			return d, at, err
		}
		if d, err = d.Times(l); err != nil {
			return d, at, err
		}
	}
	return d, at, nil
}

// takenOn is the day whose mites a count is of.
func (p *Path) takenOn(c sampling.Count) (sampling.Date, error) {
	if c.Date < p.plan.First || c.Date > p.plan.Last {
		return 0, &sampling.ValueError{Name: "count " + c.String(), Problem: fmt.Sprintf("its day is not in the record from %s to %s", p.plan.First, p.plan.Last), Remedy: "give every count its date"}
	}
	if c.Method != sampling.Knockdown {
		return c.Date, nil
	}
	given := sampling.Date(0)
	for _, t := range p.plan.Treatments {
		if t.Treatment.TreatmentName == c.Treatment && t.On <= c.Date && t.On > given {
			given = t.On
		}
	}
	if given < p.plan.First {
		return 0, &sampling.ValueError{Name: "count " + c.String(), Problem: "no such treatment was given before it", Remedy: "put the treatment into the record, with its day"}
	}
	return given, nil
}

// Outlook is what is expected of a colony at the start of a day.
type Outlook struct {
	Date sampling.Date
	sampling.Density
}

// Ahead is the outlook for every day from one to another, when the density d
// is known as of the last count.
func (p *Path) Ahead(d sampling.Density, counted, from, to sampling.Date) ([]Outlook, error) {
	if from < counted || to < from {
		return nil, &sampling.ValueError{Name: "forecast", Problem: fmt.Sprintf("it cannot run from %s to %s after a count on %s", from, to, counted), Remedy: "give its first and last day in order"}
	}
	out := make([]Outlook, 0, to-from+1)
	for day := from; day <= to; day++ {
		m, err := p.Move(counted, counted, day)
		if err != nil {
			return nil, err
		}
		out = append(out, Outlook{day, m.Apply(d)})
	}
	return out, nil
}

// OverHalf is the first day on which the chance of being over the line is one
// half or more, the zero Date when there is none. The line is in mites per
// hundred bees and may change with the day.
func OverHalf(days []Outlook, line func(sampling.Date) float64) sampling.Date {
	for _, d := range days {
		if d.Over(line(d.Date)/100) >= 0.5 {
			return d.Date
		}
	}
	return 0
}
