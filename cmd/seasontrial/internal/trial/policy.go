package trial

import (
	"halfcup/decide"
	"halfcup/sampling"
)

// policy is a way of looking after colonies. Each is played as its text says.
type policy struct {
	name, text string

	method   sampling.Method // counted in every colony every month; "" for none
	bare     bool            // the count itself is held against the line
	schedule bool            // treat by the calendar
	advice   bool            // do what choose says
	noKill   bool
	pair     bool // one pair of a roll and a wash in every yard
}

// policies are what is compared, the usual practice first.
var policies = []policy{
	{name: "bare wash", text: "wash 300 bees of every colony each month; treat when the mites per hundred counted reach the line", method: sampling.Wash, bare: true},
	{name: "wash", text: "the same wash, read as halfcup estimate reads it; treat when that is the lesser regret", method: sampling.Wash},
	{name: "roll", text: "a sugar roll of 300 bees of every colony each month, read so", method: sampling.Roll},
	{name: "board", text: "a board for three days under every colony each month, read so", method: sampling.Board},
	{name: "schedule", text: "look at nothing; treat every colony on 1 August and 1 September", schedule: true},
	{name: Advised, text: "ask halfcup choose, do what it says, and look again on the day it names", advice: true},
	{name: "no-kill", text: "the same with --no-kill", advice: true, noKill: true},
	{name: "pair", text: "the same with one calibration pair in every yard, in July", advice: true, pair: true},
}

// sampleBees and boardDays are the size of the monthly counts: a half cup off
// one frame, as is usual, and a board of three days.
const (
	sampleBees = 300
	boardDays  = 3
)

// Visits of the schedule, and the one at which pairs are made. Months count
// from April.
const (
	firstScheduled, secondScheduled = 4, 5
	pairMonth                       = 3
)

// mostLooks is how many counts are made one upon another before a decision is
// asked for, whatever the advice.
const mostLooks = 3

// playground is a yard in one setting under one policy.
type playground struct {
	policy
	*adviser
	books []*book
	pairs *sampling.Pair
}

// morning makes the decisions of a day; month is that of the visit, -1 on days
// without one.
func (p *playground) morning(month int) error {
	if p.pair && month == pairMonth {
		if err := p.makePair(); err != nil {
			return err
		}
	}
	for _, b := range p.books {
		if err := p.visit(b, month); err != nil {
			return err
		}
	}
	return nil
}

func (p *playground) visit(b *book, month int) error {
	switch {
	case p.advice:
		if err := p.follow(b); err != nil || month < 0 {
			return err
		}
		// What is said of a colony is noted on the same days as elsewhere.
		return p.tell(b)
	case month < 0:
		return nil
	case p.schedule:
		if month == firstScheduled || month == secondScheduled {
			b.begin(p.stakes(b.today()))
		}
		return nil
	}
	b.looks = 0
	c := b.look(usual(p.method))
	stakes := p.stakes(b.today())
	if p.bare {
		if overLine(c.Mites, stakes.Act) {
			b.begin(stakes)
		}
		return nil
	}
	if err := p.tell(b); err != nil {
		return err
	}
	o, err := p.ask(p.about(b, false))
	if o.treats {
		b.begin(stakes)
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
		b.tell(o, p.line(b.today()).Act)
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
	return decide.Scooped(m, sampleBees, 1, 0)
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
		if o.call == decide.CountAgain && b.looks < mostLooks {
			if o.count.Method == sampling.Board {
				b.board, b.boardOut = o.count, b.day+int(o.count.DaysOnBoard())
				return nil
			}
			b.look(o.count)
			continue
		}
		if o.treats {
			b.begin(p.stakes(b.today()))
		}
		b.next = max(int(o.next-firstDay), b.day+1)
		return nil
	}
}

// about is the question about a colony today.
func (p *playground) about(b *book, advice bool) question {
	return question{record: b.record, day: b.today(), pair: p.pairs, advice: advice, noKill: advice && p.noKill}
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
	roll, wash := most.hive.pair(decide.Scooped(sampling.Roll, sampleBees, 3, day), decide.Scooped(sampling.Wash, sampleBees, 3, day))
	pair, err := sampling.NewPair(roll, wash)
	if err != nil {
		return err
	}
	p.pairs = &pair
	most.spend(roll)
	most.spend(wash)
	// Of this colony the pair tells as one wash that found all the mites.
	wash.Mites += roll.Mites
	most.counts = append(most.counts, wash)
	return nil
}
