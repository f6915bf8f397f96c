package count

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func enoughCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "enough",
		Category:  line.GroupCount,
		Usage:     "whether the bees already taken were enough",
		ArgsUsage: "COUNT...",
		UsageText: "halfcup enough wash:4/300",
		Description: "A sample is taken for one of three things: to know what to do, to have a figure to rely on, or to find out whether there are mites at all. " +
			"Each asks for another number of bees. This answers all three, and names the smallest further sample that would do.",
		Flags:  ask.QuestionFlags(),
		Action: func(c *cli.Context) error { return enough(sh, c) },
	}
}

// enoughFound is what enough found out; its JSON is halfcup.enough/3.
type enoughFound struct {
	Colony *string       `json:"colony"`
	Date   sampling.Date `json:"date"`
	say.Judgement
	EnoughCall   callJSON          `json:"to_decide"`
	EnoughFigure figureJSON        `json:"for_a_figure"`
	Detection    detectionJSON     `json:"to_find_any"`
	Assumptions  []sampling.Source `json:"assumptions"`

	*ask.Question `json:"-"`
	said          say.Standing
	found         decide.Enough
}

type callJSON struct {
	OK            bool         `json:"ok"`
	OnlyToAct     bool         `json:"only_to_act"`     // a quarter or more of such treatments would be needless
	Needless      float64      `json:"chance_needless"` // of the treatment that is called for, 0 when none is
	WrongByAThird float64      `json:"wrong_by_a_third"`
	More          []settleJSON `json:"more"`
}

type figureJSON struct {
	Precision show.Number `json:"precision"` // null when no mite was counted
	Wanted    float64     `json:"wanted"`
	OK        bool        `json:"ok"`
	More      []moreJSON  `json:"more"`
}

type detectionJSON struct {
	Chance          float64 `json:"chance"`
	LevelPerHundred float64 `json:"level_per_hundred"`
	Bees            int     `json:"bees"` // from all over the brood nest, for a chance of 95%
}

type moreJSON struct {
	Method sampling.Method `json:"method"`
	Bees   int             `json:"bees"`
	Frames int             `json:"frames"`
}

type settleJSON struct {
	moreJSON
	Chance float64 `json:"chance"` // that it settles the call
}

func settlingOf(more []decide.Decisive) []settleJSON {
	out := []settleJSON{}
	for _, m := range more {
		out = append(out, settleJSON{moreJSON(m.More), m.Chance})
	}
	return out
}

func moreOf(more []decide.More) []moreJSON {
	out := []moreJSON{}
	for _, m := range more {
		out = append(out, moreJSON(m))
	}
	return out
}

func enough(sh *line.Shell, c *cli.Context) error {
	if c.NArg() == 0 && !c.IsSet("colony") {
		return line.TooFew("enough needs a count, or a colony of the record", "halfcup enough wash:4/300")
	}
	q, err := ask.ReadQuestion(sh, c)
	if err != nil {
		return err
	}
	found, err := enoughOf(q)
	if err != nil {
		return err
	}
	doubt, unsound := q.Slip()
	return sh.Write(line.Answer{
		Schema:   "halfcup.enough/3",
		Doubt:    doubt,
		Unsound:  unsound,
		JSON:     found,
		CSV:      found.csv(),
		Text:     func(w io.Writer) { found.print(w, sh.Page) },
		Warnings: say.Warn(say.LeftOut, found.Unread...),
		Explain:  found.explain(),
	})
}

func enoughOf(q *ask.Question) (*enoughFound, error) {
	if q.Counted.IsZero() {
		return nil, &show.Problem{What: "this colony was never counted, so no bees were enough yet", Remedy: "halfcup choose tells how to count it first"}
	}
	found, err := q.Enough()
	if err != nil {
		return nil, err
	}
	said, err := say.NewStanding(q.Standing)
	if err != nil {
		return nil, err
	}
	var counts []sampling.Count
	for _, ev := range q.Evidence {
		counts = append(counts, ev.Count)
	}
	return &enoughFound{
		Colony: say.Said(q.Standing.Colony), Date: q.Day, Judgement: say.JudgementOf(said),
		EnoughCall:   callJSON{found.Call.OK, found.Call.OnlyToAct, found.Call.Needless, found.Call.WrongByAThird, settlingOf(found.Call.More)},
		EnoughFigure: figureJSON{show.Number(found.Figure.Precision), found.Figure.Wanted, found.Figure.OK, moreOf(found.Figure.More)},
		Detection:    detectionJSON(found.Detection),
		Assumptions:  q.Sources(counts...),
		Question:     q, said: said, found: found,
	}, nil
}

func (e *enoughFound) csv() show.CSV {
	t := show.CSV{Head: []string{"question", "ok", "value", "wanted", "more_method", "more_bees", "more_frames"}}
	var settlers []moreJSON
	for _, m := range e.EnoughCall.More {
		settlers = append(settlers, m.moreJSON)
	}
	add := func(question string, ok any, value, wanted float64, more []moreJSON) {
		if len(more) == 0 {
			t.Rows = append(t.Rows, []any{question, ok, show.Number(value), show.Number(wanted), "", "", ""})
		}
		for _, m := range more {
			t.Rows = append(t.Rows, []any{question, ok, show.Number(value), show.Number(wanted), string(m.Method), m.Bees, m.Frames})
		}
	}
	add("call", e.EnoughCall.OK, e.EnoughCall.WrongByAThird, math.NaN(), settlers)
	add("figure", e.EnoughFigure.OK, float64(e.EnoughFigure.Precision), e.EnoughFigure.Wanted, e.EnoughFigure.More)
	add("detection", "", e.Detection.Chance, math.NaN(), nil)
	return t
}

func (e *enoughFound) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, e.said.First()), 0))
	for _, answer := range []struct{ question, text string }{
		{"To decide", e.toDecide()},
		{"For a figure", e.forAFigure()},
		{"To find any", e.toFindAny()},
	} {
		fmt.Fprint(w, p.Beside(answer.question, 14, answer.text, 0))
	}
}

func (e *enoughFound) toDecide() string {
	switch {
	case e.EnoughCall.OnlyToAct:
		return fmt.Sprintf("enough to act on, not to be sure: about one in %s such treatments would be needless.", say.OneIn(e.EnoughCall.Needless))
	case e.EnoughCall.OK:
		return "enough."
	case len(e.EnoughCall.More) == 0:
		return "not enough, and no sample you would take settles it four times in five."
	}
	var ways []string
	for _, m := range e.EnoughCall.More {
		ways = append(ways, fmt.Sprintf("%s (%s)", say.LookWords(decide.Scooped(m.Method, m.Bees, m.Frames, e.Day)), show.Percent(m.Chance)))
	}
	return "not enough. Most likely settled by " + strings.Join(ways, ", or ") + "."
}

func (e *enoughFound) forAFigure() string {
	switch {
	case math.IsInf(e.found.Figure.Precision, 1):
		return "no mite was counted, so there is only an upper limit."
	case e.EnoughFigure.OK:
		return "enough."
	}
	out := fmt.Sprintf("not enough: good to %s%%, where %s is usual.", show.Fixed(100*e.found.Figure.Precision, 0), show.Percent(e.EnoughFigure.Wanted))
	if n := len(e.EnoughFigure.More); n > 0 {
		m := e.EnoughFigure.More[n-1]
		out += fmt.Sprintf(" It would take a wash of %d bees from %s.", m.Bees, show.Many(m.Frames, "frame", "frames"))
	}
	return out
}

func (e *enoughFound) toFindAny() string {
	return fmt.Sprintf("a colony just at the line of %s shows at least one mite in such a sample %s of the time.", say.Line(e.Line.Act), show.Percent(e.Detection.Chance))
}

const enoughWhy = "What you do depends on whether the colony is over %s mites per hundred, not on the exact figure. %s %s. " +
	"Settled means that no further count would be asked for. The chance of being a third past the line on the wrong side is %s. " +
	"A good figure takes many more bees, from several frames, because frames of one hive differ; you seldom need one. " +
	"The interval of a bare count is of the bees in this jar: because frames differ, nineteen in twenty of them hold the colony's own level less often, in about 90%% of colonies at 9 mites and 77%% at 30. " +
	"Washed with care and picked from all over the brood nest, %s would show a mite with a chance of 95%% in a colony at the line. " +
	"%s All this is wrong if the bees were damp or came from outside the brood nest."

func (e *enoughFound) explain() string {
	much := "The bees you took leave too much open for that."
	if e.EnoughCall.OK {
		much = "The bees you took are enough for that."
	}
	return fmt.Sprintf(enoughWhy,
		say.Line(e.Line.Act), much, say.Capital(show.OfHundred(e.ChanceOverAct, "colonies like this", "over the line")), show.Percent(e.EnoughCall.WrongByAThird),
		show.Many(e.Detection.Bees, "bee", "bees"), say.LineWords(e.Line))
}
