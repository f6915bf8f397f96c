// Package say holds the words and the shapes in which all answers tell the same
// things: a verdict, a chance, a way on.
package say

import (
	"fmt"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// Judgement is what a judgement comes to; regrets are in needless treatments.
type Judgement struct {
	Verdict   decide.Verdict   `json:"verdict"`
	Regret    decide.Regret    `json:"regret"`
	Threshold decide.Threshold `json:"threshold"`
}

// Chances is the chance of being over each line.
type Chances struct {
	Watch float64 `json:"watch"`
	Act   float64 `json:"act"`
}

// ChancesOf are the chances of a judgement.
func ChancesOf(j decide.Judgement) Chances { return Chances{j.OverWatch, j.OverAct} }

// JudgementOf is what j comes to for the colony of s.
func JudgementOf(s *ask.Question, j decide.Judgement) Judgement {
	return Judgement{j.Verdict, j.Regret, s.Threshold}
}

// LineWords tells the line a colony is held against and where it comes from.
func LineWords(s *ask.Question) string {
	t := s.Threshold
	return fmt.Sprintf("The line: act at %s per hundred, watch from %s (%s, set %s; %s: %s).",
		show.Plain(t.Act), show.Plain(t.Watch), t.Phase, t.Set, t.Kind, t.Source)
}

// Marks are the lines of a picture.
func Marks(s *ask.Question) []show.Mark {
	marks := []show.Mark{{Level: s.Threshold.Act, Label: "act " + show.Plain(s.Threshold.Act)}}
	if s.Threshold.Watch < s.Threshold.Act {
		marks = append(marks, show.Mark{Level: s.Threshold.Watch, Label: "watch " + show.Plain(s.Threshold.Watch), Faint: true})
	}
	return marks
}

// LookWords is a look in words, such as "a sugar roll of about 300 bees off 2
// frames".
func LookWords(c sampling.Count) string {
	if c.Method.Kind() == sampling.Fall {
		return fmt.Sprintf("a %s for %s", c.Method.Title(), show.Many(int(c.Amount.Value), "day", "days"))
	}
	article := "a"
	if c.Method == sampling.Wash {
		article = "an"
	}
	return fmt.Sprintf("%s %s of about %d bees off %s", article, c.Method.Title(), decide.ScoopedBees(c), show.Many(max(c.Frames, 1), "frame", "frames"))
}

// ToDo is the closing sentence of a judgement: what a tired person does now.
func ToDo(s *ask.Question, j decide.Judgement) string {
	if !s.Died.IsZero() {
		return fmt.Sprintf("This colony died on %s; close the hive before its mites and stores go to others.", show.Day(s.Died))
	}
	look := show.Day(j.NextLook)
	switch j.Call {
	case decide.Treat:
		return "Treat this colony, by the label and the law, and look again on " + look + "."
	case decide.BringForward:
		return fmt.Sprintf("Do not wait for %s: bring the planned treatment forward, by the label and the law.", show.Day(s.NextTreatment))
	case decide.WhenSupersOff:
		return "Treat as soon as the honey supers are off; until then the label and the law decide what may be given."
	case decide.WaitForPlanned:
		return fmt.Sprintf("This colony can wait for the planned treatment on %s.", show.Day(s.NextTreatment))
	case decide.CountAgain:
		how := "no bee is killed"
		if j.Advised.Lethal() {
			how = fmt.Sprintf("about %d bees are killed, and no gentler way is worth as much", j.Advised.Killed)
		}
		return fmt.Sprintf("Count again before you decide: %s; %s.", LookWords(j.Advised.Count), how)
	}
	return "Leave this colony alone and look again by " + look + "."
}

// LineSource tells in a few words where a line comes from.
func LineSource(t decide.Threshold) string {
	switch t.Kind {
	case "your own":
		return "your own"
	case "judgement":
		return "our judgement from several studies (halfcup sources names them)"
	}
	return t.Kind + ": " + t.Source
}
