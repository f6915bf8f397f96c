package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// texts are what a packer meets: nothing, one byte, all one byte, noise, the
// same again from near and from far, and one file of this program.
func texts(t *testing.T) map[string][]byte {
	t.Helper()
	source, err := os.ReadFile("page.go")
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(23, 7))
	noise := make([]byte, 70_000)
	for i := range noise {
		noise[i] = byte(r.Uint32())
	}
	near := make([]byte, 0, 200_000)
	for len(near) < 200_000 {
		from := r.IntN(len(noise) - 400)
		near = append(near, noise[from:from+r.IntN(400)]...)
	}
	far := append(append(bytes.Clone(noise), make([]byte, 3<<20)...), noise...)
	return map[string][]byte{"nothing": nil, "a byte": {7}, "three": {1, 2, 3}, "all the same": bytes.Repeat([]byte{9}, 100_000), "noise": noise, "near": near, "far": far, "source": source}
}

// What is packed is read by other hands than wrote it, the LZMA of Python's
// library, which is that of liblzma, and by the page's own reader.
func TestPackedComesBack(t *testing.T) {
	dir := t.TempDir()
	var list []string
	for name, data := range texts(t) {
		packed, at := pack(data), filepath.Join(dir, name)
		for end, content := range map[string][]byte{"": data, ".packed": packed, ".letters": []byte(letters(packed))} {
			if err := os.WriteFile(at+end, content, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		list = append(list, at)
	}
	for program, script := range map[string]string{
		"python3": `import lzma, sys
for name in sys.argv[1:]:
    want = open(name, "rb").read()
    d = lzma.LZMADecompressor(format=lzma.FORMAT_RAW, filters=[{"id": lzma.FILTER_LZMA1, "lc": 3, "lp": 0, "pb": 0, "dict_size": 1 << 23}])
    if d.decompress(open(name + ".packed", "rb").read(), max_length=len(want)) != want: sys.exit(name + " does not come back")`,
		"node": source("unpack.js") + `
const fs = require("fs");
for (const name of process.argv.slice(2)) {
  const want = fs.readFileSync(name), back = unpack(fs.readFileSync(name + ".letters", "latin1"), want.length);
  if (Buffer.compare(Buffer.from(back), want) !== 0) { console.log(name + " does not come back"); process.exit(1); }
}`,
	} {
		t.Run(program, func(t *testing.T) {
			if _, err := exec.LookPath(program); err != nil {
				t.Skip(program + " is not here; the tests in a browser read the whole engine")
			}
			file := filepath.Join(dir, "script")
			if err := os.WriteFile(file, []byte(script), 0o644); err != nil {
				t.Fatal(err)
			}
			if out, err := exec.Command(program, append([]string{file}, list...)...).CombinedOutput(); err != nil {
				t.Errorf("%v\n%s", err, out)
			}
		})
	}
}

// A packer that only copies what stood just before would not be worth its room.
func TestPackedIsSmall(t *testing.T) {
	for name, most := range map[string]int{"all the same": 100, "noise": 71_500, "near": 82_000, "far": 73_000} {
		if n := len(pack(texts(t)[name])); n > most {
			t.Errorf("%s: %d bytes, want at most %d", name, n, most)
		}
	}
}
