package treat

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// fallsForm is what fell after each of several rounds.
type fallsForm struct {
	decide.Falls
	decide.RoundsSeen
	colony string // "" when typed
}

func workedFalls(sh *line.Shell, c *cli.Context, a *worked) (workedForm, error) {
	f := &fallsForm{}
	f.Arrivals = a.rules.Base.Arrivals
	var err error
	if f.Counts, err = parseFalls(c.String("falls")); err != nil {
		return nil, line.InFlag("falls", err)
	}
	if c.IsSet("brood") {
		brood, err := line.Choice(c, "brood", "yes", "no")
		if err != nil {
			return nil, err
		}
		b := decide.FullBrood
		if brood == "no" {
			b = decide.NoBrood
		}
		f.Brood = &b
	}
	if c.IsSet("adult-bees") {
		if f.AdultBees, err = line.Number(c, "adult-bees", nil); err != nil {
			return nil, err
		}
	}
	if c.IsSet("fall-before") {
		v, err := line.Number(c, "fall-before", nil)
		if err != nil {
			return nil, err
		}
		f.FallBefore = &v
	}
	return f, a.judgeFalls(f)
}

// judgeFalls lets the falls be judged.
func (a *worked) judgeFalls(f *fallsForm) error {
	rounds := make([]decide.TreatmentDay, len(f.Counts))
	for i, c := range f.Counts {
		rounds[i].On = c.Date - sampling.Date(math.Round(c.DaysOnBoard()))
		if a.treatment != nil {
			rounds[i].Treatment = *a.treatment
		}
	}
	if a.course.First.IsZero() {
		a.course = decide.Courses(rounds)[0]
	}
	h := a.rules.Base.History
	h.Happenings = f.Happenings
	a.capped = h.CappedBrood(a.course.First)
	if f.Brood != nil {
		a.capped = *f.Brood != decide.NoBrood
	}
	a.expect()
	if t := a.treatment; t != nil && (t.ActsInBrood || t.WholeColony) {
		return &show.Problem{
			What:   fmt.Sprintf("%s brings mites down out of the brood too, or over weeks, so its falls do not tell the kill on the bees", t.TreatmentName),
			Remedy: "count bees before and after it instead, with --before and --after",
		}
	}
	f.Assumptions, f.Year, f.Rates, f.Level, f.Target = a.rules.Assumptions, a.rules.Base.Year, a.rules.Base.Rates, a.level, a.target
	var err error
	f.RoundsSeen, err = f.Judge()
	a.Reduction, a.answer = f.Reduction, f.Answer
	return err
}

// parseFalls reads MITES/DAYS@DATE,...
func parseFalls(s string) ([]sampling.Count, error) {
	const method = "knockdown:" // in the notation of a count
	var out []sampling.Count
	offset := 0
	for _, part := range strings.Split(s, ",") {
		c, err := sampling.ParseCount(method + part)
		if err != nil {
			return nil, line.Within(s, max(offset-len(method), 0), err)
		}
		if c.Date.IsZero() {
			return nil, &sampling.SyntaxError{Input: s, Offset: offset, Length: len(part), Problem: "the day the board came out is missing", Remedy: "write mites, days and that day, such as 310/2d@2026-08-01"}
		}
		out = append(out, c)
		offset += len(part) + 1
	}
	return out, nil
}

func (f *fallsForm) verdict(a *worked) string {
	subject := a.subject(f.colony) + ": "
	after := "Count bees on " + say.ShortDay(f.Days[len(f.Days)-1]+decide.SettleDays)
	switch {
	case a.answer == decide.Worked:
		return subject + "the rounds did their work. " + after + " to be sure."
	case f.Trend == decide.Static:
		return subject + "the rounds only hold the level; more of them will not do. " + after + "."
	case f.Trend == decide.Falling && a.answer == decide.DidNot:
		return subject + "the mites are falling, and too few are gone. " + after + "."
	}
	return subject + "cannot tell from these boards. " + after + "."
}

func (f *fallsForm) figures(*worked) string {
	return fmt.Sprintf("All rounds took %s of the mites, 14 days after the last.", limits(f.Reduction))
}

const fallsFound = "A round killed %s of the mites on the bees. Of %s mites at the start %s were left when the last board came out; they are %s. " +
	"One more round on %s would take %s of those, if the label allows it."

func (f *fallsForm) print(w io.Writer, page show.Page, _ *worked) {
	t := show.Table{Columns: []show.Column{{Name: "round"}, {Name: "fell", Right: true}, {Name: "in days", Right: true}}}
	for i, c := range f.Counts {
		t.Rows = append(t.Rows, []string{say.ShortDay(f.Days[i]), fmt.Sprint(c.Mites), show.Plain(c.DaysOnBoard())})
	}
	fmt.Fprint(w, "\n", page.Table(t))
	fmt.Fprint(w, page.Wrap(fmt.Sprintf(fallsFound,
		shares(f.Kill), mites(f.Start), mites(f.Left), trends[f.Trend], say.ShortDay(f.NextDay), shares(f.NextRound)), 0))
}

var trends = map[decide.Trend]string{
	decide.Falling:     "falling",
	decide.Static:      "not falling",
	decide.TrendUnsure: "falling or not, nobody can tell",
}

func shares(r decide.Range) string {
	return fmt.Sprintf("%s (%s to %s)", show.Percent(r.Middle), show.Percent(r.Low), show.Percent(r.High))
}

// mites writes a number of mites, in two digits: they are never known better.
func mites(r decide.Range) string {
	return fmt.Sprintf("%s (%s to %s)", someMites(r.Middle), someMites(r.Low), someMites(r.High))
}

func someMites(x float64) string {
	if x < 0.5 {
		return "under 1"
	}
	return show.Digits(x, 2, 0)
}

func (f *fallsForm) warnings(a *worked) []say.Warning {
	if f.Brood != nil {
		return nil
	}
	brood := "capped brood"
	if !a.capped {
		brood = "no capped brood"
	}
	return say.Warn(say.Assumed, fmt.Sprintf("By the season there was %s. Say --brood yes or no if you know better: it changes the answer.", brood))
}

const fallsWhy = "Mites fall because the treatment kills those that ride on bees. " +
	"More come out of the brood between two rounds, so a second board can be as full as the first although the first round did well. " +
	"Reading all boards together, a round killed about %.0f of every 100 mites on the bees; it would be odd if that were under %.0f or over %.0f. " +
	"%s two weeks after the last round. It is wrong if there was far more or less brood than the season has, or mites flew in."

func (f *fallsForm) explain(a *worked) string {
	return fmt.Sprintf(fallsWhy,
		100*f.Kill.Middle, 100*f.Kill.Low, 100*f.Kill.High, say.Capital(show.OfHundred(f.Reached, "colonies with such boards", fmt.Sprintf("rid of at least %.0f of every 100 mites", 100*a.target))))
}

type workedFallsJSON struct {
	Kill            say.Range       `json:"kill"`
	MitesAtStart    say.Range       `json:"mites_at_start"`
	MitesLeft       say.Range       `json:"mites_left"`
	MitesLeftOnBees say.Range       `json:"mites_left_on_bees"`
	LeftOfStart     say.Range       `json:"left_of_start"`
	Trend           decide.Trend    `json:"trend"`
	Rounds          []sampling.Date `json:"rounds"`
	NextRound       sampling.Date   `json:"next_round"`
	NextRoundShare  say.Range       `json:"next_round_share"`
	NextRoundMites  say.Range       `json:"next_round_mites"`
}

func (f *fallsForm) json(a *worked, out *workedJSON) {
	out.ChanceReached = show.Number(f.Reached)
	out.Falls = &workedFallsJSON{
		Kill: say.RangeOf(f.Kill), MitesAtStart: say.RangeOf(f.Start), MitesLeft: say.RangeOf(f.Left), MitesLeftOnBees: say.RangeOf(f.LeftOnBees),
		LeftOfStart: say.RangeOf(f.LeftOfStart), Trend: f.Trend, Rounds: f.Days, NextRound: f.NextDay,
		NextRoundShare: say.RangeOf(f.NextRound), NextRoundMites: say.RangeOf(f.NextRoundMites),
	}
	out.Assumptions = append(a.rules.Sources(f.Counts[0]), sourcesOf("round_cv", "cells_log_sd", "level_line", "days_on_bees", "drone_share", "worker_daughters", "drone_daughters", "mortality", "mortality_broodless", "survival")...)
}

func (f *fallsForm) rows() [][]any {
	var out [][]any
	for _, r := range []struct {
		name string
		of   decide.Range
	}{
		{"kill", f.Kill}, {"mites_at_start", f.Start}, {"mites_left", f.Left}, {"mites_left_on_bees", f.LeftOnBees}, {"left_of_start", f.LeftOfStart},
		{"next_round_share", f.NextRound}, {"next_round_mites", f.NextRoundMites},
	} {
		out = append(out, []any{r.name, nil, nil, nil, r.of.Middle, r.of.Low, r.of.High})
	}
	return out
}
