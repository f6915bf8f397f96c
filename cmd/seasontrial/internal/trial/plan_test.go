package trial

import (
	"math"
	"testing"
	"time"

	"halfcup/decide"
	"halfcup/internal/long"
	"halfcup/sampling"
)

// weekly is how colonies of the trial fared under a plan, by weekly looks
// between 15 June and 25 October.
type weekly struct {
	over, long, high float64 // weeks over the line; share over it for more than six running unseen; share over five per hundred at the end
	overSE, longSE   float64
}

// playedPlan lets yards as assumed live through a plan. The level is the true
// one, and a call is a treatment that the plan does not have.
func playedPlan(t *testing.T, a *adviser, f figures, p Plan, yards int) weekly {
	t.Helper()
	const months = 7
	days := int(visitDay(months)-firstDay) + 1
	var overs, longs []float64
	out := weekly{}
	from, until := int(sampling.Day(firstYear, time.June, 15)-firstDay), int(sampling.Day(firstYear, time.October, 25)-firstDay)
	for y := range yards {
		yard := newYard(f, 11, y)
		var colonies []*colony
		for i := range yardSize {
			colonies = append(colonies, newColony(f, 11, yard, y*yardSize+i, days))
		}
		g := newPlayground(planned(p)[0], a, colonies)
		g.days = days - 1
		running, gone := make([]int, yardSize), make([]bool, yardSize)
		over := 0.0
		for day := range g.days {
			before := make([]float64, yardSize)
			for i, b := range g.books {
				before[i] = b.treatments
			}
			if err := g.morning(day, -1); err != nil {
				t.Fatal(err)
			}
			byPlan := false
			for _, d := range p.Treat {
				byPlan = byPlan || d.is(firstDay+sampling.Date(day))
			}
			for i, b := range g.books {
				if b.treatments > before[i] && !byPlan {
					running[i] = 0
				}
				if day >= from && day <= until && (day-from)%7 == 0 {
					if 100*b.level() > a.act(b.today()) {
						over++
						running[i]++
					} else {
						running[i] = 0
					}
					gone[i] = gone[i] || running[i] > 6
				}
				b.passes()
			}
		}
		long := 0.0
		for i, b := range g.books {
			if gone[i] {
				long++
			}
			if b.level() > lostFrom {
				out.high += 1 / float64(yards*yardSize)
			}
		}
		overs, longs = append(overs, over/yardSize), append(longs, long/yardSize)
	}
	for i := range overs {
		out.over += overs[i] / float64(yards)
		out.long += longs[i] / float64(yards)
	}
	out.overSE, out.longSE = errorOf(overs), errorOf(longs)
	return out
}

// The yearly plan of the program against yards that live through it: the same
// start, and mites that come in as in the trial's middle. The program takes 25
// of 100 courses beside brood to fail and the trial as assumed lets 8 fail, so
// that it is held against the trial with either.
func TestYearPlanAgainstTheTrial(t *testing.T) {
	long.Only(t)
	const yards = 20
	a := adviserForTest(t)
	f := with(nil)
	start := sampling.Normal(math.Log(f.of("start_median")/100), math.Hypot(f.of("start_yard_log_sd"), f.of("start_colony_log_sd")))
	treat := []CalendarDay{{time.August, 1}, {time.September, 10}}
	year := decide.YearPlan{From: firstDay, Start: &start, AllWritten: true}
	year.Colony.History = decide.History{Assumptions: a.assumptions, Year: a.year, Rates: a.rates, Arrivals: f.of("arrivals_late")}
	year.Rules = decide.Rules{Lines: a.lines, MissCost: a.missCost, Costs: decide.DefaultCosts()}
	for _, d := range treat {
		on := sampling.Day(firstYear, d.Month, d.Day)
		c := decide.Course{Treatment: a.vapour, First: on, Last: on + courseDays}
		for i := range courseRounds {
			c.Rounds = append(c.Rounds, on+sampling.Date(i*courseEvery))
		}
		year.Steps = append(year.Steps, decide.YearStep{Course: c})
	}
	counts := []CalendarDay{{time.July, 20}, {time.September, 5}, {time.October, 12}}
	for _, tt := range []struct {
		name   string
		treat  []CalendarDay
		counts []CalendarDay
		failed float64
	}{
		{"no plan", nil, nil, 0.08},
		{"plan", treat, nil, 0.08},
		{"plan with its counts", treat, counts, 0.08},
		{"plan, courses failing as the program has it", treat, nil, 0.25},
		{"plan with its counts, courses failing so", treat, counts, 0.25},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := Plan{Name: tt.name, Treat: tt.treat}
			y := year
			y.Steps = y.Steps[:len(tt.treat)]
			var planned []decide.YearCount
			for _, d := range tt.counts {
				c := usual(sampling.Roll)
				p.Counts = append(p.Counts, PlannedCount{d, c})
				c.Date = sampling.Day(firstYear, d.Month, d.Day)
				planned = append(planned, decide.YearCount{Count: c})
			}
			got := playedPlan(t, a, with(figures{"kill_failure_chance": tt.failed}), p, yards)
			want, err := y.Outlook(planned...)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("weeks over: trial %.2f (SE %.2f), plan %.2f; more than six weeks unseen: trial %.3f (SE %.3f), plan %.3f; over five per hundred at the end: trial %.3f", got.over, got.overSE, want.WeeksOver, got.long, got.longSE, want.Unseen, got.high)
			if !(math.Abs(got.over-want.WeeksOver) <= 2.5*got.overSE) {
				t.Errorf("weeks over the line: %.2f (SE %.2f) in the trial, %.2f by the plan", got.over, got.overSE, want.WeeksOver)
			}
			if !(math.Abs(got.long-want.Unseen) <= 2.5*got.longSE) {
				t.Errorf("over the line too long: %.3f (SE %.3f) in the trial, %.3f by the plan", got.long, got.longSE, want.Unseen)
			}
		})
	}
}
