package decide

import (
	"fmt"
	"math"
	"slices"
	"time"

	"halfcup/sampling"
)

// YearStep is one treatment of a plan that is repeated every year, on its days
// of the year asked about.
type YearStep struct {
	Course Course

	// Or is what is used when the weather forbids the treatment; nil when the
	// plan names nothing.
	Or *sampling.Treatment
}

// YearPlan is a year of treatments by the calendar, and the colony it is for.
type YearPlan struct {
	// From is the day the year begins, zero for the one of YearFrom on the
	// days of the steps. It lasts daysOfPlan days.
	From  sampling.Date
	Steps []YearStep // in any order, each within a year of From

	// Colony gives the figures, the year, mites that come in and when supers
	// are on. Its record is not read.
	Colony Colony
	Rules  Rules

	// Start is what is known of the colony on From; nil takes colonies in
	// general, treated as the plan has it the year before.
	Start *sampling.Density

	// AllWritten says that nothing happens that nobody writes down.
	AllWritten bool
}

// daysOfPlan is the length of the year of a plan: whole weeks.
const daysOfPlan = 52 * week

// YearFrom is the day on which the year of a plan begins in which a day lies: in
// the first days of November in the north, after the last weeks in which mites
// still do harm to the bees that winter.
func (y Year) YearFrom(d sampling.Date) sampling.Date {
	june := y.next(d, time.June, planWeek)
	from := june - planLead
	for from > d {
		from = y.next(from+planLead-daysOfYear-2, time.June, planWeek) - planLead
	}
	for {
		next := y.next(from+planLead, time.June, planWeek) - planLead
		if next > d {
			return from
		}
		from = next
	}
}

// planWeek is the day of June from which weeks over the line count, and planLead
// how long before it the year of a plan begins.
const (
	planWeek = 15
	planLead = 32 * week
)

// watched is the time in which a colony must not be over the line unseen: from
// 15 June to 25 October, while the bees that winter are raised or about to be.
func (p YearPlan) watched() span {
	y := p.Colony.Year
	until := y.next(p.From, time.October, 25)
	return span{max(p.From, y.next(until-daysOfYear/2, time.June, planWeek)), until, unseenWeeks}
}

// unseenWeeks is how many weeks running a colony may be over the line before
// that is a failure of the plan. Less is out of reach even of perfect counts.
const unseenWeeks = 6

// MostUnseen is the chance of being over the line for more than six weeks
// running unseen that a plan with its counts may leave.
const MostUnseen = 0.05

// WeekAhead is what is to be expected of a colony in a week of the year.
type WeekAhead struct {
	On             sampling.Date
	Low, Mid, High float64 // four colonies in five lie between, mites per hundred bees
	Act            float64 // the line of the day, likewise
	Over           float64 // chance of being over it
}

// YearOutlook is what is to be expected of a colony under a plan.
type YearOutlook struct {
	Weeks []WeekAhead

	// Unseen is the chance of being over the line for more than six weeks
	// running, between 15 June and 25 October, without a count that called it.
	Unseen float64

	// WeeksOver is the mean number of weeks over the line in that time, and
	// EverOver the chance of being over it in some week of the time.
	WeeksOver, EverOver float64

	// Loss is what such colonies lost by spring, by their level in the middle
	// of September.
	Loss WinterLoss
}

// yearRun is a plan made ready.
type yearRun struct {
	YearPlan
	path *Path
	chain
}

// Outlook is what is to be expected under the plan with counts, if any. Errors
// are *sampling.ValueError.
func (p YearPlan) Outlook(counts ...YearCount) (YearOutlook, error) {
	r, err := p.ready()
	if err != nil {
		return YearOutlook{}, err
	}
	return r.outlook(counts)
}

func (r *yearRun) outlook(counts []YearCount) (YearOutlook, error) {
	calls, err := r.calls(counts)
	if err != nil {
		return YearOutlook{}, err
	}
	s := r.watched()
	forward := r.forward(s, calls, false)
	out := YearOutlook{Unseen: forward.end.passed()}
	september := r.Colony.Year.next(r.From, time.September, 15)
	for n, l := range r.looks {
		d := forward.all[n].density()
		q := d.Quantiles(0.1, 0.5, 0.9)
		w := WeekAhead{On: l.on, Low: 100 * q[0], Mid: 100 * q[1], High: 100 * q[2], Act: l.act, Over: forward.all[n].over(l.act)}
		out.Weeks = append(out.Weeks, w)
		if l.on >= s.from && l.on <= s.until {
			out.WeeksOver += w.Over
		}
		if l.on <= september && september < l.on+week {
			if out.Loss, err = NewWinterLoss(d, r.Rules.lossWithout()); err != nil {
				return out, err
			}
		}
	}
	ever := s
	ever.most = 0
	out.EverOver = r.forward(ever, calls, false).end.passed()
	return out, nil
}

// ready makes the chain of the plan.
func (p YearPlan) ready() (*yearRun, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	r := &yearRun{YearPlan: p}
	slices.SortStableFunc(r.Steps, func(a, b YearStep) int { return int(a.Course.First - b.Course.First) })
	var days []TreatmentDay
	for _, s := range r.Steps {
		days = append(days, s.days(-1)...)
		days = append(days, s.days(0)...)
	}
	h := p.Colony.History
	h.Treatments, h.Counts, h.Happenings, h.Ends, h.Splits = days, nil, nil, nil, nil
	var err error
	r.path, err = NewPath(PathPlan{First: p.From, Last: p.From + daysOfPlan + arrivalsMix, Year: h.Year, Rates: h.Rates, Treatments: days, Arrivals: h.Arrivals})
	if err != nil {
		return nil, err
	}
	return r, r.makeLegs(h)
}

// days are the rounds of the step in the year asked about, or so many years
// from it.
func (s YearStep) days(years int) []TreatmentDay {
	var out []TreatmentDay
	for _, on := range s.Course.Rounds {
		day := TreatmentDay{On: yearsOn(on, years), Treatment: s.Course.Treatment}
		if u := s.Course.Until; !u.IsZero() {
			day.Until = yearsOn(u, years)
		}
		out = append(out, day)
	}
	return out
}

func yearsOn(d sampling.Date, years int) sampling.Date {
	t := d.Time()
	return sampling.Day(t.Year()+years, t.Month(), t.Day())
}

func (p YearPlan) check() error {
	if err := p.Colony.Year.check(); err != nil {
		return err
	}
	if err := p.Rules.check(); err != nil {
		return err
	}
	if p.From.IsZero() {
		return &sampling.ValueError{Name: "plan", Problem: "the day its year begins is missing", Remedy: "give the day, such as that of Year.YearFrom"}
	}
	for _, s := range p.Steps {
		c := s.Course
		if len(c.Rounds) == 0 || c.First < p.From || c.First >= p.From+daysOfYear+1 {
			return &sampling.ValueError{Name: "treatment " + c.Treatment.Slug, Problem: fmt.Sprintf("%s is not in the year from %s on", c.First, p.From), Remedy: "give every step its days in that year"}
		}
	}
	if _, ok := p.Colony.Year.Line(p.Rules.Lines, p.From, false); !ok {
		return &sampling.ValueError{Name: "thresholds", Problem: "there is no line for some season of the year", Remedy: "give every season of the year a line"}
	}
	return nil
}

// makeLegs cuts the year at its weeks and where courses begin and are over, and
// works out what each piece of it does.
func (r *yearRun) makeLegs(h History) error {
	p, last := r.path, r.From+daysOfPlan
	june := h.Year.next(r.From, time.June, planWeek)
	weekly := map[sampling.Date]bool{}
	cuts := []sampling.Date{last}
	for d := r.From + (june-r.From)%week; d <= last; d += week {
		if d > r.From {
			weekly[d] = true
			cuts = append(cuts, d)
		}
	}
	for _, c := range p.courses {
		for _, i := range []int{c.first, c.over} {
			if d := p.start + sampling.Date(i); d > r.From && d < last {
				cuts = append(cuts, d)
			}
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	if r.Start != nil {
		r.start = onGrid(*r.Start)
	} else {
		r.start = onGrid(blendAll(h.unseenParts(p, r.From, r.From, noCourse)))
	}
	before := p.active(r.From)
	if before != noCourse && p.courses[before].first < int(r.From-p.start) {
		w := r.threeWeights(before)
		r.first = &w
	} else {
		before = noCourse
	}
	from, lastLook := r.From, r.From
	for _, to := range cuts {
		l := leg{from: from, to: to, course: p.active(from)}
		switch {
		case l.course == before:
		case l.course == noCourse:
			l.merge = true
		default:
			w := r.threeWeights(l.course)
			l.split = &w
		}
		if err := r.makeSpreads(&l); err != nil {
			return err
		}
		if weekly[to] {
			l.look = r.makeLook(h, lastLook, to)
			r.looks = append(r.looks, l.look)
			lastLook = to
		}
		r.legs = append(r.legs, l)
		before, from = l.course, to
	}
	return r.makeRemedies()
}

func blendAll(d []sampling.Density) sampling.Density {
	w := make([]float64, len(d))
	for i := range w {
		w[i] = 1
	}
	return blend(d, w)
}

// threeWeights are the chances of the parts of a course: it works, it fails, it
// does far better.
func (r *yearRun) threeWeights(course int) [chainParts]float64 {
	c := r.path.courses[course]
	return three(c.weights(), func(w float64) float64 { return w })
}

// failing is the same year with a course that fails for certain.
func (r *yearRun) failing(first sampling.Date) *yearRun {
	out := *r
	out.legs = slices.Clone(r.legs)
	fails := &[chainParts]float64{0, 1, 0}
	for i, l := range out.legs {
		if l.split != nil && r.path.courses[l.course].First == first {
			out.legs[i].split = fails
		}
	}
	return &out
}

// three sums the parts of a course up: those of its kill are one.
func three[T any](parts []T, of func(T) float64) [chainParts]float64 {
	var out [chainParts]float64
	for k, p := range parts {
		out[max(k-killQuantiles+1, 0)] += of(p)
	}
	return out
}

// makeSpreads works out what a piece of the year does in each state.
func (r *yearRun) makeSpreads(l *leg) error {
	p := r.path
	growth, err := p.growth(l.from, l.to)
	if err != nil {
		return err
	}
	parts := []Part{{Weight: 1}}
	if l.course != noCourse {
		parts = r.threeParts(p.courses[l.course], int(l.from-p.start), int(l.to-p.start))
	}
	arrived := p.arrivedOnBees(l.from, l.to)
	for a := range chainArrivals {
		add := arrived * arrivalLevel(a)
		for k, part := range parts {
			l.spreads[a][k] = newSpread(growth.Shift+part.Shift, growth.Variance+part.Variance, add)
		}
	}
	return nil
}

// threeParts is what each of the three parts of a course does between two days
// since the start of the path, beyond what was expected. The kills of one that
// works differ from colony to colony, and by the end of the course by as much
// as they do.
func (r *yearRun) threeParts(c courseRun, a, b int) []Part {
	p := r.path
	base := func(i int) float64 { return p.mites[i] }
	parts := c.parts(a, b, base)
	mean := func(parts []Part) float64 { m, _ := moments(worked(parts)); return m }
	variance := func(to int) float64 { _, v := moments(worked(c.parts(c.first, to, base))); return v }
	out := []Part{{Shift: mean(parts), Variance: max(0, variance(b)-variance(max(a, c.first)))}}
	return append(out, parts[killQuantiles:]...)
}

// worked are the parts of a course that works, as shares of them.
func worked(parts []Part) []Part {
	out := slices.Clone(parts[:killQuantiles])
	for i := range out {
		out[i].Weight = 1.0 / killQuantiles
	}
	return out
}

// arrivalLevel is one of the three equally likely multiples of the mites that
// come in.
func arrivalLevel(third int) float64 {
	const outer = 0.967421566 // standard normal quantile of five sixths
	return math.Exp(outer * parameter("arrivals_log_sd") * float64(third-1))
}

// arrivedOnBees is what the mites that come in between two days are worth at
// their end, in mites on bees that have lived there all along: as many as give
// the same number some weeks later, once both are spread over bees and cells
// alike. A mite that has just come in has no daughters in a cell yet, and those
// that came in together go into cells and come out of them together: a mean
// over the time of one cell evens that out.
func (p *Path) arrivedOnBees(from, to sampling.Date) float64 {
	if p.plan.Arrivals == 0 {
		return 0
	}
	var m Mites
	sum, days := 0.0, 0.0
	for d := from; d <= min(to+arrivalsMix, p.plan.Last); d++ {
		i := int(d - p.start)
		if d > to+arrivalsMix-oneCell {
			sum += m.OnBees * math.Exp(p.mites[to-p.start]-p.mites[i])
			days++
		}
		in := 0.0
		if d < to && p.plan.Year.Flying(d) {
			in = p.plan.Arrivals * p.plan.Year.arrivalShare(d)
		}
		m = p.colony.day(p.plan.Rates, m, i, p.kills[i], in)
	}
	return sum / days / p.AdultBees(to)
}

// arrivalsMix is how many days mites that came in take to be spread as others,
// and oneCell how long one of them is on bees and in a cell.
const arrivalsMix, oneCell = 50, 17

// makeLook is the look at the end of a week.
func (r *yearRun) makeLook(h History, last, on sampling.Date) *look {
	p := r.path
	line, _ := h.Year.Line(r.Rules.Lines, on, !p.CappedBrood(on))
	l := &look{on: on, act: line.Act, over: overNodes(line.Act)}
	if r.AllWritten {
		return l
	}
	l.q = unrecorded(float64(on - last))
	course := p.activeUpTo(on)
	parts := h.unseenParts(p, on, on, course)
	if course == noCourse || len(parts) == 1 {
		one := onGrid(blendAll(parts))
		l.new = [chainParts]*levels{one, one, one}
		return l
	}
	l.new[0] = onGrid(blendAll(parts[:killQuantiles]))
	for k, d := range parts[killQuantiles:] {
		l.new[1+k] = onGrid(d)
	}
	if l.new[2] == nil {
		l.new[2] = l.new[0]
	}
	return l
}

// makeRemedies finds out what is done to a colony that a count calls on each
// look: the plan itself when it treats within three weeks, else at once what the
// plan names for that time, when supers are off and no course is in progress.
func (r *yearRun) makeRemedies() error {
	r.due = map[int]mix{}
	for n, l := range r.looks {
		l.call = &remedy{}
		if c, ok := r.nextCourse(l.on); ok && c.First-l.on <= longestWait && !(c.NeedsNoBrood() && r.path.CappedBrood(l.on)) {
			l.call.plan, l.call.what = true, c.Treatment
			continue
		}
		at := n
		for at < len(r.looks) && r.barred(r.looks[at].on) {
			at++
		}
		if len(r.Steps) == 0 {
			l.call.plan = true // there is nothing to give
			continue
		}
		if l.call.waits = at; at == len(r.looks) {
			continue
		}
		c := r.remedyOn(r.looks[at].on)
		l.call.what = c.Treatment
		if _, ok := r.due[at]; ok && at > n {
			continue
		}
		parts, err := r.effectOf(c)
		if err != nil {
			return err
		}
		if l.call.mix = newMix(parts); at > n {
			r.due[at] = l.call.mix
		}
	}
	return nil
}

// barred reports whether nothing may be given on a day beside the plan.
func (r *yearRun) barred(on sampling.Date) bool {
	return r.Colony.Supers.On(on) == SupersOn || r.inProgress(on)
}

// inProgress reports whether a course of the plan is at work or not settled.
func (r *yearRun) inProgress(on sampling.Date) bool {
	return slices.ContainsFunc(r.path.courses, func(c courseRun) bool { return c.First <= on && on < c.SettledOn() })
}

// nextCourse is the next course of the plan from a day on.
func (r *yearRun) nextCourse(day sampling.Date) (Course, bool) {
	best, found := Course{}, false
	for _, c := range r.path.courses {
		if c.First >= day && (!found || c.First < best.First) {
			best, found = c.Course, true
		}
	}
	return best, found
}

// remedyOn is the course that a called colony is given from a day on: that of
// the step which is nearest in the year, of those that do something beside
// brood while there is any.
func (r *yearRun) remedyOn(day sampling.Date) Course {
	best, far := 0, math.Inf(1)
	for i, s := range r.Steps {
		c := s.Course
		gap := math.Abs(float64(c.First - day))
		gap = math.Min(gap, daysOfYear-gap)
		if c.NeedsNoBrood() && r.path.CappedBrood(day) {
			gap += daysOfYear
		}
		if gap < far {
			best, far = i, gap
		}
	}
	return r.Steps[best].Course.moved(day)
}

// moved is the course with another first day.
func (c Course) moved(first sampling.Date) Course {
	by := first - c.First
	c.First, c.Last, c.Rounds = c.First+by, c.Last+by, slices.Clone(c.Rounds)
	for i := range c.Rounds {
		c.Rounds[i] += by
	}
	c.Until, c.TakenOut, c.Given = 0, 0, 0
	return c
}

// effectOf is what a course by itself does to the mites on bees by the day on
// which it has settled, in its three parts, against no course.
func (r *yearRun) effectOf(c Course) ([]Part, error) {
	h := r.Colony.History
	plan := PathPlan{First: c.First, Last: c.SettledOn() + sameCourse + 1, Year: h.Year, Rates: h.Rates}
	for _, on := range c.Rounds {
		plan.Treatments = append(plan.Treatments, TreatmentDay{On: on, Treatment: c.Treatment})
	}
	p, err := NewPath(plan)
	if err != nil {
		return nil, err
	}
	run := p.courses[0]
	until := int(c.SettledOn() - p.start)
	parts := run.parts(run.first, until, func(i int) float64 { return run.without[i-run.first] })
	mean, variance := moments(worked(parts))
	w := three(run.weights(), func(w float64) float64 { return w })
	out := []Part{{w[0], mean, variance}}
	return append(out, parts[killQuantiles:]...), nil
}
