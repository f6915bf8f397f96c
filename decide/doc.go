// Package decide goes from what is known of a colony to what to do about it:
// the season, how mites grow and die, what a treatment leaves, and what the
// next count is worth.
//
// # Four verbs
//
// Observe: an [Apiary] is the record of a yard, or of one loose colony, with
// the [Rules] its colonies are judged by. [Apiary.On] replays every record up
// to a day, through growth, brood breaks and treatments, sets the colonies of
// the yard beside each other, and gives one [Standing] for each.
//
// Judge: a Standing holds the [Call] and the [Reason] for it, which follow from
// what each mistake would cost ([Regret]), from the line of the day
// ([Threshold]), and from what lies in the hive; and the day on which the next
// count is due, which follows from the record and does not move with the day
// one asks.
//
// Choose: where the call is to count again, Advised is the count to make, the
// gentlest that is worth its cost. [Standing.Candidates] weighs all counts that
// can be made, [Standing.CutPoints] says what each number of mites would lead
// to, and [Standing.Enough] whether the bees already taken were enough.
//
// Forecast: [Standing.Forecast] is what is known now of a later day, and
// [Standing.LineOn] the line it is held against.
//
// Every answer about a colony is a part of its Standing: whatever asks for the
// chance, the call or the next count of one colony on one day is told the same.
//
//	apiary := decide.Apiary{
//		Rules:    decide.Rules{Lines: lines, MissCost: decide.DefaultMissCost, MinWorth: decide.DefaultMinWorth, Costs: decide.DefaultCosts()},
//		Colonies: []decide.Colony{{Name: "alder", History: history}},
//	}
//	standings, err := apiary.On(day)
//	standings[0].Call // such as decide.CountAgain
//
// The example of the package goes the whole way, from a count as it is written
// down to the call.
//
// # Units
//
// Infestations inside are mites per adult bee on the scale of a careful alcohol
// wash, as in sampling. Lines (Watch and Act of a Threshold, Act of [Stakes])
// are mites per hundred bees, as people say them; so divide by 100 before
// holding a density against one. Chances go from 0 to 1. Costs and worths are
// in treatments that were not needed.
//
// # What has to be said
//
// Apiary, Rules, [History] and [Rates] have to be filled in: begin with
// [NewYear], [DefaultRates], [ThresholdSet], DefaultCosts and
// sampling.DefaultAssumptions, as the example does. Where one is zero the
// answer is a *sampling.ValueError that names it, or NaN. Slices may be nil.
//
// # Errors
//
// A [*sampling.ValueError] names a figure that cannot be used and what would
// do; a [*sampling.SyntaxError] points into text that a person typed;
// [sampling.ErrNoOverlap] says that counts contradict each other beyond all
// bounds. In an apiary of several colonies a [*ColonyError] round them says of
// which they are.
//
// Like sampling it uses no file, no clock and no terminal, prints nothing, and
// has no random numbers in it.
package decide
