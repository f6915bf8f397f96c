package decide

import (
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"halfcup/sampling"
)

const (
	// SameWeek is how far apart in the year two counts can be that are set
	// beside each other, in days: mites double in a month, so more would compare
	// months.
	SameWeek = 10

	// leastRatios is the number of colonies from which limits are told.
	leastRatios = 3
)

// YearsBeside is two years of an apiary, like beside like.
type YearsBeside struct {
	Pairs   []YearPair
	LeftOut []string // colonies that were counted, and not in the same weeks of both years
	Lost    [2]int   // colonies that died, by year
	Counted [2]int   // colonies that were counted, by year

	// Ratio is how many times as many mites a typical colony has in the second
	// year, with limits from how much the colonies differ; nil with fewer than
	// three Colonies that have a pair.
	Ratio    *Range
	Colonies int
}

// YearPair is a colony on a day of either year, as its own record tells it.
type YearPair struct {
	Colony string
	Dates  [2]sampling.Date
	Levels [2]float64 // medians, in mites per hundred bees
}

// Beside sets the counts of bees that a colony had in one year beside the
// nearest of another that lie in the same weeks, none used twice. The limits are
// at level: those of Student's t for the mean of the colonies' log ratios. The
// error is a *ColonyError.
func (a Apiary) Beside(years [2]int, level float64) (YearsBeside, error) {
	var out YearsBeside
	var ratios []float64
	for i, k := range a.Colonies {
		var days [2][]sampling.Date
		for j, year := range years {
			if k.Died && k.Gone.Time().Year() == year {
				out.Lost[j]++
			}
			if days[j] = sampledIn(k.Counts, year); len(days[j]) > 0 {
				out.Counted[j]++
			}
		}
		sum, n := 0.0, 0
		for _, dates := range sameWeeks(days[0], days[1]) {
			p := YearPair{Colony: k.Name, Dates: dates}
			for j, on := range dates {
				s, err := k.On(on)
				if err != nil {
					return out, &ColonyError{fmt.Sprintf("%s (colony %d of the yard)", k.Name, i+1), err}
				}
				p.Levels[j] = 100 * s.Known.Quantile(0.5)
			}
			out.Pairs = append(out.Pairs, p)
			sum, n = sum+math.Log(p.Levels[1]/p.Levels[0]), n+1
		}
		switch {
		case n > 0:
			ratios = append(ratios, sum/float64(n))
		case len(days[0])+len(days[1]) > 0:
			out.LeftOut = append(out.LeftOut, k.Name)
		}
	}
	out.Colonies = len(ratios)
	if n := float64(len(ratios)); n >= leastRatios {
		mean, sd := stat.MeanStdDev(ratios, nil)
		reach := distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile((1+level)/2) * sd / math.Sqrt(n)
		out.Ratio = &Range{math.Exp(mean), math.Exp(mean - reach), math.Exp(mean + reach)}
	}
	return out, nil
}

// sampledIn are the days of a year on which bees were sampled, each once.
func sampledIn(counts []sampling.Count, year int) []sampling.Date {
	var out []sampling.Date
	for _, c := range counts {
		if c.Date.Time().Year() == year && c.Method.Kind() == sampling.BeeSample && (len(out) == 0 || out[len(out)-1] != c.Date) {
			out = append(out, c.Date)
		}
	}
	return out
}

// sameWeeks sets days of one year beside those of another.
func sameWeeks(theirs, ours []sampling.Date) [][2]sampling.Date {
	var out [][2]sampling.Date
	used := map[sampling.Date]bool{}
	for _, day := range ours {
		best, apart := sampling.Date(0), SameWeek+1
		for _, other := range theirs {
			if d := daysApart(day, other); !used[other] && d < apart {
				best, apart = other, d
			}
		}
		if !best.IsZero() {
			used[best] = true
			out = append(out, [2]sampling.Date{best, day})
		}
	}
	return out
}

// daysApart is how far two days lie apart in the year.
func daysApart(a, b sampling.Date) int {
	t := b.Time()
	apart := 366
	for _, year := range []int{a.Time().Year() - 1, a.Time().Year(), a.Time().Year() + 1} {
		moved := sampling.DateOf(time.Date(year, t.Month(), t.Day(), 0, 0, 0, 0, time.UTC))
		apart = min(apart, max(int(a-moved), int(moved-a)))
	}
	return apart
}
