package decide

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// fitted is what fits in the default season of the north.
func fitted(t testing.TB, on string, change func(*Circumstances)) Fit {
	t.Helper()
	c := Circumstances{Day: mustDate(on), Year: usualYear(t)}
	if change != nil {
		change(&c)
	}
	f, err := Fits(c)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func usualYear(t testing.TB) Year {
	t.Helper()
	y, err := NewYear(YearSettings{})
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// What may be known of supers.
var (
	supersAreOn  = SupersPlan{Known: true, Times: []Supers{{On: 1}}}
	supersAreOff = SupersPlan{Known: true}
)

func supersFrom(on string) SupersPlan {
	return SupersPlan{Known: true, Times: []Supers{{On: mustDate(on)}}}
}

func degrees(c float64) *float64 { return &c }

// optionOf finds a treatment, or what is done without any by its name.
func optionOf(t testing.TB, f Fit, name string) Option {
	t.Helper()
	for _, o := range slices.Concat(f.Fits, f.Maybe, f.Not, f.Without) {
		if slices.Contains(o.Called, name) {
			return o
		}
		for _, tr := range o.Treatments {
			if tr.Slug == name {
				return o
			}
		}
	}
	t.Fatalf("nothing is said of %s", name)
	return Option{}
}

// givenOn is a course that was given and taken out when it was due.
func givenOn(t *testing.T, slug, on string) Course {
	c := UsualCourse(treatment(t, slug), mustDate(on), false)
	c.Given = c.Last
	if c.lies() {
		c.TakenOut = c.OutDue()
	}
	return c
}

// A colony over the line on 25 July with brood, supers and 31 °C to come, and
// what changes when one of them does.
func TestFits(t *testing.T) {
	july := func(c *Circumstances) { c.CappedBrood, c.Supers, c.Warmest = Present, supersAreOn, degrees(31) }
	for _, c := range []struct {
		name   string
		on     string
		change func(*Circumstances)
		of     string
		group  FitGroup
		reason FitReason
	}{
		{"july", "2026-07-25", july, "amitraz-strip", FitsNow, ReasonFits},
		{"july", "2026-07-25", july, "oxalic-strip", FitsMay, ReasonVariable},
		{"july", "2026-07-25", july, "oxalic-vapour", FitsMay, ReasonRounds},
		{"july", "2026-07-25", july, "thymol", FitsMay, ReasonTooHot},
		{"july", "2026-07-25", july, "fluvalinate-strip", FitsMay, ReasonResistance},
		{"july", "2026-07-25", july, "formic-evaporation", FitsNot, ReasonTooHot},
		{"july", "2026-07-25", july, "oxalic-trickle", FitsNot, ReasonWeak},
		{"july", "2026-07-25", july, "hop-acids", FitsNot, ReasonWeak},
		{"july", "2026-07-25", july, "sealed brood out", FitsNow, ReasonWithout},
		{"july", "2026-07-25", july, "queen caged", FitsNot, ReasonLate},
		{"july", "2026-07-25", july, "drone brood cut", FitsNot, ReasonLate},
		{"nobody knows how warm", "2026-07-25", nil, "formic-evaporation", FitsMay, ReasonWarmthUnknown},
		{"nobody knows how warm", "2026-07-25", nil, "thymol", FitsMay, ReasonWarmthUnknown},
		{"mild", "2026-07-25", func(c *Circumstances) { c.Warmest = degrees(24) }, "formic-evaporation", FitsNow, ReasonFits},
		{"mild, supers on", "2026-07-25", func(c *Circumstances) { c.Warmest, c.Supers = degrees(24), supersAreOn }, "formic-evaporation", FitsMay, ReasonSupersLabel},
		{"mild, small", "2026-07-25", func(c *Circumstances) { c.Warmest, c.AdultBees = degrees(24), 8000 }, "formic-evaporation", FitsMay, ReasonSmallColony},
		{"mild, new queen", "2026-07-25", func(c *Circumstances) { c.Warmest, c.NewQueen = degrees(24), true }, "formic-evaporation", FitsMay, ReasonNewQueen},
		{"cool", "2026-10-20", func(c *Circumstances) { c.Warmest = degrees(9) }, "formic-evaporation", FitsNot, ReasonTooCool},
		{"early June", "2026-06-05", nil, "queen caged", FitsNow, ReasonWithout},
		{"early June", "2026-06-05", nil, "drone brood cut", FitsNow, ReasonWithout},
		{"10 July", "2026-07-10", nil, "queen caged", FitsNow, ReasonWithout},
		{"20 July", "2026-07-20", nil, "queen caged", FitsNot, ReasonLate},
		{"March", "2026-03-10", nil, "queen caged", FitsNot, ReasonEarly},
		{"September", "2026-09-10", nil, "sealed brood out", FitsNot, ReasonLate},
		{"winter", "2026-12-15", nil, "oxalic-trickle", FitsNow, ReasonNoBrood},
		{"winter", "2026-12-15", nil, "oxalic-vapour", FitsNow, ReasonNoBrood},
		{"winter", "2026-12-15", nil, "oxalic-spray", FitsNot, ReasonWinter},
		{"winter", "2026-12-15", nil, "amitraz-strip", FitsNot, ReasonWinter},
		{"winter with brood", "2026-12-15", func(c *Circumstances) { c.CappedBrood = Present }, "oxalic-trickle", FitsNot, ReasonWeak},
		{"a brood break", "2026-06-20", func(c *Circumstances) { c.Broodless = Window{mustDate("2026-06-15"), mustDate("2026-06-25")} }, "oxalic-trickle", FitsNow, ReasonNoBrood},
		{"eggs seen in a brood break", "2026-06-20", func(c *Circumstances) {
			c.CappedBrood, c.Broodless = Present, Window{mustDate("2026-06-15"), mustDate("2026-06-25")}
		}, "oxalic-trickle", FitsNot, ReasonWeak},
		{"supers in five weeks", "2026-04-01", func(c *Circumstances) { c.Supers = supersFrom("2026-05-06") }, "amitraz-strip", FitsNot, ReasonSupersComing},
		{"supers in nine weeks", "2026-03-01", func(c *Circumstances) { c.Supers = supersFrom("2026-05-06") }, "amitraz-strip", FitsNow, ReasonFits},
		{"amitraz last year", "2026-08-10", func(c *Circumstances) { c.Courses = []Course{givenOn(t, "amitraz-strip", "2025-08-01")} }, "amitraz-strip", FitsMay, ReasonSameGroup},
		{"amitraz, then oxalic acid", "2026-08-10", func(c *Circumstances) {
			c.Courses = []Course{givenOn(t, "amitraz-strip", "2025-08-01"), givenOn(t, "oxalic-trickle", "2025-12-10")}
		}, "amitraz-strip", FitsNow, ReasonFits},
		{"another of the group last year", "2026-08-10", func(c *Circumstances) { c.Courses = []Course{givenOn(t, "flumethrin-strip", "2025-08-01")} }, "fluvalinate-strip", FitsNot, ReasonSameGroup},
		{"oxalic acid after oxalic acid", "2026-12-15", func(c *Circumstances) { c.Courses = []Course{givenOn(t, "oxalic-vapour", "2026-08-01")} }, "oxalic-trickle", FitsNow, ReasonNoBrood},
		{"trickled this winter", "2027-01-05", func(c *Circumstances) { c.Courses = []Course{givenOn(t, "oxalic-trickle", "2026-11-20")} }, "oxalic-trickle", FitsNot, ReasonSecondTrickle},
		{"trickled last winter", "2027-01-05", func(c *Circumstances) { c.Courses = []Course{givenOn(t, "oxalic-trickle", "2026-01-10")} }, "oxalic-trickle", FitsNow, ReasonNoBrood},
		{"ten days after formic acid", "2026-08-20", func(c *Circumstances) { c.Courses = []Course{givenOn(t, "formic-evaporation", "2026-08-10")} }, "amitraz-strip", FitsNot, ReasonAnotherCourse},
	} {
		o := optionOf(t, fitted(t, c.on, c.change), c.of)
		if o.Group != c.group || o.Reason != c.reason {
			t.Errorf("%s: %s is %s, %s, want %s, %s", c.name, c.of, o.Group, o.Reason, c.group, c.reason)
		}
	}
}

func TestFitsFirst(t *testing.T) {
	strips := UsualCourse(treatment(t, "amitraz-strip"), mustDate("2026-07-25"), true)
	strips.Given = strips.Last
	vapour := givenOn(t, "oxalic-vapour", "2026-07-01")
	for _, c := range []struct {
		name   string
		on     string
		change func(*Circumstances)
		want   []StepKind
	}{
		{"supers on", "2026-07-25", func(c *Circumstances) { c.Supers = supersAreOn }, []StepKind{StepSupersOff}},
		{"nobody says", "2026-07-25", nil, []StepKind{StepAskSupers}},
		{"nobody says, in autumn", "2026-10-05", nil, nil},
		{"off", "2026-07-25", func(c *Circumstances) { c.Supers = supersAreOff }, nil},
		{"winter", "2026-12-15", nil, []StepKind{StepWinter}},
		{"winter, looked", "2026-12-15", func(c *Circumstances) { c.CappedBrood = Absent }, nil},
		{"a brood break comes", "2026-06-05", func(c *Circumstances) {
			c.Supers, c.Broodless = supersAreOff, Window{mustDate("2026-06-15"), mustDate("2026-06-25")}
		}, []StepKind{StepBroodless}},
		{"a brood break under supers", "2026-06-16", func(c *Circumstances) {
			c.Supers, c.Broodless = supersAreOn, Window{mustDate("2026-06-15"), mustDate("2026-06-25")}
		}, []StepKind{StepSupersOff, StepBroodlessNow}},
		{"strips in", "2026-08-10", func(c *Circumstances) { c.Courses = []Course{strips} }, []StepKind{StepWait}},
		{"strips late", "2026-10-10", func(c *Circumstances) { c.Courses = []Course{strips} }, []StepKind{StepTakeOut}},
		{"not counted since", "2026-08-10", func(c *Circumstances) { c.Courses = []Course{vapour} }, []StepKind{StepCount}},
		{"counted since", "2026-08-10", func(c *Circumstances) {
			c.Courses, c.Counts = []Course{vapour}, []sampling.Date{mustDate("2026-08-01")}
		}, nil},
	} {
		var got []StepKind
		for _, s := range fitted(t, c.on, c.change).First {
			got = append(got, s.Kind)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: first %v, want %v", c.name, got, c.want)
		}
	}
	f := fitted(t, "2026-06-05", func(c *Circumstances) {
		c.Supers, c.Broodless = supersAreOff, Window{mustDate("2026-06-15"), mustDate("2026-06-25")}
	})
	if want := "From 15 June to 25 June no brood is sealed: treat then, once."; f.First[0].Sentence != want {
		t.Errorf("%q", f.First[0].Sentence)
	}
}

// A record tells of its courses, its counts and of a queen in her cage: capped
// brood is gone 24 days after, drone brood too, until the eighth day after she
// is free.
func TestCircumstancesOn(t *testing.T) {
	caged := mustDate("2026-06-01")
	h := History{Year: usualYear(t)}
	h.Happenings = []Happening{{Kind: QueenCaged, On: caged, To: caged + 25}, {Kind: Requeened, On: caged - 40}}
	h.Treatments = []TreatmentDay{{On: caged - 300, Treatment: treatment(t, "oxalic-trickle")}, {On: caged - 2, Treatment: treatment(t, "thymol"), Planned: true}}
	h.Counts = []sampling.Count{mustCount(t, "roll:6/300@2026-05-20"), mustCount(t, "board:24/3d@2026-05-25"), mustCount(t, "wash:2/310@2026-07-25")}
	h.AdultBees, h.BeesOn = 9000, caged
	c := h.CircumstancesOn(caged+10, supersAreOff)
	if len(c.Courses) != 1 || len(c.Counts) != 1 || c.AdultBees != 9000 || c.NewQueen {
		t.Errorf("%+v", c)
	}
	f, err := Fits(c)
	if err != nil || len(f.First) != 1 || f.First[0].Kind != StepBroodless || f.First[0].Window.Until != caged+25+8 || f.First[0].Window.From < caged+21 {
		t.Errorf("first %+v, %v", f.First, err)
	}
	f, err = Fits(h.CircumstancesOn(caged+27, supersAreOff))
	if err != nil || f.CappedBrood || f.First[0].Kind != StepBroodlessNow || !slices.Contains(f.Fits[0].Called, "oxalic trickle") && !slices.Contains(f.Fits[1].Called, "oxalic trickle") {
		t.Errorf("in the window: %+v, %v", f, err)
	}
	// No end is known of a time without a queen, but a queen came since: to take
	// the colony for one without brood would be to trickle it beside brood.
	h.Happenings = []Happening{{Kind: Queenless, On: caged - 50}, {Kind: Requeened, On: caged - 30}}
	if c := h.CircumstancesOn(caged+20, supersAreOff); !c.Broodless.From.IsZero() {
		t.Errorf("with a queen again: %+v", c.Broodless)
	}
	h.Happenings = []Happening{{Kind: QueenCaged, On: caged, To: caged + 25}}
	if c := h.CircumstancesOn(caged+60, supersAreOff); c.AdultBees != 0 || !c.Broodless.From.IsZero() || len(c.Counts) != 2 {
		t.Errorf("later: %+v", c)
	}
}

func drawYear(r *rapid.T, t *testing.T) Year {
	s := YearSettings{Set: rapid.SampledFrom(YearSets()).Draw(r, "set")}
	if rapid.Bool().Draw(r, "south") {
		s.Hemisphere = South
	}
	y, err := NewYear(s)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

func drawCircumstances(r *rapid.T, year Year) Circumstances {
	c := Circumstances{
		Year: year, Day: mustDate("2026-01-01") + sampling.Date(rapid.IntRange(0, 364).Draw(r, "day")),
		CappedBrood: Presence(rapid.IntRange(0, 2).Draw(r, "brood")), Supers: rapid.SampledFrom([]SupersPlan{{}, supersAreOn, supersAreOff}).Draw(r, "supers"),
		NewQueen: rapid.Bool().Draw(r, "queen"), AdultBees: float64(rapid.SampledFrom([]int{0, 8000, 20000}).Draw(r, "bees")),
	}
	if rapid.Bool().Draw(r, "forecast") {
		c.Warmest = degrees(float64(rapid.IntRange(-5, 38).Draw(r, "warmest")))
	}
	if rapid.Bool().Draw(r, "supers come") {
		c.Supers = SupersPlan{Known: true, Times: []Supers{{On: c.Day + sampling.Date(rapid.IntRange(1, 90).Draw(r, "in"))}}}
	}
	if rapid.Bool().Draw(r, "break") {
		c.Broodless.From = c.Day + sampling.Date(rapid.IntRange(-20, 40).Draw(r, "from"))
		c.Broodless.Until = c.Broodless.From + sampling.Date(rapid.IntRange(0, 30).Draw(r, "lasts"))
	}
	var days []TreatmentDay
	for range rapid.IntRange(0, 3).Draw(r, "courses") {
		days = append(days, TreatmentDay{On: c.Day - sampling.Date(rapid.IntRange(0, 400).Draw(r, "ago")), Treatment: rapid.SampledFrom(sampling.Treatments()).Draw(r, "treatment")})
	}
	c.Courses = Courses(days, TreatmentEnd{On: c.Day - sampling.Date(rapid.IntRange(0, 400).Draw(r, "out"))})
	if rapid.Bool().Draw(r, "counted") {
		c.Counts = []sampling.Date{c.Day}
	}
	return c
}

// printed is the answer as a page of 80 columns has it.
func printed(f Fit) []string {
	lines := []string{"elm, 25 July: 4 per hundred, line 2.2. Sealed brood, supers on, 31 °C to come."}
	add := func(label, text string) {
		line := fmt.Sprintf("%-8s", label)
		for _, word := range strings.Fields(text) {
			if len([]rune(line))+1+len([]rune(word)) > 80 {
				lines, line = append(lines, line), strings.Repeat(" ", 8)
			}
			line += " " + word
		}
		lines = append(lines, line)
	}
	say := func(o Option) string {
		if len(o.Treatments) == len(sampling.Treatments()) {
			return "anything: " + o.Sentence
		}
		return strings.Join(o.Called, ", ") + ": " + o.Sentence
	}
	for _, s := range f.First {
		add("FIRST", s.Sentence)
	}
	for _, o := range slices.Concat(f.Fits, f.Maybe, f.Not) {
		add(strings.ToUpper(string(o.Group)), say(o))
	}
	var without []string
	for _, o := range f.Without {
		without = append(without, say(o))
	}
	if without != nil {
		add("WITHOUT", strings.Join(without, "; "))
	}
	return append(lines, "Count first. The label, the law and your vet or bee inspector decide.")
}

// Whatever is known of a colony: every treatment stands in one group with a
// sentence; nothing fits that must not; the page has at most twelve lines.
func TestFitsHolds(t *testing.T) {
	dose := regexp.MustCompile(`\d ?(g|mg|ml|mL|l|drops)\b`)
	rapid.Check(t, func(r *rapid.T) {
		c := drawCircumstances(r, drawYear(r, t))
		f, err := Fits(c)
		if err != nil {
			r.Fatal(err)
		}
		seen := map[string]int{}
		for _, o := range slices.Concat(f.Fits, f.Maybe, f.Not) {
			for _, tr := range o.Treatments {
				seen[tr.Slug]++
				asks := f.First
				switch {
				case o.Group != FitsNow:
				case tr.Warmth.Known() && c.Warmest == nil:
					r.Fatalf("%s fits and nobody knows how warm it gets", tr.Slug)
				case tr.Synthetic() && len(c.Courses) > 0 && c.Courses[len(c.Courses)-1].Treatment.ModeOfAction == tr.ModeOfAction:
					r.Fatalf("%s fits after its own group", tr.Slug)
				case tr.NeedsNoBrood() && f.CappedBrood:
					r.Fatalf("%s fits beside brood", tr.Slug)
				case c.Supers.On(c.Day) == SupersOn && !slices.ContainsFunc(asks, func(s Step) bool { return s.Kind == StepSupersOff }):
					r.Fatalf("%s fits with supers on: first %+v", tr.Slug, asks)
				case c.Supers.On(c.Day) == SupersOn && tr.LabelledWithSupers:
					r.Fatalf("%s fits with supers on", tr.Slug)
				}
			}
		}
		for _, tr := range sampling.Treatments() {
			if seen[tr.Slug] != 1 {
				r.Fatalf("%s stands in %d groups", tr.Slug, seen[tr.Slug])
			}
		}
		for _, o := range slices.Concat(f.Fits, f.Maybe, f.Not, f.Without) {
			if o.Sentence == "" || strings.ContainsAny(o.Sentence, "{}") || dose.MatchString(o.Sentence) || o.Source == "" || o.Kind == "" || len([]rune(o.Sentence)) >= 60 {
				r.Fatalf("%+v", o)
			}
		}
		for _, s := range f.First {
			if s.Sentence == "" || strings.ContainsAny(s.Sentence, "{}") {
				r.Fatalf("%+v", s)
			}
		}
		if len(f.First) > 2 {
			r.Fatalf("%d first", len(f.First))
		}
		if lines := printed(f); len(lines) > 12 {
			r.Fatalf("%d lines:\n%s", len(lines), strings.Join(lines, "\n"))
		}
	})
}

// Whoever knows something worse of a colony never gets a better word for a
// treatment.
func TestFitsNeverBetterForWorse(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := drawCircumstances(r, drawYear(r, t))
		worse := c
		switch rapid.SampledFrom([]string{"brood", "queen", "bees", "supers", "come", "course"}).Draw(r, "worse") {
		case "brood":
			c.CappedBrood, worse.CappedBrood = Absent, Present
		case "queen":
			c.NewQueen, worse.NewQueen = false, true
		case "bees":
			c.AdultBees, worse.AdultBees = 20000, 5000
		case "supers":
			c.Supers, worse.Supers = supersAreOff, supersAreOn
		case "come":
			c.Supers, worse.Supers = supersAreOff, SupersPlan{Known: true, Times: []Supers{{On: c.Day + 3}}}
		case "course":
			worse.Courses = append(slices.Clone(c.Courses), Course{Treatment: c.lastOr(treatment(t, "thymol")), First: c.Day - 1, Last: c.Day - 1, Given: c.Day - 1, Rounds: []sampling.Date{c.Day - 1}})
		}
		for _, tr := range sampling.Treatments() {
			a, b := c.judge(UsualCourse(tr, c.Day, true)), worse.judge(UsualCourse(tr, c.Day, true))
			if a.Group.worse(b.Group) {
				r.Fatalf("%s: %s (%s) becomes %s (%s)", tr.Slug, a.Group, a.Reason, b.Group, b.Reason)
			}
		}
	})
}

func (c Circumstances) lastOr(t sampling.Treatment) sampling.Treatment {
	if len(c.Courses) > 0 {
		return c.Courses[len(c.Courses)-1].Treatment
	}
	return t
}

// Every reason has a row, and every row of the table is one that can be asked
// for, with a source and a kind.
func TestFitsTable(t *testing.T) {
	kinds := []string{"published", "common practice", "computed", "judgement", "second-hand", "memory"}
	reasons := []FitReason{ReasonFits, ReasonNoBrood, ReasonRounds, ReasonVariable, ReasonResistance, ReasonSameGroup, ReasonWarmthUnknown,
		ReasonTooHot, ReasonTooCool, ReasonSmallColony, ReasonNewQueen, ReasonWeak, ReasonWinter, ReasonSecondTrickle, ReasonSupersLabel,
		ReasonSupersComing, ReasonAnotherCourse, ReasonWithout, ReasonLate, ReasonEarly}
	steps := []StepKind{StepTakeOut, StepWait, StepSupersOff, StepAskSupers, StepBroodless, StepBroodlessNow, StepWinter, StepCount}
	used := map[string]bool{}
	for _, r := range reasons {
		used[string(r)] = true
	}
	for _, s := range steps {
		used[string(s)] = true
		if row := fitRowOf(string(s), "any"); row.sentence == "" || len([]rune(row.sentence)) > 75 {
			t.Errorf("%s: %q", s, row.sentence)
		}
	}
	for key, row := range fitsTable {
		if !used[key.reason] || row.sentence == "" || row.source == "" || !slices.Contains(kinds, row.kind) {
			t.Errorf("%+v: %+v", key, row)
		}
		if _, err := sampling.FindTreatment(key.treatment); err != nil && key.treatment != "any" && key.treatment != "open" && row.group != "without" {
			t.Errorf("%+v: %v", key, err)
		}
	}
	// The figure of the sentence on rounds of vapour.
	bad, n := 0, 0
	for _, trial := range Trials("oxalic-vapour") {
		if trial.Brood == "yes" && trial.NoBetter >= 0 {
			bad, n = bad+trial.NoBetter, n+trial.Colonies
		}
	}
	if in10 := fmt.Sprintf("%.0f colonies in 10", 10*float64(bad)/float64(n)); !strings.Contains(fitRowOf(string(ReasonRounds), "oxalic-vapour").sentence, in10) {
		t.Errorf("the trials say %s", in10)
	}
}

func TestFitsErrors(t *testing.T) {
	year := usualYear(t)
	for name, c := range map[string]Circumstances{
		"day": {Year: year}, "year": {Day: 1}, "temperature": {Day: 1, Year: year, Warmest: degrees(88)},
		"adult bees": {Day: 1, Year: year, AdultBees: -1},
	} {
		_, err := Fits(c)
		var value *sampling.ValueError
		if !errors.As(err, &value) || value.Name != name {
			t.Errorf("%s: %v", name, err)
		}
		if name == "temperature" && !strings.Contains(err.Error(), "88 °F would be 31 °C") {
			t.Errorf("%v", err)
		}
	}
}

// A plan of every year: amitraz in spring lies into the supers, formic acid in
// August does not, and by the second year the spring strips would follow a
// trickle of the winter, and flumethrin its own group.
func TestFitsPlan(t *testing.T) {
	year := usualYear(t)
	step := func(slug, on string, brood bool) Course { return UsualCourse(treatment(t, slug), mustDate(on), brood) }
	on := func(d sampling.Date) Circumstances {
		supers := SupersPlan{Known: true, Times: []Supers{{On: mustDate("2026-05-01"), Off: mustDate("2026-07-20")}}}
		return Circumstances{Day: d, Year: year, Supers: supers, Warmest: degrees(22)}
	}
	judge := func(steps ...Course) []StepFit {
		out, err := FitsPlan(steps, on)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	got := judge(step("amitraz-strip", "2026-04-01", true), step("formic-evaporation", "2026-08-01", true), step("oxalic-trickle", "2026-12-15", false))
	if got[0].Option.Reason != ReasonSupersComing || len(got[0].Objections) != 1 || got[0].Objections[0].Days != 26 {
		t.Errorf("spring: %+v", got[0])
	}
	if got[1].Option.Group != FitsNow || got[2].Option.Group != FitsNow || got[2].Objections != nil {
		t.Errorf("the rest: %+v, %+v", got[1], got[2])
	}
	// One step a year is its own last year's.
	if got := judge(step("flumethrin-strip", "2026-08-01", true)); got[0].Option.Reason != ReasonSameGroup {
		t.Errorf("flumethrin every year: %+v", got[0].Option)
	}
	// A single round of vapour beside brood; two treatments at once.
	got = judge(step("oxalic-vapour", "2026-08-01", false), step("thymol", "2026-08-05", true))
	if got[0].Option.Reason != ReasonWeak || got[1].Option.Reason != ReasonAnotherCourse {
		t.Errorf("%+v, %+v", got[0].Option, got[1].Option)
	}
	if got := judge(step("oxalic-vapour", "2026-08-01", true)); got[0].Option.Reason != ReasonRounds {
		t.Errorf("four rounds: %+v", got[0].Option)
	}
}

func TestObjections(t *testing.T) {
	year := usualYear(t)
	supers := []Supers{{On: mustDate("2026-05-01"), Off: mustDate("2026-07-20")}}
	for _, c := range []struct {
		name   string
		before []Course
		next   Course
		want   []ObjectionKind
	}{
		{"nothing", nil, givenOn(t, "thymol", "2026-08-01"), nil},
		{"under supers", nil, givenOn(t, "thymol", "2026-07-01"), []ObjectionKind{ObjectSupers}},
		{"trickled twice", []Course{givenOn(t, "oxalic-trickle", "2026-11-25")}, givenOn(t, "oxalic-trickle", "2026-12-28"), []ObjectionKind{ObjectSecondTrickle}},
		{"trickled in two winters", []Course{givenOn(t, "oxalic-trickle", "2026-01-05")}, givenOn(t, "oxalic-trickle", "2026-12-28"), nil},
		{"trickled in a brood break and in winter", []Course{givenOn(t, "oxalic-trickle", "2026-07-25")}, givenOn(t, "oxalic-trickle", "2026-11-20"), nil},
		{"vapour twice in winter", []Course{givenOn(t, "oxalic-vapour", "2026-11-25")}, givenOn(t, "oxalic-vapour", "2026-12-28"), nil},
		{"the same group by another name", []Course{givenOn(t, "flumethrin-strip", "2025-08-01")}, givenOn(t, "fluvalinate-strip", "2026-08-01"), []ObjectionKind{ObjectSameGroup}},
		{"two at once", []Course{givenOn(t, "amitraz-strip", "2026-08-01")}, givenOn(t, "formic-evaporation", "2026-08-20"), []ObjectionKind{ObjectTwoAtOnce}},
		{"one after the other", []Course{givenOn(t, "formic-evaporation", "2026-08-01")}, givenOn(t, "amitraz-strip", "2026-08-12"), nil},
		{"the third of a year", []Course{givenOn(t, "thymol", "2025-09-01"), givenOn(t, "thymol", "2026-03-01")}, givenOn(t, "thymol", "2026-08-01"), []ObjectionKind{ObjectManyCourses}},
	} {
		var got []ObjectionKind
		for _, o := range Objections(year, c.before, supers, c.next) {
			got = append(got, o.Kind)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	left := givenOn(t, "amitraz-strip", "2026-04-01")
	left.TakenOut = 0
	if got := Objections(year, []Course{left}, nil, givenOn(t, "formic-evaporation", "2026-08-01")); len(got) != 1 || got[0].Kind != ObjectTwoAtOnce {
		t.Errorf("strips that were never taken out: %+v", got)
	}
}
