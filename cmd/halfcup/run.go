package main

import (
	"bytes"
	"fmt"
	"io"
	"runtime/debug"
	"time"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/show"
	"halfcup/sampling"
)

const version = "0.1.0"

// defaultRecord is the record that is used when it is there and no other is
// named. Only log add creates it.
const defaultRecord = "halfcup.csv"

// Exit codes.
const (
	exitDone    = 0
	exitFailed  = 1 // the machine or we are at fault
	exitUsage   = 2 // what was typed cannot be used
	exitBadData = 3 // a file holds something that cannot be used
)

// shell is what every command is given: the streams, and the shared flags
// once they are read.
type shell struct {
	in     io.Reader
	stdout io.Writer // only a command that streams writes here itself
	stderr io.Writer

	// out collects the answer. It reaches stdout only when the command ends
	// well, so that an error never leaves half an answer behind.
	out bytes.Buffer

	app      *cli.App
	page     show.Page // how text is laid out
	format   string    // text, json or csv
	explain  bool      // tell it to a learner as well
	today    sampling.Date
	logFile  string // where the record is
	logNamed bool   // whether --log said so: only then must the file exist
	settings settings
}

// run is the whole program: it reads args (without the program's name), writes
// the answer to stdout and everything else to stderr, and returns the exit code.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) (code int) {
	defer func() {
		if p := recover(); p != nil {
			reportBug(stderr, args, p, debug.Stack())
			code = exitFailed
		}
	}()
	sh := &shell{in: stdin, stdout: stdout, stderr: stderr, today: sampling.DateOf(time.Now())}
	sh.page = show.NewPage(stdout)
	sh.app = newApp(sh)
	if err := sh.execute(args); err != nil {
		return printError(stderr, err)
	}
	text := sh.out.String()
	if sh.page.ASCII && sh.format == "text" {
		text = show.ToASCII(text)
	}
	if _, err := io.WriteString(stdout, text); err != nil {
		return printError(stderr, writeError(err))
	}
	return exitDone
}

// newApp puts the commands together. The arguments are arranged and checked
// by us before cli sees them, and help is ours, so cli's own is switched off.
func newApp(sh *shell) *cli.App {
	app := &cli.App{
		Name:                      "halfcup",
		Usage:                     "from mite counts to what to do about them",
		Version:                   version,
		Flags:                     sharedFlags(),
		Writer:                    &sh.out,
		ErrWriter:                 sh.stderr,
		HideHelp:                  true,
		HideVersion:               true,
		DisableSliceFlagSeparator: true,
		ExitErrHandler:            func(*cli.Context, error) {},
		OnUsageError:              usageError,
		Before:                    sh.prepare,
	}
	for _, c := range commands {
		app.Commands = append(app.Commands, c(sh))
	}
	walk(app.Commands, func(c *cli.Command) {
		c.HideHelp = true
		c.OnUsageError = usageError // not inherited
	})
	return app
}

// walk visits every command and subcommand.
func walk(commands []*cli.Command, visit func(*cli.Command)) {
	for _, c := range commands {
		visit(c)
		walk(c.Subcommands, visit)
	}
}

func (sh *shell) execute(args []string) error {
	line, err := arrange(sh.app, args)
	switch {
	case err != nil:
		return err
	case line.version:
		fmt.Fprintln(&sh.out, "halfcup", version)
		return nil
	case len(line.path) == 0 && !line.help && len(args) == 0:
		sh.printWelcome()
		return nil
	case len(line.path) == 0:
		sh.printHelp()
		return nil
	case line.help:
		sh.printCommandHelp(line.path)
		return nil
	}
	return sh.app.Run(line.canonical())
}

// prepare reads the shared flags. It runs before every command.
func (sh *shell) prepare(c *cli.Context) error {
	var err error
	if sh.format, err = choice(c, "format", "text", "json", "csv"); err != nil {
		return err
	}
	color, err := choice(c, "color", "auto", "always", "never")
	if err != nil {
		return err
	}
	sh.page.SetColor(color)
	sh.explain = c.Bool("explain")
	if c.IsSet("today") {
		if sh.today, err = date(c, "today"); err != nil {
			return err
		}
	}
	if sh.logFile, sh.logNamed, err = file(c, "log", defaultRecord); err != nil {
		return err
	}
	if sh.app.Command(c.Args().First()).Category == groupProgram {
		return nil
	}
	name, named, err := file(c, "settings", defaultSettings)
	if err != nil {
		return err
	}
	sh.settings, err = readSettings(name, named)
	return err
}
