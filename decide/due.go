package decide

import (
	"slices"
	"time"

	"halfcup/sampling"
)

// DueReason is why the next count is due on its day.
type DueReason string

const (
	DueFirst     DueReason = "first count"        // nobody has counted yet
	DueAge       DueReason = "age of the count"   // a count says enough for so long
	DueForecast  DueReason = "forecast"           // treating becomes the lesser regret
	DueBackIn    DueReason = "your own days"      // the beekeeper said so
	DueNeighbour DueReason = "neighbour"          // a colony beside it is in trouble
	DueRobbing   DueReason = "robbing"            // it was robbed, or robbed others
	DueBoard     DueReason = "second board"       // a second week of a board in winter
	DueSettled   DueReason = "treatment settled"  // what it did can be told
	DueCheck     DueReason = "check of a course"  // whether it works at all
	DueTreat     DueReason = "treatment due"      // the count before it, if it waits so long
	DueAgain     DueReason = "count again"        // one more decides
	DueSpring    DueReason = "before supers"      // the check before most treatments are out of reach
	DueMidsummer DueReason = "before winter bees" // the check before the winter bees are raised
	DueArrivals  DueReason = "after the arrivals" // mites fly in after the summer treatment
	DueFirstFly  DueReason = "first pollen"       // the first day on which a hive can be opened
)

// Days between counts. Judgement, but for the growth they rest on: two- to
// threefold in 30 days of late summer in the open data of Vermont 2021.
const (
	usualGap     = 30 // while bees fly
	lateGap      = 21 // from mid July to the end of September
	neighbourGap = 14 // beside a colony in trouble
	treatGap     = 7  // after a call to treat
	againGap     = 7  // after a call to count again
	clashGap     = 14 // after mites fell and nothing in the record explains it
	soonestGap   = 7  // nobody comes back sooner

	// inTrouble is the level of a neighbour, in mites per hundred bees, from
	// which its mites are on the way to the others.
	inTrouble = 5
)

// due is the day of the next count of a colony, from how it stood when
// something was last written down and the call of that day.
func (v *visit) due(colony int, then Situation, base judgement) (sampling.Date, DueReason, error) {
	c, season := v.Colonies[colony], then.History.Year
	counted := then.State.Counted
	first := firstOf{}
	flying := func() (sampling.Date, DueReason, error) {
		day, why := first.day, first.why
		if !season.Flying(day) {
			day, why = season.winterEnds(day), DueFirstFly
		}
		return day, why, nil
	}

	// What courses did can be told when the last of them has settled. Whether
	// one works at all is looked at in some days of it, or not at all where no
	// hive can be opened in them.
	courses, days := c.Courses(v.now.day), v.situation(colony, v.now).countDays()
	last, treated := lastToSettle(courses, v.now.day)
	if treated && !slices.ContainsFunc(days, func(d sampling.Date) bool { return d >= last.SettledOn() }) {
		first.at(last.SettledOn(), DueSettled)
		for _, course := range courses {
			from, to := course.Check()
			if course.State(v.now.day, days) != CourseRunning || from.IsZero() {
				continue
			}
			if !season.Flying(from) {
				from = season.winterEnds(from)
			}
			if counted < from && from <= to && v.now.day <= to {
				first.at(from, DueCheck)
			}
		}
		return flying()
	}
	if counted.IsZero() {
		begun := c.Began
		if begun.IsZero() {
			begun = v.now.day
		}
		first.at(begun, DueFirst)
		return flying()
	}
	switch {
	case base.Call == CountAgain:
		first.at(max(counted+againGap, then.State.Day), DueAgain)
		return flying()
	case base.Call == WhenSupersOff:
		day := counted + lateGap
		if off := c.Supers.nextOff(then.State.Day); !off.IsZero() {
			day = max(off-treatGap, counted+treatGap)
		}
		first.at(day, DueTreat)
		return flying()
	case base.Call.Treats():
		first.at(counted+treatGap, DueTreat)
		return flying()
	}

	if then.clashes() {
		alarms, err := then.alone.Alarms(then.lineOn(counted).Watch)
		if err != nil {
			return 0, "", err
		}
		if alarms.Drop {
			first.at(counted+clashGap, DueAgain)
		}
	}
	gap := sampling.Date(usualGap)
	if season.between(counted, time.July, 15, time.September, 30) {
		gap = lateGap
	}
	first.at(counted+gap, DueAge)
	if v.OwnBackIn {
		first.at(counted+sampling.Date(v.BackIn), DueBackIn)
	}
	if on := v.trouble(colony, counted); !on.IsZero() {
		first.at(max(on, counted)+neighbourGap, DueNeighbour)
	}
	if c.Robbed > counted-neighbourGap && c.Robbed <= v.then.day {
		first.at(max(c.Robbed, counted)+neighbourGap, DueRobbing)
	}
	for _, check := range fixedChecks(season, c.Supers, counted) {
		if counted < check.from {
			first.at(check.to, check.why)
		}
	}
	day, err := then.forecastDay(first.day)
	if err != nil {
		return 0, "", err
	}
	if !day.IsZero() {
		first.at(max(day, counted+soonestGap), DueForecast)
	}
	return flying()
}

// firstOf is the earliest of some days.
type firstOf struct {
	day sampling.Date
	why DueReason
}

func (f *firstOf) at(day sampling.Date, why DueReason) {
	if f.day.IsZero() || day < f.day {
		f.day, f.why = day, why
	}
}

// check is a time of the year in which every colony is counted once.
type check struct {
	from, to sampling.Date
	why      DueReason
}

// fixedChecks are the counts of the year that no forecast takes away, from a
// day on: four to six weeks before supers go on, because little can be given
// after that; in the second half of July or within a week of the supers coming
// off, because the treatments of summer take weeks and the winter bees are
// raised from August; and from mid September on, because mites fly in after
// the summer treatment (common practice).
func fixedChecks(year Year, supers SupersPlan, from sampling.Date) []check {
	var out []check
	if on := supers.nextOn(from); !on.IsZero() && on-28 > from {
		out = append(out, check{on - 42, on - 28, DueSpring})
	}
	summer := check{year.next(from, time.July, 15), 0, DueMidsummer}
	summer.to = summer.from + 16
	if off := supers.nextOff(from); !off.IsZero() && off+7 < summer.to && off > summer.from-60 {
		summer = check{off, off + 7, DueMidsummer}
	}
	autumn := year.next(from, time.September, 15)
	return append(out, summer, check{autumn, autumn + 20, DueArrivals})
}

// trouble is the last day on which a neighbour was found with mites to give
// away, was robbed or died, when that matters for a colony counted on a day;
// zero when none was.
func (v *visit) trouble(colony int, counted sampling.Date) sampling.Date {
	last := sampling.Date(0)
	note := func(d sampling.Date) {
		if d <= v.then.day && d > counted-neighbourGap {
			last = max(last, d)
		}
	}
	for i, c := range v.Colonies {
		if i == colony {
			continue
		}
		note(c.Robbed)
		note(c.Gone)
		if k := v.then.of(i); k >= 0 {
			s := v.then.alone[k]
			if s.Known.Quantile(0.5) > inTrouble/100.0 {
				note(s.Counted)
			}
		}
	}
	return last
}

// forecastDay is the first day before a day on which treating is forecast to
// be the lesser regret; zero when there is none.
func (s Situation) forecastDay(before sampling.Date) (sampling.Date, error) {
	treats := func(d sampling.Date) (bool, error) {
		known, err := s.State.Forecast(d)
		if err != nil {
			return false, err
		}
		stakes := s.stakesOn(d)
		stakes.Act = s.lineOn(d).Act
		return stakes.Regret(known).Treats(), nil
	}
	const week = 7
	for d := s.State.Day; d < before; d += week {
		until := min(d+week, before)
		over, err := treats(until)
		if err != nil {
			return 0, err
		}
		if !over {
			continue
		}
		for on := d + 1; on < until; on++ {
			if over, err = treats(on); err != nil || over {
				return on, err
			}
		}
		return until, nil
	}
	return 0, nil
}

// The calendar of these rules is that of the temperate north; a season that is
// moved moves them along.

// between reports whether a day lies between two dates of the year.
func (y Year) between(d sampling.Date, m1 time.Month, d1 int, m2 time.Month, d2 int) bool {
	at := y.northern(d).Time()
	first, last := sampling.Day(at.Year(), m1, d1), sampling.Day(at.Year(), m2, d2)
	return y.northern(d) >= first && y.northern(d) <= last
}

// next is the first day after d that has a date of the year.
func (y Year) next(d sampling.Date, month time.Month, day int) sampling.Date {
	n := y.northern(d)
	on := sampling.Day(n.Time().Year(), month, day)
	if on <= n {
		on = sampling.Day(n.Time().Year()+1, month, day)
	}
	return d + (on - n)
}

// lately is the last day up to d that had a date of the year.
func (y Year) lately(d sampling.Date, month time.Month, day int) sampling.Date {
	n := y.northern(d)
	on := sampling.Day(n.Time().Year(), month, day)
	if on > n {
		on = sampling.Day(n.Time().Year()-1, month, day)
	}
	return d - (n - on)
}
