//go:build !race

package decide_test

// racing is whether the race detector watches; see race_test.go.
const racing = false
