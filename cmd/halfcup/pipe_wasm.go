//go:build js || wasip1

package main

// ignoreClosedPipes does nothing where there are no signals.
func ignoreClosedPipes() {}
