// Package out writes the files that a line of the program was asked for:
// pages, pictures, calendars and tables.
//
// A file is written beside its place and put there in one step when it is
// whole and on the disk. Whatever goes wrong before, a full disk, an interrupt
// or a table in which nothing can be read, the file that stood there is as it
// was. What the line reads, and what it writes otherwise, is never written
// over, by whatever name or link it is reached.
package out

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"

	"halfcup/cmd/internal/show"
)

// Files are the files of one line. The zero value is a line without any.
type Files struct{ known []known }

// known is a file that must not be written over.
type known struct {
	what string // "the record"
	real string // its place, links followed
	info fs.FileInfo
}

// Reads says that the line reads the file of that name. What it is to the
// beekeeper ("the record") is for the refusal.
func (f *Files) Reads(what, name string) {
	info, _ := os.Stat(name) // of a file that is not there the place is enough
	f.known = append(f.known, known{what, place(name), info})
}

// ReadsFrom says that the line reads an open file, such as stdin.
func (f *Files) ReadsFrom(what string, in *os.File) {
	if info, err := in.Stat(); err == nil && info.Mode().IsRegular() {
		f.known = append(f.known, known{what: what, info: info})
	}
}

// File is an output on its way.
type File struct {
	*os.File
	name   string // as it was asked for
	place  string // where it will be; "" when it is written straight
	closed bool
}

// Create begins an output of that name. Its name must have one of the endings,
// such as ".html"; the ending "" stands for a name without one. Pipes and
// devices are written straight.
//
// The errors are *show.Problem for a name that is refused and *fs.PathError
// for what the system refuses.
func (f *Files) Create(name string, endings ...string) (*File, error) {
	info, err := os.Stat(name)
	there := err == nil
	if there && info.IsDir() {
		return nil, &fs.PathError{Op: "open", Path: name, Err: syscall.EISDIR}
	}
	k := known{"another output of this line", place(name), info}
	for _, other := range f.known {
		if k.real == other.real || there && other.info != nil && os.SameFile(info, other.info) {
			return nil, &show.Problem{What: name + " is " + other.what, Remedy: "name another file to write"}
		}
	}
	straight := there && !info.Mode().IsRegular()
	if ending := strings.ToLower(filepath.Ext(name)); !straight && !slices.Contains(endings, ending) {
		return nil, &show.Problem{What: fmt.Sprintf("%s does not end in %s", name, strings.Join(said(endings), " or ")), Remedy: "give it a name that says what it holds; a file of another kind is not written over"}
	}
	mode := fs.FileMode(0o666) // before the mask of the user
	if there {
		// A file that may not be written to could still be replaced. It is
		// not for us to get around that.
		old, err := os.OpenFile(name, os.O_WRONLY, 0)
		if err != nil {
			return nil, err
		}
		f.known = append(f.known, k)
		if straight {
			return &File{File: old, name: name}, nil
		}
		old.Close()
		mode = info.Mode().Perm()
	}
	folder, base := filepath.Split(k.real)
	if _, err := os.Stat(filepath.Clean(folder)); err != nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	for {
		beside := filepath.Join(folder, fmt.Sprintf(".%s.%08x.part", base, rand.Uint32()))
		w, err := os.OpenFile(beside, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, named(name, err)
		}
		if there {
			err = w.Chmod(mode) // the mask has been at it
		}
		if err != nil && runtime.GOOS != "windows" {
			w.Close()
			os.Remove(beside)
			return nil, named(name, err)
		}
		if !there {
			f.known = append(f.known, k)
		}
		return &File{File: w, name: name, place: k.real}, nil
	}
}

func said(endings []string) []string {
	return slices.DeleteFunc(slices.Clone(endings), func(e string) bool { return e == "" })
}

// named tells of an error under the name the user knows.
func named(name string, err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		err = path.Err
	case errors.As(err, &link):
		err = link.Err
	}
	return &fs.PathError{Op: "write", Path: name, Err: err}
}

// Write writes to the output. Its errors tell the name that was asked for.
func (f *File) Write(p []byte) (int, error) {
	n, err := f.File.Write(p)
	if err != nil {
		err = named(f.name, err)
	}
	return n, err
}

// Commit puts the output in its place.
func (f *File) Commit() error {
	if f.closed {
		return nil
	}
	if f.place == "" {
		f.closed = true
		if err := f.File.Close(); err != nil {
			return named(f.name, err)
		}
		return nil
	}
	if err := f.File.Sync(); err != nil {
		f.Discard()
		return named(f.name, err)
	}
	f.closed = true
	err := f.File.Close()
	if err == nil {
		err = os.Rename(f.File.Name(), f.place)
	}
	if err != nil {
		os.Remove(f.File.Name())
		return named(f.name, err)
	}
	syncFolder(filepath.Dir(f.place))
	return nil
}

// Discard does away with an output that was not committed; what stood in its
// place stays. After Commit it does nothing, so that it can be deferred.
func (f *File) Discard() {
	if f.closed {
		return
	}
	f.closed = true
	f.File.Close()
	if f.place != "" {
		os.Remove(f.File.Name())
	}
}

// Write writes an output in one go.
func (f *Files) Write(name string, data []byte, endings ...string) error {
	w, err := f.Create(name, endings...)
	if err != nil {
		return err
	}
	defer w.Discard()
	if _, err := w.Write(data); err != nil {
		return err
	}
	return w.Commit()
}

// syncFolder makes sure that the new file is found after a power failure, on
// the systems that can be asked for that. Without it the old one is found.
func syncFolder(name string) {
	if d, err := os.Open(name); err == nil {
		d.Sync() //nolint:errcheck // the file itself is on the disk
		d.Close()
	}
}

// place is where a name leads, through all links, also where the last of them
// leads to nothing yet.
func place(name string) string {
	for range 40 { // as deep as systems follow links
		if real, err := filepath.EvalSymlinks(name); err == nil {
			name = real
			break
		}
		to, err := os.Readlink(name)
		if err != nil {
			if folder, err := filepath.EvalSymlinks(filepath.Dir(name)); err == nil {
				name = filepath.Join(folder, filepath.Base(name))
			}
			break
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(name), to)
		}
		name = to
	}
	if full, err := filepath.Abs(name); err == nil {
		return full
	}
	return name
}
