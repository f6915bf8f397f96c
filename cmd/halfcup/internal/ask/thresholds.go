package ask

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
)

// ThresholdFlags say which line a colony is held against, and what it costs to
// be wrong about it.
func ThresholdFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "thresholds", Value: decide.DefaultThresholds, Usage: "set of lines by season, `NAME|FILE`: " + strings.Join(thresholdSets(), ", ") + ", or a CSV file of your own"},
		&cli.StringFlag{Name: "watch", Usage: "the line to look closer, `MITES` per hundred bees", DefaultText: "by season, see --thresholds"},
		&cli.StringFlag{Name: "act", Usage: "the line to act at, `MITES` per hundred bees", DefaultText: "by season, see --thresholds"},
		&cli.StringFlag{Name: "miss-cost", Value: show.Plain(decide.DefaultMissCost), Usage: "how many needless treatments one missed one is worth, `N`"},
	}
}

func thresholdSets() []string {
	var names []string
	for _, t := range decide.Thresholds() {
		if len(names) == 0 || names[len(names)-1] != t.Set {
			names = append(names, t.Set)
		}
	}
	return names
}

// readThresholds is the line of every phase: the set that was named, with --watch
// and --act or their settings in its place where they were given.
func readThresholds(sh *line.Shell, c *cli.Context) ([]decide.Threshold, error) {
	name := decide.DefaultThresholds
	if own := sh.Settings.Thresholds; own != nil {
		name = *own
	}
	if c.IsSet("thresholds") {
		name = c.String("thresholds")
	}
	sh.Files.Reads("the table of lines", name)
	set, err := thresholdSet(name)
	if err != nil && sh.Settings.Thresholds != nil && !c.IsSet("thresholds") {
		return nil, sh.InSettings("thresholds", err)
	}
	if err != nil {
		return nil, err
	}
	watch, act := sh.Settings.Watch, sh.Settings.Act
	for _, f := range []struct {
		name string
		own  **float64
	}{{"watch", &watch}, {"act", &act}} {
		if c.IsSet(f.name) {
			v, err := line.Number(c, f.name, nil)
			if err != nil {
				return nil, err
			}
			*f.own = &v
		}
	}
	switch {
	case watch == nil && act == nil:
		return set, nil
	case watch != nil && act != nil && *watch > *act && !c.IsSet("watch") && !c.IsSet("act"):
		return nil, sh.InSettings("watch", &show.Problem{Remedy: "write a level at or below act"})
	case watch != nil && act != nil && *watch > *act:
		return nil, &show.Problem{What: fmt.Sprintf("the line to look closer, %s, is above the line to act, %s", show.Plain(*watch), show.Plain(*act)), Remedy: "give --watch a level at or below --act"}
	}
	for i := range set {
		t := &set[i]
		if act != nil {
			t.Act, t.Watch = *act, min(t.Watch, *act)
		}
		if watch != nil {
			t.Watch, t.Act = *watch, max(t.Act, *watch)
		}
		t.Set, t.Source, t.Kind = "own", "your own line", "your own"
	}
	return set, nil
}

// thresholdSet is a set by its name, or the one in a file. What looks like a
// file name is one.
func thresholdSet(name string) ([]decide.Threshold, error) {
	if filepath.Ext(name) == "" && !strings.ContainsAny(name, `/\`) {
		set, err := decide.ThresholdSet(name)
		return set, line.InFlag("thresholds", err)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	set, err := parseThresholds(f)
	var bad *tableError
	if errors.As(err, &bad) {
		return nil, &show.Problem{File: name, Line: bad.Line, Column: bad.Column, What: bad.Problem, Remedy: bad.Remedy}
	}
	if err != nil {
		return nil, err
	}
	for _, t := range set {
		if t.Set != set[0].Set {
			return nil, &show.Problem{File: name, What: fmt.Sprintf("it holds two sets, %s and %s", set[0].Set, t.Set), Remedy: "keep one set in a file"}
		}
	}
	return set, nil
}
