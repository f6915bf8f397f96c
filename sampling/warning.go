package sampling

import (
	"fmt"
	"math"
	"slices"
)

// WarningKind is what a warning is about.
type WarningKind string

// The kinds of warning.
const (
	BoardAlone     WarningKind = "board-alone"      // nothing but boards was counted
	ShortBoard     WarningKind = "short-board"      // a board of one or two days
	ShortKnockdown WarningKind = "short-knockdown"  // not all killed mites have fallen yet
	ZeroKnockdown  WarningKind = "zero-knockdown"   // few mites, or a treatment that failed
	ZeroIsNotNone  WarningKind = "zero-is-not-none" // no mites counted, which is not none in the hive
	Disagreement   WarningKind = "disagreement"     // a count that the others do not foresee
	SmallSample    WarningKind = "small-sample"     // fewer bees than is usual
	BeesNotCounted WarningKind = "bees-not-counted" // the bees of a sample were not counted, and it would help
	BeesUnknown    WarningKind = "bees-unknown"     // nobody said how many adult bees are over a board
	LeftMore       WarningKind = "left-more"        // a wash found more than the roll before it
	MostlyNatural  WarningKind = "mostly-natural"   // a knockdown that is hardly more than the fall before
	SwappedNumbers WarningKind = "swapped-numbers"  // so many mites on so few bees
	MoreThanACup   WarningKind = "more-than-a-cup"  // 1/2cup is one mite in two cups
	RollsFindFew   WarningKind = "rolls-find-few"   // by boards that the keeper calibrated
)

// Warning is something a person must not miss, in whole sentences: what is
// doubtful, in numbers, and what would mend it.
type Warning struct {
	Kind WarningKind `json:"kind"`
	Text string      `json:"text"`
}

// Limits below which a count is not passed over in silence.
const (
	usualBees       = 300
	fewBees         = 200
	fewFallDays     = 3
	surprising      = 0.01
	rollsSurprise   = 0.05 // of a roll beside a board of the keeper's own reading
	worthCounting   = 0.05 // share of the interval's width on the log axis
	typicalPairs    = 3
	mostlyNaturally = 0.5
	swapped         = 0.5 // mites per bee
)

// Questions is what to ask back before a count is believed: figures that can be
// right but more often are a slip of the pen. Warnings holds them too.
func (c Count) Questions() []Warning {
	if c.Method.Kind() != BeeSample {
		return nil
	}
	var out []Warning
	ask := func(kind WarningKind, format string, args ...any) {
		out = append(out, Warning{kind, fmt.Sprintf(format, args...)})
	}
	bees := c.meanBees()
	if float64(c.Mites) > swapped*bees {
		text := fmt.Sprintf("%s is %.0f mites per hundred bees. Were the two numbers swapped? Mites come first", c, 100*float64(c.Mites)/bees)
		if c.Amount.Unit == Bees {
			other := c
			other.Mites, other.Amount.Value = int(c.Amount.Value), float64(c.Mites)
			text += fmt.Sprintf(": %s", other)
		}
		ask(SwappedNumbers, "%s.", text)
	}
	if cups := bees / (millilitresPerCup * beesPerMillilitre); cups > 1 && (c.Amount.Unit == Cups || c.Amount.Unit == Millilitres) {
		half := c
		half.Amount = Amount{0.5, Cups}
		ask(MoreThanACup, "%s is %.3g cups of bees, about %.0f. Was half a cup meant? That is %s.", c, cups, bees, half)
	}
	return out
}

// Warnings is what to tell with an estimate: after is what is known of the
// colony, level the level of its interval, and evidence what Weigh told of
// each count on the way there from before.
func (a Assumptions) Warnings(before, after Density, evidence []Evidence, level float64) []Warning {
	w := warner{a: a, before: before, evidence: evidence, level: level, summary: after.Summary(level)}
	for i, e := range evidence {
		if e.Count.Method.Kind() == BeeSample {
			w.bees(i)
		} else {
			w.fall(e.Count)
		}
		if e.Surprise < surprising {
			w.add(Disagreement, "%s does not fit the rest: the other counts give a chance of under %v%% to a figure so far off. Check the figures, the dates, and whether all are of the same colony; then count once more before you act.",
				e.Count, 100*surprising)
		}
	}
	w.boardsAlone()
	w.rollsFindFew()
	w.beesUnknown()
	return w.out
}

// warner collects warnings.
type warner struct {
	a        Assumptions
	before   Density
	evidence []Evidence
	level    float64
	summary  Summary
	out      []Warning
}

func (w *warner) add(kind WarningKind, format string, args ...any) {
	w.out = append(w.out, Warning{kind, fmt.Sprintf(format, args...)})
}

// bees looks at one sample of bees.
func (w *warner) bees(i int) {
	c := w.evidence[i].Count
	n, cv, err := w.a.BeesOf(c)
	if err != nil {
		return
	}
	w.out = append(w.out, c.Questions()...)
	if c.Mites == 0 {
		w.add(ZeroIsNotNone, "No mites in %s is not no mites in the hive: there may still be up to %s per hundred.%s", beesWords(n), digits(w.summary.High), w.emptyAgain(c))
	}
	if n < fewBees {
		w.add(SmallSample, "%s is a small sample; %d is usual, from three frames if you can.", beesWords(n), usualBees)
	}
	if cv > 0 {
		w.notCounted(i, n)
	}
}

// emptyAgain says what a second sample as empty as c would leave.
func (w *warner) emptyAgain(c Count) string {
	d, err := w.reweighed(append(w.counts(), c)...)
	if err != nil {
		return ""
	}
	return fmt.Sprintf(" A second sample from other frames, as empty as this one, would leave %s.", digits(d.Summary(w.level).High))
}

// counts are all the counts of the evidence, in a slice of their own.
func (w *warner) counts() []Count {
	out := make([]Count, len(w.evidence))
	for i, e := range w.evidence {
		out[i] = e.Count
	}
	return out
}

// reweighed is what would be known had these counts been made.
func (w *warner) reweighed(counts ...Count) (Density, error) {
	l, err := w.a.Likelihood(counts...)
	if err != nil {
		return Density{}, err
	}
	return w.before.Times(l)
}

// notCounted says what counting the bees of a sample would do, when it would
// do something.
func (w *warner) notCounted(i int, bees float64) {
	counts := w.counts()
	counts[i].Amount = Amount{math.Round(bees), Bees}
	d, err := w.reweighed(counts...)
	if err != nil {
		return
	}
	s := d.Summary(w.level)
	now, then := math.Log(w.summary.High/w.summary.Low), math.Log(s.High/s.Low)
	if 1-then/now >= worthCounting {
		w.add(BeesNotCounted, "The bees of %s were not counted. With so many mites that matters: counted, the same figures would leave %s to %s per hundred instead of %s to %s.",
			w.evidence[i].Count, digits(s.Low), digits(s.High), digits(w.summary.Low), digits(w.summary.High))
	}
}

// fall looks at one board or knockdown.
func (w *warner) fall(c Count) {
	days := c.DaysOnBoard()
	if c.Method == Board {
		if days < fewFallDays {
			w.add(ShortBoard, "%s covers less than %d days, and the fall of single days differs widely. Leave the next board for at least %d days.", c, fewFallDays, fewFallDays)
		}
		if c.Mites == 0 {
			w.add(ZeroIsNotNone, "No mites on the board is not no mites in the hive: there may still be up to %s per hundred. Ants, a solid floor or a board that did not cover the whole floor also leave none.", digits(w.summary.High))
		}
		return
	}
	if days < fewFallDays {
		w.add(ShortKnockdown, "%s covers less than %d days. Killed mites keep falling for days, so this figure is too low by an unknown part; read the board again on day %d and add up.", c, fewFallDays, fewFallDays)
	}
	if c.Mites == 0 {
		w.add(ZeroKnockdown, "No fall after a treatment means few mites or a failed application, and the board cannot tell which: the estimate takes it that the treatment worked. Look whether it was used up and reached the bees, then count a sample of bees before you trust this.")
		return
	}
	if c.FallBefore != nil {
		if natural := days * *c.FallBefore; natural > mostlyNaturally*float64(c.Mites) {
			w.add(MostlyNatural, "At %s mites a day before it, about %.0f of the %d mites of %s would have fallen without a treatment: most of this fall says little. Look whether the treatment reached the bees, and count a sample of bees.",
				digits(*c.FallBefore), natural, c.Mites, c)
		}
	}
}

// boardsAlone says how weak a board is when there is nothing else, and what
// pairs of the beekeeper's own would do.
func (w *warner) boardsAlone() {
	if len(w.evidence) == 0 || slices.ContainsFunc(w.evidence, func(e Evidence) bool { return e.Count.Method != Board }) {
		return
	}
	counts := w.counts()
	text := fmt.Sprintf("A board alone is weak evidence: by this fall a colony may have %s to %s mites per hundred, %s times apart",
		digits(w.summary.Low), digits(w.summary.High), digits(w.summary.High/w.summary.Low))
	if counts[0].Hive.Broodless { // and the hive stays shut
		w.add(BoardAlone, "%s.", text)
		return
	}
	if paired, err := w.a.WithTypicalPairs(typicalPairs, false); err == nil {
		if d, _, err := paired.Weigh(w.before, counts); err == nil {
			s := d.Summary(w.level)
			text += fmt.Sprintf("; with three pairs of your own (halfcup calibrate) about %s times", digits(s.High/s.Low))
		}
	}
	w.add(BoardAlone, "%s. A sugar roll beside it costs no bee.", text)
}

// rollsFindFew says so when a roll shows fewer mites than a board of its day
// leads to expect, whose reading is the keeper's own: then it is the roll that
// may be wrong. One that was written down as damp has that in it.
func (w *warner) rollsFindFew() {
	own := func(c Count) bool {
		usual := DefaultAssumptions()
		if c.Hive.Broodless {
			return w.a.BoardBroodless != usual.BoardBroodless
		}
		return w.a.BoardBrood != usual.BoardBrood
	}
	for _, roll := range w.counts() {
		if roll.Method != Roll || roll.Weather == Damp {
			continue
		}
		var boards []Count
		for _, c := range w.counts() {
			if c.Method == Board && c.Date == roll.Date && own(c) {
				boards = append(boards, c)
			}
		}
		if boards == nil {
			continue
		}
		p, err := w.a.Foresee(w.before, boards, roll)
		if err != nil {
			continue
		}
		if chance := 2 * p.Chance(roll.Mites, false); chance < rollsSurprise {
			w.add(RollsFindFew, "Rolls may be finding few: by your own boards a roll shows no more than these %d mites with a chance of under %v%%. Make a pair: wash the very bees that were rolled, and mark a roll of damp bees as damp.", roll.Mites, 100*rollsSurprise/2)
			return
		}
	}
}

// beesUnknown says once that a fall was read without the size of the colony.
func (w *warner) beesUnknown() {
	for _, e := range w.evidence {
		if c := e.Count; c.Method.Kind() == Fall && (c.Hive.AdultBees == 0 || c.Hive.Ordinary) {
			bees, _ := w.a.adultBees(c.Hive)
			w.add(BeesUnknown, "%s is read as over %.0f bees, for none were named: over half as many it would tell of up to twice the mites per hundred. Say the adult bees or the frames of bees.", c, bees)
			return
		}
	}
}

// Warnings is what to tell with a pair.
func (p Pair) Warnings() []Warning {
	g, r := p.Gentle, p.Reference
	if g.Method == Board || r.Mites <= g.Mites {
		return nil
	}
	return []Warning{{LeftMore, fmt.Sprintf("%s brought down %d mites and the wash after it %d: the bees were damp, or the wash was of other bees. Only a wash of the very bees that were rolled tells what the roll left.", g, g.Mites, r.Mites)}}
}

// digits writes a positive figure in two digits, large ones in whole numbers,
// as the program does beside it.
func digits(x float64) string {
	switch {
	case x >= 9.95:
		return fmt.Sprintf("%.0f", x)
	case x >= 0.995:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.2f", x)
}

// beesWords is a number of bees in words: "1 bee", "300 bees".
func beesWords(n float64) string {
	if n = math.Round(n); n != 1 {
		return fmt.Sprint(n, " bees")
	}
	return "1 bee"
}
