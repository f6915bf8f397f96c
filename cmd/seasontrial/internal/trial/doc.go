// Package trial plays seasons of colonies, so that ways of looking after them
// can be compared where the truth is known.
//
// The colonies are not those the program believes in. Bees come from a brood
// curve, mites go in and out of cells at the rate of the invasion law, every
// colony breeds at a rate of its own, and other mites arrive in bursts; the
// estimator knows nothing of it but counts and treatments. How far colonies,
// frames, jars, boards and treatments differ is in figures.csv, with sources,
// and what goes wrong in each setting in settings.csv.
//
// This is the only place of the project with random numbers. All of them come
// from one seed, and every colony, day and count has a stream of its own, so
// that all policies and settings meet the same colonies, and the same bytes
// come out however many processors there are.
package trial
