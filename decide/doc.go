// Package decide goes from what is known of a colony to what to do about it:
// the season, how mites grow and die, and what a treatment leaves.
//
// Like sampling it uses no file, no clock and no terminal, returns typed
// errors, and has no random numbers in it.
package decide
