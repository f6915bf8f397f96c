package line

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

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
	meta, err := toml.Decode(data, &s)
	if err != nil {
		return Settings{}, file.parseError(err, data)
	}
	var problems []error
	var unknown toml.Key
	for _, key := range meta.Undecoded() {
		if unknown != nil && len(key) > len(unknown) && reflect.DeepEqual(key[:len(unknown)], unknown) {
			continue // inside a table that is unknown as a whole
		}
		unknown = key
		problems = append(problems, file.unknownKey(key))
	}
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
	places map[string]keyPlace
}

func newSettingsFile(name, data string) settingsFile {
	f := settingsFile{name: name, lines: strings.Split(data, "\n"), places: map[string]keyPlace{}}
	f.locate()
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

func (f settingsFile) parseError(err error, data string) error {
	var e toml.ParseError
	if errors.As(err, &e) {
		return f.problem(e.Position.Line, e.Position.Col-1, "this cannot be read as settings", "write it as TOML: a key, =, and a value; texts stand in double quotes")
	}
	var tree map[string]any
	if _, err := toml.Decode(data, &tree); err == nil {
		if key := misfit(tree, reflect.TypeFor[Settings]()); key != nil {
			place := f.find(key)
			return f.problem(place.line, place.value, strings.Join(key, ".")+" cannot be what stands there", "write "+expected(key))
		}
	}
	return f.problem(0, 0, "this cannot be read as settings", "write it as TOML: a key, =, and a value; texts stand in double quotes")
}

// misfit is the first key, in the order of the settings, whose value is not of
// the kind that its setting takes; nil when all are.
func misfit(tree map[string]any, t reflect.Type) []string {
	for i := range t.NumField() {
		name := t.Field(i).Tag.Get("toml")
		v, there := tree[name]
		if !there {
			continue
		}
		if of := t.Field(i).Type; of.Kind() == reflect.Struct {
			inner, ok := v.(map[string]any)
			if !ok {
				return []string{name}
			}
			if key := misfit(inner, of); key != nil {
				return append([]string{name}, key...)
			}
		} else if !takes(of, v) {
			return []string{name}
		}
	}
	return nil
}

// takes reports whether a type of Go takes a value of TOML.
func takes(t reflect.Type, v any) bool {
	switch t.Kind() {
	case reflect.Pointer:
		return takes(t.Elem(), v)
	case reflect.Array, reflect.Slice:
		list, ok := v.([]any)
		return ok && (t.Kind() == reflect.Slice || len(list) == t.Len()) && !slices.ContainsFunc(list, func(v any) bool { return !takes(t.Elem(), v) })
	case reflect.Float64:
		_, whole := v.(int64)
		return whole || reflect.TypeOf(v).Kind() == reflect.Float64
	case reflect.Int:
		_, ok := v.(int64)
		return ok
	}
	return reflect.TypeOf(v).Kind() == t.Kind()
}

// longestKey is how long a key is shown.
const longestKey = 60

func (f settingsFile) unknownKey(key toml.Key) error {
	place := f.find(key)
	name, last := key.String(), key[len(key)-1]
	if len(name) > longestKey {
		name, last = "of this name", ""
	}
	what := "there is no setting " + name
	known := keysOf(reflect.TypeFor[Settings](), key[:len(key)-1])
	remedy := meant.Question(last, known, "") + "the settings here are " + strings.Join(known, ", ")
	return f.problem(place.line, place.key, what, remedy)
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
	for i := range t.NumField() {
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

// keyPlace is where a key and its value stand: a line counted from 1, and
// bytes within it. The TOML package does not give these away.
type keyPlace struct{ line, key, value int }

var (
	headerLine = regexp.MustCompile(`^\s*\[\s*([^\[\]]+?)\s*\]`)
	keyLine    = regexp.MustCompile(`^\s*([A-Za-z0-9_."' -]+?)\s*=\s*(.*?)\s*(#[^"']*)?$`)
)

// locate finds the keys as they are usually written: on a line of their own
// under the header of their table.
func (f settingsFile) locate() {
	add := func(name string, p keyPlace) {
		if _, found := f.places[name]; !found {
			f.places[name] = p
		}
	}
	table := ""
	for i, line := range f.lines {
		line = strings.TrimRight(line, "\r")
		if m := headerLine.FindStringSubmatchIndex(line); m != nil {
			table = plainKey(line[m[2]:m[3]])
			add(table, keyPlace{i + 1, m[2], m[2]})
			table += "."
		} else if m := keyLine.FindStringSubmatchIndex(line); m != nil {
			add(table+plainKey(line[m[2]:m[3]]), keyPlace{i + 1, m[2], m[4]})
		}
	}
}

// find looks for a key. One that is written in another way is found only as
// far as its table; the zero place means not at all.
func (f settingsFile) find(path []string) keyPlace {
	for n := len(path); n > 0; n-- {
		if p, found := f.places[strings.Join(path[:n], ".")]; found {
			return p
		}
	}
	return keyPlace{}
}

// plainKey is a key without blanks and quotes.
func plainKey(s string) string {
	return strings.NewReplacer(" ", "", `"`, "", "'", "").Replace(s)
}
