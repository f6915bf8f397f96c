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

// printGuides tells what board guides make of a natural fall of today.
func (e *estimated) printGuides(w io.Writer, p show.Page) {
	for i, c := range e.counts {
		if guides := e.Counts[i].Guides; guides != nil {
			fmt.Fprint(w, "\n", p.Wrap(fmt.Sprintf("What guides make of %s mites a day, whatever bees and brood are above the board:", show.Level(c.FallPerDay())), 0))
			fmt.Fprint(w, p.Table(e.guideTable(guides)))
		}
	}
}

// killedWords tells what a treatment met and what it killed.
func (e *estimated) killedWords(k *knockdownJSON) string {
	f := say.LevelsOf(k.Before)
	return fmt.Sprintf("Before the treatment of %s: %s per hundred (%s to %s); it killed about %s mites on the bees, none in cells among them.",
		say.ShortDay(k.Treated), f[1], f[0], f[2], rounded(k.Killed.Median))
}

func (e *estimated) guideTable(guides []sampling.GuideReading) show.Table {
	t := show.Table{Columns: []show.Column{{Name: "guide"}, {Name: "says", Flow: true}, {Name: "beside this estimate"}}}
	for _, g := range guides {
		beside := "no contradiction"
		if g.Disagrees {
			beside = "disagrees: " + show.Percent(e.ChanceOverAct) + " over " + say.Line(e.Line.Act)
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
