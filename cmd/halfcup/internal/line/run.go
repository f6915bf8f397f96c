// Package line reads what was typed and writes the answer: the arguments, the
// flags and the settings, errors and exit codes. It opens the record too, once for
// each line, and leaves to other packages what any of it means.
package line

import (
	"bytes"
	"fmt"
	"io"
	"runtime/debug"
	"slices"
	"time"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/out"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// Version is that of the program.
const Version = "0.1.0"

// DefaultRecord is the record that is used when it is there and no other is
// named. Only a command that writes rows creates it.
const DefaultRecord = "halfcup.csv"

// Exit codes.
const (
	ExitDone    = 0
	ExitFailed  = 1 // the machine or we are at fault
	ExitUsage   = 2 // what was typed cannot be used
	ExitBadData = 3 // a file holds something that cannot be used
)

// Shell is what every command is given: the streams, and the shared flags
// once they are read.
type Shell struct {
	In     io.Reader
	Stdout io.Writer // only a command that streams writes here itself
	Stderr io.Writer

	// out collects the answer. It reaches stdout only when the command ends
	// well, so that an error never leaves half an answer behind.
	Out bytes.Buffer

	App      *cli.App
	Page     show.Page // how text is laid out
	Format   string    // text, json or csv
	Explain  bool      // tell it to a learner as well
	Today    sampling.Date
	LogFile  string // where the record is
	LogNamed bool   // whether --log said so: only then must the file exist
	Settings Settings

	settingsFile settingsFile

	// Doubts are what every answer from the record has to tell of it.
	Doubts []string

	// Done is what the line has done already when its answer cannot be
	// written, a clause; "" when nothing.
	Done string

	// Files are the outputs of the line, which must not take the place of
	// anything it reads.
	Files out.Files

	record  *fieldlog.Record    // once it was read
	leftOut []*fieldlog.Problem // rows of it that the answer does not rest on
}

// Program is what is put around the shell: the commands by group, and the help.
type Program struct {
	Commands []func(*Shell) []*cli.Command
	Welcome  func(*Shell)           // what is shown when nothing was typed
	Help     func(*Shell, Arranged) // help on a page, on a command, or on all when none is named
}

// Run is the whole program: it reads args (without the program's name), writes
// the answer to stdout and everything else to stderr, and returns the exit code.
func (p Program) Run(args []string, stdin io.Reader, stdout, stderr io.Writer) (code int) {
	defer func() {
		if p := recover(); p != nil {
			reportBug(stderr, args, p, debug.Stack())
			code = ExitFailed
		}
	}()
	sh := &Shell{In: stdin, Stdout: stdout, Stderr: stderr, Today: sampling.DateOf(time.Now())}
	sh.Page = show.NewPage(stdout)
	sh.App = p.App(sh)
	if err := p.execute(sh, args); err != nil {
		sh.tellLeftOut(stderr)
		return printError(stderr, err)
	}
	text := sh.Out.String()
	if sh.Format != "csv" {
		text = show.Marked(text)
	}
	if sh.Page.ASCII && (sh.Format == "text" || sh.Format == "") {
		text = show.ToASCII(text)
	}
	if _, err := io.WriteString(stdout, text); err != nil {
		return printError(stderr, &outputError{err: err, done: sh.Done})
	}
	sh.tellLeftOut(stderr)
	if sh.leftOut != nil && sh.Done == "" {
		return ExitBadData
	}
	return ExitDone
}

// App puts the commands together. The arguments are arranged and checked
// by us before cli sees them, and help is ours, so cli's own is switched off.
func (p Program) App(sh *Shell) *cli.App {
	app := &cli.App{
		Name:                      "halfcup",
		Usage:                     "from mite counts to what to do about them",
		Version:                   Version,
		Flags:                     sharedFlags(),
		Writer:                    &sh.Out,
		ErrWriter:                 sh.Stderr,
		HideHelp:                  true,
		HideVersion:               true,
		DisableSliceFlagSeparator: true,
		ExitErrHandler:            func(*cli.Context, error) {},
		OnUsageError:              usageError,
		Before:                    sh.prepare,
	}
	for _, group := range p.Commands {
		app.Commands = append(app.Commands, group(sh)...)
	}
	Walk(app.Commands, func(c *cli.Command) {
		c.HideHelp = true
		c.OnUsageError = usageError // not inherited
	})
	return app
}

// Walk visits every command and subcommand.
func Walk(commands []*cli.Command, visit func(*cli.Command)) {
	for _, c := range commands {
		visit(c)
		Walk(c.Subcommands, visit)
	}
}

func (p Program) execute(sh *Shell, args []string) error {
	line, err := Arrange(sh.App, args)
	switch {
	case err != nil:
		return err
	case line.Version:
		fmt.Fprintln(&sh.Out, "halfcup", Version)
		return nil
	case len(line.Path) == 0 && !line.Help && len(args) == 0:
		p.Welcome(sh)
		return nil
	case len(line.Path) == 0 || line.Help:
		sh.Page.ASCII = sh.Page.ASCII || slices.Contains(line.shared, "--ascii")
		p.Help(sh, line)
		return nil
	}
	return sh.App.Run(line.Canonical())
}

// prepare reads the shared flags. It runs before every command.
func (sh *Shell) prepare(c *cli.Context) error {
	var err error
	if sh.Format, err = Choice(c, "format", "text", "json", "csv"); err != nil {
		return err
	}
	color, err := Choice(c, "color", "auto", "always", "never")
	if err != nil {
		return err
	}
	sh.Page.SetColor(color)
	sh.Explain = c.Bool("explain")
	if c.IsSet("today") {
		if sh.Today, err = Date(c, "today"); err != nil {
			return err
		}
	}
	if sh.LogFile, sh.LogNamed, err = File(c, "log", DefaultRecord); err != nil {
		return err
	}
	sh.Files.Reads("the record", sh.LogFile)
	name, named, err := File(c, "settings", DefaultSettings)
	if err != nil {
		return err
	}
	sh.Files.Reads("the settings", name)
	if sh.App.Command(c.Args().First()).Category == GroupProgram {
		return nil
	}
	if sh.Settings, sh.settingsFile, err = readSettings(name, named); err != nil {
		return err
	}
	for _, own := range []struct {
		flag    string
		setting *bool
		into    *bool
	}{{"ascii", sh.Settings.ASCII, &sh.Page.ASCII}, {"no-picture", sh.Settings.NoPicture, &sh.Page.NoPicture}} {
		switch {
		case c.Bool(own.flag):
			*own.into = true
		case own.setting != nil:
			*own.into = *own.setting
		}
	}
	return nil
}
