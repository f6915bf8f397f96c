package treat

import (
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func planCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "plan",
		Category:  line.GroupTreat,
		Usage:     "whether your plan for the year holds, and the fewest counts that show it",
		UsageText: "halfcup plan --treat 07-28:formic-evaporation --or oxalic-strip --treat 12-15:oxalic-trickle --supers 05-01..07-20",
		Description: "Runs a colony through your year of treatments by the calendar: whether it holds, where it has a hole, and which few counts close it. " +
			"A step is MM-DD:TREATMENT, in rounds 'MM-DD:TREATMENT*ROUNDS/DAYSd', in quotes because of the star. Without --treat the plan is that of the settings ([plan] treat), else that of the record: what is planned for a colony and what it was given in the year. Colonies that get the same share a plan; each plan is told by itself. " +
			"No schedule and no dose comes from the program: the label and the law decide.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringSliceFlag{Name: "treat", Usage: "a treatment of every year, `STEP`; may be repeated"},
			&cli.StringSliceFlag{Name: "or", Usage: "what is used where heat forbids a step, `NAME`: the first for the first step that minds heat; may be repeated"},
			&cli.StringSliceFlag{Name: "beside", Usage: "another plan to set beside it, `STEPS` with commas between; may be repeated"},
			&cli.StringFlag{Name: "colonies", Value: "10", Usage: "how many colonies the yard has, `N`; of a plan of the record, those it is for"},
			&cli.StringFlag{Name: "plot", Usage: "draw the year into `FILE.svg` as well"},
			&cli.BoolFlag{Name: "save", Usage: "write what is still to come into the record as planned, each to be confirmed when done"},
			&cli.StringSliceFlag{Name: "colony", Usage: "a colony of the record whose plan is asked about, or with --save one to write it down for, `NAME`; may be repeated", DefaultText: "all of the record"},
			&cli.StringFlag{Name: "yard", Usage: "its yard, or all of a yard, `NAME`"},
		}, ask.RulesFlags()),
		Action: func(c *cli.Context) error { return plan(sh, c) },
	}
}

// plansJSON is halfcup.plans/1: the plans of a record in which not all colonies
// get the same.
type plansJSON struct {
	Plans       []*planned        `json:"plans"`
	Without     []planFor         `json:"without"` // nothing is planned for these
	Assumptions []sampling.Source `json:"assumptions"`
}

// planFor is a colony that a plan of the record is for.
type planFor struct {
	Yard   *string `json:"yard"`
	Colony string  `json:"colony"`
}

// planned is what is to be said of a plan; its JSON is halfcup.plan/3.
type planned struct {
	From    sampling.Date  `json:"from"`
	Whence  string         `json:"plan_is"`
	For     []planFor      `json:"for"`     // empty for a plan that is not of the record
	Verdict string         `json:"verdict"` // holds, carries most, or does not hold
	Steps   []planStepJSON `json:"steps"`

	Unseen        float64 `json:"chance_unseen"`         // over the line for more than six weeks, without a count
	UnseenCounted float64 `json:"chance_unseen_counted"` // with those below
	Enough        bool    `json:"counts_are_enough"`
	WeeksOver     float64 `json:"weeks_over"`
	WeeksCounted  float64 `json:"weeks_over_counted"`
	EverOver      float64 `json:"chance_ever_over"`
	LostShare     float64 `json:"chance_lost"`
	LostCounted   float64 `json:"chance_lost_counted"`
	LostWithout   float64 `json:"chance_lost_without_mites"`
	Colonies      int     `json:"colonies"`

	Counts  []planCountJSON `json:"counts"`
	Minutes float64         `json:"minutes"` // a colony and year
	Killed  int             `json:"bees_killed"`

	Holes     []holeJSON      `json:"holes"`
	Otherwise []otherwiseJSON `json:"otherwise"`
	Weeks     []weekJSON      `json:"weeks"`
	Beside    []besideJSON    `json:"beside"`
	SoFar     []string        `json:"so_far"`
	Saved     int             `json:"rows_saved"`

	Cautions    []string          `json:"cautions"`
	Assumptions []sampling.Source `json:"assumptions"`

	asked   asked
	today   sampling.Date
	report  decide.YearReport
	fits    []decide.StepFit
	against [][]against // by step
	year    decide.YearPlan
}

type planStepJSON struct {
	Notation   string          `json:"notation"`
	First      sampling.Date   `json:"first"`
	Last       sampling.Date   `json:"last"`
	Treatment  string          `json:"treatment"`
	Or         *string         `json:"or"`
	Group      decide.FitGroup `json:"group"`
	Sentence   string          `json:"sentence"`
	Objections []string        `json:"objections"`
}

type planCountJSON struct {
	Date           sampling.Date `json:"date"`
	Count          string        `json:"count"`
	TreatFrom      int           `json:"treat_from_mites"`
	Calls          float64       `json:"chance_calls"`
	Saves          float64       `json:"saves"`
	After          *string       `json:"after"`
	ColoniesToShow *int          `json:"colonies_that_show_a_failed_course"`
	Minutes        float64       `json:"minutes"`
}

type holeJSON struct {
	Kind      decide.HoleKind `json:"kind"`
	From      sampling.Date   `json:"from"`
	Until     sampling.Date   `json:"until"`
	Treatment *string         `json:"treatment"`
	Chance    float64         `json:"chance"`
	Days      int             `json:"days"`
	Sentence  string          `json:"sentence"`
}

type otherwiseJSON struct {
	What      string   `json:"what"`
	Treatment *string  `json:"treatment"`
	Share     *float64 `json:"share_of_years"`
	Unseen    float64  `json:"chance_unseen"`
	Counted   float64  `json:"chance_unseen_counted"`
}

type weekJSON struct {
	Date   sampling.Date `json:"date"`
	Low    float64       `json:"low_per_hundred"`
	Mid    float64       `json:"middle_per_hundred"`
	High   float64       `json:"high_per_hundred"`
	Act    float64       `json:"act_per_hundred"`
	Chance float64       `json:"chance_over"`
}

// besideJSON is a plan in one row; the first is the plan itself.
type besideJSON struct {
	Plan          string  `json:"plan"`
	Treatments    int     `json:"treatments"`
	WeeksOver     float64 `json:"weeks_over"`
	Unseen        float64 `json:"chance_unseen"`
	UnseenCounted float64 `json:"chance_unseen_counted"`
	LostShare     float64 `json:"chance_lost"`
	LostCounted   float64 `json:"chance_lost_counted"`
	Counts        int     `json:"counts"`
	Minutes       float64 `json:"minutes"`
}

func plan(sh *line.Shell, c *cli.Context) error {
	if err := line.TakesNothing(c); err != nil {
		return err
	}
	if name := c.String("plot"); c.IsSet("plot") && filepath.Ext(name) != ".svg" {
		return line.BadValue("plot", name, "the picture is an SVG file", "give it a name that ends in .svg")
	}
	if c.Bool("save") {
		sh.LogNamed = false // it makes the record when there is none
	}
	r, err := ask.ReadRules(sh, c)
	if err != nil {
		return err
	}
	from := planYear(r.Base.Year, sh.Today)
	plans, without, err := readPlans(sh, c, r, from)
	if err != nil {
		return err
	}
	var others [][]step
	for _, text := range c.StringSlice("beside") {
		other, err := readBeside(text)
		if err != nil {
			return err
		}
		if others = append(others, other); len(others) > mostBeside {
			return line.BadValue("beside", text, "more than three plans do not fit beside each other", "leave some out")
		}
	}
	n, err := line.Whole(c, "colonies")
	if err != nil {
		return err
	}
	var all []*planned
	for _, a := range plans {
		p := &planned{From: from, Whence: a.whence, For: planFors(a.of), Colonies: n, asked: a, today: sh.Today, year: yearPlan(r, from, a.steps, a.supers)}
		if len(a.of) > 0 && !c.IsSet("colonies") {
			p.Colonies = len(a.of)
		}
		if err := p.work(a.steps); err != nil {
			return err
		}
		if p.SoFar, err = soFar(sh, c, p); err != nil {
			return err
		}
		p.Assumptions = planSources()
		all = append(all, p)
	}
	if len(all) > 1 {
		return tellPlans(sh, all, without)
	}
	p := all[0]
	for _, other := range others {
		if err := p.setBeside(yearPlan(r, from, other, p.asked.supers), other); err != nil {
			return err
		}
	}
	if name := c.String("plot"); name != "" {
		if err := sh.Files.Write(name, []byte(show.Marked(string(p.chart().SVG("the year under the plan")))), ".svg"); err != nil {
			return err
		}
	}
	if c.Bool("save") {
		if err := p.save(sh, c); err != nil {
			return err
		}
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.plan/3",
		JSON:     p,
		CSV:      p.csv(),
		Text:     func(w io.Writer) { p.print(w, sh.Page) },
		Warnings: say.Warn(say.Caution, slices.DeleteFunc(slices.Clone(p.Cautions), func(s string) bool { return s == decides })...),
		Explain:  p.explain(),
	})
}

// planFors are the colonies of a plan as they are answered.
func planFors(of []fieldlog.Colony) []planFor {
	out := []planFor{}
	for _, k := range of {
		out = append(out, planFor{say.Said(k.Yard), k.Name})
	}
	return out
}

func planSources() []sampling.Source {
	return slices.DeleteFunc(decide.Sources(), func(s sampling.Source) bool { return !slices.Contains(planFigures, s.Name) })
}

// tellPlans answers with several plans of the record, three sentences each.
func tellPlans(sh *line.Shell, all []*planned, without []fieldlog.Colony) error {
	answer := plansJSON{Plans: all, Without: planFors(without), Assumptions: planSources()}
	var cautions []string
	csv := show.CSV{}
	for _, p := range all {
		for _, text := range p.Cautions {
			if text != decides && !slices.Contains(cautions, text) {
				cautions = append(cautions, text)
			}
		}
		one := p.csv()
		csv.Head = append([]string{"yard", "colonies"}, one.Head...)
		var names []string
		for _, k := range p.asked.of {
			names = append(names, k.Name)
		}
		for _, row := range one.Rows {
			csv.Rows = append(csv.Rows, append([]any{p.asked.yard, strings.Join(names, "; ")}, row...))
		}
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.plans/1",
		JSON:     answer,
		CSV:      csv,
		Text:     func(w io.Writer) { printPlans(w, sh.Page, all, without) },
		Warnings: say.Warn(say.Caution, cautions...),
		Explain:  all[0].method(),
	})
}

// planFigures are the figures an answer rests on that are not of one treatment.
var planFigures = []string{"growth_sd", "unrecorded", "failed_with_brood", "failed_without_brood", "failed_undone", "far_better", "far_better_shift", "arrivals_log_sd", "arrivals_early"}

// work fills in everything that is to be said of the plan.
func (p *planned) work(steps []step) error {
	var err error
	if p.report, err = p.year.Report(); err != nil {
		return err
	}
	k := p.year.Colony
	var courses []decide.Course
	for _, s := range p.year.Steps {
		courses = append(courses, s.Course)
	}
	if err := p.judge(courses, func(d sampling.Date) decide.Circumstances {
		return decide.Circumstances{Day: d, Year: k.Year, Supers: k.Supers}
	}); err != nil {
		return err
	}
	r := p.report
	p.Unseen, p.UnseenCounted, p.Enough = r.Before.Unseen, r.After.Unseen, r.Enough
	p.WeeksOver, p.WeeksCounted, p.EverOver = r.Before.WeeksOver, r.After.WeeksOver, r.Before.EverOver
	p.LostShare, p.LostCounted, p.LostWithout = r.Before.Loss.Chance, r.After.Loss.Chance, r.Before.Loss.Without
	p.Minutes, p.Killed = r.Minutes, r.Killed
	p.Verdict = p.verdict()
	slugs := []string{}
	p.Steps, p.Counts, p.Holes, p.Otherwise, p.Weeks, p.Beside, p.SoFar = []planStepJSON{}, []planCountJSON{}, []holeJSON{}, []otherwiseJSON{}, []weekJSON{}, []besideJSON{}, []string{}
	for i, f := range p.fits {
		j := planStepJSON{First: f.Course.First, Last: f.Course.Last, Treatment: f.Course.Treatment.Slug, Group: f.Option.Group, Sentence: f.Option.Sentence, Objections: []string{}}
		for _, o := range p.against[i] {
			j.Objections = append(j.Objections, o.words)
		}
		if or := p.year.Steps[i].Or; or != nil {
			j.Or = &or.Slug
			slugs = append(slugs, or.Slug)
		}
		for _, s := range steps {
			if c := s.course(p.From); c.First == j.First && s.treatment.Slug == j.Treatment {
				j.Notation = s.notation()
			}
		}
		p.Steps, slugs = append(p.Steps, j), append(slugs, j.Treatment)
	}
	for _, c := range r.Counts {
		p.Counts = append(p.Counts, planCountJSON{c.Count.Date, c.Count.String(), c.From, c.Calls, c.Saves, slugOf(c.After), some(c.Sample), c.Minutes})
		slugs = append(slugs, string(c.Count.Method))
	}
	for _, h := range r.Holes {
		p.Holes = append(p.Holes, holeJSON{h.Kind, h.From, h.Until, slugOf(h.Course), h.Chance, h.Days, p.holeWords(h)})
	}
	for _, o := range r.Otherwise {
		p.Otherwise = append(p.Otherwise, otherwiseJSON{o.What, slugOf(o.Course), say.Said(o.Weight), o.Bare, o.Counted})
	}
	for _, w := range r.Before.Weeks {
		p.Weeks = append(p.Weeks, weekJSON{w.On, w.Low, w.Mid, w.High, w.Act, w.Over})
	}
	slices.Sort(slugs)
	p.Cautions = say.Cautions(slices.Compact(slugs)...)
	p.Beside = append(p.Beside, besideOf(p.year, steps, r.YearCounts))
	return nil
}

// against is what speaks against a step, with the colonies where it is not all
// that the plan is for.
type against struct {
	kind  decide.ObjectionKind
	words string
}

// judge says how every step stands: of a plan of the record after what its
// colonies were really given, of any other as if it were repeated every year. Of
// colonies for which a step stands differently, the worst is told.
func (p *planned) judge(courses []decide.Course, on func(sampling.Date) decide.Circumstances) error {
	p.against = make([][]against, len(courses))
	if len(p.asked.of) == 0 {
		var err error
		p.fits, err = decide.FitsPlan(courses, on)
		for i, f := range p.fits {
			for _, o := range f.Objections {
				p.against[i] = append(p.against[i], against{o.Kind, objectionWords(o)})
			}
		}
		return err
	}
	whose := make([]map[against][]string, len(courses))
	for m, before := range p.asked.before {
		fits, err := decide.FitsSteps(before, courses, on)
		if err != nil {
			return err
		}
		for i, f := range fits {
			for _, o := range f.Objections {
				a := against{o.Kind, objectionWords(o)}
				if whose[i] == nil {
					whose[i] = map[against][]string{}
				}
				if whose[i][a] == nil {
					p.against[i] = append(p.against[i], a)
				}
				whose[i][a] = append(whose[i][a], show.Printable(p.asked.of[m].Name))
			}
			if p.fits != nil && slices.Index(worst, p.fits[i].Option.Group) >= slices.Index(worst, f.Option.Group) {
				fits[i] = p.fits[i]
			}
		}
		p.fits = fits
	}
	for i := range p.against {
		for j, a := range p.against[i] {
			if names := whose[i][a]; len(names) < len(p.asked.of) {
				p.against[i][j].words += " (" + say.Some(names, 0, 30) + ")"
			}
		}
	}
	return nil
}

// worst are the groups of what fits, the worst last.
var worst = []decide.FitGroup{decide.FitsNow, decide.FitsMay, decide.FitsNot}

func slugOf(c decide.Course) *string { return say.Said(c.Treatment.Slug) }

const (
	planHolds   = "holds"
	planCarries = "carries most"
	planDoesNot = "does not hold"
	carriesLess = 0.5
)

func (p *planned) verdict() string {
	switch {
	case p.Unseen < decide.MostUnseen:
		return planHolds
	case p.Unseen < carriesLess:
		return planCarries
	}
	return planDoesNot
}

func besideOf(y decide.YearPlan, steps []step, r decide.YearCounts) besideJSON {
	out := besideJSON{
		WeeksOver: r.Before.WeeksOver, Unseen: r.Before.Unseen, UnseenCounted: r.After.Unseen,
		LostShare: r.Before.Loss.Chance, LostCounted: r.After.Loss.Chance, Counts: len(r.Counts), Minutes: r.Minutes,
	}
	for i, s := range steps {
		if i > 0 {
			out.Plan += ", "
		}
		out.Plan += s.notation()
		out.Treatments += s.rounds
	}
	return out
}

// setBeside adds a row for another plan.
func (p *planned) setBeside(y decide.YearPlan, steps []step) error {
	r, err := y.CountsThatPay()
	if err != nil {
		return err
	}
	p.Beside = append(p.Beside, besideOf(y, steps, r))
	return nil
}

// save writes what is still to come into the record.
func (p *planned) save(sh *line.Shell, c *cli.Context) error {
	events, err := savedEvents(sh, c, p.year, p.report.Counts)
	if err != nil {
		return err
	}
	a, err := fieldlog.Append(sh.LogFile, events, fieldlog.Options{Order: sh.DateOrder()})
	if err != nil {
		return err
	}
	p.Saved = len(a.Events)
	sh.Done = show.Many(len(a.Events), "row is", "rows are") + " written to " + a.Record.Path
	return nil
}

// chart is the year as a picture, with the steps and the counts below it.
func (p *planned) chart() show.TimeChart {
	t := show.TimeChart{Today: p.today, Band: "8 colonies of 10 without a count", LineName: "the line to act"}
	for _, w := range p.report.Before.Weeks {
		t.Dates = append(t.Dates, w.On)
		t.Low, t.Mid, t.High = append(t.Low, w.Low), append(t.Mid, w.Mid), append(t.High, w.High)
		t.Line = append(t.Line, w.Act)
	}
	first, last := t.Dates[0], t.Dates[len(t.Dates)-1]
	add := func(on sampling.Date, label string) {
		if on >= first && on <= last {
			t.Events = append(t.Events, show.Event{Date: on, Label: label})
		}
	}
	for _, s := range p.year.Steps {
		add(s.Course.First, s.Course.Treatment.Called)
	}
	for _, c := range p.report.Counts {
		add(c.Count.Date, countCalled(c.Count))
	}
	slices.SortStableFunc(t.Events, func(a, b show.Event) int { return int(a.Date - b.Date) })
	return t
}

func (p *planned) csv() show.CSV {
	out := show.CSV{Head: []string{"date", "low_per_hundred", "middle_per_hundred", "high_per_hundred", "act_per_hundred", "chance_over", "chance_over_counted"}}
	for i, w := range p.report.Before.Weeks {
		out.Rows = append(out.Rows, []any{w.On, w.Low, w.Mid, w.High, w.Act, w.Over, p.report.After.Weeks[i].Over})
	}
	return out
}
