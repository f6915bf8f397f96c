package history

import (
	"fmt"
	"slices"
	"strings"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/decide"
	"halfcup/sampling"
)

// happened are the events without plans whose day has passed and that nobody
// confirmed: those may not have come about.
func happened(events []fieldlog.Event, day sampling.Date) []fieldlog.Event {
	return slices.DeleteFunc(slices.Clone(events), func(e fieldlog.Event) bool { return lapsed(e, day) })
}

// lapsed reports whether an event is a plan of a day that has passed.
func lapsed(e fieldlog.Event, day sampling.Date) bool {
	return e.Mark == fieldlog.Planned && e.Date < day
}

// reading reads the events of a colony, by day.
type reading struct {
	*Colony
	rec *fieldlog.Record
	day sampling.Date
	own fieldlog.Colony

	idle sampling.Date // the queen lays no eggs since that day: caged, or taken out
	lost sampling.Date // there is none since that day
}

func (r *reading) event(e fieldlog.Event) error {
	if e.Kind == fieldlog.Treatment {
		t, err := e.Treatment.Find()
		if err != nil {
			return err
		}
		r.Treatments = append(r.Treatments, decide.TreatmentDay{
			On: e.Date, Treatment: t, Until: e.Until,
			Planned:   e.Mark != "" || e.Date > r.day,
			Confirmed: e.Mark == fieldlog.Done,
		})
		return nil
	}
	if lapsed(e, r.day) {
		r.Unread = append(r.Unread, fmt.Sprintf("%s was planned on %s for %s. Was it done? Say so with halfcup log done %s; until then it is left out.", strings.ReplaceAll(string(e.Kind), "-", " "), e.Colony, e.Date.Time().Format("2 January"), e.Colony))
		return nil
	}
	if e.Date > r.day {
		return nil
	}
	if bees, _ := adultBees(e); bees > 0 {
		r.AdultBees, r.BeesOn = bees, e.Date
	}
	mine := fieldlog.Of(e) == r.own
	switch e.Kind {
	case fieldlog.BroodBreak, fieldlog.QueenCaged, fieldlog.QueenReleased:
		switch {
		case e.Kind == fieldlog.QueenCaged || e.Kind == fieldlog.BroodBreak && e.Brood != fieldlog.BroodPresent:
			r.idle = e.Date
			if mine && e.Kind == fieldlog.QueenCaged {
				r.InHive.QueenCaged = e.Date
			}
		case !r.idle.IsZero():
			r.add(decide.Happening{On: r.idle, Kind: decide.QueenCaged, To: e.Date})
			r.idle, r.InHive.QueenCaged = 0, 0
		}
	case fieldlog.Queenless:
		r.lost = e.Date
	case fieldlog.Requeened:
		if !r.lost.IsZero() {
			r.add(decide.Happening{On: r.lost, Kind: decide.Queenless, To: e.Date})
			r.lost = 0
		}
		r.add(decide.Happening{On: e.Date, Kind: decide.Requeened})
	case fieldlog.Split, fieldlog.Swarmed:
		// Which bees went where, nobody can say.
		r.Splits = append(r.Splits, e.Date)
		r.add(decide.Happening{On: e.Date, Kind: decide.HappeningKind(e.Kind)})
	case fieldlog.Hived:
		bees, _ := adultBees(e)
		r.add(decide.Happening{On: e.Date, Kind: decide.Hived, Bees: bees})
	case fieldlog.DroneBroodRemoved:
		r.InHive.DroneFrame = 0
		r.add(decide.Happening{On: e.Date, Kind: decide.DroneBroodRemoved})
	case fieldlog.DroneFrameIn:
		if mine {
			r.InHive.DroneFrame = e.Date
		}
	case fieldlog.BoardIn:
		if mine {
			r.InHive.Board = e.Date
		}
	case fieldlog.Count:
		if e.Count.Method.Kind() == sampling.Fall {
			r.InHive.Board = 0 // it was read, and with that came out
		}
	case fieldlog.TreatmentEnd:
		end := decide.TreatmentEnd{On: e.Date}
		if t, err := e.Treatment.Find(); err == nil {
			end.Slug = t.Slug
		}
		r.Ends = append(r.Ends, end)
	case fieldlog.Robbing:
		r.add(decide.Happening{On: e.Date, Kind: decide.Robbing})
		if mine {
			r.Robbed = e.Date
		}
	case fieldlog.Signs:
		r.add(decide.Happening{On: e.Date, Kind: decide.Signs})
		r.Signs = e.Date
	case fieldlog.HoneyTaken, fieldlog.Moved:
		r.add(decide.Happening{On: e.Date, Kind: decide.HappeningKind(e.Kind)})
	}
	if mine && e.Kind.Ends() {
		r.Gone = e.Date
		r.Died = e.Kind == fieldlog.Died
		if r.Died {
			r.Robbed = e.Date // its stores and its mites go to the neighbours
		}
	}
	return nil
}

func (r *reading) add(h decide.Happening) { r.Happenings = append(r.Happenings, h) }

// end adds what has begun and not ended.
func (r *reading) end() {
	if !r.idle.IsZero() {
		r.add(decide.Happening{On: r.idle, Kind: decide.QueenCaged})
	}
	if !r.lost.IsZero() {
		r.add(decide.Happening{On: r.lost, Kind: decide.Queenless})
	}
}
