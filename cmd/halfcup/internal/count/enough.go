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
		Flags:  append(ask.SpareFlags(), ask.SituationFlags()...),
		Action: func(c *cli.Context) error { return enough(sh, c) },
	}
}

// enoughFound is what enough found out; its JSON is halfcup.enough/1.
type enoughFound struct {
	Date       sampling.Date `json:"date"`
	enoughJSON `json:"enough"`
	say.Judgement

	*ask.Question `json:"-"`
	judgement     decide.Judgement
	found         decide.Enough
}

type enoughJSON struct {
	Call      callJSON      `json:"call"`
	Figure    figureJSON    `json:"figure"`
	Detection detectionJSON `json:"detection"`
}

type callJSON struct {
	OK            bool       `json:"ok"`
	WrongByAThird float64    `json:"wrong_by_a_third"`
	More          []moreJSON `json:"more"`
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
	s, err := ask.ReadQuestion(sh, c)
	if err != nil {
		return err
	}
	found, err := enoughOf(s)
	if err != nil {
		return err
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.enough/1",
		JSON:     found,
		CSV:      found.csv(),
		Text:     func(w io.Writer) { found.print(w, sh.Page) },
		Warnings: found.Unread,
		Explain:  found.explain(),
		Closing:  found.closing(),
	})
}

func enoughOf(s *ask.Question) (*enoughFound, error) {
	if len(s.State.Evidence) == 0 {
		return nil, &show.Problem{What: "this colony was never counted, so no bees were enough yet", Remedy: "halfcup choose tells how to look at it first"}
	}
	found, err := s.Enough()
	if err != nil {
		return nil, err
	}
	j, err := s.Judge()
	if err != nil {
		return nil, err
	}
	return &enoughFound{
		Date: s.State.Day,
		enoughJSON: enoughJSON{
			Call:      callJSON{found.Call.OK, found.Call.WrongByAThird, moreOf(found.Call.More)},
			Figure:    figureJSON{show.Number(found.Figure.Precision), found.Figure.Wanted, found.Figure.OK, moreOf(found.Figure.More)},
			Detection: detectionJSON(found.Detection),
		},
		Judgement: say.JudgementOf(s, j), Question: s, judgement: j, found: found,
	}, nil
}

func (e *enoughFound) csv() show.CSV {
	t := show.CSV{Head: []string{"question", "ok", "value", "wanted", "more_method", "more_bees", "more_frames"}}
	add := func(question string, ok any, value, wanted float64, more []moreJSON) {
		if len(more) == 0 {
			t.Rows = append(t.Rows, []any{question, ok, show.Number(value), show.Number(wanted), "", "", ""})
		}
		for _, m := range more {
			t.Rows = append(t.Rows, []any{question, ok, show.Number(value), show.Number(wanted), string(m.Method), m.Bees, m.Frames})
		}
	}
	add("call", e.Call.OK, e.Call.WrongByAThird, math.NaN(), e.Call.More)
	add("figure", e.Figure.OK, float64(e.Figure.Precision), e.Figure.Wanted, e.Figure.More)
	add("detection", "", e.Detection.Chance, math.NaN(), nil)
	return t
}

func (e *enoughFound) print(w io.Writer, p show.Page) {
	section := func(title string, lines ...string) {
		fmt.Fprint(w, p.Paint(show.Strong, title), "\n")
		for _, l := range lines {
			if l != "" {
				fmt.Fprint(w, p.Hang(l, 2, 2))
			}
		}
	}
	section("To know what to do: "+yesNo(e.Call.OK),
		fmt.Sprintf("The call is: %s.", e.Verdict.Call),
		fmt.Sprintf("The chance of being a third past the line of %s on the wrong side of the lesser regret is %s.", show.Plain(e.Threshold.Act), show.Percent(e.Call.WrongByAThird)),
		e.moreForCall())
	fmt.Fprintln(w)
	section("For a figure to rely on: "+yesNo(e.Figure.OK), e.precisionWords(), e.moreForFigure())
	fmt.Fprintln(w)
	section("To find mites at all",
		fmt.Sprintf("In a colony that is just at %s per hundred, such counts show at least one mite with a chance of %s.", show.Plain(e.Threshold.Act), show.Percent(e.Detection.Chance)),
		fmt.Sprintf("Washed with care and picked from all over the brood nest, %s would do so with a chance of 95%%; off one frame it takes more.", show.Many(e.Detection.Bees, "bee", "bees")))
	fmt.Fprint(w, "\n", p.Wrap(say.LineWords(e.Question), 0))
}

func yesNo(ok bool) string {
	if ok {
		return "yes, enough"
	}
	return "not enough"
}

func (e *enoughFound) moreForCall() string {
	switch {
	case e.Call.OK:
		return ""
	case len(e.Call.More) == 0:
		return "No sensible sample settles this: both choices cost about the same."
	}
	var ways []string
	for _, m := range e.Call.More {
		ways = append(ways, say.LookWords(decide.Scooped(m.Method, m.Bees, m.Frames, e.State.Day)))
	}
	return "The smallest further sample that would probably settle it: " + strings.Join(ways, ", or ") + "."
}

func (e *enoughFound) precisionWords() string {
	if math.IsInf(e.found.Figure.Precision, 1) {
		return "No mite was counted, so there is no figure, only an upper limit."
	}
	return fmt.Sprintf("The spread of such counts is %s of their mean; %s is asked for.", show.Percent(e.found.Figure.Precision), show.Percent(e.Figure.Wanted))
}

func (e *enoughFound) moreForFigure() string {
	if e.Figure.OK {
		return ""
	}
	var ways []string
	for _, m := range e.Figure.More {
		ways = append(ways, fmt.Sprintf("%d off %s", m.Bees, show.Many(m.Frames, "frame", "frames")))
	}
	text := ""
	if e.FrameCV >= e.Figure.Wanted {
		text = "More bees off one frame can never be enough: frames of one brood nest differ by that much. "
	}
	if e.NoKill {
		return text + "It takes bees that are washed and counted one by one."
	}
	if len(ways) == 0 {
		return text + "At so low a level no sample gives such a figure."
	}
	return text + "Bees to count in a wash at the level that is likeliest: " + strings.Join(ways, ", ") + "."
}

func (e *enoughFound) explain() string {
	much := "The bees you took leave too much open for that."
	if e.Call.OK {
		much = "The bees you took are enough for that."
	}
	return fmt.Sprintf("What you do depends on whether the colony is over %s mites per hundred, not on the exact figure. %s %s. A good figure would take many more bees, off several frames, because frames of one hive differ; you seldom need one. The line is %s. All this is wrong if the bees were damp or came from outside the brood nest.",
		show.Plain(e.Threshold.Act), much, say.Capital(show.OfHundred(e.judgement.OverAct, "colonies with "+e.these(), "over the line")), say.LineSource(e.Threshold))
}

func (e *enoughFound) these() string {
	if len(e.State.Evidence) == 1 {
		return "this count"
	}
	return "these counts"
}

func (e *enoughFound) closing() string {
	if e.Call.OK {
		return "Enough bees were taken. " + say.ToDo(e.Question, e.judgement)
	}
	return say.ToDo(e.Question, e.judgement)
}
