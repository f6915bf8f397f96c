package count

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
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

func tallyCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "tally",
		Category:  line.GroupCount,
		Usage:     "count scoop by scoop, and stop as soon as you know",
		ArgsUsage: "[-]",
		UsageText: "halfcup tally",
		Description: "Most colonies are far from the line, and a few bees show it. Take one scoop of bees, count the mites, look at the table: few mites, stop and leave; many, stop and treat; between, take one more. " +
			"After the same bees and mites it says what choose and estimate say. " +
			"With - it reads a line a scoop, as mites or BEES:MITES, and answers after each; --so-far takes them on the line. " +
			"--compare sets it beside two other plans: sure stops when the mites speak clearly enough for --low or --high, precise when the level is known to --precision.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "method", Value: "roll", Usage: "how the scoops are counted `roll|wash|co2`"},
			&cli.StringFlag{Name: "scoop", Value: "100", Usage: "`BEES` in a scoop, counted"},
			&cli.StringFlag{Name: "max", Value: "600", Usage: "`BEES` at most"},
			&cli.BoolFlag{Name: "each-frame", Usage: "each scoop comes from another brood frame, and not all from one"},
			&cli.StringFlag{Name: "so-far", Usage: "the scoops so far, as `BEES:MITES,...`, such as 100:2,100:1"},
			&cli.BoolFlag{Name: "card", Usage: "a sheet to print and write on"},
			&cli.BoolFlag{Name: "compare", Usage: "what this plan and two others do, level by level"},
			&cli.StringFlag{Name: "plan", Value: planWorth, Usage: "the plan to carry `worth|sure|precise`"},
			&cli.StringFlag{Name: "low", Usage: "level to leave, `MITES` per hundred bees", DefaultText: "the watch line of the day, half of high where that is no lower"},
			&cli.StringFlag{Name: "high", Usage: "level to treat, `MITES` per hundred bees", DefaultText: "the act line of the day"},
			&cli.StringFlag{Name: "alpha", Value: "0.1", Usage: "sure: `CHANCE` of treating a colony at the low level"},
			&cli.StringFlag{Name: "beta", Value: "0.1", Usage: "sure: `CHANCE` of leaving a colony at the high level"},
			&cli.StringFlag{Name: "precision", Value: "0.25", Usage: "precise: standard error over level at which it stops, `SHARE`"},
			&cli.StringFlag{Name: "k", Usage: "how evenly mites are spread over the frames, `K`, or inf", DefaultText: "1/CV² of the frames: 16"},
			&cli.StringFlag{Name: "plot", Usage: "draw what the plan does into `FILE.svg` as well"},
			&cli.StringFlag{Name: "colony", Usage: "start from what the record knows of the colony `NAME`"},
			&cli.StringFlag{Name: "yard", Usage: "its yard, `NAME`, when two yards have a colony of that name"},
		}, tallyRulesFlags()),
		Action: func(c *cli.Context) error { return tally(sh, c) },
	}
}

// tallyRulesFlags leaves out what a tally says in its own words or has no use
// for: its levels are --low and --high, and its scoops are full.
func tallyRulesFlags() []cli.Flag {
	without := []string{"watch", "act", "bees-cv"}
	return slices.DeleteFunc(ask.RulesFlags(), func(f cli.Flag) bool { return slices.Contains(without, f.Names()[0]) })
}

// The plans, by the word that chooses them.
const (
	planWorth   = "worth"
	planSure    = "sure"
	planPrecise = "precise"
)

// planTitles say when each plan stops.
var planTitles = map[string]string{
	planSure:    "stop when sure",
	planPrecise: "stop when precise",
	planWorth:   "stop when no more is worth it",
}

// tallyQuestion is what the user asked.
type tallyQuestion struct {
	decide.Tally
	*ask.Question // what is known, with the scoops so far once they are added
	start         decide.Standing
	method        sampling.Method
	plan          string
	precision     float64
	soFar         []decide.Scoop
	costs         decide.Costs
}

func tally(sh *line.Shell, c *cli.Context) error {
	q, err := readTallyQuestion(sh, c)
	if err != nil {
		return err
	}
	plot, asked := c.String("plot"), c.NArg() == 1 && c.Args().First() == "-"
	switch {
	case c.NArg() > 0 && !asked:
		return &show.Problem{What: fmt.Sprintf("tally takes no counts, and here is %q", c.Args().First()), Remedy: "give what was counted with --so-far 100:2,100:1, or line by line with halfcup tally -"}
	case c.IsSet("plot") && filepath.Ext(plot) != ".svg":
		return line.BadValue("plot", plot, "the picture is an SVG file", "give it a name that ends in .svg")
	case (asked || q.soFar != nil) && q.plan == planPrecise:
		return line.BadValue("plan", c.String("plan"), "no running tally follows this plan", "leave out --plan")
	case q.soFar != nil && c.Bool("card"):
		return line.BadValue("so-far", c.String("so-far"), "the card is for a tally that has not begun", "leave out --card or --so-far")
	}
	if asked {
		if err := q.listen(sh); err != nil {
			return err
		}
	}
	t, err := q.answer()
	if err != nil {
		return err
	}
	if c.IsSet("plot") {
		svg := t.chart().SVG(fmt.Sprintf("%s of %d bees: %s", q.method.Title(), q.Scoop, planTitles[q.plan]))
		if err := sh.Files.Write(plot, svg, ".svg"); err != nil {
			return err
		}
	}
	a := line.Answer{
		Schema:   "halfcup.tally/3",
		JSON:     t,
		CSV:      t.csv(),
		Text:     func(w io.Writer) { t.print(w, sh.Page, sh.Settings.LimitsLevel()) },
		Warnings: t.warnings(),
		Explain:  t.explain(),
	}
	switch {
	case c.Bool("card"):
		a.Text = func(w io.Writer) { t.card(w, sh.Page) }
	case c.Bool("compare"):
		a.Text = func(w io.Writer) { t.compare(w, sh.Page) }
	case q.soFar == nil:
		a.Warnings = append(a.Warnings, say.Warn(say.Caution, say.Cautions(string(q.method))...)...)
	}
	return sh.Write(a)
}

func readTallyQuestion(sh *line.Shell, c *cli.Context) (q tallyQuestion, err error) {
	if q.Question, err = ask.ReadUncounted(sh, c); err != nil {
		return q, err
	}
	if err := q.readK(c); err != nil {
		return q, err
	}
	if err := q.readLevels(c, sh.Today); err != nil {
		return q, err
	}
	q.start, q.costs = q.Standing, q.Apiary.Costs
	method, err := line.Choice(c, "method", string(sampling.Roll), string(sampling.Wash), string(sampling.CO2))
	if err != nil {
		return q, err
	}
	q.method = sampling.Method(method)
	q.Tally.Recovery = 1
	if r, ok := q.Basis.Recovery[q.method]; ok {
		q.Tally.Recovery = r.Mean()
	}
	if q.Scoop, err = line.Whole(c, "scoop"); err != nil {
		return q, err
	}
	if q.Max, err = line.Whole(c, "max"); err != nil {
		return q, err
	}
	if q.Max < q.Scoop {
		return q, line.BadValue("max", c.String("max"), "this is less than one scoop", "give at least the bees of one scoop, or make the scoops smaller")
	}
	q.Max -= q.Max % q.Scoop
	if q.Alpha, err = line.Number(c, "alpha", nil); err != nil {
		return q, err
	}
	if q.Beta, err = line.Number(c, "beta", nil); err != nil {
		return q, err
	}
	q.OneFrame = !c.Bool("each-frame")
	if q.plan, err = line.Choice(c, "plan", planWorth, planSure, planPrecise); err != nil {
		return q, err
	}
	if q.precision, err = line.Number(c, "precision", nil); err != nil {
		return q, err
	}
	if c.IsSet("so-far") {
		if q.soFar, err = parseScoops(c.String("so-far")); err != nil {
			return q, line.InFlag("so-far", err)
		}
	}
	return q, q.Tally.Check()
}

// readK reads --k, which is another way to say how much frames differ.
func (q *tallyQuestion) readK(c *cli.Context) (err error) {
	if c.IsSet("k") {
		cv := 0.0
		if c.String("k") != "inf" {
			k, err := line.Number(c, "k", nil)
			if err != nil {
				return err
			}
			cv = 1 / math.Sqrt(k)
		}
		q.FrameCV = cv
		for i := range q.Apiary.Colonies {
			q.Apiary.Colonies[i].Assumptions.FrameCV = cv
		}
	}
	q.K = math.Inf(1)
	if q.FrameCV > 0 {
		q.K = 1 / (q.FrameCV * q.FrameCV)
	}
	return nil
}

// readLevels finds the two levels: the lines of the day, or the user's own in
// their place, and puts the question by them.
func (q *tallyQuestion) readLevels(c *cli.Context, today sampling.Date) error {
	lines := slices.Clone(q.Apiary.Lines)
	for _, name := range []string{"low", "high"} {
		if !c.IsSet(name) {
			continue
		}
		v, err := line.Number(c, name, nil)
		if err != nil {
			return err
		}
		for i := range lines {
			if name == "low" {
				lines[i].Watch = v
			} else {
				lines[i].Act = v
			}
			lines[i].Source, lines[i].Kind = "your own line", "your own"
		}
	}
	q.Apiary.Lines = lines
	if err := q.Answer(today); err != nil {
		return err
	}
	q.Low, q.High = q.Standing.Line.Watch, q.Standing.Line.Act
	if q.Low == q.High && !c.IsSet("low") && !c.IsSet("high") {
		q.Low = q.High / 2 // an own line at or below that to watch from: nobody typed two levels that are one
	}
	return nil
}

// with is the question with scoops in the record of the colony.
func (q tallyQuestion) with(scoops []decide.Scoop) (decide.Standing, error) {
	a := q.Apiary
	a.Colonies = slices.Clone(a.Colonies)
	k := &a.Colonies[q.Place]
	k.Counts = slices.Concat(k.Counts, q.Counts(q.method, scoops, q.start.Day))
	return a.Of(q.Place, q.start.Day)
}

// parseScoops reads BEES:MITES with commas between.
func parseScoops(s string) ([]decide.Scoop, error) {
	var out []decide.Scoop
	offset := 0
	for _, part := range strings.Split(s, ",") {
		bees, mites, found := strings.Cut(part, ":")
		if !found {
			return nil, &sampling.SyntaxError{Input: s, Offset: offset, Length: max(len(part), 1), Problem: "a scoop is its bees and its mites", Remedy: "write it like 100:2, with commas between scoops"}
		}
		var scoop decide.Scoop
		for _, f := range []struct {
			text   string
			offset int
			low    float64
			into   *int
		}{{bees, offset, 1, &scoop.Bees}, {mites, offset + len(bees) + 1, 0, &scoop.Mites}} {
			v, err := line.ParseNumber(f.text, f.low, 2000)
			if err == nil && v != math.Trunc(v) {
				err = &sampling.SyntaxError{Input: f.text, Length: len(f.text), Problem: "this must be a whole number", Remedy: "write it without a point"}
			}
			if err != nil {
				return nil, line.Within(s, f.offset, err)
			}
			*f.into = int(v)
		}
		out = append(out, scoop)
		offset += len(part) + 1
	}
	return out, nil
}

// tallied is the plan, what it does, and the scoops so far; its JSON is halfcup.tally/3.
type tallied struct {
	Colony *string       `json:"colony"`
	Date   sampling.Date `json:"date"`
	say.Judgement
	Method      sampling.Method   `json:"method"`
	ScoopBees   int               `json:"scoop_bees"`
	MaxBees     int               `json:"max_bees"`
	Low         float64           `json:"low_per_hundred"`
	High        float64           `json:"high_per_hundred"`
	Alpha       float64           `json:"alpha"`
	Beta        float64           `json:"beta"`
	K           show.Number       `json:"k"` // null for mites spread evenly
	OneFrame    bool              `json:"one_frame"`
	Recovery    float64           `json:"recovery"`
	PlanName    string            `json:"plan_name"`
	Plan        []stopJSON        `json:"plan"`
	Expected    takesJSON         `json:"expected"` // of this colony, by what was known before the first scoop
	Performance []performJSON     `json:"performance"`
	Fixed       *fixedJSON        `json:"fixed_sample"` // the smallest that errs no more often; null when none was found
	Compared    []comparedJSON    `json:"compared"`
	SoFar       *soFarJSON        `json:"so_far"`
	Assumptions []sampling.Source `json:"assumptions"`

	q        tallyQuestion
	said     say.Standing
	rows     decide.StopPlan
	reaching int // bees at most with which the errors asked for are kept; 0 when none
}

type stopJSON struct {
	Bees         int  `json:"bees"`
	LeaveFrom    *int `json:"leave_at_least,omitempty"` // where too few mites leave it open
	LeaveAtMost  *int `json:"leave_at_most"`
	TreatAtLeast *int `json:"treat_at_least"`
}

// takesJSON is what a plan takes on average.
type takesJSON struct {
	ChanceTreat float64 `json:"chance_treat"`
	ChanceOpen  float64 `json:"chance_open"` // that it ends with nothing settled
	MeanBees    float64 `json:"mean_bees"`
	MeanMinutes float64 `json:"mean_minutes"`
}

type performJSON struct {
	Level float64 `json:"level_per_hundred"`
	takesJSON
	Varied show.Number `json:"chance_treat_recovery_varies"` // null for a method without a recovery of its own
	Saved  show.Number `json:"saved_percent"`                // against the fixed sample
}

type fixedJSON struct {
	Bees        int `json:"bees"`
	LeaveAtMost int `json:"leave_at_most"`
}

type comparedJSON struct {
	Plan        string             `json:"plan"`
	TreatsLow   float64            `json:"chance_treat_at_low"`
	LeavesHigh  float64            `json:"chance_leave_at_high"`
	Rows        []stopJSON         `json:"rows"`
	Performance []comparedAtLevels `json:"performance"`
}

type comparedAtLevels struct {
	Level float64 `json:"level_per_hundred"`
	takesJSON
}

type soFarJSON struct {
	Says             decide.Stop `json:"says"`
	Scoops           int         `json:"scoops"`
	Bees             int         `json:"bees"`
	Mites            int         `json:"mites"`
	NextLeaveAtMost  *int        `json:"next_leave_at_most"`
	NextTreatAtLeast *int        `json:"next_treat_at_least"`
	ChanceNextEnds   show.Number `json:"chance_next_ends"`

	standing decide.SoFar
	given    int // scoops that were given
}

// mostFixedBees and mostReachBees are how far a fixed sample, and a plan that
// keeps its word, are looked for.
const (
	mostFixedBees = 20_000
	mostReachBees = 5_000
)

// knownParts is how many equally likely levels stand for what is known.
const knownParts = 20

// answer lays out the plan that was asked for, as it stops and as it does at both
// lines and in colonies such as this may be, beside a fixed sample that errs as
// seldom, and with --compare beside the other plans.
func (q tallyQuestion) answer() (*tallied, error) {
	t := &tallied{
		Colony: say.Said(q.start.Colony), Date: q.start.Day,
		Method: q.method, ScoopBees: q.Scoop, MaxBees: q.Max, Low: q.Low, High: q.High, Alpha: q.Alpha, Beta: q.Beta,
		K: show.Number(q.K), OneFrame: q.OneFrame, Recovery: q.Tally.Recovery, PlanName: q.plan, q: q,
		Assumptions: q.Sources(sampling.Count{Method: q.method, Amount: sampling.Amount{Value: float64(q.Scoop), Unit: sampling.Bees}}),
	}
	names := []string{planWorth, planSure, planPrecise}
	worth, err := q.Worthwhile(q.start.Situation(), q.method)
	switch {
	case err != nil && q.plan == planWorth:
		return nil, err
	case err != nil:
		names = names[1:] // the other plans ask nothing of the day
	}
	plans := map[string]decide.StopPlan{planWorth: worth, planSure: q.Wald(), planPrecise: q.Precise(q.precision)}
	t.rows = plans[q.plan]
	t.Plan = stopsOf(t.rows)
	low, high := q.Perform(t.rows, q.Low), q.Perform(t.rows, q.High)
	atLow, atHigh := low.ChanceTreat, leaves(high)
	if f, ok := q.Fixed(atLow, atHigh, mostFixedBees); ok {
		t.Fixed = &fixedJSON{f.Bees, f.LeaveAtMost}
	}
	for i := range knownParts {
		p := q.takes(q.Perform(t.rows, 100*q.start.Known.Quantile((float64(i)+0.5)/knownParts)))
		t.Expected.ChanceTreat += p.ChanceTreat / knownParts
		t.Expected.ChanceOpen += p.ChanceOpen / knownParts
		t.Expected.MeanBees += p.MeanBees / knownParts
		t.Expected.MeanMinutes += p.MeanMinutes / knownParts
	}
	levels := ladder(q.Low, q.High)
	for _, level := range levels {
		row := performJSON{Level: level, takesJSON: q.takes(q.Perform(t.rows, level)), Varied: show.Number(math.NaN()), Saved: show.Number(math.NaN())}
		if r, ok := q.Basis.Recovery[q.method]; ok {
			row.Varied = show.Number(q.PerformVaried(t.rows, level, r).ChanceTreat)
		}
		if t.Fixed != nil {
			row.Saved = show.Number(100 * (1 - row.MeanBees/float64(t.Fixed.Bees)))
		}
		t.Performance = append(t.Performance, row)
	}
	for _, name := range names {
		c := comparedJSON{Plan: name, Rows: stopsOf(plans[name]), TreatsLow: q.Perform(plans[name], q.Low).ChanceTreat, LeavesHigh: leaves(q.Perform(plans[name], q.High))}
		for _, level := range levels {
			c.Performance = append(c.Performance, comparedAtLevels{level, q.takes(q.Perform(plans[name], level))})
		}
		t.Compared = append(t.Compared, c)
	}
	if q.plan == planSure && (atLow > q.Alpha || atHigh > q.Beta) {
		t.reaching = q.Reaching(mostReachBees)
	}
	standing := q.start
	if q.soFar != nil {
		if standing, err = t.follow(); err != nil {
			return nil, err
		}
	}
	if t.said, err = say.NewStanding(standing); err != nil {
		return nil, err
	}
	t.Judgement = say.JudgementOf(t.said)
	return t, nil
}

// leaves is the chance that a plan ends with leaving the colony.
func leaves(p decide.Performance) float64 { return math.Max(0, 1-p.ChanceTreat-p.ChanceOpen) }

// takes is what a plan takes, with the time it takes.
func (q tallyQuestion) takes(p decide.Performance) takesJSON {
	one := q.costs.Effort(decide.Scooped(q.method, q.Scoop, 1, 0)).Minutes
	two := q.costs.Effort(decide.Scooped(q.method, 2*q.Scoop, 2, 0)).Minutes
	if q.OneFrame {
		two = q.costs.Effort(decide.Scooped(q.method, 2*q.Scoop, 1, 0)).Minutes
	}
	return takesJSON{p.ChanceTreat, p.ChanceOpen, p.MeanBees, one + (two-one)*(p.MeanScoops-1)}
}

// stand is where the scoops so far have come.
func (q tallyQuestion) stand() (decide.SoFar, error) {
	if q.plan == planSure {
		return q.Stand(q.soFar)
	}
	return q.StandBy(q.start.Situation(), q.method, q.soFar)
}

// follow finds where the running tally stands, and the standing of the colony
// with its scoops.
func (t *tallied) follow() (decide.Standing, error) {
	s, err := t.q.stand()
	if err != nil {
		return decide.Standing{}, err
	}
	t.SoFar = &soFarJSON{
		Says: s.Says, Scoops: s.After, Bees: s.Bees, Mites: s.Mites, ChanceNextEnds: show.Number(math.NaN()),
		NextLeaveAtMost: limit(s.NextLeaveAtMost), NextTreatAtLeast: limit(s.NextTreatAtLeast), standing: s, given: len(t.q.soFar),
	}
	counted := t.q.soFar[:s.After]
	ends, err := t.q.ChanceEnds(t.q.start.Situation(), t.q.method, counted, s)
	if err != nil {
		return decide.Standing{}, err
	}
	t.SoFar.ChanceNextEnds = show.Number(ends)
	return t.q.with(counted)
}

// ladder is the true levels a plan is tried at: well below low, in quarters
// from low to high, and well above.
func ladder(low, high float64) []float64 {
	between := func(part float64) float64 { return math.Round((low+part*(high-low))*1e6) / 1e6 }
	return []float64{low / 2, low, between(0.25), between(0.5), between(0.75), high, between(1.5), 2 * high}
}

// limit is nil where there is no stop.
func limit(mites int) *int {
	if mites == decide.NoStop {
		return nil
	}
	return &mites
}

func stopsOf(p decide.StopPlan) []stopJSON {
	out := make([]stopJSON, len(p))
	for i, r := range p {
		out[i] = stopJSON{Bees: r.Bees, LeaveAtMost: limit(r.LeaveAtMost), TreatAtLeast: limit(r.TreatAtLeast)}
		if r.LeaveFrom > 0 {
			out[i].LeaveFrom = &r.LeaveFrom
		}
	}
	return out
}

// csv is the table to carry.
func (t *tallied) csv() show.CSV {
	out := show.CSV{Head: []string{"scoops", "bees", "leave_at_least", "leave_at_most", "treat_at_least"}}
	cell := func(mites *int) any {
		if mites == nil {
			return nil
		}
		return *mites
	}
	for i, r := range t.Plan {
		out.Rows = append(out.Rows, []any{t.rows[i].Scoops, r.Bees, cell(r.LeaveFrom), cell(r.LeaveAtMost), cell(r.TreatAtLeast)})
	}
	return out
}

// chart is what the plan does over a fine ladder.
func (t *tallied) chart() show.PlanChart {
	c := show.PlanChart{Low: math.Round(10*t.Low) / 10, High: math.Round(10*t.High) / 10, FixedBees: math.NaN()}
	if t.Fixed != nil {
		c.FixedBees = float64(t.Fixed.Bees)
	}
	const steps = 60
	from, to := t.Low/3, 2.5*t.High
	for i := range steps + 1 {
		level := from * math.Pow(to/from, float64(i)/steps)
		p := t.q.Perform(t.rows, level)
		c.Levels, c.Treats, c.Bees = append(c.Levels, level), append(c.Treats, p.ChanceTreat), append(c.Bees, p.MeanBees)
	}
	return c
}
