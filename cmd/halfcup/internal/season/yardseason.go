package season

import (
	"cmp"
	"slices"
	"time"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/decide"
	"halfcup/sampling"
)

// seasonSpan is one season of the bees: a calendar year in the north, from July
// to June in the south.
type seasonSpan struct {
	year     int // in which most of it lies: the year it ends in
	from, to sampling.Date
}

func seasonOfYear(year int, hemisphere decide.Hemisphere) seasonSpan {
	if hemisphere == decide.South {
		return seasonSpan{year, sampling.Day(year-1, time.July, 1), sampling.Day(year, time.June, 30)}
	}
	return seasonSpan{year, sampling.Day(year, time.January, 1), sampling.Day(year, time.December, 31)}
}

func seasonAt(day sampling.Date, hemisphere decide.Hemisphere) seasonSpan {
	year := day.Time().Year()
	if s := seasonOfYear(year, hemisphere); s.holds(day) {
		return s
	}
	return seasonOfYear(year+1, hemisphere)
}

func (s seasonSpan) holds(d sampling.Date) bool { return d >= s.from && d <= s.to }

// washBees is how many bees a wash takes when one is made everywhere: half a
// cup.
const washBees = 300

// visitDays is within how many days looks at the colonies of one yard are one
// visit.
const visitDays = 7

// seasonTally is what was done to a yard in a season.
type seasonTally struct {
	Colonies int // that lived on some day of it
	Counts   int
	Counted  []sampling.Date // the days of the counts, each once
	Visits   []sampling.Date // the first day of each
	Killed   int             // bees, by washes

	// WouldHaveKilled is what a wash of every colony at every visit would have
	// killed.
	WouldHaveKilled int

	Treatments []treatmentTally
	Lost       []string // that died
}

type treatmentTally struct {
	Name     sampling.TreatmentName
	Colonies int
	Rounds   int // in all colonies together
}

// tallyOf sums up a season up to a day.
func (y *yardReading) tallyOf(season seasonSpan, day sampling.Date) seasonTally {
	last := min(day, season.to)
	var t seasonTally
	type span struct{ from, to sampling.Date }
	var lives []span
	treated := map[sampling.TreatmentName]map[string]int{}
	killed := 0.0
	for _, events := range y.events {
		name := events[0].Colony
		life := span{events[0].Date, last}
		if end, ok := ended(events, last); ok {
			life.to = end.Date
			if end.Kind == fieldlog.Died && season.holds(end.Date) {
				t.Lost = append(t.Lost, name)
			}
		}
		if life.from <= last && life.to >= season.from {
			t.Colonies++
			lives = append(lives, life)
		}
		for _, e := range events {
			if e.Date < season.from || e.Date > last {
				continue
			}
			switch e.Kind {
			case fieldlog.Count:
				t.Counts++
				t.Counted = append(t.Counted, e.Date)
				if bees, _, err := y.BeesOf(*e.Count); err == nil && e.Count.Method.KillsBees() {
					killed += bees
				}
			case fieldlog.Treatment:
				if treated[e.Treatment] == nil {
					treated[e.Treatment] = map[string]int{}
				}
				treated[e.Treatment][name]++
			}
		}
	}
	t.Killed = int(killed + 0.5)
	slices.Sort(t.Counted)
	t.Counted = slices.Compact(t.Counted)
	for _, d := range t.Counted {
		if n := len(t.Visits); n == 0 || d >= t.Visits[n-1]+visitDays {
			t.Visits = append(t.Visits, d)
			for _, life := range lives {
				if d >= life.from && d <= life.to {
					t.WouldHaveKilled += washBees
				}
			}
		}
	}
	for name, colonies := range treated {
		sum := treatmentTally{Name: name, Colonies: len(colonies)}
		for _, n := range colonies {
			sum.Rounds += n
		}
		t.Treatments = append(t.Treatments, sum)
	}
	slices.SortFunc(t.Treatments, func(a, b treatmentTally) int {
		return cmp.Or(cmp.Compare(b.Colonies, a.Colonies), cmp.Compare(a.Name.String(), b.Name.String()))
	})
	return t
}
