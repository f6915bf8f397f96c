package count

import (
	"fmt"
	"io"
	"slices"
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
		Category:  line.GroupCount,
		Usage:     "which look to take next, or to stop and act",
		ArgsUsage: "[COUNT...]",
		UsageText: "halfcup choose roll:7/300",
		Description: "Sets what each way of looking would be worth against what it takes in bees, time and visits, and picks the gentlest that settles the matter. " +
			"Worth and cost are told in needless treatments: 1 is one treatment that was not needed. Without a count it tells how to look at a colony for the first time.",
		Flags: append(append([]cli.Flag{
			&cli.BoolFlag{Name: "card", Usage: "print the advised look as a card to carry to the hive"},
		}, ask.SpareFlags()...), ask.SituationFlags()...),
		Action: func(c *cli.Context) error { return choose(sh, c) },
	}
}

// chosen is what choose found out; its JSON is halfcup.choose/1.
type chosen struct {
	Date       sampling.Date `json:"date"`
	choiceJSON `json:"choose"`
	ChanceOver say.Chances `json:"chance_over"`
	say.Judgement

	*ask.Question `json:"-"`
	judgement     decide.Judgement
	candidates    []decide.Candidate
}

type choiceJSON struct {
	Candidates []say.Candidate   `json:"candidates"`
	Advised    *say.Candidate    `json:"advised"` // null when no look is worth its cost
	CutPoints  []decide.CutPoint `json:"cut_points"`
}

func choose(sh *line.Shell, c *cli.Context) error {
	s, err := ask.ReadQuestion(sh, c)
	if err != nil {
		return err
	}
	found, err := choiceOf(s)
	if err != nil {
		return err
	}
	a := line.Answer{
		Schema:   "halfcup.choose/1",
		JSON:     found,
		CSV:      found.csv(),
		Text:     func(w io.Writer) { found.print(w, sh.Page) },
		Warnings: found.warnings(),
		Explain:  found.explain(),
		Closing:  say.ToDo(s, found.judgement),
	}
	if c.Bool("card") {
		if found.Advised == nil {
			return &show.Problem{What: "no look is worth its cost here, so there is no card to carry", Remedy: "leave out --card: " + say.ToDo(s, found.judgement)}
		}
		a.Text = func(w io.Writer) { found.card(w, sh.Page) }
		a.Warnings, a.Closing = nil, ""
	}
	return sh.Write(a)
}

func choiceOf(s *ask.Question) (*chosen, error) {
	j, err := s.Judge()
	if err != nil {
		return nil, err
	}
	f := &chosen{
		Date: s.State.Day, ChanceOver: say.ChancesOf(j),
		choiceJSON: choiceJSON{CutPoints: []decide.CutPoint{}},
		Judgement:  say.JudgementOf(s, j), Question: s, judgement: j,
	}
	if f.candidates, err = s.Candidates(); err != nil {
		return nil, err
	}
	for _, c := range f.candidates {
		f.Candidates = append(f.Candidates, say.CandidateOf(c))
	}
	if j.Advised.Plan == decide.ActNow {
		return f, nil
	}
	advised := say.CandidateOf(j.Advised)
	f.Advised = &advised
	if j.Advised.Plan == decide.LookNow {
		f.CutPoints, err = s.CutPoints(j.Advised)
	}
	return f, err
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

func (f *chosen) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(fmt.Sprintf("On %s the chance of being over %s mites per hundred is %s.", show.Day(f.Date), show.Plain(f.Threshold.Act), show.Percent(f.ChanceOver.Act)), 0))
	fmt.Fprint(w, p.Wrap(fmt.Sprintf("Going by what is known: %s (regret of treating %.2f, of leaving %.2f).", f.settled(), f.Regret.Treat, f.Regret.Leave), 0), "\n")
	t := show.Table{Columns: []show.Column{{Name: "next step", Flow: true}, {Name: "killed", Right: true}, {Name: "minutes", Right: true}, {Name: "visits", Right: true}, {Name: "changes call", Right: true}, {Name: "worth", Right: true}, {Name: "net", Right: true}}}
	for _, c := range f.shown() {
		t.Rows = append(t.Rows, []string{say.PlanWords(c), fmt.Sprint(c.Killed), show.Plain(c.Minutes), fmt.Sprint(c.Visits), changes(c), fmt.Sprintf("%.2f", c.Worth), strings.Replace(fmt.Sprintf("%+.2f", c.Net), "+0.00", "0.00", 1)})
	}
	fmt.Fprint(w, p.Table(t))
	fmt.Fprint(w, p.Wrap("Of each way the best size is shown. Worth and net are in needless treatments.", 0))
	fmt.Fprint(w, "\n", p.Wrap(f.spareWords(), 0))
	if len(f.CutPoints) > 0 {
		fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("After %s:", say.LookWords(*f.Advised.Count)), 0))
		for _, cut := range f.CutPoints {
			fmt.Fprint(w, p.Hang(say.RangeWords(cut)+": "+say.CutWords(cut.Call), 2, 4))
		}
	}
	fmt.Fprint(w, "\n", p.Wrap(say.LineWords(f.Question), 0))
}

// settled is the call as it would be without a further look.
func (f *chosen) settled() string {
	if f.Regret.Treats() {
		return "treating is the lesser regret"
	}
	return "leaving is the lesser regret"
}

func changes(c decide.Candidate) string {
	if c.Plan == decide.ActNow {
		return "–"
	}
	return show.Percent(c.ChangesCall)
}

// spareWords tells how the rule that spares bees came out.
func (f *chosen) spareWords() string {
	lethal, advised := bestLethal(f.candidates), f.judgement.Advised
	switch {
	case lethal.Plan == "":
		return "No look that kills bees was weighed."
	case advised.Lethal():
		return fmt.Sprintf("Bees are spared where that costs nothing: here %s is worth more than the best look that kills none.", say.LookWords(advised.Count))
	}
	return fmt.Sprintf("Bees are spared: the best look that kills some, %s, nets %+.2f, which is no more than a gentle way.", say.LookWords(lethal.Count), lethal.Net)
}

func bestLethal(candidates []decide.Candidate) decide.Candidate {
	for _, c := range candidates { // the best come first
		if c.Lethal() {
			return c
		}
	}
	return decide.Candidate{}
}

func (f *chosen) warnings() []string {
	out := slices.Clone(f.Unread)
	if f.Advised != nil && f.Advised.Count.Method == sampling.Roll {
		out = append(out, "A sugar roll needs dry bees. On a damp day, or in a strong honey flow, use --no-roll.")
	}
	if f.Advised != nil && f.Advised.Count.Method == sampling.Wash {
		out = append(out, "Alcohol is flammable and kills the bees sampled. Find the queen first.")
	}
	return out
}

func (f *chosen) explain() string {
	what := "Looking again would hardly ever change what you do, so it is not worth opening the hive."
	if f.Advised != nil {
		times := show.OfHundred(f.Advised.ChangesCall, "such looks", "would change what you do")
		what = fmt.Sprintf("The step that gains most for what it takes is %s. %s.", say.LookWords(*f.Advised.Count), say.Capital(times))
	}
	return fmt.Sprintf("%s of %s mites per hundred. Treating for nothing costs once, leaving a colony that is well over the line costs %s times. %s The line is %s. It is wrong if bees are damp, or taken from outside the brood nest.",
		say.Capital(show.OfHundred(f.ChanceOver.Act, "colonies like this", "over the line")), show.Plain(f.Threshold.Act), show.Plain(f.MissCost), what, say.LineSource(f.Threshold))
}

// card is the advised look on one sheet in plain words, wide apart, for someone
// who reads it at arm's length with gloves on.
func (f *chosen) card(w io.Writer, p show.Page) {
	count := *f.Advised.Count
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
	fmt.Fprint(w, p.Wrap(fmt.Sprintf("Line: %s mites per hundred bees (%s).", show.Plain(f.Threshold.Act), f.Threshold.Phase), 2))
	fmt.Fprint(w, p.Wrap("Treat only by the label and the local law.", 2))
}
