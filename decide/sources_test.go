package decide

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"halfcup/sampling"
)

// Everything a call rests on is listed, with the value in use, a source and a
// kind, and under a name of its own.
func TestSources(t *testing.T) {
	byName := map[string]sampling.Source{}
	for _, s := range Sources() {
		if _, twice := byName[s.Name]; twice {
			t.Errorf("%s is listed twice", s.Name)
		}
		byName[s.Name] = s
		kinds := []string{"published", "common practice", "computed", "judgement", "second-hand", "memory"}
		if s.Value == "" || s.What == "" || s.Source == "" || !slices.Contains(kinds, s.Kind) {
			t.Errorf("%+v", s)
		}
	}
	c := DefaultCosts()
	for name, want := range map[string]float64{
		"miss_cost": DefaultMissCost, "min_worth": DefaultMinWorth, "full_exposure": 30, "settle_days": SettleDays, "split_log_sd": 0.3,
		"cost_300_bees": c.Per300Killed, "cost_10_minutes": c.Per10Minutes, "cost_extra_visit": c.ExtraVisit,
		"minutes_sample": c.MinutesPerSample, "minutes_frame": c.MinutesPerFrame, "minutes_100_bees": c.MinutesPer100, "minutes_board": c.MinutesPerBoard,
	} {
		if got, err := strconv.ParseFloat(byName[name].Value, 64); err != nil || got != want {
			t.Errorf("%s is listed as %q, in use is %v", name, byName[name].Value, want)
		}
	}
	for _, line := range Thresholds() {
		s := byName["line_"+line.Set+"_"+string(line.Season)]
		if s.Source != line.Source || s.Kind != line.Kind || !strings.HasSuffix(s.Value, "act "+strconv.FormatFloat(line.Act, 'g', -1, 64)) {
			t.Errorf("%+v is listed as %+v", line, s)
		}
	}
}

// The doubling that "full_regret" speaks of.
func TestFullRegretAtTwiceTheLine(t *testing.T) {
	s := Stakes{Act: 3, MissCost: 1, DaysExposed: fullExposure}
	if s.Leave(0.06) != 1 || s.Leave(0.059) >= 1 || s.Treat(0.015) != 1 || s.Treat(0.0151) >= 1 {
		t.Error("a mistake does not cost in full at twice and half the line, or does before")
	}
}
