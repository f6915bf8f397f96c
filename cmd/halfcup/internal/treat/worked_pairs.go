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
	a.setTarget()
	settled, err := settledOn(c, a.treatment)
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
	return f, a.compare(f)
}

// compare lets the pairs be judged.
func (a *worked) compare(f *pairsForm) error {
	f.Assumptions, f.Year, f.Rates = a.basis.Assumptions, a.season, decide.DefaultRates()
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

// settledOn is the first day on which a count can tell, by --treated.
func settledOn(c *cli.Context, t *sampling.Treatment) (sampling.Date, error) {
	var course decide.Course
	for _, s := range c.StringSlice("treated") {
		d, err := sampling.ParseDate(s)
		if err != nil {
			return 0, line.InFlag("treated", err)
		}
		course.Last = max(course.Last, d)
	}
	if course.Last.IsZero() {
		return 0, nil
	}
	if t != nil {
		course.Treatment = *t
	}
	return course.SettledOn(), nil
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
		if p.CappedBrood, err = a.capped(c, p.Before.Date); err != nil {
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
			count.GramsPer100, err = line.Number(c, "grams-per-100", nil, 5, 40)
		}
		return count, err
	}
	brood, err := a.capped(c, count.Date)
	if err != nil {
		return count, err
	}
	count.Hive.Broodless = !brood
	if c.IsSet("adult-bees") {
		count.Hive.AdultBees, err = line.Number(c, "adult-bees", nil, 100, 200_000)
	}
	return count, err
}

// counted reports whether colonies were counted before.
func (f *pairsForm) counted() bool { return f.Bare != nil }

// whom is the colonies the answer is about.
func (f *pairsForm) whom() string {
	if len(f.Treated) == 1 {
		return "this colony"
	}
	return fmt.Sprintf("a typical colony of these %d", len(f.Treated))
}

func (f *pairsForm) text(w io.Writer, page show.Page, a *worked) {
	t := show.Table{}
	if f.colonies != nil {
		t.Columns = append(t.Columns, show.Column{Name: "colony"})
	}
	if f.counted() {
		t.Columns = append(t.Columns, show.Column{Name: "before"}, show.Column{Name: "after"}, show.Column{Name: "bare reduction", Right: true})
	} else {
		t.Columns = append(t.Columns, show.Column{Name: "after"})
	}
	for i, p := range f.Treated {
		var row []string
		if f.colonies != nil {
			row = append(row, f.colonies[i])
		}
		if f.counted() {
			row = append(row, p.Before.String(), p.After.String(), limits(f.Bare[i]))
		} else {
			row = append(row, p.After.String())
		}
		t.Rows = append(t.Rows, row)
	}
	fmt.Fprint(w, page.Table(t))
	if f.counted() {
		fmt.Fprint(w, page.Wrap("Bare: as if mites fell into the samples one by one and nothing else differed.", 0))
	}
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
	fmt.Fprint(w, "\n"+page.Wrap(fmt.Sprintf("Allowing for %s, the treatment took %s of the mites of %s.", show.List(allowed), page.Paint(show.Known, limits(f.Reduction)), f.whom()), 0))
	if !math.IsNaN(f.Totals) {
		formula := "Abbott 1925, which takes equal starts"
		if f.counted() {
			formula = "Henderson & Tilton 1955"
		}
		fmt.Fprint(w, page.Wrap(fmt.Sprintf("With all bees of a group as one sample: %s (%s).", reducedBy(f.Totals), formula), 0))
	}
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

func (f *pairsForm) warnings(a *worked) []string {
	var out []string
	if !f.SettledOn.IsZero() {
		out = append(out, fmt.Sprintf("Too early: mites that sat in the brood during the treatment come out for 14 days after it, and until then a count flatters it. Count again from %s on (Dietemann et al. 2013, J Apic Res 52(1)).", show.Day(f.SettledOn)))
	}
	switch {
	case f.counted() && f.Treated[0].After.Date.IsZero():
		out = append(out, "Without dates nothing is known of what the mites would have done untreated, or whether the count after came too early. Write them like wash:3/300@2026-08-20.")
	case math.IsNaN(f.Growth) && len(f.Controls) == 0:
		out = append(out, "Without the dates of both counts nothing is known of what the mites would have done untreated.")
	}
	if f.counted() && len(f.Treated) == 1 {
		out = append(out, "One colony says little of the next. Give more of them with more pairs of --before and --after.")
	}
	if a.answer == decide.CannotTell && f.SettledOn.IsZero() && f.counted() {
		out = append(out, f.whatWouldTell())
	}
	return out
}

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
		return "No number of mites in such counts could have told. Count more colonies, or bees off more frames."
	case f.needed > most:
		return fmt.Sprintf("So few mites cannot tell: even with none found after, the count before would have had to show %s in each colony.", show.Many(f.needed, "mite", "mites"))
	}
	return fmt.Sprintf("With none found after, %s before in each colony would have told; what was found after leaves it open. More colonies, or bees off more frames, narrow it.", show.Many(f.needed, "mite", "mites"))
}

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
	return fmt.Sprintf("%sTwo handfuls of bees from the same hive never hold the same number of mites, so a fall from one to the other is partly luck.%s %s. The line of %.0f is what European regulators ask of such a treatment. It is wrong if bees were taken from other frames than before, or mites flew in.",
		counts, meanwhile, say.Capital(show.OfHundred(f.Reached, "treatments with such counts", fmt.Sprintf("good enough: at least %.0f of every 100 mites gone", asked))), asked)
}

func (f *pairsForm) closing(a *worked) string {
	switch {
	case !f.SettledOn.IsZero():
		return fmt.Sprintf("Count again on %s or soon after; nothing can be told before.", show.Day(f.SettledOn))
	case a.answer == decide.Worked:
		return "It worked. Count again in a month, because mites also come from outside."
	case a.answer == decide.DidNot:
		return "It did not do what it should. Count again now, look for the cause, and do not give the same again."
	}
	return "Nobody can tell from these counts. Judge the colony by its count now; next time count more colonies before and after."
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
	out.Assumptions = append(a.basis.Sources(counts...), efficacySources("left_median", "left_log_sd", "change_log_sd", "colony_spread_median", "colony_spread_log_sd", "growth_sd_lasting", "growth_sd_daily")...)
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
			row[2], row[4], row[5], row[6] = p.Before.String(), b.ReductionPercent, b.Low, b.High
		}
		out = append(out, row)
	}
	return out
}
