package decide

import "halfcup/sampling"

// partOfYear is what the year says of a day. All that Fits asks of the year is
// asked here.
type partOfYear struct {
	cluster     bool // bees do not fly, so nobody opens the hive
	winter      bool // and an ordinary colony has no capped brood
	early       bool // few drones and little brood yet
	supersUsual bool // honey supers are usually on

	// lateSummer is how many days ago the time began in which the winter bees
	// are raised, below 0 when it is still to come this year.
	lateSummer int
}

func (c Circumstances) partOfYear() partOfYear {
	y, day := c.Year, c.Day
	season := y.Season(day)
	began := y.Next(LateSummer, day)
	if season == LateSummer || season == Autumn {
		began = y.Next(LateSummer, day-daysOfYear)
	}
	spring := y.Next(Spring, day-droneStart)
	return partOfYear{
		cluster:     !y.Flying(day),
		winter:      !y.Flying(day) && !y.Capped(day),
		early:       season == Winter || season == Spring && spring <= day,
		supersUsual: season == Spring || season == Summer,
		lateSummer:  int(day - began),
	}
}

// cluster is the winter a day belongs to, by the day its season begins, zero on
// a day that is in none.
func cluster(y Year, d sampling.Date) sampling.Date {
	start := y.Next(Winter, d-winterCluster)
	if start.IsZero() || d < start-clusterEarly {
		return 0
	}
	return start
}
