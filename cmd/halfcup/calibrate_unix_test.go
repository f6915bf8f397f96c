//go:build unix

package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/gofrs/flock"

	"halfcup/cmd/halfcup/internal/line"
)

// A label is chosen while no other program can take it. Naive: it is chosen by
// the record as it was read first, so that a program that writes in between
// ties its counts to ours, and no pair is one any more.
func TestLabelIsTakenUnderTheLock(t *testing.T) {
	t.Chdir(t.TempDir())
	const record = "date,yard,colony,event,method,mites,amount,pair\n"
	writeFile(t, "halfcup.csv", record)
	held := flock.New("halfcup.csv")
	if err := held.Lock(); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	ended := make(chan int)
	go func() {
		ended <- run(strings.Fields("calibrate --pair roll:8/300,wash:2/300 --colony elm --save --today 2026-07-21"), nil, &out, &errs)
	}()
	select { // by then it has read the record, and waits
	case code := <-ended:
		t.Fatalf("it wrote what is locked: exit %d\n%s", code, errs.String())
	case <-time.After(time.Second / 3):
	}
	const theirs = "2026-07-20,,ash,count,roll,9,300,roll-1\n2026-07-20,,ash,count,wash,3,300,roll-1\n"
	writeFile(t, "halfcup.csv", record+theirs)
	if err := held.Unlock(); err != nil {
		t.Fatal(err)
	}
	if code := <-ended; code != line.ExitDone {
		t.Fatalf("exit %d\n%s", code, errs.String())
	}
	got, err := os.ReadFile("halfcup.csv")
	if want := record + theirs + "2026-07-21,,elm,count,roll,8,300,roll-2\n2026-07-21,,elm,count,wash,2,300,roll-2\n"; err != nil || string(got) != want {
		t.Errorf("%v\n%s", err, got)
	}
}
