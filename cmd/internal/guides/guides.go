package sampling

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Guide is what a published board guide makes of the natural fall in some
// months of the year. Guides go by the fall alone: they know neither how many
// bees there are above the board nor what else was counted.
type Guide struct {
	Name        string
	First, Last time.Month // months of the northern year
	WatchFrom   float64    // mites a day from which it no longer says to do nothing
	TreatOver   float64    // mites a day above which it says to treat

	says         map[GuideLevel]string
	Source, Kind string
}

// GuideLevel is how far a guide goes, in our words.
type GuideLevel string

// The levels.
const (
	GuideNone  GuideLevel = "none"  // nothing to be done
	GuideWatch GuideLevel = "watch" // plan, watch, or a light measure
	GuideTreat GuideLevel = "treat" // control the mites now
)

//go:embed guides.csv
var guidesCSV string

var guideTable = readGuideTable()

func readGuideTable() []Guide {
	var out []Guide
	for _, r := range Table(guidesCSV) {
		first, last, isRange := strings.Cut(r["months"], "-")
		if !isRange {
			last = first
		}
		from, err1 := strconv.Atoi(first)
		to, err2 := strconv.Atoi(last)
		if err1 != nil || err2 != nil {
			panic("embedded table: months " + r["months"])
		}
		out = append(out, Guide{
			Name: r["guide"], First: time.Month(from), Last: time.Month(to), WatchFrom: r.Number("watch_from"), TreatOver: r.Number("treat_over"),
			says:   map[GuideLevel]string{GuideNone: r["none"], GuideWatch: r["watch"], GuideTreat: r["treat"]},
			Source: r["source"], Kind: r["kind"],
		})
	}
	return out
}

// Guides lists the board guides, row by row.
func Guides() []Guide { return append([]Guide(nil), guideTable...) }

// Applies reports whether the row is for that month of the northern year.
func (g Guide) Applies(m time.Month) bool { return m >= g.First && m <= g.Last }

// Level is what the guide makes of a fall in mites a day: what lies on its
// upper limit is not yet over it.
func (g Guide) Level(perDay float64) GuideLevel {
	switch {
	case perDay > g.TreatOver:
		return GuideTreat
	case perDay >= g.WatchFrom && g.WatchFrom < g.TreatOver:
		return GuideWatch
	}
	return GuideNone
}

// Says is what the guide says at a level, told in our words.
func (g Guide) Says(l GuideLevel) string { return g.says[l] }

// The chances at which a guide and an estimate are taken to disagree.
const (
	guideNeedlessBelow = 0.1
	guideMissedAbove   = 0.5
)

// GuideReading is what one guide makes of a fall, held against an estimate.
type GuideReading struct {
	Name      string     `json:"name"`
	Level     GuideLevel `json:"level"`
	Says      string     `json:"says"`
	Disagrees bool       `json:"disagrees"`
	Source    string     `json:"source"`
	Kind      string     `json:"kind"`
}

// ReadGuides is what the guides for a month of the northern year (in the
// south, count six months on) make of a natural fall in mites a day. over is
// the estimated chance that the colony is over the line at which it would be
// treated. A guide disagrees with the estimate when it says to treat while
// that chance is under one in ten, and when it says to do nothing while it is
// above one half. Where no guide is for the month there are none.
func ReadGuides(m time.Month, perDay, over float64) []GuideReading {
	var out []GuideReading
	for _, g := range guideTable {
		if !g.Applies(m) {
			continue
		}
		l := g.Level(perDay)
		out = append(out, GuideReading{
			Name: g.Name, Level: l, Says: g.Says(l), Source: g.Source, Kind: g.Kind,
			Disagrees: l == GuideTreat && over < guideNeedlessBelow || l == GuideNone && over > guideMissedAbove,
		})
	}
	return out
}

// FallPerDay is the natural fall of a board count in mites a day, scaled up
// when only some cells were counted.
func (c Count) FallPerDay() float64 {
	fall := float64(c.Mites) / c.DaysOnBoard()
	if c.Cells.Counted > 0 {
		fall *= float64(c.Cells.Of) / float64(c.Cells.Counted)
	}
	return fall
}

// guideSources are the guides as figures with a source.
func guideSources() []Source {
	var out []Source
	for i, g := range guideTable {
		what := fmt.Sprintf("%s, %s: %s up to there, %s above", g.Name, g.months(), g.says[GuideNone], g.says[GuideTreat])
		value := strconv.FormatFloat(g.TreatOver, 'f', -1, 64)
		if g.WatchFrom < g.TreatOver {
			what = fmt.Sprintf("%s, %s: below the first %s, between %s, above the second %s", g.Name, g.months(), g.says[GuideNone], g.says[GuideWatch], g.says[GuideTreat])
			value = fmt.Sprintf("%v to %v", g.WatchFrom, g.TreatOver)
		}
		out = append(out, Source{fmt.Sprintf("board_guide_%d", i+1), value, "mites a day", what, g.Source, g.Kind})
	}
	return out
}

func (g Guide) months() string {
	if g.First == g.Last {
		return g.First.String()
	}
	return g.First.String() + " to " + g.Last.String()
}
