package decide

import (
	"fmt"
	"maps"
	"slices"

	"halfcup/sampling"
)

// Sources lists every default figure of this package, and the field trials
// that are shown beside the model.
func Sources() []sampling.Source {
	var out []sampling.Source
	for _, p := range slices.Concat(parameterTable, efficacyTable, poolFigures, lossFigures, growthFigures) {
		out = append(out, sampling.Source{Name: p.Name, Value: fmt.Sprint(p.Value), Unit: p.Unit, What: p.Meaning, Source: p.Source, Kind: p.Kind})
	}
	for _, p := range yearPoints {
		flying := "no"
		if p.Flying {
			flying = "yes"
		}
		out = append(out, sampling.Source{
			Name: fmt.Sprintf("year_%s_%s", p.Set, p.Date), Unit: "adult bees, capped worker and drone cells",
			Value:  fmt.Sprintf("%v, %v, %v", p.AdultBees, p.WorkerCells, p.DroneCells),
			What:   fmt.Sprintf("bees and brood of an ordinary colony on that date in the north; bees fly: %s", flying),
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
			Name: fmt.Sprintf("line_%s_%s", t.Set, t.Season), Value: fmt.Sprintf("watch %v, act %v", t.Watch, t.Act), Unit: "mites per hundred bees",
			What: "the lines of the set " + t.Set + " in the season " + string(t.Season), Source: t.Source, Kind: t.Kind,
		})
	}
	out = append(out, choiceSources()...)
	for i, t := range trialTable {
		out = append(out, sampling.Source{Name: fmt.Sprintf("trial_%d", i+1), Value: t.Treatment, What: "field trial: " + t.Outcome, Source: t.Source, Kind: t.Kind})
	}
	for _, key := range slices.SortedFunc(maps.Keys(fitsTable), fitKey.compare) {
		row := fitsTable[key]
		out = append(out, sampling.Source{Name: "fits_" + key.reason + "_" + key.treatment, Value: string(row.group), What: row.sentence, Source: row.source, Kind: row.kind})
	}
	told := map[string]int{}
	for _, c := range cautionTable {
		told[c.Name]++
		out = append(out, sampling.Source{Name: fmt.Sprintf("caution_%s_%d", c.Name, told[c.Name]), Value: string(c.About), What: c.Text, Source: c.Source, Kind: c.Kind})
	}
	return append(out, courseSources()...)
}

// courseSources are the days and figures by which courses and what fits are
// told.
func courseSources() []sampling.Source {
	const leaflets = "common practice; the label's own days win"
	var out []sampling.Source
	for _, f := range []struct {
		name               string
		value              float64
		unit               string
		what, source, kind string
	}{
		{"same_course", sameCourse, "days", "how far apart two rounds of one course can be", "rounds a fortnight apart are rare; a treatment three weeks later answers another count", "judgement"},
		{"long_course", longCourse, "days", "how long a course must be to be checked while it runs", leaflets, "common practice"},
		{"check_from", checkFrom, "days", "into a long course, when its check begins", leaflets, "common practice"},
		{"check_to", checkTo, "days", "into a long course, when its check ends", leaflets, "common practice"},
		{"out_asked", outAsked, "days", "after its out-day, how long a treatment is asked for that nobody wrote off", "until the first inspection in spring", "judgement"},
		{"not_working", notWorking, "chance", "of being over the line, from which a count under treatment says that it may not be working", "a count under treatment is rough: only a clear one is to alarm", "judgement"},
		{"many_courses", manyCourses, "courses", "of one active ingredient in a year, from which the label is to be looked at", "labels set how many they allow", "judgement"},
		{"small_colony", smallColony, "adult bees", "fewer than which a colony is small", "about five frames of bees", "common practice"},
		{"broodless_wait", windowAheadDays, "days", "ahead, how long a time without capped brood is worth waiting for", "mites double in about a month at the height of the season", "judgement"},
		{"winter_cluster", winterCluster, "days", "from the start of the broodless time, how long a second trickle meets the same bees", "winter bees live four to five months", "common practice"},
		{"cluster_early", clusterEarly, "days", "before it, from when on", "winter bees are raised by then", "judgement"},
		{"late_caging", lateCaging, "days", "before the decline of the colony, from when on a caged queen costs winter bees", "mid July in the north, two to three weeks before the winter bees are raised", "common practice"},
		{"late_brood", lateBrood, "days", "into the decline, from when on taking the brood comes too late", "too few bees would be left to raise winter bees", "judgement"},
		{"drone_start", droneStart, "days", "into the buildup, when drone brood and swarms begin", "April in the north", "common practice"},
		{"drone_end", droneEnd, "days", "before the decline, when drone brood ends", "the end of June in the north", "common practice"},
	} {
		out = append(out, sampling.Source{Name: f.name, Value: fmt.Sprint(f.value), Unit: f.unit, What: f.what, Source: f.source, Kind: f.kind})
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
		{"minutes_frame", c.MinutesPerFrame, "minutes", "to take bees from one frame and look for the queen", "a guess at unhurried work"},
		{"minutes_100_bees", c.MinutesPer100, "minutes", "to wash or roll 100 bees and count the mites", "a guess at unhurried work"},
		{"minutes_board", c.MinutesPerBoard, "minutes", "to put in a board and count the mites on it", "a guess at unhurried work"},
		{"settle_days", SettleDays, "days", "from the last round of a treatment to the look that tells what it did", "the capped time of drones, the longest in which mites sit out a treatment"},
		{"split_log_sd", splitLogSD, "log scale", "how unlike the parts of a divided colony may be", "bees and brood are seldom shared out evenly"},
	} {
		out = append(out, sampling.Source{Name: f.name, Value: fmt.Sprint(f.value), Unit: f.unit, What: f.what, Source: f.source, Kind: "judgement"})
	}
	return out
}
