// Package long is the switch between the tests that are run at every change
// and the long ones: with LONG_TESTS=1 in the environment, as .ci/run has it,
// simulations are played whole and properties are tried on a hundred draws
// each. Without it there are fewer of both; what is asked of them is the same.
package long

import (
	"flag"
	"os"
	"strconv"
	"testing"
)

// Tests reports whether the long tests are wanted.
var Tests = os.Getenv("LONG_TESTS") != ""

// Main is the TestMain of a package whose properties take long: they are tried
// on so many draws each, unless the long tests are wanted or the number is
// given by -rapid.checks or RAPID_CHECKS.
func Main(m *testing.M, draws int) {
	Draws(draws)
	os.Exit(m.Run())
}

// Draws is the part of Main that a package with a TestMain of its own calls.
func Draws(n int) {
	if !Tests && os.Getenv("RAPID_CHECKS") == "" {
		if err := flag.Set("rapid.checks", strconv.Itoa(n)); err != nil {
			panic(err) // a package without properties
		}
	}
}

// Only skips a test unless the long ones are wanted: a simulation whose limits
// fewer plays could not be held to.
func Only(t *testing.T) {
	t.Helper()
	if !Tests {
		t.Skip("played with LONG_TESTS=1")
	}
}

// Of is how many cases to try: few of them, or all when the long tests are wanted.
func Of(few, all int) int {
	if Tests {
		return all
	}
	return few
}
