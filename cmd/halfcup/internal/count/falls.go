package count

import (
	"fmt"
	"io"
	"strings"
	"time"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/internal/guides"
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

// printGuides tells what board guides make of a natural fall of today, and says
// so where they and the bees tell different things.
func (e *estimated) printGuides(w io.Writer, p show.Page) {
	for i, c := range e.counts {
		if read := e.Counts[i].Guides; len(read) > 0 {
			fmt.Fprint(w, "\n", p.Wrap(e.guideWords(read, c, e.Evidence[i].Surprise), 0))
		}
	}
}

// boardSurprises is the chance of a fall so far off, by the bees counted beside
// it, under which board and bees disagree.
const boardSurprises = 0.05

func (e *estimated) guideWords(read []guides.Reading, c sampling.Count, surprise float64) string {
	var says []string
	disagrees := false
	for _, g := range read {
		says = append(says, g.Name+": "+g.Says)
		disagrees = disagrees || g.Disagrees
	}
	out := fmt.Sprintf("Of %s mites a day, whatever is above the board, guides say: %s.", show.Level(c.FallPerDay()), strings.Join(says, "; "))
	over := show.Percent(e.ChanceOverAct) + " over " + say.Line(e.Line.Act)
	switch bees := e.hasBeeSample(); {
	case bees && (disagrees || surprise < boardSurprises):
		out += fmt.Sprintf(" Board and bees disagree; together they give %s. Count bees once more before you rest on either.", over)
	case disagrees:
		out += fmt.Sprintf(" This estimate says otherwise: %s, by the brood, the line and the colonies of these weeks.", over)
	}
	return out
}

// killedWords tells what a treatment met and what it killed.
func (e *estimated) killedWords(k *knockdownJSON) string {
	f := say.LevelsOf(k.Before)
	return fmt.Sprintf("Before the treatment of %s: %s per hundred (%s to %s); it killed about %s mites on the bees, none in cells among them.",
		say.ShortDay(k.Treated), f[1], f[0], f[2], show.Digits(k.Killed.Median, 2, 0))
}
