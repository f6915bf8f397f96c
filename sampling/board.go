package sampling

import (
	"fmt"
	"math"
)

// readBoard reads a natural fall: mites ~ Poisson(days · c · d · 100·θ), c the
// mites a day for each mite per hundred bees, d a day-to-day gamma factor.
func (a Assumptions) readBoard(c Count) (Kernel, reading, error) {
	fall, err := a.BoardFallOver(c.Hive)
	if err != nil {
		return Kernel{}, reading{}, err
	}
	share, own, err := a.cells(c)
	if err != nil {
		return Kernel{}, reading{}, err
	}
	days := c.DaysOnBoard()
	if err := c.longBoard(); err != nil {
		return Kernel{}, reading{}, err
	}
	return normalKernel(0, fall.LogSD), reading{
		mites: c.Mites,
		law:   law{scale: days * share * 100 * fall.MedianPerDayPerHundred, size: gammaSize(a.BoardDayCV / math.Sqrt(days))},
		own:   own,
	}, nil
}

// MostBoardDays is how long a board may lie to tell of a colony. In open data
// of Göttingen colonies (doi 10.5281/zenodo.12515616) boards of two to four
// weeks held about a tenth of what short ones lead one to expect, and how much
// ants and decay had taken nobody measured.
const MostBoardDays = 14

// LongBoardError says that a board lay too long to be read. The count may stay
// in a record; it says nothing of the colony.
type LongBoardError struct{ Count Count }

func (e *LongBoardError) Error() string {
	return fmt.Sprintf("%s: a board that lay more than %d days is no evidence, for ants and decay take most of its mites: leave the next one for three days", e.Count, MostBoardDays)
}

// longBoard is a *LongBoardError for such a board.
func (c Count) longBoard() error {
	if c.Method == Board && c.DaysOnBoard() > MostBoardDays {
		return &LongBoardError{Count: c}
	}
	return nil
}

// BoardFallOver is the reading of a board under a colony: in proportion to its
// adult bees where they are known, wider where they are not. The error is a
// *ValueError.
func (a Assumptions) BoardFallOver(h Hive) (BoardFall, error) {
	if err := h.check(); err != nil {
		return BoardFall{}, err
	}
	fall := a.BoardBrood
	if h.Broodless {
		fall = a.BoardBroodless
	}
	bees, sd := a.adultBees(h)
	fall.MedianPerDayPerHundred *= bees / fall.Bees
	fall.LogSD = math.Hypot(fall.LogSD, sd)
	fall.Bees = bees
	return fall, nil
}

// adultBees is the median number of adult bees over a board and its log-SD.
func (a Assumptions) adultBees(h Hive) (bees, logSD float64) {
	switch {
	case h.AdultBees > 0:
		return h.AdultBees, logSDOfCV(h.AdultBeesCV)
	case h.Broodless:
		return a.BoardBroodless.Bees, a.BeesUnknownLogSD
	}
	return a.BoardBrood.Bees, a.BeesUnknownLogSD
}

// The adult bees that a colony can have.
const (
	leastColony   = 100
	largestColony = 200_000
)

func (h Hive) check() error {
	if h.AdultBees != 0 && !(h.AdultBees >= leastColony && h.AdultBees <= largestColony) {
		return badValue("adult bees", fmt.Sprintf("no colony has %v bees", h.AdultBees), "give the adult bees of the colony, such as 25000")
	}
	if !(h.AdultBeesCV >= 0 && h.AdultBeesCV <= 1) {
		return badValue("adult bees", fmt.Sprintf("a CV of %v is not between 0 and 1", h.AdultBeesCV), "give a coefficient of variation such as 0.2")
	}
	return nil
}

// cells is the share of a board that was counted, and the factor for mites
// lying in clumps. Thinning alone already makes the count of a third of 221
// mites err by 9.5 %, which is what Ostiguy & Sammataro (2000, Apidologie
// 31:707-716) found for a third of the cells; clumps add to it what more mites
// cannot take away.
func (a Assumptions) cells(c Count) (share float64, own Kernel, err error) {
	if c.Cells == (Cells{}) {
		return 1, exactly, nil
	}
	n, of := c.Cells.Counted, c.Cells.Of
	if n < 1 || of < n {
		return 0, exactly, badValue("cells", fmt.Sprintf("%d of %d cells cannot be", n, of), "give the cells counted and all cells of the board, such as 33/99")
	}
	share = float64(n) / float64(of)
	return share, meanOneKernel(a.BoardCellsCV * math.Sqrt((1-share)/share)), nil
}

// FallPerDay is the natural fall of a board count in mites a day, scaled up
// when only some cells were counted.
func (c Count) FallPerDay() float64 {
	fall := float64(c.Mites) / c.DaysOnBoard()
	if c.Cells.Counted > 0 {
		fall *= float64(c.Cells.Of) / float64(c.Cells.Counted)
	}
	return fall
}
