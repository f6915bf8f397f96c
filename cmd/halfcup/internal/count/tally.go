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
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func tallyCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "tally",
		Category:  line.GroupCount,
		Usage:     "a plan to count scoop by scoop and stop as soon as you know",
		UsageText: "halfcup tally --low 1 --high 3",
		Description: "Most colonies are far from the line, and a few bees show it. Take one scoop of bees, count the mites, look at the table: few mites, stop and leave; many, stop and treat; between, take one more scoop off another brood frame. " +
			"What the plan really does is worked out over the very table that is printed. --so-far tells where a running tally stands. " +
			"Three plans are compared: sure stops when the mites speak clearly enough for --low or --high, precise when the level is known to --precision, worth when one more scoop is not worth its cost.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "method", Value: "roll", Usage: "how the scoops are counted `roll|wash|co2`"},
			&cli.StringFlag{Name: "scoop", Value: "100", Usage: "`BEES` in a scoop, counted"},
			&cli.StringFlag{Name: "max", Value: "900", Usage: "`BEES` at most"},
			&cli.StringFlag{Name: "low", Usage: "level to leave, `MITES` per hundred bees", DefaultText: "the watch line of the season"},
			&cli.StringFlag{Name: "high", Usage: "level to treat, `MITES` per hundred bees", DefaultText: "the act line of the season"},
			&cli.StringFlag{Name: "alpha", Value: "0.1", Usage: "`CHANCE` of treating a colony at the low level"},
			&cli.StringFlag{Name: "beta", Value: "0.1", Usage: "`CHANCE` of leaving a colony at the high level"},
			&cli.StringFlag{Name: "k", Usage: "how evenly mites are spread over the scoops, `K`, or inf", DefaultText: "1/CV² of the frames: 16"},
			&cli.BoolFlag{Name: "one-frame", Usage: "all scoops come off the same frame"},
			&cli.StringFlag{Name: "plan", Value: planSure, Usage: "the plan to carry `sure|precise|worth`"},
			&cli.StringFlag{Name: "precision", Value: "0.25", Usage: "standard error over level at which the precise plan stops, `SHARE`"},
			&cli.StringFlag{Name: "so-far", Usage: "the scoops so far, as `BEES:MITES,...`, such as 100:2,100:1"},
			&cli.BoolFlag{Name: "card", Usage: "a sheet to print and write on"},
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
	without := []string{"watch", "act", "min-worth", "bees-cv"}
	return slices.DeleteFunc(ask.RulesFlags(), func(f cli.Flag) bool { return slices.Contains(without, f.Names()[0]) })
}

// The plans, by the word that chooses them.
const (
	planSure    = "sure"
	planPrecise = "precise"
	planWorth   = "worth"
)

// planTitles say when each plan stops.
var planTitles = map[string]string{
	planSure:    "stop when sure",
	planPrecise: "stop when precise",
	planWorth:   "stop when one more is not worth it",
}

// tallyQuestion is what the user asked.
type tallyQuestion struct {
	decide.Tally
	*ask.Question                  // what is known before the first scoop
	line          decide.Threshold // Low and High, and where they come from
	method        sampling.Method
	plan          string
	precision     float64
	soFar         []decide.Scoop
}

func tally(sh *line.Shell, c *cli.Context) error {
	q, err := readTallyQuestion(sh, c)
	if err != nil {
		return err
	}
	plot := c.String("plot")
	switch {
	case c.NArg() > 0:
		return &show.Problem{What: fmt.Sprintf("tally takes no counts, and here is %q", c.Args().First()), Remedy: "give what was counted with --so-far 100:2,100:1"}
	case c.IsSet("plot") && filepath.Ext(plot) != ".svg":
		return line.BadValue("plot", plot, "the picture is an SVG file", "give it a name that ends in .svg")
	case q.soFar != nil && q.plan != planSure:
		return line.BadValue("so-far", c.String("so-far"), "--so-far follows the plan that stops when sure", "leave out --plan")
	case q.soFar != nil && c.Bool("card"):
		return line.BadValue("so-far", c.String("so-far"), "the card is for a tally that has not begun", "leave out --card or --so-far")
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
		Schema:   "halfcup.tally/2",
		JSON:     t,
		CSV:      t.csv(),
		Text:     func(w io.Writer) { t.text(w, sh.Page) },
		Warnings: t.warnings(),
		Explain:  t.explain(),
	}
	if c.Bool("card") {
		a.Text = func(w io.Writer) { t.card(w, sh.Page) }
	}
	return sh.Write(a)
}

func readTallyQuestion(sh *line.Shell, c *cli.Context) (q tallyQuestion, err error) {
	if err := tallySituation(sh, c, &q); err != nil {
		return q, err
	}
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
	if q.K, err = q.readK(c); err != nil {
		return q, err
	}
	q.OneFrame = c.Bool("one-frame")
	if q.plan, err = line.Choice(c, "plan", planSure, planPrecise, planWorth); err != nil {
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

// readK reads --k; unsaid it is that of scoops off frames that differ by the
// CV in force.
func (q tallyQuestion) readK(c *cli.Context) (float64, error) {
	switch {
	case c.String("k") == "inf", !c.IsSet("k") && q.FrameCV == 0:
		return math.Inf(1), nil
	case c.IsSet("k"):
		return line.Number(c, "k", nil)
	}
	return 1 / (q.FrameCV * q.FrameCV), nil
}

// tallySituation finds the two levels and what is known before the first scoop.
func tallySituation(sh *line.Shell, c *cli.Context, q *tallyQuestion) error {
	var err error
	if q.Question, err = ask.ReadQuestion(sh, c); err != nil {
		return err
	}
	q.line = q.Standing.Line
	for _, f := range []struct {
		name  string
		level *float64
	}{{"low", &q.line.Watch}, {"high", &q.line.Act}} {
		if !c.IsSet(f.name) {
			continue
		}
		if *f.level, err = line.Number(c, f.name, nil); err != nil {
			return err
		}
		q.line.Source, q.line.Kind = "your own line", "your own"
	}
	q.Low, q.High = q.line.Watch, q.line.Act
	return nil
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

// tallied is everything tally found out; its JSON is halfcup.tally/2.
type tallied struct {
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
	Performance []performJSON     `json:"performance"`
	Fixed       *fixedJSON        `json:"fixed_sample"` // the smallest that errs no more often; null when none was found
	Compared    []comparedJSON    `json:"compared"`
	SoFar       *soFarJSON        `json:"so_far"`
	Assumptions []sampling.Source `json:"assumptions"`

	q        tallyQuestion
	rows     decide.StopPlan
	reaching int // bees at most with which the errors asked for are kept; 0 when none
}

type stopJSON struct {
	Bees         int  `json:"bees"`
	LeaveFrom    *int `json:"leave_at_least,omitempty"` // precise plan only
	LeaveAtMost  *int `json:"leave_at_most"`
	TreatAtLeast *int `json:"treat_at_least"`
}

type performJSON struct {
	Level       float64     `json:"level_per_hundred"`
	ChanceTreat float64     `json:"chance_treat"`
	MeanBees    float64     `json:"mean_bees"`
	Varied      show.Number `json:"chance_treat_recovery_varies"` // null for a method without a recovery of its own
	Saved       show.Number `json:"saved_percent"`                // against the fixed sample
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
	Level       float64 `json:"level_per_hundred"`
	ChanceTreat float64 `json:"chance_treat"`
	MeanBees    float64 `json:"mean_bees"`
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

// answer works everything out.
func (q tallyQuestion) answer() (*tallied, error) {
	t := &tallied{
		Method: q.method, ScoopBees: q.Scoop, MaxBees: q.Max, Low: q.Low, High: q.High, Alpha: q.Alpha, Beta: q.Beta,
		K: show.Number(q.K), OneFrame: q.OneFrame, Recovery: q.Tally.Recovery, PlanName: q.plan, q: q,
	}
	counted := sampling.Count{Method: q.method, Amount: sampling.Amount{Value: float64(q.Scoop), Unit: sampling.Bees}}
	t.Assumptions = q.Sources(counted)

	plans := map[string]decide.StopPlan{planSure: q.Wald(), planPrecise: q.Precise(q.precision)}
	names := []string{planSure, planPrecise}
	if !q.OneFrame || q.plan == planWorth {
		worth, err := q.Worthwhile(q.Situation(), q.method)
		if err != nil {
			return nil, err
		}
		plans[planWorth], names = worth, append(names, planWorth)
	}
	t.rows = plans[q.plan]
	t.Plan = stopsOf(t.rows)
	atLow, atHigh := q.Perform(t.rows, q.Low).ChanceTreat, 1-q.Perform(t.rows, q.High).ChanceTreat
	if f, ok := q.Fixed(atLow, atHigh, mostFixedBees); ok {
		t.Fixed = &fixedJSON{f.Bees, f.LeaveAtMost}
	}
	levels := ladder(q.Low, q.High)
	for _, level := range levels {
		p := q.Perform(t.rows, level)
		row := performJSON{Level: level, ChanceTreat: p.ChanceTreat, MeanBees: p.MeanBees, Varied: show.Number(math.NaN()), Saved: show.Number(math.NaN())}
		if r, ok := q.Basis.Recovery[q.method]; ok {
			row.Varied = show.Number(q.PerformVaried(t.rows, level, r).ChanceTreat)
		}
		if t.Fixed != nil {
			row.Saved = show.Number(100 * (1 - p.MeanBees/float64(t.Fixed.Bees)))
		}
		t.Performance = append(t.Performance, row)
	}
	for _, name := range names {
		c := comparedJSON{Plan: name, Rows: stopsOf(plans[name])}
		for _, level := range levels {
			p := q.Perform(plans[name], level)
			c.Performance = append(c.Performance, comparedAtLevels{p.Level, p.ChanceTreat, p.MeanBees})
			switch level {
			case q.Low:
				c.TreatsLow = p.ChanceTreat
			case q.High:
				c.LeavesHigh = 1 - p.ChanceTreat
			}
		}
		t.Compared = append(t.Compared, c)
	}
	if q.plan == planSure && (atLow > q.Alpha || atHigh > q.Beta) {
		t.reaching = q.Reaching(mostReachBees)
	}
	if q.soFar == nil {
		return t, nil
	}
	return t, t.follow()
}

// follow finds where the running tally stands.
func (t *tallied) follow() error {
	s, err := t.q.Stand(t.q.soFar)
	if err != nil {
		return err
	}
	t.SoFar = &soFarJSON{
		Says: s.Says, Scoops: s.After, Bees: s.Bees, Mites: s.Mites, ChanceNextEnds: show.Number(math.NaN()),
		NextLeaveAtMost: limit(s.NextLeaveAtMost), NextTreatAtLeast: limit(s.NextTreatAtLeast), standing: s, given: len(t.q.soFar),
	}
	if s.Says != decide.GoOn || t.q.OneFrame {
		return nil
	}
	p, err := t.q.Tally.Prospect(t.q.Situation(), t.q.method, t.q.soFar)
	if err == nil {
		t.SoFar.ChanceNextEnds = show.Number(s.ChanceEnds(p))
	}
	return err
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
	c := show.PlanChart{Low: t.Low, High: t.High, FixedBees: math.NaN()}
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
