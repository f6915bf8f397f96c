// Halfcup turns field counts of varroa mites into what a beekeeper needs to
// know: how infested is this colony, is the sample big enough to say so, what
// is the gentlest way to find out more, and what to do now.
//
// The commands hold no statistics. They read what was typed, ask the packages
// sampling and decide, and write the answer as text, JSON or CSV.
package main

import "os"

func main() {
	ignoreClosedPipes()
	code := run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	waitForReader(os.Args[1:])
	os.Exit(code)
}
