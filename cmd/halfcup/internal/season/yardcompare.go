package season

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// comparison is two seasons of a yard; its JSON is halfcup.yard-compare/1.
type comparison struct {
	Yard    string       `json:"yard"`
	Level   float64      `json:"level"`
	Seasons [2]seasonWas `json:"seasons"` // the earlier one first
}

// seasonWas is how a season of a yard went, up to its end or to the day asked.
type seasonWas struct {
	Season          int            `json:"season"`
	Until           sampling.Date  `json:"until"`
	Colonies        int            `json:"colonies"`
	Counts          int            `json:"counts"`
	Visits          int            `json:"visits"`
	Peak            *peakJSON      `json:"peak"` // null when nothing was counted
	Treatments      []treatmentWas `json:"treatments"`
	Killed          int            `json:"killed"`
	WouldHaveKilled int            `json:"would_have_killed"`
	Lost            []string       `json:"lost"`
}

// peakJSON is the highest mean of the yard on a day of counting.
type peakJSON struct {
	Date sampling.Date `json:"date"`
	Mean say.Range     `json:"mean"` // mites per hundred
}

type treatmentWas struct {
	Treatment string `json:"treatment"`
	Colonies  int    `json:"colonies"`
	Rounds    int    `json:"rounds"` // in all colonies together
}

func compareSeasons(sh *line.Shell, c *cli.Context, y *yardReading) error {
	year, err := line.Whole(c, "compare", 1900, 2999)
	if err != nil {
		return err
	}
	if year == y.season.year {
		return line.BadValue("compare", strconv.Itoa(year), "this is the season itself", "give another year, or ask for a day of another season with --date")
	}
	hemisphere, err := ask.ReadHemisphere(sh, c)
	if err != nil {
		return err
	}
	other := seasonOfYear(year, hemisphere)
	if other.from > y.day {
		return line.BadValue("compare", strconv.Itoa(year), "that season is still to come", "give an earlier year")
	}
	out := comparison{Yard: y.name, Level: y.level}
	spans := [2]seasonSpan{other, y.season}
	if other.year > y.season.year {
		spans = [2]seasonSpan{y.season, other}
	}
	for i, s := range spans {
		if out.Seasons[i], err = y.seasonWas(s, y.day); err != nil {
			return err
		}
		if out.Seasons[i].Colonies == 0 {
			return line.BadValue("compare", strconv.Itoa(year), fmt.Sprintf("the record has nothing of the season of %d", s.year), "compare with a year that is in it")
		}
	}
	return sh.Write(line.Answer{
		Schema:  "halfcup.yard-compare/1",
		JSON:    out,
		CSV:     out.csv(),
		Text:    func(w io.Writer) { out.print(w, sh.Page) },
		Closing: out.closing(),
	})
}

func (y *yardReading) seasonWas(span seasonSpan, day sampling.Date) (seasonWas, error) {
	t := y.tallyOf(span, day)
	s := seasonWas{
		Season: span.year, Until: min(day, span.to), Colonies: t.Colonies, Counts: t.Counts, Visits: len(t.Visits),
		Treatments: []treatmentWas{}, Killed: t.Killed, WouldHaveKilled: t.WouldHaveKilled, Lost: append([]string{}, t.Lost...),
	}
	for _, g := range t.Treatments {
		s.Treatments = append(s.Treatments, treatmentWas{g.Name.String(), g.Colonies, g.Rounds})
	}
	for _, d := range t.Counted {
		mean, err := y.meanOn(d)
		if err != nil {
			return s, err
		}
		if s.Peak == nil || mean.Middle > s.Peak.Mean.Median {
			s.Peak = &peakJSON{d, say.RangeOf(mean)}
		}
	}
	return s, nil
}

// meanOn is the mean of the yard as it was known on a day, in mites per
// hundred.
func (y *yardReading) meanOn(day sampling.Date) (decide.Range, error) {
	colonies, _, err := y.replay(day)
	if err != nil {
		return decide.Range{}, err
	}
	if len(colonies) == 0 {
		return decide.Range{}, nil // the count was the last that happened to it
	}
	together, err := y.population(colonies)
	if err != nil {
		return decide.Range{}, err
	}
	return y.meanOf(together)
}

func (c comparison) print(w io.Writer, p show.Page) {
	name := "The yard"
	if c.Yard != "" {
		name += " " + show.Printable(c.Yard)
	}
	fmt.Fprint(w, p.Wrap(name+", two seasons.", 0), "\n")
	a, b := c.Seasons[0], c.Seasons[1]
	t := show.Table{Columns: []show.Column{{Name: ""}, {Name: fmt.Sprint(a.Season), Right: true}, {Name: fmt.Sprint(b.Season), Right: true}}}
	row := func(what string, of func(seasonWas) string) { t.Rows = append(t.Rows, []string{what, of(a), of(b)}) }
	row("up to", func(s seasonWas) string { return show.Day(s.Until) })
	row("colonies", func(s seasonWas) string { return fmt.Sprint(s.Colonies) })
	row("counts", func(s seasonWas) string { return fmt.Sprint(s.Counts) })
	row("highest mean of the yard, per hundred", seasonWas.peakWords)
	row("on", func(s seasonWas) string {
		if s.Peak == nil {
			return "–"
		}
		return show.Day(s.Peak.Date)
	})
	for _, name := range c.treatments() {
		row(name+", colonies", func(s seasonWas) string { return fmt.Sprint(s.given(name).Colonies) })
		row(name+", rounds in all", func(s seasonWas) string { return fmt.Sprint(s.given(name).Rounds) })
	}
	row("bees killed by washes", func(s seasonWas) string { return fmt.Sprint(s.Killed) })
	row("a wash of all at every visit would have", func(s seasonWas) string { return fmt.Sprint(s.WouldHaveKilled) })
	row("colonies lost", func(s seasonWas) string { return fmt.Sprint(len(s.Lost)) })
	fmt.Fprint(w, p.Table(t))
	for _, s := range c.Seasons {
		if len(s.Lost) > 0 {
			fmt.Fprint(w, p.Hang(fmt.Sprintf("Lost in %d: %s.", s.Season, show.List(printable(s.Lost))), 0, 2))
		}
	}
}

func printable(names []string) []string {
	var out []string
	for _, n := range names {
		out = append(out, show.Printable(n))
	}
	return out
}

func (s seasonWas) peakWords() string {
	if s.Peak == nil {
		return "–"
	}
	m := s.Peak.Mean
	f := show.Levels(m.Low, m.High, m.Low, m.Median, m.High)
	return fmt.Sprintf("%s (%s–%s)", f[1], f[0], f[2])
}

// treatments names what was given in either season.
func (c comparison) treatments() []string {
	var out []string
	seen := map[string]bool{}
	for _, s := range c.Seasons {
		for _, t := range s.Treatments {
			if !seen[t.Treatment] {
				seen[t.Treatment] = true
				out = append(out, t.Treatment)
			}
		}
	}
	return out
}

func (s seasonWas) given(treatment string) treatmentWas {
	for _, t := range s.Treatments {
		if t.Treatment == treatment {
			return t
		}
	}
	return treatmentWas{}
}

func (c comparison) closing() string {
	a, b := c.Seasons[0], c.Seasons[1]
	if a.Peak == nil || b.Peak == nil {
		return "One of the seasons has no counts, so its mites cannot be set beside the other's."
	}
	high, low := a, b
	if b.Peak.Mean.Median > a.Peak.Mean.Median {
		high, low = b, a
	}
	if high.Peak.Mean.Low <= low.Peak.Mean.High {
		return fmt.Sprintf("The highest mean was that of %d, but the two are too close to call one season worse.", high.Season)
	}
	return fmt.Sprintf("The mites were higher in %d: at its peak %s times the mean of %d.", high.Season, show.Level(high.Peak.Mean.Median/low.Peak.Mean.Median), low.Season)
}

func (c comparison) csv() show.CSV {
	t := show.CSV{Head: []string{"season", "until", "colonies", "counts", "visits", "peak_date", "peak_median", "peak_low", "peak_high", "treatments", "killed", "would_have_killed", "lost"}}
	for _, s := range c.Seasons {
		var given []string
		for _, g := range s.Treatments {
			given = append(given, fmt.Sprintf("%s: %d colonies, %d rounds", g.Treatment, g.Colonies, g.Rounds))
		}
		row := []any{s.Season, s.Until, s.Colonies, s.Counts, s.Visits, "", "", "", ""}
		if s.Peak != nil {
			row[5], row[6], row[7], row[8] = s.Peak.Date, s.Peak.Mean.Median, s.Peak.Mean.Low, s.Peak.Mean.High
		}
		t.Rows = append(t.Rows, append(row, strings.Join(given, "; "), s.Killed, s.WouldHaveKilled, strings.Join(s.Lost, "; ")))
	}
	return t
}
