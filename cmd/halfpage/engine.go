package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// engine is the part of the program that runs inside the page.
type engine struct {
	packed string // the wasm, packed, in printable letters
	size   int    // of the wasm, in bytes
	runner string // the script of the Go distribution that starts it
}

// notInlined are the packages that are built without inlining, which makes them
// a tenth smaller: those in which no answer spends its time.
var notInlined = []string{"fmt", "encoding/...", "reflect", "time", "os", "io/...", "syscall/...", "strconv", "unicode/...", "internal/...", "crypto/...", "slices", "maps", "path/...", "hash/...", "strings", "bytes", "bufio", "errors", "sync/...", "context", "iter", "golang.org/x/...", "halfcup/cmd/..."}

func buildEngine() (engine, error) {
	dir, err := os.MkdirTemp("", "halfpage")
	if err != nil {
		return engine{}, err
	}
	defer os.RemoveAll(dir)
	name := filepath.Join(dir, "engine.wasm")
	args := []string{"build", "-tags", "page", "-trimpath", "-ldflags=-s -w", "-o", name}
	for _, p := range notInlined {
		args = append(args, "-gcflags="+p+"=-l")
	}
	cmd := exec.Command("go", append(args, "halfcup/cmd/halfpage/wasm")...)
	cmd.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if said, err := cmd.CombinedOutput(); err != nil {
		return engine{}, fmt.Errorf("the engine does not build; run this in the source of halfcup: %w\n%s", err, said)
	}
	wasm, err := os.ReadFile(name)
	if err != nil {
		return engine{}, err
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return engine{}, fmt.Errorf("cannot ask go for its folder: %w", err)
	}
	runner, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		return engine{}, err
	}
	return engine{letters(pack(wasm)), len(wasm), string(runner)}, nil
}

// alphabet is the printable letters of ASCII but for <, & and \, which mean
// something in a page or a script: 91 of them, and two hold 13 bits.
var alphabet = func() []byte {
	var out []byte
	for c := byte('!'); c <= '~'; c++ {
		if c != '<' && c != '&' && c != '\\' {
			out = append(out, c)
		}
	}
	return out
}()

// letters writes bytes in the alphabet, 13 bits in two letters from the lowest
// bit on: a fifth less than base64 adds.
func letters(data []byte) string {
	out := make([]byte, 0, len(data)*16/13+2)
	bits, n := 0, 0
	put := func(v int) { out = append(out, alphabet[v%91], alphabet[v/91]) }
	for _, b := range data {
		bits |= int(b) << n
		if n += 8; n >= 13 {
			put(bits & 8191)
			bits >>= 13
			n -= 13
		}
	}
	if n > 0 {
		put(bits)
	}
	return string(out)
}
