package decide

import (
	_ "embed"
	"fmt"
	"math"
	"slices"

	"halfcup/internal/numeric"
	"halfcup/internal/table"
	"halfcup/sampling"
)

// How long cells stay capped, in days: 12 for workers, 14 for drones (Winston
// 1987, The Biology of the Honey Bee, Harvard University Press, from memory).
const (
	workerDays = 12
	droneDays  = 14
)

// Parameter is one figure of the model of mite growth, a row of rates.csv.
type Parameter struct {
	Name, Unit, Meaning string
	Value               float64
	Source, Kind        string
}

//go:embed rates.csv
var ratesCSV string

var parameterTable = slices.Concat(readParameters(ratesCSV), readParameters(movesCSV))

// Parameters lists the figures of the model with their sources.
func Parameters() []Parameter { return slices.Clone(parameterTable) }

func readParameters(text string) []Parameter {
	var out []Parameter
	for _, r := range table.Read(text) {
		out = append(out, Parameter{r["name"], r["unit"], r["meaning"], r.Number("value"), r["source"], r["kind"]})
	}
	return out
}

func parameter(name string) float64 { return find(parameterTable, name) }

func find(table []Parameter, name string) float64 {
	for _, p := range table {
		if p.Name == name {
			return p.Value
		}
	}
	panic("decide: no parameter " + name)
}

// Brood is whether a colony is taken to have brood all along, for questions
// that are asked without a season.
type Brood int

// The amounts of brood.
const (
	NoBrood Brood = iota
	FullBrood
)

// Rates is how the mites of a colony live, breed and die. In a colony that goes
// through its year the cells and bees of the day say how mites enter cells;
// DaysOnBees and DroneShare are for one whose brood stands still.
type Rates struct {
	DaysOnBees         float64 `json:"days_on_bees"`     // mean days on adult bees before entering a cell
	DroneShare         float64 `json:"drone_share"`      // share of the entering mites that enter drone cells
	WorkerDaughters    float64 `json:"worker_daughters"` // per mother and worker cell
	DroneDaughters     float64 `json:"drone_daughters"`  // per mother and drone cell
	Mortality          float64 `json:"mortality"`        // of mites on adult bees, a day, with brood
	MortalityBroodless float64 `json:"mortality_broodless"`
	Survival           float64 `json:"survival"` // of mothers and daughters when the bee emerges
}

// DefaultRates are the rates of rates.csv for colonies that go through their
// year.
func DefaultRates() Rates {
	return Rates{
		DaysOnBees: parameter("days_on_bees"), DroneShare: parameter("drone_share"),
		WorkerDaughters: parameter("worker_daughters"), DroneDaughters: parameter("drone_daughters"),
		Mortality: parameter("mortality"), MortalityBroodless: parameter("mortality_broodless"),
		Survival: parameter("survival"),
	}
}

// SteadyRates are the rates of rates.csv for a colony whose brood stands still.
// With seven days on bees, where a full colony in summer has five, and few drone
// cells, it takes more daughters to grow as fast.
func SteadyRates() Rates {
	r := DefaultRates()
	r.WorkerDaughters, r.DroneDaughters = parameter("steady_worker_daughters"), parameter("steady_drone_daughters")
	return r
}

// Check reports the first rate that no colony can have, as a
// *sampling.ValueError.
func (r Rates) Check() error {
	for _, c := range []struct {
		name      string
		v         float64
		low, high float64
		remedy    string
	}{
		{"days on bees", r.DaysOnBees, 0.1, 1000, "give the mean days, such as 7"},
		{"drone share", r.DroneShare, 0, 1, "give a share between 0 and 1, such as 0.1"},
		{"worker daughters", r.WorkerDaughters, 0, 6, "give the daughters per mother, such as 0.7"},
		{"drone daughters", r.DroneDaughters, 0, 6, "give the daughters per mother, such as 2"},
		{"mortality", r.Mortality, 0, 0.5, "give the share that dies in a day, such as 0.006"},
		{"mortality without brood", r.MortalityBroodless, 0, 0.5, "give the share that dies in a day, such as 0.003"},
		{"survival", r.Survival, 0.01, 1, "give the share that lives through emergence, such as 0.85"},
	} {
		if !(c.v >= c.low && c.v <= c.high) {
			return &sampling.ValueError{Name: c.name, Problem: fmt.Sprintf("%v is not between %v and %v", c.v, c.low, c.high), Remedy: c.remedy}
		}
	}
	return nil
}

// Nest is what the invasion law needs to know of a colony.
type Nest struct {
	AdultBees   float64
	WorkerCells float64 // capped a day
	DroneCells  float64 // capped a day
}

// Invasion puts the time on bees and the drone share that the law of Boot et
// al. 1994 and 1995 gives for the nest into the rates: a mite on adult bees
// enters a cell at the rate 0.56 W/B + 6.49 D/B a day, with W and D the worker
// and drone cells capped a day and B the grams of bees.
func (r Rates) Invasion(n Nest) (Rates, error) {
	for _, c := range []struct {
		name      string
		v         float64
		low, high float64
		example   string
	}{
		{"adult bees", n.AdultBees, 100, 200_000, "25000"},
		{"worker cells capped a day", n.WorkerCells, 0, 5000, "1200"},
		{"drone cells capped a day", n.DroneCells, 0, 2000, "50"},
	} {
		if !(c.v >= c.low && c.v <= c.high) {
			return r, &sampling.ValueError{Name: c.name, Problem: fmt.Sprintf("%v is not between %v and %v", c.v, c.low, c.high), Remedy: "give a number such as " + c.example}
		}
	}
	grams := n.AdultBees * gramsPerBee
	worker := invasionWorker * n.WorkerCells / grams
	drone := invasionDrone * n.DroneCells / grams
	if worker+drone == 0 {
		return r, &sampling.ValueError{Name: "worker and drone cells", Problem: "no cell is capped, so no mite ever enters one", Remedy: "give the cells capped a day, or say that the colony has no brood"}
	}
	r.DaysOnBees, r.DroneShare = 1/(worker+drone), drone/(worker+drone)
	return r, r.Check()
}

// Mites says where the mites of a colony are: on adult bees, or in capped
// worker and drone cells by the days since capping.
type Mites struct {
	OnBees float64
	Worker [workerDays]float64
	Drone  [droneDays]float64
}

// InCells is the number of mites in capped cells.
func (m Mites) InCells() float64 {
	sum := 0.0
	for _, v := range m.Worker {
		sum += v
	}
	for _, v := range m.Drone {
		sum += v
	}
	return sum
}

// Total is the number of mites on bees and in cells.
func (m Mites) Total() float64 { return m.OnBees + m.InCells() }

// Kill is the share of the mites a treatment kills on one day. The zero value
// is a day without treatment.
type Kill struct{ OnBees, InCells float64 }

// Day lets one day pass, in this order: the treatment acts, the oldest cells
// open, mites enter cells, mites on bees die, mothers and daughters of the
// opened cells come out, mites arrive from outside.
func (m Mites) Day(r Rates, brood Brood, kill Kill, arrivals float64) Mites {
	return m.day(r, r.flow(brood), kill, arrivals)
}

func (m Mites) day(r Rates, f flow, kill Kill, arrivals float64) Mites {
	onBees, left := m.OnBees*(1-kill.OnBees), 1-kill.InCells

	next := Mites{}
	for i := 1; i < workerDays; i++ {
		next.Worker[i] = m.Worker[i-1] * left
	}
	for i := 1; i < droneDays; i++ {
		next.Drone[i] = m.Drone[i-1] * left
	}
	openWorker, openDrone := m.Worker[workerDays-1]*left, m.Drone[droneDays-1]*left

	entering := onBees * f.enter
	next.Worker[0], next.Drone[0] = entering*(1-f.droneShare), entering*f.droneShare

	next.OnBees = (onBees - entering) * (1 - f.mortality)
	next.OnBees += r.Survival * ((1+r.WorkerDaughters)*openWorker + (1+r.DroneDaughters)*openDrone)
	next.OnBees += arrivals
	return next
}

// flow is the share of the mites on bees that enter cells in a day, the share
// of these that enter drone cells, and the share of the rest that dies.
type flow struct{ enter, droneShare, mortality float64 }

func (r Rates) flow(b Brood) flow {
	if b == FullBrood {
		return flow{-math.Expm1(-1 / r.DaysOnBees), r.DroneShare, r.Mortality}
	}
	return flow{mortality: r.MortalityBroodless}
}

// Growth is what the rates lead to when nothing disturbs the colony.
type Growth struct {
	PerDay       float64 // growth of the mites a day, on the log scale
	DoublingDays float64 // +Inf when the mites do not grow
	BroodShare   float64 // share of the mites that is in capped cells
	State        Mites   // the stable state, scaled to one mite on adult bees
}

// Stable is the state in which the mites keep their shares and only grow in
// number. Mites on bees at the end of a day are those of the day before that
// stayed and lived, and the brood of those that entered 13 and 15 days before,
// so the daily factor L solves
//
//	L = stay + worker L^-12 + drone L^-14,
//
// of which the right side falls in L: there is one root.
func (r Rates) Stable(b Brood) Growth { return r.stable(r.flow(b)) }

func (r Rates) stable(f flow) Growth {
	stay := (1 - f.enter) * (1 - f.mortality)
	worker := r.Survival * (1 + r.WorkerDaughters) * f.enter * (1 - f.droneShare)
	drone := r.Survival * (1 + r.DroneDaughters) * f.enter * f.droneShare

	factor := numeric.Root(func(l float64) float64 {
		return stay + worker*math.Pow(l, -workerDays) + drone*math.Pow(l, -droneDays) - l
	}, stay, math.Max(1, stay+worker+drone))

	state := Mites{OnBees: 1}
	age := 1.0
	for i := range droneDays {
		age /= factor // the mites of i days ago were fewer by factor^i
		if i < workerDays {
			state.Worker[i] = f.enter * (1 - f.droneShare) * age
		}
		state.Drone[i] = f.enter * f.droneShare * age
	}
	g := Growth{PerDay: math.Log(factor), DoublingDays: math.Inf(1), BroodShare: state.InCells() / state.Total(), State: state}
	if g.PerDay > 0 {
		g.DoublingDays = math.Ln2 / g.PerDay
	}
	return g
}
