package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/show"
	"halfcup/sampling"
)

// The lines a count is held against when nothing else is said, in mites per
// hundred bees: to treat above 3 is common practice, to look closer above 2 is
// our judgement.
const (
	defaultWatch = 2
	defaultAct   = 3
)

func estimateCommand(sh *shell) *cli.Command {
	return &cli.Command{
		Name:      "estimate",
		Category:  groupCount,
		Usage:     "what one or more counts say about a colony",
		ArgsUsage: "COUNT...",
		UsageText: "halfcup estimate roll:7/300",
		Description: "A count is METHOD:MITES/AMOUNT[/FRAMESf][@DATE]: wash:5/312 (5 mites in a wash of 312 bees), roll:7/0.5cup/3f (a level half cup of bees off three frames), " +
			"wash:4/41g (weighed), board:24/3d (24 mites on a board in three days), knockdown:310/5d (in five days after a treatment). " +
			"Several counts of one colony on one day are weighed together. The answer is on the scale of a careful alcohol wash, which is what thresholds are set for.",
		Flags: append(append([]cli.Flag{
			&cli.StringFlag{Name: "level", Value: "0.95", Usage: "level of the intervals, `LEVEL`"},
			&cli.StringFlag{Name: "interval", Value: "garwood", Usage: "interval of the bare count `garwood|clopper-pearson|wilson|jeffreys|mid-p`"},
			&cli.StringFlag{Name: "watch", Value: show.Plain(defaultWatch), Usage: "level above which to look closer, `MITES` per hundred bees"},
			&cli.StringFlag{Name: "act", Value: show.Plain(defaultAct), Usage: "level above which to act, `MITES` per hundred bees"},
		}, assumptionFlags()...), countFlags()...),
		Action: sh.estimate,
	}
}

// estimated is everything estimate found out; its JSON is halfcup.estimate/1.
type estimated struct {
	Counts      []countedJSON    `json:"counts"`
	Estimate    sampling.Summary `json:"estimate"`
	ChanceOver  linesJSON        `json:"chance_over"`
	Lines       linesJSON        `json:"lines"`
	Evidence    []evidenceJSON   `json:"evidence"`
	Assumptions assumptionsJSON  `json:"assumptions"`

	density  sampling.Density
	counts   []sampling.Count
	evidence []sampling.Evidence
	own      []string // what is not a default, one line each
}

// linesJSON is a figure for each line: a level per hundred, or a chance.
type linesJSON struct {
	Watch float64 `json:"watch"`
	Act   float64 `json:"act"`
}

// countedJSON is one count as it was made. What its method does not have is null.
type countedJSON struct {
	Method     sampling.Method `json:"method"`
	Mites      int             `json:"mites"`
	Bees       show.Number     `json:"bees"`
	BeesCV     show.Number     `json:"bees_cv"`
	Frames     *int            `json:"frames"`
	Days       show.Number     `json:"days"`
	Date       sampling.Date   `json:"date"`
	PerHundred show.Number     `json:"per_hundred"`
	Interval   *intervalJSON   `json:"interval"`

	Board     *boardJSON                 `json:"board,omitempty"`
	Knockdown *sampling.KnockdownReading `json:"knockdown,omitempty"`
}

type intervalJSON struct {
	Kind     sampling.IntervalKind `json:"kind"`
	Level    float64               `json:"level"`
	Achieved float64               `json:"achieved"`
	Low      float64               `json:"low"`
	High     float64               `json:"high"`
}

type boardJSON struct {
	MedianPerDayPerHundred float64 `json:"median_per_day_per_hundred"`
	LogSD                  float64 `json:"log_sd"`
	AdultBees              float64 `json:"adult_bees"`
	Brood                  bool    `json:"brood"`
}

type evidenceJSON struct {
	Count        string  `json:"count"`
	MedianBefore float64 `json:"median_before"`
	MedianAfter  float64 `json:"median_after"`
	Surprise     float64 `json:"surprise"`
}

type assumptionsJSON struct {
	Prior    sampling.Prior                    `json:"prior"`
	Recovery map[sampling.Method]sampling.Beta `json:"recovery"`
	FrameCV  float64                           `json:"frame_cv"`
	Figures  []sampling.Source                 `json:"figures"` // all of them, with their sources
}

func (sh *shell) estimate(c *cli.Context) error {
	if c.NArg() == 0 {
		return tooFew("estimate needs a count", "halfcup estimate wash:5/300")
	}
	counts, err := sh.counts(c)
	if err != nil {
		return err
	}
	a, err := sh.assumptions(c)
	if err != nil {
		return err
	}
	level, err := number(c, "level", sh.settings.Level, 0.5, 0.9999)
	if err != nil {
		return err
	}
	kind, err := sh.intervalKind(c)
	if err != nil {
		return err
	}
	lines, err := sh.lines(c)
	if err != nil {
		return err
	}
	found, err := estimateOf(a, counts, level, kind, lines)
	if err != nil {
		return err
	}
	return sh.write(answer{
		schema:   "halfcup.estimate/1",
		json:     found,
		csv:      found.csv(),
		text:     func(w io.Writer) { found.print(w, sh.page) },
		warnings: found.warnings(sh.today),
		explain:  found.explain(),
		closing:  found.closing(),
	})
}

func (sh *shell) intervalKind(c *cli.Context) (sampling.IntervalKind, error) {
	if sh.settings.Interval != nil && !c.IsSet("interval") {
		return sampling.ParseIntervalKind(*sh.settings.Interval)
	}
	kind, err := sampling.ParseIntervalKind(c.String("interval"))
	return kind, inFlag("interval", err)
}

// lines reads --watch and --act.
func (sh *shell) lines(c *cli.Context) (l linesJSON, err error) {
	if l.Act, err = number(c, "act", sh.settings.Act, 0.01, 100); err != nil {
		return l, err
	}
	if l.Watch, err = number(c, "watch", sh.settings.Watch, 0.01, 100); err != nil {
		return l, err
	}
	if l.Watch <= l.Act {
		return l, nil
	}
	if !c.IsSet("watch") && sh.settings.Watch == nil {
		l.Watch = l.Act // only the line to act at was moved below the other
		return l, nil
	}
	return l, &show.Problem{What: fmt.Sprintf("the line to look closer, %s, is above the line to act, %s", show.Plain(l.Watch), show.Plain(l.Act)), Remedy: "give --watch a level at or below --act"}
}

func estimateOf(a basis, counts []sampling.Count, level float64, kind sampling.IntervalKind, lines linesJSON) (*estimated, error) {
	density, evidence, err := a.Weigh(a.Prior.Density(), counts)
	if err != nil {
		return nil, err
	}
	e := &estimated{
		Estimate:    density.Summary(level),
		ChanceOver:  linesJSON{density.Over(lines.Watch / 100), density.Over(lines.Act / 100)},
		Lines:       lines,
		Assumptions: assumptionsJSON{a.Prior, a.Recovery, a.FrameCV, a.sources(counts...)},
		own:         a.assumptionLines(counts...),
		density:     density,
		counts:      counts,
		evidence:    evidence,
	}
	for _, ev := range evidence {
		e.Evidence = append(e.Evidence, evidenceJSON{ev.Count.String(), ev.MedianBefore, ev.MedianAfter, ev.Surprise})
	}
	for _, c := range counts {
		counted, err := countedOf(a, c, level, kind)
		if err != nil {
			return nil, err
		}
		e.Counts = append(e.Counts, counted)
	}
	return e, nil
}

// countedOf is a count by itself, with the interval that it alone supports.
func countedOf(a basis, c sampling.Count, level float64, kind sampling.IntervalKind) (countedJSON, error) {
	missing := show.Number(math.NaN())
	out := countedJSON{Method: c.Method, Mites: c.Mites, Date: c.Date, Bees: missing, BeesCV: missing, Days: missing, PerHundred: missing}
	switch c.Method {
	case sampling.Board:
		fall, err := a.BoardFallOver(c.Hive)
		if err != nil {
			return out, err
		}
		out.Days = show.Number(daysOf(c))
		out.Board = &boardJSON{fall.MedianPerDayPerHundred, fall.LogSD, fall.Bees, !c.Hive.Broodless}
		return out, nil
	case sampling.Knockdown:
		reading, err := a.KnockdownReading(c)
		if err != nil {
			return out, err
		}
		out.Days = show.Number(daysOf(c))
		out.Knockdown = &reading
		return out, nil
	}
	bees, cv, err := a.BeesOf(c)
	if err != nil {
		return out, err
	}
	in, err := sampling.NewInterval(kind, c.Mites, bees, level)
	if err != nil {
		return out, err
	}
	frames := max(c.Frames, 1)
	out.Frames = &frames
	out.Bees, out.BeesCV = show.Number(bees), show.Number(cv)
	out.PerHundred = show.Number(100 * float64(c.Mites) / bees)
	out.Interval = &intervalJSON{in.Kind, in.Level, in.Achieved, 100 * in.Low, 100 * in.High}
	return out, nil
}

// daysOf is how long a board lay.
func daysOf(c sampling.Count) float64 {
	if c.Amount.Unit == sampling.Hours {
		return c.Amount.Value / 24
	}
	return c.Amount.Value
}

func (e *estimated) csv() show.CSV {
	var counts []string
	for _, c := range e.counts {
		counts = append(counts, c.String())
	}
	s := e.Estimate
	return show.CSV{
		Head: []string{"counts", "median", "mean", "low", "high", "level", "watch", "act", "chance_over_watch", "chance_over_act"},
		Rows: [][]any{{strings.Join(counts, " "), s.Median, s.Mean, s.Low, s.High, s.Level, e.Lines.Watch, e.Lines.Act, e.ChanceOver.Watch, e.ChanceOver.Act}},
	}
}

func (e *estimated) print(w io.Writer, p show.Page) {
	for i, c := range e.counts {
		fmt.Fprint(w, p.Hang(e.Counts[i].line(c), 0, 2))
	}
	s := e.Estimate
	f := show.Levels(s.Low, s.High, s.Low, s.Median, s.High)
	fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("The colony, on the scale of a careful alcohol wash: %s mites per hundred bees (%s to %s, %s credible interval).",
		p.Paint(show.Known, f[1]), f[0], f[2], percentOf(s.Level)), 0))
	if len(e.counts) > 1 {
		fmt.Fprint(w, "\n", e.evidenceTable(p))
	}
	levels, heights := e.density.Curve()
	marks := []show.Mark{{Level: e.Lines.Act, Label: "act " + show.Plain(e.Lines.Act)}}
	if e.Lines.Watch < e.Lines.Act {
		marks = append(marks, show.Mark{Level: e.Lines.Watch, Label: "watch " + show.Plain(e.Lines.Watch), Faint: true})
	}
	fmt.Fprint(w, "\n", p.Density(show.Density{Levels: levels, Heights: heights, Marks: marks, Low: s.Low, Median: s.Median, High: s.High}))
	fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("Chance of being over watch %s: %s. Over act %s: %s.",
		show.Plain(e.Lines.Watch), show.Percent(e.ChanceOver.Watch), show.Plain(e.Lines.Act), show.Percent(e.ChanceOver.Act)), 0))
	fmt.Fprint(w, p.Wrap("Read with: "+e.readWith()+". halfcup sources tells where the figures come from.", 0))
	for _, s := range e.own {
		fmt.Fprint(w, p.Hang("Your own: "+s+".", 0, 2))
	}
}

// line tells one count and what it says by itself.
func (j countedJSON) line(c sampling.Count) string {
	head := fmt.Sprintf("%s, %s: ", c.String(), c.Method.Title())
	if j.Interval == nil {
		return head + fmt.Sprintf("%s in %s days, %s a day.", show.Many(c.Mites, "mite", "mites"), show.Plain(math.Round(10*float64(j.Days))/10), show.Level(float64(c.Mites)/float64(j.Days)))
	}
	in := j.Interval
	f := show.Levels(in.Low, in.High, in.Low, float64(j.PerHundred), in.High)
	about := ""
	if j.BeesCV > 0 {
		about = "about "
	}
	return head + fmt.Sprintf("%s in %s%.0f bees, %s per hundred as counted (%s to %s, %s %s interval).",
		show.Many(c.Mites, "mite", "mites"), about, float64(j.Bees), f[1], f[0], f[2], percentOf(in.Level), kindNames[in.Kind])
}

var kindNames = map[sampling.IntervalKind]string{
	sampling.Garwood:        "exact Garwood",
	sampling.ClopperPearson: "exact Clopper-Pearson",
	sampling.Wilson:         "Wilson",
	sampling.Jeffreys:       "Jeffreys",
	sampling.MidP:           "mid-P",
}

// percentOf is a level that was asked for, in all its digits.
func percentOf(level float64) string { return show.Plain(math.Round(level*1e8)/1e6) + "%" }

func (e *estimated) evidenceTable(p show.Page) string {
	t := show.Table{Columns: []show.Column{{Name: "count"}, {Name: "before", Right: true}, {Name: "after", Right: true}, {Name: "what it did", Flow: true}}}
	for _, ev := range e.evidence {
		t.Rows = append(t.Rows, []string{ev.Count.String(), show.Level(ev.MedianBefore), show.Level(ev.MedianAfter), moved(ev.MedianBefore, ev.MedianAfter)})
	}
	return p.Table(t)
}

// moved says how far a count moved the middle.
func moved(before, after float64) string {
	switch r := after / before; {
	case r > 1.05:
		return fmt.Sprintf("raised the middle %s times", show.Level(r))
	case r < 1/1.05:
		return fmt.Sprintf("lowered the middle %s times", show.Level(1/r))
	}
	return "left the middle where it was"
}

// readWith lists the assumptions that these counts were read with.
func (e *estimated) readWith() string {
	a := e.Assumptions
	parts := []string{fmt.Sprintf("before any count %s per hundred, log-SD %s", show.Plain(a.Prior.MedianPerHundred), show.Plain(a.Prior.LogSD))}
	seen := map[sampling.Method]bool{}
	for i, c := range e.counts {
		if seen[c.Method] {
			continue
		}
		seen[c.Method] = true
		if b, ok := a.Recovery[c.Method]; ok {
			parts = append(parts, fmt.Sprintf("a %s finds %s of the mites, Beta(%s, %s)", c.Method.Title(), show.Percent(b.Mean()), show.Plain(b.Alpha), show.Plain(b.Beta)))
		}
		if b := e.Counts[i].Board; b != nil {
			parts = append(parts, fmt.Sprintf("%s mites fall a day for each mite per hundred, log-SD %s, over %.0f bees %s brood", show.Level(b.MedianPerDayPerHundred), show.Level(b.LogSD), b.AdultBees, map[bool]string{true: "with", false: "without"}[b.Brood]))
		}
		if k := e.Counts[i].Knockdown; k != nil {
			parts = append(parts, fmt.Sprintf("the treatment kills %s of the mites on adult bees, and %s of those reach the board, over %.0f bees", show.Percent(k.Kill.Mean()), show.Percent(k.Reach.Mean()), k.AdultBees))
		}
	}
	if e.hasBeeSample() {
		parts = append(parts, "frames differ by a CV of "+show.Plain(a.FrameCV))
	}
	return strings.Join(parts, "; ")
}

func (e *estimated) hasBeeSample() bool {
	for _, c := range e.counts {
		if c.Method.Kind() == sampling.BeeSample {
			return true
		}
	}
	return false
}

// Below these a count is too thin to be passed over in silence.
const (
	usualBees     = 300
	fewBees       = 200
	fewFallDays   = 3
	tooSurprising = 0.01
)

func (e *estimated) warnings(today sampling.Date) []string {
	var out []string
	for i, c := range e.counts {
		j := e.Counts[i]
		name := c.String()
		if c.Date > today {
			out = append(out, fmt.Sprintf("%s is dated %s, which is still to come: check the date.", name, show.Day(c.Date)))
		}
		switch {
		case j.Interval != nil && c.Mites == 0:
			out = append(out, fmt.Sprintf("No mites in %.0f bees is not no mites in the hive: this sample alone leaves up to %s per hundred.", float64(j.Bees), show.Level(j.Interval.High)))
		case c.Method == sampling.Knockdown && c.Mites == 0:
			out = append(out, "No fall after a treatment means few mites, or a treatment that did not reach them. Count another way before you trust it.")
		}
		if j.Interval != nil && float64(j.Bees) < fewBees {
			out = append(out, fmt.Sprintf("%.0f bees is a small sample; %d is usual, off three frames if you can.", float64(j.Bees), usualBees))
		}
		if j.Interval == nil && float64(j.Days) < fewFallDays {
			out = append(out, fmt.Sprintf("%s was less than %d days: the fall of single days differs widely.", name, fewFallDays))
		}
		if ev := e.evidence[i]; ev.Surprise < tooSurprising {
			out = append(out, fmt.Sprintf("%s does not fit the rest: a count so far off has a chance of %s. Check the figures, and whether all are of the same colony.", name, show.Percent(ev.Surprise)))
		}
	}
	if len(e.counts) == 1 && e.counts[0].Method == sampling.Board {
		out = append(out, fmt.Sprintf("A board alone is weak evidence: the ends of this interval are %s times apart. A sugar roll beside it costs no bee.", show.Level(e.Estimate.High/e.Estimate.Low)))
	}
	return out
}

// Chances of being over the line beyond which one side is plainly the likelier.
const (
	likelyOver  = 0.8
	likelyUnder = 0.2
)

func (e *estimated) closing() string {
	act := show.Plain(e.Lines.Act)
	told := show.OfHundred(e.ChanceOver.Act, "colonies with "+e.this(), "over the line")
	switch {
	case e.ChanceOver.Act >= likelyOver:
		return fmt.Sprintf("Most likely over %s per hundred: %s.", act, told)
	case e.ChanceOver.Act <= likelyUnder:
		return fmt.Sprintf("Most likely under %s per hundred: %s.", act, told)
	}
	return fmt.Sprintf("Too close to %s per hundred to call: %s.", act, told)
}

func (e *estimated) this() string {
	if len(e.counts) == 1 {
		return "this count"
	}
	return "these counts"
}

// explain tells it to a learner, without a word of statistics.
func (e *estimated) explain() string {
	s := e.Estimate
	f := show.Levels(s.Low, s.High, s.Low, s.Median, s.High)
	allowed, wrong := "for bees that differ from frame to frame and for mites that stay behind uncounted", "It is wrong if the bees were damp, or came from outside the brood nest."
	if !e.hasBeeSample() {
		allowed, wrong = "for days and colonies that differ", "It is wrong if ants or wind took mites off the board, or if the colony is much larger or smaller than thought."
	}
	line := "That line is your own."
	if e.Lines.Act == defaultAct {
		line = "That line is common practice, not a law of nature."
	}
	return fmt.Sprintf("What you counted is a handful out of a whole hive. Allowing for luck, and %s, this colony most likely carries about %s mites on every hundred bees; it would be odd if it were under %s or over %s. %s of %s per hundred. %s %s",
		allowed, f[1], f[0], f[2], capital(show.OfHundred(e.ChanceOver.Act, "colonies with "+e.this(), "over the line")), show.Plain(e.Lines.Act), line, wrong)
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
