package count

import (
	"fmt"
	"io"
	"time"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// northern is the month of a day as the guides of the north count it.
func northern(s *ask.Question, d sampling.Date) time.Month {
	m := d.Time().Month()
	if s.Southern {
		m = (m+5)%12 + 1
	}
	return m
}

// printFalls tells of the falls among the counts what a beekeeper would
// otherwise look up or work out: what board guides make of a natural fall, and
// what a treatment killed.
func (e *estimated) printFalls(w io.Writer, p show.Page) {
	for i, c := range e.counts {
		if k := e.Counts[i].Knockdown; k != nil {
			fmt.Fprint(w, "\n", p.Wrap(e.killedWords(e.Name(c), k), 0))
		}
		if guides := e.Counts[i].Guides; guides != nil {
			fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("What guides make of %s mites a day in this month; they know nothing of the bees and the brood above the board:", show.Level(c.FallPerDay())), 0))
			fmt.Fprint(w, p.Table(e.guideTable(guides)))
			for _, g := range guides {
				fmt.Fprint(w, p.Hang(fmt.Sprintf("%s (%s): %s.", g.Name, g.Kind, g.Source), 0, 2))
			}
		}
	}
	if n := e.Now; n != nil {
		f := show.Levels(n.Estimate.Low, n.Estimate.High, n.Estimate.Low, n.Estimate.Median, n.Estimate.High)
		fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("On %s, after the treatment and with what has come out of cells since: %s mites per hundred bees (%s to %s); over act %s: %s.",
			show.Day(n.Date), f[1], f[0], f[2], show.Plain(e.Threshold.Act), show.Percent(n.ChanceOver.Act)), 0))
	}
}

// killedWords tells what a treatment met and what it killed.
func (e *estimated) killedWords(name string, k *knockdownJSON) string {
	met := "it"
	if e.Now == nil {
		f := show.Levels(k.Before.Low, k.Before.High, k.Before.Low, k.Before.Median, k.Before.High)
		met = fmt.Sprintf("it met %s mites per hundred bees (%s to %s), and", f[1], f[0], f[2])
	}
	return fmt.Sprintf("%s, the treatment of %s: %s killed about %s mites on the bees (%s to %s); those in cells are not among them.",
		name, show.Day(k.Treated), met, rounded(k.Killed.Median), rounded(k.Killed.Low), rounded(k.Killed.High))
}

func (e *estimated) guideTable(guides []sampling.GuideReading) show.Table {
	t := show.Table{Columns: []show.Column{{Name: "guide"}, {Name: "says", Flow: true}, {Name: "beside this estimate"}}}
	for _, g := range guides {
		beside := "no contradiction"
		if g.Disagrees {
			beside = "disagrees: " + show.Percent(e.ChanceOver.Act) + " over " + show.Plain(e.Threshold.Act)
		}
		t.Rows = append(t.Rows, []string{g.Name, g.Says, beside})
	}
	return t
}

// rounded is a number of mites in two digits.
func rounded(x float64) string {
	unit := 1.0
	for x/unit >= 100 {
		unit *= 10
	}
	return show.Plain(unit * float64(int(x/unit+0.5)))
}

// printSteps tells how the falls among the counts have to be counted to be
// worth reading.
func (e *estimated) printSteps(w io.Writer, p show.Page) {
	told := map[sampling.Method]bool{}
	for _, c := range e.counts {
		if c.Method.Kind() != sampling.Fall || told[c.Method] {
			continue
		}
		told[c.Method] = true
		fmt.Fprintf(w, "\n%s, done so that it tells something:\n", say.Capital(c.Method.Title()))
		for _, s := range c.Method.Steps() {
			fmt.Fprint(w, p.Hang("- "+s.Text, 2, 4))
		}
	}
}
