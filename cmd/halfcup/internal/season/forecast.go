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
		Description: "Carries what is known today through the coming weeks: mites breed, bees come and go with the season, and mites arrive from other colonies. " +
			"It begins where halfcup estimate ends: counts on the line are of today when they have no date, and with --colony they are added to the record's. A treatment is DATE:TREATMENT and may be given several times: of today or later it is a plan, of earlier days it was given.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "days", Value: "56", Usage: "how far to look ahead, `DAYS`"},
			&cli.StringSliceFlag{Name: "treat", Usage: "a treatment that is planned, or was given, `DATE:TREATMENT`, may be repeated"},
			&cli.StringFlag{Name: "level", Value: "0.8", Usage: "how much of what may come lies in the band, `LEVEL`"},
			&cli.StringFlag{Name: "plot", Usage: "draw it into `FILE.svg` as well"},
		}, ask.QuestionFlags()),
		Action: func(c *cli.Context) error { return forecastAnswer(sh, c) },
	}
}

func forecastAnswer(sh *line.Shell, c *cli.Context) error {
	f, err := readForecast(sh, c)
	if err != nil {
		return err
	}
	if name := c.String("plot"); name != "" {
		if err := sh.Files.Write(name, []byte(show.Marked(string(f.chart().SVG("mites ahead, "+f.Whom())))), ".svg"); err != nil {
			return err
		}
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.forecast/3",
		JSON:     f.json(),
		CSV:      f.csv(),
		Text:     func(w io.Writer) { f.print(w, sh.Page, sh.Settings.LimitsLevel()) },
		Warnings: f.warnings(),
		Explain:  f.explain(),
	})
}

// forecast is what is known of a colony today and of the days to come.
type forecast struct {
	say.Standing
	asked *ask.Question

	level     float64               // of the band of what may come
	treats    []decide.TreatmentDay // said on the line
	ahead     outlook
	unvisited outlook      // the same with no mites from other colonies
	limits    [3][]float64 // low, most likely and high of each day, per hundred
}

// outlook is the days to come with the two that matter, zero when they are not
// among them.
type outlook struct {
	days               []decide.Outlook
	overHalf, treatDay sampling.Date
}

func readForecast(sh *line.Shell, c *cli.Context) (*forecast, error) {
	f := &forecast{}
	if name := c.String("plot"); c.IsSet("plot") && filepath.Ext(name) != ".svg" {
		return nil, line.BadValue("plot", name, "the picture is an SVG file", "give it a name that ends in .svg")
	}
	if c.NArg() == 0 && !c.IsSet("colony") {
		return nil, line.TooFew("forecast needs a count to start from, or a colony of the record", "halfcup forecast wash:4/300@2026-07-01")
	}
	days, err := line.Whole(c, "days")
	if err != nil {
		return nil, err
	}
	if f.level, err = line.Number(c, "level", nil); err != nil {
		return nil, err
	}
	if f.treats, err = treatmentDays(c, sh.Today); err != nil {
		return nil, err
	}
	q, err := ask.ReadColony(sh, c)
	if err != nil {
		return nil, err
	}
	k := &q.Apiary.Colonies[q.Place]
	k.Treatments = append(slices.Clone(k.Treatments), f.treats...)
	if err := q.Answer(sh.Today); err != nil {
		return nil, err
	}
	f.asked = q
	if f.Standing, err = say.NewStanding(q.Standing); err != nil {
		return nil, err
	}
	if f.ahead, err = f.look(f.Ahead(days)); err != nil {
		return nil, err
	}
	for _, d := range f.ahead.days {
		limits := d.Quantiles((1-f.level)/2, 0.5, (1+f.level)/2)
		for i := range f.limits {
			f.limits[i] = append(f.limits[i], 100*limits[i])
		}
	}
	if k.Arrivals == 0 {
		f.unvisited = f.ahead
		return f, nil
	}
	f.unvisited, err = f.look(f.Unvisited(days))
	return f, err
}

func (f *forecast) look(ahead []decide.Outlook, err error) (outlook, error) {
	return outlook{ahead, decide.OverHalf(ahead), f.TreatDay(ahead)}, err
}

// treatmentDays reads --treat: a plan from today on, before it what was given.
func treatmentDays(c *cli.Context, today sampling.Date) ([]decide.TreatmentDay, error) {
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
		out = append(out, decide.TreatmentDay{On: on, Treatment: t, Planned: on >= today})
	}
	return out, nil
}

// treatments are those of the colony on the days shown, in their order.
func (f *forecast) treatments() []decide.TreatmentDay {
	var out []decide.TreatmentDay
	last := f.ahead.days[len(f.ahead.days)-1].Date
	for _, t := range decide.Acting(f.asked.Apiary.Colonies[f.asked.Place].Treatments, f.Day) {
		if t.On >= f.Day && t.On <= last {
			out = append(out, t)
		}
	}
	slices.SortStableFunc(out, func(a, b decide.TreatmentDay) int { return int(a.On - b.On) })
	return out
}

func (f *forecast) chart() show.TimeChart {
	t := show.TimeChart{Today: f.Day, Band: say.Percent(f.level) + " of what may come", LineName: "line to act", Low: f.limits[0], Mid: f.limits[1], High: f.limits[2]}
	for _, d := range f.ahead.days {
		t.Dates, t.Line = append(t.Dates, d.Date), append(t.Line, d.Act)
	}
	for _, tr := range f.treatments() {
		t.Events = append(t.Events, show.Event{Date: tr.On, Label: tr.Treatment.TreatmentName.String()})
	}
	return t
}

// print tells today with the limits of every other answer: those of the band are
// of what may come.
func (f *forecast) print(w io.Writer, p show.Page, limits float64) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, f.First()), 0))
	if f.HasLevel() {
		fmt.Fprint(w, f.Level(p, f.Known.Summary(limits)))
	}
	fmt.Fprint(w, "\n"+p.TimeChart(f.chart())+"\n")
	for _, s := range f.told() {
		fmt.Fprint(w, p.Hang(s, 0, 2))
	}
}

// told is what the picture shows, at most three short sentences.
func (f *forecast) told() []string {
	half := "More likely over the line than not: " + f.when(f.ahead.overHalf) + "."
	if f.Call == decide.UnderTreatment { // nothing is to be added to it
		return []string{half}
	}
	out := []string{half, "Treating is the smaller risk: " + f.when(f.ahead.treatDay) + "."}
	if f.unvisited.treatDay != f.ahead.treatDay {
		out = append(out, "With no mites from other colonies: "+f.when(f.unvisited.treatDay)+".")
	}
	return out
}

// when is a day and how far off it is.
func (f *forecast) when(d sampling.Date) string {
	switch d {
	case 0:
		return fmt.Sprintf("not in these %d days", len(f.ahead.days)-1)
	case f.Day:
		return "today already"
	}
	return "from " + say.ShortDay(d) + " on, " + show.FromToday(f.Day, d)
}

// lostLevel is a level in mites per hundred that no colony stands for long.
const lostLevel = 20

func (f *forecast) warnings() []say.Warning {
	out := say.Warn(say.LeftOut, f.asked.Unread...)
	if slices.Max(f.limits[1]) > lostLevel {
		out = append(out, say.Warn(say.Limits, fmt.Sprintf("Above %d per hundred a colony is lost; nothing here knows of its collapse.", lostLevel))...)
	}
	var given []string
	for _, t := range f.treatments() {
		if !slices.Contains(given, t.Treatment.Slug) {
			given = append(given, t.Treatment.Slug)
		}
	}
	if len(given) > 0 {
		out = append(out, say.Warn(say.Caution, say.Cautions(given...)...)...)
		out = append(out, say.Warning{Kind: say.Limits, Text: "What a treatment will kill is a guess, and wide."})
	}
	return out
}

const forecastWhy = "Mites breed in the brood, while the number of bees rises and falls with the season; %s mites a day are taken to come in from other colonies. " +
	"Carried on from what is known today: %s of %s per hundred on %s. " +
	"A treatment shows as a drop, and with brood much of it comes back as mites come out of the cells. " +
	"It goes wrong when brood or bees are unlike other years, and most of all when a neighbour's colony collapses: up to 76 mites a day have been measured then " +
	"(Greatti et al. 1992, Exp Appl Acarol 16:279-286; Frey & Rosenkranz 2014, J Econ Entomol 107:508-515)."

// explain tells it to a learner, without a word of statistics.
func (f *forecast) explain() string {
	mid := f.ahead.days[min(28, len(f.ahead.days)-1)]
	return fmt.Sprintf(forecastWhy,
		show.Plain(f.asked.Apiary.Colonies[f.asked.Place].Arrivals), show.OfHundred(mid.OverAct(), "colonies like this", "over the line"), say.Line(mid.Act), say.ShortDay(mid.Date))
}

// forecastJSON is halfcup.forecast/3. The first of the days is today.
type forecastJSON struct {
	Colony *string       `json:"colony"`
	Date   sampling.Date `json:"date"`
	say.Judgement
	Level           float64            `json:"level"`
	ArrivalsPerDay  float64            `json:"arrivals_per_day"`
	Treatments      []treatmentDayJSON `json:"treatments"` // planned, on the days shown
	Days            []forecastDayJSON  `json:"days"`
	OverHalf        sampling.Date      `json:"over_half"`
	TreatDay        sampling.Date      `json:"treat_day"` // from which treating is the lesser regret
	WithoutArrivals outlookJSON        `json:"without_arrivals"`
	Assumptions     []sampling.Source  `json:"assumptions"`
}

type treatmentDayJSON struct {
	Date      sampling.Date `json:"date"`
	Treatment string        `json:"treatment"`
}

type forecastDayJSON struct {
	Date sampling.Date `json:"date"`
	levels
	Act             float64 `json:"act_per_hundred"`
	Watch           float64 `json:"watch_per_hundred"`
	ChanceOverAct   float64 `json:"chance_over_act"`
	ChanceOverWatch float64 `json:"chance_over_watch"`
}

type outlookJSON struct {
	OverHalf sampling.Date `json:"over_half"`
	TreatDay sampling.Date `json:"treat_day"`
}

func (f *forecast) json() forecastJSON {
	k := f.asked.Apiary.Colonies[f.asked.Place]
	out := forecastJSON{
		Colony: say.Said(f.Colony), Date: f.Day, Judgement: say.JudgementOf(f.Standing),
		Level: f.level, ArrivalsPerDay: k.Arrivals, Treatments: []treatmentDayJSON{},
		OverHalf: f.ahead.overHalf, TreatDay: f.ahead.treatDay, WithoutArrivals: outlookJSON{f.unvisited.overHalf, f.unvisited.treatDay},
		Assumptions: slices.Concat(f.asked.Sources(k.Counts...), modelSources()),
	}
	for _, t := range f.treatments() {
		out.Treatments = append(out.Treatments, treatmentDayJSON{t.On, t.Treatment.Slug})
	}
	for i, d := range f.ahead.days {
		watch := f.LineOn(d.Date).Watch
		out.Days = append(out.Days, forecastDayJSON{d.Date, levels{f.limits[1][i], f.limits[0][i], f.limits[2][i]}, d.Act, watch, d.OverAct(), d.Over(watch / 100)})
	}
	return out
}

// modelSources are the figures that days to come are worked out from.
func modelSources() []sampling.Source {
	return slices.DeleteFunc(decide.Sources(), func(s sampling.Source) bool { return strings.HasPrefix(s.Name, "trial_") })
}

func (f *forecast) csv() show.CSV {
	out := show.CSV{Head: []string{"date", "median_per_hundred", "low_per_hundred", "high_per_hundred", "act_per_hundred", "chance_over_act"}}
	for _, d := range f.json().Days {
		out.Rows = append(out.Rows, []any{d.Date, d.Median, d.Low, d.High, d.Act, d.ChanceOverAct})
	}
	return out
}
