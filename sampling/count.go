package sampling

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Unit is what the amount of a count is measured in.
type Unit string

// The units of an amount. Bees, cups, millilitres and grams say how many bees
// were counted; days and hours say how long a board lay under the bees.
const (
	Bees        Unit = "bees"
	Cups        Unit = "cup"
	Millilitres Unit = "ml"
	Grams       Unit = "g"
	Days        Unit = "d"
	Hours       Unit = "h"
)

// Weather is the state of the bees and the air at a sugar roll.
type Weather string

// The weathers.
const (
	Damp Weather = "damp"
	Dry  Weather = "dry"
)

// Amount is how much was looked at.
type Amount struct {
	Value float64
	Unit  Unit
}

// Count is one count of mites as a beekeeper made it, with what is needed to
// read it. ParseCount fills the fields up to Date; the rest describe the hive
// and come from flags or from the record.
type Count struct {
	Method Method
	Mites  int
	Amount Amount
	Frames int // frames the bees came from; 0 when not said, read as one

	// Weather is whether the bees of a roll were dry; "" when not said. Damp
	// bees give up fewer mites.
	Weather Weather

	Date Date // board and knockdown: the day the board came out

	// GramsPer100 is the weight in grams of 100 bees of the same sample, as
	// wet as the sample was. A weighed sample cannot be read without it.
	GramsPer100 float64

	// Cells is the part of a gridded board that was counted.
	Cells Cells

	// Hive is the colony over a board.
	Hive Hive

	// Treatment is what made the mites of a knockdown fall.
	Treatment TreatmentName

	// FallBefore is the natural fall in mites a day that was seen before the
	// treatment of a knockdown; nil when nobody looked.
	FallBefore *float64
}

// Hive is what a board count needs to know of the colony above the board.
type Hive struct {
	AdultBees   float64 // 0 when unknown
	AdultBeesCV float64 // 0 takes AdultBees as counted
	Broodless   bool    // no capped brood in the hive
	Ordinary    bool    // nobody said how many bees: they are those of an ordinary colony
}

// Cells says that only Counted of the Of cells of a gridded board were
// counted. The zero value means the whole board.
type Cells struct {
	Counted, Of int
}

// Limits of a believable count. Twenty mites on every bee is far past any
// colony that still stands; beyond these a figure is a slip of the pen.
const (
	maxMitesPerBee = 20
	maxBees        = 100_000
	maxMites       = 1_000_000
	maxDays        = 60
	minDays        = 1.0 / 24
	minGrams       = 0.05 // half an ordinary worker
	maxFrames      = 20
)

// ParseCount reads METHOD:MITES/AMOUNT[/FRAMESf][/damp|/dry][@DATE], such as
// wash:5/312, roll:7/0.5cup/3f, roll:7/300/damp, board:24/3d or
// knockdown:310/5d@2026-08-06. What stands after the amount may come in any
// order. Methods and units go by all their names, in capitals or not and with
// blanks or without: "sugar shake: 7 / half cup" is roll:7/0.5cup. The error is
// a *SyntaxError that points at the part it could not read.
func ParseCount(s string) (Count, error) {
	p := countParser{whole: s}
	c, err := p.parse()
	if err != nil {
		return Count{}, err
	}
	return c, nil
}

// countParser reads one count. It takes the text apart by position, so that
// every complaint can point at its own bytes.
type countParser struct {
	whole string
}

// piece is a part of the text with the place where it begins.
type piece struct {
	text string
	at   int
}

// trimmed is the piece without the blanks round it.
func (p piece) trimmed() piece {
	left := strings.TrimLeft(p.text, " ")
	return piece{strings.TrimRight(left, " "), p.at + len(p.text) - len(left)}
}

// cut parts a piece at the first sep.
func (p piece) cut(sep string) (before, after piece, found bool) {
	b, a, found := strings.Cut(p.text, sep)
	return piece{b, p.at}, piece{a, p.at + len(b) + len(sep)}, found
}

// split parts a piece at every stroke.
func (p piece) split() []piece {
	var out []piece
	for {
		before, after, found := p.cut("/")
		out = append(out, before.trimmed())
		if !found {
			return out
		}
		p = after
	}
}

func (p countParser) fail(offset, length int, problem, remedy string) *SyntaxError {
	if length < 1 {
		length = 1
	}
	return &SyntaxError{Input: p.whole, Offset: offset, Length: length, Problem: problem, Remedy: remedy}
}

// failAt is fail for a piece.
func (p countParser) failAt(part piece, problem, remedy string) *SyntaxError {
	return p.fail(part.at, len(part.text), problem, remedy)
}

func (p countParser) parse() (Count, error) {
	var c Count
	s := p.whole
	if strings.TrimSpace(s) == "" {
		return c, p.fail(0, len(s), "the count is empty", "write it as METHOD:MITES/AMOUNT, such as wash:5/300")
	}
	if i := strings.IndexFunc(s, func(r rune) bool { return r != ' ' && unicode.IsSpace(r) }); i >= 0 {
		_, size := utf8.DecodeRuneInString(s[i:])
		return c, p.fail(i, size, "there is an odd blank inside the count", "write it in one line with plain blanks or none, such as wash:5/300")
	}
	method, body, found := piece{s, 0}.cut(":")
	if !found {
		return c, p.fail(0, len(s), fmt.Sprintf("%q does not say how the mites were counted", s), "put the method and a colon first, such as wash:5/300")
	}
	m, err := ParseMethod(method.trimmed().text)
	if err != nil {
		return c, p.place(err, method.trimmed().at)
	}
	c.Method = m

	counted, date, dated := body.cut("@")
	if dated {
		date = date.trimmed()
		if c.Date, err = ParseDate(date.text); err != nil {
			return c, p.place(err, date.at)
		}
	}
	parts := counted.split()
	if len(parts) < 2 {
		return c, p.fail(counted.at+len(counted.text), 1, "the amount is missing", "say after a stroke how much was looked at, such as "+m.Example())
	}
	if c.Mites, err = parseWhole(parts[0].text, "mites"); err != nil {
		return c, p.place(err, parts[0].at)
	}
	if c.Mites > maxMites {
		return c, p.failAt(parts[0], fmt.Sprintf("%d mites is more than any count can hold", c.Mites), "check the number of mites")
	}
	amount, rest := parts[1], parts[2:]
	if len(rest) > 0 && isDenominator(rest[0].text) {
		amount.text = s[amount.at : rest[0].at+len(rest[0].text)] // 1/2 cup
		rest = rest[1:]
	}
	if c.Amount, err = parseAmount(m, amount.text); err != nil {
		return c, p.place(err, amount.at)
	}
	for _, part := range rest {
		if err := p.mark(&c, part); err != nil {
			return c, err
		}
	}
	if err := c.fault(); err != nil {
		return c, p.failAt(counted.trimmed(), err.Problem, err.Remedy)
	}
	return c, nil
}

// isDenominator reports whether a part is the second half of a share of a cup.
func isDenominator(s string) bool {
	number, unit := splitUnit(s)
	return isDigits(number) && unitNames[unit] == Cups
}

// mark reads one part after the amount: the frames or the weather.
func (p countParser) mark(c *Count, part piece) error {
	word := strings.ToLower(part.text)
	if w, ok := weatherNames[word]; ok {
		switch {
		case c.Method != Roll:
			return p.failAt(part, "only a roll is marked damp or dry", "leave this part out, such as "+c.Method.Example())
		case c.Weather != "":
			return p.failAt(part, "the weather is said twice", "write damp or dry once")
		}
		c.Weather = w
		return nil
	}
	if c.Method.Kind() != BeeSample {
		return p.failAt(part, "a "+string(c.Method)+" count has no frames", "leave this part out, such as "+c.Method.Example())
	}
	number, unit := splitUnit(word)
	if unit != "f" && unit != "frame" && unit != "frames" {
		remedy := "write the frames with an f, such as " + string(c.Method) + ":5/300/3f"
		if c.Method == Roll {
			remedy += ", and the weather as damp or dry"
		}
		return p.failAt(part, fmt.Sprintf("%q is not a number of frames", part.text), remedy)
	}
	if c.Frames != 0 {
		return p.failAt(part, "the frames are said twice", "write them once")
	}
	n, err := parseWhole(number, "frames")
	if err != nil {
		return p.place(err, part.at)
	}
	if n < 1 || n > maxFrames {
		return p.failAt(part, fmt.Sprintf("bees cannot come from %d frames", n), fmt.Sprintf("say how many frames they came from, 1 to %d", maxFrames))
	}
	c.Frames = n
	return nil
}

// place moves an error of a part to its place in the whole.
func (p countParser) place(err error, offset int) error {
	if e, ok := err.(*SyntaxError); ok {
		return e.within(p.whole, offset)
	}
	return err
}

// parseWhole reads a whole number in plain decimal digits; 010 is ten and so
// is 10.0, as a spreadsheet may write it.
func parseWhole(s, what string) (int, error) {
	fail := func(problem, remedy string) (int, error) {
		return 0, &SyntaxError{Input: s, Length: max(len(s), 1), Problem: problem, Remedy: remedy}
	}
	if s == "" {
		return fail("the number of "+what+" is missing", "write it in digits")
	}
	if err := plainDigits(s); err != nil {
		return 0, err
	}
	if s[0] == '-' {
		return fail("the number of "+what+" is below zero", "write what was counted, 0 or more")
	}
	if whole, part, point := strings.Cut(s, "."); point {
		if !isDigits(whole) || strings.Trim(part, "0") != "" {
			return fail(what+" come in whole numbers", "write the number counted, without a point")
		}
		s = whole
	}
	n, err := strconv.ParseUint(s, 10, 64)
	if err != nil || n > math.MaxInt32 {
		if err != nil && !isDigits(s) {
			return fail(fmt.Sprintf("%q is not a number of %s", s, what), "write it in digits")
		}
		return fail("the number of "+what+" is far too large", "check the number")
	}
	return int(n), nil
}

func isDigits(s string) bool {
	return s != "" && strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0
}

// plainDigits refuses the ways of writing a number that mean different things
// to different people.
func plainDigits(s string) error {
	for i, r := range s {
		_, size := utf8.DecodeRuneInString(s[i:])
		if r == utf8.RuneError {
			return &SyntaxError{Input: s, Offset: i, Length: size, Problem: "this is not readable text", Remedy: "write the number in the digits 0 to 9"}
		}
		switch {
		case r == ',' || r == '\'' || r == '_' || r == '’' || r == ' ':
			return &SyntaxError{Input: s, Offset: i, Length: size, Problem: fmt.Sprintf("%q inside a number can be read two ways", string(r)), Remedy: "write thousands without a mark (1200) and decimals with a point (0.5)"}
		case r > unicode.MaxASCII && unicode.IsNumber(r):
			return &SyntaxError{Input: s, Offset: i, Length: size, Problem: fmt.Sprintf("%q is a digit of another script", string(r)), Remedy: "write the number in the digits 0 to 9"}
		}
	}
	return nil
}

// unitNames are the spellings of the units, in lower case.
var unitNames = map[string]Unit{
	"": Bees, "bee": Bees, "bees": Bees,
	"cup": Cups, "cups": Cups,
	"ml": Millilitres, "millilitre": Millilitres, "millilitres": Millilitres, "milliliter": Millilitres, "milliliters": Millilitres,
	"g": Grams, "gram": Grams, "grams": Grams,
	"d": Days, "day": Days, "days": Days,
	"h": Hours, "hour": Hours, "hours": Hours,
}

// weatherNames are the spellings of the weather of a roll, in lower case.
var weatherNames = map[string]Weather{"damp": Damp, "dry": Dry}

// signs are the shares that have a sign of their own.
var signs = map[rune]float64{'½': 1.0 / 2, '¼': 1.0 / 4, '¾': 3.0 / 4, '⅓': 1.0 / 3, '⅔': 2.0 / 3}

// words are the amounts people say, in lower case, with what is left of the
// text after them.
var words = []struct {
	word  string
	value float64
}{{"half a ", 0.5}, {"a half ", 0.5}, {"one half ", 0.5}, {"half", 0.5}, {"a quarter ", 0.25}, {"quarter", 0.25}, {"one ", 1}, {"a ", 1}}

// splitUnit parts a number from the unit behind it: a unit begins at the first
// letter. The unit is given in lower case.
func splitUnit(s string) (number, unit string) {
	if cut := strings.IndexFunc(s, unicode.IsLetter); cut >= 0 {
		return strings.TrimRight(s[:cut], " "), strings.ToLower(s[cut:])
	}
	return s, ""
}

func parseAmount(m Method, s string) (Amount, error) {
	fail := func(offset, length int, problem, remedy string) (Amount, error) {
		return Amount{}, &SyntaxError{Input: s, Offset: offset, Length: max(length, 1), Problem: problem, Remedy: remedy}
	}
	if s == "" {
		return fail(0, 1, "the amount is missing", "say after the stroke how much was looked at, such as "+m.Example())
	}
	v, unit, ok := spokenAmount(s)
	if !ok {
		number, name := splitUnit(s)
		share, isShare := parseShare(number)
		if !isShare {
			if err := plainDigits(number); err != nil {
				return Amount{}, err
			}
		}
		if !isShare && !strings.ContainsAny(number, "0123456789") {
			return fail(0, len(s), fmt.Sprintf("%q has no number", s), "write "+m.Units())
		}
		known := false
		if unit, known = unitNames[name]; !known {
			at := len(s) - len(strings.TrimLeft(s[len(number):], " ")) // in lower case it may be longer
			return fail(at, len(s)-at, fmt.Sprintf("%q is not a unit", s[at:]), "write "+m.Units())
		}
		v = share
		if !isShare {
			var err error
			v, err = strconv.ParseFloat(number, 64)
			switch {
			case !isDecimal(number):
				return fail(0, len(number), fmt.Sprintf("%q is not a number", number), "write "+m.Units())
			case err != nil:
				return fail(0, len(number), "the amount is far too large", "check the number")
			}
		}
	}
	switch {
	case !(v > 0):
		return fail(0, len(s), "the amount must be more than zero", "write "+m.Units())
	case m.Kind() == BeeSample && (unit == Days || unit == Hours), m.Kind() != BeeSample && unit != Days && unit != Hours:
		return fail(0, len(s), fmt.Sprintf("a %s count is not measured in %s", m, unit.words()), "write "+m.Units())
	case unit == Bees && v != math.Trunc(v):
		return fail(0, len(s), "bees come in whole numbers", "write "+m.Units())
	}
	return Amount{v, unit}, nil
}

// spokenAmount reads an amount that begins with a word, such as half a cup.
func spokenAmount(s string) (v float64, unit Unit, ok bool) {
	s = strings.ToLower(s)
	for _, w := range words {
		rest, begins := strings.CutPrefix(s, w.word)
		if rest = strings.TrimSpace(rest); !begins || rest == "" {
			continue
		}
		if unit, ok = unitNames[rest]; ok {
			return w.value, unit, true
		}
	}
	return 0, "", false
}

// parseShare reads 1/2, 1 1/2, ½ and 1½; nothing else is a share.
func parseShare(s string) (float64, bool) {
	whole := 0.0
	last, size := utf8.DecodeLastRuneInString(s)
	if v, ok := signs[last]; ok {
		before := strings.TrimRight(s[:len(s)-size], " ")
		if before != "" && !isDigits(before) {
			return 0, false
		}
		if before != "" {
			whole, _ = strconv.ParseFloat(before, 64)
		}
		return whole + v, true
	}
	above, below, found := strings.Cut(s, "/")
	if !found {
		return 0, false
	}
	above, below = strings.TrimSpace(above), strings.TrimSpace(below)
	if before, a, two := strings.Cut(above, " "); two {
		above = strings.TrimSpace(a)
		if !isDigits(before) {
			return 0, false
		}
		whole, _ = strconv.ParseFloat(before, 64)
	}
	if !isDigits(above) || !isDigits(below) || len(above)+len(below) > 6 {
		return 0, false
	}
	a, _ := strconv.ParseFloat(above, 64)
	b, _ := strconv.ParseFloat(below, 64)
	if !(a < b) {
		return 0, false
	}
	return whole + a/b, true
}

// isDecimal accepts digits with at most one point, so neither NaN nor Inf nor
// hexadecimal nor 1e9.
func isDecimal(s string) bool {
	s = strings.TrimPrefix(s, "-")
	whole, frac, point := strings.Cut(s, ".")
	if point {
		return (whole == "" || isDigits(whole)) && (frac == "" || isDigits(frac)) && whole+frac != ""
	}
	return isDigits(whole)
}

func (u Unit) words() string {
	switch u {
	case Cups:
		return "cups"
	case Millilitres:
		return "millilitres"
	case Grams:
		return "grams"
	case Days:
		return "days"
	case Hours:
		return "hours"
	}
	return "bees"
}

// Check reports a count that no colony can have given, as a *ValueError. It
// looks at the fields ParseCount fills, for counts that were put together by
// other means. The zero Count is none.
func (c Count) Check() error {
	if fault := c.fault(); fault != nil {
		return fault
	}
	return nil
}

func (c Count) fault() *ValueError {
	fail := func(problem, remedy string) *ValueError {
		return &ValueError{Name: "count " + c.String(), Problem: problem, Remedy: remedy}
	}
	v := c.Amount.Value
	switch {
	case c.Mites < 0:
		return fail("the number of mites is below zero", "write what was counted, 0 or more")
	case !(v > 0) || math.IsInf(v, 0):
		return fail("the amount must be more than zero", "write "+c.Method.Units())
	case c.Method.Kind() != BeeSample && c.DaysOnBoard() > maxDays:
		return fail(fmt.Sprintf("a board of more than %d days tells nothing of one date", maxDays), "check the days, or give several shorter counts")
	case c.Method.Kind() != BeeSample && c.DaysOnBoard() < minDays:
		return fail("a board of less than an hour tells nothing", "leave it in longer; three days are usual")
	case c.Weather != "" && c.Method != Roll:
		return fail("only a roll is marked damp or dry", "leave the mark out")
	case c.Weather != "" && c.Weather != Damp && c.Weather != Dry:
		return fail(fmt.Sprintf("%q is not the weather of a roll", string(c.Weather)), "write damp or dry")
	case c.Method.Kind() != BeeSample:
		return nil
	case c.Amount.Unit != Grams && c.meanBees() > maxBees:
		return fail("no sample holds so many bees", "check the amount")
	case c.Amount.Unit == Grams && v > maxBees/10:
		return fail("no sample weighs so much", "check the amount")
	case c.Amount.Unit == Grams && v < minGrams, c.Amount.Unit != Grams && c.meanBees() < 1:
		return fail("so small a sample holds not one bee", "check the amount")
	case c.Amount.Unit != Grams && float64(c.Mites) > maxMitesPerBee*c.meanBees():
		return fail(fmt.Sprintf("%d mites are more than %d on every bee", c.Mites, maxMitesPerBee), "check both numbers: mites come first, then the bees")
	}
	return nil
}

// DaysOnBoard is how long a board lay, in days; for board and knockdown only.
func (c Count) DaysOnBoard() float64 {
	if c.Amount.Unit == Hours {
		return c.Amount.Value / 24
	}
	return c.Amount.Value
}

// beesPerMillilitre is the half-cup rule, common practice: a level 120 mL hold
// about 300 bees. Scoops run fuller as the season goes on: the 437 counted washes
// of Aurell et al. 2025, J Econ Entomol, doi 10.1093/jee/toaf126, whose scoop is
// not told, held 310, 362 and 340 bees on average at their three visits.
const (
	beesPerMillilitre = 300.0 / 120
	millilitresPerCup = 240.0
)

// meanBees is the expected number of bees in a bee sample, NaN for a weighed
// sample without GramsPer100.
func (c Count) meanBees() float64 {
	switch c.Amount.Unit {
	case Cups:
		return c.Amount.Value * millilitresPerCup * beesPerMillilitre
	case Millilitres:
		return c.Amount.Value * beesPerMillilitre
	case Grams:
		if c.GramsPer100 <= 0 {
			return math.NaN()
		}
		return 100 * c.Amount.Value / c.GramsPer100
	}
	return c.Amount.Value
}

// String writes the count in the notation ParseCount reads.
func (c Count) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d/%s", c.Method, c.Mites, strconv.FormatFloat(c.Amount.Value, 'f', -1, 64))
	if c.Amount.Unit != Bees {
		b.WriteString(string(c.Amount.Unit))
	}
	if c.Frames > 0 {
		fmt.Fprintf(&b, "/%df", c.Frames)
	}
	if c.Weather != "" {
		b.WriteString("/" + string(c.Weather))
	}
	if !c.Date.IsZero() {
		b.WriteString("@" + c.Date.String())
	}
	return b.String()
}
