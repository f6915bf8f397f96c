package count

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/guides"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

func estimateCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "estimate",
		Category:  line.GroupCount,
		Usage:     "what one or more counts say about a colony",
		ArgsUsage: "COUNT...",
		UsageText: "halfcup estimate roll:7/300",
		Description: "A count is METHOD:MITES/AMOUNT[/FRAMESf][@DATE]: wash:5/312 (5 mites in a wash of 312 bees), roll:7/0.5cup (a level half cup of bees), " +
			"wash:4/41g (weighed), board:24/3d (24 mites on a board in three days), knockdown:310/5d (in five days after a treatment). " +
			"A count without a date is of today, and the answer is of today. With --colony the counts are added to those of the record. Levels are on the scale of a careful alcohol wash.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "level", Value: "0.9", Usage: "level of the limits, `LEVEL`"},
			&cli.StringFlag{Name: "interval", Value: "garwood", Usage: "interval of the bare count `garwood|clopper-pearson|wilson|jeffreys|mid-p`"},
		}, ask.QuestionFlags()...),
		Action: func(c *cli.Context) error { return estimate(sh, c) },
	}
}

// estimated is what the counts say and what to do; its JSON is halfcup.estimate/3.
type estimated struct {
	Colony   *string          `json:"colony"`
	Date     sampling.Date    `json:"date"`
	Estimate sampling.Summary `json:"estimate"`
	say.Judgement
	Counts      []countedJSON     `json:"counts"`
	Evidence    []evidenceJSON    `json:"evidence"`
	Assumptions []sampling.Source `json:"assumptions"`

	*ask.Question `json:"-"`
	said          say.Standing
	counts        []sampling.Count
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

	Board     *say.Board     `json:"board,omitempty"`
	Knockdown *knockdownJSON `json:"knockdown,omitempty"`

	// Guides are what board guides make of a board of today.
	FallPerDay show.Number      `json:"fall_per_day"`
	Guides     []guides.Reading `json:"guides,omitempty"`
}

type intervalJSON struct {
	Kind     sampling.IntervalKind `json:"kind"`
	Level    float64               `json:"level"`
	Achieved float64               `json:"achieved"`
	Low      float64               `json:"low"`
	High     float64               `json:"high"`
}

// knockdownJSON is how a fall after a treatment was read, and what it tells:
// the infestation just before the treatment and the mites killed on the bees.
type knockdownJSON struct {
	sampling.KnockdownReading
	Treated sampling.Date    `json:"treated_on"`
	Before  sampling.Summary `json:"before"`
	Killed  killedJSON       `json:"killed"`
}

type killedJSON struct {
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

type evidenceJSON struct {
	Count        string  `json:"count"`
	MedianBefore float64 `json:"median_before"`
	MedianAfter  float64 `json:"median_after"`
	Surprise     float64 `json:"surprise"`
}

func estimate(sh *line.Shell, c *cli.Context) error {
	if c.NArg() == 0 && !c.IsSet("colony") {
		return line.TooFew("estimate needs a count, or a colony of the record", "halfcup estimate wash:5/300")
	}
	q, err := ask.ReadQuestion(sh, c)
	if err != nil {
		return err
	}
	level, err := line.Number(c, "level", sh.Settings.Level)
	if err != nil {
		return err
	}
	kind, err := ask.ReadIntervalKind(sh, c)
	if err != nil {
		return err
	}
	found, err := estimateOf(q, level, kind)
	if err != nil {
		return err
	}
	doubt, unsound := q.Slip()
	return sh.Write(line.Answer{
		Schema:   "halfcup.estimate/3",
		Doubt:    doubt,
		Unsound:  unsound,
		JSON:     found,
		CSV:      found.csv(),
		Text:     func(w io.Writer) { found.print(w, sh.Page) },
		Warnings: found.warnings(),
		Explain:  found.explain(),
	})
}

func estimateOf(q *ask.Question, level float64, kind sampling.IntervalKind) (*estimated, error) {
	said, err := say.NewStanding(q.Standing)
	if err != nil {
		return nil, err
	}
	e := &estimated{
		Colony: say.Said(q.Colony), Date: q.Day, Estimate: q.Known.Summary(level),
		Judgement: say.JudgementOf(said), Question: q, said: said,
		Counts: []countedJSON{}, Evidence: []evidenceJSON{},
	}
	for _, ev := range q.Evidence {
		e.counts = append(e.counts, ev.Count)
		e.Evidence = append(e.Evidence, evidenceJSON{q.Name(ev.Count), ev.MedianBefore, ev.MedianAfter, ev.Surprise})
		counted, err := counted(q, ev.Count, level, kind)
		if err != nil {
			return nil, err
		}
		if ev.Count.Method == sampling.Board && ev.Count.Date == e.Date {
			counted.Guides = guides.Read(northern(q, e.Date), ev.Count.FallPerDay(), e.ChanceOverAct)
		}
		e.Counts = append(e.Counts, counted)
	}
	e.Assumptions = q.Sources(e.counts...)
	return e, nil
}

// weighed is what the counts that tell of one day did.
type weighed struct {
	before, after sampling.Density
	evidence      []sampling.Evidence
}

// weigh replays the record up to a day and the counts that tell of it, those
// made later of what a treatment of that day brought down included.
func weigh(q *ask.Question, on sampling.Date) (weighed, error) {
	h := q.Situation().History
	state, err := h.On(on)
	if err != nil {
		return weighed{}, err
	}
	counts := slices.Clone(state.Counts)
	for _, c := range h.Counts {
		if c.Method == sampling.Knockdown && c.Date > on && h.TreatedBefore(c) == on {
			counts = append(counts, c)
		}
	}
	w := weighed{before: state.Before}
	w.after, w.evidence, err = h.Assumptions.Weigh(w.before, counts)
	return w, err
}

// counted is a count by itself, with the interval that it alone supports.
func counted(q *ask.Question, c sampling.Count, level float64, kind sampling.IntervalKind) (countedJSON, error) {
	missing := show.Number(math.NaN())
	out := countedJSON{Method: c.Method, Mites: c.Mites, Date: c.Date, Bees: missing, BeesCV: missing, Days: missing, PerHundred: missing, FallPerDay: missing}
	switch c.Method {
	case sampling.Board:
		fall, err := q.BoardFallOver(c.Hive)
		if err != nil {
			return out, err
		}
		out.Days, out.FallPerDay = show.Number(c.DaysOnBoard()), show.Number(c.FallPerDay())
		board := say.BoardOf(fall, !c.Hive.Broodless)
		out.Board = &board
		return out, nil
	case sampling.Knockdown:
		reading, err := q.KnockdownReading(c)
		if err != nil {
			return out, err
		}
		on := q.Situation().History.TreatedBefore(c)
		d, err := weigh(q, on)
		if err != nil {
			return out, err
		}
		median, low, high := reading.Killed(d.after, level)
		out.Days, out.FallPerDay = show.Number(c.DaysOnBoard()), show.Number(c.FallPerDay())
		out.Knockdown = &knockdownJSON{reading, on, d.after.Summary(level), killedJSON{median, low, high}}
		return out, nil
	}
	bees, cv, err := q.BeesOf(c)
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

func (e *estimated) csv() show.CSV {
	var counts []string
	for _, c := range e.counts {
		counts = append(counts, e.Name(c))
	}
	s := e.Estimate
	return show.CSV{
		Head: []string{"colony", "counts", "date", "median", "mean", "low", "high", "level", "watch", "act", "chance_over_watch", "chance_over_act", "call", "due"},
		Rows: [][]any{{e.Standing.Colony, strings.Join(counts, " "), e.Date, s.Median, s.Mean, s.Low, s.High, s.Level, e.Line.Watch, e.Line.Act, e.ChanceOverWatch, e.ChanceOverAct, string(e.Call), e.Due}},
	}
}

func (e *estimated) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, e.said.First()), 0))
	if how := e.said.How(); how != "" {
		fmt.Fprint(w, p.Wrap(how, 0))
	}
	if e.said.HasLevel() {
		fmt.Fprint(w, "\n", e.said.Level(p, e.Estimate))
		s := e.Estimate
		levels, heights := e.Known.Curve()
		fmt.Fprint(w, "\n", p.Density(show.Density{Levels: levels, Heights: heights, Marks: say.Marks(e.Line), Low: s.Low, Median: s.Median, High: s.High}))
		fmt.Fprint(w, p.Hang("Picture: "+e.said.Caption(s), 2, 2))
	}
	if steps := e.said.Steps(); len(steps) > 0 {
		fmt.Fprintln(w)
		for _, s := range steps {
			fmt.Fprint(w, p.Beside(s.When, stepColumn, s.What, 2))
		}
	}
	why := e.why()
	if len(why) > 0 {
		fmt.Fprint(w, "\n", p.Wrap(strings.Join(why, " "), 0))
	}
	e.printGuides(w, p)
}

// stepColumn is how wide the days of a course are set.
const stepColumn = 22

// why is at most three short sentences: what was counted, why the call, and
// what else bears on it.
func (e *estimated) why() []string {
	var out []string
	add := func(s string) {
		if s != "" && len(out) < 3 {
			out = append(out, s)
		}
	}
	add(e.found())
	for i := range e.Counts {
		if k := e.Counts[i].Knockdown; k != nil {
			add(e.killedWords(k))
		}
	}
	if alarm := e.said.Alarm(); alarm != "" {
		add(alarm)
		add(e.said.Also())
		return out
	}
	add(e.said.Why())
	add(e.said.Brood())
	add(e.said.Loss())
	add(e.said.Neighbours())
	add(e.said.Also())
	return out
}

// found says what the counts of today showed.
func (e *estimated) found() string {
	var parts []string
	gentle := false
	for i, c := range e.counts {
		if c.Date != e.Date {
			continue
		}
		parts = append(parts, e.Counts[i].words(c))
		gentle = gentle || c.Method == sampling.Roll
	}
	if len(parts) == 0 {
		return ""
	}
	out := "You found " + show.List(parts) + "."
	if b, ok := e.Recovery[sampling.Roll]; ok && gentle && len(parts) == 1 {
		out += " A roll leaves about one mite in " + say.OneIn(1-b.Mean()) + " on the bees."
	}
	return out
}

// words is a count as it is spoken: 7 mites in half a cup.
func (j countedJSON) words(c sampling.Count) string {
	if j.Interval == nil {
		return fmt.Sprintf("%s in %s", show.Many(c.Mites, "mite", "mites"), show.Many(int(math.Round(float64(j.Days))), "day", "days"))
	}
	frames := ""
	if c.Frames > 1 {
		frames = fmt.Sprintf(" from %d frames", c.Frames)
	}
	of := say.Cups(int(math.Round(float64(j.Bees))))
	if j.BeesCV == 0 {
		of = fmt.Sprintf("%.0f bees", float64(j.Bees))
	}
	return fmt.Sprintf("%s in %s%s", show.Many(c.Mites, "mite", "mites"), of, frames)
}

// bare is a count by itself, for whoever asks why.
func (j countedJSON) bare(name string, c sampling.Count) string {
	if j.Interval == nil {
		return fmt.Sprintf("%s is %s mites a day.", name, show.Level(float64(j.FallPerDay)))
	}
	in := j.Interval
	f := show.Levels(in.Low, in.High, in.Low, float64(j.PerHundred), in.High)
	return fmt.Sprintf("%s is %s per hundred as counted (%s to %s, %s %s interval of the bees in this jar).", name, f[1], f[0], f[2], say.Percent(in.Level), kindNames[in.Kind])
}

var kindNames = map[sampling.IntervalKind]string{
	sampling.Garwood:        "exact Garwood",
	sampling.ClopperPearson: "exact Clopper-Pearson",
	sampling.Wilson:         "Wilson",
	sampling.Jeffreys:       "Jeffreys",
	sampling.MidP:           "mid-P",
}

func (e *estimated) hasBeeSample() bool {
	return slices.ContainsFunc(e.counts, func(c sampling.Count) bool { return c.Method.Kind() == sampling.BeeSample })
}

func (e *estimated) warnings() []say.Warning {
	out := say.Warn(say.LeftOut, e.Unread...)
	today := slices.ContainsFunc(e.counts, func(c sampling.Count) bool { return c.Date == e.Day })
	if d, err := weigh(e.Question, e.Counted); err == nil && today {
		for i := range d.evidence {
			if c := &d.evidence[i].Count; c.Date == e.Day {
				c.Date = 0 // as it was typed
			}
		}
		for _, w := range e.Question.Assumptions.Warnings(d.before, d.after, d.evidence, e.Estimate.Level) {
			out = append(out, say.Warning{Kind: say.WarningKind(w.Kind), Text: w.Text})
		}
	}
	return out
}

const allowingForLuck = "Allowing for luck, and %s, this colony most likely has %s mites on every hundred bees; nine in ten such colonies lie between %s and %s."

// explain tells how the answer came about.
func (e *estimated) explain() string {
	var parts []string
	for i, c := range e.counts {
		parts = append(parts, e.Counts[i].bare(e.Name(c), c))
	}
	allowed, wrong := "for bees that differ from frame to frame and for mites that stay behind uncounted", "It is wrong if the bees were damp, or came from outside the brood nest."
	if !e.hasBeeSample() {
		allowed, wrong = "for days and colonies that differ", "It is wrong if ants or wind took mites off the board, or if the colony is much larger or smaller than thought."
	}
	f := say.LevelsOf(e.Estimate)
	parts = append(parts,
		fmt.Sprintf(allowingForLuck, allowed, f[1], f[0], f[2]),
		say.Capital(show.OfHundred(e.ChanceOverAct, "colonies like this", "over the line"))+fmt.Sprintf(" of %s per hundred.", say.Line(e.Line.Act)),
		say.LineWords(e.Line), e.readWith())
	if loss := e.said.Loss(); loss != "" {
		parts = append(parts, loss)
	}
	for _, s := range e.AssumptionLines(e.counts...) {
		parts = append(parts, "Your own: "+s+".")
	}
	return strings.Join(append(parts, wrong+" halfcup sources tells where every figure comes from."), " ")
}

// readWith lists the figures that these counts were read with.
func (e *estimated) readWith() string {
	var parts []string
	seen := map[sampling.Method]bool{}
	for i, c := range e.counts {
		if seen[c.Method] {
			continue
		}
		seen[c.Method] = true
		if b, ok := e.Recovery[c.Method]; ok {
			parts = append(parts, fmt.Sprintf("a %s finds %s of the mites, Beta(%s, %s)", c.Method.Title(), show.Percent(b.Mean()), show.Plain(b.Alpha), show.Plain(b.Beta)))
		}
		if b := e.Counts[i].Board; b != nil {
			brood := "without"
			if b.Brood {
				brood = "with"
			}
			parts = append(parts, fmt.Sprintf("%s mites fall a day for each mite per hundred, log-SD %s, over %.0f bees %s brood", show.Level(b.MedianPerDayPerHundred), show.Level(b.LogSD), b.AdultBees, brood))
		}
		if k := e.Counts[i].Knockdown; k != nil {
			parts = append(parts, fmt.Sprintf("the treatment kills %s of the mites on adult bees, and %s of those reach the board, over %.0f bees", show.Percent(k.Kill.Mean()), show.Percent(k.Reach.Mean()), k.AdultBees))
		}
	}
	if e.hasBeeSample() {
		parts = append(parts, "frames differ by a CV of up to "+show.Plain(e.FrameCV))
	}
	if len(parts) == 0 {
		return ""
	}
	return "Read with: " + strings.Join(parts, "; ") + "."
}
