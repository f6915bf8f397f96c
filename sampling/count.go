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
// were looked at; days and hours say how long a board lay under the bees.
const (
	Bees        Unit = "bees"
	Cups        Unit = "cup"
	Millilitres Unit = "ml"
	Grams       Unit = "g"
	Days        Unit = "d"
	Hours       Unit = "h"
)

// Amount is how much was looked at.
type Amount struct {
	Value float64
	Unit  Unit
}

// Count is one count of mites as a beekeeper made it, with what is needed to
// read it. ParseCount fills the first five fields; the rest describe the hive
// and come from flags or from the record.
type Count struct {
	Method Method
	Mites  int
	Amount Amount
	Frames int  // frames the bees came from; 0 when not said, read as one
	Date   Date // board and knockdown: the day the board came out

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

// ParseCount reads METHOD:MITES/AMOUNT[/FRAMESf][@DATE], such as
// wash:5/312, roll:7/0.5cup/3f, board:24/3d or knockdown:310/5d@2026-08-06.
// The error is a *SyntaxError that points at the part it could not read.
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

func (p countParser) fail(offset, length int, problem, remedy string) *SyntaxError {
	if length < 1 {
		length = 1
	}
	return &SyntaxError{Input: p.whole, Offset: offset, Length: length, Problem: problem, Remedy: remedy}
}

func (p countParser) parse() (Count, error) {
	var c Count
	s := p.whole
	if strings.TrimSpace(s) == "" {
		return c, p.fail(0, len(s), "the count is empty", "write it as METHOD:MITES/AMOUNT, such as wash:5/300")
	}
	if i := strings.IndexFunc(s, unicode.IsSpace); i >= 0 {
		_, size := utf8.DecodeRuneInString(s[i:])
		return c, p.fail(i, size, "there is a blank inside the count", "write it without blanks, such as wash:5/300")
	}
	colon := strings.IndexByte(s, ':')
	if colon < 0 {
		return c, p.fail(0, len(s), fmt.Sprintf("%q does not say how the mites were counted", s), "put the method and a colon first, such as wash:5/300")
	}
	m, err := ParseMethod(s[:colon])
	if err != nil {
		return c, p.place(err, 0)
	}
	c.Method = m
	example := m.example()

	body, start := s[colon+1:], colon+1
	if at := strings.IndexByte(body, '@'); at >= 0 {
		if c.Date, err = ParseDate(body[at+1:]); err != nil {
			return c, p.place(err, start+at+1)
		}
		body = body[:at]
	}
	slash := strings.IndexByte(body, '/')
	if slash < 0 {
		return c, p.fail(start+len(body), 1, "the amount is missing", "say after a stroke how much was looked at, such as "+example)
	}
	if c.Mites, err = parseWhole(body[:slash], "mites"); err != nil {
		return c, p.place(err, start)
	}
	if c.Mites > maxMites {
		return c, p.fail(start, slash, fmt.Sprintf("%d mites is more than any count can hold", c.Mites), "check the number of mites")
	}
	amount, rest, hasFrames := strings.Cut(body[slash+1:], "/")
	start += slash + 1
	if c.Amount, err = parseAmount(m, amount); err != nil {
		return c, p.place(err, start)
	}
	if hasFrames {
		start += len(amount) + 1
		if m.Kind() != BeeSample {
			return c, p.fail(start, len(rest), "a "+string(m)+" count has no frames", "leave this part out, such as "+example)
		}
		n, isFrames := strings.CutSuffix(strings.ToLower(rest), "f")
		if !isFrames {
			return c, p.fail(start, len(rest), fmt.Sprintf("%q is not a number of frames", rest), "write the frames with an f, such as "+string(m)+":5/300/3f")
		}
		if c.Frames, err = parseWhole(n, "frames"); err != nil {
			return c, p.place(err, start)
		}
		if c.Frames < 1 || c.Frames > maxFrames {
			return c, p.fail(start, len(rest), fmt.Sprintf("bees cannot come off %d frames", c.Frames), fmt.Sprintf("say how many frames they came off, from 1 to %d", maxFrames))
		}
	}
	if err := c.Check(); err != nil {
		return c, p.fail(colon+1, len(body), err.Problem, err.Remedy)
	}
	return c, nil
}

// place moves an error of a part to its place in the whole.
func (p countParser) place(err error, offset int) error {
	if e, ok := err.(*SyntaxError); ok {
		return e.within(p.whole, offset)
	}
	return err
}

// parseWhole reads a whole number in plain decimal digits; 010 is ten.
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
	if strings.ContainsAny(s, ".") {
		return fail(what+" come in whole numbers", "write the number counted, without a point")
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
		case r == ',' || r == '\'' || r == '_' || r == '’':
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
	"ml": Millilitres,
	"g":  Grams,
	"d":  Days, "day": Days, "days": Days,
	"h": Hours, "hour": Hours, "hours": Hours,
}

func parseAmount(m Method, s string) (Amount, error) {
	example := m.example()
	fail := func(offset, length int, problem, remedy string) (Amount, error) {
		return Amount{}, &SyntaxError{Input: s, Offset: offset, Length: max(length, 1), Problem: problem, Remedy: remedy}
	}
	if s == "" {
		return fail(0, 1, "the amount is missing", "say after the stroke how much was looked at, such as "+example)
	}
	if err := plainDigits(s); err != nil {
		return Amount{}, err
	}
	// A unit starts at the first letter; what stands before it is the number.
	cut := strings.IndexFunc(s, unicode.IsLetter)
	number, unitText := s, ""
	if cut >= 0 {
		number, unitText = s[:cut], s[cut:]
	}
	if !strings.ContainsAny(number, "0123456789") {
		return fail(0, len(s), fmt.Sprintf("%q has no number", s), "write "+m.units())
	}
	unit, known := unitNames[strings.ToLower(unitText)]
	if !known {
		return fail(cut, len(unitText), fmt.Sprintf("%q is not a unit", unitText), "write "+m.units())
	}
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case err != nil && !isDecimal(number), !isDecimal(number):
		return fail(0, len(number), fmt.Sprintf("%q is not a number", number), "write "+m.units())
	case err != nil:
		return fail(0, len(number), "the amount is far too large", "check the number")
	case v <= 0:
		return fail(0, len(s), "the amount must be more than zero", "write "+m.units())
	case m.Kind() == BeeSample && (unit == Days || unit == Hours), m.Kind() != BeeSample && unit != Days && unit != Hours:
		return fail(0, len(s), fmt.Sprintf("a %s count is not measured in %s", m, unit.words()), "write "+m.units())
	case unit == Bees && v != math.Trunc(v):
		return fail(0, len(s), "bees come in whole numbers", "write "+m.units())
	}
	return Amount{v, unit}, nil
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

// Check reports a count that no colony can have given. It looks at the fields
// ParseCount fills, for counts that were put together by other means.
func (c Count) Check() *ValueError {
	fail := func(problem, remedy string) *ValueError {
		return &ValueError{Name: "count " + c.String(), Problem: problem, Remedy: remedy}
	}
	v := c.Amount.Value
	switch {
	case c.Mites < 0:
		return fail("the number of mites is below zero", "write what was counted, 0 or more")
	case !(v > 0) || math.IsInf(v, 0):
		return fail("the amount must be more than zero", "write "+c.Method.units())
	case c.Method.Kind() != BeeSample && c.DaysOnBoard() > maxDays:
		return fail(fmt.Sprintf("a board of more than %d days tells nothing of one date", maxDays), "check the days, or give several shorter counts")
	case c.Method.Kind() != BeeSample && c.DaysOnBoard() < minDays:
		return fail("a board of less than an hour tells nothing", "leave it in longer; three days are usual")
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

// beesPerMillilitre is the half-cup rule: 120 mL hold about 300 bees, as
// counted washes of nominal half cups bear out (mean 298.5 of 176 washes in
// the data of Aurell et al. 2025, J Econ Entomol).
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
	if !c.Date.IsZero() {
		b.WriteString("@" + c.Date.String())
	}
	return b.String()
}
