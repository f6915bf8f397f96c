package sampling

import (
	_ "embed"
	"fmt"
	"maps"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/stat"

	"halfcup/internal/table"
)

// Assumptions are all the figures that stand between a count and what is known
// of the colony. DefaultAssumptions reads them from a table that gives each its
// source; any of them may be changed. The zero Assumptions are none, and every
// count read with them is a *ValueError.
type Assumptions struct {
	Prior Prior

	// Recovery is the share that a method finds of the mites a careful wash
	// would find. A method that is absent finds all of them.
	Recovery map[Method]Beta

	// RollDamp and RollDry are the recoveries of rolls marked damp or dry, in
	// place of Recovery[Roll]. The zero Beta leaves such rolls like others.
	RollDamp, RollDry Beta

	FrameCV   float64 // frame to frame, for one frame
	ScoopCV   float64 // bees in a scoop that were not counted
	WeighedCV float64 // bees in a weighed sample

	BoardBrood     BoardFall
	BoardBroodless BoardFall
	BoardDayCV     float64 // day to day, for one day
	BoardCellsCV   float64 // clumping, when half the cells are counted

	BeesUnknownLogSD float64 // of the adult bees over a board, added where they are not known
	Reach            Beta    // share of killed mites that reach the board

	kill  float64 // see AtKill; 0 when it is as unsure as the table has it
	rolls float64 // see RollsAt; 0 when every roll has a recovery of its own
}

// BoardFall is how a board reads: mites that fall in a day for each mite per
// hundred bees, log-normal, over a colony of Bees adult bees.
type BoardFall struct {
	MedianPerDayPerHundred float64
	LogSD                  float64
	Bees                   float64
}

// Source is one figure the program uses, with where it comes from. Kind is
// published, common practice, computed, judgement, second-hand or memory.
type Source struct {
	Name   string `json:"name"`
	Value  string `json:"value"`
	Unit   string `json:"unit"`
	What   string `json:"what"`
	Source string `json:"source"`
	Kind   string `json:"kind"`
}

//go:embed assumptions.csv
var assumptionsCSV string

//go:embed boardpairs.csv
var boardPairsCSV string

var (
	defaultTable = readDefaults()
	boardPairs   = readBoardPairs()
)

func readDefaults() map[string]Source {
	t := map[string]Source{}
	for _, r := range table.Read(assumptionsCSV) {
		t[r["key"]] = Source{r["key"], r["value"], r["unit"], r["what"], r["source"], r["kind"]}
	}
	return t
}

// defaultOf is one figure of the table; defaultBeta is one of two numbers. A
// key that is not there is a mistake of ours that every test would show.
func defaultOf(key string) float64 {
	v, err := strconv.ParseFloat(defaultTable[key].Value, 64)
	if err != nil {
		panic("sampling: no default figure " + key)
	}
	return v
}

func defaultBeta(key string) Beta {
	a, b, _ := strings.Cut(defaultTable[key].Value, ",")
	x, err1 := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	if err1 != nil || err2 != nil {
		panic("sampling: no default law " + key)
	}
	return Beta{x, y}
}

// BoardPair is one published pair of a daily fall and an infestation, as the
// ratio of the two.
type BoardPair struct {
	MitesADay, MitesPerHundred string // as printed, ranges too
	Ratio                      float64
	Label, Source, Kind        string
}

// BoardPairs are the pairs behind the reading of a board over brood. In each,
// both sides were measured, or computed from what was.
func BoardPairs() []BoardPair { return append([]BoardPair(nil), boardPairs...) }

func readBoardPairs() []BoardPair {
	var out []BoardPair
	for _, r := range table.Read(boardPairsCSV) {
		out = append(out, BoardPair{r["mites_a_day"], r["mites_per_hundred"], r.Number("ratio"), r["label"], r["source"], r["kind"]})
	}
	return out
}

// BoardFallFrom is the reading of a board that pairs of fall and infestation
// bear out: their geometric mean, and the log-SD for one more colony of one
// more yard. The pairs are means of many colonies each, so that they tell how
// yards differ, SD·√(1+1/n); that colonies of a yard differ comes on top. It
// needs two pairs; fewer give NaN.
func BoardFallFrom(pairs []BoardPair, bees float64) BoardFall {
	median, yard := boardYards(pairs)
	return BoardFall{median, math.Hypot(yard, defaultOf("board_colony_log_sd")), bees}
}

// boardYards is the geometric mean of pairs and the log-SD of one more yard.
func boardYards(pairs []BoardPair) (median, logSD float64) {
	logs := make([]float64, len(pairs))
	for i, p := range pairs {
		logs[i] = math.Log(p.Ratio)
	}
	mean, sd := stat.MeanStdDev(logs, nil)
	return math.Exp(mean), sd * math.Sqrt(1+1/float64(len(pairs)))
}

// DefaultAssumptions are the figures that Sources lists.
func DefaultAssumptions() Assumptions {
	return Assumptions{
		Prior:            Prior{defaultOf("prior_median"), defaultOf("prior_log_sd")},
		Recovery:         map[Method]Beta{Roll: defaultBeta("recovery_roll"), CO2: defaultBeta("recovery_co2")},
		RollDamp:         defaultBeta("recovery_roll_damp"),
		RollDry:          defaultBeta("recovery_roll_dry"),
		FrameCV:          defaultOf("frame_cv"),
		ScoopCV:          defaultOf("scoop_cv"),
		WeighedCV:        defaultOf("weighed_cv"),
		BoardBrood:       BoardFallFrom(boardPairs, defaultOf("board_brood_bees")),
		BoardBroodless:   BoardFall{defaultOf("board_broodless_median"), defaultOf("board_broodless_log_sd"), defaultOf("board_broodless_bees")},
		BoardDayCV:       defaultOf("board_day_cv"),
		BoardCellsCV:     defaultOf("board_cells_cv"),
		BeesUnknownLogSD: defaultOf("bees_unknown_log_sd"),
		Reach:            defaultBeta("knockdown_reach"),
	}
}

// Clone is a copy that shares nothing with a.
func (a Assumptions) Clone() Assumptions {
	a.Recovery = maps.Clone(a.Recovery)
	return a
}

// Check reports the first figure that cannot be used, as a *ValueError.
func (a Assumptions) Check() error {
	if err := a.Prior.Check(); err != nil {
		return err
	}
	for m, b := range a.Recovery {
		if m.Kind() != BeeSample {
			return badValue("recovery of "+string(m), "a board has no recovery", "give it for wash, roll or co2")
		}
		if err := b.Check("recovery of " + string(m)); err != nil {
			return err
		}
	}
	for _, w := range []Weather{Damp, Dry} {
		if b := a.recoveryIn(w); b != (Beta{}) {
			if err := b.Check("recovery of " + string(w) + " rolls"); err != nil {
				return err
			}
		}
	}
	for _, cv := range []struct {
		name string
		v    float64
	}{{"frame CV", a.FrameCV}, {"bees CV", a.ScoopCV}, {"bees CV of weighed samples", a.WeighedCV}, {"board day CV", a.BoardDayCV}, {"board cells CV", a.BoardCellsCV}} {
		if !(cv.v >= 0 && cv.v <= 2) {
			return badValue(cv.name, fmt.Sprintf("%v is not between 0 and 2", cv.v), "give a coefficient of variation such as 0.25")
		}
	}
	for _, f := range []BoardFall{a.BoardBrood, a.BoardBroodless} {
		if !(f.MedianPerDayPerHundred >= 1e-3 && f.MedianPerDayPerHundred <= 1e3 && f.LogSD >= 0 && f.LogSD <= 2) {
			return badValue("board", "the fall per mite per hundred is out of range", "give a median from 0.001 to 1000 and a log-SD from 0 to 2")
		}
		if !(f.Bees >= leastColony && f.Bees <= largestColony) {
			return badValue("board", fmt.Sprintf("its fall cannot be that of a colony of %v bees", f.Bees), "give the adult bees of the colony it is told for, such as 25000")
		}
	}
	if !(a.BeesUnknownLogSD >= 0 && a.BeesUnknownLogSD <= 2) {
		return badValue("unknown adult bees", fmt.Sprintf("a log-SD of %v is not between 0 and 2", a.BeesUnknownLogSD), "give one such as 0.3")
	}
	return a.Reach.Check("share reaching the board")
}

// BeesOnFrames is the adult bees on so many deep frames covered on both sides,
// with their coefficient of variation.
func BeesOnFrames(frames float64) (bees, cv float64) {
	return frames * defaultOf("bees_per_frame"), defaultOf("frames_of_bees_cv")
}

// Sources lists every default figure of this package.
func Sources() []Source {
	var out []Source
	for _, r := range table.Read(assumptionsCSV) {
		out = append(out, defaultTable[r["key"]])
	}
	fall := BoardFallFrom(boardPairs, defaultOf("board_brood_bees"))
	_, yard := boardYards(boardPairs)
	out = append(out,
		Source{"board_brood_median", strconv.FormatFloat(fall.MedianPerDayPerHundred, 'f', 2, 64), "mites a day per mite per hundred bees", "fall on a board over brood", "geometric mean of the pairs below", "computed"},
		Source{"board_brood_log_sd", strconv.FormatFloat(fall.LogSD, 'f', 2, 64), "log scale", "its spread for one more colony of one more yard", "the next and board_colony_log_sd together", "computed"},
		Source{"board_yard_log_sd", strconv.FormatFloat(yard, 'f', 2, 64), "log scale", "part of it that is common to a yard", fmt.Sprintf("SD·√(1+1/%d) of the pairs below, which are means of many colonies", len(boardPairs)), "computed"})
	for i, p := range boardPairs {
		out = append(out, Source{fmt.Sprintf("board_pair_%d", i+1), p.MitesADay + " : " + p.MitesPerHundred, "mites a day : mites per hundred bees", p.Label, p.Source, p.Kind})
	}
	for _, r := range methodTable {
		out = append(out, Source{"method_" + string(r.method), r.title, "", "what a " + string(r.method) + " count is", r.source, r.sure})
	}
	for _, t := range treatmentTable {
		kill := func(b Beta) string { return fmt.Sprintf("Beta(%g, %g)", b.Alpha, b.Beta) }
		reach := "of the mites on adult bees"
		switch {
		case t.WholeColony:
			reach = fmt.Sprintf("of all mites of the colony within %d days", t.Days)
		case t.ActsInBrood:
			reach += "; in cells " + kill(t.KillInCells)
		}
		out = append(out, Source{"kill_" + t.Slug, kill(t.KillNoBrood) + " without brood, " + kill(t.KillWithBrood) + " with brood", "share",
			"what " + t.TreatmentName.String() + " kills " + reach, t.Source, t.Kind})
	}
	out = append(out, TreatmentFigures("")...)
	steps := map[Method]int{}
	for _, s := range stepTable {
		steps[s.Method]++
		out = append(out, Source{fmt.Sprintf("step_%s_%d", s.Method, steps[s.Method]), "", "", s.Text, s.Source, s.Of})
	}
	return out
}
