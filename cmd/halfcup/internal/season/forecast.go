package season

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func forecastCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "forecast",
		Category:  line.GroupSeason,
		Usage:     "how the mites of a colony will go on",
		ArgsUsage: "[COUNT...]",
		UsageText: "halfcup forecast wash:4/300@2026-07-01 --treat 2026-08-15:oxalic-vapour",
		Description: "Carries what the counts say through the coming weeks: mites breed, bees come and go with the season, and mites arrive from other colonies. " +
			"A count without a date is of today. The counts may be of different days; with --colony those of the record come first, and its treatments count as well. A planned treatment is DATE:TREATMENT and may be given several times.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "colony", Usage: "take the colony `NAME` from the record"},
			&cli.StringFlag{Name: "yard", Usage: "its yard, `NAME`, when two yards have a colony of that name"},
			&cli.StringFlag{Name: "days", Value: "56", Usage: "how far to look ahead, `DAYS`"},
			&cli.StringFlag{Name: "arrivals", Value: "few", Usage: "mites a day that come from other colonies, `none|few|many` or a number: few is 2, many is 8; beside a collapsing colony it can be 75"},
			&cli.StringSliceFlag{Name: "treat", Usage: "a treatment given or planned, `DATE:TREATMENT`, may be repeated"},
			&cli.StringFlag{Name: "level", Value: "0.8", Usage: "how much of what may come lies in the band, `LEVEL`"},
			&cli.StringFlag{Name: "plot", Usage: "draw it into `FILE.svg` as well"},
		}, ask.ThresholdFlags(), ask.SeasonFlags(), ask.AssumptionFlags(), ask.CountFlags()),
		Action: func(c *cli.Context) error {
			f, err := forecast(sh, c)
			if err != nil {
				return err
			}
			if err := f.draw(sh, c.String("plot")); err != nil {
				return err
			}
			return sh.Write(line.Answer{
				Schema:   "halfcup.forecast/1",
				JSON:     f.json(),
				CSV:      f.csv(),
				Text:     func(w io.Writer) { f.text(w, sh.Page) },
				Warnings: f.warnings(),
				Explain:  f.explain(),
				Closing:  f.closing(),
			})
		},
	}
}

// treatmentDays reads --treat.
func treatmentDays(c *cli.Context) ([]decide.TreatmentDay, error) {
	var out []decide.TreatmentDay
	for _, text := range c.StringSlice("treat") {
		dateText, name, found := strings.Cut(text, ":")
		if !found {
			return nil, line.BadValue("treat", text, "a planned treatment is a day and a treatment", "write it like 2026-08-15:oxalic-vapour")
		}
		on, err := sampling.ParseDate(dateText)
		if err != nil {
			return nil, line.InFlag("treat", line.Within(text, 0, err))
		}
		t, err := sampling.FindTreatment(name)
		if err != nil {
			return nil, line.InFlag("treat", line.Within(text, len(dateText)+1, err))
		}
		out = append(out, decide.TreatmentDay{On: on, Treatment: t})
	}
	return out, nil
}

// forecasted is everything the answer is written from.
type forecasted struct {
	today   sampling.Date
	counts  []sampling.Count
	rules   ask.Rules
	history decide.History
	state   decide.State
	unread  []string // counts of the record that were left out, a sentence each
	level   float64
	limits  [3][]float64 // low, middle and high of each day, per hundred

	ahead   outlook
	without outlook // the same with no mites from outside
}

// outlook is a forecast with the two days that matter, zero when they are not
// within it.
type outlook struct {
	days                []decide.Outlook
	overHalf, regretDay sampling.Date
}

func forecast(sh *line.Shell, c *cli.Context) (*forecasted, error) {
	f := &forecasted{today: sh.Today}
	var err error
	if name := c.String("plot"); c.IsSet("plot") && filepath.Ext(name) != ".svg" {
		return nil, line.BadValue("plot", name, "the picture is an SVG file", "give it a name that ends in .svg")
	}
	if c.NArg() == 0 && !c.IsSet("colony") {
		return nil, line.TooFew("forecast needs a count to start from, or a colony of the record", "halfcup forecast wash:4/300@2026-07-01")
	}
	typed, err := datedCounts(sh, c)
	if err != nil {
		return nil, err
	}
	days, err := line.Whole(c, "days", 7, 365)
	if err != nil {
		return nil, err
	}
	if f.level, err = line.Number(c, "level", nil, 0.5, 0.999); err != nil {
		return nil, err
	}
	treatments, err := treatmentDays(c)
	if err != nil {
		return nil, err
	}
	if f.rules, err = ask.ReadRules(sh, c); err != nil {
		return nil, err
	}
	h := history.Colony{History: f.rules.Blank}
	if c.IsSet("colony") {
		if h, err = ask.RecordedColony(sh, c, f.rules, f.today); err != nil {
			return nil, err
		}
	}
	f.history, f.unread = h.History, h.Unread
	f.history.Counts = append(f.history.Counts, typed...)
	f.history.Treatments = append(f.history.Treatments, treatments...)
	if f.history.Arrivals, err = ask.ReadArrivals(c); err != nil {
		return nil, err
	}
	f.counts = f.history.Counts
	if f.ahead, f.state, err = f.look(f.history, days); err != nil {
		return nil, err
	}
	if f.without, _, err = f.look(withoutArrivals(f.history), days); err != nil {
		return nil, err
	}
	for _, d := range f.ahead.days {
		q := d.Quantiles((1-f.level)/2, 0.5, (1+f.level)/2)
		for i := range f.limits {
			f.limits[i] = append(f.limits[i], 100*q[i])
		}
	}
	return f, nil
}

func withoutArrivals(h decide.History) decide.History {
	h.Arrivals = 0
	return h
}

// datedCounts reads the counts; one without a date is of today.
func datedCounts(sh *line.Shell, c *cli.Context) ([]sampling.Count, error) {
	counts, err := ask.ReadCounts(c)
	if err != nil {
		return nil, err
	}
	for i := range counts {
		if counts[i].Date.IsZero() {
			counts[i].Date = sh.Today
		}
		if counts[i].Date > sh.Today {
			return nil, &show.Problem{What: fmt.Sprintf("%s is dated %s, which is still to come", counts[i], show.Day(counts[i].Date)), Remedy: "check the date of the count"}
		}
	}
	return counts, nil
}

func (f *forecasted) look(h decide.History, days int) (o outlook, s decide.State, err error) {
	if s, err = h.On(f.today); err != nil {
		return o, s, err
	}
	if o.days, err = s.Ahead(days, ask.LineOf(f.rules.Lines, h.Season)); err != nil {
		return o, s, err
	}
	o.overHalf = decide.OverHalf(o.days)
	o.regretDay, err = decide.RegretDay(o.days, f.rules.MissCost)
	return o, s, err
}

func (f *forecasted) chart() show.TimeChart {
	t := show.TimeChart{Today: f.today, Band: fmt.Sprintf("%s of what may come", say.Percent(f.level)), LineName: "the line to act", Low: f.limits[0], Mid: f.limits[1], High: f.limits[2]}
	for _, d := range f.ahead.days {
		t.Dates, t.Line = append(t.Dates, d.Date), append(t.Line, d.Act)
	}
	last := t.Dates[len(t.Dates)-1]
	for _, tr := range f.history.Treatments {
		if tr.On >= f.today && tr.On <= last {
			t.Events = append(t.Events, show.Event{Date: tr.On, Label: tr.Treatment.TreatmentName.String()})
		}
	}
	return t
}

func (f *forecasted) draw(sh *line.Shell, name string) error {
	if name == "" {
		return nil
	}
	return sh.Files.Write(name, []byte(show.Marked(string(f.chart().SVG("mites ahead, from "+countTexts(f.counts))))), ".svg")
}

func countTexts(counts []sampling.Count) string {
	var texts []string
	for _, c := range counts {
		texts = append(texts, c.String())
	}
	return strings.Join(texts, " ")
}

func (f *forecasted) text(w io.Writer, page show.Page) {
	now := show.Levels(f.limits[0][0], f.limits[2][0], f.limits[0][0], f.limits[1][0], f.limits[2][0])
	fmt.Fprint(w, page.Wrap(fmt.Sprintf("From %s: now %s mites per hundred bees (%s to %s), with %s mites a day from other colonies.", countTexts(f.counts), page.Paint(show.Known, now[1]), now[0], now[2], show.Plain(f.history.Arrivals)), 0))
	fmt.Fprint(w, "\n"+page.TimeChart(f.chart())+"\n")

	t := show.Table{Columns: []show.Column{{Name: "day"}, {Name: "middle", Right: true}, {Name: say.Percent(f.level) + " lie in", Right: true}, {Name: "the line", Right: true}, {Name: "chance over it", Right: true}}}
	step := max(7, (len(f.ahead.days)+6)/7/7*7) // whole weeks, about eight rows
	for i := 0; i < len(f.ahead.days); i += step {
		d := f.ahead.days[i]
		l := show.Levels(f.limits[0][i], f.limits[2][i], f.limits[0][i], f.limits[1][i], f.limits[2][i])
		t.Rows = append(t.Rows, []string{show.Day(d.Date), l[1], l[0] + " to " + l[2], show.Plain(d.Act), show.Percent(d.OverAct())})
	}
	fmt.Fprint(w, page.Table(t))

	fmt.Fprint(w, "\n"+page.Hang("The chance of being over the line passes one half: "+f.tell(f.ahead.overHalf)+".", 0, 2))
	fmt.Fprint(w, page.Hang("Treating becomes the lesser regret: "+f.tell(f.ahead.regretDay)+".", 0, 2))
	if f.history.Arrivals > 0 {
		fmt.Fprint(w, page.Hang(fmt.Sprintf("With no mites from outside: %s, and %s.", f.tell(f.without.overHalf), f.tell(f.without.regretDay)), 0, 2))
	}
}

// tell is a day and how far off it is.
func (f *forecasted) tell(d sampling.Date) string {
	switch d {
	case 0:
		return fmt.Sprintf("not in these %d days", len(f.ahead.days)-1)
	case f.today:
		return "today already"
	}
	return show.Day(d) + ", " + show.FromToday(f.today, d)
}

const (
	oldCount  = 30 // days after which a count says little of today
	lostLevel = 20 // mites per hundred that no colony stands for long
)

func (f *forecasted) warnings() []string {
	out := slices.Concat(f.rules.LeftOut, f.unread)
	if age := int(f.today - f.state.Counted); len(f.counts) > 0 && age > oldCount {
		out = append(out, fmt.Sprintf("The last count is %d days old. A new one tells more than any forecast from it.", age))
	}
	out = append(out, "Mites that come in from collapsing colonies can overtake any forecast: 0.7 to 76 a day have been measured, most of them after midsummer (Greatti et al. 1992, Exp Appl Acarol 16:279-286; Frey & Rosenkranz 2014, J Econ Entomol 107:508-515).")
	if slices.Max(f.limits[1]) > lostLevel {
		out = append(out, fmt.Sprintf("Figures above %d per hundred say only that the colony would be lost: nothing here knows of its collapse.", lostLevel))
	}
	if f.history.Treatments != nil {
		out = append(out, "What a treatment will kill is a guess, and wide. Treat as the label says; with honey supers on, the label and the law decide whether at all.")
	}
	return out
}

func (f *forecasted) closing() string {
	switch r := f.ahead.regretDay; {
	case r == f.today:
		return "Today already, leaving this colony is likely to cost more than a treatment; with honey supers on, the label and the law decide what may be given."
	case r.IsZero():
		return fmt.Sprintf("No day of these %d calls for a treatment by this forecast; count again within a month all the same.", len(f.ahead.days)-1)
	default:
		return fmt.Sprintf("Count again by %s at the latest: from then on leaving is likely to cost more than a treatment.", show.Day(r))
	}
}

// explain tells it to a learner, without a word of statistics.
func (f *forecasted) explain() string {
	last := f.ahead.days[len(f.ahead.days)-1]
	mid := last
	for _, d := range f.ahead.days {
		if d.Date <= f.today+28 {
			mid = d
		}
	}
	line := "That line is your own."
	if t, _ := decide.In(f.rules.Lines, f.history.Season.Phase(mid.Date)); t.Set != "own" {
		line = fmt.Sprintf("That line is from the set %s (%s).", t.Set, t.Kind)
	}
	doubling := f.history.Rates.Stable(decide.FullBrood).DoublingDays
	return fmt.Sprintf("Mites breed in the brood and double in about %.0f days, while the number of bees rises and falls with the season. Carried on from what you counted: %s of %s per hundred on %s. %s A treatment shows as a drop, and with brood much of it comes back as mites come out of the cells. It goes wrong when brood or bees are unlike other years, and most of all when a neighbour's colony collapses and its mites move in.",
		doubling, show.OfHundred(mid.OverAct(), "colonies like this", "over the line"), show.Plain(mid.Act), show.Day(mid.Date), line)
}

type forecastJSON struct {
	Counts          []string           `json:"counts"`
	Level           float64            `json:"level"`
	ArrivalsPerDay  float64            `json:"arrivals_per_day"`
	Treatments      []treatmentDayJSON `json:"treatments"`
	Days            []forecastDayJSON  `json:"days"`
	OverHalf        sampling.Date      `json:"over_half"`
	RegretDay       sampling.Date      `json:"regret_day"`
	WithoutArrivals outlookJSON        `json:"without_arrivals"`
	Thresholds      []decide.Threshold `json:"thresholds"`
	MissCost        float64            `json:"miss_cost"`
	Assumptions     []sampling.Source  `json:"assumptions"`
}

type treatmentDayJSON struct {
	Date      sampling.Date `json:"date"`
	Treatment string        `json:"treatment"`
}

type forecastDayJSON struct {
	Date          sampling.Date `json:"date"`
	Median        float64       `json:"median"`
	Low           float64       `json:"low"`
	High          float64       `json:"high"`
	Act           float64       `json:"act"`
	ChanceOverAct float64       `json:"chance_over_act"`
}

type outlookJSON struct {
	OverHalf  sampling.Date `json:"over_half"`
	RegretDay sampling.Date `json:"regret_day"`
}

func (f *forecasted) json() forecastJSON {
	out := forecastJSON{
		Level: f.level, ArrivalsPerDay: f.history.Arrivals, Treatments: []treatmentDayJSON{},
		OverHalf: f.ahead.overHalf, RegretDay: f.ahead.regretDay, WithoutArrivals: outlookJSON{f.without.overHalf, f.without.regretDay},
		Thresholds: f.rules.Lines, MissCost: f.rules.MissCost,
		Assumptions: slices.Concat(f.rules.Sources(f.counts...), slices.DeleteFunc(decide.Sources(), func(s sampling.Source) bool { return strings.HasPrefix(s.Name, "trial_") })),
	}
	for _, c := range f.counts {
		out.Counts = append(out.Counts, c.String())
	}
	for _, t := range f.history.Treatments {
		out.Treatments = append(out.Treatments, treatmentDayJSON{t.On, t.Treatment.Slug})
	}
	for i, d := range f.ahead.days {
		out.Days = append(out.Days, forecastDayJSON{d.Date, f.limits[1][i], f.limits[0][i], f.limits[2][i], d.Act, d.OverAct()})
	}
	return out
}

func (f *forecasted) csv() show.CSV {
	out := show.CSV{Head: []string{"date", "median", "low", "high", "act", "chance_over_act"}}
	for _, d := range f.json().Days {
		out.Rows = append(out.Rows, []any{d.Date, d.Median, d.Low, d.High, d.Act, d.ChanceOverAct})
	}
	return out
}
