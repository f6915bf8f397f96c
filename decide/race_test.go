//go:build race

package decide_test

// racing is whether the race detector watches. It makes sums twenty times
// slower, so the long simulations are cut short under it; the coverage step of
// .ci/run runs them whole.
const racing = true
