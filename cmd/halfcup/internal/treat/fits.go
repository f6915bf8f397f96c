package treat

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

func fitsCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "fits",
		Aliases:   []string{"treatments"},
		Category:  line.GroupTreat,
		Usage:     "what can be used, and why not the rest",
		ArgsUsage: "[COUNT...]",
		UsageText: "halfcup fits --colony alder --temperature 31",
		Description: "Sets every active ingredient against the colony's brood, supers, season and last treatments: what fits, what may, what does not now, and what can be done without any. " +
			"Where the call is to treat later, when no brood is sealed, it is what fits on that day, but for what you say of today. " +
			"It names no dose and no product: those are the label's.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "temperature", DefaultText: "unknown", Usage: "highest forecast of the first three days in the shade, `DEGREES` Celsius"},
		}, fitsQuestionFlags()...),
		Action: func(c *cli.Context) error { return fits(sh, c) },
	}
}

// fitsQuestionFlags are those of a question, with brood and bees told of the
// colony and not of a board.
func fitsQuestionFlags() []cli.Flag {
	of := map[string]*cli.StringFlag{
		"brood":      {Name: "brood", Usage: "whether you saw capped brood `yes|no`", DefaultText: "by the record and the season"},
		"adult-bees": {Name: "adult-bees", Usage: "adult bees of the colony, `BEES`", DefaultText: "as the record says"},
	}
	flags := ask.QuestionFlags()
	for i, f := range flags {
		if own, ok := of[f.Names()[0]]; ok {
			flags[i] = own
		}
	}
	return flags
}

// fitted is what fits; its JSON is halfcup.fits/3.
type fitted struct {
	Colony   *string           `json:"colony"`
	Date     sampling.Date     `json:"date"`
	On       sampling.Date     `json:"treated_on"` // the day for which treatments are judged
	Estimate *sampling.Summary `json:"estimate"`   // null where nobody counted, or a treatment works
	say.Judgement

	CappedBrood    bool        `json:"capped_brood"`
	BroodAssumed   bool        `json:"brood_assumed"` // by the season only
	WarmestCelsius *float64    `json:"warmest_celsius"`
	AdultBees      *float64    `json:"adult_bees"`
	Broodless      *windowJSON `json:"broodless"` // a time without capped brood that is there or comes

	First       []stepJSON        `json:"first"`
	Treatments  []optionJSON      `json:"treatments"`
	Without     []withoutJSON     `json:"without"`
	Cautions    []string          `json:"cautions"`
	Assumptions []sampling.Source `json:"assumptions"`

	*ask.Question `json:"-"`
	fit           decide.Fit
	said          say.Standing
}

// windowJSON is some days; Until is null where no end is known.
type windowJSON struct {
	From  sampling.Date `json:"from"`
	Until sampling.Date `json:"until"`
}

type stepJSON struct {
	Step     decide.StepKind `json:"step"`
	Sentence string          `json:"sentence"`
	Window   *windowJSON     `json:"window"`
}

type optionJSON struct {
	Treatment string           `json:"treatment"`
	Active    string           `json:"active"`
	Group     decide.FitGroup  `json:"group"`
	Reason    decide.FitReason `json:"reason"`
	Sentence  string           `json:"sentence"`
	Source    string           `json:"source"`
	Kind      string           `json:"kind"`
	Cautions  []string         `json:"cautions"`
}

type withoutJSON struct {
	What     string           `json:"what"`
	Group    decide.FitGroup  `json:"group"`
	Reason   decide.FitReason `json:"reason"`
	Sentence string           `json:"sentence"`
	Source   string           `json:"source"`
	Kind     string           `json:"kind"`
}

func fits(sh *line.Shell, c *cli.Context) error {
	warmest, err := readWarmest(c)
	if err != nil {
		return err
	}
	q, err := ask.ReadColonyToTreat(sh, c)
	if err != nil {
		return err
	}
	if err := q.Answer(sh.Today); err != nil {
		return err
	}
	k := q.Apiary.Colonies[q.Place]
	on := q.Day
	if !c.IsSet("brood") && warmest == nil {
		on = max(on, q.TreatFrom) // nothing was said of today, and treated is not before
	}
	around := k.CircumstancesOn(on, k.Supers)
	around.Warmest = warmest
	if c.IsSet("brood") {
		brood, err := line.Choice(c, "brood", "yes", "no")
		if err != nil {
			return err
		}
		around.CappedBrood = decide.Present
		if brood == "no" {
			around.CappedBrood = decide.Absent
		}
	}
	if c.IsSet("adult-bees") {
		if around.AdultBees, err = line.Number(c, "adult-bees", nil); err != nil {
			return err
		}
	}
	f, err := fittedOf(q, around, sh.Settings.LimitsLevel())
	if err != nil {
		return err
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.fits/3",
		JSON:     f,
		CSV:      f.csv(),
		Text:     func(w io.Writer) { f.print(w, sh.Page) },
		Warnings: f.warnings(),
		Explain:  f.explain(),
	})
}

// readWarmest reads --temperature. A figure that is no weather is most likely in
// the other unit: that is asked, never guessed.
func readWarmest(c *cli.Context) (*float64, error) {
	if !c.IsSet("temperature") {
		return nil, nil
	}
	v, err := line.Number(c, "temperature", nil)
	if err != nil {
		return nil, err
	}
	const coldest, hottest = -30, 50
	switch {
	case v > hottest && (v-32)/1.8 <= hottest:
		return nil, line.BadValue("temperature", c.String("temperature"), show.Plain(v)+" °C is no weather. °F?", fmt.Sprintf("write it in °C: %s °F are %.0f °C", show.Plain(v), (v-32)/1.8))
	case v < coldest || v > hottest:
		return nil, line.BadValue("temperature", c.String("temperature"), show.Plain(v)+" °C is no weather", "give the highest forecast of the first three days in the shade, in °C")
	}
	return &v, nil
}

func fittedOf(q *ask.Question, around decide.Circumstances, level float64) (*fitted, error) {
	said, err := say.NewStanding(q.Standing)
	if err != nil {
		return nil, err
	}
	fit, err := decide.Fits(around)
	if err != nil {
		return nil, err
	}
	f := &fitted{
		Colony: say.Said(q.Colony), Date: q.Day, On: around.Day, Judgement: say.JudgementOf(said),
		CappedBrood: fit.CappedBrood, BroodAssumed: fit.AssumedBrood, WarmestCelsius: around.Warmest,
		AdultBees: say.Said(around.AdultBees), Broodless: windowOf(around.Broodless),
		First: []stepJSON{}, Treatments: []optionJSON{}, Without: []withoutJSON{},
		Question: q, fit: fit, said: said,
	}
	if said.HasLevel() {
		s := q.Known.Summary(level)
		f.Estimate = &s
	}
	for _, s := range fit.First {
		f.First = append(f.First, stepJSON{s.Kind, s.Sentence, windowOf(s.Window)})
	}
	for _, o := range f.options() {
		for _, t := range o.Treatments {
			f.Treatments = append(f.Treatments, optionJSON{t.Slug, t.Active, o.Group, o.Reason, o.Sentence, o.Source, o.Kind, say.Cautions(t.Slug)})
		}
	}
	for _, o := range fit.Without {
		f.Without = append(f.Without, withoutJSON{strings.Join(o.Called, ", "), o.Group, o.Reason, o.Sentence, o.Source, o.Kind})
	}
	f.Cautions = say.Cautions(names(append(f.options(), fit.Without...))...)
	var counts []sampling.Count
	for _, e := range q.Evidence {
		counts = append(counts, e.Count)
	}
	f.Assumptions = q.Sources(counts...)
	return f, nil
}

func windowOf(w decide.Window) *windowJSON {
	if w.From.IsZero() && w.Until.IsZero() {
		return nil
	}
	return &windowJSON{w.From, w.Until}
}

// options are all treatments, the best group first.
func (f *fitted) options() []decide.Option { return slices.Concat(f.fit.Fits, f.fit.Maybe, f.fit.Not) }

// barred reports whether nothing can be given because something works, lies or
// settles in the hive.
func (f *fitted) barred() bool {
	return slices.ContainsFunc(f.fit.Not, func(o decide.Option) bool { return o.Reason == decide.ReasonAnotherCourse })
}

// names are what the page names that has cautions: the treatments of some
// options, and the combs that some ways without one move.
func names(options []decide.Option) []string {
	var out []string
	for _, o := range options {
		for _, t := range o.Treatments {
			out = append(out, t.Slug)
		}
		if o.Treatments == nil {
			out = append(out, "combs")
		}
	}
	return slices.Compact(out)
}

// warnings are the cautions of everything that is named: a line each of what
// can be used, the rest together, so that what matters now stands first.
func (f *fitted) warnings() []say.Warning {
	closing := f.closing()
	out := say.Warn(say.LeftOut, f.Unread...)
	var rest []string
	now := say.Cautions(names(slices.Concat(f.fit.Fits, f.fit.Maybe, f.fit.Without))...)
	not := say.Cautions(names(f.fit.Not)...)
	if f.barred() { // none is named but what is in the hive
		now, not = say.Cautions(f.Course.Treatment.Slug), nil
	}
	// That supers come off first, and what becomes of their honey, is told once.
	var honey string
	if slices.ContainsFunc(f.fit.First, func(s decide.Step) bool { return s.Kind == decide.StepSupersOff }) {
		for _, c := range decide.Cautions("treatment") {
			if c.About == decide.CautionHoney {
				honey = c.Text
			}
		}
	}
	for _, s := range now {
		if !strings.HasSuffix(closing, s) && s != honey {
			out = append(out, say.Warning{Kind: say.Caution, Text: s})
		}
	}
	for _, s := range not {
		if !slices.Contains(now, s) && !strings.HasSuffix(closing, s) {
			rest = append(rest, s)
		}
	}
	if rest != nil {
		out = append(out, say.Warning{Kind: say.Caution, Text: "Not now, and when the time comes: " + strings.Join(rest, " ")})
	}
	return out
}

// labelWidth is how wide the names of the groups stand.
const labelWidth = 9

func (f *fitted) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, f.head(p.Width)), 0))
	labelled := func(label string, texts []string) {
		for i, text := range texts {
			if i > 0 {
				label = ""
			}
			fmt.Fprintf(w, "%-*s%s", labelWidth, label, strings.TrimLeft(p.Hang(text, labelWidth, labelWidth), " "))
		}
	}
	var first, without []string
	for _, s := range f.First {
		first = append(first, s.Sentence)
	}
	labelled("FIRST", first)
	for _, g := range []struct {
		label   string
		options []decide.Option
	}{{"FITS", f.fit.Fits}, {"MAYBE", f.fit.Maybe}, {"NOT NOW", f.fit.Not}} {
		var texts []string
		for _, o := range g.options {
			texts = append(texts, optionWords(o))
		}
		labelled(g.label, texts)
	}
	if !f.barred() { // else nothing could be given after it
		for _, o := range f.fit.Without {
			without = append(without, optionWords(o))
		}
	}
	if without != nil {
		labelled("WITHOUT", []string{say.Capital(strings.Join(without, "; ")) + "."})
	}
	fmt.Fprint(w, p.Wrap(f.closing(), 0))
}

// optionWords is an option with the names it is for.
func optionWords(o decide.Option) string {
	if len(o.Treatments) == len(sampling.Treatments()) {
		return "anything: " + o.Sentence + "."
	}
	s := strings.Join(o.Called, ", ") + ": " + o.Sentence
	if o.Treatments == nil {
		return s
	}
	return s + "."
}

// head is the colony and what is known of it, on one line where there is room.
func (f *fitted) head(width int) string {
	level := "not counted"
	switch {
	case f.Estimate != nil:
		level = fmt.Sprintf("%s per hundred, line %s", say.LevelsOf(*f.Estimate)[1], say.Line(f.Line.Act))
	case f.barred():
		return fmt.Sprintf("%s: being treated (%s).", f.said.Whom(), f.Course.Treatment.Called)
	}
	// As long as fits on a line: what is left out last is what nobody said.
	var head string
	for _, brief := range []bool{false, true} {
		known := []string{f.broodWords(brief)}
		if f.Supers != decide.SupersUnknown {
			known = append(known, "supers "+string(f.Supers))
		}
		switch {
		case f.WarmestCelsius != nil && brief:
			known = append(known, show.Fixed(*f.WarmestCelsius, 0)+" °C")
		case f.WarmestCelsius != nil:
			known = append(known, show.Fixed(*f.WarmestCelsius, 0)+" °C to come")
		case !brief:
			known = append(known, "warmth not said (--temperature)")
		}
		if f.On != f.Date {
			known[0] += " on " + f.On.Time().Format("2 Jan")
		}
		head = fmt.Sprintf("%s: %s. %s.", f.said.Whom(), level, say.Capital(strings.Join(known, ", ")))
		if len([]rune(head)) <= width {
			break
		}
	}
	return head
}

func (f *fitted) broodWords(brief bool) string {
	switch {
	case f.CappedBrood && f.BroodAssumed && brief:
		return "brood likely"
	case f.CappedBrood && f.BroodAssumed:
		return "sealed brood likely"
	case f.CappedBrood:
		return "sealed brood"
	case f.BroodAssumed:
		return "likely no sealed brood"
	}
	return "no sealed brood"
}

// closing is what to do, as the colony's row in its yard has it, short enough
// for a line.
func (f *fitted) closing() string {
	do := say.Capital(f.said.Row())
	switch {
	case f.barred():
		do = "Add nothing now"
	case f.Call == decide.CountAgain:
		do = "Count first"
	case f.Call == decide.WhenSupersOff:
		do = "Treat this week" // the first step says that supers come off
	case f.said.NearLine():
		do = "Count by " + f.Due.Time().Format("2 Jan")
	}
	return do + ". " + decides
}

func (f *fitted) csv() show.CSV {
	out := show.CSV{Head: []string{"colony", "date", "treatment", "active", "group", "reason", "sentence", "kind"}}
	for _, o := range f.Treatments {
		out.Rows = append(out.Rows, []any{f.Standing.Colony, f.Date, o.Treatment, o.Active, string(o.Group), string(o.Reason), o.Sentence, o.Kind})
	}
	for _, o := range f.Without {
		out.Rows = append(out.Rows, []any{f.Standing.Colony, f.Date, nil, nil, "without", string(o.Reason), o.What + ": " + o.Sentence, o.Kind})
	}
	return out
}

const fitsWhy = "A treatment that does not reach into capped cells meets only the mites on the bees, so with sealed brood it has to outlast the brood or be repeated; without brood one giving reaches nearly all. " +
	"Heat, a new queen and a small colony speak against what evaporates; supers, and a treatment of the same group as last time, against what leaves residues or breeds resistant mites."

// explain tells where every word on the page comes from.
func (f *fitted) explain() string {
	parts := []string{fitsWhy}
	if f.BroodAssumed {
		parts = append(parts, "Nobody said whether there is sealed brood: it is taken from the season. Look, and say --brood yes or no.")
	}
	for _, o := range append(f.options(), f.fit.Without...) {
		name := "Anything"
		if len(o.Treatments) != len(sampling.Treatments()) {
			name = say.Capital(strings.Join(o.Called, ", "))
		}
		parts = append(parts, fmt.Sprintf("%s: %s (%s: %s).", name, o.Sentence, o.Kind, o.Source))
	}
	return strings.Join(append(parts, "Usual days and ranges are not directions: your label's win."), "\n")
}
