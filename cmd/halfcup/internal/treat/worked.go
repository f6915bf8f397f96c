package treat

import (
	"fmt"
	"io"
	"math"
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

func workedCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "worked",
		Category:  line.GroupTreat,
		Usage:     "whether a treatment did its work",
		UsageText: "halfcup worked --before roll:18/300 --after roll:3/300",
		Description: "Answers worked, did not or cannot tell, from one of: " +
			"counts before and after, a pair a colony (--before, --after, and untreated colonies as --control-before, --control-after); " +
			"what fell after each of several rounds (--falls); " +
			"what fell under a treatment and under a follow-up with another substance (--killed, --follow-up); " +
			"mites shut up with a strip in a jar (--jar); " +
			"or the record (--colony, --yard). " +
			"Give dates with the counts, and --treated: mites multiply meanwhile, and come out of the brood for two weeks after a treatment.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringSliceFlag{Name: "before", Usage: "count before the treatment, `COUNT`; repeat it for more colonies"},
			&cli.StringSliceFlag{Name: "after", Usage: "count of the same colony after it, `COUNT`, in the same order"},
			&cli.StringSliceFlag{Name: "control-before", Usage: "count of an untreated colony before, `COUNT`"},
			&cli.StringSliceFlag{Name: "control-after", Usage: "count of the same untreated colony after, `COUNT`"},
			&cli.StringFlag{Name: "falls", Usage: "mites that fell after each round, the days the board lay in and the day it came out, `MITES/DAYS@DATE,...`"},
			&cli.StringFlag{Name: "killed", Usage: "`MITES` that fell under the treatment"},
			&cli.StringFlag{Name: "follow-up", Usage: "`MITES` that fell afterwards under another substance known to kill nearly all"},
			&cli.StringFlag{Name: "jar", Usage: "mites killed of those exposed in a jar, `KILLED/EXPOSED`"},
			&cli.StringFlag{Name: "jar-control", Usage: "the same in a jar without the substance, `DEAD/ALL`"},
			&cli.StringFlag{Name: "colony", Usage: "take the last treatment of the colony `NAME` from the record"},
			&cli.StringFlag{Name: "yard", Usage: "the yard `NAME` of the record: all its treated colonies together, or that of --colony"},
			&cli.StringFlag{Name: "treatment", Usage: "what was given, `NAME`, such as oxalic-vapour"},
			&cli.StringSliceFlag{Name: "treated", Usage: "day of a round, `DATE`, may be repeated; with the record, which treatment is meant"},
			&cli.StringFlag{Name: "target", Usage: "share of the mites it should kill, `SHARE`", DefaultText: "0.95 for synthetic substances, else 0.9"},
			&cli.StringFlag{Name: "level", Value: "0.9", Usage: "level of the limits, `LEVEL`"},
			&cli.StringFlag{Name: "brood", Usage: "whether there was capped brood `yes|no`", DefaultText: "by the season"},
			&cli.StringFlag{Name: "adult-bees", Usage: "adult bees of the colony, `BEES`", DefaultText: "by the season"},
			&cli.StringFlag{Name: "grams-per-100", Usage: "weight of 100 bees of weighed samples, as wet as they were, `GRAMS`"},
			&cli.StringFlag{Name: "fall-before", Usage: "--falls: mites a day that fell before the first round, `MITES`"},
			&cli.StringFlag{Name: "arrivals", Value: "none", Usage: "--falls: mites a day that come in from other colonies `none|few|many|N`"},
		}, ask.SeasonFlags(), ask.AssumptionFlags()),
		Action: func(c *cli.Context) error {
			a, err := readWorked(sh, c)
			if err != nil {
				return err
			}
			return sh.Write(line.Answer{
				Schema:   "halfcup.worked/1",
				JSON:     a.json(),
				CSV:      a.csv(),
				Text:     func(w io.Writer) { a.text(w, sh.Page) },
				Warnings: a.warnings(),
				Explain:  a.form.explain(a),
				Closing:  a.form.closing(a),
			})
		},
	}
}

// worked is the question of every form, and the answer in the figures that all
// forms share.
type worked struct {
	treatment *sampling.Treatment // nil when not said
	level     float64
	target    float64
	season    decide.Year
	basis     ask.Basis
	repeated  repeated

	decide.Reduction
	answer decide.Answer
	form   workedForm
}

// workedForm is one way of finding out whether a treatment worked.
type workedForm interface {
	text(w io.Writer, page show.Page, a *worked)
	warnings(a *worked) []string
	explain(a *worked) string
	closing(a *worked) string
	json(a *worked, out *workedJSON)
	rows() [][]any // of the CSV, without level, target and answer
}

// repeated is what the record says of the mode of action of a treatment.
type repeated struct {
	mode  string
	times int
}

// The forms, by the flags that ask for them, with the flags that bear on them.
var workedForms = []struct {
	flags, uses []string
	read        func(*line.Shell, *cli.Context, *worked) (workedForm, error)
}{
	{[]string{"before", "after", "control-before", "control-after"}, []string{"treated", "brood", "adult-bees", "grams-per-100"}, workedPairs},
	{[]string{"falls"}, []string{"brood", "adult-bees", "fall-before", "arrivals"}, workedFalls},
	{[]string{"killed", "follow-up"}, nil, workedFollowUp},
	{[]string{"jar", "jar-control"}, nil, workedJar},
	{[]string{"colony", "yard"}, []string{"treated", "brood"}, workedRecord},
}

func readWorked(sh *line.Shell, c *cli.Context) (*worked, error) {
	if c.NArg() > 0 {
		return nil, &show.Problem{What: fmt.Sprintf("%s does not say whether it was made before or after the treatment", c.Args().First()), Remedy: "put --before or --after in front of it"}
	}
	form, said := -1, ""
	for i, f := range workedForms {
		j := slices.IndexFunc(f.flags, func(name string) bool { return c.IsSet(name) })
		switch {
		case j < 0:
		case form >= 0:
			return nil, &show.Problem{What: fmt.Sprintf("%s and --%s ask two different questions", said, f.flags[j]), Remedy: "ask one at a time"}
		default:
			form, said = i, "--"+f.flags[j]
		}
	}
	if form < 0 {
		return nil, line.TooFew("worked needs counts before and after a treatment, or what fell under it", "halfcup worked --before roll:18/300 --after roll:3/300")
	}
	for _, name := range []string{"treated", "brood", "adult-bees", "grams-per-100", "fall-before", "arrivals"} {
		if c.IsSet(name) && !slices.Contains(workedForms[form].uses, name) {
			return nil, &show.Problem{What: fmt.Sprintf("--%s has no bearing on %s", name, said), Remedy: "leave it out"}
		}
	}
	a := &worked{target: math.NaN()}
	var err error
	if c.IsSet("treatment") {
		t, err := sampling.FindTreatment(c.String("treatment"))
		if err != nil {
			return nil, line.InFlag("treatment", err)
		}
		a.treatment = &t
	}
	if a.level, err = line.Number(c, "level", nil, 0.5, 0.999); err != nil {
		return nil, err
	}
	if c.IsSet("target") {
		if a.target, err = line.Number(c, "target", nil, 0.1, 0.999); err != nil {
			return nil, err
		}
	}
	if a.season, err = ask.ReadSeason(sh, c); err != nil {
		return nil, err
	}
	if a.basis, err = ask.ReadAssumptions(sh, c); err != nil {
		return nil, err
	}
	a.form, err = workedForms[form].read(sh, c, a)
	return a, err
}

// setTarget puts the target of the treatment in force unless one was said.
func (a *worked) setTarget() {
	switch {
	case !math.IsNaN(a.target):
	case a.treatment != nil:
		a.target = a.treatment.TargetPercent / 100
	default:
		a.target = 0.9
	}
}

// capped reads --brood; without it the season says.
func (a *worked) capped(c *cli.Context, day sampling.Date) (bool, error) {
	if !c.IsSet("brood") {
		return day.IsZero() || decide.History{Year: a.season}.CappedBrood(day), nil
	}
	brood, err := line.Choice(c, "brood", "yes", "no")
	return brood == "yes", err
}

func (a *worked) text(w io.Writer, page show.Page) {
	a.form.text(w, page, a)
	fmt.Fprint(w, "\n"+page.Hang(fmt.Sprintf("%s (asked for: %s, limits at %s).", page.Paint(show.Strong, "Answer: "+string(a.answer)), say.Percent(a.target), say.Percent(a.level)), 0, 2))
	fmt.Fprint(w, "\n"+page.Wrap(rotation(a.treatment), 0))
}

// limits writes a reduction as "83% (51% to 96%)".
func limits(r decide.Reduction) string {
	if math.IsNaN(r.Low) {
		return "–"
	}
	return fmt.Sprintf("%s (%s to %s)", reducedBy(r.Middle), reducedBy(r.Low), reducedBy(r.High))
}

// reducedBy writes a share by which mites went down. Below zero there are more
// than before. Only a bare count can say 100%: none was found.
func reducedBy(share float64) string {
	switch {
	case math.IsNaN(share):
		return "–"
	case math.IsInf(share, -1):
		return "no limit"
	case share < 1 && share > 0.995:
		return "over 99%"
	case share < 0 && math.Round(100*share) == 0:
		return "0%"
	}
	return fmt.Sprintf("%.0f%%", 100*share)
}

// rotation tells which substances share a mode of action.
func rotation(t *sampling.Treatment) string {
	var groups []string
	for _, g := range decide.ActionGroups() {
		groups = append(groups, fmt.Sprintf("%s (%s)", g.Mode, strings.Join(g.Actives, ", ")))
	}
	s := "Rotate by mode of action, not by name: " + strings.Join(groups, "; ") + "."
	if t != nil {
		s += fmt.Sprintf(" This one was of the group %s.", t.ModeOfAction)
	}
	return s
}

func (a *worked) warnings() []string {
	out := a.form.warnings(a)
	if a.answer != decide.Worked {
		out = append(out, "A low figure need not mean resistance. Too weak or too short an application, cold, mites that came out of the brood afterwards, and mites from neighbours' colonies look the same. A jar test (--jar) helps to tell.")
	}
	if r := a.repeated; r.times > 1 {
		s := fmt.Sprintf("By the record the last %d treatments were all of the group %s, which is how mites grow resistant. Choose another group next time.", r.times, r.mode)
		if r.mode == "organic acid" {
			s = fmt.Sprintf("By the record the last %d treatments were all of the group %s. No resistance to oxalic acid has been shown so far (review: Vet Sci 2024, 11:393), but a change of group keeps it so.", r.times, r.mode)
		}
		out = append(out, s)
	}
	return append(out, "What may be given, how often and when is for the label and the law to say; nothing here is advice on a dose.")
}

type workedJSON struct {
	Pairs            []workedPairJSON `json:"pairs"`
	ReductionPercent show.Number      `json:"reduction_percent"`
	Low              show.Number      `json:"low"`
	High             show.Number      `json:"high"`
	Level            float64          `json:"level"`
	TargetPercent    show.Number      `json:"target_percent"`
	Answer           decide.Answer    `json:"answer"`

	Treatment       *string           `json:"treatment"`
	ChanceReached   show.Number       `json:"chance_reached"`   // null where only exact limits are known
	Growth          show.Number       `json:"growth"`           // factor without treatment, by the model
	TotalsPercent   show.Number       `json:"totals_percent"`   // against the untreated, all bees as one sample
	SettledOn       sampling.Date     `json:"settled_on"`       // first day on which to count, when it was too early
	BeforeNeeded    *int              `json:"before_needed"`    // mites before that could have shown it, with none after
	Falls           *workedFallsJSON  `json:"falls"`            // of the form with --falls
	RotationRepeats *int              `json:"rotation_repeats"` // last treatments in a row of one mode of action
	Assumptions     []sampling.Source `json:"assumptions"`
}

type workedPairJSON struct {
	Colony *string  `json:"colony"`
	Before *string  `json:"before"`
	After  string   `json:"after"`
	Bare   bareJSON `json:"bare"`
}

type bareJSON struct {
	ReductionPercent show.Number `json:"reduction_percent"`
	Low              show.Number `json:"low"`
	High             show.Number `json:"high"`
}

func bareOf(r decide.Reduction) bareJSON {
	return bareJSON{show.Number(100 * r.Middle), show.Number(100 * r.Low), show.Number(100 * r.High)}
}

func (a *worked) json() workedJSON {
	all := bareOf(a.Reduction)
	out := workedJSON{
		Pairs: []workedPairJSON{}, ReductionPercent: all.ReductionPercent, Low: all.Low, High: all.High,
		Level: a.level, TargetPercent: show.Number(100 * a.target), Answer: a.answer,
		ChanceReached: show.Number(math.NaN()), Growth: show.Number(math.NaN()), TotalsPercent: show.Number(math.NaN()),
		RotationRepeats: some(a.repeated.times), Assumptions: []sampling.Source{},
	}
	if a.treatment != nil {
		out.Treatment = &a.treatment.Slug
	}
	a.form.json(a, &out)
	return out
}

func (a *worked) csv() show.CSV {
	out := show.CSV{Head: []string{"figure", "colony", "before", "after", "value", "low", "high", "level", "target_percent", "answer"}}
	for _, r := range a.form.rows() {
		out.Rows = append(out.Rows, append(r, a.level, nil, nil))
	}
	all := bareOf(a.Reduction)
	out.Rows = append(out.Rows, []any{"reduction_percent", nil, nil, nil, all.ReductionPercent, all.Low, all.High, a.level, show.Number(100 * a.target), string(a.answer)})
	return out
}

// efficacySources lists the figures behind the judgement of a treatment.
func efficacySources(names ...string) []sampling.Source {
	return slices.DeleteFunc(decide.Sources(), func(s sampling.Source) bool { return !slices.Contains(names, s.Name) })
}
