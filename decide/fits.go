package decide

import (
	"cmp"
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"halfcup/internal/table"
	"halfcup/sampling"
)

// Presence is whether something is there.
type Presence int

// What may be known of it.
const (
	NotKnown Presence = iota
	Present
	Absent
)

// Circumstances decide which treatments can be used in a colony. Day and Year
// are needed; any other field that is zero says that nobody knows.
type Circumstances struct {
	Day  sampling.Date
	Year Year

	CappedBrood Presence
	Broodless   Window // a time without capped brood that is known or planned

	Supers SupersPlan // honey supers that are on and that will be

	Warmest   *float64 // highest forecast of the first three days in the shade, °C
	AdultBees float64
	NewQueen  bool // she began to lay a short time ago

	Courses []Course // up to the day, by their first day
	Counts  []sampling.Date
}

// holds reports whether a day is in the window; no day is in an empty one.
func (w Window) holds(d sampling.Date) bool {
	return !w.From.IsZero() && w.From <= d && (w.Until.IsZero() || d <= w.Until)
}

// FitGroup is how a treatment stands on a day.
type FitGroup string

// The groups, from the best to the worst.
const (
	FitsNow FitGroup = "fits"
	FitsMay FitGroup = "maybe"
	FitsNot FitGroup = "not now"
)

// FitReason is why a treatment stands in its group.
type FitReason string

// The reasons. Which group a reason puts a treatment into is said in fits.csv.
const (
	ReasonFits          FitReason = "fits"
	ReasonNoBrood       FitReason = "no brood"
	ReasonRounds        FitReason = "rounds"
	ReasonVariable      FitReason = "variable"
	ReasonResistance    FitReason = "resistance"
	ReasonSameGroup     FitReason = "same group"
	ReasonWarmthUnknown FitReason = "warmth unknown"
	ReasonTooHot        FitReason = "too hot"
	ReasonTooCool       FitReason = "too cool"
	ReasonSmallColony   FitReason = "small colony"
	ReasonNewQueen      FitReason = "new queen"
	ReasonWeak          FitReason = "weak beside brood"
	ReasonWinter        FitReason = "winter cluster"
	ReasonSecondTrickle FitReason = "second trickle"
	ReasonSupersLabel   FitReason = "supers label"
	ReasonSupersComing  FitReason = "supers coming"
	ReasonAnotherCourse FitReason = "another course"
)

// The reasons of what is done without any treatment.
const (
	ReasonWithout FitReason = "without"
	ReasonLate    FitReason = "without late"
	ReasonEarly   FitReason = "without early"
)

// Option is one thing to do, or some that stand alike, with the reason.
type Option struct {
	Treatments []sampling.Treatment // none for what is done without any
	Called     []string             // their names in a sentence
	Group      FitGroup
	Reason     FitReason
	Sentence   string // why, without their names; under 60 letters
	Source     string
	Kind       string
}

// StepKind is what has to come first.
type StepKind string

// The steps that unlock the rest, or that everything else waits for.
const (
	StepTakeOut      StepKind = "first take out"
	StepWait         StepKind = "first wait"
	StepSupersOff    StepKind = "first supers off"
	StepAskSupers    StepKind = "first ask supers"
	StepBroodless    StepKind = "first broodless" // a time without capped brood is coming
	StepBroodlessNow StepKind = "first broodless now"
	StepWinter       StepKind = "first winter" // most likely without capped brood, and nobody looked
	StepCount        StepKind = "first count"
)

// Step is what comes first. Course is the course that is waited for or that has
// to come out, Window the days a step is about; both are empty where a step has
// none.
type Step struct {
	Kind     StepKind
	Course   Course
	Window   Window
	Sentence string
}

// Fit is what can be used in a colony on a day. It names no dose and no
// product; the label, the law and the vet or bee inspector decide.
type Fit struct {
	First            []Step // at most two, the more urgent one first
	Fits, Maybe, Not []Option
	Without          []Option // brood breaks and the like, those that can be done now first
	AssumedBrood     bool     // capped brood is only taken to be there, or not, by the year
	CappedBrood      bool
	Circumstances    Circumstances
}

const (
	// smallColony is the adult bees under which a colony is taken for small:
	// about five frames of bees.
	smallColony = 10_000

	// windowAheadDays is how many days ahead a time without capped brood is
	// worth waiting for. A colony over the line does not wait longer.
	windowAheadDays = 28

	// pageOptions is how many lines of steps and treatments leave room for more
	// than one thing to do without any on a page of twelve lines.
	pageOptions = 8

	// winterCluster is how many days a cluster lives on, from clusterEarly days
	// before the season's broodless time: a second trickle in that time meets
	// the same bees.
	winterCluster, clusterEarly = 135, 30

	// lateCaging is how many days before the decline of the colony a caged queen
	// begins to cost winter bees, droneEnd how many before it drone brood ends,
	// droneStart how many after the buildup began it and swarms begin, and
	// lateBrood how many into the decline taking the brood comes too late.
	lateCaging, droneEnd, droneStart, lateBrood = 17, 31, 31, 30
)

//go:embed fits.csv
var fitsCSV string

var fitsTable = readFits()

type fitRow struct {
	group                  FitGroup
	sentence, source, kind string
}

type fitKey struct {
	reason    string
	treatment string
}

func (k fitKey) compare(other fitKey) int {
	return cmp.Or(cmp.Compare(k.reason, other.reason), cmp.Compare(k.treatment, other.treatment))
}

func readFits() map[fitKey]fitRow {
	out := map[fitKey]fitRow{}
	for _, r := range table.Read(fitsCSV) {
		out[fitKey{r["reason"], r["treatment"]}] = fitRow{FitGroup(r["group"]), r["sentence"], r["source"], r["kind"]}
	}
	return out
}

// fitRowOf is the row of a reason for a treatment, or the one for any.
func fitRowOf(reason, treatment string) fitRow {
	if r, ok := fitsTable[fitKey{reason, treatment}]; ok {
		return r
	}
	return fitsTable[fitKey{reason, "any"}]
}

// Fits says what can be used. Its errors are *sampling.ValueError.
func Fits(c Circumstances) (Fit, error) {
	if err := c.check(); err != nil {
		return Fit{}, err
	}
	out := Fit{Circumstances: c}
	out.CappedBrood, out.AssumedBrood = c.cappedBrood()
	out.First = c.first()
	all := sampling.Treatments()
	// What is at its best only now, then how many mites they reach, then how
	// soon a count tells.
	best := func(t sampling.Treatment) int {
		if !out.CappedBrood && t.NeedsNoBrood() {
			return 0
		}
		return 1
	}
	reach := func(t sampling.Treatment) float64 {
		if t.Synthetic() {
			// What is expected of it is of mites that are not resistant.
			return 100 * t.Kill(out.CappedBrood).Mean()
		}
		return t.ExpectPercent(out.CappedBrood)
	}
	slices.SortStableFunc(all, func(a, b sampling.Treatment) int {
		return cmp.Or(cmp.Compare(best(a), best(b)), cmp.Compare(reach(b), reach(a)), cmp.Compare(a.Days, b.Days))
	})
	for _, t := range all {
		course := UsualCourse(t, c.Day, out.CappedBrood)
		switch o := c.judge(course); o.Group {
		case FitsNow:
			out.Fits = join(out.Fits, o)
		case FitsMay:
			out.Maybe = join(out.Maybe, o)
		default:
			out.Not = join(out.Not, o)
		}
	}
	out.Without = c.without(out.CappedBrood)
	if len(out.First)+len(out.Fits)+len(out.Maybe)+len(out.Not) > pageOptions {
		out.Without = out.Without[:min(len(out.Without), 1)]
	}
	return out, nil
}

// join adds an option, to one that says the same where there is one.
func join(options []Option, o Option) []Option {
	i := slices.IndexFunc(options, func(other Option) bool { return other.Group == o.Group && other.Sentence == o.Sentence })
	if i < 0 {
		return append(options, o)
	}
	options[i].Treatments = append(options[i].Treatments, o.Treatments...)
	options[i].Called = append(options[i].Called, o.Called...)
	return options
}

func (c Circumstances) check() error {
	fail := func(name, problem, remedy string) error {
		return &sampling.ValueError{Name: name, Problem: problem, Remedy: remedy}
	}
	switch {
	case c.Day.IsZero():
		return fail("day", "none is given", "say for which day the answer is wanted")
	case c.Warmest != nil && !(*c.Warmest >= -30 && *c.Warmest <= 50):
		problem := fmt.Sprintf("%v °C is no weather", *c.Warmest)
		if *c.Warmest > 50 && *c.Warmest <= 125 {
			problem += fmt.Sprintf("; %v °F would be %.0f °C", *c.Warmest, (*c.Warmest-32)/1.8)
		}
		return fail("temperature", problem, "give the highest forecast of the first three days in the shade, in °C")
	case !(c.AdultBees >= 0 && c.AdultBees <= 200_000):
		return fail("adult bees", fmt.Sprintf("%v is no colony", c.AdultBees), "give the number of adult bees, such as 15000, or leave it out")
	}
	return c.Year.check()
}

// cappedBrood is whether the colony has capped brood, and whether that is only
// taken from the year. Where nobody looked it is taken to be there while bees
// fly: to take a colony with brood for one without is the worse mistake.
func (c Circumstances) cappedBrood() (capped, assumed bool) {
	switch {
	case c.CappedBrood != NotKnown:
		return c.CappedBrood == Present, false
	case c.Broodless.holds(c.Day):
		return false, false
	}
	return !c.partOfYear().winter, true
}

// inForce is the course that everything waits for, if any.
func (c Circumstances) inForce() (Course, CourseState, bool) {
	return InForce(c.Courses, c.Day, c.Counts)
}

func (c Circumstances) first() []Step {
	var out []Step
	add := func(kind StepKind, course Course, w Window) {
		date := func(d sampling.Date) string { return d.Time().Format("2 January") }
		says := strings.NewReplacer("{from}", date(w.From), "{to}", date(w.Until))
		row := "any"
		if w.Until.IsZero() {
			row = "open" // where there is one
		}
		out = append(out, Step{kind, course, w, says.Replace(fitRowOf(string(kind), row).sentence)})
	}
	course, state, running := c.inForce()
	switch {
	case running && state == CourseTakeOut:
		add(StepTakeOut, course, Window{From: course.OutDue()})
	case running && state.BarsTreatment():
		add(StepWait, course, Window{course.First, course.SettledOn()})
	}
	capped, assumed := c.cappedBrood()
	switch {
	case c.Supers.On(c.Day) == SupersOn:
		add(StepSupersOff, Course{}, Window{})
	case c.Supers.On(c.Day) == SupersUnknown && c.partOfYear().supersUsual:
		add(StepAskSupers, Course{}, Window{})
	}
	switch {
	case running && state.BarsTreatment():
		// There is nothing to give, so no good day to give it.
	case c.Broodless.holds(c.Day) && !capped:
		add(StepBroodlessNow, Course{}, c.Broodless)
	case c.broodlessSoon():
		add(StepBroodless, Course{}, c.Broodless)
	case !capped && assumed:
		add(StepWinter, Course{}, Window{})
	}
	if running && len(out) == 0 {
		add(StepCount, course, Window{From: course.SettledOn()})
	}
	return out
}

// broodlessSoon reports whether a time without capped brood is near enough to
// wait for.
func (c Circumstances) broodlessSoon() bool {
	return c.Broodless.From > c.Day && c.Broodless.near(c.Day)
}

// near reports whether a window is open on a day or opens within four weeks.
func (w Window) near(day sampling.Date) bool {
	return !w.From.IsZero() && w.From <= day+windowAheadDays && (w.Until.IsZero() || w.Until >= max(day, w.From))
}

// UsualCourse is a course as it is usually given from a day on: in rounds where
// a treatment of the bees is repeated beside capped brood.
func UsualCourse(t sampling.Treatment, first sampling.Date, cappedBrood bool) Course {
	rounds := 1
	if cappedBrood {
		rounds = t.Rounds
	}
	c := Course{Treatment: t, First: first, Last: first}
	for i := range rounds {
		c.Last = first + sampling.Date(i*t.EveryDays)
		c.Rounds = append(c.Rounds, c.Last)
	}
	return c
}

// judge says how a course that would begin on the day stands. The reason that
// is worst counts, and the first of those that are alike.
func (c Circumstances) judge(course Course) Option {
	t := course.Treatment
	best := Option{}
	for _, reason := range c.reasons(course) {
		row := fitRowOf(string(reason), t.Slug)
		if best.Group == "" || row.group.worse(best.Group) {
			best = Option{[]sampling.Treatment{t}, []string{t.Called}, row.group, reason, c.fill(row.sentence, course), row.source, row.kind}
		}
	}
	return best
}

func (g FitGroup) worse(than FitGroup) bool {
	order := []FitGroup{FitsNow, FitsMay, FitsNot}
	return slices.Index(order, g) > slices.Index(order, than)
}

// fill puts figures into a sentence.
func (c Circumstances) fill(sentence string, course Course) string {
	capped, _ := c.cappedBrood()
	weeks := (course.SettledOn() - course.First + 6) / 7
	warmest := ""
	if c.Warmest != nil {
		warmest = fmt.Sprint(math.Round(*c.Warmest) + 0) // never -0
	}
	return strings.NewReplacer(
		"{weeks}", strconv.Itoa(int(weeks)),
		"{expect}", fmt.Sprint(course.Treatment.ExpectPercent(capped)),
		"{warmest}", warmest,
	).Replace(sentence)
}

// reasons are everything that speaks of a course, the most telling first.
func (c Circumstances) reasons(course Course) []FitReason {
	t := course.Treatment
	capped, _ := c.cappedBrood()
	var out []FitReason
	add := func(when bool, reason FitReason) {
		if when {
			out = append(out, reason)
		}
	}
	_, state, running := c.inForce()
	add(running && state.BarsTreatment(), ReasonAnotherCourse)
	add(c.secondTrickle(course), ReasonSecondTrickle)
	if w := t.Warmth; w.Known() && c.Warmest != nil {
		add(*c.Warmest > w.Warm, ReasonTooHot)
		add(*c.Warmest < w.Cool, ReasonTooCool)
	}
	add(c.partOfYear().cluster && t.Slug != "oxalic-vapour" && t.Slug != "oxalic-trickle", ReasonWinter)
	rounds := t.Rounds > 1 && !course.NeedsNoBrood()
	add(capped && t.NeedsNoBrood() && !rounds, ReasonWeak)
	coming := func(s Supers) bool { return s.On > c.Day && course.Overlap(s) > 0 }
	add(slices.ContainsFunc(c.Supers.Times, coming), ReasonSupersComing)
	add(t.Synthetic() && c.lastGroup() == t.ModeOfAction, ReasonSameGroup)
	add(t.Synthetic() && t.ModeOfAction != "formamidine", ReasonResistance)
	add(capped && t.NeedsNoBrood() && rounds, ReasonRounds)
	add(t.WholeColony && t.Active == "oxalic acid", ReasonVariable)
	add(t.Warmth.Known() && c.Warmest == nil, ReasonWarmthUnknown)
	add(t.ActsInBrood && c.NewQueen, ReasonNewQueen)
	add(t.ActsInBrood && c.AdultBees > 0 && c.AdultBees < smallColony, ReasonSmallColony)
	add(c.Supers.On(c.Day) == SupersOn && t.LabelledWithSupers, ReasonSupersLabel)
	add(!capped && t.NeedsNoBrood(), ReasonNoBrood)
	add(len(out) == 0, ReasonFits)
	return out
}

// lastGroup is the mode of action of the last course that was given.
func (c Circumstances) lastGroup() string {
	for _, course := range slices.Backward(c.Courses) {
		if !course.Planned() {
			return course.Treatment.ModeOfAction
		}
	}
	return ""
}

// secondTrickle reports whether the course would trickle a cluster that was
// trickled before in the same winter.
func (c Circumstances) secondTrickle(course Course) bool {
	return slices.ContainsFunc(c.Courses, func(before Course) bool { return !before.Planned() && sameWinter(c.Year, before, course) })
}

// sameWinter reports whether two trickles fall on one winter cluster.
func sameWinter(y Year, a, b Course) bool {
	const trickle = "oxalic-trickle"
	winter := cluster(y, b.First)
	return a.Treatment.Slug == trickle && b.Treatment.Slug == trickle && !winter.IsZero() && cluster(y, a.Last) == winter
}

// without is what can be done with no treatment, or makes one treatment reach
// nearly all. A colony without capped brood, or soon without, needs none of it.
func (c Circumstances) without(capped bool) []Option {
	if !capped || c.broodlessSoon() {
		return nil
	}
	part := c.partOfYear()
	var out []Option
	add := func(slug, called string, isLate bool) {
		reason := ReasonWithout
		switch {
		case part.early:
			reason = ReasonEarly
		case isLate:
			reason = ReasonLate
		}
		group := FitsNow
		if reason != ReasonWithout {
			group = FitsNot
		}
		row := fitRowOf(string(reason), slug)
		out = join(out, Option{Called: []string{called}, Group: group, Reason: reason, Sentence: row.sentence, Source: row.source, Kind: row.kind})
	}
	if !part.early {
		add("sealed-brood", "sealed brood out", part.lateSummer > lateBrood)
	}
	add("queen-caged", "queen caged", part.lateSummer > -lateCaging)
	add("artificial-swarm", "artificial swarm", part.lateSummer > -lateCaging)
	add("drone-brood", "drone brood cut", part.lateSummer > -droneEnd)
	slices.SortStableFunc(out, func(a, b Option) int {
		return cmp.Compare(slices.Index([]FitGroup{FitsNow, FitsMay, FitsNot}, a.Group), slices.Index([]FitGroup{FitsNow, FitsMay, FitsNot}, b.Group))
	})
	return out
}

// StepFit is how one step of a yearly plan stands.
type StepFit struct {
	Course     Course
	Option     Option
	Objections []Objection
}

// FitsPlan judges every step of a plan that is repeated year by year, by the
// same rules: each as if the steps before it, also those of the year before,
// had been given and counted. steps are the courses of one year by their first
// day; on tells what is known of the colony on a day.
func FitsPlan(steps []Course, on func(sampling.Date) Circumstances) ([]StepFit, error) {
	var before []Course
	for _, c := range steps {
		before = append(before, c.done(daysOfYear))
	}
	return FitsSteps(before, steps, on)
}

// FitsSteps is FitsPlan for a colony of which it is known what it was given
// before: courses of the days before the first step, which count as they are.
func FitsSteps(before, steps []Course, on func(sampling.Date) Circumstances) ([]StepFit, error) {
	given := slices.Clone(before)
	var out []StepFit
	for _, c := range steps {
		around := on(c.First)
		around.Courses, around.Counts = given, nil
		if err := around.check(); err != nil {
			return nil, err
		}
		out = append(out, StepFit{c, around.judge(c), Objections(around.Year, given, around.Supers.Times, c)})
		given = append(slices.Clip(given), c.done(0))
	}
	return out, nil
}

// done is a planned course as given so many days ago and taken out in time.
func (c Course) done(ago sampling.Date) Course {
	c.First, c.Last, c.Until = c.First-ago, c.Last-ago, max(c.Until-ago, 0)
	c.Rounds = slices.Clone(c.Rounds)
	for i := range c.Rounds {
		c.Rounds[i] -= ago
	}
	c.Given = c.Last
	if c.lies() {
		c.TakenOut = c.OutDue()
	}
	return c
}
