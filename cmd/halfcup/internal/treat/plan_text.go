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
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// countCalled is a count in a few words.
func countCalled(c sampling.Count) string {
	if c.Method.Kind() == sampling.Fall {
		return fmt.Sprintf("%d-day board", int(c.DaysOnBoard()))
	}
	return c.Method.Title()
}

// decides ends every answer that names a treatment.
const decides = "The label, the law and your vet or bee inspector decide."

// print writes the three sentences first: does it hold, where is the hole, what
// is the least to do.
func (p *planned) print(w io.Writer, page show.Page) {
	fmt.Fprint(w, page.Wrap(page.Paint(show.Strong, p.first()), 0))
	fmt.Fprint(w, page.Wrap(p.hole(), 0))
	fmt.Fprint(w, page.Wrap(p.least(), 0))
	labelled := func(label string, texts []string) {
		for i, text := range texts {
			if i > 0 {
				label = ""
			}
			fmt.Fprintf(w, "%-*s%s", labelWidth, label, strings.TrimLeft(page.Hang(text, labelWidth, labelWidth), " "))
		}
	}
	labelled("COUNT", p.countLines())
	labelled("ALSO", p.otherHoles())
	labelled("STEPS", p.stepLines())
	labelled("IF", p.ifLines())
	if p.Colonies > 1 {
		labelled("YARD", []string{p.yardLine()})
	}
	labelled("SO FAR", p.SoFar)
	if len(p.Beside) > 1 {
		for i, b := range p.Beside {
			fmt.Fprint(w, page.Hang(planLetter(i)+" "+b.Plan, 0, 2))
		}
		fmt.Fprint(w, page.Table(p.table()))
	}
	if p.Saved > 0 {
		fmt.Fprint(w, page.Wrap(show.Many(p.Saved, "planned row is", "planned rows are")+" written down: confirm each when it is done.", 0))
	}
	fmt.Fprint(w, page.Wrap(decides, 0))
}

// printPlans gives every plan its three sentences.
func printPlans(w io.Writer, page show.Page, all []*planned, without []fieldlog.Colony) {
	fmt.Fprint(w, page.Wrap(fmt.Sprintf("The record has %d plans, because not all colonies get the same. All of one: halfcup plan --colony NAME.", len(all)), 0))
	for _, p := range all {
		fmt.Fprint(w, "\n", page.Wrap(page.Paint(show.Strong, p.first()), 0))
		fmt.Fprint(w, page.Wrap(p.hole(), 0))
		fmt.Fprint(w, page.Wrap(p.least(), 0))
	}
	if len(without) > 0 {
		var names []string
		for _, k := range without {
			names = append(names, show.Printable(k.Name))
		}
		fmt.Fprint(w, "\n", page.Wrap("Nothing is planned for "+say.Some(names, 0, 50)+".", 0))
	}
	fmt.Fprint(w, page.Wrap(decides, 0))
}

// whose is the plan as it is spoken of: whose it is and what it is, where the
// record has it, since nobody typed it.
func (p *planned) whose() string {
	if len(p.asked.of) == 0 {
		return "Your plan"
	}
	var names, steps []string
	for _, k := range p.asked.of {
		names = append(names, show.Printable(k.Name))
	}
	out := "The plan of " + say.Some(names, p.asked.living, 40)
	if p.asked.yard != "" {
		out += " at " + show.Printable(p.asked.yard)
	}
	for _, s := range p.year.Steps {
		steps = append(steps, say.ShortDay(s.Course.First)+" "+s.Course.Treatment.Called)
	}
	return out + " (" + strings.Join(steps, ", ") + ")"
}

func (p *planned) first() string {
	n := int(math.Round(100 * p.Unseen))
	switch p.Verdict {
	case planHolds:
		return fmt.Sprintf("%s holds: of 100 colonies, %d get through the year without more than six weeks over the line unseen.", p.whose(), 100-n)
	case planCarries:
		return fmt.Sprintf("%s carries most colonies: of 100, %d get through the year without more than six weeks over the line unseen; %d do not.", p.whose(), 100-n, n)
	}
	return fmt.Sprintf("%s does not hold: of 100 colonies, %d are over the line for more than six weeks unseen.", p.whose(), n)
}

func (p *planned) hole() string {
	for _, h := range p.report.Holes {
		if h.Kind == decide.HoleGap {
			return "The hole is " + p.holeWords(h)
		}
	}
	return "No hole was found."
}

// weeksOf is a time in whole weeks.
func weeksOf(days int) string { return show.Many(int(math.Round(float64(days)/7)), "week", "weeks") }

// holeWords tells a hole with its figure.
func (p *planned) holeWords(h decide.Hole) string {
	called, day := h.Course.Treatment.Called, say.ShortDay
	switch h.Kind {
	case decide.HoleGap:
		after := ""
		if called != "" {
			after = "after the " + called + " "
		}
		until := day(h.Until)
		if h.Days > 250 {
			until += " of the next year"
		}
		s := fmt.Sprintf("%s to %s: %snothing reaches the mites for %s, and %s of 100 pass the line.", day(h.From), until, after, weeksOf(h.Days), ofHundred(h.Chance))
		for _, o := range p.report.Otherwise {
			if o.What == decide.CourseFails && o.Course.First == h.Course.First && o.Weight > 0.1 {
				s += fmt.Sprintf(" 1 in %.0f such courses kills too few.", 1/o.Weight)
			}
		}
		return s
	case decide.HoleRounds:
		return fmt.Sprintf("The rounds of %s end on %s, before the brood of the first of them, %s, has opened: at their best they leave %s of 100 mites.", called, day(h.Until), day(h.From), ofHundred(h.Chance))
	case decide.HoleSupers:
		return fmt.Sprintf("The %s of %s: %s under the supers, up to %s. Begin earlier, or take something shorter.", called, day(h.Course.First), show.Many(h.Days, "day", "days"), day(h.Until))
	case decide.HoleUnseen:
		return fmt.Sprintf("Should the %s of %s fail, nobody sees it for %s, and %s of 100 are over the line too long.", called, day(h.From), weeksOf(h.Days), ofHundred(h.Chance))
	case decide.HoleHeat:
		return fmt.Sprintf("%s may be too hot for %s. Name what you will use then (--or). Left out, %s of 100 are over the line too long.", day(h.From), called, ofHundred(h.Chance))
	}
	return string(h.Kind)
}

func (p *planned) least() string {
	c := p.report.YearCounts
	if len(c.Counts) == 0 {
		return "No count can be made under this plan: something is always at work."
	}
	var list []string
	kind := strings.ToLower(countCalled(c.Counts[0].Count))
	alike := !slices.ContainsFunc(c.Counts, func(k decide.YearCount) bool { return strings.ToLower(countCalled(k.Count)) != kind })
	for _, k := range c.Counts {
		s := say.ShortDay(k.Count.Date)
		if !alike {
			s = "a " + strings.ToLower(countCalled(k.Count)) + " on " + s
		}
		list = append(list, s)
	}
	what := show.Many(len(c.Counts), "count", "counts") + " of every colony each year, " + show.List(list)
	if alike {
		what = show.Many(len(c.Counts), kind, kind+"s") + " of every colony each year, on " + show.List(list)
	}
	effort := fmt.Sprintf("%s, %.0f minutes a hive", killedWords(c.Killed), c.Minutes)
	switch {
	case !p.Enough:
		return fmt.Sprintf("No number of counts makes this plan safe: with %s, %s of 100 are still over the line too long%s.", what, ofHundred(p.UnseenCounted), p.why())
	case p.Verdict == planHolds:
		return fmt.Sprintf("Keep %s: without it you will not see the year in which it fails. %s.", what, say.Capital(effort))
	}
	return fmt.Sprintf("The least is %s: %s become %s; %s.", what, ofHundred(p.Unseen), ofHundred(p.UnseenCounted), effort)
}

func killedWords(n int) string {
	if n == 0 {
		return "no bee is killed"
	}
	return show.Many(n, "bee is", "bees are") + " killed"
}

// why is what stands in the way of counts that would make a plan safe.
func (p *planned) why() string {
	on := p.year.Colony.Supers
	switch {
	case slices.ContainsFunc(p.report.Counts, func(c decide.YearCount) bool { return on.On(c.Count.Date) == decide.SupersOn }):
		return "; what they show while supers are on cannot be treated at once"
	case p.report.Before.Unseen-p.UnseenCounted < 0.05:
		return ""
	}
	return "; while something works or settles no count tells"
}

// countLines are the counts that pay and what each is for.
func (p *planned) countLines() []string {
	const lately = 100 // days after a course in which a count tells of it
	var out []string
	for _, c := range p.report.Counts {
		on := c.Count.Date
		what := "Is there enough to treat?"
		next := slices.IndexFunc(p.year.Steps, func(s decide.YearStep) bool { return s.Course.First >= on })
		switch {
		case c.After.Treatment.Slug != "" && on < c.After.Last+lately:
			what = "Did the " + c.After.Treatment.Called + " do enough?"
		case next >= 0:
			what = "Can they wait for the " + p.year.Steps[next].Course.Treatment.Called + "?"
		}
		out = append(out, fmt.Sprintf("%s: from %s on treat. %s", say.ShortDay(on), show.Many(c.From, "mite", "mites"), what))
	}
	return out
}

// otherHoles are further holes, as many as the page has room for.
func (p *planned) otherHoles() []string {
	most := 2
	if len(p.Counts) > 4 {
		most = 1
	}
	var out []string
	gap := false
	for _, h := range p.report.Holes {
		switch {
		case h.Kind == decide.HoleGap && !gap:
			gap = true
			continue
		case h.Kind == decide.HoleGap:
			out = append(out, "From "+p.holeWords(h))
		default:
			out = append(out, p.holeWords(h))
		}
	}
	order := func(s string) int { // what can be mended at the desk first
		for i, word := range []string{"under the supers", "too hot", "has opened", "nobody sees", "From"} {
			if strings.Contains(s, word) {
				return i
			}
		}
		return 0
	}
	slices.SortStableFunc(out, func(a, b string) int { return order(a) - order(b) })
	return out[:min(len(out), most)]
}

// stepLines are the steps that something speaks against.
func (p *planned) stepLines() []string {
	var out []string
	for i, f := range p.fits {
		var texts []string
		if f.Option.Group == decide.FitsNot {
			texts = append(texts, f.Option.Sentence)
		}
		for _, o := range p.against[i] {
			if o.kind != decide.ObjectSupers { // told as a hole
				texts = append(texts, o.words)
			}
		}
		if texts != nil {
			out = append(out, say.ShortDay(f.Course.First)+", "+f.Course.Treatment.Called+": "+strings.Join(texts, "; ")+".")
		}
	}
	return out
}

func objectionWords(o decide.Objection) string {
	switch o.Kind {
	case decide.ObjectSecondTrickle:
		return "a second trickle on one winter cluster"
	case decide.ObjectSupers:
		return show.Many(o.Days, "day", "days") + " under the supers"
	case decide.ObjectSameGroup:
		return "the same group as the course before: change it"
	case decide.ObjectTwoAtOnce:
		return "beside the " + o.With.Treatment.Called + " of " + say.ShortDay(o.With.First) + ": two at once"
	case decide.ObjectManyCourses:
		return fmt.Sprintf("course %d of it in a year: see how many the label allows", o.Courses)
	}
	return string(o.Kind)
}

// ifLines are what may go otherwise: the course whose failure does most harm,
// many arrivals and late brood.
func (p *planned) ifLines() []string {
	if len(p.SoFar) > 0 {
		return nil // no room beside how the year has gone
	}
	var worst decide.IfOtherwise
	var out []string
	tell := func(what string, o decide.IfOtherwise) string {
		return fmt.Sprintf("%s: %s of 100 too long over; counted %s.", what, ofHundred(o.Bare), ofHundred(o.Counted))
	}
	for _, o := range p.report.Otherwise {
		switch {
		case o.What == decide.ManyArrivals:
			out = append(out, tell("many mites come in", o))
		case o.What == decide.LaterBrood:
			out = append(out, tell("brood two weeks later", o))
		case o.Bare > worst.Bare:
			worst = o
		}
	}
	if worst.Bare > 0 {
		out = slices.Insert(out, 0, tell("the "+worst.Course.Treatment.Called+" of "+say.ShortDay(worst.Course.First)+" should fail", worst))
	}
	return out
}

// yardLine is the yard in whole colonies, by both readings of a failure.
func (p *planned) yardLine() string {
	of := func(share float64) string {
		n := share * float64(p.Colonies)
		if n < 1 {
			return show.Digits(n, 1, 1)
		}
		return show.Fixed(n, 0)
	}
	s := fmt.Sprintf("Of %d colonies %s too long over the line", p.Colonies, of(p.Unseen))
	var worst decide.IfOtherwise
	for _, o := range p.report.Otherwise {
		if o.What == decide.CourseFails && o.Bare*o.Weight > worst.Bare*worst.Weight {
			worst = o
		}
	}
	if worst.Weight > 0 {
		seen := ""
		for _, c := range p.report.Counts {
			if c.After.First == worst.Course.First && c.Sample > 0 && c.Sample <= p.Colonies {
				seen = fmt.Sprintf(" (%s counted on %s show it)", show.Many(c.Sample, "hive", "hives"), say.ShortDay(c.Count.Date))
				break
			}
		}
		s += fmt.Sprintf(" if courses fail hive by hive; if the weather fails the %s for all, 1 in %.0f years, %s then%s and %s in others", worst.Course.Treatment.Called, 1/worst.Weight, of(worst.Bare), seen, of((p.Unseen-worst.Weight*worst.Bare)/(1-worst.Weight)))
	}
	return s + fmt.Sprintf(". By spring about %s lost, with the counts %s; with next to no mites %s.", of(p.LostShare), of(p.LostCounted), of(p.LostWithout))
}

// planLetter names one of several plans.
func planLetter(i int) string { return string(rune('A' + i)) }

// table sets the plans beside each other.
func (p *planned) table() show.Table {
	t := show.Table{Columns: []show.Column{{Name: "plan"}, {Name: "given", Right: true}, {Name: "weeks over", Right: true}, {Name: "too long", Right: true}, {Name: "counted", Right: true}, {Name: "counts", Right: true}, {Name: "minutes", Right: true}, {Name: "lost", Right: true}}}
	for i, b := range p.Beside {
		t.Rows = append(t.Rows, []string{planLetter(i), fmt.Sprint(b.Treatments), show.Fixed(b.WeeksOver, 1), ofHundred(b.Unseen), ofHundred(b.UnseenCounted), fmt.Sprint(b.Counts), show.Fixed(b.Minutes, 0), fmt.Sprintf("%s to %s", ofHundred(b.LostShare), ofHundred(b.LostCounted))})
	}
	return t
}

// soFar is how the year has gone against the plan, by the record: at the
// colonies the plan is for, else at those that were named, else at all.
func soFar(sh *line.Shell, c *cli.Context, p *planned) ([]string, error) {
	out := []string{}
	rec, err := ask.OpenRecord(sh)
	if rec == nil || err != nil {
		return out, err
	}
	of := p.asked.of
	if len(of) == 0 && !c.Bool("save") {
		if of, err = namedColonies(c, rec); err != nil {
			return out, err
		}
	}
	if len(of) == 0 {
		of = rec.Colonies()
	}
	var colonies []history.Colony
	for _, k := range of {
		c, err := history.Of(rec, k.Yard, k.Name, p.year.Colony, sh.Today)
		if err != nil {
			return out, err
		}
		if c.Gone.IsZero() {
			colonies = append(colonies, c)
		}
	}
	if len(colonies) == 0 {
		return out, nil
	}
	tell := func(what string, done func(history.Colony) bool) {
		var missing []string
		for _, c := range colonies {
			if !done(c) {
				missing = append(missing, c.Name)
			}
		}
		s := fmt.Sprintf("%s: written down for %d of %d", what, len(colonies)-len(missing), len(colonies))
		const most = 4
		if n := len(missing); n > 0 && n <= most {
			s += ", not for " + show.List(missing)
		}
		out = append(out, s+".")
	}
	const early, late = 14, 21
	for _, s := range p.year.Steps {
		if c := s.Course; c.First+late <= sh.Today {
			tell(say.ShortDay(c.First)+", "+c.Treatment.Called, func(k history.Colony) bool {
				return slices.ContainsFunc(k.Treatments, func(t decide.TreatmentDay) bool {
					return t.Treatment.Slug == c.Treatment.Slug && t.On >= c.First-early && t.On <= c.Last+late && (!t.Planned || t.Confirmed)
				})
			})
		}
	}
	for _, count := range p.report.Counts {
		on := count.Count.Date
		if on+7 <= sh.Today {
			tell(say.ShortDay(on)+", "+strings.ToLower(countCalled(count.Count)), func(k history.Colony) bool {
				return slices.ContainsFunc(k.Counts, func(c sampling.Count) bool {
					return c.Method.Kind() == sampling.BeeSample && c.Date >= on-early && c.Date <= on+early
				})
			})
		}
	}
	return out, nil
}

// figure is one of those an answer rests on.
func (p *planned) figure(name string) float64 {
	i := slices.IndexFunc(decide.Parameters(), func(f decide.Parameter) bool { return f.Name == name })
	return decide.Parameters()[i].Value
}

// explain tells how the figures came about.
func (p *planned) explain() string {
	parts := []string{p.method()}
	for _, h := range p.Holes {
		parts = append(parts, say.Capital(strings.TrimPrefix(h.Sentence, "The hole is ")))
	}
	for _, f := range p.fits {
		parts = append(parts, fmt.Sprintf("%s, %s: %s (%s: %s).", say.ShortDay(f.Course.First), f.Course.Treatment.Called, f.Option.Sentence, f.Option.Kind, f.Option.Source))
	}
	return strings.Join(append(parts, "Usual days are not directions: your label's win."), "\n")
}

const (
	planBegins = "The year of the plan (%s) begins on %s with colonies in general, treated by the plan the year before. " +
		"Week by week mites breed, come in and are killed; growth is unsure, and with a chance of %d%% a month something happens that nobody writes down."
	planCourses = "A course with sealed brood works (%d of 100), does next to nothing (%d) or does far better than expected (%d); without brood %d work and %d do not."
	planTooLong = "Too long is: over the day's line to act for more than six weeks running, between 15 June and 25 October, without a count that called it. " +
		"A count calls when treating is the lesser regret by what it shows and what is to be expected under the plan. " +
		"A called colony is given at once what the plan names for that time, as soon as supers are off, beside the plan as written."
	planCounts = "The counts that pay are found one after the other, each the one that lowers that chance most a minute, until it is under %d%%; what is then not needed is dropped. " +
		"Never none: else the year in which a plan fails is not seen."
	planLosses = "Losses are those of two studies of one winter, by the level in the middle of September, most colonies treated afterwards; they do not say that treating saves a colony."
)

// method tells how the figures of any plan come about.
func (p *planned) method() string {
	percent := func(name string) int { return int(math.Round(100 * p.figure(name))) }
	failed, better, bare := percent("failed_with_brood"), percent("far_better"), percent("failed_without_brood")
	parts := []string{
		fmt.Sprintf(planBegins, p.Whence, say.ShortDay(p.From), percent("unrecorded")),
		fmt.Sprintf(planCourses, 100-failed-better, failed, better, 100-bare, bare),
		planTooLong,
		fmt.Sprintf(planCounts, int(math.Round(100*decide.MostUnseen))),
		planLosses,
	}
	return strings.Join(parts, "\n")
}
