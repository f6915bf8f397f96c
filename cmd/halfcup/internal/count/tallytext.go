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

// mostRows is how many rows of a plan are printed; nobody carries more.
const mostRows = 20

func (t *tallied) text(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(t.what(), 0))
	if t.SoFar != nil {
		fmt.Fprint(w, "\n", p.Wrap(p.Paint(show.Strong, t.stands()), 0))
		fmt.Fprint(w, "\nThe table, for the mites of all scoops together:\n", p.Table(t.table()), t.rest(p))
		return
	}
	fmt.Fprint(w, "\n", p.Wrap(p.Paint(show.Strong, t.headline()), 0))
	fmt.Fprint(w, "\nThe table to carry, for the mites of all scoops together:\n", p.Table(t.table()), t.rest(p))
	fmt.Fprint(w, p.Wrap(t.rule(), 0))
	fmt.Fprint(w, "\nWhat it really does, worked out over this very table:\n", p.Table(t.ladderTable()))
	fmt.Fprint(w, "\n", p.PlanChart(t.chart()))
	fmt.Fprint(w, "\nThree ways to stop, with the chance of treating and the bees on average:\n", p.Table(t.comparison()), p.Wrap(t.compared(), 0), "\n")
	fmt.Fprint(w, p.Wrap(t.assumed(), 0))
}

// what says what is counted, and how the scoops are taken.
func (t *tallied) what() string {
	frames := "each off another brood frame"
	if t.OneFrame {
		frames = "all off one brood frame"
	}
	return fmt.Sprintf("%s, scoops of %d bees, %s: leave at %s per hundred, treat at %s.", say.Capital(t.Method.Title()), t.ScoopBees, frames, show.Plain(t.Low), show.Plain(t.High))
}

// headline is the bees saved.
func (t *tallied) headline() string {
	low, high := t.at(t.Low), t.at(t.High)
	does := "takes"
	if t.Method.KillsBees() {
		does = "kills"
	}
	taken := fmt.Sprintf("On average it %s %.0f bees of a colony at %s per hundred, and %.0f of one at %s.", does, low.MeanBees, show.Plain(t.Low), high.MeanBees, show.Plain(t.High))
	if t.Fixed == nil {
		return taken + " No fixed sample that was tried errs so seldom."
	}
	fixed := fmt.Sprintf(" A fixed sample that errs no more often %s %d of every colony", does, t.Fixed.Bees)
	least := math.Min(float64(low.Saved), float64(high.Saved))
	if least < 0.5 {
		return taken + fixed + ": the plan saves little here."
	}
	return taken + fixed + fmt.Sprintf(": the plan saves %.0f%% and %.0f%%.", float64(low.Saved), float64(high.Saved))
}

func (t *tallied) at(level float64) performJSON {
	for _, p := range t.Performance {
		if math.Abs(p.Level-level) < 1e-6 {
			return p
		}
	}
	return performJSON{}
}

func (t *tallied) table() show.Table {
	out := show.Table{Columns: []show.Column{{Name: "scoops", Right: true}, {Name: "bees", Right: true}, {Name: "stop, leave", Right: true}, {Name: "stop, treat", Right: true}}}
	for i, r := range t.rows {
		if i == mostRows {
			break
		}
		leave, treat := leaveCell(r), treatCell(r)
		out.Rows = append(out.Rows, []string{fmt.Sprint(r.Scoops), fmt.Sprint(r.Bees), leave, treat})
	}
	return out
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
func (t *tallied) rest(p show.Page) string {
	if len(t.rows) <= mostRows {
		return ""
	}
	return p.Wrap(fmt.Sprintf("The plan goes on to %d scoops; --format csv lists them all.", len(t.rows)), 0)
}

// rule is how to use the table, with the end.
func (t *tallied) rule() string {
	last := t.rows[len(t.rows)-1]
	return fmt.Sprintf("Add up the mites of all scoops. Where neither column fits, take one more scoop. After %d bees stop either way: leave at %d mites or fewer, treat at %d or more.", last.Bees, max(last.LeaveAtMost, 0), last.TreatAtLeast)
}

func (t *tallied) ladderTable() show.Table {
	varies := !math.IsNaN(float64(t.Performance[0].Varied))
	var out show.Table
	columns := func(names ...string) {
		for _, n := range names {
			out.Columns = append(out.Columns, show.Column{Name: n, Right: true})
		}
	}
	columns("true level", "treats", "leaves", "mean bees")
	if t.Fixed != nil {
		columns("saved")
	}
	if varies {
		columns("treats, recovery varies")
	}
	for _, p := range t.Performance {
		row := []string{show.Plain(p.Level), show.Percent(p.ChanceTreat), show.Percent(1 - p.ChanceTreat), fmt.Sprintf("%.0f", p.MeanBees)}
		if t.Fixed != nil {
			row = append(row, fmt.Sprintf("%.0f%%", math.Round(float64(p.Saved))+0))
		}
		if varies {
			row = append(row, show.Percent(float64(p.Varied)))
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// compared says what the plans are.
func (t *tallied) compared() string {
	s := fmt.Sprintf("sure stops when the mites speak clearly enough for one of the two levels; precise when the standard error is %s of the level; ", show.Percent(t.q.precision))
	if t.OneFrame {
		return s + "worth is worked out only for scoops off frames of their own."
	}
	return s + fmt.Sprintf("worth when one more scoop costs more than it is worth, where a mistake near %s matters little and one at %s in full.", show.Plain(t.High), show.Plain(2*t.High))
}

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
		row := []string{show.Plain(p.Level)}
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

// assumed is what the limits and the figures rest on.
func (t *tallied) assumed() string {
	parts := []string{fmt.Sprintf("low and high: %s", say.LineSource(t.q.line))}
	if r, ok := t.q.Basis.Recovery[t.Method]; ok {
		parts = append(parts, fmt.Sprintf("a %s finds %s of the mites; one day it may be %s and another %s, the same for all scoops of a tally, which no plan can see", t.Method.Title(), show.Percent(r.Mean()), show.Percent(r.Quantile(0.05)), show.Percent(r.Quantile(0.95))))
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

// stands is where a running tally stands.
func (t *tallied) stands() string {
	s := t.SoFar
	head := fmt.Sprintf("After %s, %d bees, %s: ", show.Many(s.Scoops, "scoop", "scoops"), s.Bees, show.Many(s.Mites, "mite", "mites"))
	switch s.Says {
	case decide.GoOn:
		next := fmt.Sprintf("treat at %d or more in it", *s.NextTreatAtLeast)
		if s.NextLeaveAtMost != nil {
			next = fmt.Sprintf("leave at %s in it, ", atMost(*s.NextLeaveAtMost)) + next
		}
		if s.standing.Last {
			return head + "one more scoop, the last. Then " + next + "."
		}
		chance := ""
		if !math.IsNaN(float64(s.ChanceNextEnds)) {
			chance = fmt.Sprintf(" The chance that it ends the tally is %s.", show.Percent(float64(s.ChanceNextEnds)))
		}
		return head + "go on. The next scoop ends it: " + next + "; anything else goes on." + chance
	}
	more := ""
	if s.given > s.Scoops {
		more = fmt.Sprintf(" It ended there, without the %s after it.", show.Many(s.given-s.Scoops, "scoop", "scoops"))
	}
	return head + string(s.Says) + "." + more
}

func atMost(mites int) string {
	if mites == 0 {
		return "0"
	}
	return fmt.Sprintf("%d or fewer", mites)
}

func (t *tallied) warnings() []string {
	out := slices.Clone(t.q.Unread)
	if low, high := t.at(t.Low), t.at(t.High); t.PlanName == planSure && (low.ChanceTreat > t.Alpha || 1-high.ChanceTreat > t.Beta) {
		s := fmt.Sprintf("%d bees at most are too few to keep the errors asked for: a colony at %s per hundred is treated with a chance of %s (asked: %s), one at %s left with %s (asked: %s).",
			t.MaxBees, show.Plain(t.Low), show.Percent(low.ChanceTreat), say.Percent(t.Alpha), show.Plain(t.High), show.Percent(1-high.ChanceTreat), say.Percent(t.Beta))
		if t.reaching > 0 {
			s += fmt.Sprintf(" --max %d would; so would two levels further apart.", t.reaching)
		} else {
			s += fmt.Sprintf(" No number of bees up to %d would; take two levels further apart.", mostReachBees)
		}
		out = append(out, s)
	}
	if t.OneFrame {
		out = append(out, "Off one frame more scoops soon stop helping: all share what that frame differs by. Take each scoop off another brood frame if you can.")
	}
	return out
}

func (t *tallied) explain() string {
	low, high := t.at(t.Low), t.at(t.High)
	s := "Most colonies are far from the line, and a few bees show it. Take one scoop, count, and look at the table: few mites, stop and leave; many, stop and treat; between, take one more. " +
		fmt.Sprintf("%s, and %s. ", say.Capital(show.OfHundred(low.ChanceTreat, "colonies at "+show.Plain(t.Low)+" per hundred", "treated needlessly")),
			show.OfHundred(1-high.ChanceTreat, "at "+show.Plain(t.High), "left though they should be treated"))
	if t.Fixed != nil {
		s += fmt.Sprintf("One big sample as good takes %d bees from every colony. ", t.Fixed.Bees)
	}
	wrong := "mites stay on the bees"
	if t.Method == sampling.Roll {
		wrong = "the bees are damp, so that mites stay on them"
	}
	if !t.OneFrame {
		wrong += ", or if all scoops come off one frame"
	}
	return s + "The two levels are " + say.LineSource(t.q.line) + ". It goes wrong if " + wrong + "."
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
	fmt.Fprint(w, p.Table(table), t.rest(p), "\n", p.Wrap(t.rule(), 0), "\n", rule, "\n")
	notes := []string{
		"Find the queen first and put her frame aside.",
		fmt.Sprintf("%d bees fill about %.0f mL, level, each scoop off another brood frame.", t.ScoopBees, decide.ScoopMillilitres*float64(t.ScoopBees)/100),
	}
	if t.OneFrame {
		notes[1] = fmt.Sprintf("%d bees fill about %.0f mL, level, all off one brood frame.", t.ScoopBees, decide.ScoopMillilitres*float64(t.ScoopBees)/100)
	}
	switch t.Method {
	case sampling.Roll:
		notes = append(notes, "Choose a dry hour: damp bees hold on to their mites. Give every scoop the same time, and tip the bees back.")
	case sampling.Wash:
		notes = append(notes, "Alcohol burns: no smoker, flame or hot engine near it.")
	case sampling.CO2:
		notes = append(notes, "Use the gas only in the open, give the bees air at once and tip them back.")
	}
	notes = append(notes, fmt.Sprintf("Leave at %s per hundred, treat at %s (%s).", show.Plain(t.Low), show.Plain(t.High), say.LineSource(t.q.line)), "Treat only by the label and the local law.")
	for _, n := range notes {
		fmt.Fprint(w, p.Hang("- "+n, 0, 2))
	}
	fmt.Fprintln(w, rule)
}
