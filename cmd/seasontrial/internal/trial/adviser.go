package trial

import (
	"encoding/binary"
	"sync"

	"halfcup/decide"
	"halfcup/sampling"
)

// Everything the trial asks of decide is asked in this file and by a change: what is known of a
// colony and what to do about it, the lines, and what a count takes.

// adviser is the program as its user meets it: what is known of a colony by
// its record, and what to do about it. It is asked with its defaults but for
// what a mistake costs and how much a look must be worth.
//
// Many colonies have the same record, above all early in the season, and the
// same colony has it under several policies and settings. The answer depends
// on nothing else, so it is kept.
type adviser struct {
	assumptions sampling.Assumptions
	year        decide.Year
	rates       decide.Rates
	lines       []decide.Threshold
	vapour      sampling.Treatment
	missCost    float64
	minWorth    float64
	costs       decide.Costs

	mu       sync.Mutex
	memo     map[string]opinion
	foreseen map[string][]band
}

func newAdviser(missCost, minWorth float64) (*adviser, error) {
	year, err := decide.NewYear(decide.YearSettings{})
	if err != nil {
		return nil, err
	}
	lines, err := decide.ThresholdSet(decide.DefaultThresholds)
	if err != nil {
		return nil, err
	}
	vapour, err := sampling.FindTreatment("oxalic-vapour")
	return &adviser{
		assumptions: sampling.DefaultAssumptions(), year: year, rates: decide.DefaultRates(),
		lines: lines, vapour: vapour, missCost: missCost, minWorth: minWorth, costs: decide.DefaultCosts(),
		memo: map[string]opinion{}, foreseen: map[string][]band{},
	}, err
}

// ahead is how many days a path is made for: the next look is never as far away,
// and the same path serves for some looks.
const ahead = 150

// opinion is the program's answer about a colony.
type opinion struct {
	over              float64 // chance of being over the line
	low, median, high float64 // mites per bee, the 90 % interval
	treats            bool    // whether treating is the lesser regret

	// Only of advice:
	again  bool           // whether the call is to count again
	count  sampling.Count // the look that is advised with that
	next   sampling.Date
	gentle bool // whether looks that kill bees made no difference
}

// question is what the program is asked about a colony.
type question struct {
	record
	day    sampling.Date
	from   *memory        // where an earlier question left off, kept for the next
	pair   *sampling.Pair // the yard's own calibration
	advice bool           // weigh the looks as well
	change change
	noKill bool
}

// memory is what the program found out about a colony when it was last asked.
type memory struct{ state decide.State }

// band is what the program expects of a colony on a later day: the limits of
// its 80 % interval, in mites per bee.
type band struct{ low, high float64 }

// act is the line of a day at which colonies are treated, in mites per hundred.
func (a *adviser) act(day sampling.Date) float64 { return a.line(day).Act }

// lowestAct is the lowest such line from a day on to a month later.
func (a *adviser) lowestAct(day sampling.Date) float64 {
	least := a.act(day)
	for d := day + 1; d <= day+monthDays; d++ {
		least = min(least, a.act(d))
	}
	return least
}

func (a *adviser) line(day sampling.Date) decide.Threshold {
	t, _ := a.year.Line(a.lines, day, false) // every set has every season
	return t
}

// ask answers a question, from memory where it was asked before.
func (a *adviser) ask(q question) (opinion, error) {
	if q.noKill {
		// Where no look that kills bees came first, leaving them all out
		// changes nothing.
		q.noKill = false
		o, err := a.ask(q)
		if err != nil || o.gentle {
			return o, err
		}
		q.noKill = true
	}
	key := q.key()
	a.mu.Lock()
	o, ok := a.memo[key]
	a.mu.Unlock()
	if ok {
		return o, nil
	}
	o, err := a.think(q)
	if err != nil {
		return o, err
	}
	a.mu.Lock()
	a.memo[key] = o
	a.mu.Unlock()
	return o, nil
}

func (a *adviser) think(q question) (opinion, error) {
	h, err := a.replay(q)
	if err != nil {
		return opinion{}, err
	}
	state := q.from.state
	rules := q.change.of(decide.Rules{Lines: a.lines, MissCost: a.missCost, MinWorth: a.minWorth, Costs: a.costs, BackIn: decide.DefaultBackIn})
	stakes := decide.Stakes{Act: a.act(q.day), MissCost: rules.MissCost, DaysExposed: float64(rules.BackIn)}
	limits := state.Known.Quantiles(0.05, 0.5, 0.95)
	o := opinion{
		over: state.Known.Over(a.act(q.day) / 100), low: limits[0], median: limits[1], high: limits[2],
		treats: stakes.Regret(state.Known).Treats(),
	}
	if !q.advice {
		return o, nil
	}
	apiary := decide.Apiary{
		Rules:    rules,
		Colonies: []decide.Colony{{History: h, Supers: decide.SupersPlan{Known: true}}},
	}
	if q.noKill {
		apiary.Without = append(apiary.Without, sampling.Wash)
	}
	s, err := apiary.Of(0, q.day)
	if err != nil {
		return o, err
	}
	o.again, o.treats, o.next, o.count = s.Call == decide.CountAgain, s.Call.Treats(), s.Due, s.Advised.Count
	o.gentle = !s.Advised.Lethal()
	return o, nil
}

// replay brings the memory of a colony to the day of the question.
func (a *adviser) replay(q question) (decide.History, error) {
	h := decide.History{
		Assumptions: a.assumptions, Year: a.year, Rates: a.rates,
		Counts: q.counts, Treatments: a.rounds(q.courses), Ahead: ahead, Prior: q.change.prior,
	}
	var err error
	if q.pair != nil {
		if h.Assumptions, _, err = h.Assumptions.Calibrated([]sampling.Pair{*q.pair}); err != nil {
			return h, err
		}
	}
	q.from.state, err = h.On(q.day)
	return h, err
}

// rounds are the single treatments of courses.
func (a *adviser) rounds(courses []sampling.Date) []decide.TreatmentDay {
	var out []decide.TreatmentDay
	for _, first := range courses {
		for round := range courseRounds {
			out = append(out, decide.TreatmentDay{On: first + sampling.Date(round*courseEvery), Treatment: a.vapour})
		}
	}
	return out
}

// foresee is what the program expects of a colony so many days after the day of
// the question, if nothing is done.
func (a *adviser) foresee(q question, horizons []int) ([]band, error) {
	key := q.key()
	a.mu.Lock()
	out, ok := a.foreseen[key]
	a.mu.Unlock()
	if ok {
		return out, nil
	}
	q.from = new(memory) // what was found out before need not reach as far ahead
	if _, err := a.replay(q); err != nil {
		return nil, err
	}
	for _, days := range horizons {
		d, err := q.from.state.Forecast(q.day + sampling.Date(days))
		if err != nil {
			return nil, err
		}
		limits := d.Quantiles(0.1, 0.9)
		out = append(out, band{limits[0], limits[1]})
	}
	a.mu.Lock()
	a.foreseen[key] = out
	a.mu.Unlock()
	return out, nil
}

// settleDays is how long after a treatment a count tells little.
const settleDays = decide.SettleDays

// scoop is a count of scooped bees.
func scoop(m sampling.Method, bees, frames int, day sampling.Date) sampling.Count {
	return decide.Scooped(m, bees, frames, day)
}

// scoopedBees is the bees such a count is meant to hold.
func scoopedBees(c sampling.Count) int { return decide.ScoopedBees(c) }

// effort is what a count takes: bees killed, and minutes.
func effort(c sampling.Count) (killed, minutes float64) {
	e := decide.DefaultCosts().Effort(c)
	return float64(e.Killed), e.Minutes
}

// key tells questions apart: all that the answer depends on.
func (q question) key() string {
	var b []byte
	put := func(v int) { b = binary.AppendVarint(b, int64(v)) }
	flag := func(v bool) {
		if v {
			put(1)
		} else {
			put(0)
		}
	}
	count := func(c sampling.Count) {
		put(int(methodLabel(c.Method)))
		put(c.Mites)
		put(int(c.Amount.Value))
		put(c.Frames)
		put(int(c.Date))
		put(len(c.Weather)) // tells them apart
	}
	put(int(q.day))
	flag(q.advice)
	flag(q.noKill)
	put(q.change.number)
	flag(q.pair != nil)
	if q.pair != nil {
		put(q.pair.Gentle.Mites)
		put(q.pair.Reference.Mites)
	}
	put(len(q.courses))
	for _, d := range q.courses {
		put(int(d))
	}
	for _, c := range q.counts {
		count(c)
	}
	return string(b)
}

// Engine is the program as a predictor of the washes of 2022. Their table has no
// days of treatment: they are taken to have begun on the day after the first
// wash, and five dribbles to have been a week apart. The colonies had been split
// two days before it. earlier moves the year of the colonies forward by so many
// days, for a southern spring.
func Engine(earlier int) (Predictor, error) {
	const usual = "05-20" // the day of most brood
	on, err := sampling.ParseDate("2022-" + usual)
	if err != nil {
		return nil, err
	}
	year, err := decide.NewYear(decide.YearSettings{MostBrood: (on - sampling.Date(earlier)).Time().Format("01-02")})
	if err != nil {
		return nil, err
	}
	given := map[string]sampling.Treatment{}
	for name, slug := range map[string]string{
		"amitraz liquid": "amitraz-strip", "amitraz strip": "amitraz-strip", "hop beta acids": "hop-acids",
		"oxalic acid dribble": "oxalic-trickle", "oxalic acid dribble x5": "oxalic-trickle", "oxalic acid vapour": "oxalic-vapour",
	} {
		if given[name], err = sampling.FindTreatment(slug); err != nil {
			return nil, err
		}
	}
	return func(p Past) (sampling.Density, error) {
		first := p.Earlier[0]
		h := decide.History{
			Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: decide.DefaultRates(),
			Splits: []sampling.Date{first.Day - 2},
		}
		for _, w := range p.Earlier {
			h.Counts = append(h.Counts, sampling.Count{
				Method: sampling.Wash, Mites: w.Mites, Date: w.Day,
				Amount: sampling.Amount{Value: float64(w.Bees), Unit: sampling.Bees},
			})
		}
		if t, ok := given[first.Treatment]; ok {
			rounds := 1
			if first.Treatment == "oxalic acid dribble x5" {
				rounds = 5
			}
			for round := range rounds {
				h.Treatments = append(h.Treatments, decide.TreatmentDay{On: first.Day + sampling.Date(1+7*round), Treatment: t})
			}
		}
		s, err := h.On(p.Day)
		return s.Known, err
	}, nil
}
