package season

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// yard is a yard of the record on a day: what decide says of it, and what of
// that is asked again and again.
type yard struct {
	ask.Rules
	decide.YardStanding

	record *fieldlog.Record
	name   string // "" when the record does not name it
	day    sampling.Date
	level  float64
	apiary decide.Apiary
	unread []string

	colonies []*colony // those that live, as they stand
	gone     []decide.Colony
}

// colony is one colony of a yard.
type colony struct {
	say.Standing
	decide.Colony

	name   string
	place  int             // in the apiary
	stand  string          // where it stands, as the record says; else its number in the record
	last   *sampling.Count // the last count, nil when there is none
	duties []decide.Duty
}

// yardNames are the yards of a record, in the order in which they first stand
// in it.
func yardNames(rec *fieldlog.Record) []string {
	var out []string
	for _, k := range rec.Colonies() {
		if !slices.ContainsFunc(out, func(n string) bool { return fieldlog.SameName(n) == fieldlog.SameName(k.Yard) }) {
			out = append(out, k.Yard)
		}
	}
	return out
}

// askedYards are the yards that are meant: the one that was named, or all.
func askedYards(rec *fieldlog.Record, c *cli.Context) ([]string, error) {
	names := yardNames(rec)
	if len(names) == 0 {
		return nil, &show.Problem{File: rec.Path, What: "there is no colony in this record", Remedy: "write down a count or an inspection with halfcup log add"}
	}
	if !c.IsSet("yard") {
		return names, nil
	}
	for _, n := range names {
		if fieldlog.SameName(n) == fieldlog.SameName(c.String("yard")) {
			return []string{n}, nil
		}
	}
	return nil, line.BadValue("yard", c.String("yard"), "the record has no such yard", "it has "+show.List(called(names)))
}

// called gives a yard without a name something to be called by.
func called(names []string) []string {
	out := slices.Clone(names)
	for i, n := range out {
		if n == "" {
			out[i] = "one without a name"
		}
	}
	return out
}

// coloniesOf are those of a yard, as the record writes them.
func coloniesOf(rec *fieldlog.Record, yard string) []fieldlog.Colony {
	return slices.DeleteFunc(rec.Colonies(), func(k fieldlog.Colony) bool {
		return fieldlog.SameName(k.Yard) != fieldlog.SameName(yard)
	})
}

// readYard asks a yard of the record how it stands on a day.
func readYard(r ask.Rules, rec *fieldlog.Record, name string, day sampling.Date, level float64) (*yard, error) {
	y := &yard{Rules: r, record: rec, name: name, day: day, level: level}
	var err error
	if y.apiary, y.unread, err = r.Apiary(rec, name, day); err != nil {
		return nil, err
	}
	if y.YardStanding, err = y.apiary.Yard(day); err != nil {
		return nil, err
	}
	next := 0
	for i, k := range y.apiary.Colonies {
		// The standings are those of the colonies that live, in their order.
		if next == len(y.Standings) || y.Standings[next].Colony != k.Name {
			if !k.Gone.IsZero() && k.Gone <= day {
				y.gone = append(y.gone, k)
			}
			continue
		}
		said, err := say.NewStanding(y.Standings[next])
		if err != nil {
			return nil, err
		}
		next++
		c := &colony{Standing: said, Colony: k, name: show.Printable(k.Name), place: i, duties: said.Duties()}
		for j, count := range k.Counts {
			if count.Date <= day && (c.last == nil || count.Date >= c.last.Date) {
				c.last = &k.Counts[j] // a fall tells of an earlier day than its own
			}
		}
		y.colonies = append(y.colonies, c)
	}
	return y, y.stands()
}

// stands puts the colonies in the order in which they stand: by the record's
// column of that name, where it has one.
func (y *yard) stands() error {
	for i, k := range y.colonies {
		events, err := y.record.History(y.name, k.Colony.Name)
		if err != nil {
			return err
		}
		for _, e := range events {
			if s := y.record.Cell(e, "stand"); s != "" {
				k.stand = show.Printable(s)
			}
		}
		if k.stand == "" {
			k.stand = strconv.Itoa(i + 1)
		}
	}
	if !slices.ContainsFunc(y.record.Columns(), func(c string) bool { return fieldlog.SameName(c) == "stand" }) {
		return nil
	}
	slices.SortStableFunc(y.colonies, func(a, b *colony) int {
		m, errA := strconv.ParseFloat(a.stand, 64)
		n, errB := strconv.ParseFloat(b.stand, 64)
		if errA == nil && errB == nil {
			return cmp.Compare(m, n)
		}
		return cmp.Compare(a.stand, b.stand)
	})
	return nil
}

// urgency is how pressing a call is; the higher, the more.
func urgency(s decide.Standing) int {
	switch {
	case s.Call == decide.TakeOut:
		return 5
	case s.Call.Treats():
		return 4
	case s.Call == decide.CountAgain:
		return 3
	case s.Call == decide.UnderTreatment:
		return 2
	case s.Call == decide.WaitForPlanned:
		return 1
	}
	return 0
}

// byUrgency puts the most pressing first.
func byUrgency(a, b *colony) int {
	return cmp.Or(cmp.Compare(urgency(b.Standing.Standing), urgency(a.Standing.Standing)), cmp.Compare(b.Overdue, a.Overdue), cmp.Compare(b.ChanceOverAct, a.ChanceOverAct))
}

// tally counts what is to do in a yard.
type tally struct {
	Treat        int `json:"treat"`
	Count        int `json:"count"`
	TakeOut      int `json:"take_out"`
	BeingTreated int `json:"being_treated"` // or treated, and too early to count
	Wait         int `json:"wait"`
	NotYet       int `json:"not_yet"` // no treatment yet, and near the line
	Fine         int `json:"fine"`
	Late         int `json:"late"` // duties of any kind

	shut int // of the fine ones, those that are left shut though they may be over the line
}

func (y *yard) tally() tally {
	var t tally
	for _, k := range y.colonies {
		switch {
		case k.Call == decide.TakeOut:
			t.TakeOut++
		case k.Call.Treats():
			t.Treat++
		case k.Call == decide.CountAgain:
			t.Count++
		case k.Call == decide.UnderTreatment:
			t.BeingTreated++
		case k.Call == decide.WaitForPlanned:
			t.Wait++
		case k.Standing.NearLine():
			t.NotYet++
		default:
			t.Fine++
			if k.OpenInWinter() {
				t.shut++
			}
		}
		for _, d := range k.duties {
			if d.Late(y.day) > 0 {
				t.Late++
			}
		}
	}
	return t
}

// words is the tally in a sentence, what presses most first.
func (t tally) words() string {
	var parts []string
	for _, p := range []struct {
		what string
		n    int
	}{{"take out", t.TakeOut}, {"treat", t.Treat}, {"count", t.Count}, {"being treated", t.BeingTreated}, {"planned", t.Wait}, {"not yet", t.NotYet}, {"leave shut", t.shut}, {"fine", t.Fine - t.shut}} {
		if p.n > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", p.what, p.n))
		}
	}
	if parts == nil {
		return "no colony lives here"
	}
	out := parts[0]
	for _, p := range parts[1:] {
		out += ", " + p
	}
	return out
}

// supers is whether honey supers are on, of all colonies together.
func (y *yard) supers() string {
	n := map[decide.SupersState]int{}
	for _, k := range y.colonies {
		n[k.Standing.Supers]++
	}
	switch on := n[decide.SupersOn]; {
	case on > 0 && on < len(y.colonies):
		return fmt.Sprintf("supers: on %d of %d", on, len(y.colonies))
	case on > 0:
		return "supers: on"
	case n[decide.SupersUnknown] == len(y.colonies):
		return "supers: unknown"
	case n[decide.SupersUnknown] > 0:
		return fmt.Sprintf("supers: off, %d unknown", n[decide.SupersUnknown])
	}
	return "supers: off"
}

// title is the yard and the day that a sentence begins with.
func (y *yard) title() string {
	if y.name == "" {
		return say.ShortDay(y.day)
	}
	return show.Printable(y.name) + ", " + say.ShortDay(y.day)
}
