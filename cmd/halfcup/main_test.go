package main

import (
	"errors"
	"flag"
	"log"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"testing/iotest"

	"github.com/rogpeppe/go-internal/testscript"

	"halfcup/internal/long"
)

// go test ./cmd/halfcup -update writes the answers of today into the scripts
// and the README; look at the diff before it is committed.
var update = flag.Bool("update", false, "rewrite expected output")

// TestMain makes of the test binary the program itself, where it is started under
// the program's name, and puts it in front of PATH under that name.
func TestMain(m *testing.M) {
	if strings.TrimSuffix(filepath.Base(os.Args[0]), ".exe") == "halfcup" {
		main()
	}
	long.Draws(4, 15)
	os.Exit(besideTheProgram(m.Run))
}

func besideTheProgram(run func() int) int {
	bin, err := os.MkdirTemp("", "halfcup-test")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(bin)
	self, err := os.Executable()
	if err != nil {
		log.Fatal(err)
	}
	program := filepath.Join(bin, "halfcup")
	if runtime.GOOS == "windows" {
		program += ".exe"
	}
	if err := os.Link(self, program); err != nil {
		data, err := os.ReadFile(self)
		if err == nil {
			err = os.WriteFile(program, data, 0o777)
		}
		if err != nil {
			log.Fatal(err)
		}
	}
	os.Setenv("PATH", bin+string(filepath.ListSeparator)+os.Getenv("PATH"))
	return run()
}

// In a script a line that begins with halfcup runs the program inside the test,
// which costs less than half; exec halfcup, and halfcup in a shell, start
// it, as what it does with stdin, pipes, signals and a full disk needs.
func TestScripts(t *testing.T) {
	dir, err := filepath.Abs("testdata/script") // another script may stand elsewhere
	if err != nil {
		t.Fatal(err)
	}
	demo, err := filepath.Abs("../../testdata/demo/mill.csv")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:           dir,
		UpdateScripts: *update,
		Setup: func(env *testscript.Env) error {
			env.Setenv("DEMO", demo)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"halfcup": inside, "chomp": chomp, "rounded": roundedNumbers},
	})
}

// folder is held by the script whose folder is the one the program runs in.
var folder sync.Mutex

// inside runs the program without starting it.
func inside(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) > 0 && args[len(args)-1] == "&" {
		ts.Fatalf("write exec halfcup to start it beside the script")
	}
	folder.Lock()
	defer folder.Unlock()
	back, err := os.Getwd()
	ts.Check(err)
	ts.Check(os.Chdir(ts.MkAbs(".")))
	defer os.Chdir(back)
	stdin := iotest.ErrReader(errors.New("write exec halfcup to give it something on stdin"))
	switch code := run(args, stdin, ts.Stdout(), ts.Stderr()); {
	case neg && code == 0:
		ts.Fatalf("unexpected success")
	case !neg && code != 0:
		ts.Fatalf("exit %d", code)
	}
}

// chomp FILE takes the last line end off a file, which the scripts themselves
// cannot hold.
func chomp(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: chomp FILE")
	}
	text := strings.TrimSuffix(ts.ReadFile(args[0]), "\n")
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o666))
}

// rounded FILE writes the file, its long numbers cut to nine digits, to the
// file called rounded: processors that multiply and add in one step differ in
// the last digits.
func roundedNumbers(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: rounded FILE")
	}
	text := longNumber.ReplaceAllStringFunc(ts.ReadFile(args[0]), func(s string) string {
		v, err := strconv.ParseFloat(s, 64)
		ts.Check(err)
		return strconv.FormatFloat(v, 'g', 9, 64)
	})
	ts.Check(os.WriteFile(ts.MkAbs("rounded"), []byte(text), 0o666))
}

var longNumber = regexp.MustCompile(`-?\d+\.\d{10,}(e[-+]?\d+)?`)
