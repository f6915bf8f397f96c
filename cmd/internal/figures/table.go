package figures

import (
	"sync"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// table is built when it is first asked for.
var table = sync.OnceValue(func() []Figure {
	a, costs := sampling.DefaultAssumptions(), decide.DefaultCosts()
	return []Figure{
		// How an answer is given.
		{Name: "level", What: "how much of what may be true lies between the limits", Low: 0.5, High: 0.9999, Default: "0.9; 0.8 for the band of a forecast", Flag: "level", Setting: "level"},
		{Name: "interval", What: "interval of the bare count", Words: intervals(), Default: string(sampling.Garwood), Flag: "interval", Setting: "interval"},
		{Name: "digits", What: "how many figures of a number are written", Whole: true, Low: 1, High: 17, Default: "all", Flag: "digits"},
		{Name: "ascii", What: "write nothing but ASCII signs", Truth: true, Default: "as the locale says", Flag: "ascii", Setting: "ascii"},
		{Name: "no-picture", What: "draw no picture in text", Truth: true, Default: "false", Flag: "no-picture", Setting: "no_picture"},

		// What a count is read with.
		{Name: "frame-cv", What: "how much frames of one brood nest differ", Unit: "(CV)", High: 2, Default: show.Plain(a.FrameCV), Flag: "frame-cv", Setting: "frame_cv"},
		{Name: "bees-cv", What: "how much the bees in an uncounted sample differ", Unit: "(CV)", High: 2, Default: show.Plain(a.ScoopCV) + " for a scoop, " + show.Plain(a.WeighedCV) + " weighed", Flag: "bees-cv", Setting: "bees_cv"},

		// The lines, and what it costs to be wrong about them.
		{Name: "watch", What: "the line to look closer", Unit: "mites per hundred bees", Low: 0.01, High: 100, Default: "by season", Flag: "watch", Setting: "watch"},
		{Name: "act", What: "the line to act at", Unit: "mites per hundred bees", Low: 0.01, High: 100, Default: "by season", Flag: "act", Setting: "act"},
		{Name: "thresholds", What: "set of lines by season, or a CSV file of your own", Like: decide.DefaultThresholds, Default: decide.DefaultThresholds, Flag: "thresholds", Setting: "thresholds"},
		{Name: "miss-cost", What: "how many needless treatments one missed one is worth", Unit: "needless treatments", Low: 0.1, High: 100, Default: show.Plain(decide.DefaultMissCost), Flag: "miss-cost", Setting: "miss_cost"},
		{Name: "min-worth", What: "least worth of a further count", Unit: "needless treatments", High: 3, Default: show.Plain(decide.DefaultMinWorth), Flag: "min-worth", Setting: "min_worth"},
		{Name: "loss-without", What: "share of your colonies that die over winter with next to no mites", Low: decide.LeastLoss, High: decide.MostLoss, Default: show.Plain(decide.DefaultLoss()), Setting: "loss_without"},

		// What happens around the colony, and which counts may be advised.
		{Name: "arrivals", What: "mites that come in from other colonies a day: none, few, many or a number to 1000", High: 1000, Like: decide.DefaultArrivals, Default: decide.DefaultArrivals, Flag: "arrivals", Setting: "arrivals"},
		{Name: "without", What: "methods that are not to be advised", Texts: true, Like: "co2", Default: "none", Flag: "without", Setting: "without"},
		{Name: "any-size", What: "bees are counted or weighed: advise other sizes than half cups", Truth: true, Default: "false", Flag: "any-size", Setting: "any_size"},
		{Name: "co2-at-hand", What: "carbon dioxide is at hand: advise it too", Truth: true, Default: "false", Setting: "co2_at_hand"},
		{Name: "most-frames", What: "the most frames to take bees from", Unit: "frames", Low: 1, High: 5, Whole: true, Default: "1", Flag: "most-frames", Setting: "most_frames"},
		{Name: "back-in", What: "days until somebody looks again", Unit: "days", Low: 1, High: 366, Whole: true, Default: show.Plain(decide.DefaultBackIn), Flag: "back-in", Setting: "back_in"},

		// Costs of a count.
		{Name: "per-300-killed", What: "cost of 300 bees", Unit: "needless treatments", High: 10, Default: show.Plain(costs.Per300Killed), Setting: "costs.per_300_killed"},
		{Name: "per-10-minutes", What: "cost of ten minutes", Unit: "needless treatments", High: 10, Default: show.Plain(costs.Per10Minutes), Setting: "costs.per_10_minutes"},
		{Name: "extra-visit", What: "cost of a further visit", Unit: "needless treatments", High: 10, Default: show.Plain(costs.ExtraVisit), Setting: "costs.extra_visit"},
		{Name: "minutes-per-sample", What: "time for one sample of bees", Unit: "minutes", High: 600, Default: show.Plain(costs.MinutesPerSample), Setting: "costs.minutes_per_sample"},
		{Name: "minutes-per-frame", What: "time for each frame that bees are taken from", Unit: "minutes", High: 600, Default: show.Plain(costs.MinutesPerFrame), Setting: "costs.minutes_per_frame"},
		{Name: "minutes-per-100-bees", What: "time for each hundred bees", Unit: "minutes", High: 600, Default: show.Plain(costs.MinutesPer100), Setting: "costs.minutes_per_100_bees"},
		{Name: "minutes-per-board", What: "time for a board", Unit: "minutes", High: 600, Default: show.Plain(costs.MinutesPerBoard), Setting: "costs.minutes_per_board"},

		// Belief before any count.
		{Name: "prior-median", What: "the level that half of all colonies are under before any count", Unit: "mites per hundred bees", Low: 0.01, High: 100, Default: show.Plain(a.Prior.MedianPerHundred), Flag: "prior", Setting: "prior.median_per_hundred"},
		{Name: "prior-log-sd", What: "how far colonies differ before any count, on the log scale", Low: 0.05, High: 2, Default: show.Plain(a.Prior.LogSD), Flag: "prior", Setting: "prior.log_sd"},

		{Name: "date-order", What: "the order of dates that are not written year-month-day: day, month, year or another", Words: []string{"dmy", "mdy", "ymd"}, Default: "as the dates of the file say", Setting: "date_order"},

		// The year.
		{Name: "hemisphere", What: "the half of the earth the bees live on", Words: []string{"north", "south"}, Default: "north", Flag: "hemisphere", Setting: "hemisphere"},
		{Name: "season-year", What: "the colony's year", Words: []string{"temperate", "cold", "warm"}, Default: decide.DefaultYear, Setting: "season.year"},
		{Name: "most-brood", What: "the day of the year with the most brood", Like: "05-20", Default: "by the year", Setting: "season.most_brood"},
		{Name: "spring", What: "the day on which spring begins, or never", Like: "03-01", Default: "by the year", Setting: "season.spring"},
		{Name: "summer", What: "the day on which summer begins, or never", Like: "06-01", Default: "by the year", Setting: "season.summer"},
		{Name: "late-summer", What: "the day on which late summer begins, or never", Like: "08-01", Default: "by the year", Setting: "season.late-summer"},
		{Name: "autumn", What: "the day on which autumn begins, or never", Like: "10-01", Default: "by the year", Setting: "season.autumn"},
		{Name: "winter", What: "the day on which winter begins, or never", Like: "11-15", Default: "by the year", Setting: "season.winter"},
		{Name: "yearly-supers", What: "when supers are on every year; several with commas between", Like: "05-01..07-20", Default: "as the record says", Setting: "season.supers"},

		// What a method finds of the mites that a careful wash would.
		{Name: "recovery-roll", What: "share of a wash's mites that a roll finds, as the two numbers of a Beta distribution", Len: 2, Low: 0.01, High: 1e5, Default: beta(a.Recovery[sampling.Roll]), Flag: "recovery", Setting: "recovery.roll"},
		{Name: "recovery-co2", What: "share of a wash's mites that carbon dioxide finds, likewise", Len: 2, Low: 0.01, High: 1e5, Default: beta(a.Recovery[sampling.CO2]), Flag: "recovery", Setting: "recovery.co2"},

		// The hive and the sample.
		{Name: "adult-bees", What: "adult bees of the colony", Unit: "bees", Low: 100, High: 200_000, Whole: true, Flag: "adult-bees", Column: "adult_bees"},
		{Name: "frames-of-bees", What: "deep frames covered with bees on both sides", Unit: "frames", Low: 0.25, High: 100, Flag: "frames-of-bees", Column: "adult_bees"},
		{Name: "grams-per-100", What: "weight of 100 bees of a weighed sample, as wet as they were", Unit: "g", Low: 5, High: 50, Flag: "grams-per-100", Column: "amount"},
		{Name: "cells", What: "cells of a gridded board", Unit: "cells", Low: 1, High: 10_000, Whole: true, Flag: "cells", Column: "amount"},
		{Name: "fall-before", What: "natural fall before a treatment", Unit: "mites a day", High: 10_000, Flag: "fall-before", Column: "amount"},
		{Name: "temperature", What: "highest forecast of the first days in the shade", Unit: "degrees", Low: -100, High: 200, Flag: "temperature"},

		// What a line that writes counts need not say.
		{Name: "own-yard", What: "the yard of what is written down", Like: "mill", Default: "that of the last line of the day", Setting: "yard"},
		{Name: "measure", What: "bees looked at in a sample", Like: "0.5cup", Default: "as in the last line of the day, else half a cup", Setting: "measure"},
		{Name: "sample-frames", What: "frames that a sample comes from", Unit: "frames", Low: 1, High: 20, Whole: true, Default: "as in the last line of the day", Setting: "frames"},
		{Name: "device", What: "letters that the ids of rows written here begin with", Like: "h", Default: "h", Setting: "device"},
		{Name: "observer", What: "who looks, for the rows written here", Like: "me", Default: "nobody is named", Setting: "observer"},

		{Name: "rows", What: "rows to take back", Unit: "rows", Low: 1, High: 10_000, Whole: true, Flag: "rows"},

		// Scoop by scoop.
		{Name: "scoop", What: "bees in a scoop", Unit: "bees", Low: 1, High: 2000, Whole: true, Default: "100", Flag: "scoop"},
		{Name: "max", What: "bees at most", Unit: "bees", Low: 1, High: 100_000, Whole: true, Default: "900", Flag: "max"},
		{Name: "low", What: "level to leave", Unit: "mites per hundred bees", Low: 0.01, High: 100, Default: "the watch line", Flag: "low"},
		{Name: "high", What: "level to treat", Unit: "mites per hundred bees", Low: 0.01, High: 100, Default: "the act line", Flag: "high"},
		{Name: "alpha", What: "chance of treating a colony at the low level", Low: 0.001, High: 0.49, Default: "0.1", Flag: "alpha"},
		{Name: "beta", What: "chance of leaving a colony at the high level", Low: 0.001, High: 0.49, Default: "0.1", Flag: "beta"},
		{Name: "k", What: "how evenly mites are spread over the scoops", Low: 0.01, High: 1e6, Default: "16", Flag: "k"},
		{Name: "precision", What: "standard error that is wanted, as a share of the level", Low: 0.05, High: 1, Default: "0.25", Flag: "precision"},

		// Treatments.
		{Name: "target", What: "share of the mites to be rid of", Low: 0.1, High: 0.999, Default: "0.9, or 0.95 for synthetic actives", Flag: "target"},
		{Name: "every", What: "days between rounds", Unit: "days", Low: 1, High: 60, Whole: true, Flag: "every"},
		{Name: "rounds", What: "rounds of a treatment", Unit: "rounds", Low: 1, High: 20, Whole: true, Flag: "rounds"},
		{Name: "killed", What: "mites that fell under the treatment", Unit: "mites", High: 1e6, Whole: true, Flag: "killed"},
		{Name: "follow-up", What: "mites that fell afterwards under another substance", Unit: "mites", High: 1e6, Whole: true, Flag: "follow-up"},

		// The season and the yard.
		{Name: "days", What: "how far to look ahead", Unit: "days", Low: 7, High: 366, Whole: true, Flag: "days"},
		{Name: "compare", What: "the year to set beside this one", Low: 1900, High: 2999, Whole: true, Flag: "compare"},
		{Name: "year", What: "the year looked back on", Low: 1900, High: 2999, Whole: true, Flag: "year"},
		{Name: "boards", What: "sticky boards there are", Unit: "boards", Low: 1, High: 1000, Whole: true, Flag: "boards"},
		{Name: "plan", What: "colonies of the yard whose sampling is planned", Unit: "colonies", Low: 1, High: 10_000, Whole: true, Flag: "plan"},
		{Name: "colonies", What: "colonies of the yard a yearly plan is for", Unit: "colonies", Low: 1, High: 10_000, Whole: true, Default: "10", Flag: "colonies"},
		{Name: "plan-treat", What: "treatments of every year, each a day and a name", Texts: true, Like: "07-28:formic-evaporation", Default: "none", Setting: "plan.treat"},
		{Name: "mean", What: "mean of the yard that is expected", Unit: "mites per hundred bees", Low: 0.01, High: 100, Default: "2", Flag: "mean"},

		// The model of mite growth.
		{Name: "days-on-bees", What: "days a mite rides adult bees before it enters a cell", Unit: "days", Low: 0.1, High: 1000, Flag: "days-on-bees"},
		{Name: "drone-share", What: "share of the entering mites that enter drone cells", High: 1, Flag: "drone-share"},
		{Name: "worker-daughters", What: "grown daughters per mother and worker cell", High: 6, Flag: "worker-daughters"},
		{Name: "drone-daughters", What: "grown daughters per mother and drone cell", High: 6, Flag: "drone-daughters"},
		{Name: "mortality", What: "share of the mites on adult bees that die in a day", High: 0.5, Flag: "mortality"},
		{Name: "survival", What: "share of mothers and daughters that live through the emergence of the bee", Low: 0.01, High: 1, Flag: "survival"},
		{Name: "bees", What: "adult bees, for the days on bees", Unit: "bees", Low: 100, High: 200_000, Flag: "bees"},
		{Name: "worker-cells", What: "worker cells capped a day", Unit: "cells", High: 5000, Flag: "worker-cells"},
		{Name: "drone-cells", What: "drone cells capped a day", Unit: "cells", High: 2000, Flag: "drone-cells"},
	}
})

func intervals() []string {
	var out []string
	for _, k := range sampling.IntervalKinds() {
		out = append(out, string(k))
	}
	return out
}

func beta(b sampling.Beta) string {
	return "[" + show.Plain(b.Alpha) + ", " + show.Plain(b.Beta) + "]"
}
