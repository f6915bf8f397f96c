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

func calendarCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "calendar",
		Category:  line.GroupSeason,
		Usage:     "the year ahead: when to count, when treatments can do their work",
		UsageText: "halfcup calendar --yard mill --ics mill.ics",
		Description: "Lists what is late and what falls due: counts, rounds and ends of treatments, the checks of the year, the turns of the seasons, supers, and the times in which a treatment can do its work. " +
			"Each colony has its next count in it; what comes after follows from what that shows, so ask again. Supers are those of the record, else of the settings' [season] supers. Without a record it is the year of a yard that nobody has counted.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "only the yard `NAME`"},
			&cli.StringFlag{Name: "days", Value: "365", Usage: "how far ahead, `DAYS`"},
			&cli.StringFlag{Name: "ics", Usage: "write it as iCalendar into `FILE.ics` as well"},
			&cli.StringFlag{Name: "flow", Hidden: true},
		}, ask.RulesFlags()),
		Action: func(c *cli.Context) error { return calendarAnswer(sh, c) },
	}
}

func calendarAnswer(sh *line.Shell, c *cli.Context) error {
	p, err := readCalendar(sh, c)
	if err != nil {
		return err
	}
	if name := c.String("ics"); c.IsSet("ics") {
		if err := sh.Files.Write(name, []byte(show.Marked(p.ics())), ".ics"); err != nil {
			return err
		}
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.calendar/3",
		JSON:     p.json(),
		CSV:      p.csv(),
		Text:     func(w io.Writer) { p.print(w, sh.Page) },
		Warnings: p.warnings(),
		Explain:  p.explain(),
	})
}

// yearPlan is the calendar of one or more yards.
type yearPlan struct {
	ask.Basis
	from   sampling.Date
	days   int
	yards  []string // their names
	events []entry
	unread []string
	counts []sampling.Count
	supers decide.SupersPlan // of the first colony
	asked  bool              // somebody said when supers are on
}

// entry is an event with its yard and how many colonies that has.
type entry struct {
	decide.Event
	yard string
	all  int
}

func readCalendar(sh *line.Shell, c *cli.Context) (*yearPlan, error) {
	if name := c.String("ics"); c.IsSet("ics") && filepath.Ext(name) != ".ics" {
		return nil, line.BadValue("ics", name, "calendar programs know the file by its ending", "give it a name that ends in .ics")
	}
	if c.IsSet("flow") {
		return nil, line.BadValue("flow", c.String("flow"), "calendar has no --flow: every answer takes supers from one place", "write supers-on and supers-off into the record, or supers = \"05-01..07-20\" under [season] in the settings")
	}
	if c.NArg() > 0 {
		return nil, &show.Problem{What: "calendar reads the record, not counts on the line", Remedy: "put the count into the record with halfcup log add"}
	}
	p := &yearPlan{from: sh.Today}
	rules, err := ask.ReadRules(sh, c)
	if err != nil {
		return nil, err
	}
	p.Basis = rules.Basis
	if p.days, err = line.Whole(c, "days"); err != nil {
		return nil, err
	}
	rec, err := ask.OpenRecord(sh)
	if err != nil {
		return nil, err
	}
	if rec == nil {
		if c.IsSet("yard") {
			_, err := ask.NeedRecord(sh, "a yard")
			return nil, err
		}
		return p, p.add("", decide.Apiary{Rules: rules.Rules, Colonies: []decide.Colony{rules.Base}})
	}
	names, err := askedYards(rec, c)
	if err != nil {
		return nil, err
	}
	if c.IsSet("yard") {
		ask.Doubt(sh, rec, coloniesOf(rec, names[0])...)
	} else {
		ask.Doubt(sh, rec)
	}
	for _, name := range names {
		a, unread, err := rules.Apiary(rec, name, sh.Today)
		if err != nil {
			return nil, err
		}
		p.unread = append(p.unread, unread...)
		if err := p.add(name, a); err != nil {
			return nil, err
		}
	}
	if len(p.events) == 0 && len(p.yards) == 0 {
		return nil, &show.Problem{What: "the record has no living colony", Remedy: "check the name of the yard and the file"}
	}
	slices.SortStableFunc(p.events, func(a, b entry) int { return int(a.Date - b.Date) })
	return p, nil
}

// add puts the events of a yard into the plan. What is the same for every yard
// stands there once.
func (p *yearPlan) add(name string, a decide.Apiary) error {
	living := 0
	for _, k := range a.Colonies {
		if k.Lives(p.from) {
			living++
			p.asked = p.asked || k.Supers.Known
			if !p.supers.Known {
				p.supers = k.Supers
			}
		}
		p.counts = append(p.counts, k.Counts...)
	}
	if living == 0 {
		return nil
	}
	events, err := a.Calendar(p.from, p.days)
	if err != nil {
		return err
	}
	for _, e := range events {
		if len(e.Duties) == 0 && slices.ContainsFunc(p.events, func(o entry) bool {
			return o.Kind == e.Kind && o.Date == e.Date && o.Until == e.Until
		}) {
			continue
		}
		p.events = append(p.events, entry{e, name, living})
	}
	p.yards = append(p.yards, name)
	return nil
}

// first is the sentence to act on.
func (p *yearPlan) first() string {
	late, today := 0, 0
	var next *entry
	for i, e := range p.events {
		for _, d := range e.Duties {
			switch {
			case d.Why == decide.DueTreat && d.Kind == decide.DutyCount:
				// To treat is on the list, and to count only in its place.
			case d.Late(p.from) > 0:
				late++
			case d.Day == p.from:
				today++
			}
		}
		if next == nil && len(e.Duties) > 0 && e.Date > p.from {
			next = &p.events[i]
		}
	}
	head := say.ShortDay(p.from)
	if len(p.yards) == 1 && p.yards[0] != "" {
		head = show.Printable(p.yards[0]) + ", " + head
	}
	var parts []string
	if late > 0 {
		parts = append(parts, show.Many(late, "thing is late", "things are late"))
	}
	if today > 0 {
		parts = append(parts, show.Many(today, "is due today", "are due today"))
	}
	if len(parts) == 0 {
		parts = append(parts, "nothing is late")
	}
	out := head + ": " + show.List(parts) + "."
	if next != nil {
		out += fmt.Sprintf(" Next: %s, %s.", p.what(*next), say.ShortDay(next.Date))
	}
	return out
}

// Columns of a line of the calendar.
const (
	whenWide = 13
	whatWide = 18
	atWide   = 21
)

func (p *yearPlan) print(w io.Writer, page show.Page) {
	fmt.Fprint(w, page.Wrap(page.Paint(show.Strong, p.first()), 0), "\n")
	year := p.from.Time().Year()
	for _, e := range p.events {
		if y := max(e.Date, p.from).Time().Year(); y != year {
			year = y
			fmt.Fprintln(w, year)
		}
		fmt.Fprintln(w, p.row(page, e))
	}
}

// row is an event on one line.
func (p *yearPlan) row(page show.Page, e entry) string {
	when := shortDay(e.Date)
	if e.Until > e.Date {
		when += "–" + shortDay(e.Until)
	}
	about := max(page.Width-whenWide-whatWide-atWide-3, 12)
	if page.Width < narrow {
		words := when + ": " + strings.TrimSpace(p.what(e)+" "+p.who(e, page.Width))
		if about := p.about(e); about != "" {
			words += "; " + about
		}
		return strings.TrimRight(page.Hang(words, 0, 2), "\n")
	}
	what := show.Cell(p.what(e), whatWide, false)
	if e.Date < p.from && len(e.Duties) > 0 {
		what = page.Paint(show.Strong, what)
	}
	if len(e.Duties) == 0 {
		return strings.TrimRight(show.Cell(when, whenWide, false)+" "+what+" "+show.Cell(p.about(e), atWide+1+about, false), " ")
	}
	return strings.TrimRight(show.Cell(when, whenWide, false)+" "+what+" "+show.Cell(p.who(e, atWide), atWide, false)+" "+show.Cell(p.about(e), about, false), " ")
}

// what is the event in at most 18 letters.
func (p *yearPlan) what(e entry) string {
	switch e.Kind {
	case decide.EventSeason:
		return seasonNames[e.Season] + " begins"
	case decide.EventCheck:
		return "count all"
	case decide.EventAfter:
		return "count"
	case decide.EventWindow:
		return "time to treat"
	}
	if len(e.Duties) > 0 {
		return say.DutyName(e.Duties[0].Kind)
	}
	return string(e.Kind)
}

var seasonNames = map[decide.Season]string{
	decide.Spring: "spring", decide.Summer: "summer", decide.LateSummer: "late summer", decide.Autumn: "autumn", decide.Winter: "winter",
}

// who are the colonies of an event, in at most so many columns.
func (p *yearPlan) who(e entry, width int) string {
	var names []string
	for _, n := range e.Colonies() {
		names = append(names, show.Printable(n))
	}
	if len(names) == 0 || len(names) == 1 && names[0] == "" {
		return ""
	}
	yard := ""
	if len(p.yards) > 1 && e.yard != "" {
		yard = show.Printable(e.yard) + ": "
	}
	return yard + say.Some(names, e.all, width-show.Wide(yard))
}

// about is why, or how late it is.
func (p *yearPlan) about(e entry) string {
	switch e.Kind {
	case decide.EventSeason:
		return seasonWords[e.Season]
	case decide.EventSupersOn:
		return "no treatment while on, unless its label says so"
	case decide.EventSupersOff:
		return "count within a week; treat what needs it"
	case decide.EventCheck:
		return say.DueFor(e.Why)
	case decide.EventAfter:
		return "see what treatment left"
	case decide.EventWindow:
		return windowWords[e.Window]
	}
	if n := e.Duties[0].Late(p.from); n > 0 {
		if d := e.Duties[0]; d.Treatment.Slug != "" {
			return fmt.Sprintf("%d d late, %s", n, d.Treatment.Active)
		}
		return show.Many(n, "day late", "days late")
	}
	words := say.DutyWords(e.Duties[0])
	for _, d := range e.Duties {
		if say.DutyWords(d) != words {
			if d.Treatment.Slug != "" {
				return "each its own"
			}
			return "each by its own day"
		}
	}
	return words
}

var seasonWords = map[decide.Season]string{
	decide.Spring:     "brood and mites grow from here on",
	decide.Summer:     "mites double about once a month",
	decide.LateSummer: "the winter bees are raised: the line is lowest",
	decide.Autumn:     "brood is ending; mites fly in from outside",
	decide.Winter:     "no sealed brood: all mites are on the bees",
}

var windowWords = map[decide.WindowOf]string{
	decide.BeforeSupers:  "before supers go on; it must be over by then",
	decide.BetweenSupers: "between two harvests; only what is short",
	decide.AfterSupers:   "supers off: count, then treat what needs it",
	decide.WithoutBrood:  "no brood: one treatment reaches nearly all",
}

const supersUnsaid = "Nobody said when supers are on, so the calendar cannot tell when a treatment may be given. " +
	"Write supers-on and supers-off into the record, or supers = \"05-01..07-20\" under [season] in the settings."

func (p *yearPlan) warnings() []say.Warning {
	out := say.Warn(say.LeftOut, p.unread...)
	if !p.asked {
		out = append(out, say.Warn(say.Assumed, supersUnsaid)...)
	}
	var duties []decide.Duty
	for _, e := range p.events {
		duties = append(duties, e.Duties...)
	}
	given := treatmentsOf(duties)
	if len(given) > 0 {
		out = append(out, say.Warn(say.Caution, say.Cautions(given...)...)...)
		out = append(out, say.Warning{Kind: say.Assumed, Text: "The days of a treatment are what is usual; your label's days win."})
	}
	return out
}

// treatmentsOf are the slugs of the treatments that some duties name, each once.
func treatmentsOf(duties []decide.Duty) []string {
	var out []string
	for _, d := range duties {
		if slug := d.Treatment.Slug; slug != "" && !slices.Contains(out, slug) {
			out = append(out, slug)
		}
	}
	return out
}

func (p *yearPlan) explain() string {
	return "A colony's next count is due when its last one says too little: 30 days on while bees fly, 21 from mid July to the end of September, 14 beside a colony in trouble, sooner when by forecast leaving it would be the greater risk; once before the supers, once before the winter bees are raised, and once after the summer. What is late stays on its own day. A time to treat is when a treatment can do its work: supers are off, and either there is no sealed brood or what is given outlasts it. What may be given, and how, is for your label, the law and your vet or bee inspector. It goes wrong when a neighbour's colony collapses and its mites move in."
}

// calendarJSON is halfcup.calendar/3.
type calendarJSON struct {
	From        sampling.Date     `json:"from"`
	Until       sampling.Date     `json:"until"`
	Supers      []supersJSON      `json:"supers"`
	SupersKnown bool              `json:"supers_known"`
	Events      []eventJSON       `json:"events"`
	Assumptions []sampling.Source `json:"assumptions"`
}

type supersJSON struct {
	On  sampling.Date `json:"on"`
	Off sampling.Date `json:"off"` // null when nobody knows
}

type eventJSON struct {
	Date     sampling.Date    `json:"date"`
	Until    sampling.Date    `json:"until"`
	Kind     decide.EventKind `json:"kind"`
	Colonies []string         `json:"colonies"`
	Duties   []dutyJSON       `json:"duties"`
	Because  string           `json:"because"`
	Yard     *string          `json:"yard"`
	UID      string           `json:"uid"`
}

func (p *yearPlan) json() calendarJSON {
	out := calendarJSON{
		From: p.from, Until: p.from + sampling.Date(p.days), Supers: []supersJSON{}, SupersKnown: p.asked, Events: []eventJSON{},
		Assumptions: slices.Concat(p.Sources(p.counts...), modelSources()),
	}
	for _, s := range p.supers.Times {
		out.Supers = append(out.Supers, supersJSON{s.On, s.Off})
	}
	for _, e := range p.events {
		j := eventJSON{e.Date, e.Until, e.Kind, append([]string{}, e.Colonies()...), []dutyJSON{}, p.about(e), say.Said(e.yard), e.uid()}
		for _, d := range e.Duties {
			j.Duties = append(j.Duties, dutyOf(d, p.from))
		}
		out.Events = append(out.Events, j)
	}
	return out
}

func (p *yearPlan) csv() show.CSV {
	out := show.CSV{Head: []string{"date", "until", "kind", "yard", "colonies", "because", "uid"}}
	for _, e := range p.events {
		out.Rows = append(out.Rows, []any{e.Date, e.Until, string(e.Kind), e.yard, strings.Join(e.Colonies(), " "), p.about(e), e.uid()})
	}
	return out
}
