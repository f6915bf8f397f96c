//go:build !windows

package main

// waitForReader does nothing where no window closes with the program.
func waitForReader([]string) {}
