package decide

import (
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"halfcup/sampling"
)

// Apiary is the record of a yard, or of one loose colony, with the rules its
// colonies are judged by. There is one question to put to it, On, and every
// answer about a colony is a part of what that gives.
type Apiary struct {
	Rules
	Colonies []Colony
	Memory   *Memory // of replays; nil for none
}

// Rules are what every colony is judged by, whichever it is.
type Rules struct {
	Lines    []Threshold // the line of every season
	MissCost float64     // see Stakes
	MinWorth float64     // least net worth of a count that is advised, in needless treatments
	Costs    Costs

	// BackIn is how many days from now somebody looks again, and so how long a
	// colony is left to itself; 0 for DefaultBackIn. OwnBackIn says that the
	// beekeeper named it, so that a count is due then.
	BackIn    int
	OwnBackIn bool

	// LossWithout is the share of colonies that die over winter with next to no
	// mites; 0 for DefaultLoss.
	LossWithout float64

	Looks
}

// Looks says which counts may be advised.
type Looks struct {
	Without    []sampling.Method // methods that are not to be advised
	AnySize    bool              // the beekeeper counts or weighs, so that finer sizes than half cups make sense
	CO2        bool              // carbon dioxide is at hand
	MostFrames int               // the most frames a sample is taken from; 0 for one
}

// DefaultBackIn is how many days a colony is taken to be left to itself: a
// price and not a habit. The longer it is, the earlier treating wins.
const DefaultBackIn = 14

// Colony is all that the record tells of one colony.
type Colony struct {
	Name string
	History
	Supers SupersPlan
	Hive   sampling.Hive // for boards that are still to be put in
	InHive InHive

	// NextTreatment is the day of a planned treatment that was said in place of
	// those of the record, zero when none was.
	NextTreatment sampling.Date

	// Since is the day of its own first row, zero when nobody knows: of a part of
	// a divided colony, Began is that of the whole.
	Since sampling.Date

	Gone   sampling.Date // the day it died or was united, zero while it lives
	Died   bool          // and that it died
	Robbed sampling.Date // the last day on which it was robbed or died out, zero when never
	Signs  sampling.Date // the last day on which bees with crippled wings or sick brood were seen, zero when never
}

// recorded is the last day, up to a given one, of which something was written
// down about the colony; zero when nothing was.
func (c Colony) recorded(until sampling.Date) sampling.Date {
	last := sampling.Date(0)
	note := func(d sampling.Date) {
		if d <= until {
			last = max(last, d)
		}
	}
	for _, count := range c.Counts {
		note(count.Date)
	}
	for _, t := range c.Treatments {
		note(t.On)
	}
	for _, d := range []sampling.Date{c.Began, c.Since, c.Gone, c.Robbed, c.Signs} {
		note(d)
	}
	return last
}

// Lives reports whether the colony is there on a day. A part of a divided colony
// is not before the day it was made, though its history is that of the whole:
// beside it, it would count the same bees twice.
func (c Colony) Lives(day sampling.Date) bool {
	return max(c.Began, c.Since) <= day && (c.Gone.IsZero() || c.Gone > day)
}

// ColonyError says which colony of an apiary an error is about.
type ColonyError struct {
	Colony string
	Err    error
}

func (e *ColonyError) Error() string { return e.Colony + ": " + e.Err.Error() }

func (e *ColonyError) Unwrap() error { return e.Err }

// observed is what is known of all living colonies on a day.
type observed struct {
	day      sampling.Date
	colonies []int              // places in Apiary.Colonies
	alone    []State            // by the colony's own record
	together []State            // with what its neighbours say
	pooled   []bool             // whether any neighbour had something to say
	others   []sampling.Density // what the rest of the yard makes of each without its own counts, how to read its rolls included; nil for a colony by itself
	yard     *Pool              // nil when no colony lives
	shared   sampling.Date      // the day of rolls that share a recovery, zero when there is none
	rolled   [][]State          // of each colony, at each value of that recovery; nil when it does not share it
}

// observe replays every living colony up to a day and puts them together. It
// goes on from what was observed earlier, if anything was: nothing may have
// been written down since.
func (a Apiary) observe(day sampling.Date, earlier *observed) (*observed, error) {
	o := &observed{day: day}
	for i, c := range a.Colonies {
		if c.Lives(day) {
			o.colonies = append(o.colonies, i)
		}
	}
	o.alone = make([]State, len(o.colonies))
	err := a.each(o, func(k int, _ Colony) (err error) {
		o.alone[k], err = a.replay(o.colonies[k], day, earlier)
		return err
	})
	if err != nil {
		return nil, err
	}
	return o, a.pool(o, earlier)
}

// each does something with every colony observed.
func (a Apiary) each(o *observed, do func(k int, c Colony) error) error {
	for k, err := range inParallel(len(o.colonies), func(k int) error { return do(k, a.Colonies[o.colonies[k]]) }) {
		if err != nil {
			return a.failed(o.colonies[k], err)
		}
	}
	return nil
}

// unvisited is what would be known of the colonies had no mites come in since
// the last count of each: arrivals act on nothing before it.
func (v *visit) unvisited() (*observed, error) {
	o := &observed{day: v.now.day, colonies: v.now.colonies, alone: slices.Clone(v.now.alone)}
	err := v.each(o, func(k int, _ Colony) error {
		o.alone[k].history.Arrivals = 0
		return o.alone[k].settle()
	})
	if err != nil {
		return nil, err
	}
	return o, v.pool(o, v.now)
}

// inParallel does something for every colony, as many at a time as there are
// processors: replays know nothing of each other.
func inParallel(n int, do func(i int) error) []error {
	failed := make([]error, n)
	var wait sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range n {
		free <- struct{}{}
		wait.Go(func() {
			failed[i] = do(i)
			<-free
		})
	}
	wait.Wait()
	return failed
}

// replay is one colony by its own record on a day.
func (a Apiary) replay(colony int, day sampling.Date, earlier *observed) (State, error) {
	if earlier != nil {
		if k := earlier.of(colony); k >= 0 {
			if s, ok, err := earlier.alone[k].at(day); ok || err != nil {
				return s, err
			}
		}
	}
	return a.Memory.on(a.Colonies[colony].Name, a.Colonies[colony].History, day)
}

// pool puts the colonies together: what is known of each with what its
// neighbours say.
func (a Apiary) pool(o, earlier *observed) error {
	o.together, o.pooled = slices.Clone(o.alone), make([]bool, len(o.alone))
	if len(o.alone) == 0 {
		return nil
	}
	o.shared = a.rollDay(o)
	members, err := a.members(o, earlier)
	if err != nil {
		return err
	}
	weights := recoveryWeights(members)
	p, err := NewPool(members, weights, DefaultYardPrior())
	if err != nil {
		return err
	}
	o.yard = p
	if len(members) < 2 {
		return nil
	}
	o.pooled, o.others = p.Pooled(), p.Others()
	for k, m := range members {
		if !o.pooled[k] {
			continue
		}
		var err error
		if len(m.Known) > 1 {
			o.others[k], err = pooledPrior(m, weights, p.Colonies()[k])
		}
		if err == nil {
			o.together[k], err = o.alone[k].Among(o.others[k])
		}
		switch {
		case errors.Is(err, sampling.ErrNoOverlap):
			// So far off that the yard and the colony leave no level at all: its
			// neighbours say nothing of such a colony.
			o.together[k], o.pooled[k] = o.alone[k], false
		case err != nil:
			return a.failed(o.colonies[k], err)
		}
	}
	return nil
}

// failed is an error about a colony.
func (a Apiary) failed(i int, err error) error {
	if len(a.Colonies) == 1 || a.Colonies[i].Name == "" {
		return err
	}
	return &ColonyError{Colony: a.Colonies[i].Name, Err: err}
}

// of is the place of a colony of the apiary in what was observed, -1 when it
// does not live.
func (o *observed) of(colony int) int { return slices.Index(o.colonies, colony) }

// On is what is known of every living colony on a day and what to do about it,
// in the order of Colonies. What was written of later days counts only as a
// plan. Errors are *sampling.ValueError, *sampling.SyntaxError or
// sampling.ErrNoOverlap, in a *ColonyError where there are several colonies.
func (a Apiary) On(day sampling.Date) ([]Standing, error) {
	v, err := a.visit(day)
	if err != nil {
		return nil, err
	}
	return v.standings()
}

func (v *visit) standings() ([]Standing, error) {
	var out []Standing
	for _, i := range v.now.colonies {
		s, err := v.standing(i)
		if err != nil {
			return nil, v.failed(i, err)
		}
		out = append(out, s)
	}
	return out, nil
}

// Of is the standing of one colony on a day: the same as On gives for it, in
// less time.
func (a Apiary) Of(colony int, day sampling.Date) (Standing, error) {
	l, err := a.Look(day)
	if err != nil {
		return Standing{}, err
	}
	return l.Of(colony)
}

// visit is the apiary seen on a day, beside how it stood when something was
// last written down: what to do rests on the record and not on the day asked.
type visit struct {
	Apiary
	now, then *observed
	rolling   func() (*Pool, error) // see rollsToday
}

func (a Apiary) visit(day sampling.Date) (*visit, error) {
	if err := a.Rules.check(); err != nil {
		return nil, err
	}
	last := a.lastRecorded(day)
	then, err := a.observe(last, nil)
	if err != nil {
		return nil, err
	}
	v := &visit{Apiary: a, now: then, then: then}
	v.rolling = sync.OnceValues(v.sharing)
	if last < day {
		v.now, err = a.observe(day, then)
	}
	return v, err
}

func (r Rules) check() error {
	if err := r.Costs.check(); err != nil {
		return err
	}
	switch {
	case !(r.MissCost >= 0.1 && r.MissCost <= 100):
		return &sampling.ValueError{Name: "miss cost", Problem: fmt.Sprintf("%v is out of range", r.MissCost), Remedy: "say how many needless treatments one missed one is worth, from 0.1 to 100"}
	case !(r.MinWorth >= 0 && r.MinWorth <= 3):
		return &sampling.ValueError{Name: "least worth", Problem: fmt.Sprintf("%v is out of range", r.MinWorth), Remedy: "give a figure in needless treatments from 0 to 3, such as 0.05"}
	case r.BackIn < 0 || r.BackIn > 366:
		return &sampling.ValueError{Name: "back in", Problem: fmt.Sprintf("%d days are out of range", r.BackIn), Remedy: "say in how many days somebody looks again, from 1 to 366"}
	}
	return nil
}

// backIn is how many days pass until somebody looks again.
func (r Rules) backIn() int {
	if r.BackIn == 0 {
		return DefaultBackIn
	}
	return r.BackIn
}
