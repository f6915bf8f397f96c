package decide

import (
	"math"
	"testing"

	"halfcup/sampling"
)

func TestUnseen(t *testing.T) {
	north, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	south, err := NewYear(YearSettings{Hemisphere: South})
	if err != nil {
		t.Fatal(err)
	}
	for day, want := range map[string]float64{
		"2026-04-15": 0.3, "2026-08-15": 1.8, "2026-12-15": 1, "2027-01-15": 0.8, "2027-02-03": 0.8,
		// Half and a third of the way on the log scale.
		"2026-06-30": math.Sqrt(0.6 * 1.0), "2026-11-25": 1.6 * math.Pow(1/1.6, 1.0/3),
		"2026-12-25": math.Pow(0.8, 10.0/31), "2027-01-05": math.Pow(0.8, 21.0/31),
	} {
		got := north.Unseen(mustDate(day))
		if !(math.Abs(got.MedianPerHundred/want-1) < 1e-12) || !(math.Abs(got.LogSD-1.2) < 1e-12) {
			t.Errorf("%s: %+v, want %v", day, got, want)
		}
	}
	// Half a year on in the south.
	if got := south.Unseen(mustDate("2027-02-15")).MedianPerHundred; !(math.Abs(got/1.8-1) < 0.05) {
		t.Errorf("February in the south: %v", got)
	}
	for day := mustDate("2026-01-01"); day < mustDate("2028-03-01"); day++ {
		for _, s := range []Year{north, south} {
			if r := s.Unseen(day+1).MedianPerHundred / s.Unseen(day).MedianPerHundred; !(r > 0.97 && r < 1.03) {
				t.Errorf("%s: a step of %v", day, r)
			}
		}
	}
}

// The effect of a treatment on a colony nobody has looked at is the whole for a
// month after its end and gone after three, evenly between; a colony known only
// by its treatment shows it.
func TestEffectFades(t *testing.T) {
	h := counted(t, 3).History
	given := mustDate("2026-06-01")
	h.Treatments = []TreatmentDay{{On: given, Treatment: treatment(t, "oxalic-vapour")}}
	s, err := h.On(given)
	if err != nil {
		t.Fatal(err)
	}
	r := s.path.courses[0]
	for days, fade := range map[int]float64{15: 1, 30: 1, 45: 0.75, 60: 0.5, 89: 1.0 / 60} {
		i := r.first + days
		whole := r.parts(r.first, i, func(i int) float64 { return r.without[i-r.first] })
		for k, part := range r.effect(i) {
			if !(math.Abs(part.Shift-fade*whole[k].Shift) < 1e-12) || !(part.Shift < 0) {
				t.Errorf("day %d part %d: %v of %v", days, k, part.Shift, whole[k].Shift)
			}
		}
	}
	if r.effect(r.first) != nil || r.effect(r.first+90) != nil {
		t.Error("an effect on its day, or after three months")
	}
	treated, unseen := replayed(t, h, "2026-06-20").Quantile(0.5), h.Year.Unseen(mustDate("2026-06-20")).MedianPerHundred/100
	if !(treated < 0.9*unseen) {
		t.Errorf("treated %v, anyone %v", treated, unseen)
	}
}

// Fall to treatment: one rule for the whole program.
func TestTreatmentOfFall(t *testing.T) {
	vapour, trickle, thymol := treatment(t, "oxalic-vapour"), treatment(t, "oxalic-trickle"), treatment(t, "thymol")
	fall := func(text string, name sampling.TreatmentName) sampling.Count {
		c := mustCount(t, text)
		c.Treatment = name
		return c
	}
	on := func(day string, treatment sampling.Treatment) TreatmentDay {
		return TreatmentDay{On: mustDate(day), Treatment: treatment}
	}
	for name, c := range map[string]struct {
		fall      sampling.Count
		given     []TreatmentDay
		its, last int
	}{
		"none":                           {fall("knockdown:310/5d@2026-08-06", vapour.TreatmentName), nil, -1, -1},
		"while the board lay":            {fall("knockdown:310/5d@2026-08-06", vapour.TreatmentName), []TreatmentDay{on("2026-08-01", vapour)}, 0, 0},
		"the board came the day after":   {fall("knockdown:310/4d@2026-08-06", vapour.TreatmentName), []TreatmentDay{on("2026-08-01", vapour)}, 0, 0},
		"the next round on the last day": {fall("knockdown:310/5d@2026-08-06", vapour.TreatmentName), []TreatmentDay{on("2026-08-01", vapour), on("2026-08-06", vapour)}, 0, 0},
		"a board of hours":               {fall("knockdown:310/8h@2026-08-06", vapour.TreatmentName), []TreatmentDay{on("2026-08-06", vapour)}, 0, 0},
		"two rounds under one board":     {fall("knockdown:310/9d@2026-08-10", vapour.TreatmentName), []TreatmentDay{on("2026-08-07", vapour), on("2026-08-02", vapour)}, 1, 0},
		"another way":                    {fall("knockdown:310/5d@2026-08-06", vapour.TreatmentName), []TreatmentDay{on("2026-08-01", trickle)}, -1, 0},
		"the way not said":               {fall("knockdown:310/5d@2026-08-06", sampling.TreatmentName{Active: "oxalic acid"}), []TreatmentDay{on("2026-08-01", trickle)}, 0, 0},
		"nothing said":                   {fall("knockdown:310/5d@2026-08-06", sampling.TreatmentName{}), []TreatmentDay{on("2026-07-01", vapour), on("2026-08-01", trickle)}, 1, 1},
		"still at work":                  {fall("knockdown:310/5d@2026-08-16", thymol.TreatmentName), []TreatmentDay{on("2026-08-01", thymol)}, 0, 0},
		"long ago":                       {fall("knockdown:310/5d@2026-08-16", vapour.TreatmentName), []TreatmentDay{on("2026-08-01", vapour)}, -1, 0},
		"later":                          {fall("knockdown:310/5d@2026-08-06", vapour.TreatmentName), []TreatmentDay{on("2026-08-07", vapour)}, -1, -1},
	} {
		if its, last := TreatmentOfFall(c.fall, c.given); its != c.its || last != c.last {
			t.Errorf("%s: %d and %d, want %d and %d", name, its, last, c.its, c.last)
		}
	}
}

// A round given on the day a board came out has nothing to do with what lay on
// it: 9 mites in 300 bees, vapour, 310 mites in five days, and that day a second
// round. Read as of the second round, the fall would tell of a colony with half
// as many mites.
func TestARoundOnTheDayTheBoardCameOut(t *testing.T) {
	h := counted(t, 3, "wash:9/300@2026-07-28").History
	vapour := treatment(t, "oxalic-vapour")
	h.Treatments = []TreatmentDay{{On: mustDate("2026-08-01"), Treatment: vapour}}
	fall := mustCount(t, "knockdown:310/5d@2026-08-06")
	fall.Treatment = vapour.TreatmentName
	h.Counts = append(h.Counts, fall)
	before := replayed(t, h, "2026-08-06")
	h.Treatments = append(h.Treatments, TreatmentDay{On: mustDate("2026-08-06"), Treatment: vapour})
	same(t, "on the day", replayed(t, h, "2026-08-06"), before, 1e-9)
	if after := replayed(t, h, "2026-08-07"); !(after.Quantile(0.5) < 0.8*before.Quantile(0.5)) {
		t.Error("the second round did nothing the day after")
	}
}

// Open washes of 300 bees in seven yards of Vermont, 2021 and May of 2022 (repo
// alexburn17/UBO_disease_paper): the means of a colony nobody has looked at are
// above them in spring, because other yards are, but not by
// much; and from late August on they are those. It was eight times what was
// counted in late May when a colony stood at 0.6 then.
func TestUnseenBesideOpenCounts(t *testing.T) {
	year, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		day               string
		mean, least, most float64
	}{
		{"2021-05-25", 0.16, 1, 6}, {"2022-05-04", 0.33, 1, 4}, {"2021-06-24", 0.62, 1, 4}, {"2021-08-06", 1.95, 0.8, 2},
		{"2021-08-26", 3.95, 0.7, 1.4}, {"2021-09-27", 5.59, 0.7, 1.4},
	} {
		u := year.Unseen(mustDate(c.day))
		mean := u.MedianPerHundred * math.Exp(u.LogSD*u.LogSD/2)
		t.Logf("%s: mean %.2f, counted %.2f", c.day, mean, c.mean)
		if r := mean / c.mean; !(r > c.least && r < c.most) {
			t.Errorf("%s: a mean of %.2f where %.2f was counted", c.day, mean, c.mean)
		}
	}
}
