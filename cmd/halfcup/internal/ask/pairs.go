package ask

import (
	"errors"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// OwnPair is a pair of the beekeeper's own, with where it was found.
type OwnPair struct {
	sampling.Pair
	Label, YardName, ColonyName string
	File                        string // "" when it was typed
	line                        int

	// problem says what is wrong with the pair where it stands.
	Problem func(*sampling.PairError) error
	Strict  bool // whether that ends the command
}

func (p OwnPair) leftOut(e *sampling.PairError) string {
	return fmt.Sprintf("%s:%d: the pair %s is left out: %s. To use it, %s.", p.File, p.line, p.Label, e.Problem, e.Remedy)
}

// Day is the day of a pair: that of its later count.
func (p OwnPair) Day() sampling.Date { return max(p.Gentle.Date, p.Reference.Date) }

func bare(pairs []OwnPair) []sampling.Pair {
	var out []sampling.Pair
	for _, p := range pairs {
		out = append(out, p.Pair)
	}
	return out
}

// RecordedPairs are the pairs of the record, none when there is no record.
func RecordedPairs(sh *line.Shell, c *cli.Context, b *Basis) ([]OwnPair, error) {
	rec, err := sh.Record()
	if rec == nil || err != nil {
		return nil, err
	}
	b.LeftOut = append(b.LeftOut, NoteUnread(rec)...)
	usable, _ := rec.Usable(sh.Today) // as in every answer; what is left out is told with that
	return PairsOf(sh, c, usable, func(p OwnPair, bad *sampling.PairError) error {
		b.LeftOut = append(b.LeftOut, p.leftOut(bad))
		return nil
	})
}

// PairsOf are the pairs of a record up to today. A label that stands at one
// count only is a pair still to be made; what to do with a pair that is none
// is for refuse to say.
func PairsOf(sh *line.Shell, c *cli.Context, rec *fieldlog.Record, refuse func(OwnPair, *sampling.PairError) error) ([]OwnPair, error) {
	labelled := history.Labelled(rec, sh.Today)
	if labelled == nil {
		return nil, nil
	}
	season, err := ReadYear(sh, c)
	if err != nil {
		return nil, err
	}
	var out []OwnPair
	for _, events := range labelled {
		if len(events) == 1 {
			continue
		}
		p, err := pairOfRows(rec, events, season)
		var bad *sampling.PairError
		switch {
		case errors.As(err, &bad):
			err = refuse(p, bad)
		case err == nil:
			out = append(out, p)
		}
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// pairOfRows makes a pair of the rows that share a label. The error is a
// *sampling.PairError, or that of a history that cannot be read.
func pairOfRows(rec *fieldlog.Record, events []fieldlog.Event, season decide.Year) (OwnPair, error) {
	last := events[len(events)-1]
	out := OwnPair{Label: last.Pair, YardName: last.Yard, ColonyName: last.Colony, File: rec.Path, line: last.Line, Problem: func(e *sampling.PairError) error {
		return rec.ProblemAt(last, "pair", "the pair "+last.Pair+": "+e.Problem, e.Remedy)
	}}
	if len(events) > 2 {
		return out, &sampling.PairError{Problem: fmt.Sprintf("it has %d counts", len(events)), Remedy: "give every two counts a label of their own"}
	}
	if fieldlog.Of(events[0]) != fieldlog.Of(last) {
		return out, &sampling.PairError{Problem: fmt.Sprintf("it ties %s to %s", last.Colony, events[0].Colony), Remedy: "take both counts in one colony; give each pair a label of its own"}
	}
	var err error
	out.Pair, err = history.PairOf(rec, events, season)
	return out, err
}

// whereFrom says where the pairs behind a calibration were found.
func whereFrom(pairs []OwnPair, c sampling.Calibration) string {
	var places []string
	for _, p := range pairs {
		if p.Gentle.Method != c.Method || p.Gentle.Hive.Broodless != c.Broodless {
			continue
		}
		place := "in " + p.File
		if p.File == "" {
			place = "typed here"
		}
		if !slices.Contains(places, place) {
			places = append(places, place)
		}
	}
	return show.List(places)
}
