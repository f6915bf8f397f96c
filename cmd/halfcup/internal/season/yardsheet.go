package season

import (
	"bytes"
	_ "embed"
	"html/template"
	"slices"
	"strings"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

//go:embed yardsheet.html
var sheetHTML string

var sheetTemplate = template.Must(template.New("sheet").Parse(sheetHTML))

// sheet is the page to carry to the yard and to keep.
type sheet struct {
	Title, Headcount, Closing string
	Level, Act                string
	Lines                     []sheetLine
	Methods                   []sheetMethod
	Cautions, Summary         []string
	Source                    string
}

// sheetLine is one colony.
type sheetLine struct {
	Name, Do, Cuts       string
	Look                 bool // a count is due, so there is a box to fill in
	Last, Estimate, Over string
	Call, NextLook       string
	Chart                template.HTML // an SVG picture of our own making
}

// sheetMethod is how one of the advised looks is done.
type sheetMethod struct {
	Title string
	Steps []string
}

// writeSheet writes the page into a file.
func (y *yardReading) writeSheet(sh *line.Shell, name string) error {
	page, err := y.sheet()
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := sheetTemplate.Execute(&out, page); err != nil {
		return err
	}
	return sh.Files.Write(name, []byte(show.Marked(out.String())), ".html", ".htm")
}

func (y *yardReading) sheet() (sheet, error) {
	page := sheet{
		Title: y.title(), Headcount: y.headcount(), Closing: y.closing(),
		Level: say.Percent(y.level), Act: show.Plain(y.threshold.Act),
		Summary: []string{
			"Mean of the yard: " + y.meanWords() + ".", "Over the line: " + y.shareWords() + ".", y.nextWords(), y.killedWords(),
		},
		Source: say.LineWords(y.colonies[0].Question),
	}
	var methods []sampling.Method
	for _, k := range y.colonies {
		line := sheetLine{
			Name: k.name, Do: say.Capital(k.longWords()),
			Last: k.lastWords(y.day), Estimate: k.levelWords(), Over: shortPercent(k.judgement.OverAct),
			Call: k.callWords(), NextLook: shortDay(k.judgement.NextLook, y.day),
		}
		if look := k.judgement.Advised; look.Plan == decide.LookNow {
			cuts, err := k.CutPoints(look)
			if err != nil {
				return page, err
			}
			line.Look, line.Cuts = true, cutLine(cuts)
			if !slices.Contains(methods, look.Count.Method) {
				methods = append(methods, look.Count.Method)
			}
		}
		chart, err := y.chartOf(k)
		if err != nil {
			return page, err
		}
		line.Chart = chart
		page.Lines = append(page.Lines, line)
	}
	for _, m := range methods {
		how := sheetMethod{Title: m.Title()}
		for _, step := range m.Steps() {
			how.Steps = append(how.Steps, step.Text)
		}
		page.Methods = append(page.Methods, how)
	}
	page.Cautions = sheetCautions()
	return page, nil
}

func sheetCautions() []string {
	return []string{
		"Treat only with what is permitted where you live, in the dose, number and season of the label; with honey supers on, the label and the law decide whether at all.",
		"Vapour of acid harms lungs and eyes: fitted respirator for acid gas and particles, goggles, acid-proof gloves, stand upwind.",
		"Alcohol burns, and kills the bees sampled. Never scoop the queen.",
		"No mites in a sample is not no mites in the hive.",
	}
}

// longWords is what to do with a colony, on a line of its own.
func (k *yardColony) longWords() string {
	j := k.judgement
	switch {
	case j.Call == decide.CountAgain && j.Advised.Plan == decide.LookNow:
		return say.LookWords(j.Advised.Count)
	case j.Call == decide.WaitForPlanned:
		return "wait for the planned treatment, " + shortDay(k.NextTreatment, k.State.Day)
	case j.Call == decide.Leave:
		return "leave; look again by " + shortDay(j.NextLook, k.State.Day)
	case j.Call == decide.BringForward:
		return "bring the planned treatment forward"
	}
	return string(j.Call)
}

// cutLine is the cut points on one line: "0 to 7 leave · 8 or more treat".
func cutLine(cuts []decide.CutPoint) string {
	var out []string
	for _, c := range cuts {
		out = append(out, strings.ReplaceAll(strings.ReplaceAll(say.RangeWords(c), " mites", ""), " mite", "")+": "+say.CutWords(c.Call))
	}
	return strings.Join(out, " · ")
}

// Pictures of a colony so far: a point a week, back to the first row of its
// record but not past a year.
const (
	chartStep = 7
	chartBack = 365
	nameEvery = 30
)

// chartOf draws a colony so far, as its own record alone tells it.
func (y *yardReading) chartOf(k *yardColony) (template.HTML, error) {
	first := y.day
	for _, events := range y.events {
		if fieldlog.Of(events[0]) == (fieldlog.Colony{Yard: fieldlog.SameName(y.name), Name: fieldlog.SameName(k.name)}) {
			first = max(events[0].Date, y.day-chartBack)
		}
	}
	t := show.TimeChart{Today: y.day, Band: say.Percent(y.level) + " of what is likely", LineName: "line to act"}
	var days []sampling.Date
	for d := y.day; d >= first; d -= chartStep {
		days = append(days, d)
	}
	if len(days) < 2 {
		return "", nil
	}
	slices.Reverse(days)
	line := ask.LineOf(y.Lines, y.Blank.Season)
	history, err := history.Of(y.record, y.name, k.name, y.Blank, y.day)
	if err != nil {
		return "", err
	}
	for _, d := range days {
		state, err := history.On(d)
		if err != nil {
			return "", err
		}
		sum := state.Known.Summary(y.level)
		t.Dates, t.Line = append(t.Dates, d), append(t.Line, line(d))
		t.Low, t.Mid, t.High = append(t.Low, sum.Low), append(t.Mid, sum.Median), append(t.High, sum.High)
	}
	for _, e := range k.State.Evidence {
		if bees, _, err := k.BeesOf(e.Count); e.Count.Method.Kind() == sampling.BeeSample && err == nil && e.Count.Date >= days[0] {
			t.Seen = append(t.Seen, show.Seen{Date: e.Count.Date, Level: 100 * float64(e.Count.Mites) / bees})
		}
	}
	var named decide.TreatmentDay
	for _, tr := range k.History.Treatments {
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
	return template.HTML(t.SmallSVG(show.Printable(k.name))), nil
}
