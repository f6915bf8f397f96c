package decide

import (
	_ "embed"
	"fmt"
	"math"

	"halfcup/sampling"
)

// WinterLoss is how many of a hundred colonies like one died over winter in
// two open studies of one winter, most of them treated after the counts. It
// does not say that treating saves them.
type WinterLoss struct {
	Chance    float64 // of a colony with what is known of this one
	Low, High float64 // of four yards in five
	Without   float64 // of a colony with next to no mites
}

//go:embed loss.csv
var lossCSV string

var lossFigures = readParameters(lossCSV)

func lossFigure(name string) float64 { return find(lossFigures, name) }

// LeastLoss and MostLoss are how small and how large a share of colonies may die
// with next to no mites.
const LeastLoss, MostLoss = 0.001, 0.5

// lossWithout is the share of colonies that die with next to no mites.
func (r Rules) lossWithout() float64 {
	if r.LossWithout == 0 {
		return DefaultLoss()
	}
	return r.LossWithout
}

// DefaultLoss is the share of colonies that die with next to no mites.
func DefaultLoss() float64 { return lossFigure("loss_without") }

// NewWinterLoss is the loss of colonies of which d is known, where the share
// without is lost with next to no mites. Errors are *sampling.ValueError.
func NewWinterLoss(d sampling.Density, without float64) (WinterLoss, error) {
	if !(without >= LeastLoss && without <= MostLoss) {
		return WinterLoss{}, &sampling.ValueError{Name: "loss without mites", Problem: fmt.Sprintf("%v is out of range", without), Remedy: "give the share of colonies that die with next to no mites, from 0.001 to 0.5, such as 0.05"}
	}
	base := math.Log(without / (1 - without))
	at := func(yard float64) float64 {
		return d.Expect(func(theta float64) float64 {
			// Over the unsure slope by its three Gauss-Hermite points.
			sum := 0.0
			for _, p := range []struct{ z, weight float64 }{{-math.Sqrt(3), 1.0 / 6}, {0, 2.0 / 3}, {math.Sqrt(3), 1.0 / 6}} {
				slope := math.Max(0, lossFigure("loss_slope")+lossFigure("loss_slope_sd")*p.z)
				sum += p.weight / (1 + math.Exp(-(base + yard + slope*100*theta)))
			}
			return sum
		})
	}
	const eighty = 1.2815515655446004 // Φ⁻¹(0.9)
	yard := eighty * lossFigure("loss_yard_sd")
	return WinterLoss{at(0), at(-yard), at(yard), without}, nil
}
