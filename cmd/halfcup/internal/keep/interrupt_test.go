package keep

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"

	"halfcup/cmd/internal/rows"
)

// ending cancels a context at the moment its table comes to an end.
type ending struct {
	io.Reader
	cancel context.CancelFunc
}

func (e *ending) Read(p []byte) (int, error) {
	n, err := e.Reader.Read(p)
	if err == io.EOF {
		e.cancel()
	}
	return n, err
}

// Whoever interrupts is told so, also when the table ends in the same moment: a
// channel that is closed and a context that is done are both ready then, and
// which of them is taken is left to chance.
func TestBatchInterruptedIsNoSuccess(t *testing.T) {
	const table = "method,mites,bees\n"
	for _, at := range []string{"before it begins", "at the end of the table"} {
		for range 200 {
			ctx, cancel := context.WithCancel(context.Background())
			in := &ending{Reader: strings.NewReader(table), cancel: cancel}
			if at == "before it begins" {
				cancel()
			}
			var out, errs bytes.Buffer
			b := &batch{reader: &batchReader{workers: 1}, name: "survey.csv", in: in, out: &out, stderr: &errs, columns: columnsOf(t, table)}
			err := b.run(ctx)
			if err == nil || !strings.Contains(err.Error(), "interrupted after 0 rows") {
				t.Fatalf("interrupted %s it ends with %v", at, err)
			}
		}
	}
}

// columnsOf are the figures that a head of their own names holds.
func columnsOf(t *testing.T, table string) (names [figures]string) {
	t.Helper()
	head := rows.Line(table, 0, ',')
	for i, name := range figureNames {
		names[i] = "-"
		for _, c := range head.Cells {
			if c.Text == name {
				names[i] = name
			}
		}
	}
	return names
}
