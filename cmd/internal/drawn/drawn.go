// Package drawn draws records and settings of invented yards, for tests that
// hold the answers of several places to each other. It is for tests only.
package drawn

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"pgregory.net/rapid"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/sampling"
)

// Row is a row of a record by its columns. What is empty may be missing.
type Row = map[string]string

// Record is what a keeper of one or two yards wrote down, with slips of the pen.
type Record struct {
	Rows  []Row
	Today sampling.Date
}

// CSV is the record as a file, its columns as a new file has them.
func (r Record) CSV() string {
	columns := fieldlog.ColumnNames()
	var b strings.Builder
	b.WriteString(strings.Join(columns, ",") + "\n")
	for _, row := range r.Rows {
		for i, c := range columns {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(row[c]) // none of them holds a comma or a quote
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// Read is the record as the program reads it.
func (r Record) Read() (*fieldlog.Record, error) {
	return fieldlog.Read("drawn", strings.NewReader(r.CSV()))
}

// hive is what the drawing knows of a colony.
type hive struct {
	name      string
	supers    bool
	caged     bool
	gone      bool
	treatment sampling.Treatment
	treated   sampling.Date
}

// drawing draws a record.
type drawing struct {
	*rapid.T
	Record
	yard   string
	hives  []*hive
	day    sampling.Date
	labels int
}

// Of draws a record of every kind of event there is. Colonies of two yards may
// have the same names.
func Of(t *rapid.T) Record {
	d := &drawing{T: t}
	first := sampling.Day(2025, 3, 1)
	yards := []string{"mill"}
	if d.one(4, "second yard") {
		yards = append(yards, "ford")
	}
	for _, d.yard = range yards {
		d.hives = nil
		for _, name := range []string{"alder", "birch", "hazel", "oak"}[:d.n(1, 4, "colonies")] {
			d.hives = append(d.hives, &hive{name: name})
		}
		d.day = first + sampling.Date(d.n(0, 60, "begin"))
		for _, h := range d.hives {
			d.row(h, fieldlog.Inspection, nil)
		}
		for range d.n(0, 7*len(d.hives), "events") {
			d.day += sampling.Date(d.n(0, 1+70/len(d.hives), "gap"))
			d.event()
		}
	}
	d.Today = first + 60 + sampling.Date(d.n(0, 540, "today"))
	if !d.one(3, "any day") { // a day of which there is more to say
		on, _ := sampling.ParseDate(pick(d, "about", d.Rows)["date"])
		d.Today = max(first, on+sampling.Date(d.n(0, 40, "after")))
	}
	if d.one(3, "ids") {
		for i, row := range d.Rows {
			row["id"] = "h" + strconv.Itoa(i+1)
		}
	}
	if d.one(3, "out of order") {
		slices.SortStableFunc(d.Rows, func(a, b Row) int { return strings.Compare(a["colony"], b["colony"]) })
	}
	d.slips()
	return d.Record
}

func (d *drawing) n(low, high int, what string) int { return rapid.IntRange(low, high).Draw(d.T, what) }

// one is true once in so many times; where a failing draw is made smaller, never.
func (d *drawing) one(in int, what string) bool { return d.n(0, in-1, what) == in-1 }

func pick[E any](d *drawing, what string, of []E) E { return of[d.n(0, len(of)-1, what)] }

func (d *drawing) row(h *hive, kind fieldlog.Kind, more Row) Row {
	out := Row{"date": d.day.String(), "yard": d.yard, "colony": h.name, "event": string(kind)}
	for k, v := range more {
		out[k] = v
	}
	d.Rows = append(d.Rows, out)
	return out
}

// event draws what happens next at one of the hives.
func (d *drawing) event() {
	h := pick(d, "hive", d.hives)
	if h.gone {
		if d.one(2, "hived again") {
			*h = hive{name: h.name}
			d.row(h, fieldlog.Hived, nil)
		}
		return
	}
	kinds := fieldlog.Kinds()
	var kind fieldlog.Kind
	switch d.n(0, 9, "sort of event") {
	case 0, 1, 2, 3:
		kind = fieldlog.Count
	case 4, 5:
		kind = fieldlog.Treatment
	default:
		kind = pick(d, "kind", kinds)
	}
	switch kind {
	case fieldlog.Count:
		d.count(h)
	case fieldlog.Treatment:
		d.treatment(h)
	case fieldlog.TreatmentEnd:
		if h.treated != 0 {
			d.row(h, kind, d.maybe("which", Row{"active": h.treatment.Active, "application": h.treatment.Application}))
		}
	case fieldlog.Inspection:
		d.row(h, kind, d.seen())
	case fieldlog.SupersOn, fieldlog.SupersOff:
		h.supers = !h.supers
		kind = fieldlog.SupersOff
		if h.supers {
			kind = fieldlog.SupersOn
		}
		d.plannable(h, kind)
	case fieldlog.BroodBreak:
		h.caged = !h.caged
		brood := "yes"
		if h.caged {
			brood = "no"
		}
		d.row(h, kind, Row{"brood": brood})
	case fieldlog.QueenCaged, fieldlog.QueenReleased:
		h.caged = !h.caged
		kind = fieldlog.QueenReleased
		if h.caged {
			kind = fieldlog.QueenCaged
		}
		d.plannable(h, kind)
	case fieldlog.Split:
		if len(d.hives) < 5 {
			part := &hive{name: fmt.Sprintf("willow%d", len(d.hives))}
			d.row(part, kind, Row{"pair": h.name})
			d.hives = append(d.hives, part)
		}
	case fieldlog.United:
		if o := pick(d, "to", d.hives); o != h && !o.gone {
			d.row(h, kind, d.with(Row{"pair": o.name}, d.seen()))
			h.gone = true
		}
	case fieldlog.Renamed:
		former := h.name
		h.name = former + "x"
		d.row(h, kind, Row{"pair": former})
	case fieldlog.Died:
		d.row(h, kind, nil)
		h.gone = true
	case fieldlog.Undo: // see slips
	case fieldlog.Hived: // of a hive that lives it is a slip
		if d.one(8, "hived beside") {
			d.row(h, kind, d.seen())
		}
	case fieldlog.DroneFrameIn, fieldlog.DroneBroodRemoved, fieldlog.HoneyTaken, fieldlog.Requeened:
		d.plannable(h, kind)
	default:
		d.row(h, kind, nil)
	}
}

// plannable is a row that may be planned, in whichever of the ways a plan is
// written, confirmed or forgotten.
func (d *drawing) plannable(h *hive, kind fieldlog.Kind) {
	d.row(h, kind, Row{"mark": d.mark()})
}

func (d *drawing) mark() string { return pick(d, "mark", []string{"", "", "", "planned", "done"}) }

func (d *drawing) with(a, b Row) Row {
	for k, v := range b {
		a[k] = v
	}
	return a
}

func (d *drawing) maybe(what string, r Row) Row {
	if d.one(2, what) {
		return r
	}
	return Row{}
}

// seen is what a look into a hive told of bees and brood.
func (d *drawing) seen() Row {
	return Row{
		"adult_bees": pick(d, "bees", []string{"", "", "9f", "18000", "2500", "4.5f"}),
		"brood":      pick(d, "brood", []string{"", "", "yes", "no"}),
	}
}

func (d *drawing) treatment(h *hive) {
	h.treatment = pick(d, "treatment", sampling.Treatments())
	h.treated = d.day
	until := ""
	if d.one(4, "until") {
		until = (d.day + sampling.Date(d.n(5, 60, "days in"))).String()
	}
	mark := d.mark()
	begin := d.day
	for i := range d.n(1, 3, "rounds") {
		if i > 0 {
			d.day += sampling.Date(d.n(3, 9, "every"))
		}
		d.row(h, fieldlog.Treatment, Row{"active": h.treatment.Active, "application": h.treatment.Application, "until": until, "mark": mark})
	}
	if d.one(3, "whole yard") { // as most keepers do, in the same days
		for _, o := range d.hives {
			if o != h && !o.gone {
				o.treatment, o.treated, d.day = h.treatment, begin, begin
				d.row(o, fieldlog.Treatment, Row{"active": h.treatment.Active, "application": h.treatment.Application, "until": until, "mark": mark})
			}
		}
	}
}

// mites are few more often than many.
func (d *drawing) mites() string {
	return strconv.Itoa(d.n(0, []int{3, 12, 60}[d.n(0, 2, "how many")], "mites"))
}

func (d *drawing) count(h *hive) {
	bees := func(method string) Row {
		return Row{
			"method": method, "mites": d.mites(), "frames": pick(d, "frames", []string{"1", "", "2", "3"}),
			"amount": pick(d, "amount", []string{"300", "0.5cup", "1cup", "41g 13g/100", "120 ml", "100"}),
		}
	}
	weather := func() string { return pick(d, "weather", []string{"", "", "damp", "dry"}) }
	board := func() Row {
		return d.with(Row{"method": "board", "mites": d.mites(), "amount": pick(d, "days", []string{"3d", "1d", "7d", "3d 33/99", "48h"})}, d.seen())
	}
	label := func() string {
		d.labels++
		return fmt.Sprintf("%s%d", d.yard, d.labels)
	}
	switch d.n(0, 9, "count") {
	case 0, 1, 2:
		d.row(h, fieldlog.Count, bees("wash"))
	case 3, 4:
		d.row(h, fieldlog.Count, d.with(bees("roll"), Row{"weather": weather()}))
	case 5:
		d.row(h, fieldlog.Count, bees("co2"))
	case 6:
		d.row(h, fieldlog.Count, board())
	case 7: // the same bees twice
		pair, amount := label(), "300"
		d.row(h, fieldlog.Count, d.with(bees("roll"), Row{"pair": pair, "amount": amount, "frames": "1", "weather": weather()}))
		d.row(h, fieldlog.Count, d.with(bees("wash"), Row{"pair": pair, "amount": amount, "frames": "1"}))
	case 8:
		pair := label()
		d.row(h, fieldlog.Count, d.with(bees("wash"), Row{"pair": pair}))
		d.day += sampling.Date(d.n(0, 3, "board out"))
		d.row(h, fieldlog.Count, d.with(board(), Row{"pair": pair}))
	case 9:
		if h.treated == 0 || d.day-h.treated > 20 {
			return
		}
		d.day = max(d.day, h.treated+3)
		d.row(h, fieldlog.Count, d.with(d.seen(), Row{"method": "knockdown", "mites": strconv.Itoa(d.n(0, 900, "fallen")), "amount": pick(d, "lay", []string{"3d", "2d", "3d 2/day"})}))
	}
}

// slips are the pen's: rows taken back, confirmed, written twice, with a name in
// other letters, in another century, or that nobody can read.
func (d *drawing) slips() {
	for range d.n(0, 3, "slips") {
		rec, err := d.Read()
		if err != nil {
			d.Fatal(err)
		}
		if len(rec.Events) == 0 {
			return
		}
		e := pick(d, "slip at", rec.Events)
		row := Row{}
		for k, v := range e.Written().Cells() {
			row[k] = v
		}
		row["id"], row["by"] = "", ""
		switch d.n(0, 7, "slip") {
		case 0, 1, 2:
			row = Row{"date": row["date"], "yard": row["yard"], "colony": row["colony"], "event": "undo", "undo_of": rec.Key(e)}
		case 3:
			row["undo_of"] = rec.Key(e)
			if e.Kind.Plannable() {
				row["mark"] = "done"
			}
			if row["mites"] != "" {
				row["mites"] = d.mites()
			}
		case 4: // as it is
		case 5:
			row["colony"] = strings.ToUpper(row["colony"])
			row["note"] = "again"
		case 6:
			row["date"] = "1925" + row["date"][4:]
		case 7:
			row["date"] = "2025-02-30"
		}
		d.Rows = append(d.Rows, row)
	}
}
