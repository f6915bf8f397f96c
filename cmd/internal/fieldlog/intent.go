//go:build !page

package fieldlog

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// A write of several rows that is broken off, because the program is killed or
// the power fails, leaves some of them. So that all are there or none, what is
// going to be written is put into a file beside the record before, and that
// file is removed after. As long as it is there, and the record ends in a part
// of what it holds, that part was never told to be written: readers pass over
// it and the next Append cuts it off.
//
// Nothing is cut off that a person may have written: the file says what the
// record was before, byte for byte by its digest, and what is cut off must be
// the very beginning of what it holds. A record that was changed by hand in
// between is left alone.

// intent is rows that are about to be written behind the first at bytes of a
// record.
type intent struct {
	at     int
	digest [sha256.Size]byte // of those bytes
	text   string
}

// left is what an Append before this one left behind.
type left struct {
	broken int // bytes at the end of the record that are a part of its rows
	at     int // where all of its rows start, when they are there
	whole  bool
}

func digestOf(data string) [sha256.Size]byte { return sha256.Sum256([]byte(data)) }

const intentMark = "halfcup is writing rows"

// intentPath is where the intent to write to a record stands. Links to one
// record share it.
func intentPath(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	return filepath.Join(filepath.Dir(path), "."+filepath.Base(path)+".adding")
}

// encode writes an intent so that one that was itself broken off shows.
func (in intent) encode() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n%d %s\n%s", intentMark, in.at, hex.EncodeToString(in.digest[:]), in.text)
	sum := sha256.Sum256(b.Bytes())
	b.WriteString("\n" + hex.EncodeToString(sum[:]))
	return b.Bytes()
}

func decodeIntent(data []byte) (in intent, ok bool) {
	const sumSize = 1 + 2*sha256.Size
	if len(data) < sumSize {
		return in, false
	}
	body, end := data[:len(data)-sumSize], data[len(data)-sumSize:]
	if sum := sha256.Sum256(body); string(end) != "\n"+hex.EncodeToString(sum[:]) {
		return in, false
	}
	head := strings.SplitN(string(body), "\n", 3)
	if len(head) < 3 || head[0] != intentMark {
		return in, false
	}
	var digest string
	if n, _ := fmt.Sscanf(head[1], "%d %s", &in.at, &digest); n != 2 {
		return in, false
	}
	sum, err := hex.DecodeString(digest)
	if err != nil || copy(in.digest[:], sum) != sha256.Size || in.at < 0 {
		return in, false
	}
	in.text = head[2]
	return in, true
}

// readIntent finds out what the intent beside a record says of its data.
func readIntent(path, data string) (l left, there bool) {
	name := intentPath(path)
	info, err := os.Lstat(name)
	if err != nil || !info.Mode().IsRegular() || info.Size() > 2*maxSize {
		return left{}, false
	}
	raw, err := os.ReadFile(name)
	if err != nil {
		return left{}, false
	}
	in, ok := decodeIntent(raw)
	if !ok || in.at > len(data) || digestOf(data[:in.at]) != in.digest {
		return left{}, true
	}
	switch written := data[in.at:]; {
	case written == in.text:
		return left{at: in.at, whole: true}, true
	case strings.HasPrefix(in.text, written):
		return left{broken: len(written)}, true
	}
	return left{}, true
}

// brokenOff is how many bytes at the end of a record are rows that broke off.
func brokenOff(path, data string) int {
	l, _ := readIntent(path, data)
	return l.broken
}

// recovered cuts off what broke off, under the lock of the record, and does
// away with the intent.
func recovered(f *os.File, path, data string) (left, error) {
	l, there := readIntent(path, data)
	if !there {
		return l, nil
	}
	if l.broken > 0 {
		if err := errors.Join(f.Truncate(int64(len(data)-l.broken)), f.Sync()); err != nil {
			return l, fileError("append to", path, err)
		}
	}
	if err := os.Remove(intentPath(path)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return l, fileError("append to", path, err)
	}
	return l, nil
}

// asked is how many events at the end of the record are those that an Append
// wrote in full and did not live to tell, 0 unless they are the ones given.
func (r *Record) asked(l left, events []Event) int {
	n := len(events)
	if !l.whole || len(r.Events) < n {
		return 0
	}
	tail := r.Events[len(r.Events)-n:]
	if tail[0].row < l.at || len(r.Events) > n && r.Events[len(r.Events)-n-1].row >= l.at {
		return 0
	}
	for i, e := range events {
		if e.Pair == "" {
			e.Pair = tail[i].Pair // it may have been given by Finish
		}
		if !sameFact(tail[i].Written(), e) {
			return 0
		}
	}
	return n
}

// writeAllOrNone appends the text of so many rows to f.
func writeAllOrNone(f *os.File, path, before, text string, many int) error {
	name := intentPath(path)
	err := writeSynced(name, intent{len(before), digestOf(before), text}.encode())
	switch {
	case err == nil:
		err := writeWhole(f, path, len(before), text)
		if info, statErr := f.Stat(); err == nil || statErr == nil && info.Size() == int64(len(before)) {
			os.Remove(name)
		} // else a part stands there that the next Append can take back
		return err
	case errors.Is(err, fs.ErrPermission) && many == 1 && before != "":
		// One row of a record whose folder takes no second file: should it
		// break off, it is one row, and it is told.
	default:
		os.Remove(name)
		failed := fileError("append to", path, err)
		if errors.Is(err, fs.ErrPermission) {
			failed.Problem, failed.Remedy = "several rows at once need a file beside it while they are written, and its folder may only be read", "write one row at a time, or allow writing to the folder"
		}
		return failed
	}
	return writeWhole(f, path, len(before), text)
}

// writeSynced makes a file that is on the disk when it returns.
func writeSynced(name string, data []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return syncFolder(name)
}
