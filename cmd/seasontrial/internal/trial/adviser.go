package trial

import (
	"encoding/binary"
	"sync"

	"halfcup/decide"
	"halfcup/sampling"
)

// adviser is the program as its user meets it: what is known of a colony by
// its record, and what to do about it. It is asked with its defaults but for
// what a mistake costs and how much a look must be worth.
//
// Many colonies have the same record, above all early in the season, and the
// same colony has it under several policies and settings. The answer depends
// on nothing else, so it is kept.
type adviser struct {
	assumptions sampling.Assumptions
	season      decide.Year
	rates       decide.Rates
	lines       []decide.Threshold
	vapour      sampling.Treatment
	missCost    float64
	minWorth    float64

	mu   sync.Mutex
	memo map[string]opinion
}

func newAdviser(missCost, minWorth float64) (*adviser, error) {
	season, err := decide.NewYear(decide.YearSettings{})
	if err != nil {
		return nil, err
	}
	lines, err := decide.ThresholdSet(decide.DefaultThresholds)
	if err != nil {
		return nil, err
	}
	vapour, err := sampling.FindTreatment("oxalic-vapour")
	return &adviser{
		assumptions: sampling.DefaultAssumptions(), season: season, rates: decide.DefaultRates(),
		lines: lines, vapour: vapour, missCost: missCost, minWorth: minWorth, memo: map[string]opinion{},
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
	call   decide.Call
	count  sampling.Count // the look that is advised with the call to count again
	next   sampling.Date
	gentle bool // whether looks that kill bees made no difference
}

// question is what the program is asked about a colony.
type question struct {
	record
	day    sampling.Date
	pair   *sampling.Pair // the yard's own calibration
	advice bool           // weigh the looks as well
	noKill bool
}

// stakes is what a mistake costs on a day.
func (a *adviser) stakes(day sampling.Date) decide.Stakes {
	return decide.Stakes{Act: a.line(day).Act, MissCost: a.missCost, DaysExposed: 30}
}

func (a *adviser) line(day sampling.Date) decide.Threshold {
	t, _ := a.season.Line(a.lines, day, false) // every set has every season
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
	h := decide.History{
		Assumptions: a.assumptions, Year: a.season, Rates: a.rates,
		Counts: q.counts, Treatments: q.treatmentDays(a.vapour), Ahead: ahead,
	}
	if q.pair != nil {
		var err error
		if h.Assumptions, _, err = h.Assumptions.Calibrated([]sampling.Pair{*q.pair}); err != nil {
			return opinion{}, err
		}
	}
	state, err := h.On(q.day)
	if err != nil {
		return opinion{}, err
	}
	s := decide.Situation{
		History: h, State: state, Threshold: a.line(q.day), Lines: a.lines,
		MissCost: a.missCost, MinWorth: a.minWorth, Costs: decide.DefaultCosts(),
	}
	if q.noKill {
		s.Without = []sampling.Method{sampling.Wash}
	}
	limits := state.Known.Quantiles(0.05, 0.5, 0.95)
	o := opinion{
		over: state.Known.Over(s.Threshold.Act / 100), low: limits[0], median: limits[1], high: limits[2],
		treats: s.Stakes().Regret(state.Known).Treats(),
	}
	if !q.advice {
		return o, nil
	}
	j, err := s.Judge()
	if err != nil {
		return o, err
	}
	o.call, o.next, o.count = j.Call, j.NextLook, j.Advised.Count
	o.gentle = !j.Advised.Lethal()
	return o, nil
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
	}
	put(int(q.day))
	flag(q.advice)
	flag(q.noKill)
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

func scoopedBees(c sampling.Count) int { return decide.ScoopedBees(c) }
