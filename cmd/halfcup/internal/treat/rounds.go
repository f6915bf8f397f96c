package treat

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"regexp"
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

func roundsCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "rounds",
		Category:  line.GroupTreat,
		Usage:     "what repeated treatment of the mites on bees leaves",
		ArgsUsage: "[TREATMENT]",
		UsageText: "halfcup rounds oxalic-vapour --every 5,7 --rounds 3,4,5",
		Description: "For a treatment that reaches the mites on adult bees and spares those in capped cells: what is left two weeks after the last round. " +
			"The kill of a round is a range, because nobody knows it of a colony; field trials stand beside the model. TREATMENT is oxalic-vapour when left out; of one that is not given in rounds it says what a course does. " +
			"It never says how much to give: that is the label's.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "brood", Value: "yes", Usage: "whether the colony has capped brood `yes|no`"},
			&cli.StringFlag{Name: "kill", DefaultText: "by treatment and brood", Usage: "share of the mites on adult bees that a round kills, `LOW-HIGH`"},
			&cli.StringFlag{Name: "every", DefaultText: "as is usual", Usage: "`DAYS` between rounds; several with commas"},
			&cli.StringFlag{Name: "rounds", DefaultText: roundsWithBrood + ", without brood " + roundsNoBrood, Usage: "`NUMBERS` of rounds, with commas"},
			&cli.StringFlag{Name: "target", DefaultText: "0.9, or 0.95 for synthetic actives", Usage: "`SHARE` by which the mites should be fewer than without treatment"},
		}, ask.RateFlags()...),
		Action: func(c *cli.Context) error { return rounds(sh, c) },
	}
}

func rounds(sh *line.Shell, c *cli.Context) error {
	q, err := readRoundsQuestion(c)
	if err != nil {
		return err
	}
	a, err := q.answer()
	if err != nil {
		return err
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.rounds/3",
		JSON:     a.json(),
		CSV:      a.csv(),
		Text:     func(w io.Writer) { a.print(w, sh.Page) },
		Warnings: a.warnings(),
		Explain:  a.explain(),
	})
}

// What is worked out when nothing is said.
const (
	usualEvery      = 7 // days, where a treatment has no usual spacing of its own
	roundsWithBrood = "1,3,4,5,7"
	roundsNoBrood   = "1,2"
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
	name := strings.Join(c.Args().Slice(), " ")
	if name == "" {
		name = "oxalic-vapour"
	}
	if q.treatment, err = sampling.FindTreatment(name); err != nil {
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
	every := usualEvery
	if q.treatment.EveryDays > 0 {
		every = q.treatment.EveryDays
	}
	rounds := roundsNoBrood
	switch {
	case q.withBrood():
		rounds = roundsWithBrood
	case q.treatment.Slug == "oxalic-trickle":
		rounds = "1" // a second harms the bees of a winter
	}
	if q.every, err = line.Wholes(c, "every", fmt.Sprint(every)); err != nil {
		return q, err
	}
	if q.rounds, err = line.Wholes(c, "rounds", rounds); err != nil {
		return q, err
	}
	if !q.inRounds() {
		for _, name := range []string{"kill", "every", "rounds", "target"} {
			if c.IsSet(name) {
				return q, line.BadValue(name, c.String(name), "--"+name+" tells of rounds, and "+q.treatment.Called+" is given in one course", "leave it out, or name one of "+strings.Join(inRounds(), ", "))
			}
		}
	}
	q.target = q.treatment.TargetPercent / 100
	if c.IsSet("target") {
		if q.target, err = line.Number(c, "target", nil); err != nil {
			return q, err
		}
	}
	q.rates, err = ask.ReadRates(c, q.brood)
	return q, err
}

func (q roundsQuestion) withBrood() bool { return q.brood != decide.NoBrood }

// inRounds reports whether rounds are the question: a treatment that reaches
// capped cells, or outlasts them, is given in one course.
func (q roundsQuestion) inRounds() bool { return q.treatment.NeedsNoBrood() }

// inRounds are the treatments of which rounds can be worked out.
func inRounds() []string {
	var out []string
	for _, t := range sampling.Treatments() {
		if t.NeedsNoBrood() {
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

// roundsAnswer is what was asked, and what each number of rounds leaves.
type roundsAnswer struct {
	roundsQuestion
	growth decide.Growth
	plans  []roundsPlan
	fewest [][]int     // by kill and spacing; 0 when no number does
	once   decide.Left // what one round leaves in a colony without brood
}

// roundsPlan is one number of rounds at one spacing, at each kill.
type roundsPlan struct{ left []decide.Left }

func (p roundsPlan) single() bool { return p.left[0].Rounds.Rounds == 1 }

func (q roundsQuestion) answer() (roundsAnswer, error) {
	a := roundsAnswer{roundsQuestion: q, growth: q.rates.Stable(q.brood)}
	if !q.inRounds() {
		return a, nil
	}
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
	var err error
	a.once, err = q.rates.Leave(decide.Rounds{EveryDays: q.every[0], Rounds: 1, Kill: q.treatment.KillNoBrood.Mean()}, decide.NoBrood)
	return a, err
}

func (a roundsAnswer) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, a.verdict()), 0), p.Wrap(a.how(), 0))
	if a.plans != nil {
		a.printPlans(w, p)
	}
	if told := a.printedTrials(); len(told) > 0 {
		fmt.Fprint(w, "\n", p.Wrap(a.trialsWords(), 0))
		for _, t := range told {
			fmt.Fprint(w, p.Hang("- "+tellTrial(t), 0, 2))
		}
	}
}

// verdict is what the treatment does, in one sentence.
func (a roundsAnswer) verdict() string {
	called := say.Capital(a.treatment.Called)
	switch {
	case a.treatment.ActsInBrood:
		return called + ": one course and no rounds; it reaches the mites in capped cells too."
	case !a.inRounds():
		return fmt.Sprintf("%s: one course and no rounds; over about %d days it outlasts the brood.", called, a.treatment.Days)
	}
	p := a.told()
	verb, weak := "leave", tellRounds(p.left[1].Rounds)+" are"
	if p.single() {
		verb, weak = "leaves", "1 round is"
	}
	if p.left[1].TotalReduction() < 0 {
		return fmt.Sprintf("%s%s: %s too weak to hold the level; 100 mites become about %s.", called, a.beside(), weak, show.Fixed(100*p.left[1].Total/p.left[1].StartTotal, 0))
	}
	return fmt.Sprintf("%s%s: %s %s %s of 100 mites.", called, a.beside(), tellRounds(p.left[1].Rounds), verb, a.leftOf(p.left[1]))
}

// leftOf is about how many of 100 mites are left.
func (a roundsAnswer) leftOf(l decide.Left) string {
	left := ofHundred(l.Total / l.StartTotal)
	if strings.Contains(left, " ") {
		return left // under 1, over 99
	}
	return "about " + left
}

// beside is the brood in a phrase.
func (a roundsAnswer) beside() string {
	if a.withBrood() {
		return " beside brood"
	}
	return " without brood"
}

// told is the plan that a sentence is about: the usual one where it is among
// those asked for, else the middle one.
func (a roundsAnswer) told() roundsPlan {
	for _, p := range a.plans {
		usual := 1
		if a.withBrood() {
			usual = a.treatment.Rounds
		}
		if p.left[1].Rounds.Rounds == usual && (usual > 1 || !a.withBrood()) {
			return p
		}
	}
	return a.plans[len(a.plans)/2]
}

// how is what follows from the verdict.
func (a roundsAnswer) how() string {
	const label = "Your label's days win."
	if !a.inRounds() {
		course := decide.UsualCourse(a.treatment, 0, a.withBrood())
		expect := fmt.Sprintf("Trials let one expect about %.0f%% of the mites gone.", a.treatment.ExpectPercent(a.withBrood()))
		if a.treatment.Synthetic() {
			expect = fmt.Sprintf("Where mites still die of it, about %.0f%% are gone; where they do not, hardly any.", a.treatment.ExpectPercent(a.withBrood()))
		}
		return fmt.Sprintf("%s Count %d days after it goes in, to see what is left. %s", expect, course.SettledOn()-course.First, label)
	}
	if !a.withBrood() {
		return "It holds if you find no sealed brood. Count two weeks after the last round. " + label
	}
	return fmt.Sprintf("While no brood is sealed one round leaves %s. Count two weeks after the last. %s", a.leftOf(a.once), label)
}

func (a roundsAnswer) printPlans(w io.Writer, p show.Page) {
	spacing := " round"
	several := len(a.every) > 1
	if !several && len(a.plans) > 1 {
		spacing = fmt.Sprintf(" of rounds every %d days", a.every[0])
	}
	fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("Left of 100 mites %d days after the last%s (weak–strong):", decide.SettleDays, spacing), 0))
	t := show.Table{Columns: []show.Column{{Name: "rounds", Right: true}}}
	if several {
		t.Columns = append(t.Columns, show.Column{Name: "every"})
	}
	t.Columns = append(t.Columns, show.Column{Name: "in the colony", Right: true}, show.Column{Name: "on adult bees", Right: true}, show.Column{Name: "untreated", Right: true}, show.Column{Name: "fewer than untreated", Right: true})
	for _, plan := range a.plans {
		row := []string{fmt.Sprint(plan.left[0].Rounds.Rounds)}
		if several {
			every := fmt.Sprintf("%d days", plan.left[0].EveryDays)
			if plan.single() {
				every = ""
			}
			row = append(row, every)
		}
		t.Rows = append(t.Rows, append(row,
			plan.span(ofHundred, func(l decide.Left) float64 { return l.Total / l.StartTotal }),
			plan.span(ofHundred, func(l decide.Left) float64 { return l.OnBees / l.StartOnBees }),
			show.Fixed(100*plan.left[0].UntreatedTotal/plan.left[0].StartTotal, 0),
			plan.span(show.Percent, decide.Left.CorrectedReduction)))
	}
	fmt.Fprint(w, p.Table(t))
	if a.withBrood() {
		fmt.Fprint(w, p.Wrap(a.fewestWords(), 0))
	}
}

// fewestWords is how many rounds reach the target at each spacing.
func (a roundsAnswer) fewestWords() string {
	number := func(n int) string {
		if n == 0 {
			return "over 20"
		}
		return fmt.Sprint(n)
	}
	var parts []string
	for i, every := range a.every {
		s := fmt.Sprintf("%s (%s to %s) rounds", number(a.fewest[1][i]), number(a.fewest[2][i]), number(a.fewest[0][i]))
		if len(a.every) > 1 {
			s += fmt.Sprintf(" every %d days", every)
		}
		parts = append(parts, s)
	}
	return fmt.Sprintf("For %s fewer it would take %s, which your label may not allow.", show.Percent(a.target), show.List(parts))
}

// trials are those with brood or without, as was asked.
func (a roundsAnswer) trials() []decide.Trial {
	return slices.DeleteFunc(decide.Trials(a.treatment.Slug), func(t decide.Trial) bool {
		return a.withBrood() != strings.HasPrefix(t.Brood, "yes")
	})
}

// trialsWords are all trials together, those that are not told one by one too.
func (a roundsAnswer) trialsWords() string {
	trials := a.trials()
	low, high := math.Inf(1), math.Inf(-1)
	colonies, noBetter := 0, 0
	for _, t := range trials {
		if !math.IsNaN(t.ReductionPercent) {
			low, high = min(low, t.ReductionPercent), max(high, t.ReductionPercent)
		}
		if t.NoBetter >= 0 {
			colonies, noBetter = colonies+t.Colonies, noBetter+t.NoBetter
		}
	}
	out := show.Many(len(trials), "field trial", "field trials") + a.beside()
	if low <= high {
		from := show.Fixed(low, 0)
		if low <= 0 {
			from = "none"
		}
		out += fmt.Sprintf(": from %s to %.0f%% fewer mites", from, high)
		if low == high {
			out = strings.Replace(out, fmt.Sprintf("from %s to ", from), "", 1)
		}
	}
	if colonies > 0 {
		out += fmt.Sprintf("; %d of %d colonies did no better than untreated", noBetter, colonies)
	}
	if left := len(trials) - len(a.printedTrials()); left > 0 {
		return out + ". The largest:"
	}
	return out + "."
}

// mostTrials is how many trials an answer tells.
const mostTrials = 3

// printedTrials are those with the most colonies, the figures that were
// measured before those that were not.
func (a roundsAnswer) printedTrials() []decide.Trial {
	out := a.trials()
	slices.SortStableFunc(out, func(x, y decide.Trial) int {
		unknown := func(t decide.Trial) int {
			if math.IsNaN(t.ReductionPercent) {
				return 1
			}
			return 0
		}
		return cmp.Or(cmp.Compare(unknown(x), unknown(y)), cmp.Compare(y.Colonies, x.Colonies))
	})
	return out[:min(len(out), mostTrials)]
}

// tellRounds is "4 rounds every 5 days".
func tellRounds(r decide.Rounds) string {
	if r.Rounds == 1 {
		return "1 round"
	}
	return fmt.Sprintf("%d rounds every %d days", r.Rounds, r.EveryDays)
}

// span writes a figure at the three kills as "68 (86–54)", and what is the same
// at all of them once.
func (p roundsPlan) span(write func(float64) string, of func(decide.Left) float64) string {
	weak, middle, strong := write(of(p.left[0])), write(of(p.left[1])), write(of(p.left[2]))
	switch {
	case weak == strong:
		return middle
	case middle == strong && strings.Contains(middle, " "):
		return fmt.Sprintf("%s (weak %s)", middle, weak) // "under 1" twice is too wide
	}
	return fmt.Sprintf("%s (%s–%s)", middle, weak, strong)
}

// ofHundred writes a share as so many of a hundred.
func ofHundred(share float64) string { return strings.TrimSuffix(show.Percent(share), "%") }

// cited is a source up to its year, as a sentence cites it.
var cited = regexp.MustCompile(`^.*?\b(19|20)\d\d\b`)

func tellTrial(t decide.Trial) string {
	var how []string
	switch {
	case t.Rounds == 0 && t.EveryDays > 0:
		how = append(how, fmt.Sprintf("rounds every %d days", t.EveryDays))
	case t.Rounds > 0 && t.EveryDays > 0:
		how = append(how, tellRounds(decide.Rounds{EveryDays: t.EveryDays, Rounds: t.Rounds}))
	}
	if t.Brood == "broken" {
		how = append(how, "in a brood break")
	}
	if t.Colonies > 0 {
		how = append(how, fmt.Sprintf("%d colonies", t.Colonies))
	}
	if t.NoBetter >= 0 {
		how = append(how, fmt.Sprintf("%d no better", t.NoBetter))
	}
	source := cited.FindString(t.Source)
	if t.Kind == "memory" {
		source += ", from memory"
	}
	out := t.Outcome
	switch {
	case math.IsNaN(t.ReductionPercent):
	case t.ReductionPercent < 0:
		out = "as many mites as untreated"
	default:
		out = fmt.Sprintf("%.0f%% fewer mites", t.ReductionPercent)
	}
	if how != nil {
		out += ": " + strings.Join(how, ", ")
	}
	return fmt.Sprintf("%s (%s)", out, source)
}

func (a roundsAnswer) warnings() []say.Warning {
	out := say.Warn(say.Caution, say.Cautions(a.treatment.Slug)...)
	if !a.withBrood() || !a.inRounds() {
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
		out = append(out, say.Warn(say.TooLittle, fmt.Sprintf("Drone cells stay capped for 14 days: it takes %s to outlast them.", show.List(spans)))...)
	}
	return out
}

const (
	courseWhy = "%s Rounds are for what kills the mites on the bees and is gone before the mites in cells come out. " +
		"What to expect of a course is from trials, of 100 mites %.0f gone, and it differs from colony to colony: only a count tells what it did in yours. " +
		"The kill of such a course: %s (%s)."
	roundsGuessed = "This comes from a model of how mites move and breed, and from a guess that a round kills %s to %s of the mites on the bees. " +
		"Field trials show that it can be far less: a small dose, cold, a loose hive. Mites that fly in from neighbours are not counted here."
	roundsWithoutCells = "Without capped brood every mite rides on the bees, where this treatment reaches it. So rounds add up simply: "
	roundsWithCells    = "Of 100 mites, %.0f sit in capped cells, where this treatment does not reach. " +
		"The cells open over two weeks, and some mites slip into new ones between two rounds. So rounds do not simply add up: %s "
)

func (a roundsAnswer) explain() string {
	if !a.inRounds() {
		return fmt.Sprintf(courseWhy,
			a.verdict(), a.treatment.ExpectPercent(a.withBrood()), a.treatment.Source, a.treatment.Kind)
	}
	p := a.told()
	mid := p.left[1]
	how, leaves := tellRounds(mid.Rounds), "leave"
	if p.single() {
		leaves = "leaves"
	}
	left := fmt.Sprintf("of 100 mites at the start, %s %s %s two weeks later; with nothing done there would be %.0f.", how, leaves, a.leftOf(mid), 100*mid.UntreatedTotal/mid.StartTotal)
	wrong := fmt.Sprintf(roundsGuessed, show.Percent(a.kills[0]), show.Percent(a.kills[2]))
	if !a.withBrood() {
		return roundsWithoutCells + left + " " + wrong
	}
	return fmt.Sprintf(roundsWithCells, 100*a.growth.BroodShare, left) + wrong
}

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

	// Of a treatment that is given in one course: what to expect of it, and how
	// many days after its first day a count can tell; null of one in rounds.
	ExpectPercent show.Number `json:"expect_percent"`
	CountAfter    *int        `json:"count_after_days"`

	Cautions    []string          `json:"cautions"`
	Rates       decide.Rates      `json:"rates"`
	Assumptions []sampling.Source `json:"assumptions"`
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

// trialJSON is a field trial; what it did not report is null.
type trialJSON struct {
	Rounds           *int        `json:"rounds"`
	EveryDays        *int        `json:"every_days"`
	Brood            string      `json:"brood"`
	Colonies         *int        `json:"colonies"`
	NoBetter         *int        `json:"no_better"` // colonies that did no better than the untreated
	ReductionPercent show.Number `json:"reduction_percent"`
	Outcome          string      `json:"outcome"`
	Source           string      `json:"source"`
	Kind             string      `json:"kind"`
}

func (a roundsAnswer) json() roundsJSON {
	out := roundsJSON{
		Treatment: a.treatment.Slug, Brood: a.withBrood(),
		GrowthPerDay: show.Number(a.growth.PerDay), DoublingDays: show.Number(a.growth.DoublingDays), BroodShare: show.Number(a.growth.BroodShare),
		SettleDays: decide.SettleDays, TargetPercent: show.Number(100 * a.target), Rates: a.rates,
		Plans: []roundsPlanJSON{}, Fewest: []fewestJSON{}, Trials: []trialJSON{}, ExpectPercent: show.Number(math.NaN()),
		Cautions: say.Cautions(a.treatment.Slug),
	}
	if !a.inRounds() {
		course := decide.UsualCourse(a.treatment, 0, a.withBrood())
		out.ExpectPercent, out.CountAfter = show.Number(a.treatment.ExpectPercent(a.withBrood())), some(int(course.SettledOn()-course.First))
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
		trial := trialJSON{some(t.Rounds), some(t.EveryDays), t.Brood, some(t.Colonies), nil, show.Number(t.ReductionPercent), t.Outcome, t.Source, t.Kind}
		if t.NoBetter >= 0 {
			trial.NoBetter = &t.NoBetter
		}
		out.Trials = append(out.Trials, trial)
	}
	kill := a.treatment.Kill(a.withBrood())
	out.Assumptions = append(out.Assumptions, sampling.Source{
		Name: "kill_" + a.treatment.Slug, Value: show.Plain(kill.Alpha) + "," + show.Plain(kill.Beta), Unit: "beta",
		What: "share of the mites in its reach that the treatment kills", Source: a.treatment.Source, Kind: a.treatment.Kind,
	})
	out.Assumptions = append(out.Assumptions, sourcesOf("days_on_bees", "drone_share", "steady_worker_daughters", "steady_drone_daughters", "mortality", "mortality_broodless", "survival")...)
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
