//go:build page

package fieldlog

import (
	"strings"
	"syscall/js"
	"unicode/utf8"

	"halfcup/cmd/internal/digest"
)

// The page on a phone keeps its rows in the browser. Built with the tag page, the
// package reads records and writes no file, which spares what writing one safely
// needs, and asks the browser for what else takes room.

// brokenOff is how many bytes at the end of a record are rows that broke off.
func brokenOff(string, string) int { return 0 }

// composed is text in the composed spelling of Unicode (NFC).
func composed(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return r >= utf8.RuneSelf }) {
		return s // the way to the browser and back is long
	}
	return normalize.Call("call", s, "NFC").String()
}

var normalize = js.Global().Get("String").Get("prototype").Get("normalize")

func digestOfRow(text []byte) [32]byte { return digest.Of(text) }
