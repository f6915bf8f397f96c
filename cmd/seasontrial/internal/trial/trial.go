package trial

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"time"

	"halfcup/sampling"
)

// yardSize is the colonies of a yard. Errors are worked out from whole yards,
// because colonies of one yard are alike.
const yardSize = 10

// Options say what to play.
type Options struct {
	Seed     uint64
	Colonies int
	Months   int      // visits on the first of so many months from April; the season ends a month after the last
	Settings []string // by name; the usual ones when there are none
	Plans    []Plan   // to be played beside the policies that always are
	Changes  bool     // play the changes of the advice as well
	MissCost float64  // how many needless treatments one missed one is worth
	MinWorth float64  // the least net worth of a look that choose advises, in needless treatments

	// Progress is told how many of all parts are done. It is never called
	// twice at once.
	Progress func(done, all int)
}

// Result is how the policies did.
type Result struct {
	Seed     uint64
	Colonies int
	Months   int
	MissCost float64
	MinWorth float64
	Settings []SettingResult
}

// SettingResult is how they did in one setting.
type SettingResult struct {
	Name, Text string
	Policies   []PolicyResult

	// Of everything choose said at the monthly visits: how often it was so.
	Reliability []Bin
	Coverage90  float64 // share of the levels that lay in the 90 % interval; NaN when nothing was said

	// Of colonies that were washed each month and never treated: the share of
	// the levels that lay in the 80 % interval foretold, by how far ahead.
	Forecasts []Horizon

	// How far what was expected of a colony on the day of a count, before it was
	// made, lay from the truth: of colonies rolled each month and treated by it,
	// and of those that were never treated.
	Bias, BiasUntreated []MonthBias
}

// Horizon is how well forecasts of so many days ahead did.
type Horizon struct {
	Days       int
	Coverage80 float64
	SE         float64 // of that, over whole yards; NaN where there are fewer than two
	N          int
}

// MonthBias is the mean of ln(expected / true) in a month, where expected is the
// middle of what was known.
type MonthBias struct {
	Month   time.Month
	Log, SE float64 // as above
	N       int
}

// PolicyResult is how one policy did: means per colony and season, and their
// standard errors, NaN where there are fewer than two yards.
type PolicyResult struct {
	Name, Text string
	Figures
	SE         Figures
	Coverage90 float64 // as above, of what was said under this policy
	Change     bool    // it is the advice with one thing changed

	yards []Figures // the means of single yards
}

// Figures are what is compared.
type Figures struct {
	Killed     float64 // bees killed by counting
	Minutes    float64 // spent on counting
	Treatments float64
	Missed     float64 // months that a colony was a third over the line without treatment
	Needless   float64 // treatments of a colony a third under the line

	// NeedlessAhead leaves out of these colonies that were not a third under the
	// lowest line of the month to come.
	NeedlessAhead float64

	Regret   float64 // in needless treatments
	OverFive float64 // of a hundred colonies, those that ended over five mites per hundred
}

// Bin is a range of chances that were told, a tenth wide.
type Bin struct {
	Tenth int     // 0 for chances up to a tenth
	Said  float64 // the mean of the chances told
	Was   float64 // the share of those colonies that were over the line
	SE    float64 // of Was - Said, over whole yards; NaN where there are fewer than two
	N     int
}

const bins = 10

// Advised is the name of the policy that does what choose says.
const Advised = "choose"

// Difference is how far one policy did otherwise than another.
type Difference struct {
	Figures
	SE Figures
}

// Difference sets one policy against another on the same colonies, by name: its
// figures less those of the other, and the errors of that. They are smaller than
// those of the two apart, because what makes a colony hard makes it hard for
// both. ok is false when one of them was not played.
func (s SettingResult) Difference(name, against string) (d Difference, ok bool) {
	at := func(name string) int {
		return slices.IndexFunc(s.Policies, func(p PolicyResult) bool { return p.Name == name })
	}
	i, j := at(name), at(against)
	if i < 0 || j < 0 {
		return d, false
	}
	one, other := s.Policies[i], s.Policies[j]
	var differences []Figures
	for y := range one.yards {
		differences = append(differences, one.yards[y].less(other.yards[y]))
	}
	return Difference{one.Figures.less(other.Figures), errorsOf(differences)}, true
}

func (f Figures) less(o Figures) Figures {
	return Figures{
		Killed: f.Killed - o.Killed, Minutes: f.Minutes - o.Minutes, Treatments: f.Treatments - o.Treatments,
		Missed: f.Missed - o.Missed, Needless: f.Needless - o.Needless, NeedlessAhead: f.NeedlessAhead - o.NeedlessAhead,
		Regret: f.Regret - o.Regret, OverFive: f.OverFive - o.OverFive,
	}
}

// SettingNames lists the settings, the usual ones first.
func SettingNames() []string {
	var out []string
	for _, s := range settings {
		out = append(out, s.name)
	}
	return out
}

// UsualSettings lists those that are played when none is named.
func UsualSettings() []string {
	var out []string
	for _, s := range settings {
		if s.usual {
			out = append(out, s.name)
		}
	}
	return out
}

// yardOutcome is one yard under one policy in one setting.
type yardOutcome struct {
	colonies int
	tally
	sayings
}

// Run plays the seasons. The same options give the same result whatever the
// number of processors.
func Run(o Options) (Result, error) {
	var played []setting
	for _, s := range settings {
		if len(o.Settings) == 0 && s.usual || slices.Contains(o.Settings, s.name) {
			played = append(played, s)
		}
	}
	adviser, err := newAdviser(o.MissCost, o.MinWorth)
	if err != nil {
		return Result{}, err
	}
	yards := (o.Colonies + yardSize - 1) / yardSize
	outcomes := make([][][]yardOutcome, len(played)) // by setting, yard and policy
	for i := range outcomes {
		outcomes[i] = make([][]yardOutcome, yards)
	}
	jobs := make(chan [2]int)
	go func() {
		defer close(jobs)
		for y := range yards {
			for s := range played {
				jobs <- [2]int{s, y}
			}
		}
	}()
	var (
		wait   sync.WaitGroup
		mu     sync.Mutex
		done   int
		failed error
	)
	for range min(runtime.GOMAXPROCS(0), yards*len(played)) {
		wait.Go(func() {
			for job := range jobs {
				s, y := job[0], job[1]
				out, err := playYard(adviser, played[s], o, y)
				mu.Lock()
				outcomes[s][y] = out
				if failed == nil {
					failed = err
				}
				done++
				if o.Progress != nil {
					o.Progress(done, yards*len(played))
				}
				mu.Unlock()
			}
		})
	}
	wait.Wait()
	if failed != nil {
		return Result{}, failed
	}
	result := Result{Seed: o.Seed, Colonies: o.Colonies, Months: o.Months, MissCost: o.MissCost, MinWorth: o.MinWorth}
	for i, s := range played {
		result.Settings = append(result.Settings, settingResult(s, o.policies(), outcomes[i]))
	}
	return result, nil
}

// policies are those that are played, and after them the one that only watches.
func (o Options) policies() []policy {
	var more []policy
	if o.Changes {
		more = changes
	}
	return append(slices.Concat(policies, planned(o.Plans...), more), watching)
}

// playYard plays one yard under every policy.
func playYard(a *adviser, s setting, o Options, number int) ([]yardOutcome, error) {
	days := int(visitDay(o.Months)-firstDay) + 1
	y := newYard(s.figures, o.Seed, number)
	var colonies []*colony
	for i := number * yardSize; i < min((number+1)*yardSize, o.Colonies); i++ {
		colonies = append(colonies, newColony(s.figures, o.Seed, y, i, days))
	}
	var out []yardOutcome
	for _, p := range o.policies() {
		g := newPlayground(p, a, colonies)
		if err := g.play(o.Months); err != nil {
			return nil, err
		}
		yard := yardOutcome{colonies: len(g.books)}
		for _, b := range g.books {
			yard.add(b.tally)
			yard.join(b.sayings)
		}
		out = append(out, yard)
	}
	return out, nil
}

func newPlayground(p policy, a *adviser, colonies []*colony) *playground {
	g := &playground{policy: p, adviser: a}
	for _, c := range colonies {
		g.books = append(g.books, &book{hive: c.hive()})
	}
	for i, b := range g.books {
		if len(g.books) > 1 {
			b.beside = g.books[(i+1)%len(g.books)].hive
		}
	}
	return g
}

// play lets the season go by.
func (p *playground) play(months int) error {
	p.days = int(visitDay(months) - firstDay)
	month := 0
	for day := range p.days {
		visit := -1
		if firstDay+sampling.Date(day) == visitDay(month) {
			visit = month
			month++
		}
		if err := p.morning(day, visit); err != nil {
			return err
		}
		price := p.price(firstDay + sampling.Date(day))
		for _, b := range p.books {
			if day >= lead {
				b.leave(price)
			}
			b.passes()
		}
	}
	for _, b := range p.books {
		b.end()
	}
	return nil
}

// settingResult puts the yards together.
func settingResult(s setting, played []policy, yards [][]yardOutcome) SettingResult {
	out := SettingResult{Name: s.name, Text: s.what, Coverage90: math.NaN()}
	for i, p := range played {
		var all tally
		r := PolicyResult{Name: p.name, Text: p.text, Change: p.change.number > 0}
		var said []sayings // by yard
		n := 0
		for _, y := range yards {
			all.add(y[i].tally)
			n += y[i].colonies
			r.yards = append(r.yards, y[i].mean(y[i].colonies))
			said = append(said, y[i].sayings)
		}
		switch {
		case p.watch:
			out.Forecasts, out.BiasUntreated = forecasts(said), biases(said)
			continue
		case p.audit:
			out.Bias = biases(said)
		}
		r.Figures, r.SE, r.Coverage90 = all.mean(n), errorsOf(r.yards), coverage(said)
		out.Policies = append(out.Policies, r)
		if p.name == Advised {
			out.Reliability, out.Coverage90 = reliability(said), r.Coverage90
		}
	}
	return out
}

// errorsOf are the standard errors of the means of yards.
func errorsOf(yards []Figures) Figures {
	of := func(figure func(Figures) float64) float64 {
		var values []float64
		for _, y := range yards {
			values = append(values, figure(y))
		}
		return errorOf(values)
	}
	return Figures{
		Killed:        of(func(f Figures) float64 { return f.Killed }),
		Minutes:       of(func(f Figures) float64 { return f.Minutes }),
		Treatments:    of(func(f Figures) float64 { return f.Treatments }),
		Missed:        of(func(f Figures) float64 { return f.Missed }),
		Needless:      of(func(f Figures) float64 { return f.Needless }),
		NeedlessAhead: of(func(f Figures) float64 { return f.NeedlessAhead }),
		Regret:        of(func(f Figures) float64 { return f.Regret }),
		OverFive:      of(func(f Figures) float64 { return f.OverFive }),
	}
}

// errorOf is the standard error of the mean of values, NaN for fewer than two.
func errorOf(values []float64) float64 {
	n := float64(len(values))
	mean, ss := 0.0, 0.0
	for _, v := range values {
		mean += v / n
	}
	for _, v := range values {
		ss += (v - mean) * (v - mean)
	}
	if n < 2 {
		return math.NaN()
	}
	return math.Sqrt(ss / (n - 1) / n)
}

// coverage is the share of the statements whose interval held the level.
func coverage(yards []sayings) float64 {
	var held mean
	for y, said := range yards {
		for _, s := range said.statements {
			held.note(y, indicator(s.held))
		}
	}
	return held.value() // NaN for none
}

func indicator(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// reliability sets the chances that were told beside how often it was so. Bins
// in which nothing was said are left out.
func reliability(yards []sayings) []Bin {
	var said, was, off [bins]mean
	for y, in := range yards {
		for _, s := range in.statements {
			i := min(int(s.said*bins), bins-1)
			said[i].note(y, s.said)
			was[i].note(y, indicator(s.over))
			off[i].note(y, indicator(s.over)-s.said)
		}
	}
	var out []Bin
	for i := range bins {
		if n := said[i].n(); n > 0 {
			out = append(out, Bin{Tenth: i, Said: said[i].value(), Was: was[i].value(), SE: off[i].err(len(yards)), N: n})
		}
	}
	return out
}

// forecasts sets the intervals that were foretold beside what came.
func forecasts(yards []sayings) []Horizon {
	var out []Horizon
	for _, days := range horizons {
		var held mean
		for y, said := range yards {
			for _, f := range said.forecasts {
				if f.horizon == days {
					held.note(y, indicator(f.held))
				}
			}
		}
		if n := held.n(); n > 0 {
			out = append(out, Horizon{days, held.value(), held.err(len(yards)), n})
		}
	}
	return out
}

// biases are the errors of what was expected, by month.
func biases(yards []sayings) []MonthBias {
	var out []MonthBias
	for month := time.January; month <= time.December; month++ {
		var log mean
		for y, said := range yards {
			for _, e := range said.errors {
				if e.month == month {
					log.note(y, e.log)
				}
			}
		}
		if n := log.n(); n > 0 {
			out = append(out, MonthBias{month, log.value(), log.err(len(yards)), n})
		}
	}
	return out
}

// mean is the mean of values that come yard by yard, with its error: those of
// one yard are alike.
type mean struct {
	sums   []float64
	counts []int
}

func (m *mean) note(yard int, v float64) {
	for len(m.sums) <= yard {
		m.sums, m.counts = append(m.sums, 0), append(m.counts, 0)
	}
	m.sums[yard] += v
	m.counts[yard]++
}

func (m *mean) n() int {
	n := 0
	for _, c := range m.counts {
		n += c
	}
	return n
}

func (m *mean) value() float64 {
	sum := 0.0
	for _, s := range m.sums {
		sum += s
	}
	return sum / float64(m.n())
}

// err is the standard error of a ratio of sums over so many clusters, by
// linearising it (Cochran 1977, Sampling Techniques, ch. 6), NaN for fewer than
// two. Yards in which there was nothing to note count as well.
func (m *mean) err(yards int) float64 {
	if yards < 2 {
		return math.NaN()
	}
	value, ss := m.value(), 0.0
	for y, s := range m.sums {
		d := s - value*float64(m.counts[y])
		ss += d * d
	}
	k := float64(yards)
	return math.Sqrt(ss*k/(k-1)) / float64(m.n())
}
