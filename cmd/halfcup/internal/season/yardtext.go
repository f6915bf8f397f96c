package season

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// yardView is a yard with how it was asked to be shown.
type yardView struct {
	*yard
	curves      bool
	boards      []*colony // that get a board
	boardsAsked bool
}

func (v *yardView) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Split(p.Paint(show.Strong, v.title()+": "+v.tally().words()+"."), v.supers()))
	if s := v.alarm(); s != "" {
		fmt.Fprint(w, p.Wrap(s, 0))
	}
	v.printDuties(w, p)
	fmt.Fprintln(w)
	if p.Width < narrow {
		v.printBlocks(w, p)
	} else {
		v.printRows(w, p)
	}
	fmt.Fprint(w, "\n", p.Wrap(v.together(), 0))
	if s := v.boardWords(); s != "" {
		fmt.Fprint(w, p.Wrap(s, 0))
	}
	if s := v.pairWords(); s != "" {
		fmt.Fprint(w, p.Wrap(s, 0))
	}
}

const makeAPair = "These calls hang on how much today's rolls found. " +
	"Before you leave, make one pair: roll %s once more and wash the very same bees, about %d of which die (halfcup calibrate). " +
	"Were the bees damp? Say so: roll:7/300/damp."

// pairWords asks for a pair where one is worth it: all hives of a yard are as
// damp as each other.
func (y *yard) pairWords() string {
	if y.Pair == nil {
		return ""
	}
	return fmt.Sprintf(makeAPair, show.Printable(y.Pair.Colony), y.Pair.Killed)
}

const (
	mitesJumped = "Mites jumped in %d of the %d colonies counted in three weeks, faster than they breed: look for eggs, then for a robbed hive; small entrances, no open feed, and count the others this week."
	mitesFell   = "Mites fell in %d of the %d colonies counted in three weeks, and nothing written down explains it: was a treatment given, or were the rolls damp?"
)

// alarm says that more colonies than chance brings rose, or fell, in a way that
// nothing in the record explains.
func (y *yard) alarm() string {
	switch {
	case y.JumpAlarm:
		return fmt.Sprintf(mitesJumped, y.Jumps, y.Counted)
	case y.DropAlarm:
		return fmt.Sprintf(mitesFell, y.Drops, y.Counted)
	}
	return ""
}

// soonDays is how far ahead the list above the table reaches.
const soonDays = 7

// printDuties lists what is late, and what is due within a week.
func (y *yard) printDuties(w io.Writer, p show.Page) {
	var late, soon []decide.Duty
	for _, k := range y.colonies {
		for _, d := range k.duties {
			switch {
			case d.Late(y.day) > 0:
				late = append(late, d)
			case d.Day < y.day:
			case d.Day <= y.day+soonDays && d.Kind != decide.DutyTreat && !(d.Day == y.day && d.Kind == decide.DutyCount):
				soon = append(soon, d) // what is to be done today stands in the table
			}
		}
	}
	for _, part := range []struct {
		head   string
		duties []decide.Duty
	}{{"Late:", late}, {fmt.Sprintf("Due by %s:", say.ShortDay(y.day+soonDays)), soon}} {
		if len(part.duties) > 0 {
			fmt.Fprintln(w, part.head)
		}
		for _, g := range grouped(part.duties) {
			fmt.Fprintln(w, dutyLine(p, g, y.day, len(y.colonies)))
		}
	}
}

// grouped brings together the duties of one kind and what it is about, the
// order being that of their kinds.
func grouped(duties []decide.Duty) [][]decide.Duty {
	var out [][]decide.Duty
	for _, d := range duties {
		i := slices.IndexFunc(out, func(g []decide.Duty) bool {
			return g[0].Kind == d.Kind && say.DutyWords(g[0]) == say.DutyWords(d)
		})
		if i < 0 {
			i = len(out)
			out = append(out, nil)
		}
		out[i] = append(out[i], d)
	}
	for _, g := range out {
		slices.SortStableFunc(g, func(a, b decide.Duty) int { return cmp.Compare(a.Day, b.Day) })
	}
	slices.SortStableFunc(out, func(a, b []decide.Duty) int {
		return cmp.Or(cmp.Compare(a[0].Kind.Rank(), b[0].Kind.Rank()), cmp.Compare(a[0].Day, b[0].Day))
	})
	return out
}

// Columns of a line of duties and of the calendar.
const (
	kindWide  = 13
	whoWide   = 22
	aboutWide = 26
)

// dutyLine is one line of duties: what, at whom, about what, and how late.
func dutyLine(p show.Page, g []decide.Duty, today sampling.Date, all int) string {
	when := "by " + shortDay(g[len(g)-1].Day)
	if n := g[0].Late(today); n > 0 {
		when = show.Many(n, "day late", "days late")
	}
	if p.Width < narrow {
		words := say.DutyName(g[0].Kind) + " " + namesOf(g, all, p.Width) + ": "
		if about := say.DutyWords(g[0]); about != "" {
			words += about + ", "
		}
		return strings.TrimRight(p.Hang(words+when, 2, 4), "\n")
	}
	about := max(min(aboutWide, p.Width-2-kindWide-whoWide-3-len(when)), 0)
	return strings.TrimRight("  "+show.Cell(say.DutyName(g[0].Kind), kindWide, false)+" "+show.Cell(namesOf(g, all, whoWide), whoWide, false)+" "+
		show.Cell(say.DutyWords(g[0]), about, false)+" "+when, " ")
}

// namesOf are the colonies of some duties, in at most so many columns.
func namesOf(g []decide.Duty, all, width int) string {
	var names []string
	for _, d := range g {
		names = append(names, show.Printable(d.Colony))
	}
	return say.Some(names, all, width)
}

func shortDay(d sampling.Date) string { return d.Time().Format("2 Jan") }

// narrow is the width below which a colony has more than one line.
const narrow = 72

// Columns of a line of the table, at most, and what its name is not to be cut
// below.
const (
	lastWide  = 15
	levelWide = 18
	doWide    = 26
	nameWide  = 6
)

func (v *yardView) printRows(w io.Writer, p show.Page) {
	number := 2
	for _, k := range v.colonies {
		number = max(number, show.Wide(k.stand))
	}
	number = min(number, 5)
	last := 10 // of "last count"
	for _, k := range v.colonies {
		last = max(last, show.Wide(k.lastWords()))
	}
	last = min(last, lastWide)
	if v.curves {
		last = 13
	}
	name, do, levelled, chance := len("hive"), len("do"), len("per hundred"), len("over")
	for _, k := range v.colonies {
		level, over := k.levelWords(v.level)
		name, do = max(name, show.Wide(k.name)), max(do, show.Wide(k.Row()))
		levelled, chance = max(levelled, show.Wide(level)), max(chance, show.Wide(over))
	}
	do, levelled = min(do, doWide), min(levelled, levelWide)
	room := p.Width - number - last - levelled - chance - do - 8
	if room < min(name, nameWide) {
		v.printBlocks(w, p)
		return
	}
	name = min(name, room)
	middle := "last count"
	if v.curves {
		middle = "the curve"
	}
	head := show.Cell("", number, true) + " " + show.Cell("hive", name, false) + "  " + show.Cell(middle, last, false) + "  " + show.Cell("per hundred", levelled, false) + " " + show.Cell("over", chance, true) + "  do"
	fmt.Fprintln(w, strings.TrimRight(head, " "))
	for _, k := range v.colonies {
		level, over := k.levelWords(v.level)
		middle := show.Cell(k.lastWords(), last, false)
		if v.curves {
			middle = v.curve(p, k) + strings.Repeat(" ", last-11)
		}
		do := show.Cell(k.Row(), do, false)
		if urgency(k.Standing.Standing) >= 3 {
			do = p.Paint(show.Strong, strings.TrimRight(do, " "))
		}
		row := show.Cell(k.stand, number, true) + " " + show.Cell(k.name, name, false) + "  " + middle + "  " + show.Cell(level, levelled, false) + " " + show.Cell(over, chance, true) + "  " + do
		fmt.Fprintln(w, strings.TrimRight(row, " "))
	}
}

// printBlocks gives a colony two lines, for a narrow page.
func (v *yardView) printBlocks(w io.Writer, p show.Page) {
	for _, k := range v.colonies {
		level, over := k.levelWords(v.level)
		fmt.Fprint(w, p.Hang(k.stand+" "+k.name+": "+p.Paint(show.Strong, k.Row()), 0, 4))
		words := k.lastWords() + "; " + level
		if over != "–" {
			words += fmt.Sprintf(" per hundred, over %s: %s", say.Line(k.Line.Act), over)
		}
		fmt.Fprint(w, p.Hang(words, 4, 4))
	}
}

// curve is what is known of a colony in one row, its line in the middle.
func (v *yardView) curve(p show.Page, k *colony) string {
	if !k.HasLevel() || k.Because == decide.Stale {
		return strings.Repeat(" ", 11)
	}
	levels, heights := k.Known.Curve()
	return p.Sliver(show.Density{Levels: levels, Heights: heights}, k.Line.Act, 5)
}

// lastWords is the last count with its age.
func (k *colony) lastWords() string {
	if k.last == nil {
		return "never"
	}
	method := string(k.last.Method)
	if k.last.Method == sampling.Knockdown {
		method = "fall"
	}
	if k.last.Date == k.Day {
		return fmt.Sprintf("%s %d today", method, k.last.Mites)
	}
	return fmt.Sprintf("%s %d, %d d", method, k.last.Mites, k.Day-k.last.Date)
}

// levelWords are the level with its limits and the chance of being over the
// line, or why there are none.
func (k *colony) levelWords(level float64) (string, string) {
	switch {
	case k.Call == decide.UnderTreatment || k.Call == decide.TakeOut:
		return "being treated", "–"
	case k.Counted.IsZero():
		return "not counted", "–"
	case k.Because == decide.Stale || k.Because == decide.WinterPlan:
		return "too old", "–"
	}
	f := say.LevelsOf(k.Known.Summary(level))
	return fmt.Sprintf("%s (%s–%s)", f[1], f[0], f[2]), show.Percent(k.ChanceOverAct)
}

// together is the yard as a whole, in one or two sentences.
func (y *yard) together() string {
	m, share := y.mean(), y.ShareOver(y.level)
	f := show.Levels(m.Low, m.High, m.Low, m.Middle, m.High)
	n := float64(len(y.colonies))
	count := func(x float64) int { return int(math.Round(x * n)) }
	low, high := y.colonies[0].Line.Act, y.colonies[0].Line.Act
	for _, k := range y.colonies {
		low, high = min(low, k.Line.Act), max(high, k.Line.Act)
	}
	line := say.Line(low)
	if say.Line(high) != line {
		line += " to " + say.Line(high)
	}
	out := fmt.Sprintf("On average %s mites per hundred bees (%s to %s). Over the line of %s: about %d of %d (%d to %d).",
		f[1], f[0], f[2], line, count(share.Middle), len(y.colonies), count(share.Low), count(share.High))
	without := 0
	for _, k := range y.colonies {
		if !k.HasLevel() {
			without++
		}
	}
	if len(y.colonies) == 1 || 2*without > len(y.colonies) {
		out = fmt.Sprintf("The line is %s.", line)
	}
	for _, k := range y.gone {
		if k.Gone > y.day-60 {
			out += fmt.Sprintf(" %s has been gone since %s.", show.Printable(k.Name), say.ShortDay(k.Gone))
		}
	}
	if s := y.loss(); s != "" {
		out += " " + s
	}
	return out
}

// loss is what the level of the worst colony costs, at the time of year at which
// that was measured.
func (y *yard) loss() string {
	var worst *colony
	for _, k := range y.colonies {
		if k.WinterLoss != nil && k.HasLevel() && (worst == nil || k.WinterLoss.Chance > worst.WinterLoss.Chance) {
			worst = k
		}
	}
	if worst == nil {
		return ""
	}
	return worst.LossLike(show.Printable(worst.name))
}

// mean is what is known of the mean of the colonies, in mites per hundred.
func (y *yard) mean() decide.Range {
	q := y.Mean.Quantiles((1-y.level)/2, 0.5, (1+y.level)/2)
	return decide.Range{Middle: 100 * q[1], Low: 100 * q[0], High: 100 * q[2]}
}

func (v *yardView) boardWords() string {
	if !v.boardsAsked {
		return ""
	}
	var names []string
	for _, k := range v.boards {
		names = append(names, k.name)
	}
	return "Put the boards under " + show.List(names) + ": there one tells most."
}

func (y *yard) warnings() []say.Warning {
	return say.Warn(say.LeftOut, slices.Compact(slices.Clone(y.unread))...)
}

const yardWhy = "Colonies of one yard share bees, weather and neighbours, so each tells something of the others: a single small count is pulled toward the rest, and a colony nobody counted is taken to be like them. " +
	"Highest is %s: %s of %s mites per hundred. %s It is wrong if one hive is unlike the others for a reason the record does not know, such as robbing. " +
	"Each line of the table is the answer of halfcup estimate --colony."

// explain tells how the answer comes about, without a word of statistics.
func (y *yard) explain() string {
	first := slices.MaxFunc(y.colonies, func(a, b *colony) int { return cmp.Compare(a.ChanceOverAct, b.ChanceOverAct) })
	return fmt.Sprintf(yardWhy,
		first.name, show.OfHundred(first.ChanceOverAct, "colonies like it", "over the line"), say.Line(first.Line.Act), say.LineWords(first.Line))
}

// yardsView is several yards, the most pressing first.
type yardsView struct {
	ask.Rules
	yards          []*yard
	day            sampling.Date
	unread         []string
	jumps, counted int
	together       bool // more colonies of all yards jumped than chance brings
}

const yardsJumped = "Mites jumped within three weeks at %s, faster than they breed: look for eggs, then for robbed hives; small entrances, no open feed."

func (v *yardsView) print(w io.Writer, p show.Page) {
	press := 0
	for _, y := range v.yards {
		if t := y.tally(); t.TakeOut+t.Treat+t.Count+t.Late > 0 {
			press++
		}
	}
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, fmt.Sprintf("%s: something to do at %d of %d yards.", say.ShortDay(v.day), press, len(v.yards))), 0))
	if struck := v.struck(); len(struck) > 0 {
		var at []string
		for _, y := range struck {
			at = append(at, fmt.Sprintf("%s (%d of %d counted)", y.called(), y.Jumps, y.Counted))
		}
		fmt.Fprint(w, p.Wrap(fmt.Sprintf(yardsJumped, show.List(at)), 0))
	}
	fmt.Fprintln(w)
	name := 0
	for _, y := range v.yards {
		name = max(name, show.Wide(y.called()))
	}
	name = min(name, 20)
	for _, y := range v.yards {
		t := y.tally()
		row := show.Cell(y.called(), name, false) + "  " + t.words()
		if t.Late > 0 {
			row += fmt.Sprintf("; %d late", t.Late)
		}
		fmt.Fprintln(w, strings.TrimRight(show.Cell(row, p.Width, false), " "))
	}
	fmt.Fprint(w, "\n", p.Wrap("Each in full: halfcup yard --yard "+word(v.yards[0].name), 0))
}

// called is the yard by its name, or by what stands for one.
func (y *yard) called() string { return called([]string{show.Printable(y.name)})[0] }

// word is a name as it is typed.
func word(name string) string {
	if strings.ContainsAny(name, " '\"()&;") || name == "" {
		return fmt.Sprintf("%q", name)
	}
	return name
}

// struck are the yards with a jump, when all yards together have more than
// chance brings, else those that have more by themselves.
func (v *yardsView) struck() []*yard {
	var out []*yard
	for _, y := range v.yards {
		if y.JumpAlarm || v.together && y.Jumps > 0 {
			out = append(out, y)
		}
	}
	return out
}
