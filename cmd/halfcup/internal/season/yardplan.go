package season

import (
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// planBees are the sizes of a sample that are set side by side.
var planBees = []int{50, 100, 150, 200, 300, 400}

// yardPlanned is how many colonies to sample; its JSON is halfcup.yard-plan/3.
type yardPlanned struct {
	Colonies    int               `json:"colonies"` // in the yard
	Mean        float64           `json:"mean"`     // expected, mites per hundred
	Precision   float64           `json:"precision"`
	ColonyCV    float64           `json:"colony_cv"`
	FrameCV     float64           `json:"frame_cv"`
	Plans       []samplePlanJSON  `json:"plans"`
	Advised     *samplePlanJSON   `json:"advised"` // null when no plan reaches the precision
	Finds       []findJSON        `json:"finds"`   // of the advised plan, or of all colonies
	Assumptions []sampling.Source `json:"assumptions"`
}

// samplePlanJSON is one size of sample. What cannot be had is null.
type samplePlanJSON struct {
	Bees      int      `json:"bees"`   // from each colony
	Sample    *int     `json:"sample"` // colonies to sample
	BeesInAll *int     `json:"bees_in_all"`
	Minutes   *float64 `json:"minutes"` // by sugar rolls off one frame
	Reached   float64  `json:"precision"`
}

// findJSON is the chance of finding a high colony when so many are high.
type findJSON struct {
	High   int     `json:"high"`
	Chance float64 `json:"chance"`
}

func yardPlan(sh *line.Shell, c *cli.Context) error {
	n, err := line.Whole(c, "plan")
	if err != nil {
		return err
	}
	mean, err := line.Number(c, "mean", nil)
	if err != nil {
		return err
	}
	a, err := ask.ReadAssumptions(sh, c)
	if err != nil {
		return err
	}
	plan := decide.DefaultYardPlan(n, mean)
	plan.FrameCV = a.FrameCV
	if plan.Precision, err = line.Number(c, "precision", nil); err != nil {
		return err
	}
	if err := plan.Check(); err != nil {
		return err
	}
	p := planned(plan, ask.Costs(sh.Settings))
	return sh.Write(line.Answer{
		Schema:  "halfcup.yard-plan/3",
		JSON:    p,
		CSV:     p.csv(),
		Text:    func(w io.Writer) { p.print(w, sh.Page) },
		Explain: p.explain(),
	})
}

// planned sets the sizes of a sample side by side. The plan that takes the
// least time is advised, at equal time the one with the fewer bees.
func planned(plan decide.YardPlan, costs decide.Costs) *yardPlanned {
	p := &yardPlanned{
		Colonies: plan.Colonies, Mean: plan.LevelPerHundred, Precision: plan.Precision, ColonyCV: plan.ColonyCV, FrameCV: plan.FrameCV,
	}
	for _, s := range slices.Concat(decide.Sources(), sampling.Sources()) {
		if s.Name == "colony_cv" || s.Name == "frame_cv" {
			p.Assumptions = append(p.Assumptions, s)
		}
	}
	for _, bees := range planBees {
		j := samplePlanJSON{Bees: bees}
		n, ok := plan.Needed(bees)
		if ok {
			all, minutes := n*bees, float64(n)*costs.Effort(decide.Scooped(sampling.Roll, bees, 1, 0)).Minutes
			j.Sample, j.BeesInAll, j.Minutes = &n, &all, &minutes
		}
		j.Reached = plan.Reached(min(n, plan.Colonies), bees)
		p.Plans = append(p.Plans, j)
		if ok && (p.Advised == nil || *j.Minutes < *p.Advised.Minutes || *j.Minutes == *p.Advised.Minutes && *j.BeesInAll < *p.Advised.BeesInAll) {
			p.Advised = &p.Plans[len(p.Plans)-1]
		}
	}
	for _, share := range []float64{0, 0.1, 0.2} {
		high := max(int(math.Round(share*float64(plan.Colonies))), 1)
		if !slices.ContainsFunc(p.Finds, func(f findJSON) bool { return f.High == high }) {
			p.Finds = append(p.Finds, findJSON{high, decide.FindsOne(plan.Colonies, high, p.sample())})
		}
	}
	return p
}

// sample is how many colonies the advised plan samples; all when there is none.
func (p *yardPlanned) sample() int {
	if p.Advised == nil {
		return p.Colonies
	}
	return *p.Advised.Sample
}

func (p *yardPlanned) print(w io.Writer, page show.Page) {
	fmt.Fprint(w, page.Wrap(page.Paint(show.Strong, p.first()), 0), "\n")
	t := show.Table{Columns: []show.Column{{Name: "bees from each", Right: true}, {Name: "colonies", Right: true}, {Name: "bees in all", Right: true}, {Name: "minutes", Right: true}, {Name: "precision", Right: true}}}
	for _, j := range p.Plans {
		row := []string{fmt.Sprint(j.Bees), "all fall short", "–", "–", say.Percent(math.Round(100*j.Reached) / 100)}
		if j.Sample != nil {
			row[1], row[2], row[3] = fmt.Sprint(*j.Sample), fmt.Sprint(*j.BeesInAll), show.Fixed(*j.Minutes, 0)
		}
		t.Rows = append(t.Rows, row)
	}
	fmt.Fprint(w, page.Table(t))
	fmt.Fprint(w, page.Wrap(fmt.Sprintf("For a mean of about %s per hundred, known to %s of itself. Minutes are of sugar rolls from one frame.", show.Plain(p.Mean), say.Percent(p.Precision)), 0))
	if f := p.Finds[len(p.Finds)-1]; p.sample() < p.Colonies {
		fmt.Fprint(w, page.Wrap(fmt.Sprintf("It tells the mean, not the worst hive: with %d bad of %d, such a sample meets one in %s.", f.High, p.Colonies, casesOf(f.Chance)), 0))
	}
}

// casesOf is a chance as so many cases.
func casesOf(p float64) string {
	n := math.Round(100 * p)
	if n < 1 {
		return "fewer than 1 case of 100"
	}
	return show.Many(int(n), "case", "cases") + " of 100"
}

// first is what to do.
func (p *yardPlanned) first() string {
	switch {
	case p.Advised == nil:
		return "Not even a sample of every colony tells the mean so well: ask for less, or take more bees where there are few mites."
	case p.sample() == p.Colonies:
		return fmt.Sprintf("Sample every colony, %d bees from each.", p.Advised.Bees)
	}
	return fmt.Sprintf("Sample %s of the %d, picked without looking, %d bees from each.", show.Many(p.sample(), "colony", "colonies"), p.Colonies, p.Advised.Bees)
}

const (
	yardPlanWhy = "How well a yard is known depends more on how many hives you open than on how many bees you take from each, because colonies differ more than scoops do. " +
		"%s It goes wrong if you pick the hives by their looks, or the easy ones by the road."
	worstHive = "The mean is one question, the worst hive another: with %s among %d, of 100 beekeepers who sample %s, %.0f meet a bad one."
)

func (p *yardPlanned) explain() string {
	found := "Here every hive is opened, so the worst is among them."
	if f := p.Finds[len(p.Finds)-1]; p.sample() < p.Colonies {
		found = fmt.Sprintf(worstHive,
			show.Many(f.High, "bad colony", "bad colonies"), p.Colonies, show.Many(p.sample(), "hive", "hives"), math.Round(100*f.Chance))
	}
	return fmt.Sprintf(yardPlanWhy, found)
}

func (p *yardPlanned) csv() show.CSV {
	t := show.CSV{Head: []string{"bees", "colonies", "bees_in_all", "minutes", "precision"}}
	for _, j := range p.Plans {
		row := []any{j.Bees, "", "", "", j.Reached}
		if j.Sample != nil {
			row[1], row[2], row[3] = *j.Sample, *j.BeesInAll, *j.Minutes
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
