package season

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func yardCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "yard",
		Category:  line.GroupSeason,
		Usage:     "every colony of a yard, and what to do next",
		UsageText: "halfcup yard --date 2026-09-21 --boards 3",
		Description: "Reads the whole yard from the record. Colonies of one yard are alike, so a colony that was counted little is read together with the others, and one that was never counted gets a forecast from them. " +
			"Each is set beside what was known of it before it was counted, so a colony that was treated speaks for one that was not. With --plan no record is needed: it tells how many colonies to sample.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "the yard `NAME`, when the record has more than one"},
			&cli.StringFlag{Name: "date", Usage: "the yard as it was known on `DATE`", DefaultText: "today"},
			&cli.StringFlag{Name: "level", Value: "0.95", Usage: "level of the intervals, `LEVEL`"},
			&cli.StringFlag{Name: "boards", Usage: "there are `N` sticky boards: which colonies get them"},
			&cli.StringFlag{Name: "html", Usage: "write a page to print and carry into `FILE`"},
			&cli.StringFlag{Name: "compare", Usage: "set this season beside that of `YEAR`"},
			&cli.StringFlag{Name: "plan", Usage: "plan a sampling of a yard of `N` colonies"},
			&cli.StringFlag{Name: "mean", Value: "2", Usage: "plan: mean that is expected, `MITES` per hundred bees"},
			&cli.StringFlag{Name: "precision", Value: "0.25", Usage: "plan: standard error that is wanted, as a `SHARE` of the mean"},
		}, ask.SpareFlags(), ask.RulesFlags()),
		Action: func(c *cli.Context) error { return yard(sh, c) },
	}
}

func yard(sh *line.Shell, c *cli.Context) error {
	if c.NArg() > 0 {
		return &show.Problem{What: fmt.Sprintf("yard takes no %q", c.Args().First()), Remedy: "counts come from the record; log add writes them there"}
	}
	if err := together(c); err != nil {
		return err
	}
	if c.IsSet("plan") {
		return yardPlan(sh, c)
	}
	y, err := readYard(sh, c)
	if err != nil {
		return err
	}
	if c.IsSet("compare") {
		return compareSeasons(sh, c, y)
	}
	if name, named, err := line.File(c, "html", ""); err != nil {
		return err
	} else if named {
		if err := y.writeSheet(sh, name); err != nil {
			return err
		}
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.yard/1",
		JSON:     y.json(),
		CSV:      y.csv(),
		Text:     func(w io.Writer) { y.print(w, sh.Page) },
		Warnings: y.warnings(),
		Explain:  y.explain(),
		Closing:  y.closing(),
	})
}

// together refuses flags that say different things to do.
func together(c *cli.Context) error {
	alone := map[string][]string{
		"plan":    {"yard", "date", "boards", "html", "compare"},
		"compare": {"boards", "html"},
	}
	for _, first := range []string{"plan", "compare"} {
		for _, second := range alone[first] {
			if c.IsSet(first) && c.IsSet(second) {
				return &show.Problem{What: fmt.Sprintf("--%s and --%s are two different questions", first, second), Remedy: "ask them one after the other"}
			}
		}
	}
	for _, name := range []string{"mean", "precision"} {
		if c.IsSet(name) && !c.IsSet("plan") {
			return line.BadValue(name, c.String(name), "--"+name+" is for a plan, and none is asked for", "leave it out, or add --plan N")
		}
	}
	return nil
}

// yardReading is a yard on a day, as its record tells it.
type yardReading struct {
	ask.Rules
	record *fieldlog.Record
	name   string             // of the yard; "" when the record has only one and does not name it
	events [][]fieldlog.Event // of each colony of it, by day
	day    sampling.Date
	season seasonSpan
	level  float64

	colonies  []*yardColony // the likeliest to be over the line first
	gone      []goneColony  // in this season
	threshold decide.Threshold
	standing  decide.Range // of the yard beside other yards
	stands    bool         // whether that is told
	alike     decide.Range // share of the spread that lies between yards
	mean      decide.Range // mites per hundred
	share     decide.Range
	boards    []*yardColony // that get a board; nil when nobody asked
	boardsHad int
	tally     seasonTally
}

// yardColony is one colony of the yard.
type yardColony struct {
	*ask.Question
	name      string
	last      *fieldlog.Event  // the last count of its own, nil when it was never counted
	carried   sampling.Density // what would be known of it had nobody counted
	judgement decide.Judgement
	estimate  sampling.Summary
	worth     float64 // of a board
}

// goneColony is one that the yard has no more.
type goneColony struct {
	name string
	on   sampling.Date
	kind fieldlog.Kind // died or united
}

// counted reports whether it was ever counted.
func (k *yardColony) counted() bool { return k.last != nil }

func readYard(sh *line.Shell, c *cli.Context) (*yardReading, error) {
	y := &yardReading{day: sh.Today}
	var err error
	if c.IsSet("date") {
		if y.day, err = line.Date(c, "date"); err != nil {
			return nil, err
		}
	}
	if y.level, err = line.Number(c, "level", sh.Settings.Level, 0.5, 0.9999); err != nil {
		return nil, err
	}
	if y.Rules, err = ask.ReadRules(sh, c); err != nil {
		return nil, err
	}
	if c.IsSet("boards") {
		if y.boardsHad, err = line.Whole(c, "boards", 1, 1000); err != nil {
			return nil, err
		}
	}
	if y.record, err = ask.OpenRecord(sh); err != nil {
		return nil, err
	}
	if y.record == nil {
		return nil, &show.Problem{What: "there is no record " + sh.LogFile + " to read a yard from", Remedy: "begin one with halfcup log add, or name it with --log"}
	}
	if y.name, err = yardName(y.record, c); err != nil {
		return nil, err
	}
	y.events = eventsOf(y.record, y.name)
	ask.Doubt(sh, y.record, coloniesOf(y.record, y.name)...)
	hemisphere, err := ask.ReadHemisphere(sh, c)
	if err != nil {
		return nil, err
	}
	y.season = seasonAt(y.day, hemisphere)
	if err := y.look(); err != nil {
		return nil, err
	}
	if c.IsSet("boards") {
		return y, y.placeBoards()
	}
	return y, nil
}

// yardName is the yard that is meant: the one that was named, or the only one.
func yardName(rec *fieldlog.Record, c *cli.Context) (string, error) {
	var names []string
	for _, k := range rec.Colonies() {
		if !slices.ContainsFunc(names, func(n string) bool { return fieldlog.SameName(n) == fieldlog.SameName(k.Yard) }) {
			names = append(names, k.Yard)
		}
	}
	if !c.IsSet("yard") {
		if len(names) > 1 {
			return "", &show.Problem{What: "the record has more than one yard: " + show.List(named(names)), Remedy: "name one with --yard"}
		}
		if len(names) == 0 {
			return "", &show.Problem{File: rec.Path, What: "there is no colony in this record", Remedy: "write down a count or an inspection with halfcup log add"}
		}
		return names[0], nil
	}
	i := slices.IndexFunc(names, func(n string) bool { return fieldlog.SameName(n) == fieldlog.SameName(c.String("yard")) })
	if i < 0 {
		return "", line.BadValue("yard", c.String("yard"), "the record has no such yard", "it has "+show.List(named(names)))
	}
	return names[i], nil
}

// eventsOf is the events of every colony of a yard, by day, the colonies in the
// order in which they first stand in the record.
func eventsOf(rec *fieldlog.Record, yard string) [][]fieldlog.Event {
	var out [][]fieldlog.Event
	at := map[fieldlog.Colony]int{}
	for _, k := range coloniesOf(rec, yard) {
		at[fieldlog.Colony{Yard: fieldlog.SameName(k.Yard), Name: fieldlog.SameName(k.Name)}] = len(out)
		out = append(out, nil)
	}
	for _, e := range rec.ByDate() {
		if i, ok := at[fieldlog.Of(e)]; ok && e.Double == 0 {
			out[i] = append(out[i], e)
		}
	}
	return out
}

func coloniesOf(rec *fieldlog.Record, yard string) []fieldlog.Colony {
	return slices.DeleteFunc(rec.Colonies(), func(k fieldlog.Colony) bool {
		return fieldlog.SameName(k.Yard) != fieldlog.SameName(yard)
	})
}

// named gives a yard without a name something to be called by.
func named(names []string) []string {
	out := slices.Clone(names)
	for i, n := range out {
		if n == "" {
			out[i] = "one without a name"
		}
	}
	return out
}

// look replays every colony, puts them together and judges each.
func (y *yardReading) look() error {
	colonies, gone, err := y.replay(y.day)
	if err != nil {
		return err
	}
	y.colonies = colonies
	for _, g := range gone {
		if y.season.holds(g.on) {
			y.gone = append(y.gone, g)
		}
	}
	if len(y.colonies) == 0 {
		return &show.Problem{What: fmt.Sprintf("no colony of this yard was alive on %s", show.Day(y.day)), Remedy: "ask for another day with --date"}
	}
	together, err := y.population(y.colonies)
	if err != nil {
		return err
	}
	y.standing, y.stands = together.Standing(y.level)
	y.alike, _ = together.Share(y.level)
	if y.mean, err = y.meanOf(together); err != nil {
		return err
	}
	y.threshold = y.colonies[0].Threshold
	lines := slices.Repeat([]float64{y.threshold.Act / 100}, len(y.colonies))
	if y.share, err = together.ShareOver(lines, y.level); err != nil {
		return err
	}
	for i, neighbours := range together.Neighbours() {
		if err := y.colonies[i].judge(neighbours, y.level); err != nil {
			return err
		}
	}
	slices.SortStableFunc(y.colonies, func(a, b *yardColony) int {
		return cmp.Compare(b.judgement.OverAct, a.judgement.OverAct)
	})
	y.tally = y.tallyOf(y.season, y.day)
	return nil
}

// meanOf is the mean of a yard, in mites per hundred.
func (y *yardReading) meanOf(together *decide.Pool) (decide.Range, error) {
	mean, err := together.Mean()
	if err != nil {
		return decide.Range{}, err
	}
	q := mean.Quantiles((1-y.level)/2, 0.5, (1+y.level)/2)
	return decide.Range{Middle: 100 * q[1], Low: 100 * q[0], High: 100 * q[2]}, nil
}

// replay is every colony that lived on a day, with what its own record says of
// it, and those that did not.
func (y *yardReading) replay(day sampling.Date) (alive []*yardColony, gone []goneColony, err error) {
	base := y.Rules
	base.Blank.Flat = true
	for _, events := range y.events {
		if events[0].Date > day {
			continue // not there yet
		}
		name := events[0].Colony
		if end, ok := ended(events, day); ok {
			gone = append(gone, goneColony{name, end.Date, end.Kind})
			continue
		}
		s, err := base.Colony(y.record, y.name, name, day)
		if err != nil {
			return nil, nil, err
		}
		colony := &yardColony{Question: s, name: name}
		for i, e := range events {
			if e.Kind == fieldlog.Count && e.Date <= day {
				colony.last = &events[i]
			}
		}
		if err := colony.carry(day); err != nil {
			return nil, nil, err
		}
		alive = append(alive, colony)
	}
	return alive, gone, nil
}

// ended is the event by which a colony was gone on a day.
func ended(events []fieldlog.Event, day sampling.Date) (fieldlog.Event, bool) {
	for _, e := range events {
		if e.Date <= day && (e.Kind == fieldlog.Died || e.Kind == fieldlog.United) {
			return e, true
		}
	}
	return fieldlog.Event{}, false
}

// carry turns the state of a colony, replayed from a flat start and so the
// likelihood of its record, into what is known of it.
func (k *yardColony) carry(day sampling.Date) error {
	blank := k.History
	blank.Counts, blank.Flat = nil, false
	without, err := blank.On(day)
	if err != nil {
		return err
	}
	k.carried = without.Known
	if k.State.Before, err = k.carried.Times(k.State.Before.Likelihood()); err != nil {
		return err
	}
	k.State.Known, err = k.carried.Times(k.State.Known.Likelihood())
	return err
}

// population puts the colonies together.
func (y *yardReading) population(colonies []*yardColony) (*decide.Pool, error) {
	var members []decide.Member
	for _, k := range colonies {
		members = append(members, decide.Member{Carried: k.carried, Known: []sampling.Density{k.State.Known}})
	}
	return decide.NewPool(members, nil, decide.DefaultYardPrior())
}

func (k *yardColony) judge(neighbours sampling.Likelihood, level float64) error {
	var err error
	if k.State, err = k.State.InYard(neighbours); err != nil {
		return err
	}
	if k.judgement, err = k.Judge(); err != nil {
		return err
	}
	k.estimate = k.State.Known.Summary(level)
	return nil
}

// next are the colonies for which a look now is worth its cost, the worthiest
// first.
func (y *yardReading) next() []*yardColony {
	var out []*yardColony
	for _, k := range y.colonies {
		if k.judgement.Advised.Plan == decide.LookNow {
			out = append(out, k)
		}
	}
	slices.SortStableFunc(out, func(a, b *yardColony) int {
		return cmp.Compare(b.judgement.Advised.Net, a.judgement.Advised.Net)
	})
	return out
}

// placeBoards gives the boards to the colonies for which one is worth most.
func (y *yardReading) placeBoards() error {
	y.boards = []*yardColony{}
	for _, k := range y.colonies {
		candidates, err := k.Candidates()
		if err != nil {
			return err
		}
		for _, c := range candidates {
			if c.Plan == decide.LookNow && c.Count.Method == sampling.Board {
				k.worth = max(k.worth, c.Worth)
			}
		}
		y.boards = append(y.boards, k)
	}
	slices.SortStableFunc(y.boards, func(a, b *yardColony) int { return cmp.Compare(b.worth, a.worth) })
	y.boards = y.boards[:min(y.boardsHad, len(y.boards))]
	return nil
}
