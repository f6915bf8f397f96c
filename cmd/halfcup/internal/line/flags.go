package line

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/show"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

var (
	helpFlag    = &cli.BoolFlag{Name: "help", Aliases: []string{"h"}, Usage: "show all of the help; -h shows the part that people use"}
	versionFlag = &cli.BoolFlag{Name: "version", Aliases: []string{"V"}, Usage: "show the version"}
)

// sharedFlags work anywhere on the line of every command.
//
// Every flag with a value, here and in the commands, is a StringFlag (or a
// StringSliceFlag when it may be repeated) and is read by the functions below,
// so that a value that cannot be used is shown with a mark under the fault.
func sharedFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "format", Value: "text", Usage: "how the answer is written `text|json|csv`"},
		&cli.StringFlag{Name: "settings", Usage: "read settings from `FILE`", DefaultText: "./halfcup.toml when there is one"},
		&cli.StringFlag{Name: "log", Usage: "use the record in `FILE`", DefaultText: "./halfcup.csv when there is one"},
		&cli.StringFlag{Name: "today", Usage: "pretend that today is `DATE`", DefaultText: "the clock's date"},
		&cli.StringFlag{Name: "color", Value: "auto", Usage: "whether text has colour `auto|always|never`"},
		&cli.BoolFlag{Name: "ascii", Usage: "write nothing but ASCII signs"},
		&cli.BoolFlag{Name: "no-picture", Usage: "draw no picture in text"},
		&cli.BoolFlag{Name: "explain", Usage: "say how the answer was worked out instead"},
		helpFlag,
		versionFlag,
	}
}

// usageError marks what cli could not parse as wrong usage.
func usageError(_ *cli.Context, err error, _ bool) error {
	return &show.Problem{What: err.Error(), Remedy: "halfcup --help shows how to write it"}
}

// InFlag shows an error of a flag's value behind the flag it came from.
func InFlag(name string, err error) error {
	e, ok := err.(*sampling.SyntaxError)
	if !ok {
		return err
	}
	flag := "--" + name + " "
	return &show.Problem{Text: flag + e.Input, Offset: len(flag) + e.Offset, Length: e.Length, What: e.Problem, Remedy: e.Remedy}
}

// BadValue refuses the whole value of a flag.
func BadValue(name, value, what, remedy string) error {
	return InFlag(name, &sampling.SyntaxError{Input: value, Length: max(len(value), 1), Problem: what, Remedy: remedy})
}

// TakesNothing refuses words behind a command that takes none.
func TakesNothing(c *cli.Context) error {
	if c.NArg() == 0 {
		return nil
	}
	return &show.Problem{What: fmt.Sprintf("%s takes no %q", c.Command.HelpName, c.Args().First()), Remedy: "leave it out"}
}

// Choice reads a flag that takes one of a few words. For a command that does not
// have the flag it is the first of them.
func Choice(c *cli.Context, name string, words ...string) (string, error) {
	v := c.String(name)
	if v == "" && !c.IsSet(name) {
		return words[0], nil
	}
	for _, w := range words {
		if v == w {
			return v, nil
		}
	}
	return "", BadValue(name, v, fmt.Sprintf("%q is not a choice for --%s", v, name), meant.OneOf(v, words))
}

// Date reads a flag that takes a day.
func Date(c *cli.Context, name string) (sampling.Date, error) {
	d, err := sampling.ParseDate(c.String(name))
	return d, InFlag(name, err)
}

// File reads a flag that names a file; otherwise is what it stands for when it
// is not given.
func File(c *cli.Context, name, otherwise string) (path string, named bool, err error) {
	switch path = c.String(name); {
	case !c.IsSet(name):
		return otherwise, false, nil
	case path == "":
		return "", true, BadValue(name, path, "the name of the file is empty", "write the name of a file, or leave out --"+name)
	}
	return path, true, nil
}

// Number reads a flag that takes a number within the bounds of the table of
// figures. A setting, when not nil, beats the flag's default but not the flag.
func Number(c *cli.Context, name string, setting *float64) (float64, error) {
	if setting != nil && !c.IsSet(name) {
		return *setting, nil // checked when the settings were read
	}
	f := figures.Named(name)
	v, err := ParseNumber(c.String(name), f.Low, f.High)
	if err == nil && !f.Allows(v) {
		err = notWhole(c.String(name), 0, len(c.String(name)))
	}
	return v, InFlag(name, err)
}

// Whole reads a flag whose figure comes in whole numbers.
func Whole(c *cli.Context, name string) (int, error) {
	v, err := Number(c, name, nil)
	return int(v), err
}

func notWhole(s string, offset, length int) error {
	return &sampling.SyntaxError{Input: s, Offset: offset, Length: max(length, 1), Problem: "this must be a whole number", Remedy: "write it without a point"}
}

// IsDecimal reports whether s is written as a plain decimal number.
func IsDecimal(s string) bool { return decimal.MatchString(s) }

var decimal = regexp.MustCompile(`^-?([0-9]+\.?[0-9]*|\.[0-9]+)$`)

// ParseNumber reads a plain decimal number. NaN, Inf, 1e9, 0x10, 1_000 and
// 0,5 are refused: a figure must mean the same to everyone who reads it.
func ParseNumber(s string, low, high float64) (float64, error) {
	fail := func(offset, length int, what, remedy string) (float64, error) {
		return 0, &sampling.SyntaxError{Input: s, Offset: offset, Length: max(length, 1), Problem: what, Remedy: remedy}
	}
	within := fmt.Sprintf("write a number from %s to %s", show.Plain(low), show.Plain(high))
	switch {
	case math.IsInf(high, 1) && low == 0:
		within = "write a number of 0 or more"
	case math.IsInf(high, 1):
		within = "write a number of " + show.Plain(low) + " or more"
	}
	switch i := strings.IndexByte(s, ','); {
	case i >= 0:
		return fail(i, 1, "a comma inside a number can be read two ways", "write decimals with a point (0.5) and thousands without a mark (1200)")
	case !IsDecimal(s):
		return fail(0, len(s), fmt.Sprintf("%q is not a number", s), within)
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || v < low || v > high {
		return fail(0, len(s), s+" is out of range", within)
	}
	return v, nil
}

// Wholes reads a flag that takes whole numbers with commas between them.
func Wholes(c *cli.Context, name, unsaid string) ([]int, error) {
	const most = 12
	f, text := figures.Named(name), unsaid
	if c.IsSet(name) {
		text = c.String(name)
	}
	var out []int
	offset := 0
	for _, part := range strings.Split(text, ",") {
		v, err := ParseNumber(part, f.Low, f.High)
		switch {
		case err != nil:
			return nil, InFlag(name, Within(text, offset, err))
		case !f.Allows(v):
			return nil, InFlag(name, notWhole(text, offset, len(part)))
		}
		out = append(out, int(v))
		offset += len(part) + 1
	}
	if len(out) > most {
		return nil, BadValue(name, text, fmt.Sprintf("%d numbers are more than a table can hold", len(out)), fmt.Sprintf("give at most %d", most))
	}
	return out, nil
}

// Described is a flag as help shows it.
type Described struct {
	Name        string // with its dashes, and a short name before it
	Placeholder string // what stands for its value, "" for a switch
	What        string // what it says
	Default     string // what holds without it, "" when nothing does
}

// Visible reports whether help shows a flag.
func Visible(f cli.Flag) bool {
	v, ok := f.(cli.VisibleFlag)
	return !ok || v.IsVisible()
}

// DescribeFlag takes a flag apart. The placeholder is what its usage has in
// backquotes. It stays in the sentence only where it is a part of it: not behind
// a comma at the end, and not where it is a list of words, since it stands beside
// the name as well.
func DescribeFlag(f cli.Flag) Described {
	d := Described{Name: "--" + f.Names()[0], What: f.(cli.DocGenerationFlag).GetUsage()}
	for _, alias := range f.Names()[1:] {
		d.Name = "-" + alias + ", " + d.Name
	}
	if before, rest, ok := strings.Cut(d.What, "`"); ok {
		placeholder, after, _ := strings.Cut(rest, "`")
		d.Placeholder = placeholder
		bare, apposed := strings.CutSuffix(before, ", ")
		switch {
		case apposed && (after == "" || strings.HasPrefix(after, ",") || strings.HasPrefix(after, ":") || strings.HasPrefix(after, ";")):
			d.What = bare + after
		case strings.Contains(placeholder, "|"):
			d.What = strings.ReplaceAll(strings.Join(strings.Fields(bare+" "+after), " "), " ,", ",")
		default:
			d.What = before + placeholder + after
		}
	}
	if s, ok := f.(*cli.StringFlag); ok {
		d.Default = s.DefaultText
		if d.Default == "" {
			d.Default = s.Value
		}
	}
	return d
}
