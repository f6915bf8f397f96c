package sampling

import "math"

// readBees reads a wash, roll or carbon dioxide count:
// mites ~ Poisson(bees · recovery · frame factor · θ).
//
// The frame factor is a gamma of mean one with CV FrameCV/√frames, which makes
// the law negative binomial. That is why more bees from one frame stop helping.
func (a Assumptions) readBees(c Count) (Kernel, reading, error) {
	bees, cv, err := a.BeesOf(c)
	if err != nil {
		return Kernel{}, reading{}, err
	}
	shared := exactly
	if b, ok := a.RecoveryOf(c); ok {
		shared = betaKernel(b)
		if c.Method == Roll && a.rolls > 0 {
			shared = normalKernel(math.Log(b.Quantile(a.rolls)), 0)
		}
	}
	frames := float64(max(c.Frames, 1))
	return shared, reading{
		mites: c.Mites,
		law:   law{scale: bees, size: gammaSize(a.FrameCV / math.Sqrt(frames))},
		own:   meanOneKernel(cv),
	}, nil
}

// RecoveryOf is the share that a bee sample finds of the mites a careful wash
// would find; ok is false when it finds all of them. A roll marked damp or dry
// has a recovery of its own, unless that is left zero or the recovery of rolls
// was set to exactly one.
func (a Assumptions) RecoveryOf(c Count) (b Beta, ok bool) {
	b, ok = a.Recovery[c.Method]
	if marked := a.recoveryIn(c.Weather); ok && c.Method == Roll && marked != (Beta{}) {
		b = marked
	}
	return b, ok
}

// RollsAt are the figures under which every roll finds what lies so far up in
// what is known of its recovery, a quantile between 0 and 1: for rolls that
// share the weather of a day, on which none finds its own share. Each keeps to
// the law of its weather.
func (a Assumptions) RollsAt(quantile float64) Assumptions {
	a.rolls = quantile
	return a
}

// recoveryIn is the recovery of rolls in that weather, zero when it has none of
// its own.
func (a Assumptions) recoveryIn(w Weather) Beta {
	switch w {
	case Damp:
		return a.RollDamp
	case Dry:
		return a.RollDry
	}
	return Beta{}
}

// BeesOf is the expected number of bees in a bee sample and its coefficient of
// variation, 0 for bees that were counted. A weighed sample without the weight
// of 100 bees is a *ValueError.
func (a Assumptions) BeesOf(c Count) (bees, cv float64, err error) {
	bees = c.meanBees()
	switch c.Amount.Unit {
	case Bees:
		return bees, 0, nil
	case Grams:
		if !(c.GramsPer100 > 0) {
			return 0, 0, badValue("count "+c.String(), "a weight alone does not say how many bees there were", "weigh 100 bees of the same sample and say what they weigh, or count the bees")
		}
		if bees > maxBees || bees < 1 || float64(c.Mites) > maxMitesPerBee*bees {
			return 0, 0, badValue("count "+c.String(), "the weights give a number of bees that does not fit the mites", "check both weights, in grams")
		}
		return bees, a.WeighedCV, nil
	}
	return bees, a.ScoopCV, nil
}
