package sampling

import (
	"errors"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestParseCount(t *testing.T) {
	day := Day(2026, 8, 6)
	for in, want := range map[string]Count{
		"wash:5/312":                  {Method: Wash, Mites: 5, Amount: Amount{312, Bees}},
		"wash:010/300":                {Method: Wash, Mites: 10, Amount: Amount{300, Bees}}, // ten, never octal eight
		"wash:5/0300bees":             {Method: Wash, Mites: 5, Amount: Amount{300, Bees}},
		"WASH:0/1Bee":                 {Method: Wash, Mites: 0, Amount: Amount{1, Bees}},
		"wash:6000/300":               {Method: Wash, Mites: 6000, Amount: Amount{300, Bees}}, // twenty a bee
		"roll:7/0.5cup/3f":            {Method: Roll, Mites: 7, Amount: Amount{0.5, Cups}, Frames: 3},
		"roll:7/.5cups/3F":            {Method: Roll, Mites: 7, Amount: Amount{0.5, Cups}, Frames: 3},
		"co2:7/120ml@2026-08-06":      {Method: CO2, Mites: 7, Amount: Amount{120, Millilitres}, Date: day},
		"wash:4/41.5g/2f@2026-08-06":  {Method: Wash, Mites: 4, Amount: Amount{41.5, Grams}, Frames: 2, Date: day},
		"board:24/3d":                 {Method: Board, Mites: 24, Amount: Amount{3, Days}},
		"board:24/36h":                {Method: Board, Mites: 24, Amount: Amount{36, Hours}},
		"board:24/1day":               {Method: Board, Mites: 24, Amount: Amount{1, Days}},
		"knockdown:310/5d@2026-08-06": {Method: Knockdown, Mites: 310, Amount: Amount{5, Days}, Date: day},
		"knockdown:0/48hours":         {Method: Knockdown, Mites: 0, Amount: Amount{48, Hours}},
		"wash:5/300@2028-02-29":       {Method: Wash, Mites: 5, Amount: Amount{300, Bees}, Date: Day(2028, 2, 29)}, // a leap day
		"wash:5/300/20f":              {Method: Wash, Mites: 5, Amount: Amount{300, Bees}, Frames: 20},
		"roll:7/300/damp":             {Method: Roll, Mites: 7, Amount: Amount{300, Bees}, Weather: Damp},
		"roll:7/300/Dry/2f":           {Method: Roll, Mites: 7, Amount: Amount{300, Bees}, Frames: 2, Weather: Dry},
		"roll:7/1/2cup/damp/2f":       {Method: Roll, Mites: 7, Amount: Amount{0.5, Cups}, Frames: 2, Weather: Damp},
		// names people use, blanks and capitals
		"Alcohol wash: 5 / half cup":                  {Method: Wash, Mites: 5, Amount: Amount{0.5, Cups}},
		"soap-wash:5/1/2 cup":                         {Method: Wash, Mites: 5, Amount: Amount{0.5, Cups}},
		"SUGAR_SHAKE:5/½ cup":                         {Method: Roll, Mites: 5, Amount: Amount{0.5, Cups}},
		"powdered sugar:5/Half a cup":                 {Method: Roll, Mites: 5, Amount: Amount{0.5, Cups}},
		"sugar roll:5/1 1/2 cups/2 frames":            {Method: Roll, Mites: 5, Amount: Amount{1.5, Cups}, Frames: 2},
		"icing sugar:5/1½cup":                         {Method: Roll, Mites: 5, Amount: Amount{1.5, Cups}},
		"carbon dioxide:5/300 bees":                   {Method: CO2, Mites: 5, Amount: Amount{300, Bees}},
		"CO₂:5/120 mL":                                {Method: CO2, Mites: 5, Amount: Amount{120, Millilitres}},
		"sticky board:24/3 days":                      {Method: Board, Mites: 24, Amount: Amount{3, Days}},
		"natural fall:24/36 hours":                    {Method: Board, Mites: 24, Amount: Amount{36, Hours}},
		"mite-drop:24/a day":                          {Method: Board, Mites: 24, Amount: Amount{1, Days}},
		"fall after a treatment:310/5 d @ 2026-08-06": {Method: Knockdown, Mites: 310, Amount: Amount{5, Days}, Date: day},
		"wash:5.0/300.0":                              {Method: Wash, Mites: 5, Amount: Amount{300, Bees}}, // as a spreadsheet writes five
		"wash:1/2cup":                                 {Method: Wash, Mites: 1, Amount: Amount{2, Cups}},   // one mite in two cups, which is asked about
		"wash:5/0.30000000000000004cup":               {Method: Wash, Mites: 5, Amount: Amount{0.30000000000000004, Cups}},
	} {
		got, err := ParseCount(in)
		if err != nil || got != want {
			t.Errorf("%s: %+v, %v, want %+v", in, got, err, want)
			continue
		}
		if again, err := ParseCount(got.String()); err != nil || again != got {
			t.Errorf("%s prints as %s, which reads as %+v, %v", in, got, again, err)
		}
	}
}

// Every refusal: the mark stands under the part at fault, and the remedy says
// what to write. An empty mark stands behind the end.
func TestParseCountRefusals(t *testing.T) {
	const digits = "write the number in the digits 0 to 9"
	const twoWays = "write thousands without a mark (1200) and decimals with a point (0.5)"
	const bees = "write the bees counted (300) or a measure (0.5cup, 120ml, 41g)"
	for _, c := range []struct {
		in, at          string
		problem, remedy string
	}{
		// mites
		{"wash:-3/300", "-3", "the number of mites is below zero", "write what was counted, 0 or more"},
		{"wash:2.5/300", "2.5", "mites come in whole numbers", "without a point"},
		{"wash:+3/300", "+3", `"+3" is not a number of mites`, "write it in digits"},
		{"wash:NaN/300", "NaN", `"NaN" is not a number of mites`, "write it in digits"},
		{"wash:Inf/300", "Inf", `"Inf" is not a number of mites`, "write it in digits"},
		{"wash:0x10/300", "0x10", `"0x10" is not a number of mites`, "write it in digits"},
		{"wash:1e3/300", "1e3", `"1e3" is not a number of mites`, "write it in digits"},
		{"wash:−5/300", "−5", `"−5" is not a number of mites`, "write it in digits"},
		{"wash:/300", "/", "the number of mites is missing", "write it in digits"},
		{"wash:99999999999999999999/300", "99999999999999999999", "the number of mites is far too large", "check the number"},
		{"wash:2000000/300", "2000000", "more than any count can hold", "check the number of mites"},
		{"wash:6001/300", "6001/300", "6001 mites are more than 20 on every bee", "mites come first, then the bees"},
		{"wash:1501/30ml", "1501/30ml", "1501 mites are more than 20 on every bee", "mites come first, then the bees"},
		// the amount
		{"wash:5/0", "0", "the amount must be more than zero", bees},
		{"wash:5/-300", "-300", "the amount must be more than zero", bees},
		{"wash:5/0cup", "0cup", "the amount must be more than zero", bees},
		{"board:5/0d", "0d", "the amount must be more than zero", "write how long the board lay (3d, 36h)"},
		{"wash:5/300.5", "300.5", "bees come in whole numbers", bees},
		{"wash:5", "", "the amount is missing", "such as wash:5/300"},
		{"wash:5/", "", "the amount is missing", "such as wash:5/300"},
		{"board:5@2026-08-06", "@", "the amount is missing", "such as board:24/3d"},
		{"wash:5//2f", "/", "the amount is missing", "such as wash:5/300"},
		{"wash:5/NaN", "NaN", `"NaN" has no number`, bees},
		{"wash:5/-Inf", "-Inf", `"-Inf" has no number`, bees},
		{"wash:5/cup", "cup", `"cup" has no number`, bees},
		{"wash:5/.cup", ".cup", `".cup" has no number`, bees},
		{"wash:5/1.2.3cup", "1.2.3", `"1.2.3" is not a number`, bees},
		{"wash:5/300%", "300%", `"300%" is not a number`, bees},
		{"wash:5/1e9", "e9", `"e9" is not a unit`, bees},
		{"wash:5/0x10", "x10", `"x10" is not a unit`, bees},
		{"wash:5/10oz", "oz", `"oz" is not a unit`, bees},
		{"wash:5/300ml2", "ml2", `"ml2" is not a unit`, bees},
		{"board:24/90min", "min", `"min" is not a unit`, "write how long the board lay (3d, 36h)"},
		{"wash:5/3d", "3d", "a wash count is not measured in days", bees},
		{"roll:5/36h", "36h", "a roll count is not measured in hours", bees},
		{"board:5/300", "300", "a board count is not measured in bees", "write how long the board lay (3d, 36h)"},
		{"knockdown:5/41g", "41g", "a knockdown count is not measured in grams", "write how long"},
		{"wash:5/" + strings.Repeat("9", 400), strings.Repeat("9", 400), "the amount is far too large", "check the number"},
		{"wash:5/200000", "5/200000", "no sample holds so many bees", "check the amount"},
		{"wash:5/20000g", "5/20000g", "no sample weighs so much", "check the amount"},
		{"wash:0/0.001cup", "0/0.001cup", "so small a sample holds not one bee", "check the amount"},
		{"wash:0/0.01g", "0/0.01g", "so small a sample holds not one bee", "check the amount"},
		{"board:24/61d", "24/61d", "a board of more than 60 days", "give several shorter counts"},
		{"board:24/0.5h", "24/0.5h", "a board of less than an hour", "leave it in longer"},
		// ways of writing a number that mean different things to different people
		{"wash:1,200/300", ",", `"," inside a number can be read two ways`, twoWays},
		{"wash:5/1,200", ",", `"," inside a number can be read two ways`, twoWays},
		{"wash:5/1'200", "'", `"'" inside a number can be read two ways`, twoWays},
		{"wash:5/1’200", "’", `"’" inside a number can be read two ways`, twoWays},
		{"wash:5/1_200", "_", `"_" inside a number can be read two ways`, twoWays},
		{"wash:5/0,5cup", ",", `"," inside a number can be read two ways`, twoWays},
		{"wash:٥/300", "٥", `"٥" is a digit of another script`, digits},
		{"wash:5/３００", "３", `"３" is a digit of another script`, digits},
		{"wash:5/1½½cup", "½", `"½" is a digit of another script`, digits},
		{"wash:1 200/300", " ", `" " inside a number can be read two ways`, twoWays},
		{"wash:5/1 200", " ", `" " inside a number can be read two ways`, twoWays},
		{"wash:5/1/0cup", "1/0", `"1/0" is not a number`, bees},
		{"wash:5/300/2cup", "300/2", `"300/2" is not a number`, bees},
		{"wash:5/half", "half", `"half" has no number`, bees},
		{"wash:5/half bees", "half bees", "bees come in whole numbers", bees},
		{"wash:5/300/१f", "१", `"१" is a digit of another script`, digits},
		{"wash:5/3\xff0", "\xff", "this is not readable text", digits},
		{"wash:5/3\ufffd0", "\ufffd", "this is not readable text", digits},
		// frames
		{"wash:5/300/3", "3", `"3" is not a number of frames`, "such as wash:5/300/3f"},
		{"wash:5/300/", "", `"" is not a number of frames`, "such as wash:5/300/3f"},
		{"wash:5/300/f", "f", "the number of frames is missing", "write it in digits"},
		{"wash:5/300/0f", "0f", "bees cannot come from 0 frames", "1 to 20"},
		{"wash:5/300/21f", "21f", "bees cannot come from 21 frames", "1 to 20"},
		{"wash:5/300/-1f", "-1", "the number of frames is below zero", "0 or more"},
		{"wash:5/300/1.5f", "1.5", "frames come in whole numbers", "without a point"},
		{"board:24/3d/2f", "2f", "a board count has no frames", "such as board:24/3d"},
		{"wash:5/300/2f/3f", "3f", "the frames are said twice", "write them once"},
		{"wash:5/300/2f/", "", `"" is not a number of frames`, "such as wash:5/300/3f"},
		// the weather
		{"wash:5/300/damp", "damp", "only a roll is marked damp or dry", "leave this part out"},
		{"board:5/3d/dry", "dry", "only a roll is marked damp or dry", "leave this part out"},
		{"roll:5/300/damp/2f/dry", "dry", "the weather is said twice", "write damp or dry once"},
		{"roll:5/300/wet", "wet", `"wet" is not a number of frames`, "the weather as damp or dry"},
		// the method
		{"wahs:5/300", "wahs", `"wahs" is not a method`, "did you mean wash?"},
		{"rol:5/300", "rol", `"rol" is not a method`, "did you mean roll?"},
		{"bord:5/3d", "bord", `"bord" is not a method`, "did you mean board?"},
		{"honey:5/300", "honey", `"honey" is not a method`, "write one of wash, roll, co2, board, knockdown"},
		{"sugar shack:5/300", "sugar shack", `"sugar shack" is not a method`, "did you mean sugar shake?"},
		{":5/300", ":", "the method is missing", "write one of wash, roll"},
		{"5/300", "5/300", `"5/300" does not say how the mites were counted`, "such as wash:5/300"},
		{"wash：5/300", "wash：5/300", "does not say how the mites were counted", "such as wash:5/300"},
		// the date
		{"wash:5/300@2026-02-30", "2026-02-30", "there is no such day as 2026-02-30", "check the month and the day"},
		{"wash:5/300@2027-02-29", "2027-02-29", "there is no such day as 2027-02-29", "check the month and the day"},
		{"wash:5/300@2026-13-01", "2026-13-01", "there is no such day as 2026-13-01", "check the month and the day"},
		{"wash:5/300@06/08/2026", "06/08/2026", `"06/08/2026" is not a date`, "such as 2026-08-06"},
		{"wash:5/300@today", "today", `"today" is not a date`, "such as 2026-08-06"},
		{"wash:5/300@2026-08-06@2026", "2026-08-06@2026", "is not a date", "such as 2026-08-06"},
		{"wash:5/300@1026-08-06", "1026", "the year 1026 is too long ago", "check the year"},
		{"wash:5/300@", "", "the date is missing", "such as 2026-08-06"},
		// the whole
		{"", "", "the count is empty", "such as wash:5/300"},
		{"  ", "  ", "the count is empty", "such as wash:5/300"},
		{"wash:1\u202f200/300", "\u202f", "there is an odd blank inside the count", "plain blanks or none"},
		{"wash:5/300\n", "\n", "there is an odd blank inside the count", "plain blanks or none"},
	} {
		got, err := ParseCount(c.in)
		var e *SyntaxError
		if !errors.As(err, &e) {
			t.Errorf("%q: %+v, %v, want a *SyntaxError", c.in, got, err)
			continue
		}
		if got != (Count{}) {
			t.Errorf("%q: %+v beside an error", c.in, got)
		}
		if !strings.Contains(e.Problem, c.problem) || !strings.Contains(e.Remedy, c.remedy) {
			t.Errorf("%q: %v, want %q and %q", c.in, err, c.problem, c.remedy)
		}
		if e.Input != c.in {
			t.Errorf("%q: the error shows %q", c.in, e.Input)
		}
		end := e.Offset + e.Length
		if c.at == "" {
			if e.Offset != len(c.in) || e.Length != 1 {
				t.Errorf("%q: marks %d+%d, want the end", c.in, e.Offset, e.Length)
			}
		} else if end > len(c.in) || c.in[e.Offset:end] != c.at {
			t.Errorf("%q: marks %d+%d, want %q", c.in, e.Offset, e.Length, c.at)
		}
	}
}

func TestCountRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Count{Method: rapid.SampledFrom(Methods()).Draw(t, "method")}
		if c.Method.Kind() == BeeSample {
			c.Amount.Unit = rapid.SampledFrom([]Unit{Bees, Cups, Millilitres, Grams}).Draw(t, "unit")
			c.Frames = rapid.IntRange(0, maxFrames).Draw(t, "frames")
			if c.Method == Roll {
				c.Weather = rapid.SampledFrom([]Weather{"", Damp, Dry}).Draw(t, "weather")
			}
		} else {
			c.Amount.Unit = rapid.SampledFrom([]Unit{Days, Hours}).Draw(t, "unit")
		}
		c.Amount.Value = rapid.Float64Range(1, 60).Draw(t, "amount")
		if c.Amount.Unit == Bees {
			c.Amount.Value = math.Ceil(c.Amount.Value)
		}
		c.Mites = rapid.IntRange(0, 20).Draw(t, "mites")
		c.Date = Day(2000, 1, rapid.IntRange(0, 20000).Draw(t, "day"))
		if got, err := ParseCount(c.String()); err != nil || got != c {
			t.Errorf("%+v prints as %s, which reads as %+v, %v", c, c, got, err)
		}
	})
}

// FuzzParseCount: the parser never panics, points inside its input, and reads
// what it prints as the same count.
func FuzzParseCount(f *testing.F) {
	for _, s := range []string{
		"wash:5/312", "roll:7/0.5cup/3f", "wash:4/41g", "board:24/3d", "knockdown:310/5d@2026-08-06", "wash:010/300",
		"wash:5/1,200", "wash:٥/300", "wash:5/300@2026-02-30", "co2:1/1e9", "wash:NaN/Inf", "wash:5/\xff", "a:b/c/d@e", "::", "@/:", "\u00a0",
		"roll:7/300/damp/2f", "sugar shake: 7 / half a cup / dry", "wash:5/1 1/2 cups", "wash:5/½ cup", "wash:1/2/3cup/4", "wash:5.0/1/3cup", "roll:7/0.5cup\xef\x8d",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseCount(s)
		if err != nil {
			inside(t, s, err)
			return
		}
		again, err := ParseCount(c.String())
		if err != nil || again != c {
			t.Errorf("%q reads as %+v, prints as %s, reads as %+v, %v", s, c, c, again, err)
		}
	})
}

// inside checks that a complaint has all its parts and points into its input,
// or just behind it.
func inside(t *testing.T, s string, err error) {
	t.Helper()
	var e *SyntaxError
	if !errors.As(err, &e) {
		t.Fatalf("%q: %v is not a *SyntaxError", s, err)
	}
	if e.Input != s || e.Offset < 0 || e.Length < 1 || e.Offset+e.Length > len(s)+1 || e.Problem == "" || e.Remedy == "" {
		t.Errorf("%q: %+v", s, *e)
	}
	if utf8.ValidString(s) && e.Offset < len(s) && !utf8.ValidString(s[e.Offset:min(e.Offset+e.Length, len(s))]) {
		t.Errorf("%q: marks %d+%d, in the middle of a letter", s, e.Offset, e.Length)
	}
}

// What the fields of a count put together by other means must obey.
func TestCountCheck(t *testing.T) {
	for problem, c := range map[string]Count{
		"":                                  {Method: Wash, Mites: 5, Amount: Amount{300, Bees}},
		"the number of mites is below zero": {Method: Wash, Mites: -1, Amount: Amount{300, Bees}},
		"the amount must be more than zero": {Method: Board, Amount: Amount{math.NaN(), Days}},
		"no sample holds so many bees":      {Method: Wash, Amount: Amount{1e6, Bees}},
		"a board of more than 60 days":      {Method: Board, Amount: Amount{61 * 24, Hours}},
		"only a roll is marked":             {Method: Wash, Amount: Amount{300, Bees}, Weather: Dry},
		"is not the weather of a roll":      {Method: Roll, Amount: Amount{300, Bees}, Weather: "foggy"},
	} {
		err := c.Check()
		if (err == nil) != (problem == "") || (err != nil && !strings.Contains(err.Error(), problem)) {
			t.Errorf("%+v: %v, want %q", c, err, problem)
		}
	}
}

func TestMethods(t *testing.T) {
	for _, m := range Methods() {
		if got, err := ParseMethod(string(m)); err != nil || got != m {
			t.Errorf("%s: %v, %v", m, got, err)
		}
		for _, name := range append(m.Names(), m.Title(), strings.ToUpper(m.Title())) {
			if got, err := ParseMethod(name); err != nil || got != m {
				t.Errorf("%q: %v, %v, want %s", name, got, err, m)
			}
		}
		if m.Title() == "" || (m.Kind() != BeeSample && m.Kind() != Fall) {
			t.Errorf("%s: title %q, kind %q", m, m.Title(), m.Kind())
		}
		if m.KillsBees() != (m == Wash) {
			t.Errorf("%s kills bees: %v", m, m.KillsBees())
		}
		if c, err := ParseCount(m.Example()); err != nil || c.Method != m {
			t.Errorf("%s: its example %q gives %v, %v", m, m.Example(), c, err)
		}
		if len(m.Steps()) == 0 {
			t.Errorf("%s has no steps", m)
		}
		for _, s := range m.Steps() {
			if s.Method != m || s.Text == "" || s.Source == "" || s.Of == "" {
				t.Errorf("%s: incomplete step %+v", m, s)
			}
		}
	}
}
