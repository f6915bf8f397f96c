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
		supersUsual: y.usualSupers(day),
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

// CircumstancesOn are those of a colony as its record has them: its courses,
// roll and wash days, a time without capped brood, a queen begun within four
// weeks, and its bees when they were counted as lately. Whether there is brood
// and how warm it will be are for the beekeeper to say.
func (h History) CircumstancesOn(day sampling.Date, supers SupersPlan) Circumstances {
	const lately = 28
	c := Circumstances{Day: day, Year: h.Year, Supers: supers, Courses: h.Courses(day)}
	if h.BeesOn <= day && h.BeesOn >= day-lately {
		c.AdultBees = h.AdultBees
	}
	for _, count := range h.Counts {
		if count.Date <= day && count.Method.Kind() == sampling.BeeSample {
			c.Counts = append(c.Counts, count.Date)
		}
	}
	for _, e := range h.Happenings {
		if e.Kind == Requeened && e.On <= day && e.On >= day-lately {
			c.NewQueen = true
		}
	}
	c.Broodless = h.broodless(day)
	return c
}

// broodless is the time without capped brood that something recorded brings
// about: the one that a day is in, else the next that is known to come. One
// without a known end is over once a later happening brings a queen.
func (h History) broodless(day sampling.Date) Window {
	var next Window
	for _, e := range h.Happenings {
		w, ok := e.Window(h.Year)
		switch {
		case !ok:
		case w.holds(day):
			if !h.CappedBrood(day) {
				return w
			}
		case w.From > day && (next.From.IsZero() || w.From < next.From):
			next = w
		}
	}
	return next
}
