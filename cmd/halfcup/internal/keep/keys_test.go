package keep

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/sampling"
)

// A yard of 22 hives is written down with the keys that this says, by three
// ways to the same record. What is typed is a key each, with Enter; quotes and
// blanks count.
func TestKeysOfAYard(t *testing.T) {
	mites := []int{0, 3, 1, 12, 0, 0, 2, 5, 1, 0, 4, 7, 0, 2, 1, 0, 3, 18, 0, 1, 2, 6}
	const before = "date,yard,colony,event\n"
	begin := before
	var equals, asked strings.Builder
	equals.WriteString("halfcup add roll")
	asked.WriteString("halfcup add roll -\n")
	long := 0
	for i, n := range mites {
		begin += fmt.Sprintf("2026-05-01,mill,%d,inspection\n", i+1)
		fmt.Fprintf(&equals, " %d=%d", i+1, n)
		fmt.Fprintf(&asked, "%d\n", n)
		long += len(fmt.Sprintf("halfcup log add --yard mill --colony %d roll:%d/0.5cup\n", i+1, n))
	}
	equals.WriteString("\n")
	t.Logf("keys for %d hives: %d hive by hive, %d as NAME=MITES, %d row by row", len(mites), asked.Len(), equals.Len(), long)
	if asked.Len() > 65 || equals.Len() > 143 {
		t.Errorf("%d and %d keys", asked.Len(), equals.Len())
	}
	want := ""
	for _, typed := range []string{equals.String(), asked.String()} {
		t.Chdir(t.TempDir())
		if err := os.WriteFile("halfcup.csv", []byte(begin), 0o666); err != nil {
			t.Fatal(err)
		}
		first, rest, _ := strings.Cut(typed, "\n")
		run(t, strings.Fields(first)[1:], strings.NewReader(rest))
		r, err := fieldlog.Open("halfcup.csv")
		if err != nil {
			t.Fatal(err)
		}
		if want == "" {
			want = fmt.Sprint(counts(r))
		}
		if got := fmt.Sprint(counts(r)); got != want || len(counts(r)) != len(mites) {
			t.Errorf("%q wrote\n%s\nwant\n%s", first, got, want)
		}
	}
}

func counts(r *fieldlog.Record) (out []sampling.Count) {
	for _, e := range r.Once() {
		if e.Count != nil {
			out = append(out, *e.Count)
		}
	}
	return out
}

// run is a line of the program with the commands of this group.
func run(t *testing.T, args []string, in io.Reader) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	program := line.Program{Commands: []func(*line.Shell) []*cli.Command{Commands}}
	if code := program.Run(append(args, "--today", "2026-07-25"), in, &stdout, &stderr); code != line.ExitDone {
		t.Fatalf("%v: exit %d\n%s", args, code, &stderr)
	}
}
