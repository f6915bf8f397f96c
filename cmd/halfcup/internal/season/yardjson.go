package season

import (
	"math"

	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// levels are mites per hundred bees with their limits.
type levels struct {
	Median float64 `json:"median_per_hundred"`
	Low    float64 `json:"low_per_hundred"`
	High   float64 `json:"high_per_hundred"`
}

func levelsOf(r decide.Range) levels { return levels{r.Middle, r.Low, r.High} }

// yardJSON is halfcup.yard/3.
type yardJSON struct {
	Date         sampling.Date     `json:"date"`
	Yard         string            `json:"yard"`
	Level        float64           `json:"level"`
	ToDo         tally             `json:"to_do"`
	Late         []dutyJSON        `json:"late"`
	Due          []dutyJSON        `json:"due"` // within a week, not late
	Colonies     []colonyJSON      `json:"colonies"`
	Gone         []goneJSON        `json:"gone"`
	Mean         levels            `json:"mean"`
	ShareOver    say.Range         `json:"share_over"`
	BesideYards  *say.Range        `json:"beside_other_yards"` // where the yard stands, in SDs of a colony nobody has counted; null for one colony
	BetweenYards *say.Range        `json:"between_yards"`      // share of the spread between colonies; null for one
	Alarms       alarmsJSON        `json:"alarms"`
	Boards       *[]string         `json:"boards"` // null when nobody asked
	Pooled       bool              `json:"pooled"`
	Assumptions  []sampling.Source `json:"assumptions"`
}

type colonyJSON struct {
	Colony   string    `json:"colony"`
	Stand    string    `json:"stand"`
	Last     *lastJSON `json:"last"`     // null when it was never counted
	Estimate *levels   `json:"estimate"` // null where no level is told
	say.Judgement
	Jump            bool    `json:"jump"`
	Drop            bool    `json:"drop"`
	UnrecordedEvent float64 `json:"unrecorded_event"`
}

type lastJSON struct {
	Date   sampling.Date   `json:"date"`
	Method sampling.Method `json:"method"`
	Mites  int             `json:"mites"`
}

type goneJSON struct {
	Colony string        `json:"colony"`
	Date   sampling.Date `json:"date"`
}

// alarmsJSON counts colonies with a jump or a drop among those counted in three
// weeks, and says whether that is more than chance brings.
type alarmsJSON struct {
	Counted   int  `json:"counted"`
	Jumps     int  `json:"jumps"`
	Drops     int  `json:"drops"`
	JumpAlarm bool `json:"jump_alarm"`
	DropAlarm bool `json:"drop_alarm"`
}

// dutyJSON is one thing to do at one colony.
type dutyJSON struct {
	Kind      decide.DutyKind   `json:"kind"`
	Colony    string            `json:"colony"`
	Date      sampling.Date     `json:"date"`
	LateDays  int               `json:"late_days"`
	Treatment *string           `json:"treatment"`
	Round     *int              `json:"round"`
	Of        *int              `json:"of"`
	Why       *decide.DueReason `json:"why"` // of a count
}

func dutyOf(d decide.Duty, today sampling.Date) dutyJSON {
	return dutyJSON{d.Kind, d.Colony, d.Day, d.Late(today), say.Said(d.Treatment.Slug), say.Said(d.Round), say.Said(d.Of), say.Said(d.Why)}
}

func (v *yardView) json() yardJSON {
	out := yardJSON{
		Date: v.day, Yard: v.name, Level: v.level, ToDo: v.tally(), Late: []dutyJSON{}, Due: []dutyJSON{}, Colonies: []colonyJSON{}, Gone: []goneJSON{},
		Mean: levelsOf(v.mean()), ShareOver: say.RangeOf(v.ShareOver(v.level)),
		Alarms: alarmsJSON{v.Counted, v.Jumps, v.Drops, v.JumpAlarm, v.DropAlarm},
	}
	if standing, share, ok := v.Beside(v.level); ok {
		a, b := say.RangeOf(standing), say.RangeOf(share)
		out.BesideYards, out.BetweenYards = &a, &b
	}
	var counts []sampling.Count
	for _, k := range v.colonies {
		j := colonyJSON{
			Colony: k.Colony.Name, Stand: k.stand, Judgement: say.JudgementOf(k.Standing),
			Jump: k.Jump, Drop: k.Drop, UnrecordedEvent: k.UnrecordedEvent,
		}
		if k.last != nil {
			j.Last = &lastJSON{k.last.Date, k.last.Method, k.last.Mites}
		}
		if k.HasLevel() {
			s := k.Known.Summary(v.level)
			j.Estimate = &levels{s.Median, s.Low, s.High}
		}
		out.Colonies = append(out.Colonies, j)
		out.Pooled = out.Pooled || k.Pooled
		counts = append(counts, k.Counts...)
		for _, d := range k.duties {
			switch {
			case d.Late(v.day) > 0:
				out.Late = append(out.Late, dutyOf(d, v.day))
			case d.Day >= v.day && d.Day <= v.day+soonDays:
				out.Due = append(out.Due, dutyOf(d, v.day))
			}
		}
	}
	for _, k := range v.gone {
		out.Gone = append(out.Gone, goneJSON{k.Name, k.Gone})
	}
	if v.boardsAsked {
		names := []string{}
		for _, k := range v.boards {
			names = append(names, k.Colony.Name)
		}
		out.Boards = &names
	}
	out.Assumptions = v.Sources(counts...)
	return out
}

func (v *yardView) csv() show.CSV {
	t := show.CSV{Head: []string{"colony", "stand", "last_date", "last_method", "last_mites", "median_per_hundred", "low_per_hundred", "high_per_hundred", "level", "act_per_hundred", "chance_over_watch", "chance_over_act", "call", "because", "due", "overdue_days"}}
	for _, k := range v.colonies {
		row := []any{k.Colony.Name, k.stand, "", "", ""}
		if k.last != nil {
			row = []any{k.Colony.Name, k.stand, k.last.Date, string(k.last.Method), k.last.Mites}
		}
		if s := k.Known.Summary(v.level); k.HasLevel() {
			row = append(row, s.Median, s.Low, s.High)
		} else {
			row = append(row, "", "", "")
		}
		t.Rows = append(t.Rows, append(row, v.level, k.Line.Act, k.ChanceOverWatch, k.ChanceOverAct, string(k.Call), string(k.Because), k.Due, k.Overdue))
	}
	return t
}

// yardsJSON is halfcup.yards/2.
type yardsJSON struct {
	Date        sampling.Date     `json:"date"`
	Yards       []yardLine        `json:"yards"`
	Counted     int               `json:"counted"` // colonies of all yards, in three weeks
	Jumps       int               `json:"jumps"`
	JumpAlarm   bool              `json:"jump_alarm"`
	Struck      []string          `json:"struck"` // the yards that the alarm is about
	Assumptions []sampling.Source `json:"assumptions"`
}

type yardLine struct {
	Yard     string     `json:"yard"`
	Colonies int        `json:"colonies"`
	ToDo     tally      `json:"to_do"`
	Alarms   alarmsJSON `json:"alarms"`
	Highest  float64    `json:"highest_chance_over_act"`
}

func (v *yardsView) json() yardsJSON {
	out := yardsJSON{Date: v.day, Yards: []yardLine{}, Counted: v.counted, Jumps: v.jumps, Struck: []string{}}
	for _, y := range v.struck() {
		out.Struck = append(out.Struck, y.name)
	}
	out.JumpAlarm = len(out.Struck) > 0
	var counts []sampling.Count
	for _, y := range v.yards {
		l := yardLine{Yard: y.name, Colonies: len(y.colonies), ToDo: y.tally(), Alarms: alarmsJSON{y.Counted, y.Jumps, y.Drops, y.JumpAlarm, y.DropAlarm}}
		for _, k := range y.colonies {
			l.Highest = math.Max(l.Highest, k.ChanceOverAct)
			counts = append(counts, k.Counts...)
		}
		out.Yards = append(out.Yards, l)
	}
	out.Assumptions = v.Sources(counts...)
	return out
}

func (v *yardsView) csv() show.CSV {
	t := show.CSV{Head: []string{"yard", "colonies", "take_out", "treat", "count", "being_treated", "wait", "not_yet", "fine", "late", "highest_chance_over_act"}}
	for _, l := range v.json().Yards {
		d := l.ToDo
		t.Rows = append(t.Rows, []any{l.Yard, l.Colonies, d.TakeOut, d.Treat, d.Count, d.BeingTreated, d.Wait, d.NotYet, d.Fine, d.Late, l.Highest})
	}
	return t
}
