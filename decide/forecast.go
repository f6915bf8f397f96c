package decide

import "halfcup/sampling"

// Outlook is what is expected of a colony on a day, with the line it is held
// against then.
type Outlook struct {
	Date sampling.Date
	sampling.Density
	Act float64 // mites per hundred bees
}

// OverAct is the chance of being over the line.
func (o Outlook) OverAct() float64 { return o.Over(o.Act / 100) }

// Ahead is the outlook for every day from the state's own to one that many
// days later. act is the line of a day, in mites per hundred bees; it changes
// with the season.
func (s State) Ahead(days int, act func(sampling.Date) float64) ([]Outlook, error) {
	out := make([]Outlook, 0, days+1)
	for day := s.Day; day <= s.Day+sampling.Date(days); day++ {
		known, err := s.Forecast(day)
		if err != nil {
			return nil, err
		}
		out = append(out, Outlook{day, known, act(day)})
	}
	return out, nil
}

// OverHalf is the first day on which the chance of being over the line is one
// half or more, the zero Date when there is none.
func OverHalf(days []Outlook) sampling.Date {
	for _, d := range days {
		if d.OverAct() >= 0.5 {
			return d.Date
		}
	}
	return 0
}

// Ahead is the outlook for every day from that of the standing on. The first is
// what the standing itself says.
func (s Standing) Ahead(days int) ([]Outlook, error) {
	out, err := s.now.State.Ahead(days, func(d sampling.Date) float64 { return s.LineOn(d).Act })
	if err != nil {
		return nil, err
	}
	out[0].Density, out[0].Act = s.Known, s.Line.Act
	return out, nil
}

// Unvisited is the outlook of Ahead, had no mites come in from other colonies
// since the last counts, neither here nor at its neighbours.
func (s Standing) Unvisited(days int) ([]Outlook, error) {
	if s.visit == nil {
		return nil, &sampling.ValueError{Name: "standing", Problem: "it is of no record", Remedy: "take it from Apiary.On"}
	}
	o, err := s.visit.unvisited()
	if err != nil {
		return nil, err
	}
	state := o.together[o.of(s.colony)]
	out, err := state.Ahead(days, func(d sampling.Date) float64 { return s.LineOn(d).Act })
	if err != nil {
		return nil, err
	}
	out[0].Density, out[0].Act = state.Known, s.Line.Act
	return out, nil
}

// TreatDay is the first of the days on which treating is the lesser regret, by
// the rule that makes a count due; the zero Date when there is none.
func (s Standing) TreatDay(days []Outlook) sampling.Date {
	for _, d := range days {
		stakes := s.now.stakesOn(d.Date)
		stakes.Act = d.Act
		if stakes.Regret(d.Density).Treats() {
			return d.Date
		}
	}
	return 0
}
