//go:build unix

package fieldlog

import (
	"errors"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A pipe is said to be one. To open it would wait for ever.
func TestPipe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "halfcup.csv")
	if err := syscall.Mkfifo(path, 0o644); err != nil {
		t.Fatal(err)
	}
	_, readErr := Open(path)
	_, appendErr := Append(path, []Event{rolled("alder", 1, 1)}, Options{})
	for _, err := range []error{readErr, appendErr} {
		var failed *FileError
		if !errors.As(err, &failed) || !strings.Contains(failed.Problem, "a pipe or a device") {
			t.Errorf("%v", err)
		}
	}
}
