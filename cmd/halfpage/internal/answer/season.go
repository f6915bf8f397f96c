package answer

import (
	"slices"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// Season is a hive's mites over its season as a picture, and its rows.
type Season struct {
	SVG  string     `json:"svg"`
	Rows []Happened `json:"rows"` // the latest first
}

// Happened is a row of the record in words.
type Happened struct {
	ID      string `json:"id"`
	DayText string `json:"day_text"`
	What    string `json:"what"`
	Note    string `json:"note"`
}

// How far the picture reaches, and at how many days it is worked out: it is a
// phone that works it out.
const (
	seasonBack  = 270
	seasonAhead = 60
	seasonSteps = 20
)

func (b *Book) season(yard, hive string, day sampling.Date) (*Season, error) {
	s, k, err := b.lookAt(yard, hive, day)
	if err != nil {
		return nil, err
	}
	rec, err := b.reading()
	if err != nil {
		return nil, err
	}
	own, err := rec.History(yard, hive)
	if err != nil {
		return nil, err
	}
	chart, err := chartOf(s.apiary.Colonies[s.place(hive)], k, own)
	if err != nil {
		return nil, err
	}
	out := &Season{Rows: []Happened{}}
	for _, e := range slices.Backward(own) {
		out.Rows = append(out.Rows, Happened{e.ID, say.ShortDay(e.Date), eventWords(e), e.Note})
	}
	out.SVG = string(chart.NarrowSVG(k.Colony))
	return out, nil
}

// chartOf is what was known of a colony on the days behind it, by its own record
// as it stood then, and what is to be expected of it from today on.
func chartOf(c decide.Colony, k say.Standing, own []fieldlog.Event) (show.TimeChart, error) {
	t := show.TimeChart{Today: k.Day, Band: "8 of 10 chances", LineName: "act"}
	add := func(day sampling.Date, d sampling.Density) {
		q := d.Quantiles(0.1, 0.5, 0.9)
		t.Dates = append(t.Dates, day)
		t.Low, t.Mid, t.High = append(t.Low, 100*q[0]), append(t.Mid, 100*q[1]), append(t.High, 100*q[2])
		t.Line = append(t.Line, k.LineOn(day).Act)
	}
	first := max(c.Began, k.Day-seasonBack)
	var days []sampling.Date
	for d := first; d < k.Day; d += max((k.Day-first)/seasonSteps, 3) {
		days = append(days, d)
	}
	for _, e := range own {
		if e.Kind == fieldlog.Count && e.Date >= first && e.Date < k.Day {
			days = append(days, max(e.Date-1, first), e.Date)
		}
	}
	slices.Sort(days)
	for _, d := range slices.Compact(days) {
		then := c.History
		then.Ahead = 1
		state, err := then.On(d)
		if err != nil {
			return t, err
		}
		add(d, state.Known)
	}
	add(k.Day, k.Known)
	for d := k.Day + 10; d <= k.Day+seasonAhead; d += 10 {
		known, err := k.Forecast(d)
		if err != nil {
			break // a colony that nothing can be said of so far ahead
		}
		add(d, known)
	}
	for _, e := range own {
		if e.Date < first || e.Date > k.Day+seasonAhead {
			continue
		}
		switch {
		case e.Kind == fieldlog.Count:
			if bees, _, err := c.Assumptions.BeesOf(*e.Count); err == nil && bees > 0 && e.Count.Method.Kind() == sampling.BeeSample {
				t.Seen = append(t.Seen, show.Seen{Date: e.Date, Level: 100 * float64(e.Count.Mites) / bees})
			}
		case e.Kind != fieldlog.Inspection:
			t.Events = append(t.Events, show.Event{Date: e.Date, Label: eventWords(e)})
		}
	}
	return t, nil
}

// eventWords is a row of the record in a few words.
func eventWords(e fieldlog.Event) string {
	switch e.Kind {
	case fieldlog.Count:
		text := e.Count.String()
		if e.Count.Method.Kind() == sampling.BeeSample {
			return e.Count.Method.Title() + ": " + show.Many(e.Count.Mites, "mite", "mites") + " in " + amountWords(*e.Count)
		}
		return text
	case fieldlog.Treatment:
		if t, err := e.Treatment.Find(); err == nil {
			return t.Called
		}
	}
	return string(e.Kind)
}

func amountWords(c sampling.Count) string {
	switch {
	case c.Amount.Unit == sampling.Cups && c.Amount.Value == 0.5, c.Amount.Unit == sampling.Millilitres && c.Amount.Value == 120:
		return "half a cup"
	case c.Amount.Unit == sampling.Cups && c.Amount.Value == 1:
		return "one cup"
	case c.Amount.Unit == sampling.Bees:
		return show.Plain(c.Amount.Value) + " bees"
	}
	return show.Plain(c.Amount.Value) + " " + string(c.Amount.Unit)
}
