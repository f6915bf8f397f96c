package decide

import (
	"cmp"
	"fmt"
	"slices"

	"halfcup/sampling"
)

// HappeningKind is what happened to a colony other than counts and treatments.
type HappeningKind string

// The kinds of happening. The last four are kept and told; they move no mite in
// the model.
const (
	Swarmed           HappeningKind = "swarmed"             // the old queen left with most of the bees
	Hived             HappeningKind = "hived"               // a swarm, or bees without combs, put into a hive
	Divided           HappeningKind = "split"               // this part of a divided colony
	Requeened         HappeningKind = "requeened"           // another queen
	Queenless         HappeningKind = "queenless"           // no queen lays
	DroneBroodRemoved HappeningKind = "drone-brood-removed" // sealed drone comb cut out
	QueenCaged        HappeningKind = "queen-caged"         // she is kept from laying
	United            HappeningKind = "united"              // another colony was joined to this one
	Died              HappeningKind = "died"
	Robbing           HappeningKind = "robbing"
	HoneyTaken        HappeningKind = "honey-taken"
	Moved             HappeningKind = "moved"
	Signs             HappeningKind = "signs" // of disease
)

// HappeningKinds lists the kinds of happening.
func HappeningKinds() []HappeningKind {
	return []HappeningKind{Swarmed, Hived, Divided, Requeened, Queenless, DroneBroodRemoved, QueenCaged, United, Died, Robbing, HoneyTaken, Moved, Signs}
}

// Happening is something that happened to a colony, at the start of its day.
type Happening struct {
	On   sampling.Date
	Kind HappeningKind

	// To is the day from which a queen lays again after no eggs since On; zero
	// when that is not known. Then a swarm's mother colony is taken to be
	// without eggs for three weeks, a caged or missing queen to lay again when
	// a later happening brings one, and every other colony to go on laying.
	To sampling.Date

	// Part is, of a split, the share of bees and brood that this part has; 0
	// for a half.
	Part float64

	// Bees are, of a swarm put into a hive, its bees and, of a union, those that
	// came; 0 when nobody knows.
	Bees float64

	// Came is, of a union, all that is known of the colony that was joined to this
	// one; nil when nothing is, and then it is taken to be as infested as this.
	Came *History
}

// How long brood takes, in days (Winston 1987, The Biology of the Honey Bee,
// from memory: 8.5 to 9 and 9.5 to 10): from the egg to the capping of a worker
// and a drone cell.
const (
	eggToCapping      = 9
	eggToDroneCapping = 10
)

// swarmGap is how long after a swarm the young queen of the mother colony
// begins to lay, in days: eight to emerge and about two weeks to mate. A
// judgement.
const swarmGap = 21

// fullLaying is how long a queen takes from her first eggs after a gap to full
// laying, in days. A young queen comes to it step by step, and nobody knows her
// day: were all her cells capped from one day on, nearly all mites would be
// taken to go into them within a week and to come out of them together. A
// judgement.
const fullLaying = 14

// Note is something a beekeeper should be told of a happening.
type Note string

const (
	// NoteNoEffect says that the happening is kept but moves no mite.
	NoteNoEffect Note = "no-effect"
	// NoteCostsWinterBees says that no eggs are laid from the middle of July on,
	// when the bees that raise the winter bees, or these themselves, would be.
	NoteCostsWinterBees Note = "costs-winter-bees"
	// NoteFewDrones says that there is little drone brood to remove outside April
	// to June. Removing it is a brake at any time and no answer to a colony over
	// its line.
	NoteFewDrones Note = "few-drones"
)

// Notes are what should be told of the happening.
func (h Happening) Notes(y Year) []Note {
	var out []Note
	switch h.Kind {
	case Robbing, HoneyTaken, Moved, Signs:
		out = append(out, NoteNoEffect)
	case Requeened:
		if h.To.IsZero() {
			out = append(out, NoteNoEffect)
		}
	case DroneBroodRemoved:
		if y.curve != nil && !y.within(h.On, "04-01", "06-30") {
			out = append(out, NoteFewDrones)
		}
	case QueenCaged:
		last := h.To - 1
		if h.To.IsZero() {
			last = h.On
		}
		if y.curve != nil && (y.within(h.On, "07-16", "10-15") || y.within(last, "07-16", "10-15")) {
			out = append(out, NoteCostsWinterBees)
		}
	}
	return out
}

// within reports whether a day lies between two dates as the temperate year of
// the north has them, wherever this year is moved.
func (y Year) within(d sampling.Date, from, to string) bool {
	moved := y.later + y.filled().curve.mostBrood - curves[DefaultYear].mostBrood
	_, month, day := d.Time().Date()
	at := ((dayOfYear(month, day)-moved)%daysOfYear + daysOfYear) % daysOfYear
	return at >= tableDay(from) && at <= tableDay(to)
}

// Window is a time without capped brood, from the first to the last day: a
// treatment of mites on adult bees reaches all of them then, not before and not
// after. A zero Until says that no end is known.
type Window struct{ From, Until sampling.Date }

// Window is the time without capped brood that the happening brings about, if
// there is one: a hived swarm until its own first cells are capped, any other
// from the day the last old brood has come out. Drone brood, where the time of
// year has some, comes out three days after that of workers.
func (h Happening) Window(y Year) (w Window, ok bool) {
	if h.Kind == Hived {
		return Window{h.On, max(h.On, h.To) + eggToCapping - 1}, true
	}
	gap, ok := h.gap()
	if !ok {
		return Window{}, false
	}
	w.From = gap.from + eggToCapping + workerDays
	for last := gap.from + eggToDroneCapping - 1; y.curve != nil && last+droneDays+1 > w.From; last-- {
		if y.Cells(last).Drone > 0 {
			w.From = last + droneDays + 1
		}
	}
	if gap.to.IsZero() {
		return w, true
	}
	w.Until = gap.to + eggToCapping - 1
	return w, w.Until >= w.From
}

// gap is a time in which no eggs are laid, from a day until the day before
// another, zero when no end is known.
type gap struct{ from, to sampling.Date }

// laying is the share of the eggs of a queen in full lay that are laid on a
// day from the gap's first on.
func (g gap) laying(day sampling.Date) float64 {
	if g.to.IsZero() || day < g.to {
		return 0
	}
	return min(1, float64(day-g.to+1)/fullLaying)
}

// gap is the time without eggs that the happening brings about.
func (h Happening) gap() (gap, bool) {
	switch h.Kind {
	case QueenCaged, Queenless:
		return gap{h.On, h.To}, true
	case Swarmed:
		if h.To.IsZero() {
			return gap{h.On, h.On + swarmGap}, true
		}
	case Hived, Divided, Requeened, United:
	default:
		return gap{}, false
	}
	return gap{h.On, h.To}, h.To > h.On
}

// gaps are the times without eggs. One without a known end ends when a queen
// comes.
func gaps(happenings []Happening) []gap {
	var out []gap
	for i, h := range happenings {
		g, ok := h.gap()
		if !ok {
			continue
		}
		for _, later := range happenings[i+1:] {
			if g.to.IsZero() && (later.Kind == Requeened || later.Kind == United || later.Kind == Hived) {
				g.to = max(later.On, later.To)
			}
		}
		out = append(out, g)
	}
	return out
}

// inOrder sorts happenings by their days.
func inOrder(happenings []Happening) []Happening {
	out := slices.Clone(happenings)
	slices.SortStableFunc(out, func(a, b Happening) int { return cmp.Compare(a.On, b.On) })
	return out
}

func (h Happening) check() error {
	fail := func(problem, remedy string) error {
		return &sampling.ValueError{Name: string(h.Kind), Problem: problem, Remedy: remedy}
	}
	switch {
	case !slices.Contains(HappeningKinds(), h.Kind):
		return &sampling.ValueError{Name: "happening", Problem: fmt.Sprintf("there is no kind %q", h.Kind), Remedy: "write one such as swarmed or queen-caged"}
	case h.On.IsZero():
		return fail("its day is missing", "give the day it happened")
	case !h.To.IsZero() && h.To < h.On:
		return fail(fmt.Sprintf("it cannot last from %s to %s", h.On, h.To), "give its first and last day in order")
	case !(h.Part >= 0 && h.Part <= 1):
		return fail(fmt.Sprintf("%v is not a part of a colony", h.Part), "give the share of the bees this part has, such as 0.5")
	case h.Bees != 0 && !(h.Bees >= 100 && h.Bees <= 200_000):
		return fail(fmt.Sprintf("%v bees are no colony", h.Bees), "give the number of adult bees, such as 10000")
	}
	return nil
}
