package decide

import (
	_ "embed"
	"fmt"
	"math"
	"sync/atomic"
	"time"

	"halfcup/internal/table"
	"halfcup/sampling"
)

//go:embed unseen.csv
var unseenCSV string

// unseenMonth is what is known in the middle of a month of a colony of the north
// that nobody has looked at.
type unseenMonth struct {
	sampling.Prior
	source, kind string
}

var unseenTable = readUnseen()

func readUnseen() [12]unseenMonth {
	var out [12]unseenMonth
	for _, r := range table.Read(unseenCSV) {
		out[int(r.Number("month"))-1] = unseenMonth{
			sampling.Prior{MedianPerHundred: r.Number("median_per_hundred"), LogSD: r.Number("log_sd")}, r["source"], r["kind"],
		}
	}
	return out
}

// Unseen is what is known on a day of a colony nobody has looked at, by the
// time of the year alone: between the middles of two months on a straight line
// of the logarithms.
func (y Year) Unseen(day sampling.Date) sampling.Prior {
	day = y.northern(day)
	year, month, dayOfMonth := day.Time().Date()
	if dayOfMonth < 15 {
		month--
	}
	from := sampling.Day(year, month, 15)
	to := sampling.Day(year, month+1, 15)
	part := float64(day-from) / float64(to-from)
	a, b := unseenTable[(month+11)%12], unseenTable[month%12]
	between := func(a, b float64) float64 { return (1-part)*a + part*b }
	return sampling.Prior{
		MedianPerHundred: math.Exp(between(math.Log(a.MedianPerHundred), math.Log(b.MedianPerHundred))),
		LogSD:            between(a.LogSD, b.LogSD),
	}
}

// logNormal is the density around so many mites per hundred bees, shifted, and
// with a variance, on the log scale.
func logNormal(perHundred, shift, variance float64) sampling.Density {
	return bells.of(math.Log(perHundred/100)+shift, math.Sqrt(variance))
}

// bells keeps the last normal densities that were asked for: the colonies of a
// yard are looked at on the same days and treated on the same days.
var bells bellsKept

type bellsKept [512]atomic.Pointer[bellKept]

type bellKept struct {
	mean, sd float64
	density  sampling.Density
}

func (k *bellsKept) of(mean, sd float64) sampling.Density {
	at := &k[(math.Float64bits(mean)*0x9e3779b97f4a7c15+math.Float64bits(sd)*0xc2b2ae3d27d4eb4f)>>55]
	if b := at.Load(); b != nil && b.mean == mean && b.sd == sd {
		return b.density
	}
	b := &bellKept{mean, sd, sampling.Normal(mean, sd)}
	at.Store(b)
	return b.density
}

// northern is the day on which colonies of the north with the usual year are as
// far on as these are on the day d.
func (y Year) northern(d sampling.Date) sampling.Date { return d - sampling.Date(y.later) }

// unseen is what is known of the colony on a day without its record, when the
// answer is for the day asked: colonies in general, or the belief that was put
// in their place, which goes through the year as they do.
func (h History) unseen(day, asked sampling.Date) sampling.Prior {
	u := h.Year.Unseen(day)
	if h.Prior == (sampling.Prior{}) {
		return u
	}
	return sampling.Prior{
		MedianPerHundred: h.Prior.MedianPerHundred * u.MedianPerHundred / h.Year.Unseen(asked).MedianPerHundred,
		LogSD:            h.Prior.LogSD,
	}
}

// unseenSources lists the table.
func unseenSources() []sampling.Source {
	var out []sampling.Source
	for m, u := range unseenTable {
		out = append(out, sampling.Source{
			Name: "unseen_" + time.Month(m+1).String(), Value: fmt.Sprint(u.MedianPerHundred), Unit: "mites per hundred bees",
			What:   "middle of what is known of a colony nobody has looked at, on the 15th in the north; its log-SD is " + fmt.Sprint(u.LogSD),
			Source: u.source, Kind: u.kind,
		})
	}
	return out
}
