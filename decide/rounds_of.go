package decide

import (
	"math"

	"halfcup/sampling"
)

// has reports whether a treatment is a round of the course.
func (c Course) has(t TreatmentDay) bool {
	return t.Treatment.Slug == c.Treatment.Slug && t.On >= c.First && t.On <= c.Last
}

// TreatmentOfFall finds the treatment that brought down the mites of a fall
// after a treatment (the board came out on its date) among those of its
// colony: the first one given while the board lay, with a day of grace for a
// board that went in the morning after, else one that was still at work when it
// went in. One given on the day a board of a day or more came out is the next
// one. A fall that names no way of application matches each of its ingredient,
// one that names nothing matches any.
//
// It gives the places of that treatment and of the last one given before the
// board came out, whatever it was; -1 when there is none.
func TreatmentOfFall(fall sampling.Count, given []TreatmentDay) (its, last int) {
	its, last = -1, -1
	lay := fall.DaysOnBoard()
	in := fall.Date - sampling.Date(math.Ceil(lay))
	while := false // its was given while the board lay
	for i, t := range given {
		if t.On > fall.Date || t.On == fall.Date && lay >= 1 {
			continue
		}
		if last < 0 || t.On >= given[last].On {
			last = i
		}
		if !fallNames(fall.Treatment, t.Treatment.TreatmentName) {
			continue
		}
		switch {
		case t.On >= in-1:
			if !while || t.On < given[its].On {
				its, while = i, true
			}
		case !while && t.On+sampling.Date(t.Treatment.Days) >= in && (its < 0 || t.On >= given[its].On):
			its = i
		}
	}
	return its, last
}

func fallNames(fall, given sampling.TreatmentName) bool {
	return fall.Active == "" || fall.Active == given.Active && (fall.Application == "" || fall.Application == given.Application)
}

// TreatedBefore is the day of the treatment whose mites a knockdown counts; as
// many days before its date as the board lay when the record has none.
func (h History) TreatedBefore(c sampling.Count) sampling.Date {
	if its, _ := TreatmentOfFall(c, h.Treatments); its >= 0 {
		return h.Treatments[its].On
	}
	return c.Date - sampling.Date(math.Ceil(c.DaysOnBoard()))
}
