package season

import (
	"fmt"
	"strings"

	ics "github.com/arran4/golang-ical"

	"halfcup/decide"
)

// ics is the plan as iCalendar (RFC 5545). Events are whole days. A program
// that has read the plan before takes an event of the same UID and a higher
// SEQUENCE for the same event, moved: so the sequence is the day of writing.
func (a *yearPlan) ics() string {
	cal := ics.NewCalendarFor("halfcup")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName("mite counts")
	for _, e := range a.events {
		v := cal.AddEvent(uid(e))
		v.SetDtStampTime(a.From.Time())
		v.SetModifiedAt(a.From.Time())
		v.SetSequence(int(a.From))
		v.SetAllDayStartAt(e.Date.Time())
		v.SetAllDayEndAt((max(e.Date, e.Until) + 1).Time()) // the end is the day after the last
		v.SetSummary(a.summary(e))
		v.SetDescription(a.sentence(e))
		v.SetTimeTransparency(ics.TransparencyTransparent) // it takes no time of the day
	}
	return cal.Serialize(ics.WithNewLineWindows)
}

// summary is the line a calendar program shows.
func (a *yearPlan) summary(e decide.Event) string {
	s := "mites: " + string(e.Kind)
	if e.Kind == decide.EventSeason {
		s, _, _ = strings.Cut(e.Because, ":")
	}
	if e.Yard != "" {
		s += ", " + e.Yard
	}
	if n := len(e.Colonies); n > 0 {
		s += fmt.Sprintf(" (%d)", n)
	}
	return s
}
