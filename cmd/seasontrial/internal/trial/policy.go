package trial

import (
	"math"
	"slices"
	"time"

	"halfcup/decide"
	"halfcup/sampling"
)

// policy is a way of looking after colonies. Each is played as its text says.
type policy struct {
	name, text string

	method sampling.Method // counted in every colony at every visit; "" for none
	every  int             // days from visit to visit; 0 for the first of every month
	bare   bool            // the count itself is held against the line
	watch  bool            // never treat, but foretell
	audit  bool            // hold what is expected before a count against the truth
	plan   *Plan
	advice bool // do what choose says
	noKill bool
	pair   bool // one pair of a roll and a wash in every yard
	change change
}

// change is one thing that the program would do otherwise, to see what it is
// worth.
type change struct {
	number             int             // from 1; 0 for none
	backIn             int             // the days for which leaving is charged
	minWorth, missCost float64         // the least worth of a look, and what a missed treatment costs
	method             sampling.Method // the only one that is advised
	prior              sampling.Prior  // of a colony nobody has looked at, on any day
}

// of are the rules with the change.
func (c change) of(r decide.Rules) decide.Rules {
	if c.backIn > 0 {
		r.BackIn = c.backIn
	}
	if c.minWorth > 0 {
		r.MinWorth = c.minWorth
	}
	if c.missCost > 0 {
		r.MissCost = c.missCost
	}
	if c.method != "" {
		for _, m := range sampling.Methods() {
			if m != c.method {
				r.Without = append(r.Without, m)
			}
		}
	}
	return r
}

// changes are played when they are asked for, each beside the advice as it is.
var changes = changed(
	policy{name: "7 days", text: "choose, with leaving charged for 7 days until somebody looks again and not for 14", change: change{backIn: 7}},
	policy{name: "20 days", text: "the same for 20 days", change: change{backIn: 20}},
	policy{name: "30 days", text: "the same for 30 days", change: change{backIn: 30}},
	policy{name: "any look", text: "choose, making a count that is worth a fifth of what it must be", change: change{minWorth: 0.01}},
	policy{name: "few looks", text: "choose, making none that is not worth four times as much", change: change{minWorth: 0.2}},
	policy{name: "miss 1", text: "choose, told that a missed treatment is worth one needless one", change: change{missCost: 1}},
	policy{name: "miss 9", text: "choose, told that it is worth nine", change: change{missCost: 9}},
	policy{name: "flat year", text: "choose, taking a colony nobody has looked at for one of 1.2 per hundred all year", change: change{prior: sampling.Prior{MedianPerHundred: 1.2, LogSD: 1.2}}},
	policy{name: "washes", text: "choose, with washes only", change: change{method: sampling.Wash}},
)

func changed(all ...policy) []policy {
	for i := range all {
		all[i].advice, all[i].change.number = true, i+1
	}
	return all
}

// Plan is a year of treatments by the calendar and, if there are any, counts: a
// colony that a count shows to need it is treated as well. A colony under
// treatment, or not settled after it, is left in peace.
type Plan struct {
	Name, Text string
	Treat      []CalendarDay
	Counts     []PlannedCount
}

// CalendarDay is a day of every year.
type CalendarDay struct {
	Month time.Month
	Day   int
}

// PlannedCount is a count by the calendar; its date and mites do not matter.
type PlannedCount struct {
	On CalendarDay
	sampling.Count
}

func (c CalendarDay) is(d sampling.Date) bool {
	t := d.Time()
	return t.Month() == c.Month && t.Day() == c.Day
}

// policies are what is compared, the usual practice first.
var policies = slices.Concat([]policy{
	{name: "bare wash", text: "wash 300 bees of every colony each month; treat when the mites per hundred counted reach the line", method: sampling.Wash, bare: true},
	{name: "3 weeks", text: "the same every three weeks", method: sampling.Wash, bare: true, every: 21},
	{name: "wash", text: "the monthly wash, read as halfcup estimate reads it; treat when that is the lesser regret", method: sampling.Wash},
	{name: "roll", text: "a sugar roll of 300 bees of every colony each month, read so", method: sampling.Roll, audit: true},
	{name: "board", text: "a board for three days under every colony each month, read so", method: sampling.Board},
}, planned(schedule, counted), []policy{
	{name: Advised, text: "ask halfcup choose, do what it says, and look again on the day it names", advice: true},
	{name: "no-kill", text: "the same, with no count that kills bees", advice: true, noKill: true},
	{name: "pair", text: "the same with one calibration pair in every yard, in July", advice: true, pair: true},
})

// The plans that are always played: the same two treatments without and with
// counts, before supers go on, when they come off, and when the second
// treatment has settled.
var (
	schedule = Plan{
		Name: "schedule", Text: "look at nothing; treat every colony on 1 August and 1 September",
		Treat: []CalendarDay{{time.August, 1}, {time.September, 1}},
	}
	counted = Plan{
		Name: "counted", Text: "the same schedule with a roll of 300 bees on 1 May, 20 July and 5 October; treat as well when that is the lesser regret",
		Treat: schedule.Treat,
		Counts: []PlannedCount{
			{CalendarDay{time.May, 1}, usual(sampling.Roll)},
			{CalendarDay{time.July, 20}, usual(sampling.Roll)},
			{CalendarDay{time.October, 5}, usual(sampling.Roll)},
		},
	}
)

func planned(plans ...Plan) []policy {
	var out []policy
	for _, p := range plans {
		out = append(out, policy{name: p.Name, text: p.Text, plan: &p})
	}
	return out
}

// watching is no way of looking after colonies: they are washed each month and
// left alone, so that forecasts can be held against what comes.
var watching = policy{name: "watch", method: sampling.Wash, watch: true, audit: true}

// horizons are the days ahead of such forecasts.
var horizons = []int{30, 60, 90, 120}

// sampleBees and boardDays are the size of the monthly counts: a half cup off
// one frame, as is usual, and a board of three days.
const (
	sampleBees = 300
	boardDays  = 3
)

// pairMonth is the visit at which pairs are made, counted from April.
const pairMonth = 3

// mostLooks is how many counts are made one upon another before a decision is
// asked for, whatever the advice.
const mostLooks = 3

// playground is a yard in one setting under one policy.
type playground struct {
	policy
	*adviser
	days  int // that are played
	books []*book
	pairs *sampling.Pair
}

// morning makes the decisions of a day; month is that of the monthly visit, -1
// on days without one.
func (p *playground) morning(day, month int) error {
	if p.pair && month == pairMonth {
		if err := p.makePair(); err != nil {
			return err
		}
	}
	visited := month >= 0
	if p.every > 0 {
		visited = day >= lead && (day-lead)%p.every == 0
	}
	for _, b := range p.books {
		if err := p.visit(b, visited, month >= 0); err != nil {
			return err
		}
	}
	return nil
}

func (p *playground) visit(b *book, visited, first bool) error {
	switch {
	case p.advice:
		if err := p.follow(b); err != nil || !first {
			return err
		}
		// What is said of a colony is noted on the same days as elsewhere.
		return p.tell(b)
	case p.plan != nil:
		return p.keepTo(b)
	case !visited:
		return nil
	}
	if p.audit {
		if err := p.expect(b); err != nil {
			return err
		}
	}
	b.looks = 0
	c := b.look(usual(p.method))
	switch {
	case p.bare:
		if overLine(c.Mites, p.act(b.today())) {
			p.begin(b)
		}
		return nil
	case p.watch:
		return p.foretell(b)
	}
	return p.decide(b)
}

// keepTo does what the plan has for today.
func (p *playground) keepTo(b *book) error {
	if b.resting() {
		return nil
	}
	for _, c := range p.plan.Counts {
		if c.On.is(b.today()) {
			b.looks = 0
			b.look(c.Count)
			if err := p.decide(b); err != nil || b.underTreatment() {
				return err
			}
		}
	}
	for _, day := range p.plan.Treat {
		if day.is(b.today()) {
			p.begin(b)
			return nil
		}
	}
	return nil
}

// decide reads the counts of a colony and treats when that is the lesser regret.
func (p *playground) decide(b *book) error {
	if err := p.tell(b); err != nil {
		return err
	}
	o, err := p.ask(p.about(b, false))
	if o.treats {
		p.begin(b)
	}
	return err
}

// begin starts a treatment today.
func (p *playground) begin(b *book) {
	b.begin(p.price(b.today()), p.lowestAct(b.today()))
}

// price is what mistakes cost on a day.
func (p *playground) price(day sampling.Date) price { return price{p.act(day), p.missCost} }

// expect notes how far what is expected of a colony that was counted before lies
// from the truth, before it is counted again.
func (p *playground) expect(b *book) error {
	if len(b.counts) == 0 || b.resting() {
		return nil
	}
	o, err := p.ask(p.about(b, false))
	b.errors = append(b.errors, monthError{b.today().Time().Month(), math.Log(o.median / b.level())})
	return err
}

// foretell notes what is expected of a colony in the months to come.
func (p *playground) foretell(b *book) error {
	bands, err := p.foresee(p.about(b, false), horizons)
	for i, expected := range bands {
		if on := b.day + horizons[i]; on < p.days {
			b.forecasts = append(b.forecasts, forecast{band: expected, day: on, horizon: horizons[i]})
		}
	}
	return err
}

// tell notes what the program says of a colony today, once all counts of the
// day are made, and how it is. Nothing is said while a treatment works.
func (p *playground) tell(b *book) error {
	if b.resting() {
		return nil
	}
	o, err := p.ask(p.about(b, false))
	if err == nil {
		b.tell(o, p.act(b.today()))
	}
	return err
}

// overLine is the usual rule: the mites per hundred bees as counted reach the
// line.
func overLine(mites int, act float64) bool { return 100*float64(mites)/sampleBees >= act }

// usual is the monthly count by a method.
func usual(m sampling.Method) sampling.Count {
	if m == sampling.Board {
		return sampling.Count{Method: m, Amount: sampling.Amount{Value: boardDays, Unit: sampling.Days}}
	}
	return scoop(m, sampleBees, 1, 0)
}

// follow does what the advice says, on the days it names. A colony is left in
// peace during a treatment and until it has settled.
func (p *playground) follow(b *book) error {
	switch {
	case b.boardOut > b.day || b.day < max(lead, b.next) || b.resting():
		return nil
	case b.boardOut == b.day:
		c := b.board
		b.boardOut = 0
		b.look(c)
	default:
		b.looks = 0
	}
	for {
		o, err := p.ask(p.about(b, true))
		if err != nil {
			return err
		}
		if o.again && b.looks < mostLooks {
			if o.count.Method == sampling.Board {
				b.board, b.boardOut = o.count, b.day+int(o.count.DaysOnBoard())
				return nil
			}
			b.look(o.count)
			continue
		}
		if o.treats {
			p.begin(b)
		}
		b.next = max(int(o.next-firstDay), b.day+1)
		return nil
	}
}

// about is the question about a colony today.
func (p *playground) about(b *book, advice bool) question {
	return question{record: b.record, day: b.today(), from: &b.memory, pair: p.pairs, advice: advice, noKill: advice && p.noKill, change: p.change}
}

// makePair rolls a half cup of bees off three frames and washes the same bees,
// in the colony that seems to have most mites: there a pair tells most.
func (p *playground) makePair() error {
	var most *book
	top := -1.0
	for _, b := range p.books {
		o, err := p.ask(p.about(b, false))
		if err != nil {
			return err
		}
		if o.median > top && !b.resting() {
			most, top = b, o.median
		}
	}
	if most == nil {
		return nil // all of them are under treatment
	}
	day := most.today()
	roll, wash := most.hive.pair(scoop(sampling.Roll, sampleBees, 3, day), scoop(sampling.Wash, sampleBees, 3, day))
	pair, err := sampling.NewPair(roll, wash)
	if err != nil {
		return err
	}
	p.pairs = &pair
	for _, b := range p.books {
		b.memory = memory{} // all counts are read anew
	}
	most.spend(roll)
	most.spend(wash)
	// Of this colony the pair tells as one wash that found all the mites.
	wash.Mites += roll.Mites
	most.counts = append(most.counts, wash)
	return nil
}
