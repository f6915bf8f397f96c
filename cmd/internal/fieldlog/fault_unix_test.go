//go:build unix

package fieldlog

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"halfcup/internal/long"
)

// The test binary runs itself as another process. The first word of childEnv
// says what that process does.
const childEnv = "FIELDLOG_TEST_CHILD"

func TestMain(m *testing.M) {
	if job := os.Getenv(childEnv); job != "" {
		os.Exit(child(strings.Split(job, "|")))
	}
	os.Exit(m.Run())
}

// child appends to the record at words[1] and prints a line for every row that
// is acknowledged.
func child(words []string) int {
	path, name := words[1], words[2]
	n, err := strconv.Atoi(words[3])
	if err != nil {
		panic(err)
	}
	if words[0] == "limited" {
		// A write past the limit must fail, not kill: that is what a disk does.
		signal.Ignore(syscall.SIGXFSZ)
		limit := syscall.Rlimit{Cur: uint64(n), Max: uint64(n)}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
			panic(err)
		}
		n = 1
	}
	if words[0] == "several" {
		fmt.Println("ready")
		_, err := Append(path, severalOf(name), Options{Wait: time.Minute})
		if err != nil {
			fmt.Println(err)
			return 1
		}
		fmt.Println("told")
		return 0
	}
	for i := range n {
		e := rolled(name, 1+i%28, i)
		e.Note = noteOf(i)
		_, err := Append(path, []Event{e}, Options{Wait: time.Minute})
		var same *DuplicateError
		if errors.As(err, &same) {
			continue
		}
		if err != nil {
			fmt.Println(err)
			return 1
		}
		fmt.Println(i)
	}
	return 0
}

// noteOf makes the rows of many lengths.
func noteOf(i int) string { return strings.Repeat("a note; ", i%20) + "the end" }

// severalOf is a line of twelve counts with notes, more than a page of a file.
func severalOf(name string) []Event {
	var out []Event
	for i := range 12 {
		e := rolled(name, 1+i, i)
		e.Note = strings.Repeat("wind and rain. ", 40)
		out = append(out, e)
	}
	return out
}

var kills = flag.Int("kills", long.Of(10, 30), "how many appends are killed, of one row and of several")

// Appends of twelve rows are killed at moments spread over their run, and the
// line is typed again.
func TestSeveralKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "halfcup.csv")
	none, all, told, intents := 0, 0, 0, 0
	for k := range *kills {
		name := fmt.Sprint("killed ", k)
		c := command("several", path, name, 0)
		out, err := c.StdoutPipe()
		if err == nil {
			err = c.Start()
		}
		if err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		lines.Scan()
		time.Sleep(time.Duration(k*7919%4000) * 5 * time.Microsecond)
		c.Process.Signal(syscall.SIGKILL)
		saidSo := lines.Scan() && lines.Text() == "told"
		c.Wait() //nolint:errcheck // it was killed
		if _, err := os.Stat(intentPath(path)); err == nil {
			intents++
		}
		n := 0
		if r, err := Open(path); err == nil {
			n = len(r.byColony[Colony{"mill", name}])
			if len(r.Problems) > 0 {
				t.Fatal(problemsOf(r.Problems))
			}
		} else if !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
		switch {
		case n == 12:
			all++
		case n == 0 && !saidSo:
			none++
		default:
			t.Fatalf("kill %d: %d of 12 rows are there, told %v", k, n, saidSo)
		}
		if saidSo {
			told++
			continue
		}
		_, err = Append(path, severalOf(name), Options{})
		var same *DuplicateError
		if err != nil && !(errors.As(err, &same) && n == 12) {
			t.Fatalf("kill %d, typed again: %v", k, err)
		}
	}
	t.Logf("%d kills: %d left nothing, %d all rows (%d of them were told), %d an intent", *kills, none, all, told, intents)
}

func command(job, path, name string, n int) *exec.Cmd {
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), childEnv+"="+strings.Join([]string{job, path, name, strconv.Itoa(n)}, "|"))
	return c
}

// rowsIn counts the rows of each child in a record, by the number of mites, and
// fails when any row is not whole.
func rowsIn(t *testing.T, path string) (found map[string]map[int]int, total int) {
	t.Helper()
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	found = map[string]map[int]int{}
	for _, e := range r.Events {
		if found[e.Colony] == nil {
			found[e.Colony] = map[int]int{}
		}
		found[e.Colony][e.Count.Mites]++
		if want := noteOf(e.Count.Mites); e.Note != want {
			t.Errorf("line %d is not as it was written", e.Line)
		}
	}
	return found, len(r.Events)
}

// Eight processes write rows at once, the first of them the file itself.
func TestAppendAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "halfcup.csv")
	const processes = 8
	all := long.Of(80, 300)
	var wait sync.WaitGroup
	for p := range processes {
		n := all / processes
		if p < all%processes {
			n++
		}
		wait.Go(func() {
			if out, err := command("append", path, fmt.Sprint("process ", p), n).CombinedOutput(); err != nil {
				t.Errorf("process %d: %v\n%s", p, err, out)
			}
		})
	}
	wait.Wait()
	found, total := rowsIn(t, path)
	if total != all {
		t.Errorf("%d rows, want %d", total, all)
	}
	for name, counts := range found {
		for i, n := range counts {
			if n != 1 {
				t.Errorf("row %d of %s is there %d times", i, name, n)
			}
		}
	}
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Problems) != 0 || strings.Count(content(t, path), "date,yard") != 1 {
		t.Error(problemsOf(r.Problems))
	}
}

// Eight processes write the same rows at once: each row is written by one of
// them, and the others are told that it is there. One write for a row is not
// enough for that; looking and writing must be one step.
func TestAppendSameAtOnce(t *testing.T) {
	const processes, all = 8, 40
	path := filepath.Join(t.TempDir(), "halfcup.csv")
	var wait sync.WaitGroup
	written := make([]string, processes)
	for p := range processes {
		wait.Go(func() {
			out, err := command("append", path, "alder", all).Output()
			if err != nil {
				t.Errorf("process %d: %v", p, err)
			}
			written[p] = string(out)
		})
	}
	wait.Wait()
	found, total := rowsIn(t, path)
	if lines := strings.Count(strings.Join(written, ""), "\n"); lines != all || total != all || len(found["alder"]) != all {
		t.Errorf("%d rows of %d were acknowledged, %d are there", lines, all, total)
	}
	if strings.Count(content(t, path), "date,yard") != 1 {
		t.Error("the columns are named more than once")
	}
}

// Processes are killed while they append, two at a time on one
// record. Whatever one of them was told is written is there, whole.
func TestAppendKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "halfcup.csv")
	const atATime = 2
	kills := *kills
	acknowledged := make([]int, kills)
	next := make(chan int)
	var wait sync.WaitGroup
	for range atATime {
		wait.Go(func() {
			for k := range next {
				c := command("append", path, fmt.Sprint("killed ", k), 1_000_000)
				out, err := c.StdoutPipe()
				if err == nil {
					err = c.Start()
				}
				if err != nil {
					t.Error(err)
					return
				}
				lines := bufio.NewScanner(out)
				for range k % 3 {
					if lines.Scan() {
						acknowledged[k]++
					}
				}
				// The process does nothing but append, so that any moment is in
				// the middle of one; these are spread over a whole append.
				time.Sleep(time.Duration(k*37%400) * 10 * time.Microsecond)
				c.Process.Signal(syscall.SIGKILL)
				for lines.Scan() {
					acknowledged[k]++
				}
				var killed *exec.ExitError
				if err := c.Wait(); !errors.As(err, &killed) || killed.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL {
					t.Errorf("process %d was not killed: %v", k, err)
				}
			}
		})
	}
	for k := range kills {
		next <- k
	}
	close(next)
	wait.Wait()

	found, total := rowsIn(t, path)
	told := 0
	for k, n := range acknowledged {
		told += n
		for i := range n {
			if got := found[fmt.Sprint("killed ", k)][i]; got != 1 {
				t.Errorf("process %d was told that row %d is written; it is there %d times", k, i, got)
			}
		}
	}
	if told < kills/2 {
		t.Errorf("only %d rows were acknowledged: the test shows little", told)
	}
	t.Logf("%d rows acknowledged before %d kills, %d rows in the record", told, kills, total)
}

// The file may not grow beyond some byte of the new row, as on a disk that is
// full then: the part of it that was written is taken back.
func TestAppendFileSizeLimit(t *testing.T) {
	path := filepath.Join(t.TempDir(), "halfcup.csv")
	mustAppend(t, path, rolled("alder", 1, 6))
	before := content(t, path)
	for room := 0; room < 50; room += long.Of(19, 1) {
		out, err := command("limited", path, "birch", len(before)+room).CombinedOutput()
		if err == nil || !strings.Contains(string(out), "the disk is full: make room and write the row again; the record is as it was") {
			t.Errorf("%d bytes of room: %v\n%s", room, err, out)
		}
		if got := content(t, path); got != before {
			t.Errorf("%d bytes of room: the record has changed:\n%s", room, got)
		}
	}
	mustAppend(t, path, rolled("birch", 1, 6))
}

func TestAppendFolderGone(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "yard")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, "halfcup.csv")
	mustAppend(t, path, rolled("alder", 1, 6))
	if err := os.RemoveAll(folder); err != nil {
		t.Fatal(err)
	}
	wantFileError(t, path, "its folder is not there")
	if _, err := os.Stat(folder); err == nil {
		t.Error("the folder was made anew")
	}
}

func TestAppendToFolder(t *testing.T) {
	wantFileError(t, t.TempDir(), "it is a folder")
}

// wantFileError makes sure that an append fails with a plain reason and a
// remedy, and changes nothing.
func wantFileError(t *testing.T, path, problem string) {
	t.Helper()
	before, readErr := os.ReadFile(path)
	_, err := Append(path, []Event{rolled("birch", 2, 6)}, Options{})
	var failed *FileError
	if !errors.As(err, &failed) || failed.Problem != problem || failed.Remedy == "" || failed.Err == nil || failed.Path != path {
		t.Errorf("got %#v, want %q", err, problem)
	}
	if after, _ := os.ReadFile(path); readErr == nil && string(after) != string(before) {
		t.Errorf("the record has changed:\n%s", after)
	}
}
