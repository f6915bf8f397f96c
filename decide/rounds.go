package decide

import (
	_ "embed"
	"fmt"
	"math"

	"halfcup/internal/numeric"
	"halfcup/internal/table"
	"halfcup/sampling"
)

// Trial is the outcome of a field trial, a row of trials.csv, to be shown
// beside what the model says.
type Trial struct {
	Treatment    string // slug
	Rounds       int    // 0 when not known
	EveryDays    int    // 0 for a single round or when not known
	Brood        string // "yes", "no", "broken" (queen caged or brood taken)
	Colonies     int    // treated; 0 when not known
	Outcome      string
	Source, Kind string

	// NoBetter is how many of the treated colonies did no better than the
	// untreated ones together, -1 when that is not known.
	NoBetter int

	// ReductionPercent is the efficacy: against untreated colonies (Henderson &
	// Tilton on pooled washes) where it was worked out from open data, else as
	// published. NaN when not known, below 0 when there were more mites.
	ReductionPercent float64
}

//go:embed trials.csv
var trialsCSV string

var trialTable = readTrials()

// Trials lists the field trials of one treatment, by its slug; of all
// treatments for "".
func Trials(slug string) []Trial {
	var out []Trial
	for _, t := range trialTable {
		if slug == "" || t.Treatment == slug {
			out = append(out, t)
		}
	}
	return out
}

func readTrials() []Trial {
	var out []Trial
	for _, r := range table.Read(trialsCSV) {
		optional := func(column string) int {
			if r[column] == "" {
				return 0
			}
			return int(r.Number(column))
		}
		t := Trial{
			Treatment: r["treatment"], Rounds: optional("rounds"), EveryDays: optional("every_days"),
			Brood: r["brood"], Colonies: optional("colonies"), Outcome: r["outcome"],
			Source: r["source"], Kind: r["kind"],
			NoBetter: -1, ReductionPercent: math.NaN(),
		}
		if r["no_better"] != "" {
			t.NoBetter = int(r.Number("no_better"))
		}
		if r["reduction_percent"] != "" {
			t.ReductionPercent = r.Number("reduction_percent")
		}
		out = append(out, t)
	}
	return out
}

// Rounds is a treatment of mites on adult bees given several times.
type Rounds struct {
	EveryDays int // between two rounds; of no matter for a single one
	Rounds    int
	Kill      float64 // share of the mites on adult bees that each round kills
}

// Check reports rounds that cannot be, as a *sampling.ValueError.
func (r Rounds) Check() error {
	fail := func(name string, v any, low, high int, example string) error {
		return &sampling.ValueError{Name: name, Problem: fmt.Sprintf("%v is not between %d and %d", v, low, high), Remedy: "give a number such as " + example}
	}
	switch {
	case r.Rounds < 1 || r.Rounds > maxRounds:
		return fail("rounds", r.Rounds, 1, maxRounds, "4")
	case r.EveryDays < 1 || r.EveryDays > 60:
		return fail("days between rounds", r.EveryDays, 1, 60, "5")
	case !(r.Kill >= 0 && r.Kill <= 1):
		return fail("kill", r.Kill, 0, 1, "0.75")
	}
	return nil
}

// Left is what rounds leave at the end of the 14th day after the day of the
// last one, when every cell that was capped during it has opened. All figures
// are in mites for each mite that was on the adult bees at the start.
type Left struct {
	Rounds
	Days                            int     // from the start of the first round to the day the figures are for
	StartTotal, StartOnBees         float64 // before the first round
	Total, OnBees                   float64
	UntreatedTotal, UntreatedOnBees float64 // had nothing been done
}

// SettleDays is the wait after the last round, in days: the capped time of drones,
// the least that Dietemann et al. 2013, J Apic Res 52(1), ask for before the
// outcome is judged.
const SettleDays = droneDays

// maxRounds is more than any label allows; it bounds the search of Fewest.
const maxRounds = 20

// Leave runs the rounds on a colony that starts in its stable state. The
// treatment acts at the start of its day.
func (r Rates) Leave(plan Rounds, brood Brood) (Left, error) {
	if err := r.Check(); err != nil {
		return Left{}, err
	}
	if err := plan.Check(); err != nil {
		return Left{}, err
	}
	treated := r.Stable(brood).State
	untreated := treated
	left := Left{Rounds: plan, StartTotal: treated.Total(), StartOnBees: treated.OnBees}
	lastRound := (plan.Rounds - 1) * plan.EveryDays
	for day := 0; day <= lastRound+SettleDays; day++ {
		kill := Kill{}
		if day <= lastRound && day%plan.EveryDays == 0 {
			kill.OnBees = plan.Kill
		}
		treated = treated.Day(r, brood, kill, 0)
		untreated = untreated.Day(r, brood, Kill{}, 0)
		left.Days++
	}
	left.Total, left.OnBees = treated.Total(), treated.OnBees
	left.UntreatedTotal, left.UntreatedOnBees = untreated.Total(), untreated.OnBees
	return left, nil
}

// TotalReduction is the share by which the mites of the colony went down
// since the start, below zero when there are more.
func (l Left) TotalReduction() float64 { return 1 - l.Total/l.StartTotal }

// CorrectedReduction is the share by which the mites of the colony are fewer
// than without treatment (Abbott 1925, J Econ Entomol 18:265-267).
func (l Left) CorrectedReduction() float64 { return 1 - l.Total/l.UntreatedTotal }

// OnBeesReduction is the share by which the mites on adult bees went down
// since the start: what samples of bees before and after would show.
func (l Left) OnBeesReduction() float64 { return 1 - l.OnBees/l.StartOnBees }

// CorrectedOnBeesReduction is the share by which the mites on adult bees are
// fewer than without treatment.
func (l Left) CorrectedOnBeesReduction() float64 { return 1 - l.OnBees/l.UntreatedOnBees }

// Fewest is the smallest number of rounds whose corrected reduction of all
// mites reaches the target share. It is 0 when not even 20 rounds do.
func (r Rates) Fewest(everyDays int, kill float64, brood Brood, target float64) (int, error) {
	if !(target > 0 && target < 1) {
		return 0, &sampling.ValueError{Name: "target", Problem: fmt.Sprintf("%v is not between 0 and 1", target), Remedy: "give the share of mites to be rid of, such as 0.9"}
	}
	for n := 1; n <= maxRounds; n++ {
		left, err := r.Leave(Rounds{EveryDays: everyDays, Rounds: n, Kill: kill}, brood)
		if err != nil {
			return 0, err
		}
		if left.CorrectedReduction() >= target {
			return n, nil
		}
	}
	return 0, nil
}

// Holding is the kill of a round at which the rounds leave as many mites in the
// colony as there were at the start; what is weaker loses ground. It is NaN
// when rounds that kill nothing would hold it too, or when none would.
func (r Rates) Holding(everyDays, rounds int, brood Brood) (float64, error) {
	gain := func(kill float64) (float64, error) {
		left, err := r.Leave(Rounds{EveryDays: everyDays, Rounds: rounds, Kill: kill}, brood)
		return left.TotalReduction(), err
	}
	none, err := gain(0)
	if err != nil {
		return 0, err
	}
	if all, _ := gain(1); none >= 0 || all <= 0 {
		return math.NaN(), nil
	}
	return numeric.Root(func(kill float64) float64 {
		g, _ := gain(kill) // what could be wrong is not in the kill
		return g
	}, 0, 1), nil
}

// Spanning is the fewest rounds of which the last comes after the opening of
// every cell that was capped on the day of the first, drone cells too: the
// mites of a cell still capped then would meet no round.
func Spanning(everyDays int) int {
	if everyDays < 1 {
		return 0
	}
	return 1 + droneDays/everyDays + 1
}

// KillRange is the low, the middle and the high kill to try a treatment with:
// nine in ten kills are taken to be above the low one, one in ten above the
// high one; the middle is the mean.
func KillRange(b sampling.Beta) [3]float64 {
	return [3]float64{b.Quantile(0.1), b.Mean(), b.Quantile(0.9)}
}
