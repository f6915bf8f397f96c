package season

import (
	"fmt"
	"hash/fnv"
	"strings"

	ics "github.com/arran4/golang-ical"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/decide"
)

// uid names an event for calendar programs, and stays when the event moves. It
// tells two yards apart without naming them: calendars are shared, and where
// hives stand is nobody's business.
func (e entry) uid() string {
	if e.yard == "" || len(e.Duties) == 0 {
		return e.Key + "@halfcup"
	}
	h := fnv.New32a()
	h.Write([]byte(fieldlog.SameName(e.yard)))
	return fmt.Sprintf("%s-%08x@halfcup", e.Key, h.Sum32())
}

// ics is the plan as iCalendar (RFC 5545). Events are whole days. A program
// that has read the plan before takes an event of the same UID and a higher
// SEQUENCE for the same event, moved: so the sequence is the day of writing.
// What is late stands on the day of writing, where somebody sees it.
func (p *yearPlan) ics() string {
	cal := ics.NewCalendarFor("halfcup")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName("mite counts")
	for _, e := range p.events {
		v := cal.AddEvent(e.uid())
		v.SetDtStampTime(p.from.Time())
		v.SetModifiedAt(p.from.Time())
		v.SetSequence(int(p.from))
		v.SetAllDayStartAt(max(e.Date, p.from).Time())
		v.SetAllDayEndAt((max(e.Date, e.Until, p.from) + 1).Time()) // the end is the day after the last
		v.SetSummary(p.summary(e))
		v.SetDescription(p.description(e))
		v.SetTimeTransparency(ics.TransparencyTransparent) // it takes no time of the day
	}
	return cal.Serialize(ics.WithNewLineWindows)
}

// summary is the line a calendar program shows.
func (p *yearPlan) summary(e entry) string {
	s := "mites: " + p.what(e)
	if who := say.Some(e.Colonies(), e.all, 40); len(e.Duties) > 0 && who != "" {
		s += ", " + who
	}
	return s
}

// description is what there is to do at which hive, with the cautions of what
// is named.
func (p *yearPlan) description(e entry) string {
	out := say.Capital(p.about(e)) + "."
	if len(e.Duties) > 0 && e.Duties[0].Colony != "" {
		var lines []string
		for _, d := range e.Duties {
			lines = append(lines, fmt.Sprintf("%s, by %s: %s", d.Colony, say.ShortDay(d.Day), say.DutyWords(d)))
		}
		out = strings.Join(lines, "\n")
	}
	given := treatmentsOf(e.Duties)
	if len(given) > 0 {
		out += "\n" + strings.Join(say.Cautions(given...), "\n")
	}
	if e.Kind == decide.EventWindow || len(given) > 0 {
		out += "\nYour label, the law and your vet or bee inspector decide what may be given."
	}
	return out
}
