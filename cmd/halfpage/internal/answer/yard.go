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
	look   *decide.Look        // nil until an answer is asked for
	found  map[string]decide.Standing
}

// look is a yard on a day, as it was last seen when nothing has changed.
func (b *Book) look(yard string, day sampling.Date, extra ...Row) (*seen, error) {
	same := b.seen != nil && b.seen.yard == fieldlog.SameName(yard) && b.seen.day == day
	if same && len(extra) == 0 {
		return b.seen, nil
	}
	r := *b.rules
	rec, err := b.readOn(day)
	if err != nil {
		return nil, err
	}
	if len(extra) > 0 {
		other := Book{rows: append(slices.Clone(b.rows), extra...)}
		if rec, err = other.readOn(day); err != nil {
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
	s := &seen{yard: fieldlog.SameName(yard), day: day, apiary: decide.Apiary{Rules: r.Rules, Memory: &b.memory}, unread: map[string][]string{}, found: map[string]decide.Standing{}}
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
	place := s.place(hive)
	if place < 0 {
		return say.Standing{}, refuse("there is no hive %s on this phone", hive)
	}
	found, err := s.of(place)
	if err != nil {
		return say.Standing{}, err
	}
	return say.NewStanding(found)
}

// place is where a hive is in the apiary, -1 when it is not there.
func (s *seen) place(hive string) int {
	name := fieldlog.SameName(hive)
	return slices.IndexFunc(s.apiary.Colonies, func(c decide.Colony) bool { return fieldlog.SameName(c.Name) == name })
}

// of judges one colony of the apiary, once.
func (s *seen) of(place int) (decide.Standing, error) {
	name := fieldlog.SameName(s.apiary.Colonies[place].Name)
	if known, ok := s.found[name]; ok {
		return known, nil
	}
	if err := s.see(); err != nil {
		return decide.Standing{}, err
	}
	known, err := s.look.Of(place)
	if err == nil {
		s.found[name] = known
	}
	return known, err
}

// living is of, when the hive was there on the day; a hive that was written down
// later is none of its answers.
func (s *seen) living(hive string) (known decide.Standing, ok bool, err error) {
	place := s.place(hive)
	if place < 0 {
		return known, false, nil
	}
	if err := s.see(); err != nil || !s.look.Lives(place) {
		return known, false, err
	}
	known, err = s.of(place)
	return known, true, err
}

func (s *seen) see() error {
	if s.look != nil {
		return nil
	}
	l, err := s.apiary.Look(s.day)
	if err == nil {
		s.look = &l
	}
	return err
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

// hives is the first screen before anything was worked out: which hives there are.
func (b *Book) hives(yard string, day sampling.Date) (*Yard, error) {
	rec, err := b.readOn(day)
	if err != nil {
		return nil, err
	}
	out := newYard(rec, yard, day)
	for _, k := range rec.hives(yard, day) {
		out.Hives = append(out.Hives, Hive{Name: k.Name})
	}
	return out, nil
}

func newYard(rec *reading, yard string, day sampling.Date) *Yard {
	return &Yard{Yards: rec.yards(), Yard: yard, Day: day, DayText: say.ShortDay(day), Hives: []Hive{}, Late: []Due{}, Ahead: []Due{}, Treated: []Due{}, Doubts: []string{}}
}

// Part is some hives of a yard: a large one is worked out in parts, so that what
// is tapped meanwhile is answered between two of them.
type Part struct {
	Next  int    `json:"next"` // where the next part begins, 0 when there is none
	Hives []Hive `json:"hives"`
}

// partHives is how many hives a part has.
const partHives = 6

// part works on from a place: first every hive is replayed, then every hive is
// judged.
func (b *Book) part(yard string, day sampling.Date, from int) (*Part, error) {
	rec, err := b.readOn(day)
	if err != nil {
		return nil, err
	}
	s, err := b.look(yard, day)
	if err != nil {
		return nil, err
	}
	of := rec.hives(yard, day)
	if from < 0 || from >= 2*len(of) {
		return nil, refuse("there is no part %d of %d hives", from, len(of))
	}
	out := &Part{Hives: []Hive{}, Next: from + partHives}
	for i := from; i < min(out.Next, 2*len(of)); i++ {
		name := of[i%len(of)].Name
		if i < len(of) {
			if place := s.place(name); place >= 0 {
				if err := s.apiary.Prepare(place, day); err != nil {
					return nil, err
				}
			}
			continue
		}
		known, ok, err := s.living(name)
		if err != nil {
			return nil, err
		}
		out.Hives = append(out.Hives, newYard(rec, yard, day).add(name, known, ok))
	}
	if out.Next >= 2*len(of) {
		out.Next = 0
	}
	return out, nil
}

// add puts a hive on the lists of a yard. One that was not there on the day has
// nothing to say.
func (out *Yard) add(name string, known decide.Standing, lives bool) Hive {
	if !lives {
		out.Hives = append(out.Hives, Hive{Name: name, Do: "new"})
		return out.Hives[len(out.Hives)-1]
	}
	row := Hive{Name: name, Do: say.Standing{Standing: known}.Row(), Counted: known.Counted == out.Day, Treats: known.Call.Treats()}
	for _, d := range known.Duties() {
		due := Due{name, d.Day, say.ShortDay(d.Day), d.Late(out.Day), dutyWords(d)}
		switch {
		case d.Day <= out.Day:
			row.Late, row.Today = max(row.Late, due.Late), true
			out.Late = append(out.Late, due)
		case d.Day <= out.Day+ahead:
			out.Ahead = append(out.Ahead, due)
		}
	}
	if what := courseWords(known); what != "" {
		out.Treated = append(out.Treated, Due{Hive: name, Day: known.Course.First, DayText: say.ShortDay(known.Course.First), What: what})
	}
	out.Hives = append(out.Hives, row)
	return row
}

func (b *Book) yard(yard string, day sampling.Date) (*Yard, error) {
	rec, err := b.readOn(day)
	if err != nil {
		return nil, err
	}
	s, err := b.look(yard, day)
	if err != nil {
		return nil, err
	}
	out := newYard(rec, yard, day)
	supers := map[decide.SupersState]bool{}
	of := rec.hives(yard, day)
	for _, k := range of {
		known, ok, err := s.living(k.Name)
		if err != nil {
			return nil, err
		}
		if ok {
			supers[known.Supers] = true
		}
		out.add(k.Name, known, ok)
	}
	if len(supers) == 1 && !supers[decide.SupersUnknown] {
		for state := range supers {
			out.Supers = string(state)
		}
	}
	slices.SortStableFunc(out.Late, func(a, b Due) int { return cmp.Compare(b.Late, a.Late) })
	slices.SortStableFunc(out.Ahead, func(a, b Due) int { return cmp.Compare(a.Day, b.Day) })
	whole, err := b.reading()
	if err != nil {
		return nil, err
	}
	out.Doubts = append(append([]string{}, whole.left()...), whole.Doubts(day, of...)...)
	for _, k := range of {
		out.Doubts = append(out.Doubts, s.unread[fieldlog.SameName(k.Name)]...)
	}
	return out, nil
}
