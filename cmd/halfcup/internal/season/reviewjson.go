package season

import (
	"fmt"
	"io"
	"math"
	"strings"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// reviewJSON is halfcup.review/1; what is not known is null.
type reviewJSON struct {
	Yard        string            `json:"yard"`
	Year        int               `json:"year"`
	From        sampling.Date     `json:"from"`
	To          sampling.Date     `json:"to"`
	Level       float64           `json:"level"`
	Colonies    []colonyBackJSON  `json:"colonies"`
	Courses     []courseBackJSON  `json:"courses"`
	Slow        []string          `json:"slow"` // the likeliest first
	Ranked      int               `json:"ranked"`
	SlowWrong   float64           `json:"slow_wrong_expected"`  // of those named
	SlowAlone   float64           `json:"slow_by_chance_alone"` // named, were all alike
	Figures     []taughtJSON      `json:"figures"`              // those that pairs would teach most about first
	Losses      []lossJSON        `json:"losses"`
	WinterOver  bool              `json:"winter_over"`
	NextYear    []string          `json:"next_year"`
	Assumptions []sampling.Source `json:"assumptions"`
}

type colonyBackJSON struct {
	Colony     string        `json:"colony"`
	Highest    show.Number   `json:"highest_per_hundred"`
	HighestOn  sampling.Date `json:"highest_on"`
	WeeksOver  float64       `json:"weeks_over"`
	FoundOver  int           `json:"counts_over"`
	WeeksKnown int           `json:"weeks_known"`
	Counts     int           `json:"counts"`
	BeesWashed float64       `json:"bees_washed"`
	Growth     *paceJSON     `json:"growth"`
	Courses    []leftJSON    `json:"courses"`
	Gone       sampling.Date `json:"gone"`
	Died       bool          `json:"died"`
}

// paceJSON is a factor a month beside a typical colony of the others.
type paceJSON struct {
	say.Range
	Slower float64 `json:"chance_slower"`
	Beside int     `json:"beside_colonies"`
	Alike  bool    `json:"treated_alike"`
}

type leftJSON struct {
	Course string        `json:"course"`
	Before show.Number   `json:"before_per_hundred"`
	Left   show.Number   `json:"left_per_hundred"`
	LeftOn sampling.Date `json:"left_on"`
}

type courseBackJSON struct {
	Course        string         `json:"course"`
	Treatment     string         `json:"treatment"`
	Active        string         `json:"active"`
	First         sampling.Date  `json:"first"`
	Last          sampling.Date  `json:"last"`
	CappedBrood   bool           `json:"capped_brood"`
	Colonies      []string       `json:"colonies"`
	Counted       []string       `json:"counted"`
	Reduction     show.Number    `json:"reduction_percent"`
	Low           show.Number    `json:"low_percent"`
	High          show.Number    `json:"high_percent"`
	Published     show.Number    `json:"published_percent"`
	PublishedLow  show.Number    `json:"published_low_percent"`
	PublishedHigh show.Number    `json:"published_high_percent"`
	Target        float64        `json:"target_percent"`
	Answer        *decide.Answer `json:"answer"`
	Failed        []string       `json:"failed"`
}

type taughtJSON struct {
	Method    sampling.Method  `json:"method"`
	Weather   sampling.Weather `json:"weather"`
	Broodless bool             `json:"broodless"`
	Counts    int              `json:"counts"`
	Pairs     int              `json:"pairs"`
	LogSD     float64          `json:"log_sd"`
	LogSDThen float64          `json:"log_sd_after_three_pairs"`
}

type lossJSON struct {
	From     float64     `json:"from_per_hundred"`
	To       show.Number `json:"to_per_hundred"`
	Colonies int         `json:"colonies"`
	Died     int         `json:"died"`
	Expected float64     `json:"expected"`
	Low      float64     `json:"expected_low"`
	High     float64     `json:"expected_high"`
}

func (r *review) json() reviewJSON {
	out := reviewJSON{
		Yard: r.yard, Year: r.Year, From: r.From, To: r.To, Level: r.level, Colonies: []colonyBackJSON{}, Courses: []courseBackJSON{},
		Slow: []string{}, Ranked: r.Ranked, SlowWrong: r.Wrong, SlowAlone: r.Alone, Figures: []taughtJSON{}, Losses: []lossJSON{},
		WinterOver: r.WinterOver, NextYear: r.lessons(),
	}
	var counts []sampling.Count
	for _, k := range r.Colonies {
		j := colonyBackJSON{
			Colony: k.Colony, Highest: show.Number(k.Highest), HighestOn: k.HighestOn, WeeksOver: k.WeeksOver, FoundOver: k.FoundOver, WeeksKnown: k.Known,
			Counts: k.Counts, BeesWashed: k.BeesWashed, Courses: []leftJSON{}, Gone: k.Gone, Died: k.Died,
		}
		if k.Pace != nil {
			j.Growth = &paceJSON{say.RangeOf(k.Pace.Factor), k.Pace.Slower, k.Beside, k.Alike}
		}
		for _, l := range k.Courses {
			j.Courses = append(j.Courses, leftJSON{letter(l.Course), show.Number(l.Before), show.Number(l.Left), l.LeftOn})
		}
		out.Colonies = append(out.Colonies, j)
		counts = append(counts, r.apiary.Colonies[k.Place].Counts...)
	}
	missing := show.Number(math.NaN())
	percent := func(x float64) show.Number { return show.Number(100 * x) }
	for i, c := range r.Courses {
		j := courseBackJSON{
			Course: letter(i), Treatment: c.Treatment.Slug, Active: c.Treatment.Active, First: c.First, Last: c.Last, CappedBrood: c.CappedBrood,
			Colonies: append([]string{}, c.Colonies...), Counted: append([]string{}, c.Counted...), Failed: append([]string{}, c.Failed...),
			Reduction: missing, Low: missing, High: missing, Published: missing, PublishedLow: missing, PublishedHigh: missing, Target: 100 * c.Target,
		}
		if e := c.Efficacy; e != nil {
			j.Reduction, j.Low, j.High, j.Answer = percent(e.Middle), percent(e.Low), percent(e.High), &e.Answer
		}
		if c.Expected != (decide.Range{}) {
			j.Published, j.PublishedLow, j.PublishedHigh = percent(c.Expected.Middle), percent(c.Expected.Low), percent(c.Expected.High)
		}
		out.Courses = append(out.Courses, j)
	}
	for _, i := range r.Slow {
		out.Slow = append(out.Slow, r.Colonies[i].Colony)
	}
	for _, t := range r.taught {
		out.Figures = append(out.Figures, taughtJSON{t.Teaching.Method, t.Teaching.Weather, t.Teaching.Broodless, t.counts, t.Pairs, t.Now, t.Then})
	}
	for _, l := range r.Losses {
		out.Losses = append(out.Losses, lossJSON{l.From, show.Number(l.To), l.Colonies, l.Died, l.Expected, l.Low, l.High})
	}
	out.Assumptions = r.Sources(counts...)
	return out
}

func (r *review) csv() show.CSV {
	t := show.CSV{Head: []string{"yard", "colony", "year", "highest_per_hundred", "highest_on", "weeks_over", "weeks_known", "counts", "bees_washed", "growth", "growth_low", "growth_high", "level", "chance_slower", "treated_alike", "named", "courses", "left_per_hundred", "gone", "died"}}
	for i, k := range r.Colonies {
		row := []any{r.yard, k.Colony, r.Year, show.Number(k.Highest), k.HighestOn, k.WeeksOver, k.Known, k.Counts, k.BeesWashed}
		if k.Pace == nil {
			row = append(row, "", "", "", r.level, "", "")
		} else {
			row = append(row, k.Pace.Factor.Middle, k.Pace.Factor.Low, k.Pace.Factor.High, r.level, k.Pace.Slower, k.Alike)
		}
		named := false
		for _, j := range r.Slow {
			named = named || i == j
		}
		var courses, left []string
		for _, l := range k.Courses {
			courses = append(courses, r.Courses[l.Course].Treatment.Slug)
			if math.IsNaN(l.Left) {
				left = append(left, "-")
			} else {
				left = append(left, show.Plain(l.Left))
			}
		}
		t.Rows = append(t.Rows, append(row, named, strings.Join(courses, " "), strings.Join(left, " "), k.Gone, k.Died))
	}
	return t
}

// reviewsJSON is halfcup.reviews/1.
type reviewsJSON struct {
	Year  int              `json:"year"`
	Yards []reviewLineJSON `json:"yards"`
}

type reviewLineJSON struct {
	Yard     string      `json:"yard"`
	Colonies int         `json:"colonies"`
	Over     int         `json:"over"` // found over the line
	Died     int         `json:"died"`
	Counts   int         `json:"counts"`
	Washed   float64     `json:"bees_washed"`
	Highest  show.Number `json:"highest_per_hundred"`
	Slow     []string    `json:"slow"`
}

func (r *review) line() reviewLineJSON {
	l := reviewLineJSON{Yard: r.yard, Colonies: len(r.Colonies), Slow: []string{}, Highest: show.Number(math.NaN())}
	for _, k := range r.Colonies {
		if k.FoundOver > 0 {
			l.Over++
		}
		if k.Died {
			l.Died++
		}
		l.Counts, l.Washed = l.Counts+k.Counts, l.Washed+k.BeesWashed
		if !(k.Highest <= float64(l.Highest)) && !math.IsNaN(k.Highest) {
			l.Highest = show.Number(k.Highest)
		}
	}
	for _, i := range r.Slow {
		l.Slow = append(l.Slow, r.Colonies[i].Colony)
	}
	return l
}

// writeReviews gives a line a yard.
func writeReviews(sh *line.Shell, all []*review) error {
	out := reviewsJSON{Year: all[0].Year, Yards: []reviewLineJSON{}}
	t := show.CSV{Head: []string{"yard", "colonies", "over", "died", "counts", "bees_washed", "highest_per_hundred", "slow"}}
	var unread []string
	over, colonies := 0, 0
	for _, r := range all {
		l := r.line()
		out.Yards = append(out.Yards, l)
		t.Rows = append(t.Rows, []any{l.Yard, l.Colonies, l.Over, l.Died, l.Counts, l.Washed, l.Highest, strings.Join(l.Slow, " ")})
		unread = append(unread, r.unread...)
		over, colonies = over+l.Over, colonies+l.Colonies
	}
	text := func(w io.Writer) {
		p := sh.Page
		fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, fmt.Sprintf("%d: %d of %s in %d yards found over the line.", out.Year, over, show.Many(colonies, "colony", "colonies"), len(all))), 0), "\n")
		t := show.Table{Columns: []show.Column{{Name: "yard"}, {Name: "hives", Right: true}, {Name: "over", Right: true}, {Name: "died", Right: true}, {Name: "counts", Right: true}, {Name: "bees spent", Right: true}, {Name: "highest", Right: true}, {Name: "slower mites", Flow: true}}}
		for i, l := range out.Yards {
			t.Rows = append(t.Rows, []string{called([]string{show.Printable(all[i].yard)})[0], fmt.Sprint(l.Colonies), fmt.Sprint(l.Over), fmt.Sprint(l.Died), fmt.Sprint(l.Counts), show.Fixed(l.Washed, 0), show.Level(float64(l.Highest)), strings.Join(l.Slow, ", ")})
		}
		fmt.Fprint(w, p.Table(t), p.Wrap("Each in full: halfcup review --yard "+word(all[0].yard), 0))
	}
	return sh.Write(line.Answer{Schema: "halfcup.reviews/1", JSON: out, CSV: t, Text: text, Warnings: say.Warn(say.LeftOut, unread...)})
}
