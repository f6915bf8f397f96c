package answer

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// Row is a row of the record by its columns, in the spelling that the record
// itself writes. What is empty may be missing.
type Row map[string]string

// Columns are those of the record.
func Columns() []string { return fieldlog.ColumnNames() }

// written is rows as a record.
func written(rows []Row) (string, error) {
	var b strings.Builder
	w := show.NewCSVWriter(&b)
	columns := Columns()
	if err := w.Write(columns...); err != nil {
		return "", err
	}
	cells := make([]string, len(columns))
	for _, r := range rows {
		for i, c := range columns {
			cells[i] = r[c]
		}
		if err := w.Write(cells...); err != nil {
			return "", err
		}
	}
	err := w.Flush()
	return b.String(), err
}

// rowOf is an event as a row.
func rowOf(e fieldlog.Event) Row {
	out := Row{}
	for column, text := range e.Written().Cells() {
		if text != "" {
			out[column] = text
		}
	}
	return out
}

// facts is all that a row tells, without its note, its names and its writer:
// two rows with the same facts tell the same thing.
func (r Row) facts() string {
	var b []byte
	for _, column := range fieldlog.ColumnNames() {
		text := r[column]
		switch column {
		case "note", "stand", "observer", "id", "by":
			continue
		case "yard", "colony", "pair":
			text = fieldlog.SameName(text)
		}
		b = append(strconv.AppendQuote(b, text), ' ')
	}
	return string(b)
}

// device is the letters of the device on which a row was written, "" when
// nobody knows.
func (r Row) device() string {
	return strings.TrimRight(r["id"], "0123456789")
}

// Checked is what became of rows that are to be kept.
type Checked struct {
	Rows []Row `json:"rows"` // as they are to be kept

	// Twins are rows that tell what is written down already. Nothing is to be
	// kept then, unless the same once more is meant.
	Twins []Row `json:"twins,omitempty"`
}

// check reads rows as the record will. Rows that tell what stands there already
// are twins: with again they are kept beside it, with a note that says so.
func (b *Book) check(rows []Row, again bool) (Checked, error) {
	var out Checked
	var fresh []Row
	days := map[sampling.Date]bool{}
	for _, r := range rows {
		text, err := written([]Row{r})
		if err != nil {
			return out, err
		}
		rec, err := fieldlog.Read("this phone", strings.NewReader(text))
		if err != nil {
			return out, err
		}
		for _, p := range rec.Problems {
			if !p.Warning {
				return out, &Refused{Problem: Problem{Error: sentence(p), Column: columnOf(p)}}
			}
		}
		if len(rec.Events) != 1 {
			return out, refuse("this row is empty")
		}
		days[rec.Events[0].Date] = true
		fresh = append(fresh, rowOf(rec.Events[0]))
	}
	here, err := b.reading()
	if err != nil {
		return out, err
	}
	known := map[string]int{}
	for _, e := range here.Once() {
		if days[e.Date] {
			known[rowOf(e).facts()]++
		}
	}
	for _, kept := range fresh {
		if n := known[kept.facts()]; n > 0 && kept["undo_of"] == "" {
			if !again {
				out.Twins = append(out.Twins, kept)
				continue
			}
			kept["note"] = strings.TrimSpace(kept["note"] + onceMore(n))
		}
		known[kept.facts()]++
		out.Rows = append(out.Rows, kept)
	}
	if len(out.Twins) > 0 {
		out.Rows = nil
	}
	return out, nil
}

// onceMore is the note that tells a count from an equal one of the same day.
func onceMore(n int) string {
	if n < 2 {
		return " (again)"
	}
	return fmt.Sprintf(" (again %d)", n)
}

// sentence is a problem in one sentence with its remedy.
func sentence(p *fieldlog.Problem) string { return p.What + "; " + p.Remedy + "." }

// columnOf is the column of the page's own row that a problem points at.
func columnOf(p *fieldlog.Problem) string {
	columns := Columns()
	before := p.Text[:min(p.Offset, len(p.Text))]
	if i := strings.Count(before, ","); i < len(columns) && !strings.Contains(before, `"`) {
		return columns[i]
	}
	return ""
}

// Merged is what a record from elsewhere brings. Nothing is kept yet: the page
// keeps New, and of Twins what the beekeeper wants twice.
type Merged struct {
	New    []Row    `json:"new"`
	Same   int      `json:"same"`   // rows that are here already
	Twins  []Row    `json:"twins"`  // the same count written down on two devices; kept once
	Unread []string `json:"unread"` // what could not be read, with where
	Left   []string `json:"left"`   // columns that this page does not keep
}

// merge compares a record with the rows that are here. Rows with one id are one
// row; rows without an id are one when they say the same; and one fact that two
// devices tell is a twin.
func (b *Book) merge(text, device string) (Merged, error) {
	out := Merged{New: []Row{}, Twins: []Row{}, Unread: []string{}, Left: []string{}}
	rec, err := fieldlog.Read("what came", strings.NewReader(text))
	var p *fieldlog.Problem
	if errors.As(err, &p) {
		return out, refuse("line %d: %s", p.Line, sentence(p))
	}
	if err != nil {
		return out, err
	}
	for _, p := range rec.Problems {
		if !p.Warning {
			out.Unread = append(out.Unread, fmt.Sprintf("line %d: %s", p.Line, sentence(p)))
		}
	}
	for _, c := range rec.Columns() {
		name := strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(c))
		if !slices.Contains(Columns(), name) {
			out.Left = append(out.Left, c)
		}
	}
	here, err := b.reading()
	if err != nil {
		return out, err
	}
	ids, facts := map[string]bool{}, map[string][]Row{}
	for _, r := range b.rows {
		if r["id"] != "" {
			ids[r["id"]] = true
		}
	}
	undone := map[string]bool{}
	for _, e := range here.Events {
		r := rowOf(e)
		if e.Gone != 0 {
			undone[r["id"]] = true
		}
		facts[r.facts()] = append(facts[r.facts()], r)
	}
	for _, e := range rec.Events {
		r := rowOf(e)
		id := r["id"]
		if id != "" && ids[id] {
			out.Same++
			continue
		}
		verdict := alone
		for _, other := range facts[r.facts()] {
			verdict = max(verdict, r.beside(other, undone))
		}
		ids[id] = id != ""
		switch verdict {
		case same:
			out.Same++
			continue
		case twin:
			out.Twins = append(out.Twins, r)
			continue
		}
		facts[r.facts()] = append(facts[r.facts()], r)
		out.New = append(out.New, r)
	}
	return out, nil
}

// verdict is what a row is to one that is here.
type verdict int

const (
	alone verdict = iota
	twin
	same
)

// beside is what r is to another row with the same facts.
func (r Row) beside(other Row, undone map[string]bool) verdict {
	switch {
	case r["undo_of"] != "" || other["undo_of"] != "":
		return alone
	case r["id"] == "" || other["id"] == "":
		if strings.TrimSpace(r["note"]) == strings.TrimSpace(other["note"]) {
			return same
		}
		return alone
	case undone[other["id"]] || r["event"] == string(fieldlog.Inspection):
		return alone
	case r.device() != other.device():
		return twin
	}
	return alone // one device wrote it twice and was asked
}

// Exported is the record to send.
type Exported struct {
	CSV  string `json:"csv"`
	Rows int    `json:"rows"`
}

func (b *Book) export(yard string) (Exported, error) {
	var rows []Row
	for _, r := range b.rows {
		if yard == "" || fieldlog.SameName(r["yard"]) == fieldlog.SameName(yard) {
			rows = append(rows, r)
		}
	}
	text, err := written(rows)
	return Exported{text, len(rows)}, err
}

// reading is the rows as a record, read once until they change.
type reading struct {
	*fieldlog.Record
	stands map[fieldlog.Colony]int // where a hive stands in its row, as last written
}

func (b *Book) reading() (*reading, error) {
	if b.read != nil {
		return b.read, nil
	}
	text, err := written(b.rows)
	if err != nil {
		return nil, err
	}
	rec, err := fieldlog.Read("this phone", strings.NewReader(text))
	if err != nil {
		return nil, err
	}
	r := &reading{rec, map[fieldlog.Colony]int{}}
	for _, e := range rec.ByDate() {
		if n, err := strconv.Atoi(e.Stand); err == nil && e.Gone == 0 {
			r.stands[fieldlog.Of(e)] = n
		}
	}
	b.read = r
	return r, nil
}

// readOn is the reading without the rows that are so far from a day that no
// answer can be worked out from them, which the doubts of the day tell of.
func (b *Book) readOn(day sampling.Date) (*reading, error) {
	r, err := b.reading()
	if err != nil || day.IsZero() {
		return r, err
	}
	rec, _ := r.Usable(day)
	return &reading{rec, r.stands}, nil
}

func (r *reading) yards() []string {
	out := []string{}
	for _, k := range r.Colonies() {
		if !slices.ContainsFunc(out, func(y string) bool { return fieldlog.SameName(y) == fieldlog.SameName(k.Yard) }) {
			out = append(out, k.Yard)
		}
	}
	return out
}

// hives are the hives of a yard in stand order: those that say where they
// stand, then the others in the order in which they came into the record. Those
// that are no more on a day are left out.
func (r *reading) hives(yard string, day sampling.Date) []fieldlog.Colony {
	var out []fieldlog.Colony
	for _, k := range r.Colonies() {
		if fieldlog.SameName(k.Yard) == fieldlog.SameName(yard) && r.Ended(k, day).IsZero() {
			out = append(out, k)
		}
	}
	slices.SortStableFunc(out, func(a, b fieldlog.Colony) int {
		x, y := r.stands[identity(a)], r.stands[identity(b)]
		if x == 0 || y == 0 {
			return cmp.Compare(y, x) // those that say so first
		}
		return cmp.Compare(x, y)
	})
	return out
}

// identity is a colony in the one spelling of its names.
func identity(k fieldlog.Colony) fieldlog.Colony {
	return fieldlog.Colony{Yard: fieldlog.SameName(k.Yard), Name: fieldlog.SameName(k.Name)}
}

// left says which rows could not be read.
func (r *reading) left() []string {
	n := 0
	for _, p := range r.Problems {
		if !p.Warning {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	return []string{show.Many(n, "row", "rows") + " on this phone cannot be read and are left out."}
}
