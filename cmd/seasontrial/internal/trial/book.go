package trial

import (
	"halfcup/decide"
	"halfcup/sampling"
)

// wrongBy is how far a colony must be past the line for a decision to count as
// a mistake: a third. Nearer to it both choices cost about the same.
const wrongBy = 4.0 / 3

// monthDays are the days of a month without treatment that count as one missed
// treatment, as they do in the stakes.
const monthDays = 30.0

// lostFrom is the level in mites per bee at which a colony counts as gone wrong
// at the end.
const lostFrom = 0.05

// book is a colony with what its keeper wrote down of it, and how the season
// went.
type book struct {
	*hive
	record
	next     int            // the day on which the advice wants to be asked again
	board    sampling.Count // the board that lies now
	boardOut int            // the day on which a board that lies now comes out; 0 for none
	looks    int            // counts made one upon another, without a decision
	tally
	statements []statement
}

// record is what the keeper can know.
type record struct {
	counts  []sampling.Count
	courses []sampling.Date // the first days of treatments
}

// tally is how a season of a colony went, or the sum over several.
type tally struct {
	killed, minutes, treatments float64
	missed, needless            float64
	regret                      float64
	overFive                    float64
}

func (t *tally) add(o tally) {
	t.killed += o.killed
	t.minutes += o.minutes
	t.treatments += o.treatments
	t.missed += o.missed
	t.needless += o.needless
	t.regret += o.regret
	t.overFive += o.overFive
}

// statement is what was said of a colony, and how it was.
type statement struct {
	said float64 // chance of being over the line
	over bool    // whether it was
	held bool    // whether its level lay in the 90 % interval
}

func (b *book) today() sampling.Date { return firstDay + sampling.Date(b.day) }

// look makes a count today and writes it down.
func (b *book) look(c sampling.Count) sampling.Count {
	c.Date = b.today()
	c.Mites = b.count(c, b.looks)
	b.looks++
	b.spend(c)
	b.counts = append(b.counts, c)
	return c
}

// spend adds what a count takes.
func (b *book) spend(c sampling.Count) {
	e := decide.DefaultCosts().Effort(c)
	b.killed += float64(e.Killed)
	b.minutes += e.Minutes
}

// begin starts a treatment today. stakes is what is at stake today.
func (b *book) begin(stakes decide.Stakes) {
	b.treat()
	b.record.courses = append(b.record.courses, b.today())
	b.treatments++
	b.regret += stakes.Treat(b.level())
	if 100*b.level() < stakes.Act/wrongBy {
		b.needless++
	}
}

// leave adds what the day costs a colony that is not under treatment.
func (b *book) leave(stakes decide.Stakes) {
	if b.underTreatment() {
		return
	}
	stakes.DaysExposed = 1
	b.regret += stakes.Leave(b.level())
	if 100*b.level() >= stakes.Act*wrongBy {
		b.missed += 1 / monthDays
	}
}

// tell notes what was said of the colony today.
func (b *book) tell(o opinion, act float64) {
	level := b.level()
	b.statements = append(b.statements, statement{o.over, 100*level > act, o.low <= level && level <= o.high})
}

func (b *book) end() {
	if b.level() > lostFrom {
		b.overFive = 1
	}
}

// treatmentDays are the rounds of the courses of a record.
func (r record) treatmentDays(t sampling.Treatment) []decide.TreatmentDay {
	var out []decide.TreatmentDay
	for _, first := range r.courses {
		for round := range courseRounds {
			out = append(out, decide.TreatmentDay{On: first + sampling.Date(round*courseEvery), Treatment: t})
		}
	}
	return out
}

// resting reports whether a course that began before today is still being
// given, or has not settled yet.
func (b *book) resting() bool {
	n := len(b.hive.courses)
	if n == 0 {
		return false
	}
	first := b.hive.courses[n-1].first
	return first < b.day && b.day < first+courseDays+decide.SettleDays
}

// mean is the tally divided by n.
func (t tally) mean(n int) Figures {
	d := float64(n)
	return Figures{
		Killed: t.killed / d, Minutes: t.minutes / d, Treatments: t.treatments / d,
		Missed: t.missed / d, Needless: t.needless / d, Regret: t.regret / d, OverFive: 100 * t.overFive / d,
	}
}
