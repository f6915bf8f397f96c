// Package long is the switch between the tests that are run at every change
// and the long ones: with LONG_TESTS=1 in the environment, as .ci/run has it,
// simulations are played whole and properties are tried on more draws each.
// Without it there are fewer of both; what is asked of them is the same.
package long

import (
	"flag"
	"os"
	"runtime/debug"
	"strconv"
	"testing"
)

// Tests reports whether the long tests are wanted.
var Tests = os.Getenv("LONG_TESTS") != ""

// Main is the TestMain of a package whose properties take long: they are tried
// on few draws each, or on many when the long tests are wanted, unless the
// number is given by -rapid.checks or RAPID_CHECKS.
func Main(m *testing.M, few, many int) {
	Draws(few, many)
	os.Exit(m.Run())
}

// Draws is the part of Main that a package with a TestMain of its own calls.
// These packages make much garbage of which little lives: collecting it less
// often takes a sixth off their time.
func Draws(few, many int) {
	debug.SetGCPercent(400)
	if os.Getenv("RAPID_CHECKS") == "" {
		if err := flag.Set("rapid.checks", strconv.Itoa(Of(few, many))); err != nil {
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
