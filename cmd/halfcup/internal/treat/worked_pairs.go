package treat

import (
	"fmt"
	"io"
	"math"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// pairsForm is counts before and after.
type pairsForm struct {
	decide.Comparison
	colonies []string // names of the treated, nil when typed
	decide.Efficacy
	needed int
}

func workedPairs(sh *line.Shell, c *cli.Context, a *worked) (workedForm, error) {
	settled, err := a.readTreated(c)
	if err != nil {
		return nil, err
	}
	f := &pairsForm{}
	if f.Treated, err = a.pairs(c, "before", "after", settled); err != nil {
		return nil, err
	}
	if f.Controls, err = a.pairs(c, "control-before", "control-after", 0); err != nil {
		return nil, err
	}
	a.capped = f.Treated[0].CappedBrood
	if err := a.compare(f); err != nil || len(f.Treated) > 1 {
		return f, err
	}
	return f, a.readNow(sh, f.Treated[0])
}

// readNow works out the colony of a typed pair today: by the count after it,
// and by the count before where the treatment between is known.
func (a *worked) readNow(sh *line.Shell, p decide.Pair) error {
	k := a.rules.Base
	if p.After.Date.IsZero() {
		p.After.Date = sh.Today
	}
	if p.After.Date > sh.Today {
		return nil
	}
	k.Counts = []sampling.Count{p.After}
	if a.treatment != nil {
		for _, on := range a.course.Rounds {
			k.Treatments = append(k.Treatments, decide.TreatmentDay{On: on, Treatment: *a.treatment})
		}
	}
	if k.Treatments != nil && !p.Before.Date.IsZero() {
		k.Counts = append(k.Counts, p.Before)
	}
	return a.stand(decide.Apiary{Rules: a.rules.Rules, Colonies: []decide.Colony{k}}, 0, sh.Today)
}

// stand puts the question of what is left.
func (a *worked) stand(apiary decide.Apiary, place int, day sampling.Date) error {
	if gone := apiary.Colonies[place].Gone; !gone.IsZero() && gone <= day {
		return nil
	}
	s, err := apiary.Of(place, day)
	if err != nil {
		return err
	}
	now, err := say.NewStanding(s)
	a.now = &now
	return err
}

// compare lets the pairs be judged.
func (a *worked) compare(f *pairsForm) error {
	a.expect()
	f.Assumptions, f.Year, f.Rates = a.rules.Assumptions, a.rules.Base.Year, a.rules.Base.Rates
	f.Level, f.Target = a.level, a.target
	var err error
	if f.Efficacy, err = f.Judge(); err != nil {
		return err
	}
	a.Reduction, a.answer = f.Reduction, f.Answer
	if f.Answer == decide.CannotTell && f.SettledOn.IsZero() {
		f.needed, err = f.BeforeNeeded()
	}
	return err
}

// readTreated reads --treated, and gives the first day on which a count can
// tell; zero when nobody said when it was given.
func (a *worked) readTreated(c *cli.Context) (sampling.Date, error) {
	t := sampling.Treatment{}
	if a.treatment != nil {
		t = *a.treatment
	}
	var days []decide.TreatmentDay
	for _, s := range c.StringSlice("treated") {
		d, err := sampling.ParseDate(s)
		if err != nil {
			return 0, line.InFlag("treated", err)
		}
		days = append(days, decide.TreatmentDay{On: d, Treatment: t})
	}
	if days == nil {
		return 0, nil
	}
	courses := decide.Courses(days)
	a.course = courses[len(courses)-1]
	return a.course.SettledOn(), nil
}

// pairs reads the counts of one group of colonies.
func (a *worked) pairs(c *cli.Context, beforeFlag, afterFlag string, settled sampling.Date) ([]decide.Pair, error) {
	before, after := c.StringSlice(beforeFlag), c.StringSlice(afterFlag)
	if len(before) > 0 && len(before) != len(after) {
		return nil, &show.Problem{
			What:   fmt.Sprintf("--%s is given %s and --%s %s", beforeFlag, times(len(before)), afterFlag, times(len(after))),
			Remedy: "give both counts of every colony, in the same order",
		}
	}
	var out []decide.Pair
	for i, text := range after {
		p := decide.Pair{SettledOn: settled}
		var err error
		if p.After, err = a.countOfFlag(c, afterFlag, text); err != nil {
			return nil, err
		}
		if i < len(before) {
			if p.Before, err = a.countOfFlag(c, beforeFlag, before[i]); err != nil {
				return nil, err
			}
		}
		if p.CappedBrood, err = a.cappedOn(c, p.Before.Date); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

func times(n int) string {
	switch n {
	case 0:
		return "not at all"
	case 1:
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// countOfFlag reads a count that stands behind a flag.
func (a *worked) countOfFlag(c *cli.Context, name, text string) (sampling.Count, error) {
	count, err := sampling.ParseCount(text)
	if err != nil {
		return count, line.InFlag(name, err)
	}
	if count.Method.Kind() == sampling.BeeSample {
		if count.Amount.Unit == sampling.Grams && c.IsSet("grams-per-100") {
			count.GramsPer100, err = line.Number(c, "grams-per-100", nil)
		}
		return count, err
	}
	brood, err := a.cappedOn(c, count.Date)
	if err != nil {
		return count, err
	}
	count.Hive.Broodless = !brood
	if c.IsSet("adult-bees") {
		count.Hive.AdultBees, err = line.Number(c, "adult-bees", nil)
	}
	return count, err
}

// counted reports whether colonies were counted before.
func (f *pairsForm) counted() bool { return f.Bare != nil }

// whom is the colonies the answer is about, "" when nobody named one.
func (f *pairsForm) whom() string {
	switch n := len(f.Treated); {
	case n > 1:
		return fmt.Sprintf("%d colonies", n)
	case f.colonies != nil:
		return f.colonies[0]
	}
	return ""
}

func (f *pairsForm) verdict(a *worked) string {
	subject := a.subject(f.whom()) + ": "
	switch {
	case !f.SettledOn.IsZero():
		return subject + "too early to tell. Count on " + say.ShortDay(f.SettledOn) + "."
	case a.answer == decide.Worked:
		return subject + "it worked."
	case a.answer == decide.DidNot:
		return subject + "it did less than it should."
	}
	return subject + "cannot tell from these counts."
}

func (f *pairsForm) figures(a *worked) string {
	typical := ""
	if len(f.Treated) > 1 {
		typical = " of a typical one"
	}
	return fmt.Sprintf("It took %s of the mites%s.", limits(f.Reduction), typical)
}

func (f *pairsForm) print(w io.Writer, page show.Page, a *worked) {
	fmt.Fprintln(w)
	if len(f.Treated) > 1 {
		fmt.Fprint(w, page.Table(f.table()))
	}
	fmt.Fprint(w, page.Wrap(f.found()+f.allowing(), 0))
	if a.answer == decide.CannotTell && f.SettledOn.IsZero() && f.counted() {
		fmt.Fprint(w, page.Wrap(f.whatWouldTell(), 0))
	}
}

// found is the counts of one colony.
func (f *pairsForm) found() string {
	if len(f.Treated) > 1 || !f.counted() {
		return ""
	}
	p := f.Treated[0]
	return fmt.Sprintf("Counted: %s before, %s after. ", p.Before, p.After)
}

func (f *pairsForm) table() show.Table {
	t := show.Table{}
	if f.colonies != nil {
		t.Columns = append(t.Columns, show.Column{Name: "colony"})
	}
	if f.counted() {
		t.Columns = append(t.Columns, show.Column{Name: "before"})
	}
	t.Columns = append(t.Columns, show.Column{Name: "after"})
	if f.counted() {
		t.Columns = append(t.Columns, show.Column{Name: "as counted", Right: true})
	}
	for i, p := range f.Treated {
		var row []string
		if f.colonies != nil {
			row = append(row, f.colonies[i])
		}
		if f.counted() {
			row = append(row, p.Before.String())
		}
		row = append(row, p.After.String())
		if f.counted() {
			row = append(row, limits(f.Bare[i]))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// allowing is what the figure allows for.
func (f *pairsForm) allowing() string {
	var allowed []string
	if f.samples() {
		allowed = append(allowed, "frames that differ")
	}
	if f.methodsDiffer() {
		allowed = append(allowed, "methods that find different shares of the mites")
	}
	if !math.IsNaN(f.Growth) {
		change := fmt.Sprintf("multiplied %.1f-fold", f.Growth)
		if f.Growth < 1 {
			change = fmt.Sprintf("dwindled to %.0f in 100", 100*f.Growth)
		}
		allowed = append(allowed, "mites on bees that would have "+change+" untreated")
	}
	if n := len(f.Controls); n > 0 {
		allowed = append(allowed, show.Many(n, "untreated colony", "untreated colonies"))
	}
	return "This allows for " + show.List(allowed) + "."
}

// samples reports whether bees were taken off frames.
func (f *pairsForm) samples() bool {
	for _, p := range f.Treated {
		if p.After.Method.Kind() == sampling.BeeSample {
			return true
		}
	}
	return false
}

func (f *pairsForm) methodsDiffer() bool {
	for _, p := range f.Treated {
		if f.counted() && p.Before.Method != p.After.Method {
			return true
		}
	}
	return false
}

const withoutDates = "Without dates nobody knows what the mites would have done untreated, or whether it was too early. Write wash:3/300@2026-08-20."

func (f *pairsForm) warnings(*worked) []say.Warning {
	switch {
	case !f.SettledOn.IsZero():
		return say.Warn(say.Flattered, "Mites that sat in the brood come out for 14 days after a treatment; until then a count flatters it.")
	case f.counted() && f.Treated[0].After.Date.IsZero():
		return say.Warn(say.Assumed, withoutDates)
	case math.IsNaN(f.Growth) && len(f.Controls) == 0:
		return say.Warn(say.Assumed, "Without the dates of both counts nobody knows what the mites would have done untreated.")
	}
	return nil
}

const moreWouldTell = "With none found after, %s before in each colony would have told; what was found after leaves it open. " +
	"More colonies, or bees from more frames, narrow it."

// whatWouldTell says what counts would have led to an answer.
func (f *pairsForm) whatWouldTell() string {
	most := 0
	for _, p := range f.Treated {
		most = max(most, p.Before.Mites)
	}
	switch {
	case f.methodsDiffer() && len(f.Treated) == 1:
		return "Two methods find too different a share of the mites to tell. Use one and the same before and after."
	case f.needed == 0:
		return "No number of mites in such counts could have told. Count more colonies, or bees from more frames."
	case f.needed > most:
		return fmt.Sprintf("So few mites cannot tell: even with none found after, the count before would have had to show %s in each colony.", show.Many(f.needed, "mite", "mites"))
	}
	return fmt.Sprintf(moreWouldTell, show.Many(f.needed, "mite", "mites"))
}

const pairsWhy = "%sTwo handfuls of bees from the same hive never hold the same number of mites, so a fall from one to the other is partly luck.%s %s. " +
	"The line of %.0f is %s.%s It is wrong if bees were taken from other frames than before, or mites flew in."

func (f *pairsForm) explain(a *worked) string {
	counts := ""
	if p := f.Treated[0]; f.counted() && len(f.Treated) == 1 {
		counts = fmt.Sprintf("You found %s before and %d after. ", show.Many(p.Before.Mites, "mite", "mites"), p.After.Mites)
	}
	meanwhile := ""
	if !math.IsNaN(f.Growth) {
		meanwhile = fmt.Sprintf(" Mites breed meanwhile, so what counts is how many there would be untreated: about %.1f for each one before.", f.Growth)
	}
	asked := math.Round(100 * a.target)
	total := ""
	if !math.IsNaN(f.Totals) {
		formula := "Abbott 1925, which takes equal starts"
		if f.counted() {
			formula = "Henderson & Tilton 1955"
		}
		total = fmt.Sprintf(" With all bees of a group as one sample: %s (%s).", say.Took(f.Totals), formula)
	}
	return fmt.Sprintf(pairsWhy,
		counts, meanwhile, say.Capital(show.OfHundred(f.Reached, "treatments with such counts", fmt.Sprintf("good enough: at least %.0f of every 100 mites gone", asked))), asked, a.asked(), total)
}

func (f *pairsForm) json(a *worked, out *workedJSON) {
	for i, p := range f.Treated {
		pair := workedPairJSON{After: p.After.String(), Bare: bareJSON{show.Number(math.NaN()), show.Number(math.NaN()), show.Number(math.NaN())}}
		if f.colonies != nil {
			pair.Colony = &f.colonies[i]
		}
		if f.counted() {
			before := p.Before.String()
			pair.Before, pair.Bare = &before, bareOf(f.Bare[i])
		}
		out.Pairs = append(out.Pairs, pair)
	}
	out.ChanceReached, out.Growth, out.TotalsPercent = show.Number(f.Reached), show.Number(f.Growth), show.Number(100*f.Totals)
	out.SettledOn, out.BeforeNeeded = f.SettledOn, some(f.needed)
	var counts []sampling.Count
	for _, p := range append(append([]decide.Pair(nil), f.Treated...), f.Controls...) {
		counts = append(counts, p.After)
		if f.counted() {
			counts = append(counts, p.Before)
		}
	}
	out.Assumptions = append(a.rules.Sources(counts...), sourcesOf("left_median", "left_log_sd", "change_log_sd", "colony_spread_median", "colony_spread_log_sd", "growth_sd_lasting", "growth_sd_daily")...)
}

func (f *pairsForm) rows() [][]any {
	var out [][]any
	for i, p := range f.Treated {
		row := []any{"bare_reduction_percent", nil, nil, p.After.String(), nil, nil, nil}
		if f.colonies != nil {
			row[1] = f.colonies[i]
		}
		if f.counted() {
			b := bareOf(f.Bare[i])
			row[2], row[4], row[5], row[6] = p.Before.String(), b.ReductionPercent, b.LowPercent, b.HighPercent
		}
		out = append(out, row)
	}
	return out
}
