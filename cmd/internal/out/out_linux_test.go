package out

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// A disk that fills up while the new file is written: the old one stays, and
// nothing is left beside it.
func TestDiskFull(t *testing.T) {
	disk := t.TempDir()
	if err := syscall.Mount("halfcup", disk, "tmpfs", 0, "size=64k"); err != nil {
		t.Skipf("no small disk can be made here: %v", err)
	}
	defer syscall.Unmount(disk, syscall.MNT_DETACH)
	name := filepath.Join(disk, "page.html")
	write(t, name, "old")
	var f Files
	err := f.Write(name, make([]byte, 128<<10), ".html")
	var path *os.PathError
	if !errors.As(err, &path) || path.Path != name || !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("%v", err)
	}
	wantText(t, name, "old")
	wantFiles(t, disk, "page.html")
}

// A device is written straight.
func TestDevice(t *testing.T) {
	var f Files
	if err := f.Write("/dev/null", []byte("page"), ".html"); err != nil {
		t.Error(err)
	}
	if err := f.Write("/dev/full", []byte("page"), ".html"); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("%v", err)
	}
}
