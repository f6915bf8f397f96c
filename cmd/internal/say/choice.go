package say

import (
	"fmt"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// Candidate is one way on. What it does not have is null.
type Candidate struct {
	Plan        decide.Plan     `json:"plan"`
	Method      *string         `json:"method"`
	Bees        *int            `json:"bees"`
	Frames      *int            `json:"frames"`
	Days        *float64        `json:"days"`
	Killed      int             `json:"killed"`
	Minutes     float64         `json:"minutes"`
	Visits      int             `json:"visits"`
	ChangesCall float64         `json:"changes_call"`
	Worth       float64         `json:"worth"`
	Net         float64         `json:"net"`
	Count       *sampling.Count `json:"-"` // nil for stopping
}

// CandidateOf is c as it is written.
func CandidateOf(c decide.Candidate) Candidate {
	out := Candidate{
		Plan: c.Plan, Killed: c.Killed, Minutes: c.Minutes, Visits: c.Visits,
		ChangesCall: c.ChangesCall, Worth: c.Worth, Net: c.Net,
	}
	if c.Plan == decide.ActNow {
		return out
	}
	count := c.Count
	method := string(count.Method)
	out.Count, out.Method = &count, &method
	if count.Method.Kind() == sampling.Fall {
		days := count.DaysOnBoard()
		out.Days = &days
		return out
	}
	bees, frames := decide.ScoopedBees(count), count.Frames
	out.Bees, out.Frames = &bees, &frames
	return out
}

// PlanWords is a way on in words.
func PlanWords(c decide.Candidate) string {
	switch c.Plan {
	case decide.ActNow:
		return "count nothing now"
	}
	return LookWords(c.Count)
}

// RangeWords are the counts of a cut point.
func RangeWords(c decide.CutPoint) string {
	switch {
	case c.To < 0 && c.From == 0:
		return "whatever the count"
	case c.To < 0:
		return fmt.Sprintf("%d mites or more", c.From)
	case c.From == c.To:
		return show.Many(c.From, "mite", "mites")
	}
	return fmt.Sprintf("%d to %d mites", c.From, c.To)
}

// CutWords is what a cut point leads to, short enough for a card.
func CutWords(c decide.Call) string {
	if c == decide.CountAgain {
		return "one more look"
	}
	return string(c)
}
