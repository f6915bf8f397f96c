package decide

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"time"

	"halfcup/sampling"
)

// Phase is a part of the colony's year.
type Phase string

// The phases, in the order of the year.
const (
	Broodless Phase = "broodless" // no capped brood
	Dormant   Phase = "dormant"   // little brood
	Buildup   Phase = "buildup"
	Peak      Phase = "peak"
	Decline   Phase = "decline"
)

// Hemisphere is the half of the earth the bees live on.
type Hemisphere string

// The hemispheres; the seasons of the southern one run six months later.
const (
	North Hemisphere = "north"
	South Hemisphere = "south"
)

// Never, as the start of a phase, says that the colonies do not have it: bees
// of a mild climate may never be broodless.
const Never = "never"

// Brood is how much brood is being capped.
type Brood int

// The amounts of brood. With little brood a mite waits longer for a cell, and
// none of the cells are drone cells.
const (
	NoBrood Brood = iota
	LittleBrood
	FullBrood
)

// PhaseFacts is what the program takes for granted of a phase when the
// beekeeper says nothing: a row of phases.csv.
type PhaseFacts struct {
	Phase        Phase
	Start        string // month and day in the north, such as "03-01"
	Brood        Brood
	BeeGrowth    float64 // growth of the number of adult bees a day, on the log scale
	AdultBees    float64 // adult bees of an ordinary colony
	Flying       bool    // bees fly, so that mites can come in from other colonies
	Source, Kind string
}

//go:embed phases.csv
var phasesCSV string

var phaseTable = readPhases()

// Phases lists the phases and their defaults in the order of the year.
func Phases() []PhaseFacts { return slices.Clone(phaseTable) }

func readPhases() []PhaseFacts {
	amounts := map[string]Brood{"none": NoBrood, "little": LittleBrood, "full": FullBrood}
	var out []PhaseFacts
	for _, r := range sampling.Table(phasesCSV) {
		out = append(out, PhaseFacts{
			Phase: Phase(r["phase"]), Start: r["start_north"], Brood: amounts[r["brood"]],
			BeeGrowth: r.Number("bee_growth_per_day"), AdultBees: r.Number("adult_bees"), Flying: r["flying"] == "yes",
			Source: r["source"], Kind: r["kind"],
		})
	}
	return out
}

// SeasonSettings is what a beekeeper may say of the season. The zero value is
// the default season of the north.
type SeasonSettings struct {
	Hemisphere Hemisphere
	Starts     map[Phase]string  // month and day a phase begins, such as "03-01", or Never; taken as given in both hemispheres
	BeeGrowth  map[Phase]float64 // growth of the number of adult bees a day, on the log scale
}

// Season is a year of a colony: which phase a day is in, and how bees and
// brood go in it. Make one with NewSeason.
type Season struct {
	phases []seasonPhase // in the order of the year, without the absent ones
	dates  []uint8       // which of them each date of a year is in, by dateIndex
}

type seasonPhase struct {
	PhaseFacts
	month time.Month
	day   int
}

// start is the first day of the phase in the given year.
func (p seasonPhase) start(year int) sampling.Date { return sampling.Day(year, p.month, p.day) }

// NewSeason puts the beekeeper's own dates over the defaults. Its errors are
// *sampling.ValueError.
func NewSeason(s SeasonSettings) (Season, error) {
	if s.Hemisphere == "" {
		s.Hemisphere = North
	}
	if s.Hemisphere != North && s.Hemisphere != South {
		return Season{}, &sampling.ValueError{Name: "hemisphere", Problem: fmt.Sprintf("%q is not a hemisphere", s.Hemisphere), Remedy: "write north or south"}
	}
	for _, p := range slices.Concat(sortedKeys(s.Starts), sortedKeys(s.BeeGrowth)) {
		if err := checkPhase(p); err != nil {
			return Season{}, err
		}
	}
	var season Season
	for _, facts := range phaseTable {
		p := seasonPhase{PhaseFacts: facts}
		own, isOwn := s.Starts[facts.Phase]
		if isOwn && own == Never {
			if facts.Brood == FullBrood {
				return Season{}, seasonError(facts.Phase, "no colony goes without it", "give the month and day it begins, such as "+facts.Start)
			}
			continue
		}
		if isOwn {
			p.Start = own
		}
		var err error
		if p.month, p.day, err = monthDay(facts.Phase, p.Start); err != nil {
			return Season{}, err
		}
		if !isOwn && s.Hemisphere == South {
			p.month = (p.month+5)%12 + 1
		}
		p.Start = fmt.Sprintf("%02d-%02d", p.month, p.day)
		if g, ok := s.BeeGrowth[facts.Phase]; ok {
			// A colony that doubles or halves in a week is a swarm or a death,
			// not a season.
			if !(g > -0.1 && g < 0.1) {
				return Season{}, seasonError(facts.Phase, fmt.Sprintf("adult bees cannot change by %v a day for weeks", g), "give a share a day between -0.1 and 0.1, such as -0.008 for a loss of 0.8 % a day")
			}
			p.BeeGrowth = g
		}
		season.phases = append(season.phases, p)
	}
	if err := season.checkOrder(); err != nil {
		return season, err
	}
	season.index()
	return season, nil
}

// checkOrder makes sure that the starts go once round the year.
func (s Season) checkOrder() error {
	const common = 2023 // any year without a leap day
	turns := 0
	for i, p := range s.phases {
		next := s.phases[(i+1)%len(s.phases)]
		if p.start(common) == next.start(common) {
			return seasonError(next.Phase, fmt.Sprintf("it begins on the same day as %s (%s)", p.Phase, p.Start), "give each phase a day of its own")
		}
		if next.start(common) > p.start(common) {
			continue
		}
		if turns++; turns > 1 {
			return seasonError(next.Phase, fmt.Sprintf("it would begin (%s) before %s does (%s)", next.Start, p.Phase, p.Start), "the order of the year is "+s.order())
		}
	}
	return nil
}

func (s Season) order() string {
	var names []string
	for _, p := range s.phases {
		names = append(names, string(p.Phase))
	}
	return strings.Join(names, ", ")
}

// Phase is the phase a day is in.
func (s Season) Phase(d sampling.Date) Phase { return s.at(d).Phase }

func (s Season) at(d sampling.Date) seasonPhase {
	_, month, day := d.Time().Date()
	return s.phases[s.dates[dateIndex(month, day)]]
}

// dateIndex numbers the dates of every year, 31 to a month.
func dateIndex(month time.Month, day int) int { return 31*int(month-1) + day - 1 }

// index puts down the phase of every date: the one that began last, this year
// or, early in the year, the one before.
func (s *Season) index() {
	s.dates = make([]uint8, 12*31)
	starts := map[int]uint8{}
	now, latest := uint8(0), -1
	for i, p := range s.phases {
		at := dateIndex(p.month, p.day)
		starts[at] = uint8(i)
		if at > latest {
			now, latest = uint8(i), at
		}
	}
	for at := range s.dates {
		if i, begins := starts[at]; begins {
			now = i
		}
		s.dates[at] = now
	}
}

// Next is the first day after d on which the phase begins, the zero Date when
// the season has no such phase.
func (s Season) Next(phase Phase, d sampling.Date) sampling.Date {
	for _, p := range s.phases {
		if p.Phase != phase {
			continue
		}
		year := d.Time().Year()
		if start := p.start(year); start > d {
			return start
		}
		return p.start(year + 1)
	}
	return 0
}

// Capping is how much brood is capped on a day. Broodless means without capped
// brood, so capping has ended one capped time of a drone before that phase
// begins; those are the days on which the last mites come out on to the bees.
func (s Season) Capping(d sampling.Date) Brood {
	if end := s.Next(Broodless, d); !end.IsZero() && end-d <= droneDays {
		return NoBrood
	}
	return s.at(d).Brood
}

// BeeGrowth is the growth of the number of adult bees on a day, on the log
// scale.
func (s Season) BeeGrowth(d sampling.Date) float64 { return s.at(d).BeeGrowth }

// Flying reports whether bees fly on a day, so that mites can come in from
// other colonies.
func (s Season) Flying(d sampling.Date) bool { return s.at(d).Flying }

// AdultBees is the number of adult bees an ordinary colony has at that time of
// the year.
func (s Season) AdultBees(d sampling.Date) float64 { return s.at(d).AdultBees }

func seasonError(p Phase, problem, remedy string) *sampling.ValueError {
	return &sampling.ValueError{Name: "season " + string(p), Problem: problem, Remedy: remedy}
}

func checkPhase(p Phase) error {
	var names []string
	for _, f := range phaseTable {
		if f.Phase == p {
			return nil
		}
		names = append(names, string(f.Phase))
	}
	e := &sampling.ValueError{Name: "season " + string(p), Problem: "there is no such phase", Remedy: "write one of " + strings.Join(names, ", ")}
	if near := sampling.Nearest(string(p), names); near != "" {
		e.Remedy = fmt.Sprintf("did you mean %s? The phases are %s", near, strings.Join(names, ", "))
	}
	return e
}

// monthDay reads a day of every year, such as 03-01.
func monthDay(p Phase, s string) (time.Month, int, error) {
	fail := func(problem string) (time.Month, int, error) {
		return 0, 0, seasonError(p, problem, "write the month and the day it begins, such as 03-01")
	}
	t, err := time.Parse("01-02", s)
	switch {
	case s == "02-29":
		return fail("02-29 is not in every year")
	case err != nil && len(s) == 5 && s[2] == '-':
		return fail("there is no such day as " + s)
	case err != nil:
		return fail(fmt.Sprintf("%q is not a month and a day", s))
	}
	return t.Month(), t.Day(), nil
}

// sortedKeys makes an error about two wrong names always name the same one.
func sortedKeys[V any](m map[Phase]V) []Phase {
	keys := make([]Phase, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
