package main

import (
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/fieldlog"
	"halfcup/cmd/halfcup/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// ownPair is a pair of the beekeeper's own, with where it was found.
type ownPair struct {
	sampling.Pair
	label, yard, colony string
	file                string // "" when it was typed
	fail                func(*sampling.PairError) error
}

// recordedPairs are the pairs of the record, none when there is no record.
func (sh *shell) recordedPairs(c *cli.Context) ([]ownPair, error) {
	rec, err := sh.record()
	if rec == nil || err != nil {
		return nil, err
	}
	return sh.pairsOf(c, rec)
}

// pairsOf are the pairs of a record up to today. A label that stands at one
// count only is a pair still to be made.
func (sh *shell) pairsOf(c *cli.Context, rec *fieldlog.Record) ([]ownPair, error) {
	byLabel := map[string][]fieldlog.Event{}
	var labels []string
	for _, e := range rec.Events {
		if e.Kind != fieldlog.Count || e.Pair == "" || e.Date > sh.today {
			continue
		}
		label := fieldlog.SameName(e.Pair)
		if byLabel[label] == nil {
			labels = append(labels, label)
		}
		byLabel[label] = append(byLabel[label], e)
	}
	if labels == nil {
		return nil, nil
	}
	season, err := sh.season(c)
	if err != nil {
		return nil, err
	}
	var out []ownPair
	for _, label := range labels {
		events := byLabel[label]
		if len(events) == 1 {
			continue
		}
		p, err := pairOfRows(rec, events, season)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// pairOfRows makes a pair of the rows that share a label.
func pairOfRows(rec *fieldlog.Record, events []fieldlog.Event, season decide.Season) (ownPair, error) {
	last := events[len(events)-1]
	fail := func(e *sampling.PairError) error { return rec.ProblemAt(last, "pair", e.Problem, e.Remedy) }
	if len(events) > 2 {
		return ownPair{}, fail(&sampling.PairError{Problem: fmt.Sprintf("the pair %q has %d counts", last.Pair, len(events)), Remedy: "give every two counts a label of their own"})
	}
	if fieldlog.Of(events[0]) != fieldlog.Of(last) {
		return ownPair{}, fail(&sampling.PairError{Problem: fmt.Sprintf("the pair %q ties %s to %s", last.Pair, last.Colony, events[0].Colony), Remedy: "both counts of a pair are of one colony; give each pair a label of its own"})
	}
	var counts [2]sampling.Count
	for i, e := range events {
		base := decide.History{Assumptions: sampling.DefaultAssumptions(), Season: season, Rates: decide.DefaultRates()}
		h, err := historyOf(rec, e.Yard, e.Colony, base, e.Date)
		if err != nil {
			return ownPair{}, err
		}
		counts[i] = h.countOf(rec, e)
	}
	if counts[0].Method == sampling.Wash {
		counts[0], counts[1] = counts[1], counts[0] // rows stand in any order
	}
	p, err := sampling.NewPair(counts[0], counts[1])
	if err != nil {
		return ownPair{}, fail(err.(*sampling.PairError))
	}
	colony := fieldlog.Of(last)
	p.Colony = colony.Yard + "/" + colony.Name
	return ownPair{Pair: p, label: last.Pair, yard: last.Yard, colony: last.Colony, file: rec.Path, fail: fail}, nil
}

// whereFrom says where the pairs behind a calibration were found.
func whereFrom(pairs []ownPair, c sampling.Calibration) string {
	var places []string
	for _, p := range pairs {
		if p.Gentle.Method != c.Method || p.Gentle.Hive.Broodless != c.Broodless {
			continue
		}
		place := "in " + p.file
		if p.file == "" {
			place = "typed here"
		}
		if !slices.Contains(places, place) {
			places = append(places, place)
		}
	}
	return show.List(places)
}

// day is the day of a pair: that of its later count.
func (p ownPair) day() sampling.Date { return max(p.Gentle.Date, p.Reference.Date) }
