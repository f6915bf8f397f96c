package main

import (
	"fmt"
	"io"

	"halfcup/cmd/internal/show"
	"halfcup/cmd/seasontrial/internal/trial"
)

const (
	trialHead    = "%s from the first of April for %s, seed %d. Means per colony and season, ± their standard errors. A missed treatment is worth %s."
	trialColumns = "killed: bees killed by counting. treated: treatments begun. missed: months that a colony was a third over the line without treatment. " +
		"needless: treatments of colonies a third under the line. regret: what all mistakes cost, in needless treatments. " +
		"over 5: of a hundred colonies, those that ended over five mites per hundred."
	trialOtherwise = "What choose did otherwise on the same colonies (below zero is less), ± the error of the difference, by setting; ahead: needless treatments held against the lowest line of the month to come:"
	trialChances   = "Were the chances true? Of the colonies that choose said are over the line with a chance as on the left, so many were, in percent ± the error of the difference (of how many):"
	trialForecasts = "Were the forecasts? Of colonies that were washed each month and left alone, the share of levels in the 80% interval foretold, in percent:"
	trialTooHigh   = "How far what was expected of a colony, before it was rolled again, lay above the truth, on the log scale (0.1 is a tenth too high):"
)

// printTrial writes r for people.
func printTrial(w io.Writer, p show.Page, r trial.Result) {
	fmt.Fprint(w, p.Wrap(fmt.Sprintf(trialHead, show.Many(r.Colonies, "colony", "colonies"), show.Many(r.Months, "month", "months"), r.Seed, needlessOnes(r.MissCost)), 0), "\n")
	for _, policy := range r.Settings[0].Policies {
		if !policy.Change {
			fmt.Fprint(w, p.Hang(policy.Name+": "+policy.Text, 2, 4))
		}
	}
	for _, s := range r.Settings {
		fmt.Fprint(w, "\n", p.Wrap(s.Name+": "+s.Text, 0))
		t := show.Table{Columns: []show.Column{{Name: "policy"}, {Name: "killed", Right: true}, {Name: "minutes", Right: true}, {Name: "treated", Right: true}, {Name: "missed", Right: true}, {Name: "needless", Right: true}, {Name: "regret", Right: true}, {Name: "over 5", Right: true}}}
		for _, f := range s.Policies {
			if f.Change {
				continue
			}
			t.Rows = append(t.Rows, []string{
				f.Name, show.Fixed(f.Killed, 0), show.Fixed(f.Minutes, 0), show.Fixed(f.Treatments, 1),
				withError(f.Missed, f.SE.Missed, 2), withError(f.Needless, f.SE.Needless, 2), withError(f.Regret, f.SE.Regret, 2), withError(f.OverFive, f.SE.OverFive, 0),
			})
		}
		fmt.Fprint(w, p.Table(t))
	}
	fmt.Fprint(w, "\n", p.Wrap(trialColumns, 0))
	if t := differenceTable(r); len(t.Rows) > 0 {
		fmt.Fprint(w, "\n", p.Wrap(trialOtherwise, 0), p.Table(t))
	}
	printChanges(w, p, r)
	fmt.Fprint(w, "\n", p.Wrap(trialChances, 0), p.Table(reliabilityTable(r)))
	fmt.Fprint(w, p.Wrap("The last row is the share of true levels that lay in the 90% interval.", 0))
	if t := forecastTable(r); len(t.Rows) > 0 {
		fmt.Fprint(w, "\n", p.Wrap(trialForecasts, 0), p.Table(t))
	}
	if t := biasTable(r); len(t.Rows) > 0 {
		fmt.Fprint(w, "\n", p.Wrap(trialTooHigh, 0), p.Table(t))
	}
}

// differenceTable sets the advice against washes every month and, which takes
// about as many minutes, every three weeks. It has no rows when errors cannot be
// told.
func differenceTable(r trial.Result) show.Table {
	t := show.Table{Columns: []show.Column{{Name: "choose less"}, {Name: "minutes", Right: true}, {Name: "missed", Right: true}, {Name: "needless", Right: true}, {Name: "ahead", Right: true}, {Name: "regret", Right: true}}}
	for _, s := range r.Settings {
		for i, against := range []string{"bare wash", "3 weeks"} {
			d, ok := s.Difference(trial.Advised, against)
			if !ok || d.SE.Missed != d.SE.Missed {
				continue
			}
			if i == 0 {
				t.Rows = append(t.Rows, []string{s.Name})
			}
			t.Rows = append(t.Rows, []string{"  " + against, fmt.Sprintf("%+.0f", d.Minutes), signedWithError(d.Missed, d.SE.Missed), signedWithError(d.Needless, d.SE.Needless), signedWithError(d.NeedlessAhead, d.SE.NeedlessAhead), signedWithError(d.Regret, d.SE.Regret)})
		}
	}
	return t
}

// printChanges tells what changing one thing of the advice at a time does.
func printChanges(w io.Writer, p show.Page, r trial.Result) {
	t := show.Table{Columns: []show.Column{{Name: "changed"}, {Name: "minutes", Right: true}, {Name: "missed", Right: true}, {Name: "needless", Right: true}, {Name: "regret", Right: true}}}
	var texts []string
	for i, s := range r.Settings {
		t.Rows = append(t.Rows, []string{s.Name})
		for _, f := range s.Policies {
			d, ok := s.Difference(f.Name, trial.Advised)
			if !f.Change || !ok {
				continue
			}
			if i == 0 {
				texts = append(texts, p.Hang(f.Name+": "+f.Text, 2, 4))
			}
			t.Rows = append(t.Rows, []string{"  " + f.Name, fmt.Sprintf("%+.0f", d.Minutes), signedWithError(d.Missed, d.SE.Missed), signedWithError(d.Needless, d.SE.Needless), signedWithError(d.Regret, d.SE.Regret)})
		}
	}
	if texts == nil {
		return
	}
	fmt.Fprint(w, "\n", p.Wrap("One thing changed at a time: what that does to choose on the same colonies, ± the error of the difference.", 0))
	for _, text := range texts {
		fmt.Fprint(w, text)
	}
	fmt.Fprint(w, p.Table(t))
}

// needlessOnes is a number of needless treatments.
func needlessOnes(n float64) string {
	if n == 1 {
		return "one needless one"
	}
	return show.Plain(n) + " needless ones"
}

// withError is a figure with its standard error, where it has one.
func withError(v, se float64, decimals int) string {
	if se != se {
		return show.Fixed(v, decimals)
	}
	return show.Fixed(v, decimals) + " ±" + show.Fixed(se, decimals)
}

// signedWithError is a difference with its standard error, where it has one.
func signedWithError(v, se float64) string {
	if v > 0 {
		return "+" + withError(v, se, 2)
	}
	return withError(v, se, 2)
}

// reliabilityTable has a row for every tenth of the chances and a column for
// every setting.
func reliabilityTable(r trial.Result) show.Table {
	t := show.Table{Columns: []show.Column{{Name: "chance told"}}}
	for _, s := range r.Settings {
		t.Columns = append(t.Columns, show.Column{Name: s.Name, Right: true})
	}
	for i := range 10 {
		row := []string{fmt.Sprintf("%d to %d%%", 10*i, 10*i+10)}
		for _, s := range r.Settings {
			cell := ""
			for _, b := range s.Reliability {
				if b.Tenth == i {
					cell = fmt.Sprintf("%s (%d)", percentWithError(b.Was, b.SE), b.N)
				}
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	row := []string{"in 90%"}
	for _, s := range r.Settings {
		row = append(row, show.Fixed(100*s.Coverage90, 1))
	}
	t.Rows = append(t.Rows, row)
	return t
}

const (
	trialInstead    = "With the setting %s, doing what choose says killed %.0f bees a colony instead of %.0f, was late by %.2f months instead of %.2f, and treated %.2f times for nothing instead of %.2f."
	trialDifference = " On the same colonies that is %+.2f ± %.2f months missed, %+.2f ± %.2f needless treatments and %+.2f ± %.2f of regret; held against the lowest line of the month to come, %+.2f ± %.2f needless ones."
)

// trialClosing holds the advice of choose against the usual way.
func trialClosing(r trial.Result) string {
	s := r.Settings[0]
	usual, advice := s.Policies[0], s.Policies[0]
	for _, p := range s.Policies {
		if p.Name == trial.Advised {
			advice = p
		}
	}
	text := fmt.Sprintf(trialInstead,
		s.Name, advice.Killed, usual.Killed, advice.Missed, usual.Missed, advice.Needless, usual.Needless)
	d, ok := s.Difference(advice.Name, usual.Name)
	if !ok || d.SE.Missed != d.SE.Missed {
		return text
	}
	return text + fmt.Sprintf(trialDifference,
		d.Missed, d.SE.Missed, d.Needless, d.SE.Needless, d.Regret, d.SE.Regret, d.NeedlessAhead, d.SE.NeedlessAhead)
}

// forecastTable has a row for every number of days ahead.
func forecastTable(r trial.Result) show.Table {
	var days []string
	cells := map[string]map[string]string{}
	for _, s := range r.Settings {
		for _, h := range s.Forecasts {
			days = put(cells, days, fmt.Sprintf("%d days", h.Days), s.Name, percentWithError(h.Coverage80, h.SE))
		}
	}
	return bySetting(r, "ahead", days, cells)
}

// biasTable has a row for every month.
func biasTable(r trial.Result) show.Table {
	var months []string
	cells := map[string]map[string]string{}
	for _, s := range r.Settings {
		for _, b := range s.Bias {
			months = put(cells, months, b.Month.String(), s.Name, withError(b.Log, b.SE, 2))
		}
	}
	return bySetting(r, "month", months, cells)
}

const replayHead = "%d washes, each foretold from the earlier ones of the colony and its treatment. " +
	"In 90%%: how many lay in the 90%% interval, in percent, as whole mites and with the chance of a count spread evenly over it (90 when all is right). " +
	"Middle: above 0.5 when more mites came than were foretold. Log score: the mean logarithm of the chance of the mites that came; higher is better."

// printReplay writes how well washes were foretold.
func printReplay(w io.Writer, p show.Page, r trial.Replayed) {
	fmt.Fprint(w, p.Wrap(fmt.Sprintf(replayHead, r.All.N), 0))
	t := show.Table{Columns: []show.Column{{Name: "washes"}, {Name: "n", Right: true}, {Name: "in 90%", Right: true}, {Name: "spread", Right: true}, {Name: "middle", Right: true}, {Name: "log score", Right: true}}}
	add := func(kind string, scores ...trial.Score) {
		for _, s := range scores {
			t.Rows = append(t.Rows, []string{kind + s.Name, fmt.Sprint(s.N), show.Fixed(100*s.Held, 0), percentWithError(s.Share90, s.ShareSE), show.Fixed(s.Middle, 2), withError(s.Log, s.LogSE, 2)})
		}
	}
	add("", r.All)
	add("yard ", r.Yards...)
	add("visit ", r.Visits...)
	fmt.Fprint(w, p.Table(t))
}

// put notes a cell and keeps the rows in the order in which they first came.
func put(cells map[string]map[string]string, rows []string, row, column, cell string) []string {
	if cells[row] == nil {
		cells[row] = map[string]string{}
		rows = append(rows, row)
	}
	cells[row][column] = cell
	return rows
}

// bySetting is a table with a column for every setting.
func bySetting(r trial.Result, first string, rows []string, cells map[string]map[string]string) show.Table {
	t := show.Table{Columns: []show.Column{{Name: first}}}
	for _, s := range r.Settings {
		t.Columns = append(t.Columns, show.Column{Name: s.Name, Right: true})
	}
	for _, name := range rows {
		row := []string{name}
		for _, s := range r.Settings {
			row = append(row, cells[name][s.Name])
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func percentWithError(share, se float64) string { return withError(100*share, 100*se, 0) }

func trialChart(r trial.Result) show.TrialChart {
	var t show.TrialChart
	for _, p := range r.Settings[0].Policies {
		t.Names = append(t.Names, p.Name)
	}
	for _, s := range r.Settings {
		c := show.TrialColumn{Title: s.Name}
		for _, p := range s.Policies {
			c.Killed, c.Regret, c.Error = append(c.Killed, p.Killed), append(c.Regret, p.Regret), append(c.Error, p.SE.Regret)
		}
		for _, b := range s.Reliability {
			c.Said, c.Was = append(c.Said, b.Said), append(c.Was, b.Was)
		}
		t.Columns = append(t.Columns, c)
	}
	return t
}

// The JSON, halfcup.trial/1.
type (
	seasonTrialJSON struct {
		Trial trialResultJSON `json:"trial"`
	}
	trialResultJSON struct {
		Seed     uint64             `json:"seed"`
		Colonies int                `json:"colonies"`
		Months   int                `json:"months"`
		MissCost float64            `json:"miss_cost"`
		MinWorth float64            `json:"min_worth"`
		Settings []trialSettingJSON `json:"settings"`
	}
	trialSettingJSON struct {
		Name        string            `json:"name"`
		What        string            `json:"what"`
		Policies    []trialPolicyJSON `json:"policies"`
		Reliability []trialBinJSON    `json:"reliability"`
		Coverage90  show.Number       `json:"coverage90"`

		Forecasts     []trialHorizonJSON `json:"forecasts"`
		Bias          []trialBiasJSON    `json:"bias"`
		BiasUntreated []trialBiasJSON    `json:"bias_untreated"`
	}
	trialPolicyJSON struct {
		Name string `json:"name"`
		What string `json:"what"`
		trialFiguresJSON
		SE         trialFiguresJSON `json:"se"`
		Coverage90 show.Number      `json:"coverage90"`
	}
	trialFiguresJSON struct {
		Killed     show.Number `json:"killed"`
		Minutes    show.Number `json:"minutes"`
		Treatments show.Number `json:"treatments"`
		Missed     show.Number `json:"missed"`
		Needless   show.Number `json:"needless"`
		Ahead      show.Number `json:"needless_ahead"`
		Regret     show.Number `json:"regret"`
		OverFive   show.Number `json:"over_five"`
	}
	trialBinJSON struct {
		Said float64     `json:"said"`
		Was  float64     `json:"was"`
		SE   show.Number `json:"se"`
		N    int         `json:"n"`
	}
	trialHorizonJSON struct {
		Days       int         `json:"days"`
		Coverage80 float64     `json:"coverage80"`
		SE         show.Number `json:"se"`
		N          int         `json:"n"`
	}
	trialBiasJSON struct {
		Month int         `json:"month"`
		Log   float64     `json:"log"`
		SE    show.Number `json:"se"`
		N     int         `json:"n"`
	}
)

func trialFigures(f trial.Figures) trialFiguresJSON {
	return trialFiguresJSON{
		Killed: show.Number(f.Killed), Minutes: show.Number(f.Minutes), Treatments: show.Number(f.Treatments),
		Missed: show.Number(f.Missed), Needless: show.Number(f.Needless), Ahead: show.Number(f.NeedlessAhead), Regret: show.Number(f.Regret), OverFive: show.Number(f.OverFive),
	}
}

func trialAnswer(r trial.Result) seasonTrialJSON {
	out := trialResultJSON{Seed: r.Seed, Colonies: r.Colonies, Months: r.Months, MissCost: r.MissCost, MinWorth: r.MinWorth}
	for _, s := range r.Settings {
		setting := trialSettingJSON{Name: s.Name, What: s.Text, Reliability: []trialBinJSON{}, Coverage90: show.Number(s.Coverage90)}
		for _, p := range s.Policies {
			setting.Policies = append(setting.Policies, trialPolicyJSON{p.Name, p.Text, trialFigures(p.Figures), trialFigures(p.SE), show.Number(p.Coverage90)})
		}
		for _, b := range s.Reliability {
			setting.Reliability = append(setting.Reliability, trialBinJSON{b.Said, b.Was, show.Number(b.SE), b.N})
		}
		setting.Forecasts = []trialHorizonJSON{}
		for _, h := range s.Forecasts {
			setting.Forecasts = append(setting.Forecasts, trialHorizonJSON{h.Days, h.Coverage80, show.Number(h.SE), h.N})
		}
		setting.Bias, setting.BiasUntreated = trialBias(s.Bias), trialBias(s.BiasUntreated)
		out.Settings = append(out.Settings, setting)
	}
	return seasonTrialJSON{out}
}

func trialBias(months []trial.MonthBias) []trialBiasJSON {
	out := []trialBiasJSON{}
	for _, b := range months {
		out = append(out, trialBiasJSON{int(b.Month), b.Log, show.Number(b.SE), b.N})
	}
	return out
}

func trialCSV(r trial.Result) show.CSV {
	t := show.CSV{Head: []string{"setting", "policy"}}
	names := []string{"killed", "minutes", "treatments", "missed", "needless", "needless_ahead", "regret", "over_five"}
	t.Head = append(t.Head, names...)
	for _, n := range names {
		t.Head = append(t.Head, n+"_se")
	}
	t.Head = append(t.Head, "coverage90")
	for _, s := range r.Settings {
		for _, p := range s.Policies {
			row := []any{s.Name, p.Name}
			for _, f := range []trial.Figures{p.Figures, p.SE} {
				row = append(row, f.Killed, f.Minutes, f.Treatments, f.Missed, f.Needless, f.NeedlessAhead, f.Regret, f.OverFive)
			}
			t.Rows = append(t.Rows, append(row, p.Coverage90))
		}
	}
	return t
}
