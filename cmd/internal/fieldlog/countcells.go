package fieldlog

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfcup/cmd/internal/figures"
	"halfcup/sampling"
)

// CountCells are the cells of a count in a table. There is one reader of them, for
// the record and for any other table, and it reads through the notation of a
// count, so that a table keeps the rules of a line that is typed.
type CountCells struct {
	Method, Mites, Amount, Frames string

	// DecimalComma says that the comma is free for decimals, because something
	// else separates the cells.
	DecimalComma bool
}

// CellError says what is wrong in the text of a cell, and where in it.
type CellError struct {
	Column          string // method, mites, amount or frames
	Offset, Length  int    // in bytes
	Problem, Remedy string
}

func (e *CellError) Error() string { return e.Problem }

// part is some text of a cell and where it starts there.
type part struct {
	text string
	at   int
}

// shareOfCup is an amount with a stroke in it, such as 1/2 cup.
var shareOfCup = regexp.MustCompile(`(?i)^([0-9]+ +)?[0-9]+/[0-9]+ ?cups?$`)

// Read is the count, without its date and what is known of the hive.
func (c CountCells) Read() (sampling.Count, []*CellError) {
	var bad []*CellError
	fail := func(column string, offset, length int, problem, remedy string) {
		bad = append(bad, &CellError{Column: column, Offset: offset, Length: length, Problem: problem, Remedy: remedy})
	}
	amount, details := splitAmount(c.pointed(c.Amount))
	mites, frames := c.pointed(c.Mites), strings.ToLower(c.Frames)
	for _, unit := range []string{"f", "frame", "frames"} {
		if number, is := strings.CutSuffix(frames, unit); is && number != "" {
			frames = strings.TrimRight(number, " ")
			break
		}
	}
	if beesTwoWays(amount.text) {
		fail("amount", amount.at, len(amount.text), "bees come in whole numbers", "write the bees counted without a mark, such as 300, or a measure with its unit, such as 0.5cup")
	}
	if thousands(mites) {
		fail("mites", 0, len(mites), fmt.Sprintf("%q can be read two ways", c.Mites), "write thousands without a mark, such as 1200")
	}
	if amount.text == "" {
		fail("amount", 0, 0, "the amount is missing", "write what was looked at: bees (300, 0.5cup, 120ml, 41g), or of a board how long it lay (3d, 36h)")
	}
	if mites == "" {
		fail("mites", 0, 0, "the number of mites is missing", "write it in digits, 0 when there was none")
	}
	if m, err := sampling.ParseMethod(c.Method); err == nil && m.Kind() != sampling.BeeSample && frames != "" {
		fail("frames", 0, len(c.Frames), fmt.Sprintf("a %s count has no frames", m), "empty the cell; frames covered with bees belong into adult_bees, such as 9f")
	}
	parts := [...]struct {
		column, what string
		part
		before, after string // what the notation puts round it
		strange       string // signs that do not belong into the cell
	}{
		{"method", "method", part{c.Method, 0}, "", "", ":/@"},
		{"mites", "number of mites", part{mites, 0}, ":", "", ":/@"},
		{"amount", "amount", amount, "/", "", ":/@"},
		{"frames", "number of frames", part{frames, 0}, "/", "f", ":/@"},
	}
	if shareOfCup.MatchString(amount.text) {
		parts[2].strange = ":@"
	}
	var notation strings.Builder
	var starts [len(parts)]int
	n := 0
	for _, p := range parts {
		if i := strings.IndexAny(p.text, p.strange); i >= 0 {
			fail(p.column, p.at+i, 1, fmt.Sprintf("%q is not one %s", p.text, p.what), "write only the "+p.column+" in this cell")
		}
		if p.column == "frames" && p.text == "" {
			continue
		}
		notation.WriteString(p.before)
		starts[n] = notation.Len()
		n++
		notation.WriteString(p.text + p.after)
	}
	if bad != nil {
		return sampling.Count{}, bad
	}
	count, err := sampling.ParseCount(notation.String())
	var syntax *sampling.SyntaxError
	if errors.As(err, &syntax) {
		i := 0
		for i+1 < n && syntax.Offset >= starts[i+1] {
			i++
		}
		offset, length := syntax.Offset-starts[i], syntax.Length
		if i == 1 && syntax.Offset+syntax.Length > starts[2] {
			// Mites and amount do not go together. The amount is marked.
			i, offset, length = 2, 0, len(parts[2].text)
		}
		fail(parts[i].column, parts[i].at+offset, length, syntax.Problem, syntax.Remedy)
		return count, bad
	}
	for _, d := range details {
		if problem, remedy := c.detail(&count, d.text); problem != "" {
			fail("amount", d.at, len(d.text), problem, remedy)
		}
	}
	return count, bad
}

// beesTwoWays reports a number of bees with a mark in it that is not the point
// of a spreadsheet, 300.0: 1.000 is one bee here and a thousand there.
func beesTwoWays(amount string) bool {
	number := strings.TrimRight(strings.TrimSuffix(strings.TrimSuffix(strings.ToLower(amount), "s"), "bee"), " ")
	whole, part, pointed := strings.Cut(number, ".")
	return pointed && (whole == "" || digits(whole)) && (part == "" || digits(part)) && part != "0" && part != "00"
}

// thousands reports a number that has a thousand's mark or three decimals.
func thousands(s string) bool {
	whole, part, pointed := strings.Cut(s, ".")
	return pointed && digits(whole) && len(part) == 3 && digits(part)
}

// pointed writes a decimal comma as a point. It keeps the length, so that
// places in the text stay places in the cell.
func (c CountCells) pointed(s string) string {
	if !c.DecimalComma {
		return s
	}
	return strings.Replace(s, ",", ".", 1)
}

// splitAmount parts an amount from the details behind it. The amount goes
// up to its unit, which may stand behind a blank: 41 g, half a cup.
func splitAmount(s string) (amount part, details []part) {
	var words []part
	for i := 0; i < len(s); {
		if s[i] == ' ' || s[i] == '\t' {
			i++
			continue
		}
		end := i
		for end < len(s) && s[end] != ' ' && s[end] != '\t' {
			end++
		}
		words = append(words, part{s[i:end], i})
		i = end
	}
	if len(words) == 0 {
		return part{}, nil
	}
	amount, words = words[0], words[1:]
	join := func(a, b part) part { return part{s[a.at : b.at+len(b.text)], a.at} }
	for len(words) > 0 {
		last, _ := utf8.DecodeLastRuneInString(amount.text)
		share := strings.Contains(words[0].text, "/") && len(words) > 1 && shareOfCup.MatchString(words[0].text+" "+words[1].text)
		hasUnit := unicode.IsLetter(last) && strings.ContainsFunc(amount.text, unicode.IsNumber)
		if hasUnit || strings.Contains(words[0].text, "/") && !share {
			break
		}
		amount, words = join(amount, words[0]), words[1:]
	}
	for len(words) > 0 {
		d := words[0]
		words = words[1:]
		if len(words) > 0 && strings.Trim(d.text, "0123456789.,") == "" && (words[0].text == "g/100" || words[0].text == "/day") {
			d, words = part{d.text + words[0].text, d.at}, words[1:]
		}
		details = append(details, d)
	}
	return amount, details
}

// detail reads one word behind an amount into the count, or says what is wrong
// with it.
func (c CountCells) detail(count *sampling.Count, word string) (problem, remedy string) {
	text := strings.ToLower(word)
	if number, ok := strings.CutSuffix(text, "g/100"); ok {
		v, isNumber := c.decimal(number)
		switch {
		case count.Amount.Unit != sampling.Grams:
			return "only weighed bees need the weight of a hundred", "take this part away, or give the amount in grams"
		case !isNumber || !figures.Named("grams-per-100").Allows(v):
			return fmt.Sprintf("%q is not the weight of a hundred bees", word), "write the grams that 100 bees weigh, from 10 to 20, such as 17.6g/100"
		}
		count.GramsPer100 = v
		return "", ""
	}
	if number, ok := strings.CutSuffix(text, "/day"); ok {
		v, isNumber := c.decimal(number)
		switch {
		case count.Method != sampling.Knockdown:
			return "only a knockdown has a natural fall before it", "take this part away"
		case !isNumber || !figures.Named("fall-before").Allows(v):
			return fmt.Sprintf("%q is not a number of mites a day", word), "write the natural fall before the treatment, such as 2/day"
		}
		count.FallBefore = &v
		return "", ""
	}
	if counted, of, ok := strings.Cut(text, "/"); ok {
		a, errA := strconv.ParseUint(counted, 10, 16)
		b, errB := strconv.ParseUint(of, 10, 16)
		switch {
		case count.Method == sampling.Knockdown:
			return "after a treatment the whole board is counted", "give the mites of the whole board"
		case count.Method != sampling.Board:
			return "only a board has cells", "take this part away"
		case errA != nil || errB != nil || a > b || !figures.Named("cells").Allows(float64(a)) || !figures.Named("cells").Allows(float64(b)):
			return fmt.Sprintf("%q does not say how many cells of the board were counted", word), "write the cells counted and all cells, such as 33/99"
		}
		count.Cells = sampling.Cells{Counted: int(a), Of: int(b)}
		return "", ""
	}
	return fmt.Sprintf("%q behind the amount says nothing", word), "write one amount; behind it may follow 17.6g/100 (weight of a hundred bees), 33/99 (cells counted of a board) or 2/day (natural fall before a treatment)"
}

// decimal reads a number that is not below zero.
func (c CountCells) decimal(s string) (float64, bool) {
	s = c.pointed(s)
	whole, part, pointed := strings.Cut(s, ".")
	if !digits(whole) && whole != "" || !digits(part) && pointed || !pointed && whole == "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// digits reports whether s is one digit or more and nothing else.
func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// HiveCells are the cells of a table that say what was seen in a hive.
type HiveCells struct {
	AdultBees, Brood string
	DecimalComma     bool
}

// ReadAdultBees is the bees in the hive, or the frames covered with bees; both
// are 0 where the cell is empty.
func (h HiveCells) ReadAdultBees() (bees, frames float64, bad *CellError) {
	text := h.AdultBees
	if text == "" {
		return 0, 0, nil
	}
	number, inFrames := strings.CutSuffix(strings.ToLower(text), "f")
	v, ok := CountCells{DecimalComma: h.DecimalComma}.decimal(strings.TrimSpace(number))
	colony, onFrames := figures.Named("adult-bees"), figures.Named("frames-of-bees")
	fail := func(problem, remedy string) (float64, float64, *CellError) {
		return 0, 0, &CellError{Column: "adult_bees", Length: len(text), Problem: problem, Remedy: remedy}
	}
	const remedy = "write the bees in the hive, such as 18000, or the frames covered with bees, such as 9f"
	switch {
	case !ok:
		return fail(fmt.Sprintf("%q is not a number of bees", text), remedy)
	case inFrames && !onFrames.Allows(v):
		return fail(fmt.Sprintf("no hive has bees on %s frames", strings.TrimSpace(number)), remedy)
	case inFrames:
		return 0, v, nil
	case strings.ContainsAny(number, ".,") && beesTwoWays(strings.Replace(number, ",", ".", 1)):
		return fail("bees come in whole numbers", "write thousands without a mark, such as 18000")
	case !colony.Allows(v):
		return fail(fmt.Sprintf("no colony has %s adult bees", text), remedy)
	}
	return v, 0, nil
}

// ReadBrood is whether there was capped brood.
func (h HiveCells) ReadBrood() (Brood, *CellError) {
	switch strings.ToLower(h.Brood) {
	case "":
		return BroodUnknown, nil
	case "yes":
		return BroodPresent, nil
	case "no":
		return BroodAbsent, nil
	}
	return BroodUnknown, &CellError{Column: "brood", Length: len(h.Brood), Problem: fmt.Sprintf("%q does not say whether there was brood", h.Brood), Remedy: "write yes or no, or leave the cell empty"}
}
