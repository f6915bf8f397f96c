package keep

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// added is what was written and how its colonies stand now; its JSON is
// halfcup.log-add/3.
type added struct {
	File        string            `json:"file"`
	Created     bool              `json:"created"`
	Rows        []loggedEvent     `json:"rows"`
	NotCounted  []string          `json:"not_counted"`
	Now         []nowJSON         `json:"now"` // the colonies as they stand with the new rows
	Assumptions []sampling.Source `json:"assumptions"`

	fieldlog.Appended `json:"-"`
	standings         map[fieldlog.Colony]say.Standing
	warnings          []say.Warning
}

// nowJSON is a colony as it stands today.
type nowJSON struct {
	Yard     *string          `json:"yard"`
	Colony   string           `json:"colony"`
	Estimate sampling.Summary `json:"estimate"`
	say.Judgement
}

// tell says back what was written, as the record reads it, and what to do now
// about the colonies of the new rows. The rows are written by now, so that
// nothing here may fail: what cannot be told is a warning.
func tell(sh *line.Shell, r ask.Rules, a fieldlog.Appended, skipped []string) error {
	sh.Done = show.Many(len(a.Events), "row is", "rows are") + " written to " + a.Record.Path
	out := &added{File: a.Record.Path, Created: a.Created, NotCounted: append([]string{}, skipped...), Now: []nowJSON{}, Appended: a, standings: map[fieldlog.Colony]say.Standing{}}
	var counts []sampling.Count
	for _, e := range a.Events {
		out.Rows = append(out.Rows, logged(sh, e))
		if e.Count != nil {
			counts = append(counts, *e.Count)
		}
	}
	out.Assumptions = r.Sources(counts...)
	out.warnings = append(addedWarnings(sh, a), say.Warn(say.LeftOut, ask.NoteUnread(a.Record)...)...)
	out.judge(sh, r)
	out.warnings = append(out.warnings, out.treated(sh.Today)...)
	return sh.Write(line.Answer{
		Schema:   "halfcup.log-add/3",
		JSON:     out,
		CSV:      loggedCSV(a.Events),
		Text:     func(w io.Writer) { out.print(w, sh) },
		Warnings: out.warnings,
	})
}

// judge finds out how the colonies of the new rows stand.
func (a *added) judge(sh *line.Shell, r ask.Rules) {
	rec, _ := a.Record.Usable(sh.Today)
	if bad := a.Record.Misdated(sh.Today); bad != nil {
		more := ""
		if len(bad) > 1 {
			more = fmt.Sprintf(" So are %d more.", len(bad)-1)
		}
		a.warnings = append(a.warnings, say.Warn(say.LeftOut, fmt.Sprintf("Left out of what is said here: %s: %s. %s.%s", bad[0].Place(), bad[0].What, say.Capital(bad[0].Remedy), more))...)
	}
	yards := map[string][]fieldlog.Event{} // one of each colony, by yard
	var order []string
	for _, e := range a.Events {
		if e.Kind == fieldlog.United {
			e.Colony = e.Other // the one that is there to be judged
		}
		yard := fieldlog.Of(e).Yard
		if yards[yard] == nil {
			order = append(order, yard)
		}
		if !slices.ContainsFunc(yards[yard], func(o fieldlog.Event) bool { return fieldlog.Of(o) == fieldlog.Of(e) }) {
			yards[yard] = append(yards[yard], e)
		}
	}
	for _, yard := range order {
		if err := a.judgeYard(sh, r, rec, yards[yard]); err != nil {
			a.warnings = append(a.warnings, say.Warn(say.Written, fmt.Sprintf("This is written, but what to do now cannot be said: %v.", err))...)
		}
	}
}

// judgeYard judges the colonies of some events of one yard.
func (a *added) judgeYard(sh *line.Shell, r ask.Rules, rec *fieldlog.Record, events []fieldlog.Event) error {
	colonies, err := history.Yard(rec, events[0].Yard, r.Base, sh.Today)
	if err != nil {
		return err
	}
	yard := decide.Apiary{Rules: r.Rules}
	place := map[string]int{}
	for i, c := range colonies {
		place[fieldlog.SameName(c.Name)] = i
		yard.Colonies = append(yard.Colonies, c.Colony)
	}
	standings := map[string]decide.Standing{}
	if len(events) > 1 {
		all, err := yard.On(sh.Today)
		if err != nil {
			return err
		}
		for _, s := range all {
			standings[fieldlog.SameName(s.Colony)] = s
		}
	}
	for _, e := range events {
		id := fieldlog.Of(e)
		i, there := place[id.Name]
		if !there {
			continue
		}
		a.warnings = append(a.warnings, say.Warn(say.LeftOut, colonies[i].Unread...)...)
		if !colonies[i].Lives(sh.Today) {
			continue // nothing is to be done about it
		}
		s, ok := standings[id.Name]
		if !ok {
			if s, err = yard.Of(i, sh.Today); err != nil {
				return err
			}
		}
		said, err := say.NewStanding(s)
		if err != nil {
			return err
		}
		a.standings[id] = said
		a.Now = append(a.Now, nowJSON{say.Said(e.Yard), e.Colony, s.Known.Summary(sh.Settings.LimitsLevel()), say.JudgementOf(said)})
	}
	return nil
}

// print says the rows back, those that are alike but for the colony and its
// mites together, and what to do.
func (a *added) print(w io.Writer, sh *line.Shell) {
	tellWritten(sh, w, a.Appended, a.NotCounted...)
	if len(a.Now) == 1 {
		var s say.Standing
		for _, s = range a.standings { // the only one
		}
		fmt.Fprint(w, "\n", sh.Page.Wrap(sh.Page.Paint(show.Strong, s.First()), 0))
		if how := s.How(); how != "" {
			fmt.Fprint(w, sh.Page.Wrap(how, 0))
		}
		if s.HasLevel() && s.Because != decide.Stale {
			fmt.Fprint(w, s.Level(sh.Page, s.Known.Summary(sh.Settings.LimitsLevel())))
		}
		if alarm := s.Alarm(); alarm != "" {
			fmt.Fprint(w, sh.Page.Wrap(alarm, 0))
		}
	} else {
		var cells [][2]string
		for _, e := range a.Events {
			brief := ended(e)
			if s, ok := a.standings[fieldlog.Of(e)]; ok {
				brief = s.Brief()
			}
			cells = append(cells, [2]string{named(e), brief})
		}
		fmt.Fprint(w, sh.Page.InColumns(aligned(cells), 2))
	}
	undo := "Wrong? halfcup undo"
	if n := len(a.Events); n != len(a.Record.LastAddition()) { // it has no ids that hold them together
		undo += fmt.Sprintf(" --rows %d", n)
	}
	fmt.Fprintln(w, undo)
}

// ended is what to do about a colony that is no more.
func ended(e fieldlog.Event) string {
	switch e.Kind {
	case fieldlog.Died:
		return "shut the hive, or robbers carry its mites home"
	case fieldlog.United:
		return "its mites went along to " + e.Other
	}
	return ""
}

// aligned sets what is to do one below the other.
func aligned(cells [][2]string) []string {
	wide := 0
	for _, c := range cells {
		wide = max(wide, show.Wide(c[0]))
	}
	var out []string
	for _, c := range cells {
		out = append(out, strings.TrimRight(c[0]+strings.Repeat(" ", wide-show.Wide(c[0]))+"  "+c[1], " "))
	}
	return out
}

// named is a colony with the mites that were counted on it.
func named(e fieldlog.Event) string {
	if e.Count == nil {
		return e.Colony
	}
	return fmt.Sprintf("%s %d", e.Colony, e.Count.Mites)
}

// tellWritten says back what was written, as the record reads it.
func tellWritten(sh *line.Shell, w io.Writer, a fieldlog.Appended, skipped ...string) {
	if a.Created {
		fmt.Fprint(w, sh.Page.Wrap(a.Record.Path+" is a new record.", 0))
	}
	type alike struct {
		what   string
		events []fieldlog.Event
	}
	var groups []alike
	for _, e := range a.Events {
		what := tellShared(sh, e)
		i := slices.IndexFunc(groups, func(g alike) bool { return g.what == what })
		if i < 0 {
			i = len(groups)
			groups = append(groups, alike{what: what})
		}
		groups[i].events = append(groups[i].events, e)
	}
	for i, g := range groups {
		s := g.what + ": "
		if len(g.events) > 3 {
			s = fmt.Sprintf("%s. %d written.", g.what, len(g.events))
		} else {
			var names []string
			for _, e := range g.events {
				names = append(names, named(e))
			}
			s += show.List(names) + "."
		}
		if left := notCounted(skipped); left != "" && i == len(groups)-1 {
			s = strings.TrimSuffix(s, ".") + "; " + left
		}
		fmt.Fprint(w, sh.Page.Hang(s, 0, 2))
	}
}

// tellShared is a row in words without its colony and its mites: what a line
// that writes a whole yard says once.
func tellShared(sh *line.Shell, e fieldlog.Event) string {
	parts := []string{dayWords(sh, e.Date)}
	if e.Yard != "" {
		parts = append(parts, e.Yard)
	}
	if e.Count == nil {
		parts = append(parts, strings.ReplaceAll(string(e.Kind), "-", " "))
	}
	sample := func(c sampling.Count) string { return c.Method.Title() + ", " + tellSample(c) }
	if what := tellWith(e, sample); what != "" {
		parts = append(parts, what)
	}
	return strings.Join(parts, ", ")
}

// dayWords is a day, with its year when that is not this one.
func dayWords(sh *line.Shell, d sampling.Date) string {
	if d.Time().Year() != sh.Today.Time().Year() {
		return d.Time().Format("2 January 2006")
	}
	return say.ShortDay(d)
}

const (
	endedBadly = "The record ended badly in line %d: %s. That row was left as it stands; halfcup log check says how to mend it."
	wouldRun   = "A spreadsheet would run the %s %q of line %d as a formula. An apostrophe is written in front of it, which halfcup does not read."
)

// addedWarnings says what is odd about the new rows in the season so far, and
// about the row they follow.
func addedWarnings(sh *line.Shell, a fieldlog.Appended) []say.Warning {
	var out []string
	if a.Torn != nil {
		out = append(out, fmt.Sprintf(endedBadly, a.Torn.Line, a.Torn.What))
	}
	for _, e := range a.Events {
		for _, cell := range []struct{ what, text string }{{"yard", e.Yard}, {"colony", e.Colony}, {"pair", e.Pair}, {"other colony", e.Other}, {"note", e.Note}} {
			if show.Runs(cell.text) {
				out = append(out, fmt.Sprintf(wouldRun, cell.what, show.Printable(cell.text), e.Line))
			}
		}
	}
	for _, p := range a.Record.CheckRows(sh.Today, a.Events) {
		out = append(out, fmt.Sprintf("Line %d is written, but %s. If that is not so: %s.", p.Line, p.What, p.Remedy))
	}
	return say.Warn(say.Written, out...)
}
