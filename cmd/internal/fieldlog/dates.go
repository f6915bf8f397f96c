package fieldlog

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"halfcup/cmd/internal/rows"
	"halfcup/sampling"
)

// Order is the order in which dates of three numbers are written; "" when
// nothing says it.
type Order string

// The orders that people write.
const (
	DayFirst   Order = "dmy"
	MonthFirst Order = "mdy"
	YearFirst  Order = "ymd"
)

// Date reads a day as it stands in a spreadsheet: year-month-day in figures of
// any length, day.month.year with points, and any other in the order o. Where
// nothing says the order, a date is read only if it can be one day and no other.
// A year of two figures is read as of this century, and only where the order is
// known. A time of day behind it is passed over. The error is a
// *sampling.SyntaxError.
func (o Order) Date(s string) (sampling.Date, error) {
	d, err := sampling.ParseDate(s)
	if err == nil {
		return d, nil
	}
	day := withoutTime(s)
	readings := o.readings(day)
	if len(readings) == 1 {
		if d, err := sampling.ParseDate(readings[0].String()); err == nil {
			return d, nil
		}
	}
	var bad *sampling.SyntaxError
	if errors.As(err, &bad) {
		if a, b, c, three := threeNumbers(day); three {
			o.explain(bad, s, a, b, c, readings)
		}
	}
	return 0, err
}

// explain says of a date of three numbers why it is not read.
func (o Order) explain(bad *sampling.SyntaxError, s string, a, b, c int, readings []sampling.Date) {
	bad.Offset, bad.Length = 0, len(s)
	switch {
	case len(readings) > 1:
		words := func(d sampling.Date) string { return d.Time().Format("2 January") }
		bad.Problem = fmt.Sprintf("%q could be %s or %s", s, words(readings[0]), words(readings[1]))
		bad.Remedy = fmt.Sprintf(`write %s or %s; or say once in the settings how this file has them, date_order = "dmy" or "mdy"`, readings[0], readings[1])
	case len(readings) == 1: // too long ago
	case a < 1000 && c < 1000 && o == "":
		bad.Problem = fmt.Sprintf("%q does not say which number is the year", s)
		bad.Remedy = `write it with four figures, such as 2026-08-06; or say once in the settings how this file has them, date_order = "dmy", "mdy" or "ymd"`
	case o != "" && len(Order("").readings(withoutTime(s))) > 0:
		bad.Problem = fmt.Sprintf("%q is no day in the order %s", s, o.Words())
		bad.Remedy = "write " + Order("").readings(withoutTime(s))[0].String() + ", or check the order"
	default:
		bad.Problem, bad.Remedy = fmt.Sprintf("there is no such day as %s", s), "check the month and the day"
	}
}

// Words is the order in words, "" when nothing says it.
func (o Order) Words() string {
	return map[Order]string{DayFirst: "day, month, year", MonthFirst: "month, day, year", YearFirst: "year, month, day"}[o]
}

// readings are the days that three numbers can be.
func (o Order) readings(s string) []sampling.Date {
	a, b, c, ok := threeNumbers(s)
	if !ok {
		return nil
	}
	var out []sampling.Date
	add := func(year, month, day int) {
		if year < 100 && o != "" {
			year += 2000
		}
		d := sampling.Day(year, time.Month(month), day)
		if t := d.Time(); year >= 1000 && t.Year() == year && t.Month() == time.Month(month) && t.Day() == day && (len(out) == 0 || out[0] != d) {
			out = append(out, d)
		}
	}
	switch {
	case a >= 1000 || o == YearFirst && c < 100:
		add(a, b, c)
	case o == DayFirst, o == "" && strings.Contains(s, "."):
		add(c, b, a)
	case o == MonthFirst:
		add(c, a, b)
	default:
		add(c, b, a)
		add(c, a, b)
	}
	return out
}

// threeNumbers reads a date of three numbers, such as 6/8/2026, 6.8.26 or
// 2026-8-6, with one sign between them.
func threeNumbers(s string) (a, b, c int, ok bool) {
	parts := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("-./", r) })
	if len(parts) != 3 || len(s) != len(parts[0])+len(parts[1])+len(parts[2])+2 || s[len(parts[0])] != s[len(s)-len(parts[2])-1] {
		return 0, 0, 0, false
	}
	var n [3]int
	for i, most := range []int{4, 2, 4} {
		if !digits(parts[i]) || len(parts[i]) > most {
			return 0, 0, 0, false
		}
		n[i], _ = strconv.Atoi(parts[i])
	}
	return n[0], n[1], n[2], true
}

// withoutTime takes away a time of day, such as 00:00 or 14:30:00, that a
// spreadsheet saves with a day.
func withoutTime(s string) string {
	i := strings.IndexAny(s, " T")
	if i < 0 {
		return s
	}
	parts := strings.Split(s[i+1:], ":")
	for _, p := range parts {
		if !digits(p) || len(p) > 2 {
			return s
		}
	}
	if len(parts) < 2 || len(parts) > 3 {
		return s
	}
	return s[:i]
}

// Settled is the order of a column of dates, by those in it that have a number
// over 12: such a number is a day. Where some say one order and some the other,
// none is settled.
func Settled(dates func(yield func(string) bool)) Order {
	found := Order("")
	for s := range dates {
		s = withoutTime(s)
		a, b, c, ok := threeNumbers(s)
		if !ok || a >= 1000 || c < 1000 || strings.Contains(s, ".") || len(Order("").readings(s)) != 1 || a == b {
			continue
		}
		this := DayFirst
		if b > 12 {
			this = MonthFirst
		}
		if found != "" && found != this {
			return ""
		}
		found = this
	}
	return found
}

// settleOrder finds the order of the dates in the record, unless it was said.
func (r *Record) settleOrder() {
	if r.format.order != "" || !r.slashed() {
		return
	}
	r.format.order = Settled(func(yield func(string) bool) {
		var cells []rows.Cell
		rules := r.newRules()
		for at := r.header.Next; at < len(r.data); {
			w := rules.Next(r.data, at, cells)
			cells, at = w.Cells, w.Next
			if i := r.columns["date"]; w.Fault == rows.Whole && i < len(w.Cells) && !yield(w.Cells[i].Text) {
				return
			}
		}
	})
}

// slashed reports whether a date can be in the record whose order matters. To
// look for one costs less than to take all rows apart twice.
func (r *Record) slashed() bool {
	for i := r.header.Next; i+2 < len(r.data); i++ {
		if c := r.data[i+1]; (c == '/' || c == '-') && isDigit(r.data[i]) && isDigit(r.data[i+2]) {
			before := i
			for before > r.header.Next && isDigit(r.data[before-1]) {
				before--
			}
			after := i + 2
			for after < len(r.data) && isDigit(r.data[after]) {
				after++
			}
			if i-before < 2 && after < len(r.data) && r.data[after] == c {
				return true
			}
		}
	}
	return false
}
