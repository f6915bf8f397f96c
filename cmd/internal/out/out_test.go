package out

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"halfcup/cmd/internal/show"
)

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func wantText(t *testing.T, name, want string) {
	t.Helper()
	got, err := os.ReadFile(name)
	if err != nil || string(got) != want {
		t.Errorf("%s holds %q, want %q: %v", filepath.Base(name), got, want, err)
	}
}

func wantFiles(t *testing.T, folder string, want ...string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("the folder holds %v, want %v", got, want)
	}
}

// Whatever name leads to a file of the line, it is not written over.
func TestRefuses(t *testing.T) {
	folder := t.TempDir()
	at := func(name string) string { return filepath.Join(folder, name) }
	write(t, at("halfcup.csv"), "the record")
	if err := errors.Join(
		os.Mkdir(at("yard"), 0o755),
		os.Symlink(at("halfcup.csv"), at("soft.html")),
		os.Symlink("soft.html", at("twice.html")),
		os.Link(at("halfcup.csv"), at("hard.html")),
		os.Symlink(folder, at("yard/up")),
		os.Symlink("none.html", at("dangling.html")),
	); err != nil {
		t.Fatal(err)
	}
	t.Chdir(folder)
	for _, name := range []string{"halfcup.csv", "./halfcup.csv", at("halfcup.csv"), "yard/../halfcup.csv", "yard/up/halfcup.csv", "soft.html", "twice.html", "hard.html", "none.html", "dangling.html", "yard/up/none.html", "first.html", "yard/up/first.html"} {
		var f Files
		f.Reads("the record", "halfcup.csv")
		f.Reads("the settings", "none.html")
		if _, err := f.Create("first.html", ".html"); err != nil {
			t.Fatal(err)
		}
		_, err := f.Create(name, ".html", ".csv")
		var refused *show.Problem
		if !errors.As(err, &refused) || refused.Remedy != "name another file to write" {
			t.Errorf("%s: %v", name, err)
		}
	}
	wantText(t, "halfcup.csv", "the record")
	var f Files
	var refused *show.Problem
	if err := f.Write("my.toml", nil, ".html", ".htm"); !errors.As(err, &refused) || refused.What != "my.toml does not end in .html or .htm" {
		t.Errorf("%v", err)
	}
	if err := f.Write("PAGE.HTML", []byte("page"), ".html"); err != nil {
		t.Error(err)
	}
	if err := f.Write("table", []byte("rows"), ".csv", ""); err != nil {
		t.Error(err)
	}
}

// What is not brought to its end leaves the old file, and nothing beside it.
func TestKeepsTheOldFile(t *testing.T) {
	folder := t.TempDir()
	name := filepath.Join(folder, "page.html")
	write(t, name, "old")
	if err := os.Chmod(name, 0o640); err != nil {
		t.Fatal(err)
	}
	var f Files
	w, err := f.Create(name, ".html")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write([]byte("half of a pa")); err != nil {
		t.Fatal(err)
	}
	wantText(t, name, "old")
	w.Discard()
	wantText(t, name, "old")
	wantFiles(t, folder, "page.html")

	f = Files{}
	if err := f.Write(name, []byte("new"), ".html"); err != nil {
		t.Fatal(err)
	}
	wantText(t, name, "new")
	wantFiles(t, folder, "page.html")
	if info, _ := os.Stat(name); info.Mode().Perm() != 0o640 && runtime.GOOS != "windows" {
		t.Errorf("the mode became %v", info.Mode())
	}
}

// A link stays a link: what it leads to is written.
func TestThroughALink(t *testing.T) {
	folder := t.TempDir()
	real, link := filepath.Join(folder, "real.html"), filepath.Join(folder, "link.html")
	for _, old := range []string{"", "old"} {
		if old != "" {
			write(t, real, old)
		}
		os.Remove(link)
		if err := os.Symlink("real.html", link); err != nil {
			t.Fatal(err)
		}
		var f Files
		if err := f.Write(link, []byte("new"), ".html"); err != nil {
			t.Fatal(err)
		}
		wantText(t, real, "new")
		if info, _ := os.Lstat(link); info.Mode().Type() != fs.ModeSymlink {
			t.Error("the link is gone")
		}
	}
}

func TestTheSystemRefuses(t *testing.T) {
	folder := t.TempDir()
	var f Files
	for name, want := range map[string]error{
		filepath.Join(folder, "gone", "page.html"): fs.ErrNotExist,
		folder: errors.ErrUnsupported,
	} {
		err := f.Write(name, nil, ".html")
		var path *fs.PathError
		if !errors.As(err, &path) || path.Path != name || want == fs.ErrNotExist && !errors.Is(err, want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
