// Package answer is what the page on a phone asks: one question in JSON, one
// answer in JSON. It holds the rows that the page keeps, and puts them to the
// same packages as the program: fieldlog reads them, history makes colonies of
// them, decide judges and say finds the words. It opens no file and looks at no
// clock; the page says which day it is.
package answer

import (
	"encoding/json"
	"errors"
	"fmt"

	"halfcup/decide"
	"halfcup/sampling"
)

// Book is the record of one device with its settings. The zero value is an
// empty one. It is not for several goroutines at once.
type Book struct {
	rows     []Row
	settings Settings
	rules    *rules // of the settings

	read *reading // of the rows as they are; nil when it has to be made
	seen *seen    // the yard as it was last looked at

	memory decide.Memory // of colonies of which nothing new was written down
}

// Question is what the page asks. Which fields it needs is said beside each
// thing to do, in Ask.
type Question struct {
	Do       string    `json:"do"`
	Day      string    `json:"day"` // 2026-07-25
	Yard     string    `json:"yard"`
	Hive     string    `json:"hive"`
	Rows     []Row     `json:"rows"`
	IDs      []string  `json:"ids"`
	From     int       `json:"from"`
	Text     string    `json:"text"`
	Device   string    `json:"device"`
	Again    bool      `json:"again"`
	Settings *Settings `json:"settings"`
}

// Problem is what is wrong with what the page sent, where, and how to mend it.
type Problem struct {
	Error  string `json:"error"`
	Column string `json:"column,omitempty"`
}

// Ask answers a question of the page. What is wrong with it is answered too:
// {"error": …}. A fault of ours is answered in the same way: one hive that cannot
// be worked out must not take the page with all the others away.
func (b *Book) Ask(question []byte) (answer []byte) {
	defer func() {
		if fault := recover(); fault != nil {
			b.seen = nil
			answer, _ = json.Marshal(Problem{Error: fmt.Sprint("this cannot be worked out: ", fault)})
		}
	}()
	var q Question
	err := json.Unmarshal(question, &q)
	var found any
	if err == nil {
		found, err = b.answer(q)
	}
	if err != nil {
		var p *Refused
		if errors.As(err, &p) {
			found = p.Problem
		} else {
			found = Problem{Error: err.Error()}
		}
	}
	out, err := json.Marshal(found)
	if err != nil {
		out, _ = json.Marshal(Problem{Error: err.Error()})
	}
	return out
}

// Refused is a question that cannot be answered as it is.
type Refused struct{ Problem }

func (r *Refused) Error() string { return r.Problem.Error }

func refuse(format string, args ...any) *Refused {
	return &Refused{Problem: Problem{Error: fmt.Sprintf(format, args...)}}
}

func (b *Book) answer(q Question) (any, error) {
	var day sampling.Date
	if q.Day != "" {
		var err error
		if day, err = sampling.ParseDate(q.Day); err != nil {
			return nil, err
		}
	}
	if b.rules == nil && q.Do != "open" {
		if err := b.set(Settings{}); err != nil {
			return nil, err
		}
	}
	switch q.Do {
	case "open": // settings, rows: all that the device keeps
		return b.open(q)
	case "lists": // the words that can be chosen from
		return lists(), nil
	case "hives": // yard, day: their names, before anything is worked out
		return b.hives(q.Yard, day)
	case "part": // yard, day, from: some hives of the yard
		return b.part(q.Yard, day, q.From)
	case "yard": // yard, day
		return b.yard(q.Yard, day)
	case "hive": // yard, hive, day
		return b.hive(q.Yard, q.Hive, day)
	case "more": // yard, hive, day: how to count next, and whether it was enough
		return b.more(q.Yard, q.Hive, day)
	case "season": // yard, hive, day
		return b.season(q.Yard, q.Hive, day)
	case "scoops": // yard, hive, day, rows: counts that are not kept yet
		return b.scoops(q, day)
	case "check": // rows to be kept, again: the same once more is meant
		return b.check(q.Rows, q.Again)
	case "set": // settings
		if q.Settings == nil {
			return nil, errors.New("there are no settings to take")
		}
		return struct{}{}, b.set(*q.Settings)
	case "keep": // rows that the device has kept
		return b.keep(q.Rows), nil
	case "drop": // ids of rows that the device has taken back
		return b.drop(q.IDs), nil
	case "merge": // text of a record from elsewhere, device
		return b.merge(q.Text, q.Device)
	case "export": // yard, or every yard when it is ""
		return b.export(q.Yard)
	}
	return nil, fmt.Errorf("nothing answers %q", q.Do)
}

// Opened is what a device has in it.
type Opened struct {
	Rows  int      `json:"rows"`
	Yards []string `json:"yards"`
}

func (b *Book) open(q Question) (Opened, error) {
	b.rows, b.read, b.seen = q.Rows, nil, nil
	var own Settings
	if q.Settings != nil {
		own = *q.Settings
	}
	if err := b.set(own); err != nil {
		return Opened{}, err
	}
	r, err := b.reading()
	if err != nil {
		return Opened{}, err
	}
	return Opened{len(b.rows), r.yards()}, nil
}

// set takes settings. Those that cannot be are refused, and the others stay.
func (b *Book) set(s Settings) error {
	r, err := s.rules()
	if err != nil {
		return err
	}
	b.settings, b.rules, b.seen = s, &r, nil
	return nil
}

func (b *Book) keep(rows []Row) Opened {
	b.rows = append(b.rows, rows...)
	return b.changed()
}

func (b *Book) drop(ids []string) Opened {
	gone := map[string]bool{}
	for _, id := range ids {
		gone[id] = true
	}
	var left []Row
	for _, r := range b.rows {
		if !gone[r["id"]] {
			left = append(left, r)
		}
	}
	b.rows = left
	return b.changed()
}

func (b *Book) changed() Opened {
	b.read, b.seen = nil, nil
	return Opened{Rows: len(b.rows)}
}
