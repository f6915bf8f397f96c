package trial

import (
	"math"
	"runtime"
	"slices"
	"sync"

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
	Settings []string // by name; all when there are none
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
}

// PolicyResult is how one policy did: means per colony and season, and their
// standard errors, NaN where there are fewer than two yards.
type PolicyResult struct {
	Name, Text string
	Figures
	SE         Figures
	Coverage90 float64 // as above, of what was said under this policy
}

// Figures are what is compared.
type Figures struct {
	Killed     float64 // bees killed by counting
	Minutes    float64 // spent on counting
	Treatments float64
	Missed     float64 // months that a colony was a third over the line without treatment
	Needless   float64 // treatments of a colony a third under the line
	Regret     float64 // in needless treatments
	OverFive   float64 // of a hundred colonies, those that ended over five mites per hundred
}

// Bin is a range of chances that were told, a tenth wide.
type Bin struct {
	Tenth int     // 0 for chances up to a tenth
	Said  float64 // the mean of the chances told
	Was   float64 // the share of those colonies that were over the line
	N     int
}

const bins = 10

// Advised is the name of the policy that does what choose says.
const Advised = "choose"

// SettingNames lists the settings.
func SettingNames() []string {
	var out []string
	for _, s := range settings {
		out = append(out, s.name)
	}
	return out
}

// yardOutcome is one yard under one policy in one setting.
type yardOutcome struct {
	colonies int
	tally
	statements []statement
}

// Run plays the seasons. The same options give the same result whatever the
// number of processors.
func Run(o Options) (Result, error) {
	var played []setting
	for _, s := range settings {
		if len(o.Settings) == 0 || slices.Contains(o.Settings, s.name) {
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
		result.Settings = append(result.Settings, settingResult(s, outcomes[i]))
	}
	return result, nil
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
	for _, p := range policies {
		g := &playground{policy: p, adviser: a}
		for _, c := range colonies {
			g.books = append(g.books, &book{hive: c.hive()})
		}
		if err := g.play(o.Months); err != nil {
			return nil, err
		}
		yard := yardOutcome{colonies: len(g.books)}
		for _, b := range g.books {
			yard.add(b.tally)
			yard.statements = append(yard.statements, b.statements...)
		}
		out = append(out, yard)
	}
	return out, nil
}

// play lets the season go by.
func (p *playground) play(months int) error {
	last := int(visitDay(months) - firstDay)
	month := 0
	for day := range last {
		visit := -1
		if firstDay+sampling.Date(day) == visitDay(month) {
			visit = month
			month++
		}
		if err := p.morning(visit); err != nil {
			return err
		}
		stakes := p.stakes(firstDay + sampling.Date(day))
		for _, b := range p.books {
			if day >= lead {
				b.leave(stakes)
			}
			b.pass()
		}
	}
	for _, b := range p.books {
		b.end()
	}
	return nil
}

// settingResult puts the yards together.
func settingResult(s setting, yards [][]yardOutcome) SettingResult {
	out := SettingResult{Name: s.name, Text: s.what, Coverage90: math.NaN()}
	for i, p := range policies {
		var all tally
		var means []Figures
		var said []statement
		n := 0
		for _, y := range yards {
			all.add(y[i].tally)
			n += y[i].colonies
			means = append(means, y[i].mean(y[i].colonies))
			said = append(said, y[i].statements...)
		}
		r := PolicyResult{Name: p.name, Text: p.text, Figures: all.mean(n), SE: errorsOf(means), Coverage90: coverage(said)}
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
		Killed:     of(func(f Figures) float64 { return f.Killed }),
		Minutes:    of(func(f Figures) float64 { return f.Minutes }),
		Treatments: of(func(f Figures) float64 { return f.Treatments }),
		Missed:     of(func(f Figures) float64 { return f.Missed }),
		Needless:   of(func(f Figures) float64 { return f.Needless }),
		Regret:     of(func(f Figures) float64 { return f.Regret }),
		OverFive:   of(func(f Figures) float64 { return f.OverFive }),
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
func coverage(said []statement) float64 {
	held := 0
	for _, s := range said {
		if s.held {
			held++
		}
	}
	return float64(held) / float64(len(said)) // NaN for none
}

// reliability sets the chances that were told beside how often it was so. Bins
// in which nothing was said are left out.
func reliability(said []statement) []Bin {
	var all [bins]Bin
	for _, s := range said {
		b := &all[min(int(s.said*bins), bins-1)]
		b.N++
		b.Said += s.said
		if s.over {
			b.Was++
		}
	}
	var out []Bin
	for i, b := range all {
		if b.N > 0 {
			out = append(out, Bin{i, b.Said / float64(b.N), b.Was / float64(b.N), b.N})
		}
	}
	return out
}
