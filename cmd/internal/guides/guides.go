// Package guides is what published board guides make of a natural fall, to be
// shown beside an estimate. No answer rests on them.
package guides

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"time"

	"halfcup/cmd/internal/show"
	"halfcup/internal/table"
	"halfcup/sampling"
)

// Guide is what a published board guide makes of the natural fall in some
// months of the year. Guides go by the fall alone: they know neither how many
// bees there are above the board nor what else was counted.
type Guide struct {
	Name        string
	First, Last time.Month // months of the northern year
	WatchFrom   float64    // mites a day from which it no longer says to do nothing
	TreatOver   float64    // mites a day above which it says to treat

	says         map[Level]string
	Source, Kind string
}

// Level is how far a guide goes, in our words.
type Level string

const (
	None  Level = "none"  // nothing to be done
	Watch Level = "watch" // plan, watch, or a light measure
	Treat Level = "treat" // control the mites now
)

//go:embed guides.csv
var guidesCSV string

var guides = readTable()

func readTable() []Guide {
	var out []Guide
	for _, r := range table.Read(guidesCSV) {
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
			says:   map[Level]string{None: r["none"], Watch: r["watch"], Treat: r["treat"]},
			Source: r["source"], Kind: r["kind"],
		})
	}
	return out
}

// All lists the board guides, row by row.
func All() []Guide { return append([]Guide(nil), guides...) }

// Applies reports whether the row is for that month of the northern year.
func (g Guide) Applies(m time.Month) bool { return m >= g.First && m <= g.Last }

// Level is what the guide makes of a fall in mites a day: what lies on its
// upper limit is not yet over it.
func (g Guide) Level(perDay float64) Level {
	switch {
	case perDay > g.TreatOver:
		return Treat
	case perDay >= g.WatchFrom && g.WatchFrom < g.TreatOver:
		return Watch
	}
	return None
}

// Says is what the guide says at a level, told in our words.
func (g Guide) Says(l Level) string { return g.says[l] }

// The chances at which a guide and an estimate are taken to disagree.
const (
	guideNeedlessBelow = 0.1
	guideMissedAbove   = 0.5
)

// Reading is what one guide makes of a fall, held against an estimate.
type Reading struct {
	Name      string `json:"name"`
	Level     Level  `json:"level"`
	Says      string `json:"says"`
	Disagrees bool   `json:"disagrees"`
	Source    string `json:"source"`
	Kind      string `json:"kind"`
}

// Read is what the guides for a month of the northern year (in the
// south, count six months on) make of a natural fall in mites a day. over is
// the estimated chance that the colony is over the line at which it would be
// treated. A guide disagrees with the estimate when it says to treat while
// that chance is under one in ten, and when it says to do nothing while it is
// above one half. Where no guide is for the month there are none.
func Read(m time.Month, perDay, over float64) []Reading {
	var out []Reading
	for _, g := range guides {
		if !g.Applies(m) {
			continue
		}
		l := g.Level(perDay)
		out = append(out, Reading{
			Name: g.Name, Level: l, Says: g.Says(l), Source: g.Source, Kind: g.Kind,
			Disagrees: l == Treat && over < guideNeedlessBelow || l == None && over > guideMissedAbove,
		})
	}
	return out
}

// Sources are the guides as figures with a source.
func Sources() []sampling.Source {
	var out []sampling.Source
	for i, g := range guides {
		what := fmt.Sprintf("%s, %s: %s up to there, %s above", g.Name, g.months(), g.says[None], g.says[Treat])
		value := show.Plain(g.TreatOver)
		if g.WatchFrom < g.TreatOver {
			what = fmt.Sprintf("%s, %s: below the first %s, between %s, above the second %s", g.Name, g.months(), g.says[None], g.says[Watch], g.says[Treat])
			value = fmt.Sprintf("%v to %v", g.WatchFrom, g.TreatOver)
		}
		out = append(out, sampling.Source{Name: fmt.Sprintf("board_guide_%d", i+1), Value: value, Unit: "mites a day", What: what, Source: g.Source, Kind: g.Kind})
	}
	return out
}

func (g Guide) months() string {
	if g.First == g.Last {
		return g.First.String()
	}
	return g.First.String() + " to " + g.Last.String()
}
