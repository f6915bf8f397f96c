package sampling

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"halfcup/internal/numeric"
	"halfcup/internal/table"
)

// Beta is a Beta distribution: what is known of a share between 0 and 1, such
// as the share of mites that a treatment kills. Both parameters are positive;
// Alpha and Beta weigh like that many mites killed and spared. The zero Beta is
// no distribution, which Check reports.
type Beta struct {
	Alpha float64 `json:"alpha"`
	Beta  float64 `json:"beta"`
}

// Check reports parameters that make no distribution; name says whose they are.
func (b Beta) Check(name string) error {
	ok := func(v float64) bool { return v >= 0.001 && v <= 1e6 }
	if ok(b.Alpha) && ok(b.Beta) {
		return nil
	}
	return &ValueError{Name: name, Problem: "a Beta distribution needs two numbers from 0.001 to a million", Remedy: "give two numbers, such as 9 and 3 for about three in four"}
}

// Mean is the expected share.
func (b Beta) Mean() float64 { return b.law().Mean() }

func (b Beta) law() distuv.Beta { return distuv.Beta{Alpha: b.Alpha, Beta: b.Beta} }

// SD is the standard deviation of the share.
func (b Beta) SD() float64 { return b.law().StdDev() }

// Mode is the most likely share. It is NaN when no single share is: a flat
// curve, or one that is highest at both ends.
func (b Beta) Mode() float64 {
	switch {
	case b.Alpha > 1 && b.Beta > 1:
		return b.law().Mode()
	case b.Alpha > 1 && b.Beta <= 1, b.Alpha == 1 && b.Beta < 1:
		return 1
	case b.Beta > 1 && b.Alpha <= 1, b.Beta == 1 && b.Alpha < 1:
		return 0
	}
	return math.NaN()
}

// Quantile is the share below which a part p of the distribution lies, for p
// between 0 and 1; NaN for any other p or parameters that make no
// distribution.
func (b Beta) Quantile(p float64) float64 {
	return numeric.BetaQuantile(b.Alpha, b.Beta, p, numeric.Lower)
}

// betaIn is the law in a column of an embedded table, written Beta(α, β).
func betaIn(r table.Row, column string) Beta {
	var b Beta
	if _, err := fmt.Sscanf(r[column], "Beta(%g, %g)", &b.Alpha, &b.Beta); err != nil {
		panic(fmt.Sprintf("embedded table: %s of %v: %v", column, r, err))
	}
	return b
}
