package decide

import (
	"fmt"
	"slices"
	"strconv"

	"halfcup/sampling"
)

// number writes a figure as it stands in its table.
func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// Sources lists every default figure of this package, and the field trials
// that are shown beside the model.
func Sources() []sampling.Source {
	var out []sampling.Source
	for _, p := range slices.Concat(parameterTable, efficacyTable, poolFigures) {
		out = append(out, sampling.Source{Name: p.Name, Value: number(p.Value), Unit: p.Unit, What: p.Meaning, Source: p.Source, Kind: p.Kind})
	}
	for _, p := range yearPoints {
		out = append(out, sampling.Source{
			Name: fmt.Sprintf("year_%s_%s", p.Set, p.Date), Unit: "adult bees, capped worker and drone cells",
			Value:  fmt.Sprintf("%s, %s, %s", number(p.AdultBees), number(p.WorkerCells), number(p.DroneCells)),
			What:   fmt.Sprintf("bees and brood of an ordinary colony on that date in the north; bees fly: %v", map[bool]string{true: "yes", false: "no"}[p.Flying]),
			Source: p.Source, Kind: p.Kind,
		})
	}
	for _, p := range seasonTable {
		out = append(out, sampling.Source{
			Name: fmt.Sprintf("season_%s_%s", p.Set, p.Season), Value: p.From, Unit: "in the north",
			What: "when the season begins in a " + p.Set + " year", Source: p.Source, Kind: p.Kind,
		})
	}
	out = append(out, unseenSources()...)
	for _, t := range thresholdTable {
		out = append(out, sampling.Source{
			Name: fmt.Sprintf("line_%s_%s", t.Set, t.Season), Value: fmt.Sprintf("watch %s, act %s", number(t.Watch), number(t.Act)), Unit: "mites per hundred bees",
			What: "the lines of the set " + t.Set + " in the season " + string(t.Season), Source: t.Source, Kind: t.Kind,
		})
	}
	out = append(out, choiceSources()...)
	for i, t := range trialTable {
		out = append(out, sampling.Source{Name: fmt.Sprintf("trial_%d", i+1), Value: t.Treatment, What: "field trial: " + t.Outcome, Source: t.Source, Kind: t.Kind})
	}
	return out
}

// choiceSources are the figures by which one choice is set against another.
func choiceSources() []sampling.Source {
	c := DefaultCosts()
	const needless, small = "needless treatments", "small beside a missed treatment and not nothing"
	var out []sampling.Source
	for _, f := range []struct {
		name         string
		value        float64
		unit         string
		what, source string
	}{
		{"miss_cost", DefaultMissCost, needless, "what one missed treatment is worth", "puts the switch at 6 and 9 mites in a wash of 300 bees for a line of 2 and 3, which is common practice"},
		{"full_regret", 2, "times the line", "how far past the line a mistake costs in full; on the line it costs nothing", "near the line either choice is about as good"},
		{"full_exposure", fullExposure, "days", "how long a colony over the line must be left for the miss to cost in full", "mites double in about a month at the height of the season"},
		{"min_worth", DefaultMinWorth, needless, "least net worth of a look that is advised", "below it both choices come to about the same"},
		{"cost_300_bees", c.Per300Killed, needless, "cost of 300 bees killed", "300 bees do not harm a strong colony (Dietemann et al. 2013, J Apic Res 52(1)), yet need not be spent on an answer one has"},
		{"cost_10_minutes", c.Per10Minutes, needless, "cost of ten minutes", small},
		{"cost_extra_visit", c.ExtraVisit, needless, "cost of every visit after the first", small},
		{"minutes_sample", c.MinutesPerSample, "minutes", "to begin any bee sample", "a guess at unhurried work"},
		{"minutes_frame", c.MinutesPerFrame, "minutes", "to take bees off one frame, the queen looked for", "a guess at unhurried work"},
		{"minutes_100_bees", c.MinutesPer100, "minutes", "to wash or roll 100 bees and count the mites", "a guess at unhurried work"},
		{"minutes_board", c.MinutesPerBoard, "minutes", "to put in a board and count the mites on it", "a guess at unhurried work"},
		{"settle_days", SettleDays, "days", "from the last round of a treatment to the look that tells what it did", "the capped time of drones, the longest in which mites sit out a treatment"},
		{"split_log_sd", splitLogSD, "log scale", "how unlike the parts of a divided colony may be", "bees and brood are seldom shared out evenly"},
	} {
		out = append(out, sampling.Source{Name: f.name, Value: number(f.value), Unit: f.unit, What: f.what, Source: f.source, Kind: "judgement"})
	}
	return out
}
