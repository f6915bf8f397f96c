package count

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// mostRows is how many rows of a plan are printed, and mostCarried how many of
// them on the page that says what to do.
const (
	mostRows    = 20
	mostCarried = 7
)

// print says what to do first: how to begin, or where the tally stands.
func (t *tallied) print(w io.Writer, p show.Page, limits float64) {
	if t.SoFar != nil {
		fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, t.stands()), 0))
		if t.said.HasLevel() {
			fmt.Fprint(w, "\n", t.said.Level(p, t.said.Known.Summary(limits)))
		}
		return
	}
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, t.said.First()), 0))
	fmt.Fprint(w, p.Wrap(t.how(), 0))
	fmt.Fprint(w, "\n", p.Table(t.table(mostCarried)), t.end(p))
	for _, level := range []float64{t.Low, t.High, 2 * t.High} {
		x := t.at(level)
		fmt.Fprint(w, p.Wrap(fmt.Sprintf("At %s per hundred: treats %s, takes %s on average.", say.Line(level), show.Percent(x.ChanceTreat), taking(x.takesJSON)), 0))
	}
	fmt.Fprint(w, p.Wrap(t.spares(), 0))
}

// how tells how to begin.
func (t *tallied) how() string {
	from := "from one brood frame"
	if !t.OneFrame {
		from = "each from another brood frame"
	}
	begin := "Scoop by scoop: "
	if t.said.Call != decide.CountAgain {
		begin = "If you count all the same: "
	}
	return begin + fmt.Sprintf("%s, scoops of %d bees %s. Keep counted bees apart; add up all mites.", t.Method.Title(), t.ScoopBees, from)
}

// taking is what a plan takes on average.
func taking(x takesJSON) string {
	return fmt.Sprintf("%.0f bees, %.0f minutes", x.MeanBees, x.MeanMinutes)
}

// spares sets the plan beside the count that choose advises, for a colony of
// which this much is known.
func (t *tallied) spares() string {
	out := "This colony: " + taking(t.Expected)
	a := t.q.start.Advised
	switch {
	case a.Plan != decide.LookNow:
		return out + "."
	case a.Count.Method.Kind() == sampling.Fall:
		return out + fmt.Sprintf("; %s, %.0f.", say.LookWords(a.Count), a.Minutes)
	}
	return out + fmt.Sprintf("; %s at once, %.0f.", say.Cups(decide.ScoopedBees(a.Count)), a.Minutes)
}

// end is what to do at the last row.
func (t *tallied) end(p show.Page) string {
	last := t.rows[len(t.rows)-1]
	if !last.Last || last.TreatAtLeast <= last.LeaveAtMost+1 {
		return t.rest(p, mostCarried)
	}
	return t.rest(p, mostCarried) + p.Wrap(fmt.Sprintf("Still between after %d bees: count again in a week.", last.Bees), 0)
}

// compare is what the plan and two others do.
func (t *tallied) compare(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, t.headline()), 0))
	fmt.Fprint(w, "\nThe table, for the mites of all scoops together:\n", p.Table(t.table(mostRows)), t.rest(p, mostRows))
	fmt.Fprint(w, "\nWhat it really does, worked out over this very table:\n", p.Table(t.ladderTable()))
	fmt.Fprint(w, "\n", p.PlanChart(t.chart()))
	fmt.Fprint(w, "\nThree ways to stop, with the chance of treating and the bees on average:\n", p.Table(t.comparison()), p.Wrap(t.compared(), 0), "\n")
	fmt.Fprint(w, p.Wrap(t.assumed(), 0))
}

// headline is the bees saved.
func (t *tallied) headline() string {
	low, high := t.at(t.Low), t.at(t.High)
	does := "takes"
	if t.Method.KillsBees() {
		does = "kills"
	}
	taken := fmt.Sprintf("On average it %s %.0f bees of a colony at %s per hundred, and %.0f of one at %s.", does, low.MeanBees, say.Line(t.Low), high.MeanBees, say.Line(t.High))
	if t.Fixed == nil {
		return taken + " No fixed sample that was tried errs so seldom."
	}
	fixed := fmt.Sprintf(" A fixed sample that errs no more often %s %d of every colony", does, t.Fixed.Bees)
	least := math.Min(float64(low.Saved), float64(high.Saved))
	if least < 0.5 {
		return taken + fixed + ": the plan saves little here."
	}
	return taken + fixed + fmt.Sprintf(": the plan saves %s%% and %s%%.", show.Fixed(float64(low.Saved), 0), show.Fixed(float64(high.Saved), 0))
}

func (t *tallied) at(level float64) performJSON {
	for _, p := range t.Performance {
		if math.Abs(p.Level-level) < 1e-6 {
			return p
		}
	}
	return performJSON{}
}

// table is the plan to carry, up to so many rows.
func (t *tallied) table(most int) show.Table {
	out := show.Table{Columns: []show.Column{{Name: "bees so far", Right: true}, {Name: "stop, leave", Right: true}, {Name: "go on", Right: true}, {Name: "stop, treat", Right: true}}}
	for _, r := range t.rows[:min(most, len(t.rows))] {
		out.Rows = append(out.Rows, []string{fmt.Sprint(r.Bees), leaveCell(r), goOnCell(r), treatCell(r)})
	}
	return out
}

// goOnCell is the mites between the two stops.
func goOnCell(r decide.StopRow) string {
	from, to := r.LeaveAtMost+1, r.TreatAtLeast-1
	switch {
	case r.Last && from <= to:
		return "–"
	case r.LeaveFrom > 0 || r.TreatAtLeast == decide.NoStop:
		return "else"
	case from > to:
		return "–"
	case from == to:
		return fmt.Sprint(from)
	}
	return fmt.Sprintf("%d to %d", from, to)
}

func leaveCell(r decide.StopRow) string {
	switch {
	case r.LeaveAtMost == decide.NoStop:
		return "–"
	case r.LeaveFrom > 0:
		return fmt.Sprintf("%d to %d", r.LeaveFrom, r.LeaveAtMost)
	case r.LeaveAtMost == 0:
		return "0"
	}
	return fmt.Sprintf("%d or fewer", r.LeaveAtMost)
}

func treatCell(r decide.StopRow) string {
	if r.TreatAtLeast == decide.NoStop {
		return "–"
	}
	return fmt.Sprintf("%d or more", r.TreatAtLeast)
}

// rest says what of the plan is not printed.
func (t *tallied) rest(p show.Page, most int) string {
	if len(t.rows) <= most {
		return ""
	}
	return p.Wrap(fmt.Sprintf("The plan goes on to %d scoops; --format csv lists them all.", len(t.rows)), 0)
}

const tallyRule = "Add up the mites of all scoops. Between the columns take one more scoop. " +
	"After %d bees stop either way: leave at %d mites or fewer, treat at %d or more"

// rule tells how to use the table, and what to do at its end.
func (t *tallied) rule() string {
	last := t.rows[len(t.rows)-1]
	out := fmt.Sprintf(tallyRule, last.Bees, max(last.LeaveAtMost, 0), last.TreatAtLeast)
	if last.TreatAtLeast > last.LeaveAtMost+1 {
		return out + "; between them count again in a week."
	}
	return out + "."
}

func (t *tallied) ladderTable() show.Table {
	varies := !math.IsNaN(float64(t.Performance[0].Varied))
	var out show.Table
	columns := func(names ...string) {
		for _, n := range names {
			out.Columns = append(out.Columns, show.Column{Name: n, Right: true})
		}
	}
	open := slices.ContainsFunc(t.Performance, func(p performJSON) bool { return p.ChanceOpen > 0.005 })
	columns("true level", "treats", "leaves")
	if open {
		columns("open")
	}
	columns("mean bees")
	if t.Fixed != nil {
		columns("saved")
	}
	if varies {
		columns("treats, recovery varies")
	}
	for _, p := range t.Performance {
		leave := math.Max(0, 1-p.ChanceTreat-p.ChanceOpen)
		row := []string{show.Plain(round3(p.Level)), show.Percent(p.ChanceTreat), show.Percent(leave)}
		if open {
			row = append(row, show.Percent(p.ChanceOpen))
		}
		row = append(row, show.Fixed(p.MeanBees, 0))
		if t.Fixed != nil {
			row = append(row, show.Fixed(float64(p.Saved), 0)+"%")
		}
		if varies {
			row = append(row, show.Percent(float64(p.Varied)))
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

const comparedPlans = "sure stops when the mites speak clearly enough for one of the two levels; precise when the standard error is %s of the level; " +
	"worth when no further count is worth what it takes, so that it never says another thing than choose."

// compared says what the plans are.
func (t *tallied) compared() string { return fmt.Sprintf(comparedPlans, show.Percent(t.q.precision)) }

// comparison has a row a level and a column a plan, each with the chance of
// treating and the bees.
func (t *tallied) comparison() show.Table {
	out := show.Table{Columns: []show.Column{{Name: "true level", Right: true}}}
	for _, c := range t.Compared {
		out.Columns = append(out.Columns, show.Column{Name: c.Plan, Right: true})
	}
	if t.Fixed != nil {
		out.Columns = append(out.Columns, show.Column{Name: "fixed sample", Right: true})
	}
	cell := func(treats, bees float64) string { return fmt.Sprintf("%s, %3.0f", show.Percent(treats), bees) }
	for i, p := range t.Performance {
		row := []string{show.Plain(round3(p.Level))}
		for _, c := range t.Compared {
			row = append(row, cell(c.Performance[i].ChanceTreat, c.Performance[i].MeanBees))
		}
		if t.Fixed != nil {
			f := t.q.PerformFixed(decide.FixedSample(*t.Fixed), p.Level)
			row = append(row, cell(f.ChanceTreat, f.MeanBees))
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

const tallyFinds = "a %s finds %s of the mites; one day it may be %s and another %s, the same for all scoops of a tally, which no plan can see"

// assumed is what the limits and the figures rest on.
func (t *tallied) assumed() string {
	parts := []string{fmt.Sprintf("low and high: %s", say.LineSource(t.q.start.Line))}
	if r, ok := t.q.Basis.Recovery[t.Method]; ok {
		parts = append(parts, fmt.Sprintf(tallyFinds, t.Method.Title(), show.Percent(r.Mean()), show.Percent(r.Quantile(0.05)), show.Percent(r.Quantile(0.95))))
	}
	switch {
	case math.IsInf(t.q.K, 1):
		parts = append(parts, "mites spread evenly over the bees (Poisson)")
	case t.OneFrame:
		parts = append(parts, "the frame differs from the hive with k "+show.Plain(round3(t.q.K))+", the same for all scoops (negative binomial)")
	default:
		parts = append(parts, "scoops differ with k "+show.Plain(round3(t.q.K))+" (negative binomial)")
	}
	if cv := t.q.ScoopCV; !t.OneFrame && cv > 0 {
		measured := 1 / ((1+1/t.q.K)*(1+cv*cv) - 1)
		parts = append(parts, fmt.Sprintf("every scoop holds %d bees (--k %.0f allows for scoops measured by volume)", t.ScoopBees, measured))
	}
	return "Read with: " + strings.Join(parts, "; ") + "."
}

func round3(x float64) float64 { return math.Round(x*1000) / 1000 }

// stands is where a running tally stands, the verdict first.
func (t *tallied) stands() string {
	s := t.SoFar
	so := soFarWords(s.standing)
	if s.given > s.Scoops {
		so += fmt.Sprintf(" It ended there, without the %s after it.", show.Many(s.given-s.Scoops, "scoop", "scoops"))
	}
	switch {
	case s.Says == decide.GoOn && math.IsNaN(float64(s.ChanceNextEnds)):
		return next(s.standing) + " " + so
	case s.Says == decide.GoOn:
		return next(s.standing) + fmt.Sprintf(" %s The chance that the next ends it is %s.", so, show.Percent(float64(s.ChanceNextEnds)))
	case t.PlanName == planSure:
		return say.Capital(string(s.Says)) + ". " + so
	}
	return t.said.First() + " " + so
}

// soFarWords is what was counted.
func soFarWords(s decide.SoFar) string {
	return fmt.Sprintf("%s, %s, %s.", show.Many(s.After, "scoop", "scoops"), show.Many(s.Bees, "bee", "bees"), show.Many(s.Mites, "mite", "mites"))
}

// next is what the next scoop would have to show.
func next(s decide.SoFar) string {
	var parts []string
	switch {
	case s.NextLeaveAtMost == decide.NoStop:
	case s.NextLeaveFrom > 0:
		parts = append(parts, fmt.Sprintf("%d to %d in it, leave", s.NextLeaveFrom, s.NextLeaveAtMost))
	case s.NextLeaveAtMost == 0:
		parts = append(parts, "none in it, leave")
	default:
		parts = append(parts, fmt.Sprintf("%d or fewer in it, leave", s.NextLeaveAtMost))
	}
	parts = append(parts, fmt.Sprintf("%d or more, treat", s.NextTreatAtLeast))
	out := "One more scoop: "
	if s.Last {
		out = "One more scoop, the last: "
	}
	return out + strings.Join(parts, "; ") + "."
}

const tooFewBees = "%d bees at most are too few to keep the errors asked for: a colony at %s per hundred is treated with a chance of %s (asked: %s), one at %s left with %s (asked: %s)."

func (t *tallied) warnings() []say.Warning {
	out := say.Warn(say.LeftOut, t.q.Unread...)
	if low, high := t.at(t.Low), t.at(t.High); t.PlanName == planSure && (low.ChanceTreat > t.Alpha || 1-high.ChanceTreat > t.Beta) {
		s := fmt.Sprintf(tooFewBees,
			t.MaxBees, say.Line(t.Low), show.Percent(low.ChanceTreat), say.Percent(t.Alpha), say.Line(t.High), show.Percent(1-high.ChanceTreat), say.Percent(t.Beta))
		if t.reaching > 0 {
			s += fmt.Sprintf(" --max %d would; so would two levels further apart.", t.reaching)
		} else {
			s += fmt.Sprintf(" No number of bees up to %d would; take two levels further apart.", mostReachBees)
		}
		out = append(out, say.Warning{Kind: say.TooLittle, Text: s})
	}
	return out
}

func (t *tallied) explain() string {
	low, high := t.at(t.Low), t.at(t.High)
	s := "Most colonies are far from the line, and a few bees show it. Few mites, stop and leave; many, stop and treat; between, take one more scoop. "
	if t.PlanName == planWorth {
		s += "It stops when no further count is worth the bees and minutes it takes, as choose does. "
	}
	s += fmt.Sprintf("%s, and %s. ", say.Capital(show.OfHundred(low.ChanceTreat, "colonies at "+say.Line(t.Low)+" per hundred", "treated needlessly")),
		show.OfHundred(math.Max(0, 1-high.ChanceTreat-high.ChanceOpen), "at "+say.Line(t.High), "left though they are at the line"))
	wrong := "mites stay on the bees"
	if t.Method == sampling.Roll {
		wrong = "the bees are damp, so that mites stay on them"
	}
	if !t.OneFrame {
		wrong += ", or if all scoops come from one frame"
	}
	return s + "The two levels are " + say.LineSource(t.q.start.Line) + ". It goes wrong if " + wrong + "."
}

// card is a sheet to print: the table with room to write.
func (t *tallied) card(w io.Writer, p show.Page) {
	rule := strings.Repeat("=", min(p.Width, 64))
	fmt.Fprintf(w, "%s\n\n  %s\n\n  Colony ________________  Date ________________\n\n%s\n", rule, strings.ToUpper(fmt.Sprintf("%s, %d bees a scoop", t.Method.Title(), t.ScoopBees)), rule)
	table := show.Table{Columns: []show.Column{{Name: "scoop", Right: true}, {Name: "bees", Right: true}, {Name: "mites in it", Right: true}, {Name: "mites so far", Right: true}, {Name: "stop, leave", Right: true}, {Name: "stop, treat", Right: true}}}
	for i, r := range t.rows {
		if i == mostRows {
			break
		}
		table.Rows = append(table.Rows, []string{fmt.Sprint(r.Scoops), fmt.Sprint(r.Bees), "______", "______", leaveCell(r), treatCell(r)})
	}
	fmt.Fprint(w, p.Table(table), t.rest(p, mostRows), "\n", p.Wrap(t.rule(), 0), "\n", rule, "\n")
	notes := []string{
		"Find the queen first and put her frame aside.",
		fmt.Sprintf("%d bees fill about %.0f mL, level, each scoop from another brood frame.", t.ScoopBees, decide.ScoopMillilitres*float64(t.ScoopBees)/100),
	}
	if t.OneFrame {
		notes[1] = fmt.Sprintf("%d bees fill about %.0f mL, level, all from one brood frame; keep counted bees apart.", t.ScoopBees, decide.ScoopMillilitres*float64(t.ScoopBees)/100)
	}
	switch t.Method {
	case sampling.Roll:
		notes = append(notes, "Choose a dry hour: damp bees hold on to their mites. Give every scoop the same time, and tip the bees back.")
	case sampling.Wash:
		notes = append(notes, "Alcohol burns: no smoker, flame or hot engine near it.")
	case sampling.CO2:
		notes = append(notes, "Use the gas only in the open, give the bees air at once and tip them back.")
	}
	notes = append(notes, fmt.Sprintf("Leave at %s per hundred, treat at %s (%s).", say.Line(t.Low), say.Line(t.High), say.LineSource(t.q.start.Line)), "Treat only by the label and the local law.")
	for _, n := range notes {
		fmt.Fprint(w, p.Hang("- "+n, 0, 2))
	}
	fmt.Fprintln(w, rule)
}
