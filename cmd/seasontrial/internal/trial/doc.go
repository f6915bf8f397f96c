// Package trial plays seasons of colonies, so that ways of looking after them
// can be compared where the truth is known, and lets predictors foretell open
// washes, where it is not ours.
//
// The colonies are not those the program believes in. A queen lays by a curve,
// her eggs become bees that live for weeks or, late in the year, for months;
// mites go in and out of cells at the rate of the invasion law and breed there,
// every colony at a rate of its own; others arrive in bursts. The estimator
// knows nothing of it but counts and treatments. How far colonies, frames, jars,
// boards and treatments differ is in figures.csv, with sources, and what goes
// wrong in each setting in settings.csv. Tests hold the colonies to open data
// month by month. Of those there are none in which everything was counted all
// year, so some figures (what a mite breeds, where levels begin) are fitted to
// the growth and the levels that were seen; their rows say so.
//
// This is the only place of the project with random numbers. All of them come
// from one seed, and every colony, day and count has a stream of its own, so
// that all policies and settings meet the same colonies, and the same bytes
// come out however many processors there are.
package trial
