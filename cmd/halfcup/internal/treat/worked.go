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
			&cli.StringFlag{Name: "yard", Usage: "the yard `NAME` of the record: every course of its last twelve months, or the yard of --colony"},
			&cli.StringFlag{Name: "treatment", Usage: "what was given, `NAME`, such as oxalic-vapour"},
			&cli.StringSliceFlag{Name: "treated", Usage: "day of a round, `DATE`, may be repeated; with the record, which treatment is meant"},
			&cli.StringFlag{Name: "target", Usage: "share of the mites it should kill, `SHARE`", DefaultText: "what trials let one expect of it; 0.9 when it is not named"},
			&cli.StringFlag{Name: "level", Value: "0.9", Usage: "level of the limits, `LEVEL`"},
			&cli.StringFlag{Name: "brood", Usage: "whether there was capped brood `yes|no`", DefaultText: "by the season"},
			&cli.StringFlag{Name: "adult-bees", Usage: "adult bees of the colony, `BEES`", DefaultText: "by the season"},
			&cli.StringFlag{Name: "grams-per-100", Usage: "weight of 100 bees of weighed samples, as wet as they were, `GRAMS`"},
			&cli.StringFlag{Name: "fall-before", Usage: "--falls: mites a day that fell before the first round, `MITES`"},
			&cli.StringFlag{Name: "arrivals", Value: decide.DefaultArrivals, Usage: "mites a day that come in from other colonies `none|few|many|N`"},
		}, ask.SeasonFlags(), ask.AssumptionFlags()),
		Action: func(c *cli.Context) error {
			if c.IsSet("yard") && !c.IsSet("colony") {
				return workedYard(sh, c)
			}
			a, err := readWorked(sh, c)
			if err != nil {
				return err
			}
			return sh.Write(line.Answer{
				Schema:   "halfcup.worked/3",
				JSON:     a.json(),
				CSV:      a.csv(),
				Text:     func(w io.Writer) { a.print(w, sh.Page) },
				Warnings: a.warnings(),
				Explain:  a.form.explain(a),
			})
		},
	}
}

// worked is the question of every form, and the answer in the figures that all
// forms share.
type worked struct {
	treatment *sampling.Treatment // nil when not said
	course    decide.Course       // the rounds that are judged; without any when nobody said
	capped    bool                // there was capped brood
	level     float64
	target    float64
	ownTarget bool // somebody said it
	rules     ask.Rules
	repeated  repeated

	decide.Reduction
	answer decide.Answer
	form   workedForm

	// now is the colony today, nil where nothing is known of it or there are
	// several.
	now *say.Standing
}

// workedForm is one way of finding out whether a treatment worked.
type workedForm interface {
	verdict(a *worked) string // what to make of it and do next, without the subject
	figures(a *worked) string // what the treatment did, in figures
	print(w io.Writer, page show.Page, a *worked)
	warnings(a *worked) []say.Warning
	explain(a *worked) string
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
	{[]string{"before", "after", "control-before", "control-after"}, []string{"treated", "brood", "adult-bees", "grams-per-100", "arrivals"}, workedPairs},
	{[]string{"falls"}, []string{"brood", "adult-bees", "fall-before", "arrivals"}, workedFalls},
	{[]string{"killed", "follow-up"}, []string{"brood"}, workedFollowUp},
	{[]string{"jar", "jar-control"}, nil, workedJar},
	{[]string{"colony", "yard"}, []string{"treated", "brood", "arrivals"}, workedColony},
}

// askedForm is the form that the flags ask for, by its place in workedForms.
func askedForm(c *cli.Context) (int, error) {
	if c.NArg() > 0 {
		return 0, &show.Problem{What: fmt.Sprintf("%s does not say whether it was made before or after the treatment", c.Args().First()), Remedy: "put --before or --after in front of it"}
	}
	form, said := -1, ""
	for i, f := range workedForms {
		j := slices.IndexFunc(f.flags, func(name string) bool { return c.IsSet(name) })
		switch {
		case j < 0:
		case form >= 0:
			return 0, &show.Problem{What: fmt.Sprintf("%s and --%s ask two different questions", said, f.flags[j]), Remedy: "ask one at a time"}
		default:
			form, said = i, "--"+f.flags[j]
		}
	}
	if form < 0 {
		return 0, line.TooFew("worked needs counts before and after a treatment, or what fell under it", "halfcup worked --before roll:18/300 --after roll:3/300")
	}
	for _, name := range []string{"treated", "brood", "adult-bees", "grams-per-100", "fall-before", "arrivals"} {
		if c.IsSet(name) && !slices.Contains(workedForms[form].uses, name) {
			return 0, &show.Problem{What: fmt.Sprintf("--%s has no bearing on %s", name, said), Remedy: "leave it out"}
		}
	}
	return form, nil
}

func readWorked(sh *line.Shell, c *cli.Context) (*worked, error) {
	form, err := askedForm(c)
	if err != nil {
		return nil, err
	}
	a, err := readAsked(sh, c)
	if err != nil {
		return nil, err
	}
	a.form, err = workedForms[form].read(sh, c, a)
	return a, err
}

// readAsked reads what every form is asked.
func readAsked(sh *line.Shell, c *cli.Context) (*worked, error) {
	a := &worked{target: math.NaN()}
	var err error
	if c.IsSet("treatment") {
		t, err := sampling.FindTreatment(c.String("treatment"))
		if err != nil {
			return nil, line.InFlag("treatment", err)
		}
		a.treatment = &t
	}
	if a.level, err = line.Number(c, "level", sh.Settings.Level); err != nil {
		return nil, err
	}
	if a.ownTarget = c.IsSet("target"); a.ownTarget {
		if a.target, err = line.Number(c, "target", nil); err != nil {
			return nil, err
		}
	}
	a.rules, err = ask.ReadRules(sh, c)
	return a, err
}

// expect puts what is to be expected of the treatment in force as the target,
// unless one was said: to ask 90 % of all of them would call one a failure that
// did what it does.
func (a *worked) expect() {
	switch {
	case a.ownTarget:
	case a.treatment != nil:
		a.target = a.treatment.ExpectPercent(a.capped) / 100
	default:
		a.target = 0.9
	}
}

// cappedOn reads --brood; without it the season says.
func (a *worked) cappedOn(c *cli.Context, day sampling.Date) (bool, error) {
	if !c.IsSet("brood") {
		return day.IsZero() || a.rules.Base.CappedBrood(day), nil
	}
	brood, err := line.Choice(c, "brood", "yes", "no")
	return brood == "yes", err
}

// promised is what the model of rounds says of the rounds that were given: the
// share of the mites fewer than untreated at a weak, a middle and a strong kill.
// ok is false where it says nothing: of one course, or when no round is known.
func (a *worked) promised() (decide.Range, bool) {
	if a.treatment == nil || !a.treatment.NeedsNoBrood() || len(a.course.Rounds) == 0 {
		return decide.Range{}, false
	}
	n := len(a.course.Rounds)
	rounds := decide.Rounds{EveryDays: 1, Rounds: n}
	if n > 1 {
		rounds.EveryDays = max(1, int(a.course.Last-a.course.First)/(n-1))
	}
	brood := decide.NoBrood
	if a.capped {
		brood = decide.FullBrood
	}
	var out decide.Range
	for i, kill := range decide.KillRange(a.treatment.Kill(a.capped)) {
		rounds.Kill = kill
		left, err := decide.SteadyRates().Leave(rounds, brood)
		if err != nil {
			return out, false // more rounds than anybody gives
		}
		*[]*float64{&out.Low, &out.Middle, &out.High}[i] = left.CorrectedReduction()
	}
	return out, true
}

// subject is the colony and the treatment that a sentence begins with.
func (a *worked) subject(whom string) string {
	what := "the treatment"
	if a.treatment != nil {
		what = a.treatment.Called
	}
	if !a.course.First.IsZero() {
		what += " of " + say.ShortDay(a.course.First)
	}
	if whom == "" {
		return say.Capital(what)
	}
	return whom + ", " + what
}

func (a *worked) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, a.form.verdict(a)), 0), p.Wrap(strings.TrimSpace(a.form.figures(a)+" "+a.held()), 0))
	if a.now != nil {
		fmt.Fprint(w, "\n", p.Wrap(a.now.First(), 0))
		if a.now.HasLevel() {
			fmt.Fprint(w, a.now.Level(p, a.now.Known.Summary(a.level)))
		}
	}
	a.form.print(w, p, a)
	if s := a.resistance(); s != "" {
		fmt.Fprint(w, "\n", p.Wrap(s, 0))
	}
}

// held is what the figures are held against.
func (a *worked) held() string {
	if _, isJar := a.form.(*jarForm); isJar {
		return ""
	}
	out := fmt.Sprintf("Asked for: %s.", say.Percent(a.target))
	if !a.ownTarget {
		out = fmt.Sprintf("Of any treatment %s is asked.", say.Percent(a.target))
		if a.treatment != nil {
			out = fmt.Sprintf("To be expected of %s%s: %s%s.", a.treatment.Called, a.beside(), say.Percent(a.target), a.susceptible())
		}
	}
	if r, ok := a.promised(); ok {
		out += fmt.Sprintf(" By the model such rounds promised %s (%s to %s).", show.Percent(r.Middle), show.Percent(r.Low), show.Percent(r.High))
	}
	return out
}

func (a *worked) beside() string {
	if a.capped {
		return " beside brood"
	}
	return " without brood"
}

func (a *worked) susceptible() string {
	if a.treatment.Synthetic() {
		return ", where mites still die of it"
	}
	return ""
}

const mayResist = "Mites may no longer mind it; given too weakly or too briefly, or mites from outside, look the same. A jar test tells (--jar). " +
	"Next time take another group than %s."

// resistance is said only of what mites become resistant to, and only when it
// did not work.
func (a *worked) resistance() string {
	if a.treatment == nil || !decide.AskResistance(*a.treatment, a.answer) {
		return ""
	}
	out := fmt.Sprintf(mayResist, a.treatment.ModeOfAction)
	if r := a.repeated; r.times > 1 {
		out += fmt.Sprintf(" The last %d courses were all of this group.", r.times)
	}
	return out
}

// asked is where the target comes from, in a clause.
func (a *worked) asked() string {
	switch {
	case a.ownTarget:
		return "what you asked for"
	case a.treatment != nil:
		return "what trials let one expect of such a treatment"
	}
	return "what European regulators ask of such a treatment"
}

// limits writes a reduction as "83% (51% to 96%)".
func limits(r decide.Reduction) string {
	if math.IsNaN(r.Low) {
		return "–"
	}
	return fmt.Sprintf("%s (%s to %s)", say.Took(r.Middle), say.Took(r.Low), say.Took(r.High))
}

// warnings are those of the form, and the cautions of what is named.
func (a *worked) warnings() []say.Warning {
	return slices.Concat(say.Warn(say.LeftOut, a.rules.LeftOut...), a.form.warnings(a), say.Warn(say.Caution, a.cautions()...))
}

// cautions are those of the treatment, and of another that is in the hive today.
func (a *worked) cautions() []string {
	var names []string
	if a.treatment != nil {
		names = append(names, a.treatment.Slug)
	}
	if a.now != nil && a.now.CourseState != "" && !slices.Contains(names, a.now.Course.Treatment.Slug) {
		names = append(names, a.now.Course.Treatment.Slug)
	}
	return say.Cautions(names...)
}

type workedJSON struct {
	Pairs            []workedPairJSON `json:"pairs"`
	ReductionPercent show.Number      `json:"reduction_percent"`
	LowPercent       show.Number      `json:"low_percent"`
	HighPercent      show.Number      `json:"high_percent"`
	Level            float64          `json:"level"`
	TargetPercent    show.Number      `json:"target_percent"`
	Answer           decide.Answer    `json:"answer"`

	Treatment   *string       `json:"treatment"`
	Treated     sampling.Date `json:"treated"` // the first round
	CappedBrood bool          `json:"capped_brood"`
	Promised    *bareJSON     `json:"promised"` // by the model of rounds; null of what is not given in rounds
	Verdict     string        `json:"sentence"`

	// What is left today; null where nothing is known of one colony.
	Estimate   *sampling.Summary `json:"estimate"`
	ChanceOver *say.Chances      `json:"chance_over"`
	Now        *say.Verdict      `json:"verdict"`

	ChanceReached   show.Number       `json:"chance_reached"`   // null where only exact limits are known
	Growth          show.Number       `json:"growth"`           // factor without treatment, by the model
	TotalsPercent   show.Number       `json:"totals_percent"`   // against the untreated, all bees as one sample
	SettledOn       sampling.Date     `json:"settled_on"`       // first day on which to count, when it was too early
	BeforeNeeded    *int              `json:"before_needed"`    // mites before that could have shown it, with none after
	Falls           *workedFallsJSON  `json:"falls"`            // of the form with --falls
	RotationRepeats *int              `json:"rotation_repeats"` // last courses in a row of one mode of action
	Cautions        []string          `json:"cautions"`
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
	LowPercent       show.Number `json:"low_percent"`
	HighPercent      show.Number `json:"high_percent"`
}

func bareOf(r decide.Reduction) bareJSON {
	return bareJSON{show.Number(100 * r.Middle), show.Number(100 * r.Low), show.Number(100 * r.High)}
}

func (a *worked) json() workedJSON {
	all := bareOf(a.Reduction)
	out := workedJSON{
		Pairs: []workedPairJSON{}, ReductionPercent: all.ReductionPercent, LowPercent: all.LowPercent, HighPercent: all.HighPercent,
		Treated: a.course.First, CappedBrood: a.capped, Verdict: a.form.verdict(a), Cautions: append([]string{}, a.cautions()...),
		Level: a.level, TargetPercent: show.Number(100 * a.target), Answer: a.answer,
		ChanceReached: show.Number(math.NaN()), Growth: show.Number(math.NaN()), TotalsPercent: show.Number(math.NaN()),
		RotationRepeats: some(a.repeated.times), Assumptions: []sampling.Source{},
	}
	if a.treatment != nil {
		out.Treatment = &a.treatment.Slug
	}
	if r, ok := a.promised(); ok {
		out.Promised = &bareJSON{show.Number(100 * r.Middle), show.Number(100 * r.Low), show.Number(100 * r.High)}
	}
	if a.now != nil {
		j := say.JudgementOf(*a.now)
		out.ChanceOver, out.Now = &j.ChanceOver, &j.Verdict
		if a.now.HasLevel() {
			s := a.now.Known.Summary(a.level)
			out.Estimate = &s
		}
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
	out.Rows = append(out.Rows, []any{"reduction_percent", nil, nil, nil, all.ReductionPercent, all.LowPercent, all.HighPercent, a.level, show.Number(100 * a.target), string(a.answer)})
	return out
}
