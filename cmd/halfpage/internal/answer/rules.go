package answer

import (
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/decide"
	"halfcup/sampling"
)

// Settings are what a beekeeper may say of the year and the line. What is empty
// is as the program has it.
type Settings struct {
	Hemisphere string            `json:"hemisphere"` // north or south
	Year       string            `json:"year"`       // set of years, such as temperate
	MostBrood  string            `json:"most_brood"` // month and day, 05-20
	Starts     map[string]string `json:"starts"`     // first days of seasons, 03-01
	Lines      string            `json:"lines"`      // set of lines
	Act        float64           `json:"act"`        // an own line, mites per hundred; 0 for that of the set
	Without    []sampling.Method `json:"without"`    // no count by these is advised
	CO2        bool              `json:"co2"`        // carbon dioxide is at hand
}

// rules are what every colony is read and judged by.
type rules struct {
	decide.Rules
	base decide.Colony // to which nothing happened
}

func (s Settings) rules() (rules, error) {
	r := rules{Rules: decide.Rules{Costs: decide.DefaultCosts(), MissCost: decide.DefaultMissCost, MinWorth: decide.DefaultMinWorth}}
	r.Without, r.CO2 = s.Without, s.CO2
	own := decide.YearSettings{Set: s.Year, Hemisphere: decide.North, MostBrood: s.MostBrood, Starts: map[decide.Season]string{}}
	if s.Hemisphere != "" {
		own.Hemisphere = decide.Hemisphere(s.Hemisphere)
	}
	for season, start := range s.Starts {
		if start != "" {
			own.Starts[decide.Season(season)] = start
		}
	}
	year, err := decide.NewYear(own)
	if err != nil {
		return r, err
	}
	name := s.Lines
	if name == "" {
		name = decide.DefaultThresholds
	}
	if r.Lines, err = decide.ThresholdSet(name); err != nil {
		return r, err
	}
	if s.Act > 0 {
		for i := range r.Lines {
			t := &r.Lines[i]
			t.Act, t.Watch = s.Act, min(t.Watch, s.Act)
			t.Set, t.Source, t.Kind = "own", "your own line", "your own"
		}
	}
	arrivals, _ := decide.Arrivals(decide.DefaultArrivals)
	r.base.History = decide.History{Assumptions: sampling.DefaultAssumptions(), Rates: decide.DefaultRates(), Year: year, Arrivals: arrivals}
	return r, nil
}

// Lists are the words that the page offers to choose from.
type Lists struct {
	Methods    []Method    `json:"methods"`
	Treatments []Treatment `json:"treatments"`
	Years      []string    `json:"years"`
	Lines      []string    `json:"lines"`
	Signs      []string    `json:"signs"` // what no count is to be waited for
	Gloves     []string    `json:"gloves"`
	Columns    []string    `json:"columns"`
	Events     []string    `json:"events"` // what can be written down besides counts
	Undo       string      `json:"undo"`   // the event of a row that takes another back
}

// Method is a way of counting.
type Method struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	Fall  bool   `json:"fall"` // mites on a board, not bees in a jar
}

// Treatment is what can be written down as given.
type Treatment struct {
	Name        string   `json:"name"`
	Called      string   `json:"called"`
	Active      string   `json:"active"`
	Application string   `json:"application"`
	Cautions    []string `json:"cautions"`
}

func lists() Lists {
	out := Lists{Years: decide.YearSets(), Signs: say.Cautions("signs"), Gloves: say.Cautions("phone"), Columns: Columns(), Undo: string(fieldlog.Undo)}
	for _, k := range fieldlog.Kinds() {
		if k != fieldlog.Count && k != fieldlog.Renamed && k != fieldlog.Undo {
			out.Events = append(out.Events, string(k))
		}
	}
	for _, m := range sampling.Methods() {
		out.Methods = append(out.Methods, Method{string(m), m.Title(), m.Kind() == sampling.Fall})
	}
	for _, t := range sampling.Treatments() {
		out.Treatments = append(out.Treatments, Treatment{t.Slug, t.Called, t.Active, t.Application, say.Cautions(t.Slug)})
	}
	for _, t := range decide.Thresholds() {
		if n := len(out.Lines); n == 0 || out.Lines[n-1] != t.Set {
			out.Lines = append(out.Lines, t.Set)
		}
	}
	return out
}
