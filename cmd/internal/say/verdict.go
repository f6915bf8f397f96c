// Package say holds the words and the shapes in which all answers tell the same
// things: a verdict, a chance, a way on. The page on the phone says them by the
// same code.
package say

import (
	"fmt"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// Verdict is what to do about a colony and when to count next, as every answer
// gives it in JSON.
type Verdict struct {
	Call        decide.Call        `json:"call"`
	Because     decide.Reason      `json:"because"`
	Sentence    string             `json:"sentence"` // what to do, in words
	Due         sampling.Date      `json:"due"`
	DueFor      decide.DueReason   `json:"due_for"`
	OverdueDays int                `json:"overdue_days"`
	Supers      decide.SupersState `json:"supers"`
	Advised     *Candidate         `json:"advised"` // the next count; null when none is asked for
}

// Judgement is a standing as every answer gives it in JSON. Chances are 0 to 1,
// regrets in needless treatments, levels per hundred bees.
type Judgement struct {
	ChanceOver Chances          `json:"chance_over"`
	Verdict    Verdict          `json:"verdict"`
	Regret     decide.Regret    `json:"regret"`
	Threshold  decide.Threshold `json:"threshold"`
	Pooled     bool             `json:"pooled"` // whether counts of its neighbours are in it
}

// Chances is the chance of being over each line.
type Chances struct {
	Watch float64 `json:"watch"`
	Act   float64 `json:"act"`
}

// JudgementOf is s as it is written.
func JudgementOf(s Standing) Judgement {
	out := Judgement{
		ChanceOver: Chances{s.ChanceOverWatch, s.ChanceOverAct},
		Verdict:    Verdict{s.Call, s.Because, s.First(), s.Due, s.DueFor, s.Overdue, s.Supers, nil},
		Regret:     s.Regret, Threshold: s.Line, Pooled: s.Pooled,
	}
	if s.Advised.Plan == decide.LookNow {
		c := CandidateOf(s.Advised)
		out.Verdict.Advised = &c
	}
	return out
}

// LineWords tells the line a colony is held against and where it comes from.
func LineWords(t decide.Threshold) string {
	return fmt.Sprintf("The line: act at %s per hundred, watch from %s (%s, set %s; %s: %s).",
		Line(t.Act), Line(t.Watch), t.Season, t.Set, t.Kind, t.Source)
}

// Line is a line as it is written: it moves from day to day and needs no more
// than one decimal.
func Line(perHundred float64) string { return show.Plain(round1(perHundred)) }

// Marks are the lines of a picture.
func Marks(t decide.Threshold) []show.Mark {
	marks := []show.Mark{{Level: t.Act, Label: "act " + Line(t.Act)}}
	if t.Watch < t.Act {
		marks = append(marks, show.Mark{Level: t.Watch, Label: "watch " + Line(t.Watch), Faint: true})
	}
	return marks
}

// LookWords is a count to make, such as "a sugar roll of half a cup from 2
// frames".
func LookWords(c sampling.Count) string {
	if c.Method.Kind() == sampling.Fall {
		return fmt.Sprintf("a %s for %s", c.Method.Title(), show.Many(int(c.Amount.Value), "day", "days"))
	}
	article := "a"
	if c.Method == sampling.Wash {
		article = "an"
	}
	return fmt.Sprintf("%s %s of %s from %s", article, c.Method.Title(), Cups(decide.ScoopedBees(c)), show.Many(max(c.Frames, 1), "frame", "frames"))
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
