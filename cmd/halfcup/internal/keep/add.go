package keep

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

const addExample = "halfcup add roll alder=0 birch=3 elm=-"

func addCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "add",
		Category:  line.GroupSeason,
		Usage:     "write down a whole yard in one line",
		ArgsUsage: "WHAT [DAY] NAME...",
		UsageText: addExample,
		Description: "Counts: halfcup add roll M1=0 M2=3 \"old oak\"=12/2f M5=-, each hive with its mites; - says that it was not counted. The method may have a measure and frames: wash/1cup/2f, board/3d. " +
			"Left out, they are those of the last line of the day, else of the settings, else half a cup. halfcup add roll - asks hive by hive, in the order of their stands: Enter alone, not counted; -, back; a point, the end.\n" +
			"Anything else: halfcup add supers-on all, halfcup add amitraz-strip until 20sep M1 M4, halfcup add queen-caged yesterday M2. A day is today, yesterday, mon, 14jun or 2026-06-14. " +
			"What lies in the days to come is a plan, until halfcup log done says that it was done.\n" +
			"All rows are written or none. An unknown name is refused unless --new. What is said back is the check: halfcup undo takes it back.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "`NAME` of the yard", DefaultText: "that of the last line of the day, else the setting, else the only one"},
			&cli.BoolFlag{Name: "new", Usage: "names that the record has not are new colonies"},
			&cli.StringFlag{Name: "until", Usage: "of a treatment: the `DAY` on which it is to come out by its label"},
			&cli.StringFlag{Name: "other", Usage: "split, united: `NAME` of the other colony"},
			&cli.StringFlag{Name: "brood", Usage: "whether there is capped brood `yes|no`"},
			&cli.StringFlag{Name: "adult-bees", Usage: "adult bees of the colony, `BEES`"},
			&cli.StringFlag{Name: "frames-of-bees", Usage: "deep frames covered with bees on both sides, `FRAMES`"},
			&cli.StringFlag{Name: "stand", Usage: "place of the hive in the yard, `N`, in the order in which they are visited"},
			&cli.StringFlag{Name: "observer", Usage: "`NAME` of who looked", DefaultText: "the setting, else nobody"},
			&cli.StringFlag{Name: "note", Usage: "`TEXT` of your own"},
			&cli.BoolFlag{Name: "again", Usage: "write it even if the record says the same already"},
		},
		Action: func(c *cli.Context) error {
			if sh.Explain {
				return line.NothingToExplain()
			}
			sh.LogNamed = false // this command makes the record when there is none
			r, err := ask.ReadRules(sh, c)
			if err != nil {
				return err
			}
			in, err := readAddition(sh, c)
			if err != nil {
				return err
			}
			return write(sh, c, r, in.events, in.skipped)
		},
	}
}

// write writes events and says them back. Whoever typed many of them does not
// have to do so again when they are refused.
func write(sh *line.Shell, c *cli.Context, r ask.Rules, events []fieldlog.Event, skipped []string) error {
	plan(events, sh.Today)
	known, err := sh.Record()
	if err != nil {
		return err
	}
	a, err := fieldlog.Append(sh.LogFile, events, fieldlog.Options{
		Known: known, Order: sh.DateOrder(),
		Again: c.Bool("again"), Device: device(sh),
		Finish: func(rec *fieldlog.Record, events []fieldlog.Event) { confirm(rec, events, sh.Today) },
	})
	if err != nil {
		return refused(err)
	}
	sh.Wrote(a.Record)
	if len(a.Record.Paired()) > 0 { // the new rows may be of a pair, or say how one is to be read
		if now, err := ask.ReadRules(sh, c); err == nil {
			r = now
		}
	}
	return tell(sh, r, a, skipped)
}

// device is the letters that the ids of rows written here begin with.
func device(sh *line.Shell) string {
	if own := sh.Settings.Device; own != nil {
		return *own
	}
	return "h"
}

// plan marks what lies in the days to come as planned.
func plan(events []fieldlog.Event, today sampling.Date) {
	for i := range events {
		if e := &events[i]; e.Date > today && e.Kind.Plannable() && e.Mark == "" {
			e.Mark = fieldlog.Planned
		}
	}
}

// confirms is how many days from its planned one a thing may have been done
// for it to be taken as the one that was planned.
const confirms = 14

// confirm ties what was done to the plan of it, if there is one that waits:
// the nearest by its day.
func confirm(rec *fieldlog.Record, events []fieldlog.Event, today sampling.Date) {
	taken := map[int]bool{}
	for i := range events {
		e := &events[i]
		if e.Date > today || !e.Kind.Plannable() || e.Mark != "" || e.UndoOf != "" {
			continue
		}
		best := -1
		for j, p := range rec.Events {
			if p.Gone != 0 || taken[j] || p.Mark != fieldlog.Planned || p.Kind != e.Kind || p.Treatment != e.Treatment || p.Brood != e.Brood || fieldlog.Of(p) != fieldlog.Of(*e) || p.Date.Apart(e.Date) > confirms {
				continue
			}
			if best < 0 || p.Date.Apart(e.Date) < rec.Events[best].Date.Apart(e.Date) {
				best = j
			}
		}
		if best >= 0 {
			taken[best] = true
			e.Mark, e.UndoOf = fieldlog.Done, rec.Key(rec.Events[best])
			if e.Until.IsZero() && rec.Events[best].Until >= e.Date {
				e.Until = rec.Events[best].Until
			}
		}
	}
}

// addition is what one line adds.
type addition struct {
	sh     *line.Shell
	c      *cli.Context
	rec    *fieldlog.Record
	common fieldlog.Event
	words  []string // what stands behind WHAT and the days

	method  sampling.Method // of counts
	measure string          // what stands behind the method, "" when nothing does

	events  []fieldlog.Event
	skipped []string // hives that were not counted
}

func readAddition(sh *line.Shell, c *cli.Context) (*addition, error) {
	a := &addition{sh: sh, c: c, common: fieldlog.Event{Date: sh.Today, Note: c.String("note"), Stand: c.String("stand"), Observer: c.String("observer")}}
	if own := sh.Settings.Observer; own != nil && !c.IsSet("observer") {
		a.common.Observer = *own
	}
	if c.NArg() == 0 {
		return nil, line.TooFew("what happened is missing", addExample)
	}
	if err := a.openRecord(); err != nil {
		return nil, err
	}
	if err := a.what(c.Args().First()); err != nil {
		return nil, err
	}
	if err := a.days(c.Args().Tail()); err != nil {
		return nil, err
	}
	if err := readHive(c, &a.common); err != nil {
		return nil, err
	}
	if err := a.inYard(); err != nil {
		return nil, err
	}
	switch {
	case len(a.words) == 0:
		return nil, line.TooFew("the hives are missing", addExample+", or halfcup add supers-on all")
	case a.method != "":
		return a, a.counts()
	}
	return a, a.others()
}

// openRecord reads the record; none is an empty one.
func (a *addition) openRecord() (err error) {
	a.rec, err = fieldlog.Open(a.sh.LogFile, a.sh.DateOrder())
	if errors.Is(err, fs.ErrNotExist) {
		a.rec, err = fieldlog.Read(a.sh.LogFile, strings.NewReader(""))
	}
	return err
}

// what reads the first word: an event, a treatment, or a method with what was
// looked at.
func (a *addition) what(word string) error {
	if k, ok := fieldlog.ParseKind(word); ok {
		switch k {
		case fieldlog.Count:
			return line.TooFew("how it was counted is missing", addExample)
		case fieldlog.Treatment:
			return line.TooFew("the treatment is missing", "halfcup add oxalic-vapour M1 M4")
		case fieldlog.Renamed:
			return line.TooFew("this renames nothing", logRenameExample)
		case fieldlog.Undo:
			return line.TooFew("this takes back nothing", "halfcup undo")
		}
		a.common.Kind = k
		return nil
	}
	head, measure, _ := strings.Cut(word, "/")
	if m, err := sampling.ParseMethod(head); err == nil {
		a.common.Kind, a.method, a.measure = fieldlog.Count, m, measure
		return nil
	}
	if t, err := sampling.FindTreatment(word); err == nil {
		a.common.Kind, a.common.Treatment = fieldlog.Treatment, t.TreatmentName
		return nil
	}
	names := eventNames()
	for _, m := range sampling.Methods() {
		names = append(names, string(m))
	}
	for _, t := range sampling.Treatments() {
		names = append(names, t.Slug)
	}
	remedy := "write a method such as roll, a treatment such as oxalic-vapour, or an event such as supers-on"
	if question := meant.Question(strings.ToLower(head), names, ""); question != "" {
		remedy = strings.TrimSpace(question)
	}
	return &sampling.SyntaxError{Input: word, Length: len(word), Problem: fmt.Sprintf("%q is no count, no treatment and no event", word), Remedy: remedy}
}

// days reads the days that stand before the hives.
func (a *addition) days(words []string) error {
	which, said := past, false
	if a.common.Kind.Plannable() {
		which = nearest
	}
	until := a.c.String("until")
	for len(words) > 0 {
		if strings.EqualFold(words[0], "until") && len(words) > 1 {
			until, words = words[1], words[2:]
			continue
		}
		d, isDay, err := readDay(words[0], a.sh.Today, which)
		if !isDay {
			break
		}
		if err != nil {
			return err
		}
		if said {
			return &sampling.SyntaxError{Input: words[0], Length: len(words[0]), Problem: "the day is given twice", Remedy: "give one day, before the hives"}
		}
		a.common.Date, said, words = d, true, words[1:]
	}
	a.words = words
	if until == "" {
		return nil
	}
	if a.common.Kind != fieldlog.Treatment {
		return &show.Problem{What: "until says when a treatment is to come out, and this is none", Remedy: "leave it out"}
	}
	d, isDay, err := readDay(until, a.common.Date, coming)
	if err == nil && !isDay {
		err = &sampling.SyntaxError{Input: until, Length: max(len(until), 1), Problem: fmt.Sprintf("%q is not a day", until), Remedy: "write until and a day, such as until 20sep"}
	}
	a.common.Until = d
	return err
}

// lastOfDay is the last row of the day that fits, nil when there is none.
func (a *addition) lastOfDay(fits func(fieldlog.Event) bool) *fieldlog.Event {
	for _, e := range slices.Backward(a.rec.Once()) {
		if e.Date == a.common.Date && fits(e) {
			return &e
		}
	}
	return nil
}

// inYard finds the yard.
func (a *addition) inYard() error {
	yards := yardsOf(a.rec.Colonies())
	last := a.lastOfDay(func(fieldlog.Event) bool { return true })
	switch own := a.sh.Settings.Yard; {
	case a.c.IsSet("yard"):
		a.common.Yard = a.c.String("yard")
		known := slices.ContainsFunc(yards, func(y string) bool { return fieldlog.SameName(y) == fieldlog.SameName(a.common.Yard) })
		if !known && len(yards) > 0 && !a.c.Bool("new") {
			return line.BadValue("yard", a.common.Yard, "the record has no yard of this name", orNew(meant.Question(a.common.Yard, yards, "")))
		}
	case last != nil:
		a.common.Yard = last.Yard
	case own != nil:
		a.common.Yard = *own
	case len(yards) == 1:
		a.common.Yard = yards[0]
	case len(yards) > 1:
		return &show.Problem{What: "which yard is missing: the record has " + show.List(yards), Remedy: "add --yard, or write yard = \"" + yards[0] + "\" into the settings"}
	}
	return nil
}

// colony is the colony of a name, as the record spells it.
func (a *addition) colony(name string) (fieldlog.Colony, error) {
	if strings.TrimSpace(name) == "" {
		return fieldlog.Colony{}, line.TooFew("the name of a hive is missing", addExample)
	}
	var names []string
	for _, c := range a.rec.InStandOrder(a.common.Yard) {
		if fieldlog.SameName(c.Name) == fieldlog.SameName(name) {
			return c, nil
		}
		names = append(names, c.Name)
	}
	now, since, renamed := a.rec.Called(a.common.Yard, name)
	if renamed && a.common.Date <= since {
		return a.colony(now) // as it was called then
	}
	if a.c.Bool("new") || len(a.rec.Colonies()) == 0 {
		return fieldlog.Colony{Yard: a.common.Yard, Name: name}, nil
	}
	where := "the record"
	if a.common.Yard != "" {
		where = "the yard " + a.common.Yard
	}
	question := meant.Question(name, names, "")
	if renamed {
		question = fmt.Sprintf("it is called %s since %s. ", now, since)
	}
	return fieldlog.Colony{}, &show.Problem{What: fmt.Sprintf("there is no colony %s in %s, and nothing was written", name, where), Remedy: orNew(question)}
}

// orNew is what to do about a name that the record has not.
func orNew(question string) string {
	if question == "" {
		return "add --new if it is a new one"
	}
	return question + "Add --new if it is a new one"
}

// living are the colonies of the yard that are there on the day, in the order of
// their stands.
func (a *addition) living() []fieldlog.Colony {
	return slices.DeleteFunc(a.rec.InStandOrder(a.common.Yard), func(c fieldlog.Colony) bool {
		return !a.rec.Ended(c, a.common.Date).IsZero()
	})
}

// withSupers are those colonies that have supers by the record, where it says
// of any that they have: a split made meanwhile got none.
func (a *addition) withSupers(all []fieldlog.Colony) []fieldlog.Colony {
	var with []fieldlog.Colony
	for _, c := range all {
		own, err := a.rec.History(c.Yard, c.Name)
		if err != nil {
			return all
		}
		on := false
		for _, e := range own {
			if e.Date <= a.common.Date && (e.Kind == fieldlog.SupersOn || e.Kind == fieldlog.SupersOff) {
				on = e.Kind == fieldlog.SupersOn
			}
		}
		if on {
			with = append(with, c)
		}
	}
	if with == nil {
		return all
	}
	return with
}

// add adds the event of a colony.
func (a *addition) add(c fieldlog.Colony, e fieldlog.Event) error {
	e.Yard, e.Colony = c.Yard, c.Name
	if slices.ContainsFunc(a.events, func(o fieldlog.Event) bool { return fieldlog.Of(o) == fieldlog.Of(e) }) {
		return &show.Problem{What: c.Name + " is named twice, and nothing was written", Remedy: "name every hive once"}
	}
	a.events = append(a.events, e)
	return nil
}

// others reads the hives of an event or a treatment.
func (a *addition) others() error {
	e := a.common
	apart := e.Kind == fieldlog.Split || e.Kind == fieldlog.United
	switch {
	case apart && !a.c.IsSet("other"):
		return line.TooFew("the other colony is missing", "halfcup add "+string(e.Kind)+" willow --other oak")
	case !apart && a.c.IsSet("other"):
		return line.BadValue("other", a.c.String("other"), "only a split or a union has another colony", "leave it out")
	case apart:
		other, err := a.colony(a.c.String("other"))
		if err != nil {
			return err
		}
		e.Other = other.Name
	case e.Kind == fieldlog.BroodBreak && e.Brood == fieldlog.BroodUnknown:
		return line.TooFew("whether the brood break begins or ends is missing", "halfcup add queen-caged M2, and later halfcup add queen-released M2")
	}
	if len(a.words) == 1 && strings.EqualFold(a.words[0], "all") {
		all := a.living()
		if e.Kind == fieldlog.SupersOff {
			all = a.withSupers(all)
		}
		if len(all) == 0 {
			return &show.Problem{What: "the record has no living colony here", Remedy: "name the hives"}
		}
		for _, c := range all {
			if err := a.add(c, e); err != nil {
				return err
			}
		}
		return nil
	}
	begins := e.Kind.Begins()
	for _, word := range a.words {
		if name, mites, ok := strings.Cut(word, "="); ok {
			return &sampling.SyntaxError{Input: word, Offset: len(name), Length: len(mites) + 1, Problem: fmt.Sprintf("mites belong to a count, and %s is none", a.c.Args().First()), Remedy: "leave it out, or write the count as a line of its own"}
		}
		if _, isDay, err := readDay(word, a.sh.Today, past); isDay {
			return errors.Join(err, &sampling.SyntaxError{Input: word, Length: len(word), Problem: "a day stands behind a hive", Remedy: "write the day before the hives"})
		}
		c, err := a.colony(word)
		if err != nil && begins { // a new colony is what this tells of
			c, err = fieldlog.Colony{Yard: a.common.Yard, Name: word}, nil
		}
		if err != nil {
			return err
		}
		if err := a.add(c, e); err != nil {
			return err
		}
	}
	return nil
}

// counts reads NAME=MITES, or asks for them.
func (a *addition) counts() error {
	if len(a.words) == 1 && a.words[0] == "-" {
		return a.asked()
	}
	for _, word := range a.words {
		at := strings.LastIndexByte(word, '=')
		if at < 0 {
			return &sampling.SyntaxError{Input: word, Length: len(word), Problem: "this is neither a day nor a hive with its mites", Remedy: "write NAME=MITES, such as " + word + "=3, or " + word + "=- when it was not counted"}
		}
		c, err := a.colony(word[:at])
		if err != nil {
			return err
		}
		if word[at+1:] == "-" {
			a.skipped = append(a.skipped, c.Name)
			continue
		}
		e, err := a.count(c, word[at+1:])
		if err != nil {
			return line.Within(word, at+1, err)
		}
		if err := a.add(c, e); err != nil {
			return err
		}
	}
	if len(a.events) == 0 {
		return line.TooFew("no hive was counted", addExample)
	}
	return nil
}

// count reads the mites of a hive, with what may stand behind them: its own
// frames and the weather of a roll.
func (a *addition) count(c fieldlog.Colony, text string) (fieldlog.Event, error) {
	mites, own, _ := strings.Cut(text, "/")
	if n, err := strconv.Atoi(mites); err != nil || n < 0 {
		return fieldlog.Event{}, &sampling.SyntaxError{Input: text, Length: max(len(mites), 1), Problem: fmt.Sprintf("%q is not a number of mites", mites), Remedy: "write it in digits, 0 when there was none, - when nobody counted"}
	}
	measure, rest := a.measureOf(c)
	if own != "" {
		rest = own
	}
	notation := string(a.method) + ":" + mites + "/" + measure
	if rest != "" {
		notation += "/" + rest
	}
	count, err := sampling.ParseCount(notation)
	if err != nil {
		return fieldlog.Event{}, err
	}
	if !count.Date.IsZero() {
		return fieldlog.Event{}, &sampling.SyntaxError{Input: text, Length: len(text), Problem: "the day of a line stands before the hives", Remedy: "write it there, such as halfcup add roll 14jun M1=3"}
	}
	e := a.common
	e.Count = &count
	return e, nil
}

// restOfDay is the frames and the weather that most of the counts of the day have,
// as they stand behind a measure; "" when no more have them than have others. What
// one hive had of its own is not that of the next line.
func (a *addition) restOfDay(fits func(fieldlog.Event) bool) string {
	times := map[string]int{}
	for _, e := range a.rec.Once() {
		if e.Date != a.common.Date || !fits(e) {
			continue
		}
		var parts []string
		if e.Count.Frames > 0 {
			parts = append(parts, fmt.Sprintf("%df", e.Count.Frames))
		}
		if w := e.Count.Weather; w != "" {
			parts = append(parts, string(w))
		}
		times[strings.Join(parts, "/")]++
	}
	most, rest := 0, ""
	for words, n := range times {
		switch {
		case n > most:
			most, rest = n, words
		case n == most:
			rest = ""
		}
	}
	return rest
}

// measureOf is what was looked at in a count of a colony, and its frames:
// as typed, as in the counts by the method of that day, as the board went in, as
// the settings say, half a cup.
func (a *addition) measureOf(c fieldlog.Colony) (measure, rest string) {
	if a.measure != "" {
		measure, rest, _ = strings.Cut(a.measure, "/")
		return measure, rest
	}
	fits := func(e fieldlog.Event) bool {
		return e.Count != nil && e.Count.Method == a.method && fieldlog.SameName(e.Yard) == fieldlog.SameName(a.common.Yard)
	}
	if last := a.lastOfDay(fits); last != nil {
		measure = show.Plain(last.Count.Amount.Value)
		if u := last.Count.Amount.Unit; u != sampling.Bees {
			measure += string(u)
		}
		return measure, a.restOfDay(fits)
	}
	if a.method.Kind() == sampling.Fall {
		own, err := a.rec.History(c.Yard, c.Name)
		if err != nil {
			return "", ""
		}
		for _, e := range slices.Backward(own) {
			if lay := a.common.Date - e.Date; e.Kind == fieldlog.BoardIn && lay > 0 && lay <= 14 {
				return fmt.Sprintf("%dd", lay), ""
			}
		}
		return "", ""
	}
	measure = "0.5cup"
	if own := a.sh.Settings.Measure; own != nil {
		measure = *own
	}
	if own := a.sh.Settings.Frames; own != nil {
		rest = fmt.Sprintf("%.0ff", *own)
	}
	return measure, rest
}

// notCounted says which hives were left out.
func notCounted(skipped []string) string {
	if len(skipped) == 0 {
		return ""
	}
	return show.List(skipped) + " not counted."
}
