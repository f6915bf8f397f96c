package history

import (
	"errors"
	"slices"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/decide"
	"halfcup/sampling"
)

// Calibrated is the assumptions of base with what the pairs of a record up to a
// day teach: a roll and a wash of the same bees, or a board beside a bee sample,
// tied by a label. A pair that says nothing is left out.
func Calibrated(rec *fieldlog.Record, base decide.Colony, day sampling.Date) (sampling.Assumptions, error) {
	byLabel := map[string][]fieldlog.Event{}
	var labels []string
	for _, e := range rec.Paired() {
		if e.Date > day {
			continue
		}
		label := fieldlog.SameName(e.Pair)
		if byLabel[label] == nil {
			labels = append(labels, label)
		}
		byLabel[label] = append(byLabel[label], e)
	}
	var pairs []sampling.Pair
	for _, label := range labels {
		events := byLabel[label]
		if len(events) != 2 || fieldlog.Of(events[0]) != fieldlog.Of(events[1]) {
			continue
		}
		p, err := pairOf(rec, events, base)
		var bad *sampling.PairError
		switch {
		case err == nil:
			pairs = append(pairs, p)
		case !errors.As(err, &bad):
			return base.Assumptions, err
		}
	}
	for len(pairs) > 0 {
		after, _, err := base.Assumptions.Calibrated(pairs)
		var bad *sampling.PairError
		if !errors.As(err, &bad) {
			return after, err
		}
		pairs = slices.Delete(pairs, bad.Index, bad.Index+1)
	}
	return base.Assumptions, nil
}

func pairOf(rec *fieldlog.Record, events []fieldlog.Event, base decide.Colony) (sampling.Pair, error) {
	plain := decide.Colony{History: decide.History{Assumptions: sampling.DefaultAssumptions(), Year: base.Year, Rates: decide.DefaultRates()}}
	var counts [2]sampling.Count
	for i, e := range events {
		h, err := Of(rec, e.Yard, e.Colony, plain, e.Date)
		if err != nil {
			return sampling.Pair{}, err
		}
		counts[i] = h.CountOf(rec, e)
	}
	if counts[0].Method == sampling.Wash {
		counts[0], counts[1] = counts[1], counts[0] // rows stand in any order
	}
	p, err := sampling.NewPair(counts[0], counts[1])
	if err != nil {
		return p, err
	}
	colony := fieldlog.Of(events[1])
	p.Colony = colony.Yard + "/" + colony.Name
	return p, nil
}
