package ask

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"halfcup/decide"
	"halfcup/sampling"
)

// Flow is a time of every year with supers on: the month and day they go on,
// and those on which they come off.
type Flow struct{ On, Off time.Time }

// ParseFlows reads flows with commas between.
func ParseFlows(s string) ([]Flow, error) {
	var out []Flow
	for _, text := range strings.Split(s, ",") {
		f, err := ParseFlow(strings.TrimSpace(text))
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// ParseFlow reads MM-DD..MM-DD.
func ParseFlow(s string) (Flow, error) {
	const remedy = "write the day supers go on and the day they come off, such as 05-01..07-20"
	on, off, found := strings.Cut(s, "..")
	if !found {
		return Flow{}, &sampling.SyntaxError{Input: s, Length: max(len(s), 1), Problem: "these are not two days", Remedy: remedy}
	}
	var f Flow
	for i, part := range []string{on, off} {
		t, err := time.Parse("01-02", part)
		if err != nil {
			return f, &sampling.SyntaxError{Input: s, Offset: i * (len(on) + 2), Length: max(len(part), 1), Problem: fmt.Sprintf("%q is not a month and a day", part), Remedy: remedy}
		}
		if i == 0 {
			f.On = t
		} else {
			f.Off = t
		}
	}
	if f.On.Equal(f.Off) {
		return f, &sampling.SyntaxError{Input: s, Length: len(s), Problem: "supers that come off on the day they go on were never on", Remedy: remedy}
	}
	return f, nil
}

// Yearly are the times of the years about a day, from the one before the last
// to the next.
func Yearly(flows []Flow, about sampling.Date) decide.SupersPlan {
	out := decide.SupersPlan{Known: true}
	for year := about.Time().Year() - 2; year <= about.Time().Year()+1; year++ {
		for _, f := range flows {
			s := decide.Supers{On: sampling.Day(year, f.On.Month(), f.On.Day()), Off: sampling.Day(year, f.Off.Month(), f.Off.Day())}
			if s.Off <= s.On { // over the turn of the year, in the south
				s.Off = sampling.Day(year+1, f.Off.Month(), f.Off.Day())
			}
			out.Times = append(out.Times, s)
		}
	}
	slices.SortFunc(out.Times, func(a, b decide.Supers) int { return cmp.Compare(a.On, b.On) })
	return out
}
