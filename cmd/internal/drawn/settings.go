package drawn

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"pgregory.net/rapid"

	"halfcup/decide"
)

// Settings are some of a keeper's settings, each as it stands in the file: what
// the page asks for as well, and the rest.
type Settings struct {
	Hemisphere, Year, MostBrood string
	Lines                       string
	Act                         float64
	Without                     []string
	CO2                         bool

	rest map[string]string // by section, "" for none, its lines
}

// SettingsOf draws settings; none in half of all draws.
func SettingsOf(t *rapid.T) Settings {
	d := &drawing{T: t}
	var s Settings
	if !d.one(2, "settings") {
		return s
	}
	s.Hemisphere = pick(d, "hemisphere", []string{"", "", "north", "south"})
	s.Year = pick(d, "year", append([]string{"", ""}, decide.YearSets()...))
	s.MostBrood = pick(d, "most brood", []string{"", "", "", "05-20", "07-10"})
	if s.Hemisphere == "south" && s.MostBrood != "" {
		s.MostBrood = "12-20"
	}
	s.Lines = pick(d, "lines", []string{"", "", "flat-2", "flat-3", "composite"})
	s.Act = pick(d, "act", []float64{0, 0, 0, 1, 2.5, 4})
	s.Without = pick(d, "without", [][]string{nil, nil, {"wash"}, {"board"}, {"wash", "roll"}})
	s.CO2 = d.one(3, "co2")
	s.rest = map[string]string{}
	for _, l := range []struct {
		section string
		lines   []string
	}{
		{"", []string{"watch = 0.5", "watch = 3"}},
		{"", []string{"level = 0.8", "level = 0.95"}},
		{"", []string{"miss_cost = 1", "miss_cost = 8"}},
		{"", []string{"min_worth = 0.3", "min_worth = 0.01"}},
		{"", []string{"loss_without = 0.3"}},
		{"", []string{`arrivals = "none"`, `arrivals = "many"`}},
		{"", []string{"any_size = true"}},
		{"", []string{"most_frames = 3"}},
		{"", []string{"back_in = 7", "back_in = 40"}},
		{"", []string{"frame_cv = 0.5"}},
		{"", []string{"bees_cv = 0.3"}},
		{"costs", []string{"per_300_killed = 1"}},
		{"costs", []string{"extra_visit = 0.5"}},
		{"prior", []string{"median_per_hundred = 3"}},
		{"prior", []string{"log_sd = 0.8"}},
		{"recovery", []string{"roll = [3, 7]"}},
		{"season", []string{`supers = "05-01..07-20"`, `supers = "04-10..05-20,06-10..08-01"`}},
	} {
		if d.one(5, "setting") {
			s.rest[l.section] += pick(d, "line", l.lines) + "\n"
		}
	}
	if s.Act > 0 && s.Act < 3 {
		s.rest[""] = strings.ReplaceAll(s.rest[""], "watch = 3\n", "") // refused above act
	}
	return s
}

// OnlyShared is s without what the page does not ask for.
func (s Settings) OnlyShared() Settings {
	s.rest = nil
	return s
}

// TOML is the settings as a file.
func (s Settings) TOML() string {
	top, season := s.rest[""], s.rest["season"]
	text := func(into *string, key, v string) {
		if v != "" {
			*into += fmt.Sprintf("%s = %q\n", key, v)
		}
	}
	text(&top, "hemisphere", s.Hemisphere)
	text(&season, "year", s.Year)
	text(&season, "most_brood", s.MostBrood)
	text(&top, "thresholds", s.Lines)
	if s.Act > 0 {
		top += fmt.Sprintf("act = %g\n", s.Act)
	}
	if s.Without != nil {
		top += fmt.Sprintf("without = [\"%s\"]\n", strings.Join(s.Without, `", "`))
	}
	if s.CO2 {
		top += "co2_at_hand = true\n"
	}
	out := top
	sections := maps.Clone(s.rest)
	if sections == nil {
		sections = map[string]string{}
	}
	sections["season"] = season
	for _, name := range slices.Sorted(maps.Keys(sections)) {
		if name != "" && sections[name] != "" {
			out += "[" + name + "]\n" + sections[name]
		}
	}
	return out
}
