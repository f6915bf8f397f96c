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
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func estimateCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "estimate",
		Category:  line.GroupCount,
		Usage:     "what one or more counts say about a colony",
		ArgsUsage: "COUNT...",
		UsageText: "halfcup estimate roll:7/300",
		Description: "A count is METHOD:MITES/AMOUNT[/FRAMESf][@DATE]: wash:5/312 (5 mites in a wash of 312 bees), roll:7/0.5cup/3f (a level half cup of bees off three frames), " +
			"wash:4/41g (weighed), board:24/3d (24 mites on a board in three days), knockdown:310/5d (in five days after a treatment). " +
			"Several counts of one colony are weighed together; between days the mites are taken to grow. With --colony the record is read as well, and the answer is for today. The answer is on the scale of a careful alcohol wash, which is what thresholds are set for.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "level", Value: "0.95", Usage: "level of the intervals, `LEVEL`"},
			&cli.StringFlag{Name: "interval", Value: "garwood", Usage: "interval of the bare count `garwood|clopper-pearson|wilson|jeffreys|mid-p`"},
		}, ask.SituationFlags()...),
		Action: func(c *cli.Context) error { return estimate(sh, c) },
	}
}

// estimated is everything estimate found out; its JSON is halfcup.estimate/1.
type estimated struct {
	Counts     []countedJSON    `json:"counts"`
	Date       sampling.Date    `json:"date"`
	Estimate   sampling.Summary `json:"estimate"`
	ChanceOver say.Chances      `json:"chance_over"`
	say.Judgement
	Now         *treatedJSON    `json:"now,omitempty"` // where Estimate is of the day before a treatment
	Evidence    []evidenceJSON  `json:"evidence"`
	Assumptions assumptionsJSON `json:"assumptions"`

	*ask.Question `json:"-"`
	judgement     decide.Judgement
	shown         sampling.Density // that Estimate puts into figures
	counts        []sampling.Count
	rise          float64  // chance of so large a rise since the count before
	own           []string // what is not a default, one line each
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
	FallPerDay show.Number             `json:"fall_per_day"`
	Guides     []sampling.GuideReading `json:"guides,omitempty"`
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

// treatedJSON is what is left after a treatment.
type treatedJSON struct {
	Date       sampling.Date    `json:"date"`
	Estimate   sampling.Summary `json:"estimate"`
	ChanceOver say.Chances      `json:"chance_over"`
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

func estimate(sh *line.Shell, c *cli.Context) error {
	if c.NArg() == 0 && !c.IsSet("colony") {
		return line.TooFew("estimate needs a count, or a colony of the record", "halfcup estimate wash:5/300")
	}
	s, err := ask.ReadQuestion(sh, c)
	if err != nil {
		return err
	}
	level, err := line.Number(c, "level", sh.Settings.Level, 0.5, 0.9999)
	if err != nil {
		return err
	}
	kind, err := ask.ReadIntervalKind(sh, c)
	if err != nil {
		return err
	}
	found, err := estimateOf(s, level, kind)
	if err != nil {
		return err
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.estimate/1",
		JSON:     found,
		CSV:      found.csv(),
		Text:     func(w io.Writer) { found.print(w, sh.Page) },
		Warnings: found.warnings(sh.Today),
		Explain:  found.explain(),
		Closing:  found.closing(),
	})
}

func estimateOf(s *ask.Question, level float64, kind sampling.IntervalKind) (*estimated, error) {
	j, err := s.Judge()
	if err != nil {
		return nil, err
	}
	e := &estimated{
		Question: s, judgement: j, shown: s.State.Known,
		Date:       s.State.Day,
		Estimate:   s.State.Known.Summary(level),
		ChanceOver: say.ChancesOf(j),
		Judgement:  say.JudgementOf(s, j),
	}
	for _, ev := range s.State.Evidence {
		e.counts = append(e.counts, ev.Count)
		e.Evidence = append(e.Evidence, evidenceJSON{s.Name(ev.Count), ev.MedianBefore, ev.MedianAfter, ev.Surprise})
		counted, err := counted(s, ev.Count, level, kind)
		if err != nil {
			return nil, err
		}
		if ev.Count.Method == sampling.Board && ev.Count.Date == e.Date {
			counted.Guides = sampling.ReadGuides(northern(s, e.Date), ev.Count.FallPerDay(), e.ChanceOver.Act)
		}
		e.Counts = append(e.Counts, counted)
	}
	if err := e.beforeTreatment(); err != nil {
		return nil, err
	}
	e.Assumptions = assumptionsJSON{s.Prior, s.Recovery, s.FrameCV, s.Sources(e.counts...)}
	e.own = s.AssumptionLines(e.counts...)
	e.rise, err = s.History.Rise(s.State)
	return e, err
}

// beforeTreatment makes the estimate that of the day before the treatment when
// nothing but falls after it were counted: that is what they tell of. What is
// left now goes beside it.
func (e *estimated) beforeTreatment() error {
	if len(e.counts) == 0 || slices.ContainsFunc(e.counts, func(c sampling.Count) bool { return c.Method != sampling.Knockdown }) {
		return nil
	}
	on := e.History.TreatedBefore(e.counts[len(e.counts)-1])
	d, err := weigh(e.Question, on)
	if err != nil {
		return err
	}
	e.Now = &treatedJSON{e.Date, e.Estimate, e.ChanceOver}
	t := e.Threshold
	e.Date, e.Estimate = on, d.after.Summary(e.Estimate.Level)
	e.ChanceOver = say.Chances{Watch: d.after.Over(t.Watch / 100), Act: d.after.Over(t.Act / 100)}
	e.shown = d.after
	return nil
}

// weighed is what the counts that tell of one day did.
type weighed struct {
	before, after sampling.Density
	evidence      []sampling.Evidence
}

// weigh replays the record up to a day and the counts that tell of it, those
// made later of what a treatment of that day brought down included.
func weigh(s *ask.Question, on sampling.Date) (weighed, error) {
	state, err := s.History.On(on)
	if err != nil {
		return weighed{}, err
	}
	counts := slices.Clone(state.Counts)
	for _, c := range s.History.Counts {
		if c.Method == sampling.Knockdown && c.Date > on && s.History.TreatedBefore(c) == on {
			counts = append(counts, c)
		}
	}
	w := weighed{before: state.Before}
	w.after, w.evidence, err = s.History.Assumptions.Weigh(w.before, counts)
	return w, err
}

// counted is a count by itself, with the interval that it alone supports.
func counted(s *ask.Question, c sampling.Count, level float64, kind sampling.IntervalKind) (countedJSON, error) {
	missing := show.Number(math.NaN())
	out := countedJSON{Method: c.Method, Mites: c.Mites, Date: c.Date, Bees: missing, BeesCV: missing, Days: missing, PerHundred: missing, FallPerDay: missing}
	switch c.Method {
	case sampling.Board:
		fall, err := s.BoardFallOver(c.Hive)
		if err != nil {
			return out, err
		}
		out.Days, out.FallPerDay = show.Number(c.DaysOnBoard()), show.Number(c.FallPerDay())
		board := say.BoardOf(fall, !c.Hive.Broodless)
		out.Board = &board
		return out, nil
	case sampling.Knockdown:
		reading, err := s.KnockdownReading(c)
		if err != nil {
			return out, err
		}
		on := s.History.TreatedBefore(c)
		d, err := weigh(s, on)
		if err != nil {
			return out, err
		}
		median, low, high := reading.Killed(d.after, level)
		out.Days, out.FallPerDay = show.Number(c.DaysOnBoard()), show.Number(c.FallPerDay())
		out.Knockdown = &knockdownJSON{reading, on, d.after.Summary(level), killedJSON{median, low, high}}
		return out, nil
	}
	bees, cv, err := s.BeesOf(c)
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
	s, t := e.Estimate, e.Threshold
	return show.CSV{
		Head: []string{"counts", "date", "median", "mean", "low", "high", "level", "watch", "act", "chance_over_watch", "chance_over_act", "call", "next_look"},
		Rows: [][]any{{strings.Join(counts, " "), e.Date, s.Median, s.Mean, s.Low, s.High, s.Level, t.Watch, t.Act, e.ChanceOver.Watch, e.ChanceOver.Act, string(e.Verdict.Call), e.Verdict.NextLook}},
	}
}

func (e *estimated) print(w io.Writer, p show.Page) {
	for i, c := range e.counts {
		fmt.Fprint(w, p.Hang(e.Counts[i].line(e.Name(c), c), 0, 2))
	}
	s := e.Estimate
	f := show.Levels(s.Low, s.High, s.Low, s.Median, s.High)
	whom := "The colony"
	if e.Now != nil {
		whom = "The colony just before the treatment of " + show.Day(e.Date)
	}
	fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("%s, on the scale of a careful alcohol wash: %s mites per hundred bees (%s to %s, %s credible interval).",
		whom, p.Paint(show.Known, f[1]), f[0], f[2], say.Percent(s.Level)), 0))
	if len(e.counts) > 1 {
		fmt.Fprint(w, "\n", e.evidenceTable(p))
	}
	levels, heights := e.shown.Curve()
	fmt.Fprint(w, "\n", p.Density(show.Density{Levels: levels, Heights: heights, Marks: say.Marks(e.Question), Low: s.Low, Median: s.Median, High: s.High}))
	t := e.Threshold
	fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("Chance of being over watch %s: %s. Over act %s: %s.",
		show.Plain(t.Watch), show.Percent(e.ChanceOver.Watch), show.Plain(t.Act), show.Percent(e.ChanceOver.Act)), 0))
	e.printFalls(w, p)
	fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("Call: %s, because %s.", p.Paint(show.Strong, string(e.Verdict.Call)), e.Verdict.Because), 0))
	fmt.Fprint(w, p.Wrap("Next look: "+show.Day(e.Verdict.NextLook)+".", 0))
	fmt.Fprint(w, "\n", p.Wrap(say.LineWords(e.Question), 0))
	fmt.Fprint(w, p.Wrap("Read with: "+e.readWith()+". halfcup sources tells where the figures come from.", 0))
	for _, s := range e.own {
		fmt.Fprint(w, p.Hang("Your own: "+s+".", 0, 2))
	}
	e.printSteps(w, p)
}

// line tells one count and what it says by itself.
func (j countedJSON) line(name string, c sampling.Count) string {
	head := fmt.Sprintf("%s, %s: ", name, c.Method.Title())
	if j.Interval == nil {
		cells := ""
		if c.Cells.Of > 0 {
			cells = fmt.Sprintf("on %d of %d cells ", c.Cells.Counted, c.Cells.Of)
		}
		return head + fmt.Sprintf("%s %sin %s days, %s a day.", show.Many(c.Mites, "mite", "mites"), cells, show.Plain(math.Round(10*float64(j.Days))/10), show.Level(float64(j.FallPerDay)))
	}
	in := j.Interval
	f := show.Levels(in.Low, in.High, in.Low, float64(j.PerHundred), in.High)
	about := ""
	if j.BeesCV > 0 {
		about = "about "
	}
	return head + fmt.Sprintf("%s in %s%.0f bees, %s per hundred as counted (%s to %s, %s %s interval).",
		show.Many(c.Mites, "mite", "mites"), about, float64(j.Bees), f[1], f[0], f[2], say.Percent(in.Level), kindNames[in.Kind])
}

var kindNames = map[sampling.IntervalKind]string{
	sampling.Garwood:        "exact Garwood",
	sampling.ClopperPearson: "exact Clopper-Pearson",
	sampling.Wilson:         "Wilson",
	sampling.Jeffreys:       "Jeffreys",
	sampling.MidP:           "mid-P",
}

func (e *estimated) evidenceTable(p show.Page) string {
	t := show.Table{Columns: []show.Column{{Name: "count"}, {Name: "before", Right: true}, {Name: "after", Right: true}, {Name: "what it did", Flow: true}}}
	for _, ev := range e.State.Evidence {
		t.Rows = append(t.Rows, []string{e.Name(ev.Count), show.Level(ev.MedianBefore), show.Level(ev.MedianAfter), moved(ev.MedianBefore, ev.MedianAfter)})
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

// tooSurprising is the chance below which a rise is not passed over in silence.
const tooSurprising = 0.01

func (e *estimated) warnings(today sampling.Date) []string {
	out := slices.Clone(e.Unread)
	for _, c := range e.counts {
		if c.Date > today {
			out = append(out, fmt.Sprintf("%s is dated %s, which is still to come: check the date.", c.String(), show.Day(c.Date)))
		}
	}
	if d, err := weigh(e.Question, e.State.Counted); err == nil && !e.State.Counted.IsZero() {
		for i := range d.evidence {
			if c := &d.evidence[i].Count; c.Date == e.State.Day {
				c.Date = 0 // as it was typed
			}
		}
		for _, w := range e.History.Assumptions.Warnings(d.before, d.after, d.evidence, e.Estimate.Level) {
			out = append(out, w.Text)
		}
	}
	if e.rise < tooSurprising {
		out = append(out, e.riseWarning())
	}
	return out
}

// riseWarning points out that mites rose faster than they breed, and tells
// whether mites from neighbours would explain it.
func (e *estimated) riseWarning() string {
	s := fmt.Sprintf("The last count is a sudden rise: by what was known before, a count so high had a chance of %s.", show.Percent(e.rise))
	if e.History.Arrivals > 0 {
		return s + " Not even the arrivals you gave explain it; check the figures."
	}
	h := e.History
	h.Arrivals, _ = decide.Arrivals("many")
	if state, err := h.On(e.State.Day); err == nil {
		if p, err := h.Rise(state); err == nil && p >= tooSurprising {
			return s + fmt.Sprintf(" Mites coming in from failing hives nearby, %s a day, would explain it (chance %s).", show.Plain(h.Arrivals), show.Percent(p))
		}
	}
	return s + " Mites from neighbours at an ordinary rate would not explain it either; check the figures, and look for a hive nearby that is being robbed."
}

func (e *estimated) closing() string { return say.ToDo(e.Question, e.judgement) }

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
	carries := "carries"
	if e.Now != nil {
		carries = "carried, just before the treatment,"
	}
	line := "The line is " + say.LineSource(e.Threshold) + "."
	return fmt.Sprintf("What you counted is a handful out of a whole hive. Allowing for luck, and %s, this colony most likely %s about %s mites on every hundred bees; it would be odd if it were under %s or over %s. %s of %s per hundred. %s %s",
		allowed, carries, f[1], f[0], f[2], say.Capital(show.OfHundred(e.ChanceOver.Act, "colonies with "+e.this(), "over the line")), show.Plain(e.Threshold.Act), line, wrong)
}
