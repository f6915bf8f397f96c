package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/history"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// told is what is compared: every sentence and figure of an answer.
type told struct {
	First    string   `json:"first"`
	Do       string   `json:"do"`
	How      string   `json:"how"`
	Level    string   `json:"level"`
	Caption  string   `json:"caption"`
	Why      []string `json:"why"`
	Due      string   `json:"due"`
	Overdue  int      `json:"overdue"`
	Estimate struct {
		Median, Low, High float64
	} `json:"estimate"`
	Figures struct {
		ChanceOver say.Chances `json:"chance_over"`
	} `json:"figures"`
	Error string `json:"error"`
}

// byProgram is the answer that the packages of the program give, put together
// here and not by the code of the page.
func byProgram(rows []map[string]string, hive string, day sampling.Date) (told, error) {
	var out told
	columns := fieldlog.ColumnNames()
	text := strings.Join(columns, ",") + "\n"
	for _, r := range rows {
		var cells []string
		for _, c := range columns {
			cells = append(cells, r[c])
		}
		text += strings.Join(cells, ",") + "\n"
	}
	rec, err := fieldlog.Read("record", strings.NewReader(text))
	if err != nil {
		return out, err
	}
	year, err := decide.NewYear(decide.YearSettings{})
	if err != nil {
		return out, err
	}
	lines, err := decide.ThresholdSet(decide.DefaultThresholds)
	if err != nil {
		return out, err
	}
	arrivals, _ := decide.Arrivals(decide.DefaultArrivals)
	base := decide.Colony{History: decide.History{Assumptions: sampling.DefaultAssumptions(), Rates: decide.DefaultRates(), Year: year, Arrivals: arrivals}}
	colonies, err := history.Yard(rec, "mill", base, day)
	if err != nil {
		return out, err
	}
	a := decide.Apiary{Rules: decide.Rules{Lines: lines, Costs: decide.DefaultCosts(), MissCost: decide.DefaultMissCost, MinWorth: decide.DefaultMinWorth}}
	for _, c := range colonies {
		a.Colonies = append(a.Colonies, c.Colony)
	}
	all, err := a.On(day)
	if err != nil {
		return out, err
	}
	for _, k := range all {
		if k.Colony != hive {
			continue
		}
		s, err := say.NewStanding(k)
		if err != nil {
			return out, err
		}
		e := k.Known.Summary(0.9)
		out.First, out.Do, out.How = s.First(), s.Row(), s.How()
		if s.HasLevel() {
			out.Level, out.Caption = strings.TrimSpace(s.Level(show.Page{Width: 80}, e)), s.Caption(e)
		}
		for _, w := range []string{s.Alarm(), s.Why(), s.Brood(), s.Neighbours()} {
			if w != "" {
				out.Why = append(out.Why, w)
			}
		}
		out.Due, out.Overdue = k.Due.String(), k.Overdue
		out.Estimate.Median, out.Estimate.Low, out.Estimate.High = e.Median, e.Low, e.High
		out.Figures.ChanceOver = say.Chances{Watch: k.ChanceOverWatch, Act: k.ChanceOverAct}
		return out, nil
	}
	return out, fmt.Errorf("no hive %s", hive)
}

// randomRecord is a season of one to three hives.
func randomRecord(r *rand.Rand) (rows []map[string]string, day sampling.Date) {
	first := sampling.Day(2026, 4, 1)
	day = first + sampling.Date(30+r.IntN(300))
	hives := 1 + r.IntN(3)
	treatments := sampling.Treatments()
	for h := range hives {
		name := []string{"elm", "ash", "oak"}[h]
		add := func(on sampling.Date, event string, more map[string]string) {
			row := map[string]string{"date": on.String(), "yard": "mill", "colony": name, "event": event}
			for k, v := range more {
				row[k] = v
			}
			rows = append(rows, row)
		}
		add(first, "inspection", nil)
		for on := first; on < day; on += sampling.Date(10 + r.IntN(60)) {
			switch r.IntN(8) {
			case 0:
				t := treatments[r.IntN(len(treatments))]
				add(on, "treatment", map[string]string{"active": t.Active, "application": t.Application})
			case 1:
				add(on, []string{"swarmed", "requeened", "supers-on"}[r.IntN(3)], nil)
			case 2:
				add(on, "count", map[string]string{"method": "board", "mites": fmt.Sprint(r.IntN(40)), "amount": "3d"})
			default:
				add(on, "count", map[string]string{"method": []string{"roll", "wash"}[r.IntN(2)], "mites": fmt.Sprint(int(math.Exp(3.5*r.Float64())) - 1), "amount": []string{"0.5cup", "300", "1cup"}[r.IntN(3)], "frames": "1"})
			}
		}
	}
	return rows, day
}

// How many records are drawn, and which.
var (
	records = flag.Int("records", 20, "records to compare the page and the program on")
	seed    = flag.Uint64("seed", 23, "what the records are drawn from")
)

// The same records through the page in a browser and through the packages of the
// program: every sentence the same, every figure to nine digits. (The two do not
// share the last digits: logarithms are worked out by other machine code.)
func TestPageSaysWhatTheProgramSays(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	p := startBrowser(t).open(url)
	r := rand.New(rand.NewPCG(*seed, 1))
	calls := map[string]int{}
	for i := range *records {
		rows, day := randomRecord(r)
		want, err := byProgram(rows, "elm", day)
		if err != nil {
			t.Fatal(err)
		}
		data, err := json.Marshal(rows)
		if err != nil {
			t.Fatal(err)
		}
		var got told
		p.eval(fmt.Sprintf(`Engine.ask({do: "open", rows: %s}).then(() => Engine.ask({do: "hive", yard: "mill", hive: "elm", day: %q}))`, data, day), &got)
		same := got.First == want.First && got.Do == want.Do && got.How == want.How && got.Level == want.Level && got.Caption == want.Caption &&
			strings.Join(got.Why, "|") == strings.Join(want.Why, "|") && got.Due == want.Due && got.Overdue == want.Overdue
		near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b)) }
		if !same || !near(got.Estimate.Median, want.Estimate.Median) || !near(got.Estimate.Low, want.Estimate.Low) || !near(got.Estimate.High, want.Estimate.High) ||
			!near(got.Figures.ChanceOver.Act, want.Figures.ChanceOver.Act) || !near(got.Figures.ChanceOver.Watch, want.Figures.ChanceOver.Watch) {
			t.Errorf("record %d of seed %d, on %s:\n page    %+v\n program %+v\n rows    %s", i, *seed, day, got, want, data)
		}
		calls[want.Do]++
	}
	if len(calls) < min(10, *records/4) {
		t.Errorf("the records ask too little: %v", calls)
	}
	t.Logf("%d records of seed %d, %d different rows of what to do", *records, *seed, len(calls))
}
