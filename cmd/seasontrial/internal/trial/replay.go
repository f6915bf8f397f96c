package trial

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"

	"halfcup/sampling"
)

// The seasons of this package are made up. A replay is not: it lets a predictor
// say, before every wash of colonies that somebody washed more than once, how
// many mites it will show.

// Wash is one alcohol wash of an open table, all bees of which were counted.
type Wash struct {
	Colony, Yard, Treatment, Visit string
	Day                            sampling.Date
	Mites, Bees                    int
}

// ReadWashes reads such a table. It needs the columns colony, yard, treatment,
// visit, date, mites and bees; lines that begin with # are left out. Errors name
// the line.
func ReadWashes(r io.Reader) ([]Wash, error) {
	in := csv.NewReader(r)
	in.Comment = '#'
	head, err := in.Read()
	if err != nil {
		return nil, fmt.Errorf("washes: %w: give a table with a first line of column names", err)
	}
	column := map[string]int{}
	for i, name := range head {
		column[name] = i
	}
	for _, name := range []string{"colony", "yard", "treatment", "visit", "date", "mites", "bees"} {
		if _, ok := column[name]; !ok {
			return nil, fmt.Errorf("washes: there is no column %s: name it in the first line", name)
		}
	}
	var out []Wash
	for {
		row, err := in.Read()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("washes: %w", err)
		}
		line, _ := in.FieldPos(0)
		w := Wash{Colony: row[column["colony"]], Yard: row[column["yard"]], Treatment: row[column["treatment"]], Visit: row[column["visit"]]}
		var mites, bees error
		w.Mites, mites = strconv.Atoi(row[column["mites"]])
		w.Bees, bees = strconv.Atoi(row[column["bees"]])
		w.Day, err = sampling.ParseDate(row[column["date"]])
		if err := errors.Join(err, mites, bees); err != nil {
			return nil, fmt.Errorf("washes: line %d: %w", line, err)
		}
		if w.Mites < 0 || w.Bees < 1 {
			return nil, fmt.Errorf("washes: line %d: %d mites of %d bees: mites are counted from 0 and bees from 1", line, w.Mites, w.Bees)
		}
		out = append(out, w)
	}
}

// Past is all that is known before a wash is made.
type Past struct {
	Earlier []Wash        // of this colony, in the order of their days, one at least
	Day     sampling.Date // of the next wash
	Others  []Wash        // all washes of the other yards, for predictors that learn
}

// Predictor is what is known of a colony on the day of its next wash, before
// that is made.
type Predictor func(Past) (sampling.Density, error)

// Score is how a predictor did on some washes.
type Score struct {
	Name string
	N    int

	// Held is the share of the washes within the 90 % interval, the mites from
	// the 5th to the 95th percentile of what was foretold. Mites are whole
	// numbers, so the interval of a true predictor holds more than 90 %.
	Held float64

	// Share90 is the same without that: the part of the foretold chance of a
	// count or fewer that lies from 5 to 95 %, spread evenly over the chance of
	// the count itself (Czado, Gneiting & Held 2009, Biometrics 65:1254-1261). A
	// true predictor has 90 %.
	Share90, ShareSE float64

	// Middle is the mean of the foretold chance of fewer mites, spread in the
	// same way: over one half when more mites came than were foretold.
	Middle float64

	// Log is the mean logarithm of the chance of the mites that came (natural;
	// the higher the better).
	Log, LogSE float64
}

// Replayed is how a predictor did: on all washes, on those of each yard, and on
// those of each visit.
type Replayed struct {
	All    Score
	Yards  []Score
	Visits []Score
}

// washScatter is how far one wash lies off because frames differ, as a
// coefficient of variation: the same for every predictor. 0.25 is an upper limit
// (two samples of 26 colonies: Tokach et al. 2026, doi 10.5281/zenodo.19362980).
const washScatter = 0.25

// Replay lets a predictor foretell every wash of a colony but the first. Yard by
// yard, it may learn from the others and not from its own.
func Replay(washes []Wash, predict Predictor) (Replayed, error) {
	colonies := map[string][]Wash{}
	var yards, visits, names []string
	for _, w := range washes {
		if _, seen := colonies[w.Colony]; !seen {
			names = append(names, w.Colony)
		}
		if !slices.Contains(yards, w.Yard) {
			yards = append(yards, w.Yard)
		}
		if !slices.Contains(visits, w.Visit) {
			visits = append(visits, w.Visit)
		}
		colonies[w.Colony] = append(colonies[w.Colony], w)
	}
	var all []foretold
	for _, yard := range yards {
		var others []Wash
		for _, w := range washes {
			if w.Yard != yard {
				others = append(others, w)
			}
		}
		for _, name := range names {
			own := slices.Clone(colonies[name])
			if own[0].Yard != yard {
				continue
			}
			slices.SortStableFunc(own, func(a, b Wash) int { return int(a.Day - b.Day) })
			for i, next := range own[1:] {
				d, err := predict(Past{Earlier: own[:i+1], Day: next.Day, Others: others})
				if err != nil {
					return Replayed{}, fmt.Errorf("replay: %s on %s: %w", name, next.Day, err)
				}
				f, err := foretell(d, next)
				if err != nil {
					return Replayed{}, fmt.Errorf("replay: %s on %s: %w", name, next.Day, err)
				}
				all = append(all, f)
			}
		}
	}
	out := Replayed{All: score("all", all)}
	by := func(names []string, of func(Wash) string) (scores []Score) {
		for _, name := range names {
			var some []foretold
			for _, f := range all {
				if of(f.Wash) == name {
					some = append(some, f)
				}
			}
			if len(some) > 0 {
				scores = append(scores, score(name, some))
			}
		}
		return scores
	}
	out.Yards = by(yards, func(w Wash) string { return w.Yard })
	out.Visits = by(visits, func(w Wash) string { return w.Visit })
	return out, nil
}

// foretold is a wash beside what was foretold of it.
type foretold struct {
	Wash
	fewer, chance float64 // of fewer mites than came, and of as many
}

// foretell is the exact law of the mites of a wash under what is known of θ:
// a negative binomial for every θ, because frames differ by a gamma factor.
func foretell(d sampling.Density, w Wash) (foretold, error) {
	perHundred, density := d.Curve()
	const k = 1 / (washScatter * washScatter)
	var terms, ratios []float64
	total := 0.0
	for i, p := range density {
		if p <= 0 {
			continue
		}
		m := float64(w.Bees) * perHundred[i] / 100
		terms = append(terms, p*math.Pow(k/(k+m), k))
		ratios = append(ratios, m/(k+m))
		total += p
	}
	if !(total > 0) {
		return foretold{}, errors.New("the predictor gives no chances")
	}
	f := foretold{Wash: w}
	for y := 0; ; y++ {
		sum := 0.0
		for _, t := range terms {
			sum += t
		}
		if y == w.Mites {
			f.chance = sum / total
			return f, nil
		}
		f.fewer += sum / total
		for i := range terms {
			terms[i] *= ratios[i] * (float64(y) + k) / float64(y+1)
		}
	}
}

// score puts predictions together.
func score(name string, all []foretold) Score {
	const low, high = 0.05, 0.95
	s := Score{Name: name, N: len(all)}
	var shares, logs []float64
	for _, f := range all {
		// The least count with a chance of low or more that no more come, and the
		// same of high, are the ends of the interval.
		if f.fewer+f.chance >= low && f.fewer < high {
			s.Held += 1 / float64(len(all))
		}
		inside := 0.0
		if f.chance > 0 {
			inside = max(0, min(high, f.fewer+f.chance)-max(low, f.fewer)) / f.chance
		}
		shares = append(shares, inside)
		logs = append(logs, math.Log(f.chance))
		s.Middle += (f.fewer + f.chance/2) / float64(len(all))
	}
	for i := range all {
		s.Share90 += shares[i] / float64(len(all))
		s.Log += logs[i] / float64(len(all))
	}
	s.ShareSE, s.LogSE = errorOf(shares), errorOf(logs)
	return s
}
