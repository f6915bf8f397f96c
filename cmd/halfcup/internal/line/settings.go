package line

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"reflect"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/internal/meant"
)

// DefaultSettings is read when it is there and no other file is named. It is
// never created by the program.
const DefaultSettings = "halfcup.toml"

// Settings is what a settings file can say. A flag beats a setting, a setting
// beats a default; a field that is nil was not said. To add a key, add a field,
// and a row to the table of figures that says what it can be.
type Settings struct {
	Level    *float64 `toml:"level"`
	Interval *string  `toml:"interval"`
	FrameCV  *float64 `toml:"frame_cv"`
	BeesCV   *float64 `toml:"bees_cv"`
	Watch    *float64 `toml:"watch"`
	Act      *float64 `toml:"act"`

	Thresholds *string  `toml:"thresholds"`
	MissCost   *float64 `toml:"miss_cost"`
	MinWorth   *float64 `toml:"min_worth"`

	LossWithout *float64 `toml:"loss_without"`

	Arrivals   *string  `toml:"arrivals"`
	Without    []string `toml:"without"`
	AnySize    *bool    `toml:"any_size"`
	CO2AtHand  *bool    `toml:"co2_at_hand"`
	MostFrames *float64 `toml:"most_frames"`
	BackIn     *float64 `toml:"back_in"`

	ASCII     *bool `toml:"ascii"`
	NoPicture *bool `toml:"no_picture"`

	Hemisphere *string `toml:"hemisphere"`

	// What a line that writes counts need not say.
	Yard     *string  `toml:"yard"`
	Measure  *string  `toml:"measure"`
	Frames   *float64 `toml:"frames"`
	Device   *string  `toml:"device"`
	Observer *string  `toml:"observer"`

	DateOrder *string `toml:"date_order"` // of tables whose dates are not written year-month-day

	// Costs are in needless treatments, times in minutes.
	Costs struct {
		Per300Killed     *float64 `toml:"per_300_killed"`
		Per10Minutes     *float64 `toml:"per_10_minutes"`
		ExtraVisit       *float64 `toml:"extra_visit"`
		MinutesPerSample *float64 `toml:"minutes_per_sample"`
		MinutesPerFrame  *float64 `toml:"minutes_per_frame"`
		MinutesPer100    *float64 `toml:"minutes_per_100_bees"`
		MinutesPerBoard  *float64 `toml:"minutes_per_board"`
	} `toml:"costs"`

	Prior struct {
		MedianPerHundred *float64 `toml:"median_per_hundred"`
		LogSD            *float64 `toml:"log_sd"`
	} `toml:"prior"`

	// Season is the colony's year: which one, the day on which the brood is
	// largest, and the month and day on which each season begins.
	Season struct {
		Year       *string `toml:"year"`
		MostBrood  *string `toml:"most_brood"`
		Spring     *string `toml:"spring"`
		Summer     *string `toml:"summer"`
		LateSummer *string `toml:"late-summer"`
		Autumn     *string `toml:"autumn"`
		Winter     *string `toml:"winter"`
		Supers     *string `toml:"supers"`
	} `toml:"season"`

	// Plan is what is done every year: the steps of a yearly plan.
	Plan struct {
		Treat []string `toml:"treat"`
	} `toml:"plan"`

	// Recovery is alpha and beta of each method's share of the mites found.
	Recovery struct {
		Roll []float64 `toml:"roll"`
		CO2  []float64 `toml:"co2"`
	} `toml:"recovery"`
}

// LimitsLevel is the level of the limits that are told of a colony where no flag sets
// it: that of the settings, else 0.9. Every command tells the same limits.
func (s Settings) LimitsLevel() float64 {
	if s.Level != nil {
		return *s.Level
	}
	return 0.9
}

// maxSettings bounds what is read as settings, in bytes.
const maxSettings = 1 << 20

// readSettings reads a settings file. Only a file that was named has to exist.
func readSettings(name string, named bool) (Settings, settingsFile, error) {
	var none settingsFile
	info, err := os.Stat(name)
	if !named && errors.Is(err, fs.ErrNotExist) {
		return Settings{}, none, nil
	}
	if err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return Settings{}, none, &show.Problem{File: name, What: "it is a pipe or a device, and settings are a file", Remedy: "name a file with --settings"}
	}
	f, err := os.Open(name)
	if err != nil {
		return Settings{}, none, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxSettings+1))
	if err != nil {
		return Settings{}, none, err
	}
	if len(data) > maxSettings {
		return Settings{}, none, &show.Problem{File: name, What: fmt.Sprintf("the file is larger than %d megabyte", maxSettings>>20), Remedy: "check that it holds your settings"}
	}
	s, err := ParseSettings(name, string(data))
	return s, newSettingsFile(name, string(data)), err
}

// InSettings says that a command cannot use what the settings say for a key.
// What stands there is not repeated: the file may be another than was meant.
func (sh *Shell) InSettings(key string, err error) error {
	if err == nil {
		return nil
	}
	p, _ := problemOf(err)
	place := sh.settingsFile.find(strings.Split(key, "."))
	return sh.settingsFile.problem(place.line, place.value, key+" cannot be what stands there", p.Remedy)
}

// ParseSettings reads settings strictly: what it does not know is an error.
func ParseSettings(name, data string) (Settings, error) {
	var s Settings
	file := newSettingsFile(name, data)
	if err := toml.Unmarshal([]byte(data), &s); err != nil {
		return Settings{}, file.parseError(err)
	}
	problems := file.unknownKeys()
	problems = append(problems, file.check(reflect.ValueOf(s), nil)...)
	if problems != nil {
		return Settings{}, errors.Join(problems...)
	}
	return s, nil
}

// settingsFile finds places in the text of a settings file.
type settingsFile struct {
	name   string
	lines  []string
	keys   [][]string // in the order of the file
	places map[string]keyPlace
	twice  map[string]int // the line of a key that is there already
}

func newSettingsFile(name, data string) settingsFile {
	f := settingsFile{name: name, lines: strings.Split(data, "\n"), places: map[string]keyPlace{}, twice: map[string]int{}}
	f.locate(data)
	return f
}

// problem points at a byte of a line, counted from 1. The line is not shown:
// nobody wants to find a secret of another file on the screen.
func (f settingsFile) problem(line, start int, what, remedy string) *show.Problem {
	p := &show.Problem{File: f.name, Line: line, What: what, Remedy: remedy}
	if line >= 1 && line <= len(f.lines) {
		text := f.lines[line-1]
		p.Column = utf8.RuneCountInString(text[:min(max(start, 0), len(text))]) + 1
	}
	return p
}

// parseError is the first thing in the file that is no TOML, or not of the kind
// that its setting takes.
func (f settingsFile) parseError(err error) error {
	const what, remedy = "this cannot be read as settings", "write it as TOML: a key, =, and a value; texts stand in double quotes"
	var e *toml.DecodeError
	if !errors.As(err, &e) {
		return f.problem(0, 0, what, remedy)
	}
	line, column := e.Position()
	key := strings.Join(e.Key(), ".")
	_, known := fieldOf(reflect.TypeFor[Settings](), e.Key())
	switch {
	case f.twice[key] == line && line > 0:
		return f.problem(line, column-1, key+" stands here for the second time", fmt.Sprintf("keep this or the one of line %d", f.places[key].line))
	case !known:
		return f.problem(line, column-1, what, remedy)
	}
	return f.problem(line, column-1, key+" cannot be what stands there", "write "+expected(e.Key()))
}

// longestKey is how long a key is shown.
const longestKey = 60

// unknownKeys tells of every key that is no setting, once. The strict mode of
// the TOML package does too, but splits the whole file again for each.
func (f settingsFile) unknownKeys() []error {
	var problems []error
	told := map[string]bool{}
	for _, key := range f.keys {
		for n := range key {
			table, name := key[:n], strings.Join(key[:n+1], ".")
			known := keysOf(reflect.TypeFor[Settings](), table)
			if slices.Contains(known, key[n]) {
				continue
			}
			if !told[name] {
				told[name] = true
				place := f.find(key)
				last := key[n]
				if len(name) > longestKey {
					name, last = "of this name", ""
				}
				remedy := meant.Question(last, known, "") + "the settings here are " + strings.Join(known, ", ")
				problems = append(problems, f.problem(place.line, place.key, "there is no setting "+name, remedy))
			}
			break
		}
	}
	return problems
}

// check holds every value against the table of figures.
func (f settingsFile) check(v reflect.Value, path []string) []error {
	var problems []error
	for i := range v.NumField() {
		value := v.Field(i)
		key := append(path[:len(path):len(path)], v.Type().Field(i).Tag.Get("toml"))
		if value.Kind() == reflect.Struct {
			problems = append(problems, f.check(value, key)...)
			continue
		}
		if value.IsNil() || fits(figureOf(key), value.Interface()) {
			continue
		}
		place := f.find(key)
		problems = append(problems, f.problem(place.line, place.value, strings.Join(key, ".")+" cannot be what stands there", "write "+expected(key)))
	}
	return problems
}

// figureOf is the row of the table for a key; a table of keys has none.
func figureOf(key []string) figures.Figure {
	f, _ := figures.OfSetting(strings.Join(key, "."))
	return f
}

// monthDay is how a day of every year is written.
const monthDay = "01-02"

// fits reports whether a value that was said is one the figure can take.
func fits(f figures.Figure, value any) bool {
	switch x := value.(type) {
	case *float64:
		return f.Allows(*x)
	case []float64:
		return len(x) == f.Len && !slices.ContainsFunc(x, func(v float64) bool { return !f.Allows(v) })
	case *string:
		if f.Words != nil {
			return slices.Contains(f.Words, *x)
		}
		if len(f.Like) == len(monthDay) && *x != decide.Never {
			if _, err := time.Parse(monthDay, f.Like); err == nil {
				_, err := time.Parse("2006-"+monthDay, "2000-"+*x) // a leap year: 02-29 is a day
				return err == nil
			}
		}
	}
	return true
}

// expected is what a key takes, in words.
func expected(key []string) string {
	f, ok := figures.OfSetting(strings.Join(key, "."))
	switch {
	case !ok:
		return "a table of its own, such as [" + key[len(key)-1] + "]"
	case f.Truth:
		return "true or false"
	case f.Texts:
		return `texts in brackets, such as ["` + f.Like + `"]`
	case f.Words != nil:
		return `one of "` + strings.Join(f.Words, `", "`) + `"`
	case f.Like != "":
		return `a text such as "` + f.Like + `"`
	case f.Len > 0:
		return fmt.Sprintf("%d numbers %s in brackets, such as %s", f.Len, f.Span(), f.Default)
	case f.Whole:
		return "a whole number " + f.Span()
	}
	return "a number " + f.Span()
}

// Keys lists every key of the settings, with its table, in order.
func Keys() []string {
	var keys []string
	var walk func(t reflect.Type, before string)
	walk = func(t reflect.Type, before string) {
		for i := range t.NumField() {
			name := before + t.Field(i).Tag.Get("toml")
			if t.Field(i).Type.Kind() == reflect.Struct {
				walk(t.Field(i).Type, name+".")
				continue
			}
			keys = append(keys, name)
		}
	}
	walk(reflect.TypeFor[Settings](), "")
	return keys
}

// fieldOf is the field of t that a key path leads to.
func fieldOf(t reflect.Type, path []string) (reflect.StructField, bool) {
	for i := 0; i < t.NumField() && len(path) > 0; i++ {
		f := t.Field(i)
		switch {
		case f.Tag.Get("toml") != path[0]:
		case len(path) == 1:
			return f, true
		case f.Type.Kind() == reflect.Struct:
			return fieldOf(f.Type, path[1:])
		}
	}
	return reflect.StructField{Type: reflect.TypeFor[struct{}]()}, false
}

// keysOf lists the keys of the table that a key path leads to.
func keysOf(t reflect.Type, path []string) []string {
	if len(path) > 0 {
		f, ok := fieldOf(t, path)
		if !ok || f.Type.Kind() != reflect.Struct {
			return nil
		}
		t = f.Type
	}
	var keys []string
	for i := range t.NumField() {
		keys = append(keys, t.Field(i).Tag.Get("toml"))
	}
	return keys
}

// keyPlace is where a key and its value stand: a line, counted from 1, and bytes
// within it, and the line and byte at which the value begins.
type keyPlace struct{ line, key, value int }

// locate finds every key, every value and the header of every table. Reading
// the file into Settings does not tell where they are, and a value of the right
// kind may still be out of bounds.
func (f *settingsFile) locate(data string) {
	var p unstable.Parser
	p.Reset([]byte(data))
	var table []string
	for p.NextExpression() {
		if e := p.Expression(); e.Kind == unstable.KeyValue {
			f.place(data, table, e)
		} else {
			table = f.place(data, nil, e)
		}
	}
}

// place keeps where a key of a table stands, and those of the table that is its
// value. It gives the key in full, in small letters, for the TOML package does
// not mind capitals. Of several of one name the first is kept.
func (f *settingsFile) place(data string, table []string, e *unstable.Node) []string {
	key, start, end := slices.Clone(table), -1, 0
	for parts := e.Key(); parts.Next(); {
		n := parts.Node()
		if key, end = append(key, strings.ToLower(string(n.Data))), int(n.Raw.Offset+n.Raw.Length); start < 0 {
			start = int(n.Raw.Offset)
		}
	}
	line := strings.LastIndexByte(data[:start], '\n') + 1
	at := keyPlace{strings.Count(data[:line], "\n") + 1, start - line, start - line}
	if e.Kind == unstable.KeyValue { // the value begins behind the =, on the same line
		value := strings.TrimLeft(data[end:], " \t=")
		at.value = len(data) - len(value) - line
	}
	name := strings.Join(key, ".")
	if _, there := f.places[name]; there {
		f.twice[name] = at.line
	} else {
		f.keys, f.places[name] = append(f.keys, key), at
	}
	if e.Kind == unstable.KeyValue {
		for values := e.Value().Children(); values.Next(); {
			if n := values.Node(); n.Kind == unstable.KeyValue {
				f.place(data, key, n)
			}
		}
	}
	return key
}

// find looks for a key, or for its table; the zero place means neither is there.
func (f settingsFile) find(path []string) keyPlace {
	for n := len(path); n > 0; n-- {
		if p, found := f.places[strings.Join(path[:n], ".")]; found {
			return p
		}
	}
	return keyPlace{}
}
