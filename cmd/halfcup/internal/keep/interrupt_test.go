package keep

import (
	"context"
	"io"
	"strings"
	"testing"
	"time"
)

// stopping is an output that interrupts its batch at one of its writes, and
// holds it up until the table has come to its end.
type stopping struct {
	cancel context.CancelFunc
	at     int
}

func (s *stopping) Write(p []byte) (int, error) {
	if s.at--; s.at == 0 {
		s.cancel()
		time.Sleep(2 * time.Millisecond)
	}
	return len(p), nil
}

// Whoever interrupts is told so, also when the table ends in the same moment: a
// channel that is closed and a context that is done are both ready then, and
// which of them is taken is left to chance.
func TestBatchInterruptedIsNoSuccess(t *testing.T) {
	for at := range 3 { // before it begins, in the head, in the last row
		for range 40 {
			ctx, cancel := context.WithCancel(context.Background())
			if at == 0 {
				cancel()
			}
			b := &batch{
				reader: &batchReader{workers: 1, date: "2026-06-01"}, name: "survey.csv", stderr: io.Discard, out: &stopping{cancel, at},
				in:      strings.NewReader("method,mites,bees\nshort\n"),
				columns: [figures]string{"method", "mites", "bees", "-", "-", "-", "-", "-"},
			}
			if err := b.run(ctx); err == nil || !strings.HasPrefix(err.Error(), "interrupted after 0 rows") {
				t.Fatalf("interrupted at write %d it ends with %v", at, err)
			}
		}
	}
}
