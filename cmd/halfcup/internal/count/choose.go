package count

import (
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func chooseCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "choose",
		Aliases:   []string{"next"},
		Category:  line.GroupCount,
		Usage:     "which count to make next, or none",
		ArgsUsage: "[COUNT...]",
		UsageText: "halfcup choose roll:7/300",
		Description: "Sets what each way of counting would be worth against what it takes in bees, time and visits, and picks the gentlest that settles the matter. " +
			"Worth and cost are told in needless treatments: 1 is one treatment that was not needed. Without a count it tells how to count a colony for the first time.",
		Flags: append([]cli.Flag{
			&cli.BoolFlag{Name: "card", Usage: "print the advised count as a card to carry to the hive"},
		}, ask.QuestionFlags()...),
		Action: func(c *cli.Context) error { return choose(sh, c) },
	}
}

// chosen is what choose found out; its JSON is halfcup.choose/3.
type chosen struct {
	Colony *string       `json:"colony"`
	Date   sampling.Date `json:"date"`
	say.Judgement
	Candidates  []say.Candidate   `json:"candidates"`
	CutPoints   []decide.CutPoint `json:"cut_points"`
	Assumptions []sampling.Source `json:"assumptions"`

	*ask.Question `json:"-"`
	said          say.Standing
	candidates    []decide.Candidate
}

func choose(sh *line.Shell, c *cli.Context) error {
	q, err := ask.ReadQuestion(sh, c)
	if err != nil {
		return err
	}
	f, err := choiceOf(q)
	if err != nil {
		return err
	}
	a := line.Answer{
		Schema:   "halfcup.choose/3",
		JSON:     f,
		CSV:      f.csv(),
		Text:     func(w io.Writer) { f.print(w, sh.Page, sh.Settings.LimitsLevel()) },
		Warnings: f.warnings(),
		Explain:  f.explain(),
	}
	if c.Bool("card") {
		if f.Advised.Plan != decide.LookNow {
			return &show.Problem{What: "no count is worth making now, so there is no card to carry", Remedy: "leave out --card: " + f.said.First()}
		}
		a.Text = func(w io.Writer) { f.card(w, sh.Page) }
		a.Warnings = nil
	}
	return sh.Write(a)
}

func choiceOf(q *ask.Question) (*chosen, error) {
	said, err := say.NewStanding(q.Standing)
	if err != nil {
		return nil, err
	}
	f := &chosen{
		Colony: say.Said(q.Standing.Colony), Date: q.Day, Judgement: say.JudgementOf(said),
		CutPoints: append([]decide.CutPoint{}, said.Cuts...), Question: q, said: said,
	}
	var counts []sampling.Count
	for _, ev := range q.Evidence {
		counts = append(counts, ev.Count)
	}
	f.Assumptions = q.Sources(counts...)
	if f.candidates, err = q.Standing.Candidates(); err != nil {
		return nil, err
	}
	for _, c := range f.candidates {
		f.Candidates = append(f.Candidates, say.CandidateOf(c))
	}
	return f, nil
}

func (f *chosen) csv() show.CSV {
	t := show.CSV{Head: []string{"plan", "method", "bees", "frames", "days", "killed", "minutes", "visits", "changes_call", "worth", "net"}}
	for _, c := range f.Candidates {
		row := []any{string(c.Plan), "", "", "", "", c.Killed, c.Minutes, c.Visits, c.ChangesCall, c.Worth, c.Net}
		if c.Method != nil {
			row[1] = *c.Method
		}
		if c.Bees != nil {
			row[2], row[3] = *c.Bees, *c.Frames
		}
		if c.Days != nil {
			row[4] = *c.Days
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// shown are the candidates of the table: of each method the best, and stopping.
// The many sizes of one method differ little, and JSON and CSV have them all.
func (f *chosen) shown() []decide.Candidate {
	var out []decide.Candidate
	seen := map[string]bool{}
	for _, c := range f.candidates {
		key := string(c.Plan) + string(c.Count.Method)
		if c.Plan == decide.LookNow && c.Count.Method == sampling.Board {
			key += fmt.Sprint(c.Count.Amount.Value)
		}
		if !seen[key] {
			seen[key] = true
			out = append(out, c)
		}
	}
	return out
}

// mostShown is how many ways the table holds.
const mostShown = 4

func (f *chosen) print(w io.Writer, p show.Page, level float64) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, f.said.First()), 0))
	if how := f.said.How(); how != "" {
		fmt.Fprint(w, p.Wrap(how, 0))
	}
	if f.said.HasLevel() {
		fmt.Fprint(w, "\n", f.said.Level(p, f.Known.Summary(level)))
	}
	t := show.Table{Columns: []show.Column{{Name: "what to do next"}, {Name: "killed", Right: true}, {Name: "minutes", Right: true}, {Name: "changes call", Right: true}}}
	for _, c := range f.shown()[:min(mostShown, len(f.shown()))] {
		t.Rows = append(t.Rows, []string{say.PlanWords(c), fmt.Sprint(c.Killed), show.Plain(c.Minutes), changes(c)})
	}
	fmt.Fprint(w, "\n", p.Table(t))
	if why := f.said.Why(); why != "" {
		fmt.Fprint(w, p.Wrap(why, 0))
	}
}

func changes(c decide.Candidate) string {
	if c.Plan == decide.ActNow {
		return "–"
	}
	return show.Percent(c.ChangesCall)
}

// spareWords tells how the rule that spares bees came out.
func (f *chosen) spareWords() string {
	lethal, advised := bestLethal(f.candidates), f.Advised
	switch {
	case lethal.Plan == "":
		return "No count that kills bees was weighed."
	case advised.Lethal():
		return fmt.Sprintf("Bees are spared where that costs nothing: here %s is worth more than the best count that kills none.", say.LookWords(advised.Count))
	}
	return fmt.Sprintf("Bees are spared: the best count that kills some, %s, nets %+.2f, which is no more than a gentle way.", say.LookWords(lethal.Count), lethal.Net)
}

func bestLethal(candidates []decide.Candidate) decide.Candidate {
	for _, c := range candidates { // the best come first
		if c.Lethal() {
			return c
		}
	}
	return decide.Candidate{}
}

func (f *chosen) warnings() []say.Warning {
	out := say.Warn(say.LeftOut, f.Unread...)
	if f.Advised.Plan == decide.LookNow {
		out = append(out, say.Warn(say.Caution, say.Cautions(string(f.Advised.Count.Method))...)...)
	}
	return out
}

const chooseWhy = "%s of %s mites per hundred. " +
	"Treating for nothing costs once, leaving a colony that is well over the line costs %s times; the regret of treating is %.2f, of leaving %.2f. " +
	"%s %s %s It is wrong if bees are damp, or taken from outside the brood nest."

func (f *chosen) explain() string {
	what := "A further count would hardly ever change what you do, so it is not worth opening the hive."
	if f.Advised.Plan == decide.LookNow {
		times := show.OfHundred(f.Advised.ChangesCall, "such counts", "ones that change what you do")
		what = fmt.Sprintf("The count that gains most for what it takes is %s, with a worth of %.2f and a net of %+.2f. %s.", say.LookWords(f.Advised.Count), f.Advised.Worth, f.Advised.Net, say.Capital(times))
	}
	return fmt.Sprintf(chooseWhy,
		say.Capital(show.OfHundred(f.ChanceOverAct, "colonies like this", "over the line")), say.Line(f.Line.Act), show.Plain(f.Apiary.MissCost),
		f.Standing.Regret.Treat, f.Standing.Regret.Leave, what, f.spareWords(), say.LineWords(f.Line))
}

// card is the advised look on one sheet in plain words, wide apart, for someone
// who reads it at arm's length with gloves on.
func (f *chosen) card(w io.Writer, p show.Page) {
	count := f.Advised.Count
	rule := strings.Repeat("=", min(p.Width, 60))
	fmt.Fprintf(w, "%s\n\n%s\n%s\n", rule, p.Wrap(strings.ToUpper(say.LookWords(count)), 2), rule)
	if count.Amount.Unit == sampling.Millilitres {
		fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("Scoop %s mL of bees in all.", show.Plain(count.Amount.Value)), 2))
	}
	fmt.Fprintf(w, "\n  %-18s  %s\n\n", "MITES COUNTED", "WHAT TO DO")
	for _, cut := range f.CutPoints {
		fmt.Fprintf(w, "  %-18s  %s\n\n", strings.ToUpper(say.RangeWords(cut)), strings.ToUpper(say.CutWords(cut.Call)))
	}
	fmt.Fprintf(w, "  Colony ____________  Date ____________  Mites ______\n\n%s\n", rule)
	for i, step := range count.Method.Steps() {
		fmt.Fprint(w, "\n", p.Hang(fmt.Sprintf("%d. %s", i+1, step.Text), 2, 5))
	}
	fmt.Fprint(w, "\n", rule, "\n")
	fmt.Fprint(w, p.Wrap(fmt.Sprintf("Line: %s mites per hundred bees (%s).", say.Line(f.Line.Act), f.Line.Season), 2))
	fmt.Fprint(w, p.Wrap("Treat only by the label and the local law.", 2))
}
