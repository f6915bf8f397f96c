package answer

import (
	"cmp"
	"slices"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/decide"
	"halfcup/sampling"
)

// seen is a yard on a day with the answers that were worked out for it.
type seen struct {
	yard   string
	day    sampling.Date
	apiary decide.Apiary
	unread map[string][]string // by the name of the colony in one spelling
	all    bool                // every living colony is in found
	found  map[string]decide.Standing
}

// look is a yard on a day, as it was last seen when nothing has changed.
func (b *Book) look(yard string, day sampling.Date, extra ...Row) (*seen, error) {
	same := b.seen != nil && b.seen.yard == fieldlog.SameName(yard) && b.seen.day == day
	if same && len(extra) == 0 {
		return b.seen, nil
	}
	r := *b.rules
	rec, err := b.reading()
	if err != nil {
		return nil, err
	}
	if len(extra) > 0 {
		other := Book{rows: append(slices.Clone(b.rows), extra...)}
		if rec, err = other.reading(); err != nil {
			return nil, err
		}
	}
	if r.base.Assumptions, err = history.Calibrated(rec.Record, r.base, day); err != nil {
		return nil, err
	}
	colonies, err := history.Yard(rec.Record, yard, r.base, day)
	if err != nil {
		return nil, err
	}
	s := &seen{yard: fieldlog.SameName(yard), day: day, apiary: decide.Apiary{Rules: r.Rules}, unread: map[string][]string{}, found: map[string]decide.Standing{}}
	for _, c := range colonies {
		s.apiary.Colonies = append(s.apiary.Colonies, c.Colony)
		s.unread[fieldlog.SameName(c.Name)] = c.Unread
	}
	if len(extra) == 0 {
		b.seen = s
	}
	return s, nil
}

// lookAt is a yard on a day and one hive of it.
func (b *Book) lookAt(yard, hive string, day sampling.Date, extra ...Row) (*seen, say.Standing, error) {
	s, err := b.look(yard, day, extra...)
	if err != nil {
		return nil, say.Standing{}, err
	}
	k, err := s.standing(hive)
	return s, k, err
}

// standing is one hive of the yard.
func (s *seen) standing(hive string) (say.Standing, error) {
	name := fieldlog.SameName(hive)
	if known, ok := s.found[name]; ok {
		return say.NewStanding(known)
	}
	place := slices.IndexFunc(s.apiary.Colonies, func(c decide.Colony) bool { return fieldlog.SameName(c.Name) == name })
	if place < 0 {
		return say.Standing{}, &Refused{Problem{Error: "there is no hive " + hive + " on this phone"}}
	}
	found, err := s.apiary.Of(place, s.day)
	if err != nil {
		return say.Standing{}, err
	}
	s.found[name] = found
	return say.NewStanding(found)
}

func (s *seen) lookAtAll() error {
	if s.all {
		return nil
	}
	found, err := s.apiary.On(s.day)
	if err != nil {
		return err
	}
	for _, k := range found {
		s.found[fieldlog.SameName(k.Colony)] = k
	}
	s.all = true
	return nil
}

// Yard is the first screen: the hives in stand order with what to do at each.
type Yard struct {
	Yards   []string      `json:"yards"`
	Yard    string        `json:"yard"`
	Day     sampling.Date `json:"day"`
	DayText string        `json:"day_text"`
	Hives   []Hive        `json:"hives"`
	Late    []Due         `json:"late"` // and of today, the latest first
	Ahead   []Due         `json:"ahead"`
	Treated []Due         `json:"treated"` // something works or settles in these
	Supers  string        `json:"supers"`  // on, off, or "" when nobody said or hives differ
	Doubts  []string      `json:"doubts"`
}

// Hive is a row of the first screen.
type Hive struct {
	Name    string `json:"name"`
	Do      string `json:"do"`
	Late    int    `json:"late"`    // days that something should have been done ago
	Counted bool   `json:"counted"` // on this day
	Treats  bool   `json:"treats"`
	Today   bool   `json:"today"` // something is due today or late
}

// Due is something to do at a hive, or what is being done.
type Due struct {
	Hive    string        `json:"hive"`
	Day     sampling.Date `json:"day"`
	DayText string        `json:"day_text"`
	Late    int           `json:"late"`
	What    string        `json:"what"`
}

// ahead is how many days the list of what is due looks ahead.
const ahead = 60

func (b *Book) yard(yard string, day sampling.Date) (*Yard, error) {
	rec, err := b.reading()
	if err != nil {
		return nil, err
	}
	s, err := b.look(yard, day)
	if err != nil {
		return nil, err
	}
	if err := s.lookAtAll(); err != nil {
		return nil, err
	}
	out := &Yard{Yards: rec.yards(), Yard: yard, Day: day, DayText: say.ShortDay(day), Hives: []Hive{}, Late: []Due{}, Ahead: []Due{}, Treated: []Due{}}
	supers := map[decide.SupersState]bool{}
	var of []fieldlog.Colony
	for _, k := range rec.hives(yard, day) {
		of = append(of, k)
		known, ok := s.found[fieldlog.SameName(k.Name)]
		if !ok {
			out.Hives = append(out.Hives, Hive{Name: k.Name, Do: "new"})
			continue
		}
		supers[known.Supers] = true
		row := Hive{Name: k.Name, Do: say.Standing{Standing: known}.Row(), Counted: known.Counted == day, Treats: known.Call.Treats()}
		for _, d := range known.Duties() {
			due := Due{k.Name, d.Day, say.ShortDay(d.Day), d.Late(day), dutyWords(d)}
			switch {
			case d.Day <= day:
				row.Late, row.Today = max(row.Late, due.Late), true
				out.Late = append(out.Late, due)
			case d.Day <= day+ahead:
				out.Ahead = append(out.Ahead, due)
			}
		}
		if what := courseWords(known); what != "" {
			out.Treated = append(out.Treated, Due{Hive: k.Name, Day: known.Course.First, DayText: say.ShortDay(known.Course.First), What: what})
		}
		out.Hives = append(out.Hives, row)
	}
	if len(supers) == 1 && !supers[decide.SupersUnknown] {
		for state := range supers {
			out.Supers = string(state)
		}
	}
	slices.SortStableFunc(out.Late, func(a, b Due) int { return cmp.Compare(b.Late, a.Late) })
	slices.SortStableFunc(out.Ahead, func(a, b Due) int { return cmp.Compare(a.Day, b.Day) })
	out.Doubts = append(append([]string{}, rec.left()...), rec.Doubts(day, of...)...)
	for _, k := range of {
		out.Doubts = append(out.Doubts, s.unread[fieldlog.SameName(k.Name)]...)
	}
	return out, nil
}
