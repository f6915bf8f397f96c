package decide

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"halfcup/internal/meant"
	"halfcup/internal/table"
	"halfcup/sampling"
)

// Hemisphere is the half of the earth the bees live on.
type Hemisphere string

// The hemispheres; the year of the southern one runs six months later.
const (
	North Hemisphere = "north"
	South Hemisphere = "south"
)

// DefaultYear is the set of year.csv that is used when none is named.
const DefaultYear = "temperate"

// YearPoint is what an ordinary colony of a set is like on a date of the year:
// a row of year.csv.
type YearPoint struct {
	Set          string
	Date         string  // month and day in the north, such as "03-01"
	AdultBees    float64 // between two rows even on the log scale
	WorkerCells  float64 // capped; between two rows even
	DroneCells   float64 // capped; between two rows even
	Flying       bool    // from this date on bees fly, so that mites can come in from other colonies
	Source, Kind string
}

//go:embed year.csv
var yearCSV string

var yearPoints = readYearPoints()

func readYearPoints() []YearPoint {
	var out []YearPoint
	for _, r := range table.Read(yearCSV) {
		out = append(out, YearPoint{
			Set: r["set"], Date: r["date"], AdultBees: r.Number("adult_bees"),
			WorkerCells: r.Number("worker_cells"), DroneCells: r.Number("drone_cells"),
			Flying: r["flying"] == "yes", Source: r["source"], Kind: r["kind"],
		})
	}
	return out
}

// YearPoints lists the rows of year.csv.
func YearPoints() []YearPoint { return slices.Clone(yearPoints) }

// YearSets names the sets of year.csv.
func YearSets() []string {
	var out []string
	for _, p := range yearPoints {
		if !slices.Contains(out, p.Set) {
			out = append(out, p.Set)
		}
	}
	return out
}

// Cells are capped cells of a colony.
type Cells struct{ Worker, Drone float64 }

// curve is a set of year.csv by the days of a common year, from 0.
type curve struct {
	logBees       [daysOfYear]float64
	worker, drone [daysOfYear]float64
	flying        [daysOfYear]bool
	mostBrood     int // the day with the most worker cells
}

const daysOfYear = 365

var curves = func() map[string]*curve {
	out := map[string]*curve{}
	for _, set := range YearSets() {
		out[set] = newCurve(slices.DeleteFunc(YearPoints(), func(p YearPoint) bool { return p.Set != set }))
	}
	return out
}()

// newCurve draws the lines between the rows, and from the last to the first,
// so that every year ends as it began.
func newCurve(points []YearPoint) *curve {
	c := &curve{}
	days := make([]int, len(points))
	for i, p := range points {
		days[i] = tableDay(p.Date)
	}
	for i, p := range points {
		next, end := points[0], days[0]+daysOfYear
		if i+1 < len(points) {
			next, end = points[i+1], days[i+1]
		}
		for d := days[i]; d < end; d++ {
			at, share := d%daysOfYear, float64(d-days[i])/float64(end-days[i])
			between := func(a, b float64) float64 { return a + share*(b-a) }
			c.logBees[at] = between(math.Log(p.AdultBees), math.Log(next.AdultBees))
			c.worker[at] = between(p.WorkerCells, next.WorkerCells)
			c.drone[at] = between(p.DroneCells, next.DroneCells)
			c.flying[at] = p.Flying
		}
	}
	for d, cells := range c.worker {
		if cells > c.worker[c.mostBrood] {
			c.mostBrood = d
		}
	}
	return c
}

// tableDay is the day of the year of a date of an embedded table.
func tableDay(s string) int {
	month, day, err := monthDay("embedded table", s)
	if err != nil {
		panic("decide: " + err.Error())
	}
	return dayOfYear(month, day)
}

// dayOfYear numbers the days of a common year from 0. The leap day is read as
// the day before it.
func dayOfYear(month time.Month, day int) int {
	if month == time.February && day == 29 {
		day = 28
	}
	return time.Date(commonYear, month, day, 0, 0, 0, 0, time.UTC).YearDay() - 1
}

const commonYear = 2023 // any year without a leap day

// YearSettings is what a beekeeper may say of the year. The zero value is the
// temperate year of the north.
type YearSettings struct {
	Set        string // of year.csv; "" for DefaultYear
	Hemisphere Hemisphere

	// MostBrood is the month and day on which the brood is largest, such as
	// "05-20"; "" for that of the set, six months later in the south. It moves
	// bees, brood and seasons alike.
	MostBrood string

	// Starts are own first days of seasons, such as "03-01", or Never; they are
	// taken as given, wherever the year is moved.
	Starts map[Season]string
}

// Year is the year of an ordinary colony: its bees and brood, and the seasons
// its lines go by. Make one with NewYear. A zero Year that is asked by itself
// answers as the ordinary year does, but no record is judged by it.
type Year struct {
	curve   *curve
	later   int // days that everything comes later than in the table
	seasons *[]seasonStart
}

// filled is y, or the ordinary year where nobody made one.
func (y Year) filled() Year {
	if y.curve == nil {
		return ordinaryYear()
	}
	return y
}

var ordinaryYear = sync.OnceValue(func() Year {
	y, err := NewYear(YearSettings{})
	if err != nil {
		panic("decide: the ordinary year: " + err.Error())
	}
	return y
})

// NewYear puts what the beekeeper says over the defaults. Its errors are
// *sampling.ValueError.
func NewYear(s YearSettings) (Year, error) {
	if s.Set == "" {
		s.Set = DefaultYear
	}
	c := curves[s.Set]
	if c == nil {
		list := strings.Join(YearSets(), ", ")
		return Year{}, &sampling.ValueError{Name: "year", Problem: fmt.Sprintf("there is no year %q", s.Set), Remedy: meant.Remedy(s.Set, YearSets(), "The years are "+list, "write one of "+list)}
	}
	if s.Hemisphere == "" {
		s.Hemisphere = North
	}
	if s.Hemisphere != North && s.Hemisphere != South {
		return Year{}, &sampling.ValueError{Name: "hemisphere", Problem: fmt.Sprintf("%q is not a hemisphere", s.Hemisphere), Remedy: "write north or south"}
	}
	usual := c.mostBrood
	if s.Hemisphere == South {
		usual = halfAYearOn(usual)
	}
	moved := 0
	if s.MostBrood != "" {
		month, day, err := monthDay("day of most brood", s.MostBrood)
		if err != nil {
			return Year{}, err
		}
		moved = dayOfYear(month, day) - usual
		// The nearer way round the year.
		moved -= daysOfYear * int(math.Round(float64(moved)/daysOfYear))
	}
	y := Year{curve: c, later: usual + moved - c.mostBrood}
	seasons, err := seasonStarts(s, moved)
	y.seasons = &seasons
	return y, err
}

// halfAYearOn is the same day of the month six months later.
func halfAYearOn(day int) int {
	t := time.Date(commonYear, time.January, 1+day, 0, 0, 0, 0, time.UTC)
	month := (t.Month()+5)%12 + 1
	return dayOfYear(month, min(t.Day(), daysIn(month)))
}

func daysIn(month time.Month) int {
	return time.Date(commonYear, month+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// check reports a year that was not made with NewYear.
func (y Year) check() error {
	if y.curve == nil {
		return &sampling.ValueError{Name: "year", Problem: "none is given", Remedy: "make one with NewYear"}
	}
	return nil
}

// day is where a date lies in the curve.
func (y Year) day(d sampling.Date) int {
	_, month, day := d.Time().Date()
	return ((dayOfYear(month, day)-y.later)%daysOfYear + daysOfYear) % daysOfYear
}

// AdultBees is the number of adult bees an ordinary colony has at the start of
// a day.
func (y Year) AdultBees(d sampling.Date) float64 { return math.Exp(y.filled().curve.logBees[y.day(d)]) }

// Cells are the capped cells an ordinary colony has on a day.
func (y Year) Cells(d sampling.Date) Cells {
	i := y.day(d)
	return Cells{y.filled().curve.worker[i], y.filled().curve.drone[i]}
}

// Flying reports whether bees fly on a day, so that mites can come in from
// other colonies.
func (y Year) Flying(d sampling.Date) bool { return y.filled().curve.flying[y.day(d)] }

// Capped reports whether an ordinary colony has capped brood at the start of a
// day: enough cells were being capped within the time that one stays so.
func (y Year) Capped(d sampling.Date) bool {
	for back := sampling.Date(1); back <= droneDays; back++ {
		c := y.Cells(d - back)
		if c.enough() && (back <= workerDays || c.Drone > 0) {
			return true
		}
	}
	return false
}

// leastCells is the number of capped cells below which no mite is taken to
// enter one: a patch the size of a palm, here today and gone tomorrow. A
// judgement.
const leastCells = 150

func (c Cells) enough() bool { return c.Worker+c.Drone >= leastCells }

// WithoutBrood is the first time without capped brood in an ordinary colony
// that ends on the day d or later; ok is false when such a colony always has
// some.
func (y Year) WithoutBrood(d sampling.Date) (w Window, ok bool) {
	first := d
	for !y.Capped(first) && !y.Capped(first-1) && first > d-daysOfYear {
		first--
	}
	for y.Capped(first) {
		if first++; first > d+daysOfYear+1 {
			return Window{}, false
		}
	}
	w = Window{From: first, Until: first}
	for !y.Capped(w.Until + 1) {
		w.Until++
	}
	return w, true
}
