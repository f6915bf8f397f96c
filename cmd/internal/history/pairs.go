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
	var pairs []sampling.Pair
	for _, events := range Labelled(rec, day) {
		if len(events) != 2 || fieldlog.Of(events[0]) != fieldlog.Of(events[1]) {
			continue
		}
		p, err := PairOf(rec, events, base.Year)
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

// Labelled is the counts up to a day that a label ties together, in the order
// in which the labels first come.
func Labelled(rec *fieldlog.Record, day sampling.Date) [][]fieldlog.Event {
	place := map[string]int{}
	var out [][]fieldlog.Event
	for _, e := range rec.Paired() {
		if e.Date > day {
			continue
		}
		label := fieldlog.SameName(e.Pair)
		i, there := place[label]
		if !there {
			i = len(out)
			place[label], out = i, append(out, nil)
		}
		out[i] = append(out[i], e)
	}
	return out
}

// PairOf makes a pair of two counts of one colony, in any order. The error is a
// *sampling.PairError, or that of a history that cannot be read.
func PairOf(rec *fieldlog.Record, events []fieldlog.Event, year decide.Year) (sampling.Pair, error) {
	plain := decide.Colony{History: decide.History{Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: decide.DefaultRates()}}
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
