// Seasontrial plays seasons of invented colonies, in which the true number of
// mites is known, and compares ways of looking after them: how many bees
// counting killed, how many treatments were missed or needless, and whether the
// chances that halfcup tells come true. It is for people who change halfcup.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"golang.org/x/term"

	"halfcup/cmd/internal/show"
	"halfcup/cmd/seasontrial/internal/trial"
	"halfcup/decide"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

// The most a trial may be asked to play.
const (
	mostColonies = 10_000
	mostMonths   = 12
)

// about is the head of the help.
const about = "Plays seasons of invented colonies day by day, from the first of April on, and lets several ways of looking after them face the same colonies. " +
	"The colonies are not made by the model that halfcup believes in. A treatment is four rounds of oxalic acid vapour, five days apart, and no honey supers are in the way. " +
	"The same seed gives the same answer. It uses halfcup's own defaults and neither a record nor settings."

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// run is the whole program: it writes the answer to stdout and everything else
// to stderr, and returns the exit code.
func run(args []string, stdout, stderr io.Writer) int {
	err := play(args, stdout, stderr)
	var problem *show.Problem
	switch {
	case err == nil:
		return 0
	case errors.As(err, &problem):
		fmt.Fprint(stderr, problem.Layout("seasontrial: error: "))
		return 2
	}
	fmt.Fprintln(stderr, "seasontrial: error:", err)
	return 1
}

// question is what was asked for.
type question struct {
	trial.Options
	format  string
	plot    string
	sources bool
	replay  string
	earlier int
}

func play(args []string, stdout, stderr io.Writer) error {
	q, help, err := read(args, stdout)
	switch {
	case err != nil || help:
		return err
	case q.sources:
		return printSources(stdout)
	case q.replay != "":
		return replay(q, stdout)
	}
	stop := watch(&q.Options, stderr)
	r, err := trial.Run(q.Options)
	stop()
	if err != nil {
		return err
	}
	if q.plot != "" {
		if err := os.WriteFile(q.plot, trialChart(r).SVG(), 0o666); err != nil {
			return err
		}
	}
	switch q.format {
	case "json":
		return show.JSON(stdout, "halfcup.trial/1", trialAnswer(r), map[string]any{"warnings": []string{}})
	case "csv":
		return trialCSV(r).Write(stdout)
	}
	page := show.NewPage(stdout)
	printTrial(stdout, page, r)
	_, err = fmt.Fprint(stdout, "\n", page.Wrap(trialClosing(r), 0))
	return err
}

// read reads the flags. It reports whether help was asked for, and given.
func read(args []string, stdout io.Writer) (q question, help bool, err error) {
	flags := flag.NewFlagSet("seasontrial", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.Uint64Var(&q.Seed, "seed", 1, "where the random numbers begin, `N`")
	flags.IntVar(&q.Colonies, "colonies", 200, "how many colonies, `N`")
	flags.IntVar(&q.Months, "months", 7, "for how many months, `N`")
	flags.Func("setting", "play only the setting `NAME`, may be repeated; without it "+strings.Join(trial.UsualSettings(), ", ")+". All of them: "+strings.Join(trial.SettingNames(), ", "), func(name string) error {
		q.Settings = append(q.Settings, name)
		return nil
	})
	flags.BoolVar(&q.Changes, "changes", false, "play choose with one thing changed at a time as well")
	flags.Float64Var(&q.MissCost, "miss-cost", decide.DefaultMissCost, "how many needless treatments one missed one is worth, `N`")
	flags.Float64Var(&q.MinWorth, "min-worth", decide.DefaultMinWorth, "least worth of a look that choose advises, in needless treatments, `N`")
	flags.StringVar(&q.format, "format", "text", "how the answer is written, `text|json|csv`")
	flags.StringVar(&q.plot, "plot", "", "draw it into `FILE.svg` as well")
	flags.BoolVar(&q.sources, "sources", false, "list the figures of the colonies with where they come from, as CSV")
	flags.StringVar(&q.replay, "replay", "", "foretell the washes of the table `FILE.csv` (colony, yard, treatment, visit, date, mites, bees) in place of a trial")
	flags.IntVar(&q.earlier, "earlier", 40, "for the replay, how many days earlier than usual the year of those colonies is, `N`")
	err = flags.Parse(args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(stdout, show.NewPage(stdout).Wrap(about, 0), "\n")
		flags.SetOutput(stdout)
		flags.PrintDefaults()
		return q, true, nil
	case err != nil:
		return q, false, &show.Problem{What: err.Error(), Remedy: "seasontrial --help lists the flags"}
	case flags.NArg() > 0:
		return q, false, &show.Problem{What: fmt.Sprintf("the trial takes no %q", flags.Arg(0)), Remedy: "its colonies are invented: leave it out"}
	}
	return q, false, q.check()
}

func (q question) check() error {
	for _, f := range []struct {
		name           string
		v, least, most float64
	}{
		{"colonies", float64(q.Colonies), 1, mostColonies},
		{"months", float64(q.Months), 1, mostMonths},
		{"miss-cost", q.MissCost, 0.1, 100},
		{"min-worth", q.MinWorth, 0, 3},
		{"earlier", float64(q.earlier), -180, 180},
	} {
		if !(f.v >= f.least && f.v <= f.most) {
			return &show.Problem{What: fmt.Sprintf("--%s %s is out of range", f.name, show.Plain(f.v)), Remedy: fmt.Sprintf("write a number from %s to %s", show.Plain(f.least), show.Plain(f.most))}
		}
	}
	for _, name := range q.Settings {
		if known := trial.SettingNames(); !slices.Contains(known, name) {
			return &show.Problem{What: fmt.Sprintf("%q is not a setting", name), Remedy: meant.OneOf(name, known)}
		}
	}
	if formats := []string{"text", "json", "csv"}; !slices.Contains(formats, q.format) {
		return &show.Problem{What: fmt.Sprintf("%q is not a format", q.format), Remedy: meant.OneOf(q.format, formats)}
	}
	if q.plot != "" && !strings.HasSuffix(q.plot, ".svg") {
		return &show.Problem{What: "the picture is an SVG file", Remedy: "give it a name that ends in .svg"}
	}
	return nil
}

// replay lets halfcup foretell the washes of a table.
func replay(q question, stdout io.Writer) error {
	file, err := os.Open(q.replay)
	if err != nil {
		return err
	}
	defer file.Close()
	washes, err := trial.ReadWashes(file)
	if err != nil {
		return fmt.Errorf("%s: %w", q.replay, err)
	}
	engine, err := trial.Engine(q.earlier)
	if err != nil {
		return err
	}
	r, err := trial.Replay(washes, engine)
	if err != nil {
		return err
	}
	printReplay(stdout, show.NewPage(stdout), r)
	return nil
}

// watch shows how far the trial is, on a terminal only. The function it gives
// back ends that.
func watch(o *trial.Options, stderr io.Writer) (stop func()) {
	f, ok := stderr.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return func() {}
	}
	o.Progress = func(done, all int) { fmt.Fprintf(f, "\rplaying: %d of %d yards", done, all) }
	return func() { fmt.Fprint(f, "\r\x1b[K") }
}

// printSources lists the figures of the colonies.
func printSources(w io.Writer) error {
	t := show.CSV{Head: []string{"name", "value", "unit", "what", "source", "kind"}}
	for _, s := range trial.Sources() {
		t.Rows = append(t.Rows, row(s))
	}
	return t.Write(w)
}

func row(s sampling.Source) []any {
	return []any{s.Name, s.Value, s.Unit, s.What, s.Source, s.Kind}
}
