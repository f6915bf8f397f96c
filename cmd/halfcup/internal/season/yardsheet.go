package season

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

//go:embed yardsheet.html
var sheetHTML string

var sheetTemplate = pageOf(sheetHTML)

// sheet is the page to carry to the yard and to keep.
type sheet struct {
	Title, Supers, ToDo, Alarm string
	Late                       []string
	Lines                      []sheetLine
	Methods                    []sheetMethod
	Cautions                   []string
	Summary, Source            string
	Charts                     bool
}

// sheetLine is one colony.
type sheetLine struct {
	Stand, Name, Do, Cuts string
	Press                 bool // it is to be treated or counted, or strips are to come out
	Last, Level, Over     string
	Chart                 template.HTML // an SVG picture of our own making
}

// sheetMethod is how one of the advised counts is made.
type sheetMethod struct {
	Title string
	Steps []string
}

// writeSheet writes the page into a file.
func (v *yardView) writeSheet(sh *line.Shell, name string, charts bool) error {
	page, err := v.sheet(charts)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := sheetTemplate.Execute(&out, page); err != nil {
		return err
	}
	return sh.Files.Write(name, []byte(show.Marked(out.String())), ".html", ".htm")
}

func (v *yardView) sheet(charts bool) (sheet, error) {
	page := sheet{
		Title: v.title() + " " + v.day.Time().Format("2006"), Supers: v.supers(), ToDo: say.Capital(v.tally().words()) + ".", Alarm: v.alarm(),
		Summary: v.together(), Source: say.LineWords(v.colonies[0].Line), Charts: charts,
	}
	var advised []sampling.Count
	var duties, late []decide.Duty
	for _, k := range v.colonies {
		level, over := k.levelWords(v.level)
		l := sheetLine{Stand: k.stand, Name: k.name, Do: k.Row(), Last: k.lastWords(), Level: level, Over: over, Press: urgency(k.Standing.Standing) >= 3}
		if k.Advised.Plan == decide.LookNow {
			// One frame is what the boxes are for; the line below a name has no room to say it.
			l.Cuts = strings.ReplaceAll(k.How(), " from 1 frame", "")
			if !slices.ContainsFunc(advised, func(c sampling.Count) bool { return c.Method == k.Advised.Count.Method }) {
				advised = append(advised, k.Advised.Count)
			}
		}
		duties = append(duties, k.duties...)
		for _, d := range k.duties {
			if d.Late(v.day) > 0 {
				late = append(late, d)
			}
		}
		if charts {
			var err error
			if l.Chart, err = v.chartOf(k); err != nil {
				return page, err
			}
		}
		page.Lines = append(page.Lines, l)
	}
	for _, g := range grouped(late) {
		page.Late = append(page.Late, fmt.Sprintf("%s %s (%s, %s)", say.DutyName(g[0].Kind), namesOf(g, len(v.colonies), 60), say.DutyWords(g[0]), show.Many(g[0].Late(v.day), "day late", "days late")))
	}
	for _, c := range advised {
		how := sheetMethod{Title: say.Count(c)}
		for _, step := range c.Method.Steps() {
			how.Steps = append(how.Steps, step.Text)
		}
		page.Methods = append(page.Methods, how)
		page.Cautions = append(page.Cautions, say.Cautions(string(c.Method))...)
	}
	if given := treatmentsOf(duties); len(given) > 0 {
		page.Cautions = append(page.Cautions, say.Cautions(given...)...)
	}
	page.Cautions = append(page.Cautions, "Treat only with what is permitted where you live, as its label says; your label's days win.")
	page.Cautions = append(page.Cautions, say.Cautions("signs")...)
	page.Cautions = append(page.Cautions, "No mites in a sample is not no mites in the hive.")
	return page, nil
}

// Pictures of a colony so far: a point a week, back to the first row of its
// record but not past a year.
const (
	chartStep = 7
	chartBack = 365
	nameEvery = 30
)

// chartOf draws a colony so far, as its own record alone tells it.
func (y *yard) chartOf(k *colony) (template.HTML, error) {
	first := max(k.Began, y.day-chartBack)
	t := show.TimeChart{Today: y.day, Band: say.Percent(y.level) + " of what is likely", LineName: "line to act"}
	var days []sampling.Date
	for d := y.day; d >= first; d -= chartStep {
		days = append(days, d)
	}
	if len(days) < 2 {
		return "", nil
	}
	slices.Reverse(days)
	for _, d := range days {
		state, err := k.History.On(d)
		if err != nil {
			return "", err
		}
		sum := state.Known.Summary(y.level)
		t.Dates, t.Line = append(t.Dates, d), append(t.Line, k.LineOn(d).Act)
		t.Low, t.Mid, t.High = append(t.Low, sum.Low), append(t.Mid, sum.Median), append(t.High, sum.High)
	}
	for _, c := range k.Counts {
		if bees, _, err := y.BeesOf(c); c.Method.Kind() == sampling.BeeSample && err == nil && c.Date >= days[0] {
			t.Seen = append(t.Seen, show.Seen{Date: c.Date, Level: 100 * float64(c.Mites) / bees})
		}
	}
	var named decide.TreatmentDay
	for _, tr := range k.Treatments {
		if tr.On < days[0] || tr.On > y.day {
			continue
		}
		label := tr.Treatment.Active
		if named.Treatment.Slug == tr.Treatment.Slug && tr.On-named.On <= nameEvery {
			label = "" // the next round of the same: its name would lie over the first
		} else {
			named = tr
		}
		t.Events = append(t.Events, show.Event{Date: tr.On, Label: label})
	}
	return template.HTML(strings.TrimSpace(string(t.TileSVG(k.name)))), nil
}
