package season

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func yardCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "yard",
		Category:  line.GroupSeason,
		Usage:     "every colony of a yard, and what to do next",
		UsageText: "halfcup yard --html sheet.html",
		Description: "Says what is late and what to do with every colony, in the order in which they stand: a column stand in the record gives it. " +
			"Colonies of one yard are alike, so that each tells something of the others. Of a record with several yards it gives a line a yard; name one with --yard. " +
			"To ask how things stood on another day, add --today DATE.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "the yard `NAME`, when the record has more than one"},
			&cli.BoolFlag{Name: "urgent", Usage: "the most pressing colony first"},
			&cli.BoolFlag{Name: "curves", Usage: "draw what is known of each colony, in place of its last count"},
			&cli.StringFlag{Name: "html", Usage: "write a sheet to print and carry into `FILE`"},
			&cli.StringFlag{Name: "charts", Value: "all", Usage: "sheet: a picture of each colony so far `all|none`"},
			&cli.StringFlag{Name: "boards", Usage: "there are `N` sticky boards: which colonies get them"},
			&cli.StringFlag{Name: "compare", Usage: "set the counts of this year beside those of `YEAR`"},
			&cli.StringFlag{Name: "level", Value: "0.9", Usage: "level of the limits, `LEVEL`"},
			&cli.StringFlag{Name: "plan", Usage: "plan a sampling of a yard of `N` colonies; no record is needed"},
			&cli.StringFlag{Name: "mean", Value: "2", Usage: "plan: mean that is expected, `MITES` per hundred bees"},
			&cli.StringFlag{Name: "precision", Value: "0.25", Usage: "plan: standard error that is wanted, as a `SHARE` of the mean"},
			&cli.StringFlag{Name: "date", Hidden: true},
		}, ask.RulesFlags()),
		Action: func(c *cli.Context) error { return yardAnswer(sh, c) },
	}
}

func yardAnswer(sh *line.Shell, c *cli.Context) error {
	if c.NArg() > 0 {
		return &show.Problem{What: fmt.Sprintf("yard takes no %q", c.Args().First()), Remedy: "counts come from the record; log add writes them there"}
	}
	if err := oneQuestion(c); err != nil {
		return err
	}
	if c.IsSet("plan") {
		return yardPlan(sh, c)
	}
	rules, err := ask.ReadRules(sh, c)
	if err != nil {
		return err
	}
	level, err := line.Number(c, "level", sh.Settings.Level)
	if err != nil {
		return err
	}
	boards := 0
	if c.IsSet("boards") {
		if boards, err = line.Whole(c, "boards"); err != nil {
			return err
		}
	}
	charts, err := line.Choice(c, "charts", "all", "none")
	if err != nil {
		return err
	}
	rec, err := ask.NeedRecord(sh, "a yard")
	if err != nil {
		return err
	}
	names, err := askedYards(rec, c)
	if err != nil {
		return err
	}
	if len(names) > 1 {
		for _, flag := range []string{"html", "boards", "compare"} {
			if c.IsSet(flag) {
				return &show.Problem{What: "the record has more than one yard: " + show.List(called(names)), Remedy: "say of which, with --yard"}
			}
		}
		return manyYards(sh, rules, rec, names, level)
	}
	ask.Doubt(sh, rec, coloniesOf(rec, names[0])...)
	y, err := readYard(rules, rec, names[0], sh.Today, level)
	if err != nil {
		return err
	}
	if len(y.colonies) == 0 {
		return &show.Problem{What: fmt.Sprintf("no colony of this yard was alive on %s", show.Day(y.day)), Remedy: "ask of another day with --today"}
	}
	if c.IsSet("compare") {
		return compareYears(sh, c, y)
	}
	view := &yardView{yard: y, curves: c.Bool("curves"), boardsAsked: boards > 0}
	if view.boards, err = y.placeBoards(boards); err != nil {
		return err
	}
	if name, named, err := line.File(c, "html", ""); err != nil {
		return err
	} else if named {
		if err := view.writeSheet(sh, name, charts == "all"); err != nil {
			return err
		}
	}
	if c.Bool("urgent") {
		slices.SortStableFunc(y.colonies, byUrgency)
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.yard/3",
		JSON:     view.json(),
		CSV:      view.csv(),
		Text:     func(w io.Writer) { view.print(w, sh.Page) },
		Warnings: y.warnings(),
		Explain:  y.explain(),
	})
}

// oneQuestion refuses flags that ask for different things.
func oneQuestion(c *cli.Context) error {
	if c.IsSet("date") {
		return line.BadValue("date", c.String("date"), "yard has no --date of its own", "ask of another day with --today "+c.String("date"))
	}
	alone := map[string][]string{
		"plan":    {"yard", "boards", "html", "compare", "urgent", "curves"},
		"compare": {"boards", "html", "urgent", "curves"},
	}
	for _, first := range []string{"plan", "compare"} {
		for _, second := range alone[first] {
			if c.IsSet(first) && c.IsSet(second) {
				return &show.Problem{What: fmt.Sprintf("--%s and --%s are two different questions", first, second), Remedy: "ask them one after the other"}
			}
		}
	}
	for _, name := range []string{"mean", "precision"} {
		if c.IsSet(name) && !c.IsSet("plan") {
			return line.BadValue(name, c.String(name), "--"+name+" is for a plan, and none is asked for", "leave it out, or add --plan N")
		}
	}
	if c.IsSet("charts") && !c.IsSet("html") {
		return line.BadValue("charts", c.String("charts"), "--charts is for the sheet, and none is asked for", "leave it out, or add --html FILE")
	}
	return nil
}

// placeBoards gives the boards to the colonies for which one is worth most.
func (y *yard) placeBoards(n int) ([]*colony, error) {
	if n == 0 {
		return nil, nil
	}
	worth := map[*colony]float64{}
	for _, k := range y.colonies {
		candidates, err := k.Candidates()
		if err != nil {
			return nil, err
		}
		for _, c := range candidates {
			if c.Plan == decide.LookNow && c.Count.Method == sampling.Board {
				worth[k] = max(worth[k], c.Worth)
			}
		}
	}
	out := slices.Clone(y.colonies)
	slices.SortStableFunc(out, func(a, b *colony) int { return cmp.Compare(worth[b], worth[a]) })
	return out[:min(n, len(out))], nil
}

// manyYards gives a line a yard, the most pressing first.
func manyYards(sh *line.Shell, rules ask.Rules, rec *fieldlog.Record, names []string, level float64) error {
	ask.Doubt(sh, rec)
	v := &yardsView{Rules: rules, day: sh.Today}
	for _, name := range names {
		y, err := readYard(rules, rec, name, sh.Today, level)
		if err != nil {
			return err
		}
		v.yards = append(v.yards, y)
		v.unread = append(v.unread, y.unread...)
		v.jumps, v.counted = v.jumps+y.Jumps, v.counted+y.Counted
	}
	v.together = decide.YardAlarm(v.jumps, v.counted)
	slices.SortStableFunc(v.yards, func(a, b *yard) int {
		s, t := a.tally(), b.tally()
		return cmp.Or(cmp.Compare(t.TakeOut+t.Treat, s.TakeOut+s.Treat), cmp.Compare(t.Late, s.Late), cmp.Compare(t.Count, s.Count))
	})
	return sh.Write(line.Answer{
		Schema: "halfcup.yards/2", JSON: v.json(), CSV: v.csv(),
		Text:     func(w io.Writer) { v.print(w, sh.Page) },
		Warnings: say.Warn(say.LeftOut, v.unread...),
	})
}
