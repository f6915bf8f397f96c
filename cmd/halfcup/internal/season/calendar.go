package season

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func calendarCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "calendar",
		Category:  line.GroupSeason,
		Usage:     "the year ahead: when to look, when treatments can do their work",
		UsageText: "halfcup calendar --yard mill --ics mill.ics",
		Description: "Lays out looks, follow-up counts and the times in which a treatment can do its work, from the dates of your season and the forecasts of the colonies in the record. " +
			"A yard with many mites is seen earlier, and a look that was made moves the next one. " +
			"With --ics the plan is also written for a calendar program; importing it again moves the events instead of doubling them. " +
			"Without a record it is the plan for colonies that nobody has counted.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "only the yard `NAME`"},
			&cli.StringFlag{Name: "days", Value: "365", Usage: "how far ahead, `DAYS`"},
			&cli.StringSliceFlag{Name: "flow", Usage: "supers on and off, `MM-DD..MM-DD`, may be repeated", DefaultText: "as in the record; else from two months after buildup begins until a week before decline"},
			&cli.StringFlag{Name: "summer", Value: "formic-evaporation", Usage: "what the forecasts take to be given after the harvest, `NAME`"},
			&cli.StringFlag{Name: "winter", Value: "oxalic-vapour", Usage: "what they take to be given without brood, `NAME`"},
			&cli.StringFlag{Name: "ics", Usage: "write it as iCalendar into `FILE.ics` as well"},
		}, ask.RulesFlags()),
		Action: func(c *cli.Context) error {
			a, err := calendar(sh, c)
			if err != nil {
				return err
			}
			if name := c.String("ics"); c.IsSet("ics") {
				if err := sh.Files.Write(name, []byte(show.Marked(a.ics())), ".ics"); err != nil {
					return err
				}
			}
			return sh.Write(line.Answer{
				Schema:   "halfcup.calendar/1",
				JSON:     a.json(),
				CSV:      a.csv(),
				Text:     func(w io.Writer) { a.text(w, sh.Page) },
				Warnings: a.warnings(),
				Explain:  a.explain(),
				Closing:  a.closing(),
			})
		},
	}
}

// yearPlan is everything the answer is written from.
type yearPlan struct {
	ask.Rules
	decide.Calendar
	events     []decide.Event
	supersFrom string   // where the dates of the supers come from
	unread     []string // counts of the record that were left out
	yards      int
}

func calendar(sh *line.Shell, c *cli.Context) (*yearPlan, error) {
	if name := c.String("ics"); c.IsSet("ics") && filepath.Ext(name) != ".ics" {
		return nil, line.BadValue("ics", name, "calendar programs know the file by its ending", "give it a name that ends in .ics")
	}
	if c.NArg() > 0 {
		return nil, &show.Problem{What: "calendar reads the record, not counts on the line", Remedy: "put the count into the record with halfcup log add"}
	}
	a := &yearPlan{}
	var err error
	if a.Rules, err = ask.ReadRules(sh, c); err != nil {
		return nil, err
	}
	a.From, a.Season = sh.Today, a.Blank.Season
	if a.Days, err = line.Whole(c, "days", 7, 366); err != nil {
		return nil, err
	}
	for _, f := range []struct {
		name string
		into *sampling.Treatment
	}{{"summer", &a.Summer}, {"winter", &a.Winter}} {
		if *f.into, err = sampling.FindTreatment(c.String(f.name)); err != nil {
			return nil, line.InFlag(f.name, err)
		}
	}
	rec, err := ask.OpenRecord(sh)
	if err != nil {
		return nil, err
	}
	if rec == nil && c.IsSet("yard") {
		return nil, &show.Problem{What: "there is no record " + sh.LogFile + " to find a yard in", Remedy: "begin one with halfcup log add, or name it with --log"}
	}
	if rec != nil {
		ask.Doubt(sh, rec, coloniesIn(rec, c)...)
	}
	if err := a.colonies(c, rec); err != nil {
		return nil, err
	}
	if err := a.supers(c, sh, rec); err != nil {
		return nil, err
	}
	for i := range a.Colonies {
		a.Colonies[i].SupersOn = a.on(sh.Today)
	}
	a.events, err = a.Events()
	return a, err
}

// colonies takes the living colonies of the record, or one that nobody has
// counted when there is none.
func (a *yearPlan) colonies(c *cli.Context, rec *fieldlog.Record) error {
	if rec == nil {
		s, err := a.Question(history.Colony{History: a.Blank}, a.From)
		if err != nil {
			return err
		}
		a.Colonies, a.yards = []decide.Kept{{Situation: s.Situation}}, 1
		return nil
	}
	yards := map[string]bool{}
	for _, colony := range rec.Colonies() {
		if c.IsSet("yard") && fieldlog.SameName(colony.Yard) != fieldlog.SameName(c.String("yard")) {
			continue
		}
		s, err := a.Colony(rec, colony.Yard, colony.Name, a.From)
		if err != nil {
			return err
		}
		if !s.Died.IsZero() || joined(rec, colony, a.From) {
			continue
		}
		yards[colony.Yard] = true
		a.unread = append(a.unread, s.Unread...)
		a.Colonies = append(a.Colonies, decide.Kept{Yard: colony.Yard, Name: colony.Name, Situation: s.Situation})
	}
	a.yards = len(yards)
	if len(a.Colonies) == 0 {
		return &show.Problem{What: "the record has no living colony in " + strings.TrimSpace("the yard "+c.String("yard")), Remedy: "check the name of the yard and the file"}
	}
	return nil
}

// coloniesIn are those of the yard that was named, or all.
func coloniesIn(rec *fieldlog.Record, c *cli.Context) []fieldlog.Colony {
	return slices.DeleteFunc(rec.Colonies(), func(k fieldlog.Colony) bool {
		return c.IsSet("yard") && fieldlog.SameName(k.Yard) != fieldlog.SameName(c.String("yard"))
	})
}

// joined reports whether a colony was united with another and is no more.
func joined(rec *fieldlog.Record, colony fieldlog.Colony, day sampling.Date) bool {
	events, err := rec.History(colony.Yard, colony.Name)
	return err == nil && slices.ContainsFunc(events, func(e fieldlog.Event) bool {
		return e.Kind == fieldlog.United && e.Date <= day && fieldlog.SameName(e.Yard) == fieldlog.SameName(colony.Yard)
	})
}

func (a *yearPlan) on(day sampling.Date) bool {
	return slices.ContainsFunc(a.Supers, func(s decide.Supers) bool { return s.On <= day && day < s.Off })
}

// monthDays is a time of every year.
type monthDays struct{ on, off time.Time }

// supers finds out when supers are on: by --flow, the settings, the record, or
// the season.
func (a *yearPlan) supers(c *cli.Context, sh *line.Shell, rec *fieldlog.Record) error {
	var flows []monthDays
	switch own := sh.Settings.Season.Supers; {
	case c.IsSet("flow"):
		a.supersFrom = "--flow"
		for _, text := range c.StringSlice("flow") {
			f, err := parseFlow(text)
			if err != nil {
				return line.InFlag("flow", err)
			}
			flows = append(flows, f)
		}
	case own != nil:
		a.supersFrom = "your settings"
		for _, text := range strings.Split(*own, ",") {
			f, err := parseFlow(strings.TrimSpace(text))
			if err != nil {
				return sh.InSettings("season.supers", err)
			}
			flows = append(flows, f)
		}
	default:
		flows = []monthDays{a.supersOfRecord(rec)}
	}
	for year := a.From.Time().Year() - 1; year <= a.From.Time().Year()+1; year++ {
		for _, f := range flows {
			on := sampling.Day(year, f.on.Month(), f.on.Day())
			off := sampling.Day(year, f.off.Month(), f.off.Day())
			if off <= on { // over the turn of the year, in the south
				off = sampling.Day(year+1, f.off.Month(), f.off.Day())
			}
			a.Supers = append(a.Supers, decide.Supers{On: on, Off: off})
		}
	}
	return nil
}

// parseFlow reads MM-DD..MM-DD.
func parseFlow(s string) (monthDays, error) {
	const remedy = "write the day supers go on and the day they come off, such as 05-01..07-20"
	on, off, found := strings.Cut(s, "..")
	if !found {
		return monthDays{}, &sampling.SyntaxError{Input: s, Length: max(len(s), 1), Problem: "these are not two days", Remedy: remedy}
	}
	var f monthDays
	for i, part := range []string{on, off} {
		t, err := time.Parse("01-02", part)
		if err != nil {
			return f, &sampling.SyntaxError{Input: s, Offset: i * (len(on) + 2), Length: max(len(part), 1), Problem: fmt.Sprintf("%q is not a month and a day", part), Remedy: remedy}
		}
		if i == 0 {
			f.on = t
		} else {
			f.off = t
		}
	}
	if f.on.Equal(f.off) {
		return f, &sampling.SyntaxError{Input: s, Length: len(s), Problem: "supers that come off on the day they go on were never on", Remedy: remedy}
	}
	return f, nil
}

// supersOfRecord is the latest time of supers in the record, by any colony;
// what it does not tell is by the season.
func (a *yearPlan) supersOfRecord(rec *fieldlog.Record) monthDays {
	on := a.Next(decide.Spring, a.From) + 61
	off := a.Next(decide.LateSummer, a.From) - 7
	a.supersFrom = "the season, for want of better"
	if rec == nil {
		return monthDays{on.Time(), off.Time()}
	}
	var lastOn, lastOff sampling.Date
	for _, e := range rec.Events {
		switch e.Kind {
		case fieldlog.SupersOn:
			lastOn = max(lastOn, e.Date)
		case fieldlog.SupersOff:
			lastOff = max(lastOff, e.Date)
		}
	}
	if !lastOn.IsZero() {
		on, a.supersFrom = lastOn, "the record"
	}
	if !lastOff.IsZero() {
		off, a.supersFrom = lastOff, "the record"
	}
	return monthDays{on.Time(), off.Time()}
}

func (a *yearPlan) text(w io.Writer, page show.Page) {
	t := show.Table{Columns: []show.Column{{Name: "from"}, {Name: "until"}, {Name: "what"}, {Name: "why", Flow: true}}}
	for _, e := range a.events {
		what := string(e.Kind)
		if a.yards > 1 && e.Yard != "" {
			what += ", " + e.Yard
		}
		t.Rows = append(t.Rows, []string{e.Date.String(), e.Until.String(), what, a.why(e)})
	}
	fmt.Fprint(w, page.Table(t))
}

// why is the reason with the colonies it is about.
func (a *yearPlan) why(e decide.Event) string {
	if who := a.who(e); who != "" {
		return who + ": " + e.Because
	}
	return e.Because
}

// sentence is why as a sentence of its own; names stay as they are written.
func (a *yearPlan) sentence(e decide.Event) string {
	why := a.why(e) + "."
	if len(e.Colonies) == 0 || a.everyone(e) {
		return say.Capital(why)
	}
	return why
}

// who are the colonies of an event: their names, or all.
func (a *yearPlan) who(e decide.Event) string {
	if a.everyone(e) {
		return fmt.Sprintf("all %d colonies", len(e.Colonies))
	}
	return strings.Join(e.Colonies, ", ")
}

// everyone reports whether an event is for all colonies of a yard, more than
// one likes to read the names of.
func (a *yearPlan) everyone(e decide.Event) bool {
	all := 0
	for _, k := range a.Colonies {
		if k.Yard == e.Yard {
			all++
		}
	}
	return len(e.Colonies) == all && all > 3
}

func (a *yearPlan) warnings() []string {
	out := slices.Clone(a.unread)
	if a.supersFrom != "--flow" && a.supersFrom != "your settings" {
		out = append(out, fmt.Sprintf("When supers are on is taken from %s. Say it with --flow 05-01..07-20, or as supers in the settings' [season].", a.supersFrom))
	}
	return append(out,
		fmt.Sprintf("A window is when a treatment can do its work; what may be given then, and how often, is for the label and the law to say. Forecasts past a window take it to be used, in summer with %s, without brood with %s.", a.Summer.TreatmentName, a.Winter.TreatmentName),
		"Looks to come are taken to show what is expected. Count, put it into the record, and ask again: the plan moves.")
}

func (a *yearPlan) closing() string {
	for _, e := range a.events {
		if e.Kind != decide.EventLook && e.Kind != decide.EventFollowUp {
			continue
		}
		who := a.who(e)
		if who == "" {
			who = "the colonies"
		}
		return fmt.Sprintf("Next: count %s on %s, %s.", who, show.Day(e.Date), show.FromToday(a.From, e.Date))
	}
	return "Nothing to count in these days."
}

func (a *yearPlan) explain() string {
	highest, on := 0.0, a.From
	for _, e := range a.events {
		if e.Kind != decide.EventLook && e.Kind != decide.EventFollowUp {
			continue
		}
		on = e.Date
		break
	}
	for _, k := range a.Colonies {
		if known, err := k.State.Forecast(on); err == nil {
			highest = max(highest, known.Over(a.lineOn(on)))
		}
	}
	return fmt.Sprintf("Each colony is carried on from its last count: mites breed in the brood, bees come and go. It is looked at on the first day on which leaving it would be more likely to hurt than a needless treatment, and within a month at the latest. Colonies due in the same fortnight are seen together. On the next look, %s. Treatments are put where supers are off and, with brood, last longer than cells stay capped. It goes wrong when a neighbour's colony collapses and its mites move in.",
		show.OfHundred(highest, "colonies like the fullest one", "over the line"))
}

// lineOn is the line of a day, in mites per bee.
func (a *yearPlan) lineOn(day sampling.Date) float64 {
	return ask.LineOf(a.Lines, a.Season)(day) / 100
}

type calendarJSON struct {
	From        sampling.Date     `json:"from"`
	Supers      []supersJSON      `json:"supers"`
	Events      []eventJSON       `json:"events"`
	Assumptions []sampling.Source `json:"assumptions"`
}

type supersJSON struct {
	On  sampling.Date `json:"on"`
	Off sampling.Date `json:"off"`
}

type eventJSON struct {
	Date     sampling.Date    `json:"date"`
	Until    sampling.Date    `json:"until"`
	Kind     decide.EventKind `json:"kind"`
	Colonies []string         `json:"colonies"`
	Because  string           `json:"because"`
	Yard     *string          `json:"yard"`
	UID      string           `json:"uid"`
}

func (a *yearPlan) json() calendarJSON {
	out := calendarJSON{From: a.From, Supers: []supersJSON{}, Events: []eventJSON{}, Assumptions: slices.Concat(a.Basis.Sources(), slices.DeleteFunc(decide.Sources(), func(s sampling.Source) bool { return strings.HasPrefix(s.Name, "trial_") }))}
	for _, s := range a.Supers {
		out.Supers = append(out.Supers, supersJSON{s.On, s.Off})
	}
	for _, e := range a.events {
		out.Events = append(out.Events, eventJSON{e.Date, e.Until, e.Kind, append([]string{}, e.Colonies...), e.Because, say.Said(e.Yard), uid(e)})
	}
	return out
}

func (a *yearPlan) csv() show.CSV {
	out := show.CSV{Head: []string{"date", "until", "kind", "yard", "colonies", "because", "uid"}}
	for _, e := range a.events {
		out.Rows = append(out.Rows, []any{e.Date, e.Until, string(e.Kind), e.Yard, strings.Join(e.Colonies, " "), e.Because, uid(e)})
	}
	return out
}

// uid names an event for calendar programs. It stays when the event moves.
func uid(e decide.Event) string { return e.Key + "@halfcup" }
