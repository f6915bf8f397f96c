package fieldlog

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
)

// A disk that fills up in the middle of a row: the part that was written is
// taken back, and the row can be written once there is room.
func TestAppendDiskFull(t *testing.T) {
	disk := t.TempDir()
	if err := syscall.Mount("halfcup", disk, "tmpfs", 0, "size=64k"); err != nil {
		if os.Geteuid() == 0 || !errors.Is(err, syscall.EPERM) {
			t.Logf("mount: %v", err)
		}
		t.Log("no small disk can be made here; TestAppendFileSizeLimit covers the case by other means")
		return
	}
	defer syscall.Unmount(disk, syscall.MNT_DETACH)
	path := filepath.Join(disk, "halfcup.csv")
	mustAppend(t, path, rolled("alder", 1, 6))
	filler, err := os.Create(filepath.Join(disk, "filler"))
	if err != nil {
		t.Fatal(err)
	}
	for err == nil {
		_, err = filler.Write(make([]byte, 1024))
	}
	filler.Close()
	if !errors.Is(err, syscall.ENOSPC) {
		t.Fatal(err)
	}
	// The record has the rest of its page; a row of that length goes in part.
	e := rolled("birch", 2, 6)
	e.Note = strings.Repeat("a long note ", 400)
	before := content(t, path)
	_, err = Append(path, []Event{e}, Options{})
	var failed *FileError
	if !errors.As(err, &failed) || failed.Problem != "the disk is full" || !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("got %v", err)
	}
	if content(t, path) != before {
		t.Error("the record has changed")
	}
	if err := os.Remove(filler.Name()); err != nil {
		t.Fatal(err)
	}
	mustAppend(t, path, e)

	// On a disk with no room for a file at all, none is left behind.
	for i := 0; err == nil || i == 0; i++ {
		err = os.WriteFile(filepath.Join(disk, fmt.Sprint("small", i)), make([]byte, 512), 0o644)
	}
	empty := filepath.Join(disk, "new.csv")
	if _, err := Append(empty, []Event{e}, Options{}); !errors.As(err, &failed) {
		t.Errorf("got %v", err)
	}
	if _, err := os.Stat(empty); err == nil {
		t.Error("an empty file is left behind")
	}
}

// asNobody runs f with the rights of nobody on files, where the test runs as
// root, whom no mode of a file stops.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	if os.Geteuid() != 0 {
		f()
		return
	}
	const nobody = 65534
	runtime.LockOSThread() // the rights are those of the thread
	defer runtime.UnlockOSThread()
	if err := syscall.Setfsuid(nobody); err != nil {
		t.Fatal(err)
	}
	defer syscall.Setfsuid(0)
	f()
}

// openFolder is a new folder that nobody can reach, too.
func openFolder(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	if err := os.Chmod(filepath.Dir(folder), 0o755); err != nil {
		t.Fatal(err)
	}
	return folder
}

// plainIn writes a record into a folder.
func plainIn(t *testing.T, folder string, mode os.FileMode) string {
	t.Helper()
	path := filepath.Join(folder, "halfcup.csv")
	if err := errors.Join(os.WriteFile(path, []byte(plain), 0o644), os.Chmod(path, mode)); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAppendReadOnlyFile(t *testing.T) {
	path := plainIn(t, openFolder(t), 0o444)
	asNobody(t, func() {
		if _, err := Open(path); err != nil {
			t.Errorf("the file cannot even be read: %v", err)
		}
		wantFileError(t, path, "the file or its folder may only be read")
	})
	fresh := filepath.Join(openFolder(t), "halfcup.csv")
	if err := os.Chmod(filepath.Dir(fresh), 0o555); err != nil {
		t.Fatal(err)
	}
	asNobody(t, func() { wantFileError(t, fresh, "the file or its folder may only be read") })
}

// A record that may be written in a folder that may not: the lock needs no
// second file.
func TestAppendReadOnlyFolder(t *testing.T) {
	folder := openFolder(t)
	path := plainIn(t, folder, 0o666)
	if err := os.Chmod(folder, 0o555); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(folder, 0o755)
	asNobody(t, func() {
		if err := os.WriteFile(path+".lock", nil, 0o644); err == nil {
			t.Error("the folder takes a second file: the test shows nothing")
		}
		mustAppend(t, path, rolled("birch", 2, 6))
	})
}

func TestUnreadable(t *testing.T) {
	path := plainIn(t, openFolder(t), 0)
	asNobody(t, func() {
		_, err := Open(path)
		var failed *FileError
		if !errors.As(err, &failed) || failed.Problem != "reading it is not allowed" {
			t.Errorf("got %v", err)
		}
	})
	_, err := Open(filepath.Join(t.TempDir(), "none.csv"))
	var failed *FileError
	if !errors.As(err, &failed) || failed.Problem != "there is no such file" {
		t.Errorf("got %v", err)
	}
}
