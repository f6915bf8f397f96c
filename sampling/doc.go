// Package sampling goes from counts of varroa mites to what is known of a
// colony's infestation.
//
// Most users want four steps: read the counts as they were written down, begin
// with what was known before, weigh the counts, and ask what is known then.
//
//	a := sampling.DefaultAssumptions()
//	c, err := sampling.ParseCount("roll:7/0.5cup/3f") // 7 mites, half a cup, from 3 frames
//	known, evidence, err := a.Weigh(a.Prior.Density(), []sampling.Count{c})
//	known.Summary(0.95) // median, mean and limits, in mites per hundred bees
//	known.Over(0.02)    // the chance of more than two mites per hundred
//
// [NewInterval] puts limits round the bare count alone, with no allowance for
// the mites a method misses or for frames that differ. [Assumptions.Foresee]
// tells what a count not yet made would show, [Assumptions.Calibrated] learns
// from a beekeeper's own pairs of counts, and [Sources] says where every figure
// comes from.
//
// # The scale
//
// θ is mites per adult bee on the scale of a careful alcohol wash of brood-nest
// bees, and every other method is brought to it. Functions take and give θ in
// mites per bee; what is named per hundred, and the figures of a [Summary], are
// mites per hundred bees. A bee can carry several mites, so θ may pass one.
//
// # One density, three operations
//
// What is known of one colony on one day is a [Density] over ln θ, and all that
// can happen to it is one of three operations. A count multiplies it by a
// [Likelihood] ([Density.Times]). An uncertain factor, such as growth or a
// treatment, moves and blurs it by a [Kernel] ([Density.Moved]). Mites that
// come in from outside lift it ([Density.Plus]).
//
// A bee sample is Poisson with mean bees · recovery · frame factor · θ. The
// frame factor is a gamma law of the count's own, so that more bees from one
// frame stop helping; the recovery is a beta law that counts of one method on
// one day share, so that a second sugar roll does not make up for damp bees. A
// natural fall and a fall after a treatment have their own readings, with the
// adult bees of the colony among what is uncertain.
//
// # Errors
//
// [*SyntaxError] points into text that a person typed, [*ValueError] names a
// figure that cannot be used, [*PairError] a pair that is none, and
// [ErrNoOverlap] says that the counts contradict each other beyond all bounds.
// The package prints nothing, reads no file, clock or terminal, and draws no
// random numbers.
package sampling
