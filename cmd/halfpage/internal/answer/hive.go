package answer

import (
	"fmt"
	"math"
	"strings"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// level of the limits that the page shows, as the program's.
const level = 0.9

// Answer is one hive on a day.
type Answer struct {
	Hive     string           `json:"hive"`
	Day      sampling.Date    `json:"day"`
	First    string           `json:"first"` // what to do
	Do       string           `json:"do"`    // the same in a word or two
	How      string           `json:"how"`   // the next count with its cut points
	HasLevel bool             `json:"has_level"`
	Level    string           `json:"level"`
	Caption  string           `json:"caption"`
	SVG      string           `json:"svg"`
	Why      []string         `json:"why"`
	Due      sampling.Date    `json:"due"`
	DueText  string           `json:"due_text"`
	Overdue  int              `json:"overdue"`
	Treats   bool             `json:"treats"`
	Count    bool             `json:"count"` // a count is called for now
	AskSuper bool             `json:"ask_supers"`
	Doubts   []string         `json:"doubts"`
	Figures  *say.Judgement   `json:"figures"`
	Estimate sampling.Summary `json:"estimate"`
}

func (b *Book) hive(yard, hive string, day sampling.Date) (*Answer, error) {
	s, k, err := b.lookAt(yard, hive, day)
	if err != nil {
		return nil, err
	}
	rec, err := b.reading()
	if err != nil {
		return nil, err
	}
	out := answerOf(k)
	out.Doubts = append(append([]string{}, rec.Doubts(day, fieldlog.Colony{Yard: yard, Name: hive})...), s.unread[fieldlog.SameName(hive)]...)
	return out, nil
}

func answerOf(k say.Standing) *Answer {
	e := k.Known.Summary(level)
	figures := say.JudgementOf(k)
	out := &Answer{
		Hive: k.Colony, Day: k.Day, First: k.First(), Do: k.Row(), How: k.How(), HasLevel: k.HasLevel(),
		Due: k.Due, DueText: say.ShortDay(k.Due), Overdue: k.Overdue,
		Treats: k.Call.Treats(), Count: k.Call == decide.CountAgain,
		AskSuper: k.Call.Treats() && k.Supers == decide.SupersUnknown && k.UsualSupers,
		Why:      []string{}, Doubts: []string{}, Figures: &figures, Estimate: e,
	}
	if out.HasLevel {
		out.Level, out.Caption = strings.TrimSpace(k.Level(show.Page{Width: 80}, e)), k.Caption(e)
		levels, heights := k.Known.Curve()
		picture := show.Density{Levels: levels, Heights: heights, Marks: say.Marks(k.Line)[:1], Low: e.Low, Median: e.Median, High: e.High}
		out.SVG = string(picture.SVG(k.Colony, say.Capital(out.Caption)))
	}
	for _, s := range []string{k.Alarm(), k.Why(), k.Brood(), k.Neighbours()} {
		if s != "" {
			out.Why = append(out.Why, s)
		}
	}
	return out
}

// More is what stands behind an answer: how to count next, and whether the
// counts so far were enough.
type More struct {
	Next     string   `json:"next"` // the count that is advised, or ""
	Cuts     []Cut    `json:"cuts"`
	Steps    []string `json:"steps"`
	Cautions []string `json:"cautions"`
	Enough   []string `json:"enough"`
	Signs    []string `json:"signs"`
	Line     string   `json:"line"`
}

// Cut is what some outcomes of a count lead to.
type Cut struct {
	Mites string `json:"mites"`
	Then  string `json:"then"`
}

func (b *Book) more(yard, hive string, day sampling.Date) (*More, error) {
	_, k, err := b.lookAt(yard, hive, day)
	if err != nil {
		return nil, err
	}
	out := &More{Cuts: []Cut{}, Steps: []string{}, Enough: []string{}, Cautions: []string{}, Signs: say.Cautions("signs"), Line: say.LineWords(k.Line)}
	if k.Advised.Plan == decide.LookNow {
		m := k.Advised.Count.Method
		out.Next = say.Count(k.Advised.Count)
		for _, c := range k.Cuts {
			out.Cuts = append(out.Cuts, Cut{say.RangeWords(c), say.CutWords(c.Call)})
		}
		for _, step := range m.Steps() {
			out.Steps = append(out.Steps, step.Text)
		}
		out.Cautions = say.Cautions(string(m))
	}
	if k.Counted.IsZero() {
		return out, nil
	}
	enough, err := k.Enough()
	if err != nil {
		return out, nil // an answer without it is one
	}
	out.Enough = enoughWords(k, enough)
	return out, nil
}

// enoughWords tells for what the bees taken so far were enough.
func enoughWords(k say.Standing, e decide.Enough) []string {
	decided := "To decide: not enough, and no sensible sample settles it: both choices cost about the same."
	switch {
	case e.Call.OK:
		decided = "To decide: enough."
	case len(e.Call.More) > 0:
		var ways []string
		for _, m := range e.Call.More {
			ways = append(ways, say.LookWords(decide.Scooped(m.Method, m.Bees, m.Frames, k.Day)))
		}
		decided = "To decide: not enough. It would most likely be settled by " + strings.Join(ways, ", or ") + "."
	}
	figure := fmt.Sprintf("For a figure: not enough: good to %s%%, where %s is usual.", show.Fixed(100*e.Figure.Precision, 0), show.Percent(e.Figure.Wanted))
	switch {
	case math.IsInf(e.Figure.Precision, 1):
		figure = "For a figure: no mite was counted, so there is only an upper limit."
	case e.Figure.OK:
		figure = "For a figure: enough."
	}
	find := fmt.Sprintf("To find any: a colony just at the line of %s shows at least one mite in such a sample %s of the time.", say.Line(k.Line.Act), show.Percent(e.Detection.Chance))
	return []string{decided, figure, find}
}

// Scoops is what counts that are not kept yet would lead to.
type Scoops struct {
	Stop   bool    `json:"stop"` // no further scoop is called for
	Answer *Answer `json:"answer"`
}

func (b *Book) scoops(q Question, day sampling.Date) (*Scoops, error) {
	var extra []Row
	for i, r := range q.Rows {
		r["note"] = strings.TrimSpace(fmt.Sprintf("%s scoop %d", r["note"], i+1))
		checked, err := b.check([]Row{r}, true)
		if err != nil {
			return nil, err
		}
		extra = append(extra, checked.Rows...)
	}
	_, k, err := b.lookAt(q.Yard, q.Hive, day, extra...)
	if err != nil {
		return nil, err
	}
	return &Scoops{k.Call != decide.CountAgain, answerOf(k)}, nil
}
