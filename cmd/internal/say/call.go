package say

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// Standing says a standing in words: what to do first, in one sentence a tired
// person can act on, and why in a few more.
type Standing struct {
	decide.Standing

	// Cuts are the calls that the outcomes of the advised count lead to.
	Cuts []decide.CutPoint
}

// NewStanding works out what its sentences need.
func NewStanding(s decide.Standing) (Standing, error) {
	out := Standing{Standing: s}
	if s.Advised.Plan != decide.LookNow {
		return out, nil
	}
	var err error
	out.Cuts, err = s.CutPoints(s.Advised)
	return out, err
}

// Whom is the colony and the day that a sentence begins with.
func (s Standing) Whom() string {
	day := ShortDay(s.Day)
	if s.Colony == "" {
		return Capital(day)
	}
	if name := Called(s.Colony); name != s.Colony {
		return Capital(name) + ", " + day
	}
	return s.Colony + ", " + day
}

// Called is a colony as a sentence names it. One that has a number for a name is
// that hive: "7, 20 June" would be read as a figure.
func Called(colony string) string {
	if strings.Trim(colony, "0123456789") == "" && colony != "" {
		return "hive " + colony
	}
	return colony
}

// ShortDay is a day without its year, such as 25 July.
func ShortDay(d sampling.Date) string { return d.Time().Format("2 January") }

// rowDay is a day in a row of a table, such as 9 Aug.
func rowDay(d sampling.Date) string { return d.Time().Format("2 Jan") }

// First is the first sentence: what to do.
func (s Standing) First() string { return s.Whom() + ": " + s.todo() }

func (s Standing) todo() string {
	switch s.Call {
	case decide.CountAgain:
		return s.count()
	case decide.Treat:
		switch s.Because {
		case decide.WinterPlan:
			return "treat once by your plan, " + s.broodless()
		case decide.WinterFall, decide.WinterCount:
			return "treat once, " + s.broodless()
		}
		if s.supersAsked() {
			return "treat this week, if no honey supers are on."
		}
		return "treat this week."
	case decide.BringForward:
		return fmt.Sprintf("do not wait for %s: bring the planned treatment forward to this week.", ShortDay(s.Planned.On))
	case decide.WhenSupersOff:
		return "treat this week. Take the honey supers off first."
	case decide.WaitForPlanned:
		if s.AsPlanned() {
			return fmt.Sprintf("treat as planned, on %s.", ShortDay(s.Planned.On))
		}
		return fmt.Sprintf("wait for the planned treatment on %s.", ShortDay(s.Planned.On))
	case decide.UnderTreatment:
		return s.course()
	case decide.TakeOut:
		return "take out the " + s.Course.Treatment.Called + " now; leave nothing in."
	}
	if s.OpenInWinter() {
		return "leave it shut, and count it first in spring."
	}
	if s.closed() {
		return "fine. Leave it shut."
	}
	if s.Drop {
		return "no treatment needed now, but the last count does not fit. " + s.again()
	}
	if s.NearLine() {
		return "no treatment yet, but it may be near the line. " + s.again()
	}
	return "no treatment needed now. " + s.again()
}

// broodless is when no brood is capped, for a call to treat once in winter.
func (s Standing) broodless() string {
	switch {
	case s.TreatFrom > s.Day:
		return "when no brood is sealed: from about " + ShortDay(s.TreatFrom) + "."
	case s.TreatFrom.IsZero():
		return "but some brood may be sealed by now: see halfcup fits."
	}
	return "while there is no brood."
}

// closed reports whether nobody opens a hive in these days: the next count is
// due when bees fly again.
func (s Standing) closed() bool { return s.DueFor == decide.DueFirstFly }

// nearLine is the chance of being over the act line from which a colony that
// needs no treatment on its count is not called fine: nobody would sign that.
const nearLine = 0.25

// NearLine reports whether the colony is left alone for now and may be over the
// line before the next count.
func (s Standing) NearLine() bool {
	return s.Call == decide.Leave && !s.closed() && s.ChanceOverAct >= nearLine
}

// again is when to count next.
func (s Standing) again() string {
	if s.closed() {
		return "Next count in spring, over 15 °C and with pollen coming in."
	}
	return "Count again by " + ShortDay(s.Due) + "."
}

// count is the first sentence of a call to count.
func (s Standing) count() string {
	switch s.Because {
	case decide.NothingCounted:
		return "count it. Nobody has counted it yet."
	case decide.AfterCourse:
		return "count it, to see what the treatment left."
	case decide.Stale:
		return fmt.Sprintf("count it. The last count is %s old and says little now.", show.Many(s.Age, "day", "days"))
	case decide.DueNow:
		return "count it. The next count " + s.late() + "."
	case decide.OldCount:
		return "count it, and bring the treatment."
	case decide.SecondWeek:
		return "read a board for a second week. The hive stays shut."
	case decide.BoardAlone:
		return "count bees now. A board alone settles nothing in these weeks."
	case decide.SmallSample:
		return "count half a cup. So few bees say little."
	case decide.Clash:
		return "count once more: the last count does not fit the record."
	case decide.InGeneral:
		return "count once more. So far most is known from colonies in general."
	case decide.SickBees:
		return "show the sick bees to your bee inspector, and count it."
	case decide.OwnTreat:
		return "count once more. Its own count says treat, its neighbours say no."
	}
	return "count once more before you decide."
}

// late is when a count is or was due.
func (s Standing) late() string {
	if s.Overdue == 0 {
		return "is due today"
	}
	return fmt.Sprintf("was due on %s (%s late)", ShortDay(s.Due), show.Many(s.Overdue, "day", "days"))
}

// supersAsked reports whether nobody said if supers are on.
func (s Standing) supersAsked() bool {
	return s.Supers == decide.SupersUnknown && s.UsualSupers
}

// How is the advised count with its cut points: what to carry to the hive.
func (s Standing) How() string {
	if s.Advised.Plan != decide.LookNow {
		return ""
	}
	return Count(s.Advised.Count) + s.cuts() + "."
}

// cuts is what the outcomes lead to.
func (s Standing) cuts() string {
	var parts []string
	for i, c := range told(s.Cuts) {
		switch {
		case c.To < 0 && c.From == 0:
			return ""
		case c.To < 0:
			parts = append(parts, fmt.Sprintf("%d or more, %s", c.From, short(c.Call)))
		case i == 0 && c.To == 0:
			parts = append(parts, "none, "+short(c.Call))
		case i == 0:
			parts = append(parts, fmt.Sprintf("%d or fewer, %s", c.To, short(c.Call)))
		case c.Call != decide.CountAgain:
			parts = append(parts, fmt.Sprintf("%s, %s", between(c.From, c.To), short(c.Call)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	slices.Reverse(parts)
	return ": " + strings.Join(parts, "; ")
}

// told are the cut points as a person can carry them to a hive: one range is
// fine. Above it a chance figure may be fine again, between others that ask for
// one more count; it is told with those. So few mites that nobody believes them
// of a colony that stood high may ask for one more count too, below what is fine.
func told(cuts []decide.CutPoint) []decide.CutPoint {
	var out []decide.CutPoint
	fine := false
	for _, c := range cuts {
		if c.Call == decide.Leave && c.To >= 0 {
			if fine {
				c.Call = decide.CountAgain
			}
			fine = true
		}
		if n := len(out); n > 0 && out[n-1].Call == c.Call {
			out[n-1].To = c.To
			continue
		}
		out = append(out, c)
	}
	return out
}

// between is a number of mites from one to another.
func between(from, to int) string {
	if from == to {
		return fmt.Sprint(from)
	}
	return fmt.Sprintf("%d to %d", from, to)
}

// short is a call in a word or two.
func short(c decide.Call) string {
	switch c {
	case decide.CountAgain:
		return "count again"
	case decide.WhenSupersOff:
		return "supers off and treat"
	case decide.Leave:
		return "fine"
	case decide.WaitForPlanned:
		return "wait"
	case decide.BringForward:
		return "treat now"
	}
	return string(c)
}

// Count is a count to make, such as "Sugar roll, half a cup from 1 frame".
func Count(c sampling.Count) string {
	if c.Method.Kind() == sampling.Fall {
		return "Sticky board for " + show.Many(int(c.Amount.Value), "day", "days")
	}
	return fmt.Sprintf("%s, %s from %s", Capital(c.Method.Title()), Cups(decide.ScoopedBees(c)), show.Many(max(c.Frames, 1), "frame", "frames"))
}

// Cups is a number of bees as people scoop them.
func Cups(bees int) string {
	switch bees {
	case 300:
		return "half a cup"
	case 600:
		return "one cup"
	}
	return fmt.Sprintf("%d bees", bees)
}

// Row is what to do in at most 26 letters, for one line a colony.
func (s Standing) Row() string {
	if s.Jump {
		switch {
		case s.Call == decide.WhenSupersOff:
			return "jump! eggs? supers off"
		case s.Call.Treats():
			return "jump! eggs? then treat"
		case s.Call == decide.CountAgain:
			return "jump! eggs? then count"
		}
	}
	switch s.Call {
	case decide.CountAgain:
		switch {
		case s.Because == decide.SecondWeek:
			return "board: a second week"
		case s.Because == decide.OldCount:
			return "count; bring treatment"
		case s.Overdue == 1:
			return "count, 1 day late"
		case s.Overdue > 1:
			return fmt.Sprintf("count, %d days late", s.Overdue)
		case s.Because == decide.Risky || s.Because == decide.OwnTreat || s.Because == decide.SmallSample || s.Because == decide.InGeneral:
			return "count once more"
		}
		return "count"
	case decide.Treat:
		switch {
		case s.TreatFrom > s.Day:
			return "treat once, from " + rowDay(s.TreatFrom)
		case s.Because == decide.WinterPlan:
			return "treat once, by your plan"
		case !s.Broodless.From.IsZero() && s.Broodless.From <= s.Day && !s.Broodless.Until.IsZero():
			return "treat once, by " + rowDay(s.Broodless.Until)
		}
		return "treat"
	case decide.BringForward:
		return "treat now, not " + rowDay(s.Planned.On)
	case decide.WhenSupersOff:
		return "treat; supers off first"
	case decide.WaitForPlanned:
		if s.AsPlanned() {
			return "treat on " + rowDay(s.Planned.On)
		}
		return "wait for " + rowDay(s.Planned.On)
	case decide.UnderTreatment:
		return s.courseRow()
	case decide.TakeOut:
		return "take out: " + s.daysLate()
	}
	if s.OpenInWinter() {
		return "leave shut; count first"
	}
	if s.closed() {
		return "fine; leave it shut"
	}
	if s.NearLine() {
		return "not yet; count by " + rowDay(s.Due)
	}
	return "fine; count by " + rowDay(s.Due)
}

// Brief is Row for a list that is read at a glance, to treat in capitals.
func (s Standing) Brief() string {
	switch row := s.Row(); {
	case s.NearLine():
		return "count by " + rowDay(s.Due)
	case s.Call == decide.Leave && !s.closed():
		return "fine to " + rowDay(s.Due)
	case s.Call.Treats() && strings.HasPrefix(row, "treat"):
		return "TREAT" + strings.TrimPrefix(row, "treat")
	case s.Call.Treats():
		return "TREAT: " + row
	default:
		return row
	}
}

const winterOpen = " of %s: too few for the lesser regret to be treating, and too many to call it fine. A treatment by your plan while there is no brood is no mistake."

// Why is the reason in one sentence, or nothing where the first sentence has
// said it all. line is the act line of the day as it is written.
func (s Standing) Why() string {
	chance := show.Percent(s.ChanceOverAct)
	line := Line(s.Line.Act)
	switch s.Because {
	case decide.Risky:
		return Capital(show.OfHundred(s.ChanceOverAct, "colonies like this", "over the line")) + ", so either choice is a risk."
	case decide.OverLine, decide.WinterFall, decide.WinterCount:
		if s.OpenInWinter() {
			return Capital(show.OfHundred(s.ChanceOverAct, "colonies like this", "over the line")) + fmt.Sprintf(winterOpen, line)
		}
		if s.Call == decide.Leave || s.Call == decide.WaitForPlanned && !s.AsPlanned() {
			break
		}
		return fmt.Sprintf("The chance that it is over the line of %s is %s.", line, chance)
	case decide.OldCount:
		return fmt.Sprintf("The chance that it is over the line of %s was worked out from a count of %s ago: %s.", line, show.Many(s.Age, "day", "days"), chance)
	case decide.WinterPlan:
		return "Nothing has been counted since brood was ending; mites may have come in since. No winter treatment is written down."
	case decide.SecondWeek:
		return "So many mites in a week leave it open whether the colony is over the line."
	}
	return ""
}

const noSealedBrood = "No brood is sealed until about %s: all its mites are on the bees, so the line is %s, and one treatment reaches nearly all."

// Brood is what a time without sealed brood means for the colony, or nothing
// where none is near.
func (s Standing) Brood() string {
	w := s.Broodless
	switch {
	case w.From.IsZero() || s.CourseState != "":
		return ""
	case w.From > s.Day && w.Until.IsZero():
		return "From about " + ShortDay(w.From) + " no brood is sealed: then one treatment reaches nearly all mites."
	case w.From > s.Day:
		return fmt.Sprintf("From about %s to %s no brood is sealed: then one treatment reaches nearly all mites.", ShortDay(w.From), ShortDay(w.Until))
	case w.Until.IsZero():
		return "No brood is sealed: all its mites are on the bees, so the line is " + Line(s.Line.Act) + ", and one treatment reaches nearly all."
	}
	return fmt.Sprintf(noSealedBrood, ShortDay(w.Until), Line(s.Line.Act))
}

// Alarm is what to do about a count that is not what the record leads to,
// nothing where it is: eggs first, because a colony without brood has all its
// mites on the bees.
func (s Standing) Alarm() string {
	switch {
	case !s.HasLevel():
	case s.Jump:
		return "Mites do not breed that fast: they came in from outside, or there is no brood and all of them sit on the bees. Look for eggs first. Then: small entrance, no open feed, no combs left out, and count its neighbours this week. A robbed hive: one-bee entrance; shut it only if dead."
	case s.Robbed:
		return "Robbing brings mites in, here and next door: small entrance, no open feed, no combs left out; a robbed hive gets a one-bee entrance, and is shut only if dead. Count it and its neighbours."
	case s.Drop, s.Because == decide.Clash:
		return "Treated, swarmed, a new queen, or another hive? Write it down and it counts. If nothing happened, count once more, from two frames."
	}
	return ""
}

func round1(x float64) float64 { return math.Round(x*10) / 10 }

// HasLevel reports whether a level is told at all: none is while a treatment
// works, and none worth a picture of a colony that nobody has counted, or not
// since brood was ending.
func (s Standing) HasLevel() bool {
	return s.Call != decide.UnderTreatment && s.Call != decide.TakeOut && s.Because != decide.WinterPlan && !s.Counted.IsZero()
}

// LevelsOf are the low limit, the most likely level and the high limit, in the
// digits that they can bear.
func LevelsOf(s sampling.Summary) []string {
	return show.Levels(s.Low, s.High, s.Low, s.Median, s.High)
}

// Level is the level with its limits and the two chances, on one line of the page
// or, where that is too narrow, the chances on a line below.
func (s Standing) Level(p show.Page, e sampling.Summary) string {
	f := LevelsOf(e)
	act, watch := show.Percent(s.ChanceOverAct), show.Percent(s.ChanceOverWatch)
	parts := []string{fmt.Sprintf("%s mites per hundred bees (%s to %s)", f[1], f[0], f[2])}
	switch {
	case !(s.Line.Watch < s.Line.Act):
		parts = append(parts, "over "+Line(s.Line.Act)+": "+act)
	case act == watch: // certain of both, one way or the other
		parts = append(parts, fmt.Sprintf("over %s and %s: %s", Line(s.Line.Watch), Line(s.Line.Act), act))
	default:
		parts = append(parts, "over "+Line(s.Line.Act)+": "+act, "over "+Line(s.Line.Watch)+": "+watch)
	}
	for _, between := range []string{"    ", "  "} {
		if out := "  " + strings.Join(parts, between); show.Wide(out) <= p.Width {
			return out + "\n"
		}
	}
	return p.Hang(parts[0], 0, 2) + p.Hang(strings.Join(parts[1:], ", "), 0, 2)
}

// Caption says in words what the picture shows.
func (s Standing) Caption(e sampling.Summary) string {
	part := "the whole curve lies short of"
	switch p := s.ChanceOverAct; {
	case p > 0.99:
		part = "the whole curve lies past"
	case p > 0.9:
		part = "nearly all of the curve lies past"
	case p > 0.7:
		part = "most of the curve lies past"
	case p > 0.55:
		part = "more than half of the curve lies past"
	case p > 0.45:
		part = "half of the curve lies past"
	case p > 0.38:
		part = "less than half of the curve lies past"
	case p > 0.29:
		part = "a third of the curve lies past"
	case p > 0.2:
		part = "a quarter of the curve lies past"
	case p > 0.08:
		part = fmt.Sprintf("one part in %s of the curve lies past", OneIn(p))
	case p > 0.01:
		part = "nearly all of the curve lies short of"
	}
	return fmt.Sprintf("most likely %s; %s the line of %s.", LevelsOf(e)[1], part, Line(s.Line.Act))
}

var numbers = []string{"none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// OneIn is a share as one in so many, in a word up to twelve.
func OneIn(share float64) string {
	n := int(math.Round(1 / share))
	if n >= 0 && n < len(numbers) {
		return numbers[n]
	}
	return fmt.Sprint(n)
}

// Neighbours is what the rest of the yard did to the answer, in a clause.
func (s Standing) Neighbours() string {
	if !s.Pooled || !s.HasLevel() {
		return ""
	}
	return "Its neighbours' counts are in this: they " + s.pull() + "."
}

func (s Standing) pull() string {
	alone, with := s.Alone.Quantile(0.5), s.Known.Quantile(0.5)
	f := []string{show.Level(100 * alone), show.Level(100 * with)}
	switch {
	case with > 1.05*alone:
		return fmt.Sprintf("raise it from %s to %s", f[0], f[1])
	case with < alone/1.05:
		return fmt.Sprintf("lower it from %s to %s", f[0], f[1])
	}
	return "hardly move it"
}

// Also is what else a person has to know or do, the most pressing first; empty
// when there is nothing.
func (s Standing) Also() string {
	switch {
	case s.Call.Treats() && s.supersAsked():
		return "Are honey supers on? Say so (--supers on): nothing is given while they are, unless its label allows it."
	case s.Call.Treats():
		return "What can be used: halfcup fits. Label, law and your vet or bee inspector decide."
	case s.Call == decide.CountAgain && s.Advised.Lethal():
		return fmt.Sprintf("About %d bees die of it; no gentler way you have is worth as much.", s.Advised.Killed)
	}
	return ""
}

// Loss is what the level costs, where that is known: it explains the line and
// never stands without the next step.
func (s Standing) Loss() string { return s.LossLike("this") }

const lossOfWinter = "In two studies of one winter, most colonies treated after, about %s of 100 like %s died, of those with next to no mites %s (yards differ: %s to %s). " +
	"It does not say that treating now saves them."

// LossLike is Loss for a colony that the sentence calls name.
func (s Standing) LossLike(name string) string {
	l := s.WinterLoss
	if l == nil || !s.HasLevel() {
		return ""
	}
	n := func(p float64) string { return fmt.Sprint(int(math.Round(100 * p))) }
	return fmt.Sprintf(lossOfWinter, n(l.Chance), name, n(l.Without), n(l.Low), n(l.High))
}
