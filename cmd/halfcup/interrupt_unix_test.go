//go:build unix

package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"halfcup/internal/long"
)

var interrupts = flag.Int("interrupts", long.Of(4, 15), "how many runs of batch are interrupted")

// Runs of batch are interrupted at moments spread over them, by the key and by
// the system, half of them on their way into a file and half into a pipe. None
// ends well with a part of the table, and the file is the old one or the whole
// new one, with nothing beside it. Naive: the program ends well whenever its
// last row comes up before the signal does, whatever was written.
func TestBatchInterrupted(t *testing.T) {
	t.Chdir(t.TempDir())
	var table strings.Builder
	table.WriteString("hive,method,mites,bees\n")
	for i := range 20_000 {
		fmt.Fprintf(&table, "h%d,wash,%d,%d\n", i, i%40, 200+i%300)
	}
	writeFile(t, "table.csv", table.String())
	args := func(more ...string) []string {
		return append([]string{"batch", "table.csv", "--no-call", "--date", "2026-06-20"}, more...)
	}
	begun := time.Now()
	whole, err := exec.Command("halfcup", args()...).Output()
	if err != nil || bytes.Count(whole, []byte("\n")) != 20_001 {
		t.Fatal(err)
	}
	most := time.Since(begun) * 5 / 4
	const old = "what stood here before\n"
	ends := map[string]int{}
	for i := range *interrupts {
		writeFile(t, "out.csv", old)
		c, into := exec.Command("halfcup", args()...), "pipe"
		if i%2 == 0 {
			c, into = exec.Command("halfcup", args("out.csv", "--rejects", "rejects.csv")...), "file"
		}
		var out bytes.Buffer
		c.Stdout, c.Stderr = &out, io.Discard
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rand.Int64N(int64(most))))
		sent := []os.Signal{os.Interrupt, syscall.SIGTERM}[i/2%2]
		c.Process.Signal(sent) //nolint:errcheck // it may have ended
		err := c.Wait()
		var exit *exec.ExitError
		if err != nil && !errors.As(err, &exit) {
			t.Fatal(err)
		}
		ends[fmt.Sprintf("%s: %v", into, c.ProcessState)]++
		got := out.Bytes()
		if into == "file" {
			if got, err = os.ReadFile("out.csv"); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, whole) && string(got) != old {
				t.Fatalf("run %d, %v: the file is neither the old nor the new one, but %d bytes", i, sent, len(got))
			}
		} else if n := len(got); n > 0 && got[n-1] != '\n' || !bytes.HasPrefix(whole, got) {
			t.Fatalf("run %d, %v: %d bytes are not whole rows", i, sent, n)
		}
		if ok := c.ProcessState.Success(); ok && !bytes.Equal(got, whole) {
			t.Fatalf("run %d, %v: it ended well with %d of %d bytes", i, sent, len(got), len(whole))
		}
		files, err := os.ReadDir(".")
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if strings.HasSuffix(f.Name(), ".part") {
				t.Fatalf("run %d, %v: %s is left", i, sent, f.Name())
			}
		}
		os.Remove("rejects.csv")
	}
	t.Logf("%d interrupts: %v", *interrupts, ends)
}
