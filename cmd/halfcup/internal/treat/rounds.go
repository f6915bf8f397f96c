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
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func roundsCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "rounds",
		Category:  line.GroupTreat,
		Usage:     "what repeated treatment of the mites on bees leaves",
		ArgsUsage: "[TREATMENT]",
		UsageText: "halfcup rounds oxalic-vapour --every 5,7 --rounds 3,4,5",
		Description: "For a treatment that reaches the mites on adult bees and spares those in capped cells: what is left two weeks after the last round. " +
			"The kill of a round is a range, because nobody knows it of a colony; the field trials are shown beside the model. TREATMENT is oxalic-vapour when left out. " +
			"It never says how much to give: that is the label's.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "brood", Value: "yes", Usage: "whether the colony has capped brood `yes|no`"},
			&cli.StringFlag{Name: "kill", DefaultText: "by treatment and brood", Usage: "share of the mites on adult bees that a round kills, `LOW-HIGH`"},
			&cli.StringFlag{Name: "every", DefaultText: everyWithBrood + ", without brood " + everyNoBrood, Usage: "`DAYS` between rounds, with commas"},
			&cli.StringFlag{Name: "rounds", DefaultText: roundsWithBrood + ", without brood " + roundsNoBrood, Usage: "`NUMBERS` of rounds, with commas"},
			&cli.StringFlag{Name: "target", DefaultText: "0.9, or 0.95 for synthetic actives", Usage: "`SHARE` by which the mites should be fewer than without treatment"},
		}, ask.RateFlags()...),
		Action: func(c *cli.Context) error {
			q, err := readRoundsQuestion(c)
			if err != nil {
				return err
			}
			r, err := q.answer()
			if err != nil {
				return err
			}
			return sh.Write(line.Answer{
				Schema:   "halfcup.rounds/1",
				JSON:     r.json(),
				CSV:      r.csv(),
				Text:     func(w io.Writer) { r.text(w, sh.Page) },
				Warnings: r.warnings(),
				Explain:  r.explain(),
				Closing:  r.closing(),
			})
		},
	}
}

// What is worked out when nothing is said.
const (
	everyWithBrood, everyNoBrood   = "3,5,7", "7"
	roundsWithBrood, roundsNoBrood = "1,3,4,5,7", "1,2"
)

// roundsQuestion is what the user asked.
type roundsQuestion struct {
	treatment     sampling.Treatment
	brood         decide.Brood
	kills         []float64 // low, middle, high
	every, rounds []int
	target        float64
	rates         decide.Rates
}

func readRoundsQuestion(c *cli.Context) (q roundsQuestion, err error) {
	if q.treatment, err = roundsTreatment(c.Args().Slice()); err != nil {
		return q, err
	}
	brood, err := line.Choice(c, "brood", "yes", "no")
	if err != nil {
		return q, err
	}
	if brood == "yes" {
		q.brood = decide.FullBrood
	}
	kills := decide.KillRange(q.treatment.Kill(brood == "yes"))
	q.kills = kills[:]
	if c.IsSet("kill") {
		if q.kills, err = killRange(c.String("kill")); err != nil {
			return q, err
		}
	}
	every, rounds := everyNoBrood, roundsNoBrood
	if q.brood != decide.NoBrood {
		every, rounds = everyWithBrood, roundsWithBrood
	}
	if q.every, err = line.Wholes(c, "every", every, 1, 60); err != nil {
		return q, err
	}
	if q.rounds, err = line.Wholes(c, "rounds", rounds, 1, 20); err != nil {
		return q, err
	}
	q.target = q.treatment.TargetPercent / 100
	if c.IsSet("target") {
		if q.target, err = line.Number(c, "target", nil, 0.01, 0.9999); err != nil {
			return q, err
		}
	}
	q.rates, err = ask.ReadRates(c, q.brood)
	return q, err
}

// roundsTreatment finds the treatment and refuses those of which rounds are
// not the question.
func roundsTreatment(args []string) (sampling.Treatment, error) {
	if len(args) == 0 {
		args = []string{"oxalic-vapour"}
	}
	t, err := sampling.FindTreatment(strings.Join(args, " "))
	if err != nil {
		return t, err
	}
	why := ""
	switch {
	case t.ActsInBrood:
		why = "reaches the mites in capped cells too"
	case t.WholeColony:
		why = "outlasts the capped time, so it is given once"
	}
	if why != "" {
		return t, &show.Problem{What: t.Slug + " " + why + "; rounds tell nothing of it", Remedy: "the treatments of mites on adult bees are " + strings.Join(shortTreatments(), ", ")}
	}
	return t, nil
}

// shortTreatments are the treatments whose rounds can be worked out.
func shortTreatments() []string {
	var out []string
	for _, t := range sampling.Treatments() {
		if !t.ActsInBrood && !t.WholeColony {
			out = append(out, t.Slug)
		}
	}
	return out
}

// killRange reads LOW-HIGH and puts the middle between. One figure is refused:
// the kill of a round is never known so well.
func killRange(s string) ([]float64, error) {
	const remedy = "write a range of shares, such as 0.5-0.9"
	lowText, highText, isRange := strings.Cut(s, "-")
	if !isRange {
		return nil, line.BadValue("kill", s, "the kill of a round is never known as one figure", remedy)
	}
	low, err := line.ParseNumber(lowText, 0, 1)
	if err != nil {
		return nil, line.BadValue("kill", s, fmt.Sprintf("%q is not a share from 0 to 1", lowText), remedy)
	}
	high, err := line.ParseNumber(highText, 0, 1)
	if err != nil {
		return nil, line.BadValue("kill", s, fmt.Sprintf("%q is not a share from 0 to 1", highText), remedy)
	}
	if low >= high {
		return nil, line.BadValue("kill", s, "the first share must be the lower one", remedy)
	}
	return []float64{low, (low + high) / 2, high}, nil
}

// roundsAnswer is everything the answer is written from.
type roundsAnswer struct {
	roundsQuestion
	growth  decide.Growth
	plans   []roundsPlan
	holding float64 // kill at which the last plan only holds the level; NaN for none
	fewest  [][]int // by kill and spacing; 0 when no number does
	without int     // fewest rounds at the middle kill in a colony without brood
}

// roundsPlan is one number of rounds at one spacing, at each kill.
type roundsPlan struct{ left []decide.Left }

func (p roundsPlan) single() bool { return p.left[0].Rounds.Rounds == 1 }

func (q roundsQuestion) answer() (roundsAnswer, error) {
	a := roundsAnswer{roundsQuestion: q, growth: q.rates.Stable(q.brood)}
	for i, every := range q.every {
		for _, n := range q.rounds {
			if n == 1 && i > 0 {
				continue // one round is one round at any spacing
			}
			var p roundsPlan
			for _, kill := range q.kills {
				left, err := q.rates.Leave(decide.Rounds{EveryDays: every, Rounds: n, Kill: kill}, q.brood)
				if err != nil {
					return a, err
				}
				p.left = append(p.left, left)
			}
			a.plans = append(a.plans, p)
		}
	}
	var err error
	last := a.plans[len(a.plans)-1].left[0]
	if a.holding, err = q.rates.Holding(last.EveryDays, last.Rounds.Rounds, q.brood); err != nil {
		return a, err
	}
	for _, kill := range q.kills {
		var row []int
		for _, every := range q.every {
			n, err := q.rates.Fewest(every, kill, q.brood, q.target)
			if err != nil {
				return a, err
			}
			row = append(row, n)
		}
		a.fewest = append(a.fewest, row)
	}
	a.without, err = q.rates.Fewest(q.every[0], q.treatment.KillNoBrood.Mean(), decide.NoBrood, q.target)
	return a, err
}

func (a roundsAnswer) withBrood() bool { return a.brood != decide.NoBrood }

func (a roundsAnswer) text(w io.Writer, page show.Page) {
	brood := "with capped brood"
	if !a.withBrood() {
		brood = "without capped brood"
	}
	fmt.Fprint(w, page.Wrap(page.Paint(show.Strong, sentence(a.treatment.TreatmentName.String())+", "+brood), 0))
	fmt.Fprint(w, page.Wrap(fmt.Sprintf("Each round is taken to kill %s, %s or %s of the mites on adult bees (%s).", show.Percent(a.kills[0]), show.Percent(a.kills[1]), show.Percent(a.kills[2]), a.killSource()), 0))
	if a.withBrood() {
		growth := "their number does not grow"
		if !math.IsInf(a.growth.DoublingDays, 1) {
			growth = fmt.Sprintf("they double in %.0f days", a.growth.DoublingDays)
		}
		fmt.Fprint(w, page.Wrap(fmt.Sprintf("Of 100 mites %.0f sit in capped cells, out of reach; left alone, %s.", 100*a.growth.BroodShare, growth), 0))
	}

	fmt.Fprint(w, "\n"+page.Wrap(fmt.Sprintf("Of 100 mites before, left %d days after the last round at the middle kill (in brackets: at the weak and at the strong one):", decide.SettleDays), 0))
	t := show.Table{Columns: []show.Column{{Name: "rounds", Right: true}, {Name: "every"}, {Name: "in the colony", Right: true}, {Name: "on adult bees", Right: true}, {Name: "untreated", Right: true}, {Name: "fewer than untreated", Right: true}}}
	for _, p := range a.plans {
		every := fmt.Sprintf("%d days", p.left[0].EveryDays)
		if p.single() {
			every = ""
		}
		t.Rows = append(t.Rows, []string{
			fmt.Sprint(p.left[0].Rounds.Rounds), every,
			p.span(ofHundred, func(l decide.Left) float64 { return l.Total / l.StartTotal }),
			p.span(ofHundred, func(l decide.Left) float64 { return l.OnBees / l.StartOnBees }),
			fmt.Sprintf("%.0f", 100*p.left[0].UntreatedTotal/p.left[0].StartTotal),
			p.span(show.Percent, decide.Left.CorrectedReduction),
		})
	}
	fmt.Fprint(w, page.Table(t))

	fmt.Fprint(w, "\n"+page.Wrap(fmt.Sprintf("Fewest rounds for %s fewer mites than untreated:", show.Percent(a.target)), 0))
	f := show.Table{Columns: []show.Column{{Name: "kill a round", Right: true}}}
	for _, every := range a.every {
		f.Columns = append(f.Columns, show.Column{Name: fmt.Sprintf("every %d days", every), Right: true})
	}
	for i, row := range a.fewest {
		cells := []string{show.Percent(a.kills[i])}
		for _, n := range row {
			cell := fmt.Sprint(n)
			if n == 0 {
				cell = "over 20"
			}
			cells = append(cells, cell)
		}
		f.Rows = append(f.Rows, cells)
	}
	fmt.Fprint(w, page.Table(f))

	if trials := a.trials(); trials != nil {
		fmt.Fprint(w, "\n"+page.Wrap("What field trials found:", 0))
		for _, tr := range trials {
			fmt.Fprint(w, page.Hang("- "+tellTrial(tr), 0, 2))
		}
	}
	if !math.IsNaN(a.holding) {
		last := a.plans[len(a.plans)-1].left[0]
		fmt.Fprint(w, "\n"+page.Wrap(fmt.Sprintf("By this model %s only hold the level when a round kills %s; where rounds in a trial did no more, their kill was no higher.", tellRounds(last.Rounds), show.Percent(a.holding)), 0))
	}
}

// trials are those with brood or without, as was asked.
func (a roundsAnswer) trials() []decide.Trial {
	unlike := "yes"
	if a.withBrood() {
		unlike = "no"
	}
	return slices.DeleteFunc(decide.Trials(a.treatment.Slug), func(t decide.Trial) bool { return t.Brood == unlike })
}

// tellRounds is "4 rounds every 5 days".
func tellRounds(r decide.Rounds) string {
	if r.Rounds == 1 {
		return "1 round"
	}
	return fmt.Sprintf("%d rounds every %d days", r.Rounds, r.EveryDays)
}

// killSource says where the kills come from.
func (a roundsAnswer) killSource() string {
	def := decide.KillRange(a.treatment.Kill(a.withBrood()))
	if slices.Equal(a.kills, def[:]) {
		return a.treatment.Kind
	}
	return "as given"
}

// span writes a figure at the three kills as "68 (86–54)".
func (p roundsPlan) span(write func(float64) string, of func(decide.Left) float64) string {
	return fmt.Sprintf("%s (%s–%s)", write(of(p.left[1])), write(of(p.left[0])), write(of(p.left[2])))
}

// ofHundred writes a share as so many of a hundred, and never as none.
func ofHundred(share float64) string {
	if share < 0.005 {
		return "<1"
	}
	return fmt.Sprintf("%.0f", 100*share)
}

func tellTrial(t decide.Trial) string {
	how := show.Many(t.Rounds, "round", "rounds")
	switch {
	case t.Rounds == 0 && t.EveryDays > 0:
		how = fmt.Sprintf("rounds every %d days", t.EveryDays)
	case t.Rounds == 0:
		how = "given"
	case t.EveryDays > 0:
		how = tellRounds(decide.Rounds{EveryDays: t.EveryDays, Rounds: t.Rounds})
	}
	how += map[string]string{"yes": " with brood", "no": " without brood", "broken": " in a brood break", "yes and broken": " with and without a brood break"}[t.Brood]
	if t.Colonies > 0 {
		how += fmt.Sprintf(", %d colonies", t.Colonies)
	}
	if t.NoBetter >= 0 {
		how += fmt.Sprintf(", %d no better than untreated", t.NoBetter)
	}
	source := t.Source
	if t.Kind == "memory" {
		source += ", from memory"
	}
	return fmt.Sprintf("%s: %s (%s)", how, t.Outcome, source)
}

func (a roundsAnswer) warnings() []string {
	out := []string{"The label and the law decide on the dose, the number of rounds, the season, the temperature, and whether supers may be on. So many rounds may not be allowed; nothing here is advice to go beyond the label."}
	switch {
	case a.treatment.Slug == "oxalic-vapour":
		out = append(out, "The vapour burns lungs and eyes. Wear a fitted respirator for acid gas and particles, goggles and acid-proof gloves, and stand upwind.")
	case a.treatment.Active == "oxalic acid":
		out = append(out, "The acid burns skin and eyes. Wear goggles and acid-proof gloves, and keep water at hand.")
	}
	if !a.withBrood() {
		return out
	}
	var spans []string
	short := false
	for _, every := range a.every {
		need := decide.Spanning(every)
		spans = append(spans, fmt.Sprintf("%d every %d days", need, every))
		short = short || slices.ContainsFunc(a.rounds, func(n int) bool { return n < need })
	}
	if short {
		out = append(out, fmt.Sprintf("Drone cells stay capped for 14 days and worker cells for 12. It takes %s to outlast them; with fewer the mites of some cells meet no round.", show.List(spans)))
	}
	return out
}

func (a roundsAnswer) explain() string {
	p := a.plans[len(a.plans)/2]
	mid := p.left[1]
	how, leaves := tellRounds(mid.Rounds), "leave"
	if p.single() {
		leaves = "leaves"
	}
	left := fmt.Sprintf("of 100 mites at the start, %s %s about %s two weeks later; with nothing done there would be %.0f.", how, leaves, ofHundred(mid.Total/mid.StartTotal), 100*mid.UntreatedTotal/mid.StartTotal)
	wrong := "These figures come from a model of how mites move and breed and from a guess at the kill of a round. Field trials show that it can be far lower: a small dose, cold, a loose hive. Mites that fly in from neighbours are not counted here."
	if !a.withBrood() {
		return "Without capped brood every mite rides on the bees, where this treatment reaches it. So rounds add up simply: " + left + " " + wrong
	}
	return fmt.Sprintf("Of 100 mites, %.0f sit in capped cells, where this treatment does not reach. The cells open over two weeks, and some mites slip into new ones between two rounds. So rounds do not simply add up: %s ", 100*a.growth.BroodShare, left) + wrong
}

func (a roundsAnswer) closing() string {
	if !a.withBrood() {
		return "Count again two weeks after the last round: only a count tells what it did in your colony."
	}
	need := slices.Min(a.fewest[1])
	if slices.Max(a.fewest[1]) == 0 {
		need = 0
	}
	few := "more than 20 rounds"
	if need > 0 {
		few = show.Many(need, "round", "rounds")
	}
	if a.without == 0 {
		return fmt.Sprintf("With brood it takes %s or more; count again two weeks after the last one.", few)
	}
	return fmt.Sprintf("A time without brood is worth more than rounds: then %s may do what takes %s with brood. Count again two weeks after the last one.", show.Many(a.without, "round", "rounds"), few)
}

// sentence starts a text with a capital.
func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

type roundsJSON struct {
	Treatment     string           `json:"treatment"`
	Brood         bool             `json:"brood"`
	GrowthPerDay  show.Number      `json:"growth_per_day"`
	DoublingDays  show.Number      `json:"doubling_days"`
	BroodShare    show.Number      `json:"brood_share"`
	SettleDays    int              `json:"settle_days"`
	TargetPercent show.Number      `json:"target_percent"`
	Plans         []roundsPlanJSON `json:"plans"`
	Fewest        []fewestJSON     `json:"fewest"`
	Trials        []trialJSON      `json:"trials"`
	Rates         decide.Rates     `json:"rates"`
	Assumptions   []assumptionJSON `json:"assumptions"`
}

type roundsPlanJSON struct {
	EveryDays                         *int        `json:"every_days"` // null for a single round
	Rounds                            int         `json:"rounds"`
	Kill                              show.Number `json:"kill"`
	TotalReductionPercent             show.Number `json:"total_reduction_percent"`
	CorrectedReductionPercent         show.Number `json:"corrected_reduction_percent"`
	AdultBeeReductionPercent          show.Number `json:"adult_bee_reduction_percent"`
	AdultBeeCorrectedReductionPercent show.Number `json:"adult_bee_corrected_reduction_percent"`
}

type fewestJSON struct {
	EveryDays int         `json:"every_days"`
	Kill      show.Number `json:"kill"`
	Rounds    *int        `json:"rounds"` // null when not even 20 do
}

type trialJSON struct {
	Rounds    int    `json:"rounds"`
	EveryDays *int   `json:"every_days"`
	Brood     string `json:"brood"`
	Colonies  *int   `json:"colonies"`
	Outcome   string `json:"outcome"`
	Source    string `json:"source"`
	Kind      string `json:"kind"`
}

// assumptionJSON is one figure the program took for granted.
type assumptionJSON struct {
	Name   string `json:"name"`
	Value  string `json:"value"`
	Source string `json:"source"`
	Kind   string `json:"kind"`
}

// some is a pointer to n, nil for 0.
func some(n int) *int {
	if n == 0 {
		return nil
	}
	return &n
}

func (a roundsAnswer) json() roundsJSON {
	out := roundsJSON{
		Treatment: a.treatment.Slug, Brood: a.withBrood(),
		GrowthPerDay: show.Number(a.growth.PerDay), DoublingDays: show.Number(a.growth.DoublingDays), BroodShare: show.Number(a.growth.BroodShare),
		SettleDays: decide.SettleDays, TargetPercent: show.Number(100 * a.target), Rates: a.rates,
		Trials: []trialJSON{},
	}
	for _, p := range a.plans {
		for _, l := range p.left {
			out.Plans = append(out.Plans, planJSON(l))
		}
	}
	for i, row := range a.fewest {
		for j, n := range row {
			out.Fewest = append(out.Fewest, fewestJSON{a.every[j], show.Number(a.kills[i]), some(n)})
		}
	}
	for _, t := range a.trials() {
		out.Trials = append(out.Trials, trialJSON{t.Rounds, some(t.EveryDays), t.Brood, some(t.Colonies), t.Outcome, t.Source, t.Kind})
	}
	kill := a.treatment.Kill(a.withBrood())
	out.Assumptions = append(out.Assumptions, assumptionJSON{"kill of " + a.treatment.Slug, fmt.Sprintf("Beta(%v, %v)", kill.Alpha, kill.Beta), a.treatment.Source, a.treatment.Kind})
	for _, p := range decide.Parameters() {
		out.Assumptions = append(out.Assumptions, assumptionJSON{p.Name, show.Plain(p.Value), p.Source, p.Kind})
	}
	return out
}

func planJSON(l decide.Left) roundsPlanJSON {
	p := roundsPlanJSON{
		Rounds: l.Rounds.Rounds, Kill: show.Number(l.Kill),
		TotalReductionPercent:             show.Number(100 * l.TotalReduction()),
		CorrectedReductionPercent:         show.Number(100 * l.CorrectedReduction()),
		AdultBeeReductionPercent:          show.Number(100 * l.OnBeesReduction()),
		AdultBeeCorrectedReductionPercent: show.Number(100 * l.CorrectedOnBeesReduction()),
	}
	if l.Rounds.Rounds > 1 {
		p.EveryDays = some(l.EveryDays)
	}
	return p
}

func (a roundsAnswer) csv() show.CSV {
	out := show.CSV{Head: []string{"every_days", "rounds", "kill", "total_reduction_percent", "corrected_reduction_percent", "adult_bee_reduction_percent", "adult_bee_corrected_reduction_percent"}}
	for _, p := range a.json().Plans {
		var every any
		if p.EveryDays != nil {
			every = *p.EveryDays
		}
		out.Rows = append(out.Rows, []any{every, p.Rounds, p.Kill, p.TotalReductionPercent, p.CorrectedReductionPercent, p.AdultBeeReductionPercent, p.AdultBeeCorrectedReductionPercent})
	}
	return out
}
