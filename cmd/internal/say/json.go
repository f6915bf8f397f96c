package say

import (
	"halfcup/decide"
	"halfcup/sampling"
)

// Range is a figure with its limits.
type Range struct {
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

// RangeOf is r as it is written.
func RangeOf(r decide.Range) Range { return Range{r.Middle, r.Low, r.High} }

// Board is what mites fall by, per day and hundred bees.
type Board struct {
	MedianPerDayPerHundred float64 `json:"median_per_day_per_hundred"`
	LogSD                  float64 `json:"log_sd"`
	AdultBees              float64 `json:"adult_bees"`
	Brood                  bool    `json:"brood"`
}

// BoardOf is b as it is written.
func BoardOf(b sampling.BoardFall, brood bool) Board {
	return Board{b.MedianPerDayPerHundred, b.LogSD, b.Bees, brood}
}
