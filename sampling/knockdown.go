package sampling

import (
	"fmt"
	"math"
)

// knockdownKey is all that the factor of a fall after a treatment depends on.
type knockdownKey struct {
	kill, reach     Beta
	killed          float64 // the share itself, where it is taken as known; else 0
	fallLogSD       float64
	fallPerBee      float64 // natural fall over the window, mites per bee and mite per bee
	dayCV, beesSD   float64
	fallBeforeKnown bool
}

// readKnockdown reads the mites that fall after a treatment:
// mites ~ Poisson(h·A·e·θ + natural fall), θ the infestation just before it, A
// adult bees, e the kill on adult bees, h the share that reaches the board.
//
// The natural fall goes on meanwhile. Stated, it is a plain addition. Not
// stated, it is the board's reading of the same θ and the same bees, so that
// the whole count is θ times one factor, A·(h·e + days·c·d) with c and d as in
// readBoard.
func (a Assumptions) readKnockdown(c Count) (Kernel, reading, error) {
	k, err := a.knockdown(c)
	if err != nil {
		return Kernel{}, reading{}, err
	}
	share, own, err := a.cells(c)
	if err != nil {
		return Kernel{}, reading{}, err
	}
	r := reading{mites: c.Mites, own: own, law: law{scale: share * k.AdultBees, size: math.Inf(1)}}
	key := knockdownKey{kill: k.Kill, killed: a.kill, reach: k.Reach, beesSD: k.beesLogSD, fallBeforeKnown: c.FallBefore != nil}
	days := c.DaysOnBoard()
	if c.FallBefore != nil {
		r.law.add = share * days * *c.FallBefore
	} else {
		key.fallPerBee = days * 100 * k.fall.MedianPerDayPerHundred / k.fall.Bees
		key.fallLogSD, key.dayCV = k.fall.LogSD, a.BoardDayCV/math.Sqrt(days)
	}
	shared, ok := kernels.Load(key)
	if !ok {
		shared = key.kernel()
		kernels.Store(key, shared)
	}
	return shared.(Kernel), r, nil
}

// AtKill reads falls after a treatment as those of one that killed the given
// share of the mites on adult bees, above 0 and up to 1.
func (a Assumptions) AtKill(share float64) Assumptions {
	a.kill = share
	return a
}

// KnockdownReading is what a fall after a treatment is read with.
type KnockdownReading struct {
	Kill        Beta     `json:"kill"`
	Reach       Beta     `json:"reach"`
	AdultBees   float64  `json:"adult_bees"`
	AdultBeesCV float64  `json:"adult_bees_cv"`
	FallBefore  *float64 `json:"fall_before"` // mites a day; null when taken from the board's reading

	beesLogSD float64
	fall      BoardFall
}

// KnockdownReading is how the program reads the fall of c. It refuses
// treatments that also kill in the cells or over weeks, for their fall is not
// that of the mites on adult bees; the error is a *ValueError or *SyntaxError.
func (a Assumptions) KnockdownReading(c Count) (KnockdownReading, error) { return a.knockdown(c) }

func (a Assumptions) knockdown(c Count) (KnockdownReading, error) {
	t, err := c.Treatment.Find()
	if err != nil {
		return KnockdownReading{}, err
	}
	if t.WholeColony || t.ActsInBrood {
		return KnockdownReading{}, badValue("knockdown after "+t.TreatmentName.String(),
			"this treatment brings mites down out of the brood too, or over weeks, so its fall does not tell what sat on the bees",
			"count bees before and after it instead")
	}
	if c.FallBefore != nil && !(*c.FallBefore >= 0 && *c.FallBefore <= maxMites) {
		return KnockdownReading{}, badValue("fall before the treatment", fmt.Sprintf("%v mites a day cannot be", *c.FallBefore), "give the natural fall in mites a day, such as 12")
	}
	if err := c.Hive.check(); err != nil {
		return KnockdownReading{}, err
	}
	bees, sd := a.adultBees(c.Hive)
	fall := a.BoardBrood
	if c.Hive.Broodless {
		fall = a.BoardBroodless
	}
	return KnockdownReading{
		Kill: t.Kill(!c.Hive.Broodless), Reach: a.Reach,
		AdultBees: bees, AdultBeesCV: math.Sqrt(math.Expm1(sd * sd)), FallBefore: c.FallBefore,
		beesLogSD: sd, fall: fall,
	}, nil
}

// kernel is the law of ln(h·e + natural fall per bee) blurred by the bees.
func (key knockdownKey) kernel() Kernel {
	killed := betaKernel(key.kill)
	if key.killed > 0 {
		killed = NormalKernel(math.Log(key.killed), 0)
	}
	killed = killed.then(betaKernel(key.reach))
	bees := normalKernel(0, key.beesSD)
	if key.fallBeforeKnown {
		return killed.then(bees)
	}
	// The sum of two independent factors, by all pairs of their values.
	fall := NormalKernel(math.Log(key.fallPerBee), key.fallLogSD)
	if key.dayCV > 0 {
		fall = fall.then(newKernel(gammaPoints(gammaSize(key.dayCV))))
	}
	points := make([]point, 0, len(killed.w)*len(fall.w))
	for i, p := range killed.w {
		for j, q := range fall.w {
			if w := p * q; math.Abs(w) > 1e-13 {
				t := math.Log(math.Exp(float64(killed.first+i)*gridStep) + math.Exp(float64(fall.first+j)*gridStep))
				points = append(points, point{t, w})
			}
		}
	}
	return newKernel(points).then(bees)
}

// Killed is the mites a treatment killed on adult bees, by what is known of the
// infestation before it: median and equal-tailed limits at level. It takes the
// kill, the adult bees and the infestation as independent.
func (k KnockdownReading) Killed(before Density, level float64) (median, low, high float64) {
	d := before.Moved(betaKernel(k.Kill).then(normalKernel(0, k.beesLogSD)))
	q := d.Quantiles((1-level)/2, 0.5, (1+level)/2)
	return k.AdultBees * q[1], k.AdultBees * q[0], k.AdultBees * q[2]
}
