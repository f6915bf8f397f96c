package decide

import (
	"cmp"
	"math"
	"slices"
	"time"

	"halfcup/sampling"
)

// YearBack is a year of an apiary looked back on from a day: all of it follows
// from the record and the replays of its colonies.
type YearBack struct {
	Year     int
	From, To sampling.Date // the days of the year, up to the day it is looked back on
	Ends     sampling.Date // its last day

	Colonies []ColonyBack // those that lived in the year, as they stand in the apiary
	Courses  []CourseBack // those begun in the year, by their first day

	// Slow are the colonies whose mites grew slower than those of the colonies
	// treated alike, the likeliest first, as places in Colonies: candidates to
	// breed from, and no claim of resistance. Ranked is how many colonies could
	// have been named, Wrong how many of the named are so wrongly by their
	// chances, and Alone how many would be named by chance alone, were all alike.
	Slow         []int
	Ranked       int
	Wrong, Alone float64

	Losses     []LossBack // by the level of autumn, the lowest first
	WinterOver bool       // the winter after the year is over

	CountEarlier LateCount
	LateCourse   LateCourse
}

// ColonyBack is one colony in its year.
type ColonyBack struct {
	Colony string
	Place  int // in Apiary.Colonies

	Weeks []WeekBack

	// Highest is the highest level that was most likely on a day on which it was
	// counted, in mites per hundred bees; NaN when it never was. What is foretold
	// from an earlier count grows with the days and is left out.
	Highest   float64
	HighestOn sampling.Date

	// WeeksOver is how many of the Known weeks the colony was over the act line:
	// the sum of the chances of each. FoundOver is on how many days it was
	// counted and then likelier over it than not.
	WeeksOver        float64
	FoundOver, Known int

	Counts     int     // made in the year
	BeesWashed float64 // killed by them

	Courses []LeftBack

	// Pace is how its mites grew beside those of Beside other colonies, nil when
	// its counts do not tell. Alike says that those were given the same courses.
	Pace   *Pace
	Beside int
	Alike  bool

	Autumn   float64       // the level at the last count of autumn, per hundred; NaN when there was none
	Gone     sampling.Date // the day it died or was united, zero when it lives on
	Died     bool
	autumn   sampling.Density
	counted  []WeekBack // the days on which it was counted
	record   growthRecord
	crossing []crossing
	path     *Path
}

// WeekBack is a day of the year on which a colony is looked back on, as its
// record told of it by then. Levels are in mites per hundred bees.
type WeekBack struct {
	Day            sampling.Date
	Low, Mid, High float64
	Act            float64
	Over           float64 // the chance of being over Act
	Known          bool    // the last count was not too old
}

// LeftBack is what a course left of the mites of a colony, in mites per hundred
// bees: what was most likely on its first day and at the first count that can
// tell. They are NaN where nothing was known, and nobody counted.
type LeftBack struct {
	Course       int // in YearBack.Courses
	Before, Left float64
	LeftOn       sampling.Date
}

// CourseBack is what one course did in the colonies that were given it.
type CourseBack struct {
	Treatment   sampling.Treatment
	First, Last sampling.Date
	Colonies    []string
	CappedBrood bool // in the first of them

	// Counted are the colonies counted before and after, Failed those of them in
	// which it did less than Target by their own counts. Efficacy is nil when
	// none was counted.
	Counted, Failed []string
	Efficacy        *Efficacy
	Target          float64 // what trials let one expect

	// Expected is what its published kills come to in the first colony, weak to
	// strong; the zero Range when the model does not tell.
	Expected Range
}

// LossBack is how many colonies of about one level in autumn died by the end
// of April, beside how many would have in the open data of WinterLoss.
type LossBack struct {
	From, To       float64 // mites per hundred bees; To is infinite for the highest
	Colonies, Died int
	Expected       float64
	Low, High      float64 // of four yards in five
}

// LateCount is how much too late colonies were first counted that were found
// over their line.
type LateCount struct {
	Colonies int           // found over the line two weeks late or more
	Over     sampling.Date // when they passed it, in the middle
	Counted  sampling.Date // when they were counted
}

// LateCourse is the course that came latest after its colonies passed the line.
type LateCourse struct {
	Course   int // in YearBack.Courses, -1 when none came late
	Colonies int // that had passed their line two weeks before, or more
	Days     int // after it, in the middle
}

// crossing is a count that found a colony over its line, and when it most likely
// passed it.
type crossing struct{ over, counted sampling.Date }

const (
	lookEvery = 7  // days between the days that are looked back on
	lateDays  = 14 // from which a count or a course came late

	// leastAlike is the fewest colonies treated alike that are set beside each
	// other by themselves.
	leastAlike = 3
)

// lossEdges part the levels of autumn.
var lossEdges = []float64{0, 1, 3, math.Inf(1)}

// LookBack looks back on a year from a day of it or later. level is that of all
// limits. Errors are those of On.
func (a Apiary) LookBack(year int, day sampling.Date, level float64) (YearBack, error) {
	out := YearBack{Year: year, LateCourse: LateCourse{Course: -1}}
	if err := a.Rules.check(); err != nil || len(a.Colonies) == 0 {
		return out, err
	}
	out.From, out.Ends = a.Colonies[0].Year.Span(year)
	out.To = min(day, out.Ends)
	for i, k := range a.Colonies {
		began := max(k.Began, k.Since)
		if first := k.recorded(out.To); first.IsZero() || began > out.To || !k.Gone.IsZero() && k.Gone <= out.From {
			continue
		}
		out.Colonies = append(out.Colonies, ColonyBack{Colony: k.Name, Place: i, Gone: k.goneBy(day), Died: k.Died && k.Gone <= day})
	}
	failed := inParallel(len(out.Colonies), func(i int) error { return a.lookBack(&out.Colonies[i], out.From, out.To, level) })
	for i, err := range failed {
		if err != nil {
			return out, a.failed(out.Colonies[i].Place, err)
		}
	}
	shared := a.SharedCourses(out.To, func(c Course) bool { return c.First >= out.From })
	if err := out.judge(a, shared, level); err != nil {
		return out, err
	}
	out.pace(a, level)
	out.Losses = out.losses(a)
	out.WinterOver = day >= out.springAfter()
	out.late()
	return out, nil
}

// springAfter is when the winter after the year is over: the first of May in the
// north.
func (y *YearBack) springAfter() sampling.Date { return y.Ends + 121 }

// Span is the first and the last day of a year of the beekeeper: that of the
// calendar in the north, and half a year later in the south, so that no season
// is cut in two.
func (y Year) Span(year int) (first, last sampling.Date) {
	month := time.January
	if y.later > daysOfYear/4 {
		month = time.July
	}
	return sampling.Day(year, month, 1), sampling.Day(year+1, month, 1) - 1
}

// goneBy is the day the colony was gone, if it was by a day.
func (c Colony) goneBy(day sampling.Date) sampling.Date {
	if c.Gone <= day {
		return c.Gone
	}
	return 0
}

// lookBack replays one colony through the year: once, from count to count.
func (a Apiary) lookBack(out *ColonyBack, from, to sampling.Date, level float64) error {
	k := a.Colonies[out.Place]
	last := to
	if !out.Gone.IsZero() {
		last = min(to, out.Gone-1)
	}
	h := k.History
	h.Treatments, h.Ahead = Acting(h.Treatments, to), leastAhead
	days, err := h.countDays(last, to)
	if err != nil {
		return err
	}
	s, err := h.begin(max(last, from), days)
	if err != nil {
		return err
	}
	out.path, out.Highest, out.Autumn = s.path, math.NaN(), math.NaN()
	look := max(from, k.Began, k.Since)
	note := func(s State, day sampling.Date) (WeekBack, error) {
		s.Day = day
		if err := s.settle(); err != nil {
			return WeekBack{}, err
		}
		line, _ := k.Year.Line(a.Lines, day, !s.CappedBrood(day))
		sum := s.Known.Summary(level)
		w := WeekBack{day, sum.Low, sum.Median, sum.High, line.Act, s.Known.Over(line.Act / 100), !s.Counted.IsZero() && day-s.Counted < staleDays}
		return w, nil
	}
	through := func(until sampling.Date) error {
		for ; look < until; look += lookEvery {
			w, err := note(s, look)
			if err != nil {
				return err
			}
			if w.Known {
				out.Known++
				out.WeeksOver += w.Over
			}
			out.Weeks = append(out.Weeks, w)
		}
		return nil
	}
	for _, d := range days {
		if err := through(d.on); err != nil {
			return err
		}
		before, was := s.Counted, math.NaN()
		if !before.IsZero() {
			was = 100 * s.base.density().Quantile(0.5)
		}
		s.Day = d.on
		if err := s.count(d); err != nil {
			return err
		}
		if d.on < from || d.on < k.Since {
			continue
		}
		w, err := note(s, d.on)
		if err != nil {
			return err
		}
		out.counted = append(out.counted, w)
		if !(w.Mid <= out.Highest) {
			out.Highest, out.HighestOn = w.Mid, d.on
		}
		if w.Over > 0.5 {
			out.FoundOver++
			out.crossing = append(out.crossing, crossing{k.crossed(a.Lines, s, w.Mid, before, was, max(from, k.Since)), d.on})
		}
		if k.Year.between(d.on, time.August, 20, time.October, 31) {
			out.autumn, out.Autumn = s.base.density(), w.Mid
		}
	}
	if err := through(last + 1); err != nil {
		return err
	}
	for _, c := range k.Counts {
		if c.Date < from || c.Date > to || c.Date < k.Since {
			continue
		}
		out.Counts++
		if c.Method.KillsBees() {
			bees, _, err := k.Assumptions.BeesOf(c)
			if err != nil {
				return err
			}
			out.BeesWashed += bees
		}
	}
	out.record, err = k.growthRecord(max(from, k.Since), last)
	return err
}

// crossed is the day on which a colony with so many mites per hundred bees at a
// count passed its line: by the growth of the model backwards, bent so that it
// meets what was known at the count before. It is no earlier than that count, a
// day, and the last treatment.
func (c Colony) crossed(lines []Threshold, s State, level float64, before sampling.Date, was float64, earliest sampling.Date) sampling.Date {
	on := s.from
	earliest = max(earliest, before, s.path.plan.First)
	for _, t := range s.history.Treatments {
		if t.On < on {
			earliest = max(earliest, t.On)
		}
	}
	bend := 0.0 // a day
	if !before.IsZero() && before == earliest && before < on {
		if m, err := s.path.growth(before, on); err == nil {
			bend = (math.Log(level/was) - m.Shift) / float64(on-before)
		}
	}
	for d := on - 1; d > earliest; d-- {
		m, err := s.path.growth(d, on)
		line, ok := c.Year.Line(lines, d, !s.CappedBrood(d))
		if err != nil || !ok || level*math.Exp(-m.Shift-bend*float64(on-d)) <= line.Act {
			return d + 1
		}
	}
	return min(earliest+1, on)
}

// judge fills in what the courses did.
func (y *YearBack) judge(a Apiary, shared []SharedCourse, level float64) error {
	place := map[int]*ColonyBack{}
	for i := range y.Colonies {
		place[y.Colonies[i].Place] = &y.Colonies[i]
	}
	for _, g := range shared {
		first := g.Given[0]
		t := first.Course.Treatment
		c := CourseBack{Treatment: t, First: g.First, Last: g.Last, CappedBrood: a.Colonies[first.Colony].CappedBrood(first.Course.First)}
		var pairs []Pair
		for _, o := range g.Given {
			k, back := a.Colonies[o.Colony], place[o.Colony]
			if back == nil {
				continue
			}
			if len(c.Colonies) == 0 {
				c.Expected, _ = back.path.expects(o.Course)
			}
			c.Colonies = append(c.Colonies, k.Name)
			back.Courses = append(back.Courses, back.left(len(y.Courses), o.Course))
			if p, ok := k.Around(o.Course); ok && p.After.Date <= y.To && p.Settled() {
				pairs, c.Counted = append(pairs, p), append(c.Counted, k.Name)
			}
		}
		if len(pairs) > 0 { // expected is what fits those that tell of it
			c.CappedBrood = pairs[0].CappedBrood
		}
		c.Target = t.ExpectPercent(c.CappedBrood) / 100
		if len(pairs) > 0 && c.Target > 0 && c.Target < 1 {
			k := a.Colonies[first.Colony]
			compared := Comparison{Assumptions: k.Assumptions, Year: k.Year, Rates: k.Rates, Treated: pairs, Level: level, Target: c.Target}
			e, err := compared.Judge()
			if err != nil {
				return err
			}
			c.Efficacy = &e
			for i, p := range pairs {
				compared.Treated = []Pair{p}
				one, err := compared.Judge()
				if err != nil {
					return err
				}
				if one.Answer == DidNot {
					c.Failed = append(c.Failed, c.Counted[i])
				}
			}
		}
		y.Courses = append(y.Courses, c)
	}
	return nil
}

// left is what a course left of a colony's mites.
func (k *ColonyBack) left(course int, c Course) LeftBack {
	out := LeftBack{Course: course, Before: math.NaN(), Left: math.NaN()}
	for _, w := range k.Weeks {
		if w.Known && w.Day <= c.First {
			out.Before = w.Mid
		}
	}
	for _, w := range k.counted {
		if w.Day >= c.SettledOn() && w.Day <= c.SettledOn()+latestAfter {
			out.Left, out.LeftOn = w.Mid, w.Day
			break
		}
	}
	return out
}

// pace sets the growth of the colonies beside each other: of those that were
// given the same courses before their last count where there are enough, else
// of the whole yard.
func (y *YearBack) pace(a Apiary, level float64) {
	groups := map[string][]int{}
	var all []int
	for i, k := range y.Colonies {
		if k.record == nil {
			continue
		}
		last := sampling.Date(0)
		for _, c := range a.Colonies[k.Place].Counts {
			if c.Date <= y.To {
				last = max(last, c.Date)
			}
		}
		key := ""
		for _, l := range k.Courses {
			if y.Courses[l.Course].First < last {
				key += string(rune('A' + l.Course))
			}
		}
		groups[key], all = append(groups[key], i), append(all, i)
	}
	beside := func(places []int) []Pace {
		records := make([]growthRecord, len(places))
		for j, i := range places {
			records[j] = y.Colonies[i].record
		}
		return growthBeside(records, level)
	}
	whole := beside(all)
	for _, places := range groups {
		paces, alike := []Pace(nil), len(places) >= leastAlike
		if alike {
			paces = beside(places)
			y.Alone += float64(len(places)) * namedAlone(len(places))
		}
		for j, i := range places {
			k := &y.Colonies[i]
			switch {
			case alike:
				k.Pace, k.Beside, k.Alike = &paces[j], len(places)-1, true
			case whole != nil:
				k.Pace, k.Beside = &whole[slices.Index(all, i)], len(all)-1
			}
		}
	}
	for i, k := range y.Colonies {
		if k.Pace == nil || !k.Alike {
			continue
		}
		y.Ranked++
		if k.Pace.Slower >= SlowEnough() {
			y.Slow = append(y.Slow, i)
			y.Wrong += 1 - k.Pace.Slower
		}
	}
	slices.SortStableFunc(y.Slow, func(i, j int) int { return cmp.Compare(y.Colonies[j].Pace.Slower, y.Colonies[i].Pace.Slower) })
}

// losses counts the colonies by their level in autumn.
func (y *YearBack) losses(a Apiary) []LossBack {
	without := a.lossWithout()
	var out []LossBack
	for b := range len(lossEdges) - 1 {
		l := LossBack{From: lossEdges[b], To: lossEdges[b+1]}
		for _, k := range y.Colonies {
			if !(k.Autumn >= l.From && k.Autumn < l.To) {
				continue
			}
			loss, err := NewWinterLoss(k.autumn, without)
			if err != nil {
				continue // a share that no answer takes
			}
			l.Colonies++
			l.Expected, l.Low, l.High = l.Expected+loss.Chance, l.Low+loss.Low, l.High+loss.High
			if k.Died && k.Gone < y.springAfter() {
				l.Died++
			}
		}
		if l.Colonies > 0 {
			out = append(out, l)
		}
	}
	return out
}

// late finds what came too late.
func (y *YearBack) late() {
	var over, counted []sampling.Date
	for _, k := range y.Colonies {
		if len(k.crossing) == 0 {
			continue
		}
		if c := k.crossing[0]; c.counted >= c.over+lateDays {
			over, counted = append(over, c.over), append(counted, c.counted)
		}
	}
	if n := len(over); n > 0 {
		y.CountEarlier = LateCount{n, middleDay(over), middleDay(counted)}
	}
	y.LateCourse.Course = -1
	for i, c := range y.Courses {
		var days []sampling.Date
		for _, k := range y.Colonies {
			if d := k.overBefore(i, y.Courses); d >= lateDays {
				days = append(days, sampling.Date(d))
			}
		}
		if n := len(days); n > 0 && 2*n >= len(c.Colonies) && int(middleDay(days)) > y.LateCourse.Days {
			y.LateCourse = LateCourse{i, n, int(middleDay(days))}
		}
	}
}

// overBefore is how many days before a course of the year the colony had passed
// its line, since the course before.
func (k ColonyBack) overBefore(course int, all []CourseBack) int {
	given, before := false, sampling.Date(0)
	for _, l := range k.Courses {
		if l.Course == course {
			given = true
			break
		}
		before = all[l.Course].Last
	}
	if !given {
		return 0
	}
	first := all[course].First
	for _, c := range k.crossing {
		if c.over > before && c.counted <= first {
			return int(first - c.over)
		}
	}
	return 0
}

// middleDay is the middle of some days, the earlier of two.
func middleDay(days []sampling.Date) sampling.Date {
	days = slices.Clone(days)
	slices.Sort(days)
	return days[(len(days)-1)/2]
}
