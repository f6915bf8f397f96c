package season

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// roomy is the width from which the table has a column for the call and one
// for the next step, and longer strips.
const roomy = 96

func (y *yardReading) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(y.title()+": "+y.headcount()+".", 0), "\n")
	fmt.Fprint(w, y.table(p))
	low, high := show.SliverSpan(y.threshold.Act)
	fmt.Fprint(w, p.Wrap(fmt.Sprintf("Mites per hundred bees (%s limits), and the chance of being over the line of %s. The strips run from %s to %s per hundred with the line in the middle.",
		say.Percent(y.level), show.Plain(y.threshold.Act), show.Level(low), show.Level(high)), 0))

	fmt.Fprint(w, "\n", p.Hang("Mean of the yard: "+y.meanWords()+".", 0, 2))
	fmt.Fprint(w, p.Hang("Over the line: "+y.shareWords()+".", 0, 2))
	fmt.Fprint(w, p.Hang(y.nextWords(), 0, 2))
	if y.boards != nil {
		fmt.Fprint(w, p.Hang(y.boardWords(), 0, 2))
	}
	fmt.Fprint(w, p.Hang(y.killedWords(), 0, 2))
	fmt.Fprint(w, "\n", p.Wrap(say.LineWords(y.colonies[0].Question), 0))
}

func (y *yardReading) title() string {
	name := "The yard"
	if y.name != "" {
		name = "The yard " + show.Printable(y.name)
	}
	return name + " on " + show.Day(y.day)
}

func (y *yardReading) headcount() string {
	never := 0
	for _, k := range y.colonies {
		if !k.counted() {
			never++
		}
	}
	out := show.Many(len(y.colonies), "colony", "colonies")
	if never > 0 {
		out += fmt.Sprintf(", %d of them never counted", never)
	}
	var gone []string
	for _, g := range y.gone {
		how := "died"
		if g.kind == fieldlog.United {
			how = "was united with another"
		}
		gone = append(gone, fmt.Sprintf("%s %s on %s", show.Printable(g.name), how, show.Day(g.on)))
	}
	if gone != nil {
		out += "; " + show.List(gone)
	}
	return out
}

func (y *yardReading) table(p show.Page) string {
	wide := p.Width >= roomy
	half := 5
	t := show.Table{Columns: []show.Column{{Name: "colony"}, {Name: "last count"}, {Name: "per hundred", Right: true}, {Name: "over", Right: true}, {Name: "the curve"}}}
	if wide {
		half = 8
		t.Columns = append(t.Columns, show.Column{Name: "call"})
	}
	t.Columns = append(t.Columns, show.Column{Name: "what to do", Flow: true}, show.Column{Name: "look", Right: true})
	if wide {
		t.Columns[6].Name = "next step"
	}
	for _, k := range y.colonies {
		levels, heights := k.State.Known.Curve()
		row := []string{
			show.Printable(k.name), k.lastWords(y.day), k.levelWords(), shortPercent(k.judgement.OverAct),
			p.Sliver(show.Density{Levels: levels, Heights: heights}, y.threshold.Act, half),
		}
		if wide {
			row = append(row, k.callWords(), k.stepWords())
		} else {
			row = append(row, k.doWords())
		}
		t.Rows = append(t.Rows, append(row, shortDay(k.judgement.NextLook, y.day)))
	}
	return p.Table(t)
}

// lastWords is the last count and how long ago it was.
func (k *yardColony) lastWords(day sampling.Date) string {
	if !k.counted() {
		return "never"
	}
	ago := fmt.Sprintf("%d d", int(day-k.last.Date))
	if k.last.Date == day {
		ago = "today"
	}
	count := k.lastRead()
	return fmt.Sprintf("%s %d, %s", shortMethod(count.Method), count.Mites, ago)
}

// lastRead is the last count as it was read: a roll and the wash of the same
// bees after it are one count.
func (k *yardColony) lastRead() sampling.Count {
	for i := len(k.State.Evidence) - 1; i >= 0; i-- {
		if c := k.State.Evidence[i].Count; c.Date == k.last.Date && c.Method == k.last.Count.Method {
			return c
		}
	}
	return *k.last.Count
}

// shortMethod is the method in the words of the trade that fit a column.
func shortMethod(m sampling.Method) string {
	if m == sampling.Knockdown {
		return "fall"
	}
	return string(m)
}

func (k *yardColony) levelWords() string {
	return fmt.Sprintf("%s (%s–%s)", shortLevel(k.estimate.Median), shortLevel(k.estimate.Low), shortLevel(k.estimate.High))
}

// shortLevel is a level that fits a column: tenths, and never a bare zero.
func shortLevel(x float64) string {
	switch {
	case x >= 9.95:
		return fmt.Sprintf("%.0f", x)
	case x < 0.05:
		return "<0.1"
	}
	return fmt.Sprintf("%.1f", x)
}

// shortPercent is a chance that fits a column and claims no certainty.
func shortPercent(p float64) string {
	switch n := math.Round(100 * p); {
	case n < 1:
		return "<1%"
	case n > 99:
		return ">99%"
	default:
		return fmt.Sprintf("%.0f%%", n)
	}
}

// shortDay is a day without its year when that is this one.
func shortDay(d, today sampling.Date) string {
	if d.Time().Year() != today.Time().Year() {
		return d.Time().Format("2 Jan 06")
	}
	return d.Time().Format("2 Jan")
}

// callWords is the call in a word or two.
func (k *yardColony) callWords() string {
	switch k.judgement.Call {
	case decide.WaitForPlanned:
		return "wait"
	case decide.BringForward:
		return "bring forward"
	case decide.WhenSupersOff:
		return "treat, supers off"
	}
	return string(k.judgement.Call)
}

// stepWords is the advised look, short.
func (k *yardColony) stepWords() string {
	a := k.judgement.Advised
	switch a.Plan {
	case decide.ActNow:
		return "–"
	case decide.LookLater:
		return shortLook(a.Count) + " on " + shortDay(a.Count.Date, k.State.Day)
	}
	return shortLook(a.Count)
}

func shortLook(c sampling.Count) string {
	if c.Method.Kind() == sampling.Fall {
		return fmt.Sprintf("board %s", show.Many(int(c.Amount.Value), "day", "days"))
	}
	return fmt.Sprintf("%s %d, %s", c.Method, decide.ScoopedBees(c), show.Many(max(c.Frames, 1), "frame", "frames"))
}

// doWords is what to do, in the words that fit a narrow table: the look for a
// colony that is to be counted again, else the call.
func (k *yardColony) doWords() string {
	switch {
	case k.judgement.Call == decide.CountAgain:
		return k.stepWords()
	case k.judgement.Call == decide.WaitForPlanned:
		return "wait for " + shortDay(k.NextTreatment, k.State.Day)
	case k.judgement.Advised.Plan == decide.LookLater:
		return k.callWords() + "; " + k.stepWords()
	}
	return k.callWords()
}

func (y *yardReading) meanWords() string {
	f := show.Levels(y.mean.Low, y.mean.High, y.mean.Low, y.mean.Middle, y.mean.High)
	return fmt.Sprintf("%s mites per hundred bees (%s to %s, %s credible interval)", f[1], f[0], f[2], say.Percent(y.level))
}

func (y *yardReading) shareWords() string {
	n := float64(len(y.colonies))
	count := func(share float64) int { return int(math.Round(share * n)) }
	return fmt.Sprintf("%d of %s (%d to %d)", count(y.share.Middle), show.Many(len(y.colonies), "colony", "colonies"), count(y.share.Low), count(y.share.High))
}

// namesOf lists the colonies that fit, in the order of the table.
func (y *yardReading) namesOf(fits func(*yardColony) bool) []string {
	var out []string
	for _, k := range y.colonies {
		if fits(k) {
			out = append(out, show.Printable(k.name))
		}
	}
	return out
}

func (y *yardReading) nextWords() string {
	next := y.next()
	if len(next) == 0 {
		return "Sample next: none; no look is worth its cost today."
	}
	first := next[0]
	why := fmt.Sprintf("the chance of being over the line is %s, and in %s the look would change what to do", show.Percent(first.judgement.OverAct), casesOf(first.judgement.Advised.ChangesCall))
	if !first.counted() {
		why = "nobody ever counted it, and " + why
	}
	out := fmt.Sprintf("Sample next: %s, by %s, because %s.", show.Printable(first.name), say.LookWords(first.judgement.Advised.Count), why)
	var names []string
	for _, k := range next[1:min(len(next), 1+mostNames)] {
		names = append(names, show.Printable(k.name))
	}
	if more := len(next) - 1 - len(names); more > 0 {
		names = append(names, fmt.Sprintf("%d more", more))
	}
	if names != nil {
		out += " After it " + show.List(names) + "."
	}
	return out
}

// casesOf is a chance as so many cases.
func casesOf(p float64) string {
	n := math.Round(100 * p)
	if n < 1 {
		return "fewer than 1 case of 100"
	}
	return fmt.Sprintf("%.0f %s of 100", n, map[bool]string{true: "case", false: "cases"}[n == 1])
}

func (y *yardReading) boardWords() string {
	var names []string
	for _, k := range y.boards {
		names = append(names, fmt.Sprintf("%s (worth %.2f)", show.Printable(k.name), k.worth))
	}
	return fmt.Sprintf("Boards, for the colonies where one tells most: %s. Worth is in needless treatments.", show.List(names))
}

func (y *yardReading) killedWords() string {
	visits := "the one visit"
	if n := len(y.tally.Visits); n != 1 {
		visits = fmt.Sprintf("each of the %d visits", n)
	}
	return fmt.Sprintf("Bees killed by washes in the season of %d: %d. A wash of every colony at %s would have killed %d.",
		y.season.year, y.tally.Killed, visits, y.tally.WouldHaveKilled)
}

func (y *yardReading) warnings() []string {
	var out []string
	for _, k := range y.colonies {
		for _, s := range k.Unread {
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	if never := y.namesOf(func(k *yardColony) bool { return !k.counted() }); never != nil {
		out = append(out, fmt.Sprintf("Never counted: %s. What is said of %s is a forecast from the others.", show.List(never), map[bool]string{true: "it", false: "them"}[len(never) == 1]))
	}
	return out
}

// mostNames is how many names a sentence holds.
const mostNames = 8

// closing is what a tired person does now.
func (y *yardReading) closing() string {
	const wait = "%s can wait."
	groups := []struct {
		calls []decide.Call
		what  string
	}{
		{[]decide.Call{decide.Treat}, "Treat %s, by the label and the law."},
		{[]decide.Call{decide.BringForward}, "Do not wait with %s: bring the planned treatment forward, by the label and the law."},
		{[]decide.Call{decide.WhenSupersOff}, "Treat %s as soon as the honey supers are off; the label and the law decide what may be given."},
		{[]decide.Call{decide.CountAgain}, "Count %s before you decide."},
		{[]decide.Call{decide.Leave, decide.WaitForPlanned}, wait},
	}
	var out []string
	for _, g := range groups {
		names := y.namesOf(func(k *yardColony) bool { return slices.Contains(g.calls, k.judgement.Call) })
		switch {
		case names == nil:
		case len(names) == len(y.colonies) && len(names) > 1:
			out = append(out, say.Capital(fmt.Sprintf(g.what, "all colonies")))
		case g.what == wait && len(names) > 3:
			out = append(out, fmt.Sprintf("The other %d can wait.", len(names)))
		case len(names) > mostNames:
			out = append(out, fmt.Sprintf(g.what, fmt.Sprintf("the %d colonies so marked in the table", len(names))))
		default:
			out = append(out, fmt.Sprintf(g.what, show.List(names)))
		}
	}
	return strings.Join(out, " ")
}

// explain tells it to a learner, without a word of statistics.
func (y *yardReading) explain() string {
	k := y.colonies[0]
	return fmt.Sprintf("Colonies of one yard share bees, weather and neighbours, so each tells something of the others: a single small count is pulled toward the rest, and a colony nobody counted is taken to be like them. First in the table is %s: %s of %s mites per hundred. The curve beside it is what is known; what lies to the right of the upright line is over it. The line is %s. It is wrong if one hive is unlike the others for a reason the record does not know, such as robbing.",
		show.Printable(k.name), show.OfHundred(k.judgement.OverAct, "colonies like it", "over the line"), show.Plain(y.threshold.Act), say.LineSource(y.threshold))
}

// yardJSON is halfcup.yard/1. Levels are mites per hundred bees.
type yardJSON struct {
	Date            sampling.Date     `json:"date"`
	Yard            string            `json:"yard"`
	Level           float64           `json:"level"`
	Threshold       decide.Threshold  `json:"threshold"`
	Colonies        []yardColonyJSON  `json:"colonies"`
	Gone            []goneJSON        `json:"gone"`
	Mean            rangeJSON         `json:"mean"`
	ShareOver       rangeJSON         `json:"share_over"`
	Standing        *rangeJSON        `json:"standing"`      // beside other yards, in SDs of a colony nobody has looked at; null for one colony
	BetweenYards    *rangeJSON        `json:"between_yards"` // share of the spread between colonies; null for one
	SampleNext      []string          `json:"sample_next"`
	Boards          []string          `json:"boards"` // null when nobody asked
	Season          int               `json:"season"`
	Visits          []sampling.Date   `json:"visits"`
	Killed          int               `json:"killed"`
	WouldHaveKilled int               `json:"would_have_killed"`
	Assumptions     []sampling.Source `json:"assumptions"`
}

type yardColonyJSON struct {
	Colony     string           `json:"colony"`
	Last       *lastJSON        `json:"last"` // null when it was never counted
	Estimate   sampling.Summary `json:"estimate"`
	ChanceOver say.Chances      `json:"chance_over"`
	Verdict    decide.Verdict   `json:"verdict"`
	NextStep   *say.Candidate   `json:"next_step"` // null when no look is worth its cost
	NextLook   sampling.Date    `json:"next_look"`
	Supers     bool             `json:"supers"`
}

type lastJSON struct {
	Date   sampling.Date   `json:"date"`
	Method sampling.Method `json:"method"`
	Mites  int             `json:"mites"`
}

type goneJSON struct {
	Colony string        `json:"colony"`
	Date   sampling.Date `json:"date"`
	Event  fieldlog.Kind `json:"event"`
}

func (y *yardReading) json() yardJSON {
	out := yardJSON{
		Date: y.day, Yard: y.name, Level: y.level, Threshold: y.threshold, Colonies: []yardColonyJSON{}, Gone: []goneJSON{},
		Mean: rangeOf(y.mean), ShareOver: rangeOf(y.share), SampleNext: []string{}, Season: y.season.year,
		Visits: append([]sampling.Date{}, y.tally.Visits...), Killed: y.tally.Killed, WouldHaveKilled: y.tally.WouldHaveKilled,
	}
	if y.stands {
		standing, alike := rangeOf(y.standing), rangeOf(y.alike)
		out.Standing, out.BetweenYards = &standing, &alike
	}
	var counts []sampling.Count
	for _, k := range y.colonies {
		j := yardColonyJSON{
			Colony: k.name, Estimate: k.estimate, ChanceOver: chancesJSON{k.judgement.OverWatch, k.judgement.OverAct},
			Verdict: k.judgement.Verdict, NextLook: k.judgement.NextLook, Supers: k.SupersOn,
		}
		if k.counted() {
			last := k.lastRead()
			j.Last = &lastJSON{k.last.Date, last.Method, last.Mites}
		}
		if k.judgement.Advised.Plan != decide.ActNow {
			step := say.CandidateOf(k.judgement.Advised)
			j.NextStep = &step
		}
		out.Colonies = append(out.Colonies, j)
		counts = append(counts, k.History.Counts...)
	}
	for _, g := range y.gone {
		out.Gone = append(out.Gone, goneJSON{g.name, g.on, g.kind})
	}
	for _, k := range y.next() {
		out.SampleNext = append(out.SampleNext, k.name)
	}
	for _, k := range y.boards {
		out.Boards = append(out.Boards, k.name)
	}
	out.Assumptions = y.Sources(counts...)
	return out
}

func (y *yardReading) csv() show.CSV {
	t := show.CSV{Head: []string{"colony", "last_date", "last_method", "last_mites", "median", "mean", "low", "high", "level", "act", "chance_over_watch", "chance_over_act", "call", "next_step", "next_look"}}
	for _, k := range y.colonies {
		row := []any{k.name, "", "", ""}
		if k.counted() {
			last := k.lastRead()
			row = []any{k.name, k.last.Date, string(last.Method), last.Mites}
		}
		step := ""
		if k.judgement.Advised.Plan != decide.ActNow {
			step = say.PlanWords(k.judgement.Advised)
		}
		e := k.estimate
		t.Rows = append(t.Rows, append(row, e.Median, e.Mean, e.Low, e.High, e.Level, y.threshold.Act,
			k.judgement.OverWatch, k.judgement.OverAct, string(k.judgement.Call), step, k.judgement.NextLook))
	}
	return t
}
