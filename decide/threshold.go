package decide

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strings"

	"halfcup/internal/meant"
	"halfcup/internal/table"
	"halfcup/sampling"
)

// Threshold is the line a colony is held against in one season, in mites per
// hundred bees by a careful wash: from Watch on it is worth an eye, from Act on a
// treatment.
type Threshold struct {
	Set    string  `json:"set"`
	Season Season  `json:"season"`
	Watch  float64 `json:"watch"`
	Act    float64 `json:"act"`
	Source string  `json:"source"`
	Kind   string  `json:"kind"`
}

// DefaultThresholds is the set that is used when none is named.
const DefaultThresholds = "composite"

//go:embed thresholds.csv
var thresholdsCSV string

var thresholdTable = func() []Threshold {
	var out []Threshold
	for _, r := range table.Read(thresholdsCSV) {
		out = append(out, Threshold{Set: r["set"], Season: Season(r["season"]), Watch: r.Number("watch"), Act: r.Number("act"), Source: r["source"], Kind: r["kind"]})
	}
	return out
}()

// Thresholds lists the thresholds of every set.
func Thresholds() []Threshold { return slices.Clone(thresholdTable) }

// ThresholdSet is one threshold for every season. An unknown name is a
// *sampling.SyntaxError that suggests the nearest.
func ThresholdSet(name string) ([]Threshold, error) {
	var set []Threshold
	var names []string
	for _, t := range thresholdTable {
		if t.Set == name {
			set = append(set, t)
		}
		if !slices.Contains(names, t.Set) {
			names = append(names, t.Set)
		}
	}
	if set != nil {
		return set, nil
	}
	list := strings.Join(names, ", ")
	remedy := meant.Remedy(name, names, "The sets are "+list, "use one of "+list+", or the name of a CSV file")
	return nil, &sampling.SyntaxError{Input: name, Length: max(len(name), 1), Problem: fmt.Sprintf("%q is not a set of thresholds", name), Remedy: remedy}
}

// In is the threshold of a season, once the line has arrived.
func In(set []Threshold, season Season) (Threshold, bool) {
	i := slices.IndexFunc(set, func(t Threshold) bool { return t.Season == season })
	if i < 0 {
		return Threshold{}, false
	}
	return set[i], true
}

// moveDays is how many days the line takes to move between two seasons.
const moveDays = leastSeason

// Line is the line of a day. Between two seasons it moves evenly over 30 days: one
// that falls has arrived on the first day of the new season, one that rises
// starts then. A colony without brood is held against winter's line on any day,
// because all its mites sit on the bees. It is false when the set lacks a
// season of the year.
func (y Year) Line(set []Threshold, d sampling.Date, broodless bool) (Threshold, bool) {
	if y.curve == nil {
		return Threshold{}, false
	}
	if broodless {
		return In(set, Winter)
	}
	seasons := *y.seasons
	now, began := y.began(d)
	line, ok := In(set, seasons[now].Season)
	before, okBefore := In(set, seasons[(now+len(seasons)-1)%len(seasons)].Season)
	next := seasons[(now+1)%len(seasons)].Season
	after, okAfter := In(set, next)
	if !ok || !okBefore || !okAfter {
		return line, false
	}
	since, until := float64(d-began)/moveDays, float64(y.Next(next, d)-d)/moveDays
	move := func(before, now, after float64) float64 {
		at := now
		if before < now {
			at -= (now - before) * math.Max(0, 1-since)
		}
		if after < now {
			at -= (now - after) * math.Max(0, 1-until)
		}
		return at
	}
	line.Watch, line.Act = move(before.Watch, line.Watch, after.Watch), move(before.Act, line.Act, after.Act)
	return line, true
}

// The levels a line may lie at, in mites per hundred bees.
const leastLevel, mostLevel = 0.01, 100.0
