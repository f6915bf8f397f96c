package season

import (
	"bytes"
	_ "embed"
	"html/template"
	"slices"
	"strings"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

//go:embed review.html
var reviewHTML string

//go:embed pagehead.html
var pageHead string

var reviewTemplate = pageOf(reviewHTML)

// pageOf is a page to print, with the head that all have.
func pageOf(text string) *template.Template {
	return template.Must(template.New("page").Parse(pageHead + text))
}

// reviewPage is the year to keep.
type reviewPage struct {
	Title, First, Slow, Figures, Losses, Source string
	Lessons                                     []string
	Lines                                       []reviewPageLine
	Courses                                     []reviewPageCourse
}

type reviewPageLine struct {
	Name, Highest, Weeks, Growth, Left string
	Counts                             int
	Bees                               int
	Chart                              template.HTML // an SVG picture of our own making
}

type reviewPageCourse struct {
	Name, Begun, Took, Published, Failed string
	Hives, Counted                       int
}

func (r *review) writePage(sh *line.Shell, name string) error {
	page := reviewPage{Title: r.title(), First: r.first(), Slow: r.slowWords(), Figures: r.figureWords(), Losses: r.lossWords(), Lessons: r.lessons(), Source: say.Percent(r.level)}
	for i, chart := range r.charts() {
		k := r.Colonies[i]
		l := reviewPageLine{Name: show.Printable(k.Colony), Highest: highestWords(k), Weeks: weeksWords(k), Growth: paceWords(k), Left: r.leftWords(k), Counts: k.Counts, Bees: int(k.BeesWashed + 0.5)}
		if len(chart.Dates) > 1 {
			l.Chart = template.HTML(strings.TrimSpace(string(chart.TileSVG(l.Name))))
		}
		page.Lines = append(page.Lines, l)
	}
	for i, c := range r.Courses {
		j := reviewPageCourse{Name: letter(i) + " " + c.Treatment.Called, Begun: shortDay(c.First), Hives: len(c.Colonies), Counted: len(c.Counted), Took: "–", Published: publishedWords(c), Failed: show.List(c.Failed)}
		if e := c.Efficacy; e != nil {
			j.Took = rangeWords(e.Middle, e.Low, e.High)
		}
		page.Courses = append(page.Courses, j)
	}
	var out bytes.Buffer
	if err := reviewTemplate.Execute(&out, page); err != nil {
		return err
	}
	return sh.Files.Write(name, []byte(show.Marked(out.String())), ".html", ".htm")
}

func (r *review) title() string {
	if r.yard == "" {
		return "The year " + r.called()
	}
	return show.Printable(r.yard) + ", the year " + r.called()
}

// leastCharted is where the axis of levels ends at the latest: nobody acts on
// less.
const leastCharted = 0.05

// charts are pictures of the colonies' years, all on one scale.
func (r *review) charts() []show.TimeChart {
	out := make([]show.TimeChart, len(r.Colonies))
	for i, k := range r.Colonies {
		t := &out[i]
		*t = show.TimeChart{Today: r.To, Band: say.Percent(r.level) + " of what is likely", LineName: "line to act"}
		for _, week := range k.Weeks {
			t.Dates, t.Line = append(t.Dates, week.Day), append(t.Line, week.Act)
			t.Low, t.Mid, t.High = append(t.Low, week.Low), append(t.Mid, week.Mid), append(t.High, week.High)
		}
		if len(t.Dates) == 0 {
			continue
		}
		colony := r.apiary.Colonies[k.Place]
		within := func(d sampling.Date) bool { return d >= t.Dates[0] && d <= r.To }
		for _, c := range colony.Counts {
			if bees, _, err := r.BeesOf(c); c.Method.Kind() == sampling.BeeSample && err == nil && within(c.Date) {
				t.Seen = append(t.Seen, show.Seen{Date: c.Date, Level: 100 * float64(c.Mites) / bees})
			}
		}
		for _, l := range k.Courses {
			c := r.Courses[l.Course]
			if i := slices.Index(c.Colonies, k.Colony); i >= 0 && within(c.First) {
				t.Events = append(t.Events, show.Event{Date: c.First, Label: letter(l.Course)})
			}
		}
	}
	frame, ok := show.Around(out)
	if ok {
		frame.Low = max(frame.Low, leastCharted)
		for i := range out {
			out[i].Frame = frame
		}
	}
	return out
}
